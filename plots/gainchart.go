package plots

import (
	"fmt"
	"math"
	"time"
)

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
		s.occupy(strokes...)
		rests(s, r, p)
		zero := p.y.at(0)
		s.line(strokeZero, pt{b.x0, zero}, pt{b.x1, zero})
		s.line(strokePlan, strokes...)
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
		l := letSmall.in(tintActive)
		l.halo = !s.labelClear(l, fmt.Sprint(i+1), p.box.grown(10), true, around(q, 6.5)...)
		if l.halo {
			s.labelClear(l, fmt.Sprint(i+1), p.box.grown(10), false, around(q, 6.5)...)
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
