package vpp

import (
	"fmt"
	"math"

	"foilledger/vpp/units"
)

// check looks at what a range for each key alone cannot see.
func (r *reader) check(b *Boat) error {
	h := &b.Hull
	vol := h.DisplacementKg / WaterDensity
	if box := h.LengthWaterlineM * h.BeamWaterlineM * h.DraftM; vol > box {
		return r.fail("hull.displacement_kg", "check displacement_kg, length_waterline_m, beam_waterline_m, draft_m",
			"displaces %.2f m³, more than the box of length, beam and draft (%.2f m³)", vol, box)
	}
	if box := h.WaterplaneAreaM2 * h.DraftM; vol > box {
		return r.fail("hull.waterplane_area_m2", "check waterplane_area_m2 and draft_m",
			"waterplane times draft is %.2f m³, less than the displaced volume (%.2f m³)", box, vol)
	}
	if h.WaterplaneAreaM2 > h.LengthWaterlineM*h.BeamWaterlineM {
		return r.fail("hull.waterplane_area_m2", "", "is larger than waterline length times beam (%.1f m²)", h.LengthWaterlineM*h.BeamWaterlineM)
	}
	if h.CGFromTransomM >= h.LengthWaterlineM {
		return r.fail("hull.cg_from_transom_m", "", "must be less than the waterline length %.2f m", h.LengthWaterlineM)
	}
	if b.Keel.BulbKg >= h.DisplacementKg {
		return r.fail("keel.bulb_kg", "", "must be less than the displacement %.0f kg", h.DisplacementKg)
	}
	if len(b.Rig.SailSets) == 0 {
		return r.fail("rig.sail_set", "add one [[rig.sail_set]] at least", "the boat has no sails")
	}
	if err := r.checkSails(b); err != nil {
		return err
	}
	if b.Foils != nil {
		return r.checkFoils(b)
	}
	return nil
}

func (r *reader) checkSails(b *Boat) error {
	types := map[string]bool{}
	for n := range builtinSailTypes {
		types[n] = true
	}
	for i, t := range b.Rig.CoefficientSets {
		at := fmt.Sprintf("rig.sail_type[%d]", i)
		n := len(t.AWARad)
		if n < 3 || len(t.CL) != n || len(t.CD) != n {
			return r.fail(at, "", "awa_deg, cl and cd must have the same number of entries, 3 or more")
		}
		if t.AWARad[0] != 0 || math.Abs(t.AWARad[n-1]-math.Pi) > 1e-12 {
			return r.fail(at+".awa_deg", "", "must begin with 0 and end with 180")
		}
		for j := 1; j < n; j++ {
			if !(t.AWARad[j] > t.AWARad[j-1]) {
				return r.fail(at+".awa_deg", "", "must rise from entry to entry")
			}
		}
		types[t.Name] = true
	}
	names := map[string]bool{}
	for i, s := range b.Rig.SailSets {
		at := fmt.Sprintf("rig.sail_set[%d]", i)
		if names[s.Name] {
			return r.fail(at+".name", "", "the name %q is used twice", s.Name)
		}
		names[s.Name] = true
		if s.MainAreaM2+s.HeadsailAreaM2 <= 0 {
			return r.fail(at+".main_area_m2", "", "main and headsail have no area at all")
		}
		if !types[s.Headsail] {
			return r.fail(at+".headsail", "jib, reacher, spinnaker, or the name of a [[rig.sail_type]]", "unknown headsail type %q", s.Headsail)
		}
		if s.CEHeightM >= b.Rig.MastHeightM {
			return r.fail(at+".ce_height_m", "", "is above the masthead (%.1f m)", b.Rig.MastHeightM)
		}
	}
	return nil
}

func (r *reader) checkFoils(b *Boat) error {
	f := b.Foils
	if f.MinRakeRad > f.MaxRakeRad {
		return r.fail("foils.min_rake_deg", "swap min_rake_deg and max_rake_deg", "rake limits are reversed: %.2f > %.2f", units.Deg(f.MinRakeRad), units.Deg(f.MaxRakeRad))
	}
	for _, l := range []struct {
		key  string
		list []float64
	}{{"foils.extension_steps", f.Extensions}, {"foils.rake_grid_deg", f.RakesRad}} {
		if len(l.list) == 0 {
			return r.fail(l.key, "", "must have one entry at least")
		}
		if len(l.list) > 40 {
			return r.fail(l.key, "the speed table grows with it", "has %d entries, at most 40 are allowed", len(l.list))
		}
		for i := 1; i < len(l.list); i++ {
			if !(l.list[i] > l.list[i-1]) {
				return r.fail(l.key, "", "must rise from entry to entry")
			}
		}
	}
	const eps = 1e-9
	for i, x := range f.RakesRad {
		if x < f.MinRakeRad-eps || x > f.MaxRakeRad+eps {
			return r.fail(fmt.Sprintf("foils.rake_grid_deg[%d]", i), "", "is %.2f, outside the rake limits %.2f to %.2f",
				units.Deg(x), units.Deg(f.MinRakeRad), units.Deg(f.MaxRakeRad))
		}
	}
	if f.TipSpanM >= f.SpanM {
		return r.fail("foils.tip_span_m", "", "must be less than span_m (%.2f)", f.SpanM)
	}
	if 2*f.MassKg >= b.Hull.DisplacementKg/2 {
		return r.fail("foils.mass_kg", "", "two foils would weigh half of the boat")
	}
	return nil
}
