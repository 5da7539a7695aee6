package strategy

import (
	"context"
	"fmt"
	"testing"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/vpp/units"
)

// longTrack is 3000 nautical miles long.
func longTrack() *route.Track { return mustTrack(orb.Point{-66, 42}, orb.Point{4.2, 44}) }

// BenchmarkPlan plans a track of 3000 nautical miles in stages of 10 with 49
// foil states, and shorter ones, to show that the cost is linear in stages.
func BenchmarkPlan(b *testing.B) {
	wx := fakeWind{mean: 9, swing: 4, fromDeg: 200, turnDeg: 70, periodH: 40, hs: 1.5}
	for _, rakes := range []int{3, 6} {
		sl, err := NewSailor(context.Background(), newFakeBoat(rakes, 0), fakeHandling(), wx, Options{StageM: 10 * units.MPerNM})
		if err != nil {
			b.Fatal(err)
		}
		for _, lon := range []float64{17.4, 34.8, 70.2} {
			track := mustTrack(orb.Point{-66, 42}, orb.Point{-66 + lon, 44})
			b.Run(fmt.Sprintf("states=%d/stages=%d", (rakes+1)*(rakes+1), sl.NewProblem(track, 0).Stages()), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					p := sl.NewProblem(track, 0)
					if _, err := p.Best(context.Background(), nil, false, nil); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// BenchmarkBreakEvenMap fills the break-even maps of all leeward actions of a
// boat with 7 settings over 31 wind speeds and 34 angles, prices not yet known.
func BenchmarkBreakEvenMap(b *testing.B) {
	var twsMS, twaRad []float64
	for kn := range 31 {
		twsMS = append(twsMS, units.MS(5+float64(kn)))
	}
	for i := range 34 {
		twaRad = append(twaRad, units.Rad(10+5*float64(i)))
	}
	b.ReportAllocs()
	for b.Loop() {
		sl, err := NewSailor(context.Background(), newFakeBoat(6, 0), fakeHandling(), fakeWind{}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		actions := sl.LeewardActions()
		for _, a := range actions {
			sl.BreakEvenMap(a, twsMS, twaRad, nil)
		}
		b.ReportMetric(float64(len(actions)), "maps/op")
	}
}
