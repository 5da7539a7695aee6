package plots

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"
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
	return cs, nil
}

// run is a span of a passage in which the leeward foil's extension stays.
type run struct {
	from, to       time.Time
	ext            float64
	rakeLo, rakeHi float64
}

func runsOf(steps []Step) []run {
	var rs []run
	for i, p := range steps {
		e, rake := p.leeward()
		end := p.Time
		if i+1 < len(steps) {
			end = steps[i+1].Time
		}
		if n := len(rs); n > 0 && math.Abs(rs[n-1].ext-e) < 0.01 {
			l := &rs[n-1]
			l.to = end
			l.rakeLo, l.rakeHi = math.Min(l.rakeLo, rake), math.Max(l.rakeHi, rake)
			continue
		}
		rs = append(rs, run{p.Time, end, e, rake, rake})
	}
	return rs
}

func (r run) words() []string {
	if r.ext <= 0.01 {
		return []string{"foils in", "in"}
	}
	out := "out"
	if r.ext < 0.99 {
		out = fmt.Sprintf("out %.0f %%", 100*r.ext)
	}
	short := func(x float64) string { return trimZero(fmt.Sprintf("%.1f", x)) }
	rake := short(r.rakeLo)
	if r.rakeHi-r.rakeLo > 0.05 {
		rake += "–" + short(r.rakeHi)
	}
	return []string{out + ", rake " + rake + "°", out + " " + rake + "°", out}
}

func trimZero(s string) string {
	if len(s) > 2 && s[len(s)-2:] == ".0" {
		return s[:len(s)-2]
	}
	return s
}

// bands tints the panel where the leeward foil is out.
func bands(s *sheet, p panel, runs []run) {
	for _, r := range runs {
		if t, out := bandTint(r.ext); out {
			s.fillBox(box{p.x.at(unix(r.from)), p.y0, p.x.at(unix(r.to)), p.y1}, t)
		}
	}
}

// strip writes the leeward foil's state in words along a narrow band, each word
// only where its whole span has room for it.
func strip(s *sheet, b box, x axis, runs []run) {
	for _, r := range runs {
		x0, x1 := x.at(unix(r.from)), x.at(unix(r.to))
		rb := box{x0, b.y0, x1, b.y1}
		if t, out := bandTint(r.ext); out {
			s.fillBox(rb, t)
			s.line(strokePlan, pt{x0, b.y0}, pt{x1, b.y0})
		}
		for _, w := range r.words() {
			e := extent(letSmall, (x0+x1)/2, (b.y0+b.y1)/2, w, centre, middle)
			if e.w()+4 <= rb.w() && s.free(e) {
				s.text(letSmall.in(tintInk), (x0+x1)/2, (b.y0+b.y1)/2, w, centre, middle)
				break
			}
		}
	}
	s.frame(stroke{col: tintGrid, width: 0.6}, b)
}

func unix(t time.Time) float64 { return float64(t.UnixNano()) / 1e9 }

// glyph draws the mark of an action: a triangle up for out, down for in, a
// diamond for rake.
func glyph(s *sheet, action string, c pt, r float64) {
	edge := stroke{col: tintPaper, width: 0.8}
	switch kindOf(action) {
	case kindOut:
		s.dot(tintActive, edge, []pt{{c.x - r, c.y - 0.8*r}, {c.x + r, c.y - 0.8*r}, {c.x, c.y + r}})
	case kindIn:
		s.dot(tintActive, edge, []pt{{c.x - r, c.y + 0.8*r}, {c.x + r, c.y + 0.8*r}, {c.x, c.y - r}})
	default:
		s.dot(tintActive, edge, []pt{{c.x - r, c.y}, {c.x, c.y - r}, {c.x + r, c.y}, {c.x, c.y + r}})
	}
}

type actionKind int

const (
	kindRake actionKind = iota
	kindOut
	kindIn
)

func kindOf(action string) actionKind {
	switch action {
	case "deploy", "extend":
		return kindOut
	case "retract", "shorten":
		return kindIn
	}
	return kindRake
}

// glyphKey explains the marks in one line and returns the y below.
func glyphKey(s *sheet, x, y float64) float64 {
	for _, k := range []struct{ action, words string }{{"deploy", "further out"}, {"retract", "further in"}, {"rake", "rake"}} {
		glyph(s, k.action, pt{x + 5, y - 4}, 4)
		b := s.text(letSmall, x+12, y-1, k.words, left, top)
		x = b.x1 + 14
	}
	return y - 14
}

// gainChart draws the time gained so far along the passage.
func gainChart(r *PassageReport) Chart {
	base := r.Baselines[0]
	c := Chart{
		Name:  "gain-along-passage",
		Title: "Time gained along the passage over: " + base.Name,
		Alt: fmt.Sprintf("Line of the time gained so far, from 0 at departure to %s at arrival, with the %s marked.",
			gain(base.TimeGainedMin), plural(len(r.Actions), "action", "actions")),
		tall: 330, tallNarrow: 320,
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = glyphKey(s, marginTop, y+2)
		lo, hi := 0.0, 0.0
		for _, p := range r.Running {
			lo, hi = math.Min(lo, p.GainedMin), math.Max(hi, p.GainedMin)
		}
		unit, per := "min", 1.0
		if math.Max(hi, -lo) > 240 {
			unit, per = "h", 60
		}
		b := box{marginL, s.box.y0 + xAxisRoom + 22, s.box.x1 - marginR, y - yTitleRoom}
		ya := linear(lo/per, (hi+0.10*(hi-lo))/per, 5, true)
		ya.title = "time gained (" + unit + ")"
		p := newPanel(b, timeAxis(r.Departure, r.Arrival, b.w()), ya)
		strokes := make([]pt, 0, len(r.Running))
		for _, q := range r.Running {
			strokes = append(strokes, p.at(unix(q.Time), q.GainedMin/per))
		}
		fillToZero(s, p, strokes)
		p.drawGrid(s)
		rests(s, r, p)
		zero := p.y.at(0)
		s.line(strokeZero, pt{b.x0, zero}, pt{b.x1, zero})
		s.line(strokePlan, strokes...)
		s.occupy(strokes...)
		strip(s, box{b.x0, b.y0 - 16, b.x1, b.y0 - 3}, p.x, runsOf(r.Steps))
		pa := p
		pa.y0 -= 18
		pa.y.ticks, pa.y.title = nil, ""
		p.drawAxes(s, false)
		pa.drawAxes(s, true)
		if n := len(strokes); n > 0 {
			e := strokes[n-1]
			s.dot(tintPlan, stroke{col: tintPaper, width: 1}, circle(e, 3.5))
			s.label(letBold.in(tintPlan), gain(r.Running[n-1].GainedMin), b.grown(12),
				spot{e.x - 4, e.y + 6, right, bottom}, spot{e.x - 8, e.y, right, middle}, spot{e.x - 4, e.y - 8, right, top}, spot{e.x - 30, e.y + 6, right, bottom})
		}
		numbered(s, r, p, func(a Action) pt {
			return p.at(unix(a.Time), runningAt(r.Running, a.Time)/per)
		})
	}
	return c
}

// numbered marks the actions with their number in the schedule where there is
// room for it.
func numbered(s *sheet, r *PassageReport, p panel, at func(Action) pt) {
	places := make([]pt, len(r.Actions))
	for i, a := range r.Actions {
		places[i] = at(a)
		glyph(s, a.Action, places[i], 4.5)
		q := places[i]
		s.busy = append(s.busy, box{q.x - 4, q.y - 4, q.x + 4, q.y + 4})
	}
	for i := range r.Actions {
		q := places[i]
		s.label(letSmall.in(tintActive), fmt.Sprint(i+1), p.box.grown(10), around(q, 6.5)...)
	}
}

// rests shades the spans in which nothing is touched.
func rests(s *sheet, r *PassageReport, p panel) {
	for i, q := range r.Rests {
		b := box{p.x.at(math.Max(unix(q.From), p.x.min)), p.y0, p.x.at(math.Min(unix(q.To), p.x.max)), p.y0 + 5}
		if b.w() <= 0 {
			continue
		}
		s.fillBox(b, tintMuted)
		if i == 0 {
			s.label(letSmall, "rest", p.box, spot{(b.x0 + b.x1) / 2, b.y1 + 2, centre, bottom}, spot{b.x1 + 2, b.y0 + 1, left, bottom})
		}
	}
}

// runningAt interpolates the running gain, minutes.
func runningAt(rs []RunningPoint, t time.Time) float64 {
	for i, q := range rs {
		if q.Time.Before(t) {
			continue
		}
		if i == 0 {
			return q.GainedMin
		}
		a := rs[i-1]
		d := q.Time.Sub(a.Time).Seconds()
		if d <= 0 {
			return q.GainedMin
		}
		return a.GainedMin + t.Sub(a.Time).Seconds()/d*(q.GainedMin-a.GainedMin)
	}
	if n := len(rs); n > 0 {
		return rs[n-1].GainedMin
	}
	return 0
}

// fillToZero fills between a line and zero, gain and loss in their own tints,
// each lobe as one area so that no seams show.
func fillToZero(s *sheet, p panel, ps []pt) {
	zero := p.y.at(0)
	var lobe []pt
	flush := func() {
		if len(lobe) > 1 {
			col, sum := tintGain, 0.0
			for _, q := range lobe {
				sum += q.y - zero
			}
			if sum < 0 {
				col = tintLoss
			}
			area := append([]pt{{lobe[0].x, zero}}, lobe...)
			s.fill(col, append(area, pt{lobe[len(lobe)-1].x, zero})...)
		}
		lobe = nil
	}
	for i, b := range ps {
		if i > 0 {
			a := ps[i-1]
			if (a.y-zero)*(b.y-zero) < 0 {
				m := pt{a.x + (zero-a.y)/(b.y-a.y)*(b.x-a.x), zero}
				lobe = append(lobe, m)
				flush()
				lobe = []pt{m}
			}
		}
		lobe = append(lobe, b)
	}
	flush()
}

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

// nameLines writes each line's name beside it, in its colour, where there is
// room, trying near the right end first.
func nameLines(s *sheet, p panel, names []string, looks []stroke, lines [][]pt) {
	for i, ps := range lines {
		if len(ps) < 2 {
			continue
		}
		var spots []spot
		for k := range 40 {
			q := ps[(len(ps)-1)*(39-k)/39]
			spots = append(spots, spot{q.x, q.y + 5, right, bottom}, spot{q.x, q.y - 5, right, top},
				spot{q.x, q.y + 5, left, bottom}, spot{q.x, q.y - 5, left, top},
				spot{q.x, q.y + 12, centre, bottom}, spot{q.x, q.y - 12, centre, top})
		}
		s.label(letAxis.in(looks[i].col), names[i], p.box.grown(2), spots...)
	}
}

// nameWidth is the room right of a panel that nameEnds needs.
func nameWidth(names []string) float64 {
	w := 0.0
	for _, n := range names {
		w = math.Max(w, extent(letAxis, 0, 0, n, left, bottom).w())
	}
	return w + 20
}

// nameEnds writes each line's name right of the panel beside its end, pushed
// apart where ends are close, with a leader from the end to the name.
func nameEnds(s *sheet, p panel, names []string, looks []stroke, lines [][]pt) {
	type end struct {
		i    int
		from pt
		y    float64
	}
	var es []end
	for i, ps := range lines {
		if len(ps) > 0 && names[i] != "" {
			q := ps[len(ps)-1]
			q.y = math.Max(p.y0, math.Min(p.y1, q.y))
			es = append(es, end{i, q, q.y})
		}
	}
	slices.SortStableFunc(es, func(a, b end) int { return cmp.Compare(a.y, b.y) })
	gap := 1.2 * sizeLabel
	for range 200 { // push neighbours apart, evenly and within the panel
		for k := 1; k < len(es); k++ {
			if d := gap - (es[k].y - es[k-1].y); d > 0 {
				es[k].y += d / 2
				es[k-1].y -= d / 2
			}
		}
		if n := len(es); n > 0 {
			es[0].y = math.Max(es[0].y, p.y0+gap/2)
			es[n-1].y = math.Min(es[n-1].y, p.y1-gap/2)
		}
	}
	for _, e := range es {
		k := looks[e.i]
		s.line(stroke{col: k.col, width: 0.7}, pt{e.from.x + 1, e.from.y}, pt{p.x1 + 10, e.y})
		s.text(letAxis.in(k.col), p.x1+13, e.y, names[e.i], left, middle)
	}
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

// ledgerChart draws what the gain is made of as bars from a common zero.
func ledgerChart(r *PassageReport) Chart {
	rows := len(r.Ledger) + 1
	c := Chart{
		Name:  "ledger",
		Title: "What the time gained is made of",
		tall:  float64(80 + 26*rows), tallNarrow: float64(100 + 40*rows),
	}
	total := r.Baselines[0].TimeGainedMin
	c.Alt = "Bars of minutes gained or lost by cause: "
	for _, l := range r.Ledger {
		c.Alt += fmt.Sprintf("%s %s; ", l.Cause, signedNumber(l.Minutes, 1))
	}
	c.Alt += fmt.Sprintf("total %s minutes.", signedNumber(total, 1))
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.text(letAxis, marginTop, y, "minutes gained (+) or lost (−)", left, top).y0 - 8
		all := append(append([]LedgerRow{}, r.Ledger...), LedgerRow{"total", total})
		lo, hi, textW := 0.0, 0.0, 0.0
		for _, l := range all {
			lo, hi = math.Min(lo, l.Minutes), math.Max(hi, l.Minutes)
			textW = math.Max(textW, extent(letAxis, 0, 0, l.Cause, left, bottom).w())
		}
		x0 := marginTop + textW + 10
		lineH := 26.0
		if s.narrow {
			x0, lineH = marginTop, 40
		}
		numW := 52.0
		ax := axis{min: lo, max: math.Max(hi, lo+1), lo: x0 + 4, hi: s.box.x1 - marginR - numW}
		if lo < 0 {
			ax.lo += numW
		}
		zero := ax.at(0)
		top0 := y
		for i, l := range all {
			let := letAxis
			if i == len(all)-1 {
				let = letBold
				s.line(strokeAxis, pt{marginTop, y}, pt{s.box.x1 - marginR, y})
			}
			mid := y - lineH/2
			if s.narrow {
				s.text(let, marginTop, y-5, l.Cause, left, top)
				mid = y - 28
			} else {
				s.text(let, x0-8, mid, l.Cause, right, middle)
			}
			v := ax.at(l.Minutes)
			b := box{math.Min(zero, v), mid - 7, math.Max(zero, v), mid + 7}
			if l.Minutes < 0 {
				s.fillBox(b, tintBase)
				s.text(let, b.x0-4, mid, signedNumber(l.Minutes, 1), right, middle)
			} else {
				s.fillBox(b, tintPlan)
				s.text(let, b.x1+4, mid, signedNumber(l.Minutes, 1), left, middle)
			}
			if s.narrow {
				s.line(strokeZero, pt{zero, mid - 10}, pt{zero, mid + 10})
			}
			y -= lineH
		}
		if !s.narrow {
			s.line(strokeZero, pt{zero, top0}, pt{zero, y})
		}
	}
	return c
}
