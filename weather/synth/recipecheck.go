package synth

import "fmt"

// KeyError says which key of a recipe is wrong, and what it may be.
type KeyError struct {
	Key, Allowed string
	Value        float64
}

func (e *KeyError) Error() string {
	return fmt.Sprintf("%s = %g: must be %s", e.Key, e.Value, e.Allowed)
}

// validate checks ranges; every key is checked for NaN and infinity through its
// range.
func (r *Recipe) validate() error {
	var err error
	check := func(key string, v, lo, hi float64) {
		if err == nil && !(v >= lo && v <= hi) {
			err = &KeyError{key, fmt.Sprintf("between %g and %g", lo, hi), v}
		}
	}
	if r.Start.IsZero() {
		return fmt.Errorf("start: must be given, as 2030-05-01T00:00:00Z")
	}
	check("hours", r.Hours, 0, 24*60)
	check("step_h", or(r.StepH, 3), 0.25, 24)
	check("south_deg", r.South, -90, 90)
	check("north_deg", r.North, r.South, 90)
	check("west_deg", r.West, -180, 360)
	check("east_deg", r.East, -180, 540)
	check("grid_deg", or(r.GridDeg, 1), 0.01, 10)
	check("base_hpa", or(r.BaseHPa, 1013.25), 900, 1080)
	check("gust_factor", r.GustFactor, 0, 3)
	for i, w := range r.Wind {
		key := func(k string) string { return fmt.Sprintf("wind[%d].%s", i, k) }
		check(key("speed_kn"), w.SpeedKn, 0, 100)
		check(key("from_deg"), w.FromDeg, -360, 720)
		check(key("turn_deg_h"), w.TurnDegH, -360, 360)
		check(key("swing_deg"), w.SwingDeg, -180, 180)
		check(key("swing_kn"), w.SwingKn, -100, 100)
		check(key("swing_period_h"), w.SwingPeriodH, 0, 1000)
	}
	fixes := func(what string, fs []FixRecipe) {
		if err == nil && len(fs) == 0 {
			err = fmt.Errorf("%s.fix: at least one position must be given", what)
		}
		for k, f := range fs {
			key := func(s string) string { return fmt.Sprintf("%s.fix[%d].%s", what, k, s) }
			lo := -1e4
			if k > 0 {
				lo = fs[k-1].Hour + 0.01
			}
			check(key("hour"), f.Hour, lo, 1e4)
			check(key("lat_deg"), f.LatDeg, -85, 85)
			check(key("lon_deg"), f.LonDeg, -360, 540)
			check(key("hpa"), f.HPa, 850, 1090)
		}
	}
	for i, l := range r.Low {
		what := fmt.Sprintf("low[%d]", i)
		fixes(what, l.Fix)
		check(what+".outer_hpa", or(l.OuterHPa, or(r.BaseHPa, 1013.25)), 900, 1080)
		check(what+".b", or(l.B, 1.2), 0.5, 3)
		check(what+".rmax_nm", or(l.RmaxNM, 200), 1, 2000)
		check(what+".reduction", or(l.Reduction, 0.8), 0.1, 1.2)
		check(what+".inflow_deg", l.InflowDeg, -45, 60)
		check(what+".motion", l.Motion, -1, 1)
		for k, f := range l.Front {
			key := func(s string) string { return fmt.Sprintf("%s.front[%d].%s", what, k, s) }
			check(key("bearing_deg"), f.BearingDeg, -360, 720)
			check(key("sweep_deg_h"), f.SweepDegH, -10, 10)
			check(key("length_nm"), or(f.LengthNM, 900), 1, 5000)
			check(key("fade_nm"), or(f.FadeNM, 150), 1, 5000)
			check(key("jump_kn"), f.JumpKn, 0, 120)
			check(key("decay_nm"), or(f.DecayNM, 250), 1, 5000)
			check(key("width_nm"), or(f.WidthNM, 30), 1, 500)
			check(key("gust_kn"), f.GustKn, 0, 60)
		}
	}
	for i, h := range r.High {
		what := fmt.Sprintf("high[%d]", i)
		fixes(what, h.Fix)
		check(what+".outer_hpa", or(h.OuterHPa, or(r.BaseHPa, 1013.25)), 900, 1080)
		check(what+".length_nm", or(h.LengthNM, 500), 10, 5000)
		check(what+".reduction", or(h.Reduction, 0.8), 0.1, 1.2)
		check(what+".out_deg", h.OutDeg, -45, 60)
	}
	for i, b := range r.SeaBreeze {
		key := func(s string) string { return fmt.Sprintf("sea_breeze[%d].%s", i, s) }
		check(key("lat_deg"), b.LatDeg, -85, 85)
		check(key("lon_deg"), b.LonDeg, -360, 540)
		check(key("inland_deg"), b.InlandDeg, -360, 720)
		check(key("peak_kn"), b.PeakKn, 0, 60)
		check(key("night_share"), b.NightShare, 0, 1)
		check(key("reach_nm"), or(b.ReachNM, 20), 1, 500)
		check(key("turn_deg_h"), b.TurnDegH, -30, 30)
	}
	for i, q := range r.Squalls {
		key := func(s string) string { return fmt.Sprintf("squalls[%d].%s", i, s) }
		check(key("steer_kn"), q.SteerKn, 0, 60)
		check(key("steer_from_deg"), q.SteerFrom, -360, 720)
		check(key("cell_nm"), or(q.CellNM, 40), 1, 500)
		check(key("chance"), or(q.Chance, 0.2), 0, 1)
		check(key("radius_nm"), or(q.RadiusNM, 6), 0.5, or(q.CellNM, 40)/3)
		check(key("peak_kn"), or(q.PeakKn, 15), 0, 60)
		check(key("life_h"), or(q.LifeH, 2), 0.1, 24)
	}
	e := r.Ensemble
	check("ensemble.members", float64(e.Members), 0, 1000)
	check("ensemble.position_nm_day", e.PositionNMDay, 0, 500)
	check("ensemble.depth_hpa_day", e.DepthHPaDay, 0, 30)
	check("ensemble.wind_kn_day", e.WindKnDay, 0, 20)
	check("ensemble.turn_deg_day", e.TurnDegDay, 0, 90)
	return err
}
