package vpp

// FactorRange is one uncertain part of the model: by how much it may be wrong,
// and why that much.
type FactorRange struct {
	Name      string  // as it stands in tables and charts
	Key       string  // for files and JSON
	Low, High float64 // factors, about 1: nine boats in ten are taken to lie within
	Reason    string
}

// FactorRanges lists the uncertain factors in the order of the fields of
// [Factors].
func FactorRanges() []FactorRange {
	return []FactorRange{
		{"sail power", "sail_power", 0.90, 1.10,
			"one coefficient table for all rigs (Hazen 1980, from memory); cut, age and trim of sails move their force by a tenth (common practice)"},
		{"hull drag", "hull_drag", 0.92, 1.15,
			"two regressions of the same towing tests differ by 3 % (Keuning & Sonnenberg 1998, Keuning & Katgert 2008), a light scow lies outside both, and fouling adds: common practice ±10 %, more upwards"},
		{"foil lift", "foil_lift", 0.88, 1.08,
			"the surface's loss near take-off is read from a diagram to 3 % (Hough & Moran 1969); a loaded foil bends and twists to less incidence (common practice, 5 to 10 %)"},
		{"foil drag", "foil_drag", 0.85, 1.35,
			"section drag 0.0045 smooth, 0.0095 rough (Abbott & von Doenhoff 1959, from memory); two published rules for spray differ by a factor 2.7 (Hoerner 1965, Chapman 1971)"},
		{"wave drag", "wave_drag", 0.50, 1.60,
			"a formula for ships in head seas (ITTC 7.5-04-01-01.1), carried to a light fast hull at all angles: the angle's law is an assumption"},
		{"righting moment", "righting_moment", 0.95, 1.05,
			"weights and centres of a boat in passage trim are known to some percent (common practice)"},
	}
}

// numFactors is the number of uncertain factors.
const numFactors = 6

// at returns a pointer to the factor that the i-th range is about.
func (f *Factors) at(i int) *float64 {
	return [...]*float64{&f.SailPower, &f.HullDrag, &f.FoilLift, &f.FoilDrag, &f.WaveDrag, &f.RightingMoment}[i]
}

// With returns the factors with the i-th one, in the order of [FactorRanges],
// set to x. It panics when i is out of range.
func (f Factors) With(i int, x float64) Factors {
	*f.at(i) = x
	return f
}

// Values returns the factors in the order of [FactorRanges].
func (f Factors) Values() [numFactors]float64 {
	return [...]float64{f.SailPower, f.HullDrag, f.FoilLift, f.FoilDrag, f.WaveDrag, f.RightingMoment}
}

// Effect is what one uncertain factor does to a steady state.
type Effect struct {
	Range               FactorRange
	LowMS, HighMS       float64 // boat speed with the factor low and high, the others as they are
	LowStatus, HiStatus Status
}

// Sensitivity solves the condition with each uncertain factor at the low and at
// the high end of its range, the others staying as they are in m, and returns
// the state of m itself with it. It builds a model for each: some milliseconds.
func (m *Model) Sensitivity(c Condition, leeward, windward FoilSetting) (Point, Status, []Effect) {
	mid, st := m.Solve(c, leeward, windward)
	var out []Effect
	for i, r := range FactorRanges() {
		e := Effect{Range: r}
		solve := func(x float64) (float64, Status) {
			f := m.factors
			k, err := NewModel(m.boat, f.With(i, *f.at(i)*x))
			if err != nil { // the product left the range that a model takes
				return 0, BadInput
			}
			p, st := k.Solve(c, leeward, windward)
			return p.BSPMS, st
		}
		e.LowMS, e.LowStatus = solve(r.Low)
		e.HighMS, e.HiStatus = solve(r.High)
		out = append(out, e)
	}
	return mid, st, out
}
