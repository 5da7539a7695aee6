package vpp

import (
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// deepestDent is how far the lowest dip of y lies below the lower of the highest
// values to its left and right, and where that is.
func deepestDent(y []float64) (depth float64, at int) {
	for i := range y {
		left, right := y[i], y[i]
		for _, v := range y[:i] {
			left = max(left, v)
		}
		for _, v := range y[i:] {
			right = max(right, v)
		}
		if d := min(left, right) - y[i]; d > depth {
			depth, at = d, i
		}
	}
	return depth, at
}

// TestPolarWithoutDents: a crew that has the right sail, or the next larger one
// eased, loses little anywhere between the beam and the stern. What is left are
// gaps in the wardrobe, above all between reacher and spinnaker.
func TestPolarWithoutDents(t *testing.T) {
	for _, name := range []string{"none", "small", "big"} {
		s := exampleBoat(t, name).NewSolver()
		worst := 0.0
		for _, tws := range []float64{10, 14, 18, 22, 26, 30} {
			var kn []float64
			for a := 40.0; a <= 180; a += 5 {
				p, st := s.Solve(cond(tws, a, 0), FoilSetting{}, FoilSetting{})
				if st != Solved {
					t.Fatalf("%s, %.0f kn at %.0f°: %v", name, tws, a, st)
				}
				kn = append(kn, units.Knots(p.BSPMS))
			}
			d, i := deepestDent(kn)
			if d > 0.3 {
				t.Logf("%s, foils in, %.0f kn of wind: a dent of %.2f kn at %.0f°", name, tws, d, 40+5*float64(i))
			}
			worst = max(worst, d)
		}
		validation.Band(t, validation.Row{
			Package: "vpp", ID: "dent-" + name, Quantity: "deepest dent of speed over true wind angle, foils in, 10 to 30 kn of wind, boat file " + name,
			Got: worst, Unit: "kn", Source: "common practice: polars are smooth between changes of sails", Kind: validation.Behaviour,
		}, 0, 1)
	}
}
