package vpp

import (
	"math"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// TestSpeedCeiling: the fastest flat-water state of the big foils stays short of
// the boat speed at which their suction peak meets the cavitation number, and of
// the foil's load limit.
func TestSpeedCeiling(t *testing.T) {
	m := exampleBoat(t, "big")
	s := m.NewSolver()
	c := cond(28, 125, 0)
	f, p, st := s.BestSetting(c, FoilSetting{})
	if st != Solved {
		t.Fatal(st)
	}
	s.Solve(c, f, FoilSetting{})
	g, b := &s.st.foils[0], &s.eq[0].bal
	depth := b.foilDepthC * g.chord
	suction := g.cp0 + cavitationK*b.foilCL
	ceiling := math.Sqrt((atmospherePress + WaterDensity*gravity*depth - vapourPressure) / (0.5 * WaterDensity * suction))
	for _, k := range []struct {
		id, quantity string
		got, lo, hi  float64
	}{
		{"ceiling-cavity", "boat speed over that at which the big foil's suction peak meets the cavitation number, 28 kn of wind at 125°, flat water", p.BSPMS / ceiling, 0.8, 1},
		{"ceiling-load", "load of the big foil there over its limit", p.FoilLoadN / m.boat.Limits.MaxFoilLoadN, 0.4, 1},
		{"ceiling-lift", "lift lost to stall and cavity there, as a share", 1 - 1/b.foilCapShare, 0, 0.25},
	} {
		validation.Band(t, validation.Row{Package: "vpp", ID: k.id, Quantity: k.quantity, Got: k.got, Source: "−Cp,min of Hoerner 1975, ITTC fluid data", Kind: validation.Behaviour}, k.lo, k.hi)
	}
	t.Logf("%.1f kn, depth %.2f m, CL %.3f, suction %.3f, ceiling %.1f kn", units.Knots(p.BSPMS), depth, b.foilCL, suction, units.Knots(ceiling))
}
