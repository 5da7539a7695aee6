package main

import "foilledger/weather/synth"

// makeChange is an option that changes a number of the kind's recipe. apply
// reports whether the kind has such a thing.
type makeChange struct {
	name, usage string
	apply       func(r *synth.Recipe, v float64) bool
}

func onWind(set func(w *synth.WindRecipe, v float64)) func(*synth.Recipe, float64) bool {
	return func(r *synth.Recipe, v float64) bool {
		if len(r.Wind) == 0 {
			return false
		}
		set(&r.Wind[0], v)
		return true
	}
}

func onLow(set func(l *synth.LowRecipe, v float64)) func(*synth.Recipe, float64) bool {
	return func(r *synth.Recipe, v float64) bool {
		if len(r.Low) == 0 {
			return false
		}
		set(&r.Low[0], v)
		return true
	}
}

func onFront(set func(f *synth.FrontRecipe, v float64)) func(*synth.Recipe, float64) bool {
	return func(r *synth.Recipe, v float64) bool {
		if len(r.Low) == 0 || len(r.Low[0].Front) == 0 {
			return false
		}
		set(&r.Low[0].Front[0], v)
		return true
	}
}

func onBreeze(set func(b *synth.SeaBreezeRecipe, v float64)) func(*synth.Recipe, float64) bool {
	return func(r *synth.Recipe, v float64) bool {
		if len(r.SeaBreeze) == 0 {
			return false
		}
		set(&r.SeaBreeze[0], v)
		return true
	}
}

func onSqualls(set func(q *synth.SquallsRecipe, v float64)) func(*synth.Recipe, float64) bool {
	return func(r *synth.Recipe, v float64) bool {
		if len(r.Squalls) == 0 {
			return false
		}
		set(&r.Squalls[0], v)
		return true
	}
}

func anyKind(set func(r *synth.Recipe, v float64)) func(*synth.Recipe, float64) bool {
	return func(r *synth.Recipe, v float64) bool { set(r, v); return true }
}

// nonZero keeps a zero that was asked for from meaning "the default", as it does
// in recipes.
func nonZero(v float64) float64 {
	if v == 0 {
		return 1e-9
	}
	return v
}

var makeChanges = []makeChange{
	{"hours", "length of the forecast, hours", anyKind(func(r *synth.Recipe, v float64) { r.Hours = v })},
	{"step", "time between steps, hours", anyKind(func(r *synth.Recipe, v float64) { r.StepH = nonZero(v) })},
	{"grid", "distance of grid points, degrees", anyKind(func(r *synth.Recipe, v float64) { r.GridDeg = nonZero(v) })},
	{"gusts", "gusts over mean wind, as 1.3; 0 writes none", anyKind(func(r *synth.Recipe, v float64) { r.GustFactor = v })},
	{"wind", "mean wind, knots", onWind(func(w *synth.WindRecipe, v float64) { w.SpeedKn = v })},
	{"wind-from", "where the mean wind comes from, degrees", onWind(func(w *synth.WindRecipe, v float64) { w.FromDeg = v })},
	{"turn", "rate at which it turns clockwise, degrees an hour", onWind(func(w *synth.WindRecipe, v float64) { w.TurnDegH = v })},
	{"swing", "swing of its direction to either side, degrees", onWind(func(w *synth.WindRecipe, v float64) { w.SwingDeg = v })},
	{"swing-kn", "swing of its speed to either side, knots", onWind(func(w *synth.WindRecipe, v float64) { w.SwingKn = v })},
	{"swing-hours", "period of the swing, hours", onWind(func(w *synth.WindRecipe, v float64) { w.SwingPeriodH = v })},
	{"radius", "low: radius of the strongest wind, nautical miles", onLow(func(l *synth.LowRecipe, v float64) { l.RmaxNM = nonZero(v) })},
	{"peakedness", "low: Holland's B, 1 to 2.5", onLow(func(l *synth.LowRecipe, v float64) { l.B = nonZero(v) })},
	{"inflow", "low: angle by which the wind blows inwards, degrees", onLow(func(l *synth.LowRecipe, v float64) { l.InflowDeg = nonZero(v) })},
	{"front-bearing", "front: bearing in which it trails from the low, degrees", onFront(func(f *synth.FrontRecipe, v float64) { f.BearingDeg = v })},
	{"front-jump", "front: change of the wind along it, knots", onFront(func(f *synth.FrontRecipe, v float64) { f.JumpKn = v })},
	{"front-gust", "front: extra gust at it, knots", onFront(func(f *synth.FrontRecipe, v float64) { f.GustKn = v })},
	{"breeze", "sea breeze: strength at its best, knots", onBreeze(func(b *synth.SeaBreezeRecipe, v float64) { b.PeakKn = v })},
	{"inland", "sea breeze: bearing from the sea to the land, degrees", onBreeze(func(b *synth.SeaBreezeRecipe, v float64) { b.InlandDeg = v })},
	{"squall-kn", "trade: strongest wind added by a squall, knots", onSqualls(func(q *synth.SquallsRecipe, v float64) { q.PeakKn = nonZero(v) })},
	{"squall-chance", "trade: share of the sea's cells with a squall, 0 to 1", onSqualls(func(q *synth.SquallsRecipe, v float64) { q.Chance = nonZero(v) })},
	{"squall-cell", "trade: size of those cells, nautical miles", onSqualls(func(q *synth.SquallsRecipe, v float64) { q.CellNM = nonZero(v) })},
}
