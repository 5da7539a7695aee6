package strategy

import (
	"context"
	"testing"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// newSteppedBoat has three extensions with six rakes each: 19 settings a side.
func newSteppedBoat() *fakeBoat {
	b := &fakeBoat{exts: []float64{0, 0.4, 0.7, 1}, settings: []vpp.FoilSetting{{}}}
	for _, e := range b.exts[1:] {
		for r := range 6 {
			b.settings = append(b.settings, vpp.FoilSetting{Extension: e, RakeRad: units.Rad(float64(r))})
		}
	}
	return b
}

// BenchmarkPlanManyStates plans 3000 nautical miles with 361 foil states.
func BenchmarkPlanManyStates(b *testing.B) {
	wx := fakeWind{mean: 9, swing: 4, fromDeg: 200, turnDeg: 70, periodH: 40, hs: 1.5}
	sl, err := NewSailor(context.Background(), newSteppedBoat(), fakeHandling(), wx, Options{StageM: 10 * units.MPerNM})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := sl.NewProblem(longTrack(), 0).Best(context.Background(), nil, false, nil); err != nil {
			b.Fatal(err)
		}
	}
}
