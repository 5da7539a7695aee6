package plots

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
)

// SurgeCurveChart draws the net force along the course against boat speed, its
// parts, and the speeds at which it is zero.
func SurgeCurveChart(d *SurgeChart) (Chart, error) {
	if err := finite("SurgeChart", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	n := len(d.VKn)
	if n < 2 || len(d.NetN) != n {
		return Chart{}, fieldErr("SurgeChart.NetN", "has %d values for %d speeds; at least 2 of each are needed", len(d.NetN), n)
	}
	for i, p := range d.Parts {
		if len(p.ForceN) != n {
			return Chart{}, fieldErr(fmt.Sprintf("SurgeChart.Parts[%d].ForceN", i), "has %d values for %d speeds", len(p.ForceN), n)
		}
	}
	c := Chart{
		Name: "surge-curve", Title: d.Title,
		Alt:  "Net force along the course in kilonewtons against boat speed in knots, with its parts.",
		tall: 470, tallNarrow: 460,
	}
	for _, e := range d.Equilibria {
		kind := "unstable"
		if e.Stable {
			kind = "stable"
		}
		c.Alt += fmt.Sprintf(" %s equilibrium at %.1f kn.", strings.ToUpper(kind[:1])+kind[1:], e.VKn)
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.note("Heavy line: net force; where it crosses zero the boat neither gains nor loses speed. Filled dot: stable. Open dot: unstable, the boat leaves it to either side.", marginTop, y+4)
		lo, hi := 0.0, 0.0
		for _, f := range append([]SurgePart{{"", d.NetN}}, d.Parts...) {
			lo, hi = math.Min(lo, slices.Min(f.ForceN)), math.Max(hi, slices.Max(f.ForceN))
		}
		ya := linear(lo/1e3, hi/1e3, 6, true)
		ya.title = "force along the course (kN), forward positive"
		xa := linear(d.VKn[0], d.VKn[n-1], 6, false)
		xa.min, xa.max = d.VKn[0], d.VKn[n-1]
		xa.ticks = steps(xa.min, xa.max, niceStep(xa.max-xa.min, 6))
		xa.title = "boat speed (kn)"
		names := []string{"net force"}
		for _, part := range d.Parts {
			names = append(names, part.Name)
		}
		b := box{marginL, s.box.y0 + xAxisRoom, s.box.x1 - 6 - nameWidth(names), y - yTitleRoom + 4}
		p := newPanel(b, xa, ya)
		p.drawGrid(s)
		zero := p.y.at(0)
		s.line(strokeZero, pt{b.x0, zero}, pt{b.x1, zero})
		s.occupy(pt{b.x0, zero}, pt{b.x1, zero})
		toPts := func(f []float64) []pt {
			ps := make([]pt, n)
			for i, x := range f {
				ps[i] = p.at(d.VKn[i], x/1e3)
			}
			return ps
		}
		looks := []stroke{{col: tintPlan, width: 2.6}}
		lines := [][]pt{toPts(d.NetN)}
		for i, part := range d.Parts {
			k := seriesStrokes[1+i%(len(seriesStrokes)-1)]
			k.width = 1.3
			looks, lines = append(looks, k), append(lines, toPts(part.ForceN))
		}
		for i, ps := range lines {
			s.clippedLine(looks[i], p.box, ps...)
			s.occupy(ps...)
		}
		p.drawAxes(s, true)
		for _, e := range d.Equilibria {
			q := pt{p.x.at(e.VKn), zero}
			if e.Stable {
				s.dot(tintInk, stroke{col: tintPaper, width: 1}, circle(q, 4.5))
			} else {
				s.dot(tintPaper, stroke{col: tintInk, width: 1.4}, circle(q, 4))
			}
			words := fmt.Sprintf("%.1f kn", e.VKn)
			long := words
			if e.Note != "" {
				long += ", " + e.Note
			}
			// above or below: the zero line runs to either side
			var far []spot
			for _, d := range []float64{9, 14, 20, 28, 40, 55} {
				for _, ax := range []float64{centre, left, right} {
					far = append(far, spot{q.x, q.y + d, ax, bottom}, spot{q.x, q.y - d, ax, top})
				}
			}
			if !s.labelClear(letBold, long, p.box, true, far...) {
				s.label(letBold, words, p.box, far...)
			}
		}
		nameEnds(s, p, names, looks, lines)
	}
	return c, nil
}

// LinesChart draws a plain chart of lines with direct labels; name is the
// file's name without ending.
func LinesChart(name string, d *LineChart) (Chart, error) {
	if err := finite("LineChart", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	xlo, xhi, ylo, yhi := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for i, l := range d.Lines {
		f := fmt.Sprintf("LineChart.Lines[%d]", i)
		if len(l.X) != len(l.Y) || len(l.X) == 0 {
			return Chart{}, fieldErr(f, "has %d x and %d y values", len(l.X), len(l.Y))
		}
		xlo, xhi = math.Min(xlo, slices.Min(l.X)), math.Max(xhi, slices.Max(l.X))
		ylo, yhi = math.Min(ylo, slices.Min(l.Y)), math.Max(yhi, slices.Max(l.Y))
		if d.LogX && xlo <= 0 {
			return Chart{}, fieldErr(f+".X", "%g has no logarithm", xlo)
		}
		if d.LogY && ylo <= 0 {
			return Chart{}, fieldErr(f+".Y", "%g has no logarithm", ylo)
		}
	}
	if len(d.Lines) == 0 {
		return Chart{}, fieldErr("LineChart.Lines", "empty")
	}
	var names []string
	for _, l := range d.Lines {
		names = append(names, l.Name)
	}
	c := Chart{Name: name, Title: d.Title, Alt: fmt.Sprintf("%s against %s for %s.", d.YLabel, d.XLabel, list(names)), tall: 400, tallNarrow: 360}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		xa, ya := linear(xlo, xhi, 6, false), linear(ylo, yhi, 5, d.ZeroLine)
		if d.LogX {
			xa = logAxis(xlo, xhi)
		}
		if d.LogY {
			ya = logAxis(ylo, yhi)
		}
		xa.title, ya.title = d.XLabel, d.YLabel
		b := box{marginL + 8, s.box.y0 + xAxisRoom, s.box.x1 - 6 - nameWidth(names), y - yTitleRoom + 8}
		p := newPanel(b, xa, ya)
		p.drawGrid(s)
		if d.ZeroLine {
			s.line(strokeZero, pt{b.x0, p.y.at(0)}, pt{b.x1, p.y.at(0)})
		}
		var lines [][]pt
		var looks []stroke
		for i, l := range d.Lines {
			var ps []pt
			for k := range l.X {
				ps = append(ps, p.at(l.X[k], l.Y[k]))
			}
			look := seriesStrokes[i%len(seriesStrokes)]
			s.clippedLine(look, p.box.grown(0.5), ps...)
			if len(ps) <= 24 {
				for _, q := range ps {
					s.dot(look.col, stroke{col: tintPaper, width: 0.7}, circle(q, 2.6))
				}
			}
			s.occupy(ps...)
			lines, looks = append(lines, ps), append(looks, look)
		}
		p.drawAxes(s, true)
		nameEnds(s, p, names, looks, lines)
	}
	return c, nil
}
