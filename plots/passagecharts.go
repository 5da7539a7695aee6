package plots

import (
	"fmt"
	"math"
)

// PassageCharts returns every chart of a passage that its data allow, in the
// order in which they answer questions.
func PassageCharts(r *PassageReport) ([]Chart, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	cs := []Chart{gainChart(r), speedChart(r), foilChart(r), mapChart(r)}
	if len(r.Ledger) > 0 {
		cs = append(cs, ledgerChart(r))
	}
	if len(r.Members) > 1 {
		cs = append(cs, membersChart(r))
	}
	return append(cs, breakCharts(r)...), nil
}

const (
	kindRake actionKind = iota
	kindOut
	kindIn
)

// series is one quantity of the steps to be drawn as a line.
type series struct {
	name   string
	look   stroke
	steps  []Step
	value  func(Step) float64
	stairs bool
}

func (v series) points(p panel) []pt {
	var ps []pt
	for i, q := range v.steps {
		t := unix(q.Time)
		if t > p.x.max {
			break
		}
		a := p.at(t, v.value(q))
		if v.stairs && i > 0 {
			ps = append(ps, pt{a.x, ps[len(ps)-1].y})
		}
		ps = append(ps, a)
	}
	return ps
}

// rangeOf is the span of several series.
func rangeOf(vs []series) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range vs {
		for _, q := range v.steps {
			lo, hi = math.Min(lo, v.value(q)), math.Max(hi, v.value(q))
		}
	}
	return lo, hi
}

// speedChart draws boat speed with and without foils over the wind and the sea.
func speedChart(r *PassageReport) Chart {
	base := r.Baselines[0]
	c := Chart{
		Name:  "speed-along-passage",
		Title: "Boat speed, wind and sea along the passage",
		Alt: fmt.Sprintf("Boat speed of the plan and of the baseline (%s) against time, above true wind speed, true wind angle and wave height; bands show when the leeward foil is out.",
			base.Name),
		tall: 520, tallNarrow: 520,
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		runs := runsOf(r.Steps)
		bottomY := s.box.y0 + xAxisRoom
		total := y - bottomY - 4*yTitleRoom - 12
		heights := []float64{0.43, 0.25, 0.18, 0.14}
		groups := [][]series{
			{{"plan", strokePlan, r.Steps, func(p Step) float64 { return p.BSPKn }, false}, {"baseline", strokeBase, base.Steps, func(p Step) float64 { return p.BSPKn }, false}},
			{{"", strokeWind, r.Steps, func(p Step) float64 { return p.TWSKn }, false}},
			{{"", strokeThin, r.Steps, func(p Step) float64 { return p.TWADeg }, false}},
			{{"", strokeSea, r.Steps, func(p Step) float64 { return p.HsM }, false}},
		}
		titles := []string{"boat speed (kn)", "true wind speed (kn)", "true wind angle from the bow (°)", "significant wave height (m)"}
		for g, vs := range groups {
			h := heights[g] * total
			b := box{marginL, y - yTitleRoom - h, s.box.x1 - marginR, y - yTitleRoom}
			lo, hi := rangeOf(vs)
			n := 5
			if h < 90 {
				n = 3
			}
			ya := linear(lo, hi, n, true)
			if g == 2 {
				ya = fixedAxis(0, 180, 60)
			}
			ya.title = titles[g]
			xa := timeAxis(r.Departure, r.Arrival, b.w())
			p := newPanel(b, xa, ya)
			bands(s, p, runs)
			p.drawGrid(s)
			var lines [][]pt
			var names []string
			var looks []stroke
			for _, v := range vs {
				ps := v.points(p)
				s.clippedLine(v.look, p.box, ps...)
				s.occupy(ps...)
				lines, names, looks = append(lines, ps), append(names, v.name), append(looks, v.look)
			}
			last := g == len(groups)-1
			p.drawAxes(s, last)
			if g == 0 {
				nameLines(s, p, names, looks, lines)
				y = b.y0 - 2
				strip(s, box{b.x0, y - 13, b.x1, y}, p.x, runs)
				y -= 13
			} else {
				y = b.y0
			}
		}
	}
	return c
}

// foilChart draws extension and rake of each side.
func foilChart(r *PassageReport) Chart {
	c := Chart{
		Name:  "foils-along-passage",
		Title: "Foils by side: extension and rake",
		Alt:   "Extension in per cent and rake in degrees of the port and the starboard foil against time; shaded where that foil is to leeward, where it works.",
		tall:  430, tallNarrow: 440,
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.note("Shaded: that side is to leeward, where the foil works. Heavy line: extension. Rake is drawn while the foil is out.", marginTop, y+4) + 4
		bottomY := s.box.y0 + xAxisRoom
		total := y - bottomY - 4*yTitleRoom
		rakeMax := 1.0
		for _, p := range r.Steps {
			rakeMax = math.Max(rakeMax, math.Max(p.PortRakeDeg, p.StbdRakeDeg))
		}
		rows := []struct {
			title   string
			look    stroke
			y       axis
			leeward string // the board on which this side is to leeward
			value   func(Step) float64
			ext     func(Step) float64
			share   float64
		}{
			{"port foil extension (%)", stroke{col: tintPlan, width: 2.2}, fixedAxis(0, 100, 50), "starboard", func(p Step) float64 { return 100 * p.PortExt }, nil, 0.22},
			{"port foil rake (°)", strokePlan, linear(0, rakeMax, 3, true), "starboard", func(p Step) float64 { return p.PortRakeDeg }, func(p Step) float64 { return p.PortExt }, 0.28},
			{"starboard foil extension (%)", stroke{col: tintBase, width: 2.2, dashes: strokeBase.dashes}, fixedAxis(0, 100, 50), "port", func(p Step) float64 { return 100 * p.StbdExt }, nil, 0.22},
			{"starboard foil rake (°)", strokeBase, linear(0, rakeMax, 3, true), "port", func(p Step) float64 { return p.StbdRakeDeg }, func(p Step) float64 { return p.StbdExt }, 0.28},
		}
		for i, row := range rows {
			h := row.share * total
			b := box{marginL, y - yTitleRoom - h, s.box.x1 - marginR, y - yTitleRoom}
			row.y.title = row.title
			p := newPanel(b, timeAxis(r.Departure, r.Arrival, b.w()), row.y)
			for k := 0; k+1 < len(r.Steps); {
				end := k + 1
				for end < len(r.Steps)-1 && r.Steps[end].Board == r.Steps[k].Board {
					end++
				}
				if r.Steps[k].Board == row.leeward {
					s.fillBox(box{p.x.at(unix(r.Steps[k].Time)), b.y0, p.x.at(unix(r.Steps[end].Time)), b.y1}, tintBandB)
				}
				k = end
			}
			p.drawGrid(s)
			for _, ps := range outParts(r.Steps, p, row.value, row.ext) {
				s.clippedLine(row.look, p.box.grown(1), ps...)
			}
			p.drawAxes(s, i == len(rows)-1)
			y = b.y0
		}
	}
	return c
}

// outParts draws a value as stairs, broken where the foil is in.
func outParts(steps []Step, p panel, value, ext func(Step) float64) [][]pt {
	var parts [][]pt
	var cur []pt
	for i, q := range steps {
		if ext != nil && ext(q) <= 0.01 {
			if len(cur) > 1 {
				parts = append(parts, cur)
			}
			cur = nil
			continue
		}
		a := p.at(unix(q.Time), value(q))
		if n := len(cur); n > 0 && math.Abs(cur[n-1].y-a.y) > 1e-9 {
			cur = append(cur, pt{a.x, cur[n-1].y})
		}
		cur = append(cur, a)
		if i+1 < len(steps) {
			cur = append(cur, pt{p.x.at(unix(steps[i+1].Time)), a.y})
		}
	}
	if len(cur) > 1 {
		parts = append(parts, cur)
	}
	return parts
}
