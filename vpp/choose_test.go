package vpp

import (
	"slices"
	"testing"

	"foilledger/vpp/units"
)

func TestWithFinerRakes(t *testing.T) {
	b := &Boat{Foils: &Foils{Extensions: []float64{1}, RakesRad: []float64{0, units.Rad(1), units.Rad(3)}}}
	fine := b.WithFinerRakes()
	var got []float64
	for _, r := range fine.Foils.RakesRad {
		got = append(got, units.Deg(r)*2)
	}
	for i, want := range []float64{0, 1, 2, 4, 6} {
		if len(got) != 5 || !(got[i] > want-1e-9 && got[i] < want+1e-9) {
			t.Fatalf("half degrees %v", got)
		}
	}
	if len(b.Foils.RakesRad) != 3 || !slices.Equal(fine.Foils.Extensions, b.Foils.Extensions) {
		t.Error("the boat itself changed, or its extensions")
	}
	if none := (&Boat{}).WithFinerRakes(); none.Foils != nil {
		t.Error("a boat without foils has some")
	}
}
