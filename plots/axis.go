package plots

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// tick is one mark of an axis; minor ticks have no label.
type tick struct {
	v     float64
	label string
	grid  bool // a line across the panel
}

// axis maps values to positions along one edge of a panel.
type axis struct {
	min, max float64
	lo, hi   float64 // positions, points
	log      bool
	title    string // with unit
	ticks    []tick
}

// at is the position of a value.
func (a axis) at(v float64) float64 {
	f := (v - a.min) / (a.max - a.min)
	if a.log {
		f = math.Log(v/a.min) / math.Log(a.max/a.min)
	}
	return a.lo + f*(a.hi-a.lo)
}

// niceStep is the 1, 2 or 5 times a power of ten that cuts a span in about n
// parts.
func niceStep(span float64, n int) float64 {
	raw := span / float64(n)
	mag := math.Pow(10, math.Floor(math.Log10(raw)))
	switch f := raw / mag; {
	case f <= 1:
		return mag
	case f <= 2:
		return 2 * mag
	case f <= 5:
		return 5 * mag
	}
	return 10 * mag
}

// linear makes an axis over values with round ends and about n ticks. Zero is
// included when asked for.
func linear(lo, hi float64, n int, withZero bool) axis {
	if withZero {
		lo, hi = math.Min(lo, 0), math.Max(hi, 0)
	}
	if hi-lo < 1e-9*(1+math.Abs(hi)) {
		lo, hi = lo-0.5, hi+0.5
		if withZero && lo < 0 && hi > 0 {
			lo = math.Max(lo, -0.5)
		}
	}
	step := niceStep(hi-lo, n)
	a := axis{min: math.Floor(lo/step+1e-9) * step, max: math.Ceil(hi/step-1e-9) * step}
	a.ticks = steps(a.min, a.max, step)
	return a
}

// fixedAxis makes an axis with given ends and tick step.
func fixedAxis(lo, hi, step float64) axis {
	return axis{min: lo, max: hi, ticks: steps(lo, hi, step)}
}

func steps(lo, hi, step float64) []tick {
	var ts []tick
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+1e-9*step; i++ {
		v := i * step
		if v == 0 {
			v = 0 // no minus zero
		}
		ts = append(ts, tick{v, number(v, step), true})
	}
	return ts
}

// logAxis makes a logarithmic axis with ticks at 1, 2 and 5.
func logAxis(lo, hi float64) axis {
	a := axis{min: lo, max: hi, log: true}
	if a.max < a.min*1.5 {
		a.min, a.max = a.min/1.5, a.max*1.5
	}
	many := math.Log10(a.max/a.min) > 2.5
	for e := math.Floor(math.Log10(a.min)); e <= math.Log10(a.max); e++ {
		for _, m := range []float64{1, 2, 5} {
			v := m * math.Pow(10, e)
			if v < a.min*(1-1e-9) || v > a.max*(1+1e-9) {
				continue
			}
			t := tick{v: v, label: number(v, v), grid: true}
			if many && m != 1 {
				t.label = ""
			}
			a.ticks = append(a.ticks, t)
		}
	}
	return a
}

// number prints a value with the decimals that a step calls for and a true
// minus sign.
func number(v, step float64) string {
	dec := 0
	if step < 1 {
		dec = int(math.Ceil(-math.Log10(step) - 1e-9))
	}
	str := strconv.FormatFloat(v, 'f', dec, 64)
	return strings.Replace(str, "-", "−", 1)
}

// timeAxis makes an axis of time in UTC, seconds since the Unix epoch, with
// days named at midnight and hours between as room allows.
func timeAxis(from, to time.Time, width float64) axis {
	a := axis{min: float64(from.Unix()), max: float64(to.Unix()), title: "date and hour (UTC)"}
	if a.max <= a.min {
		a.max = a.min + 3600
	}
	hours := (a.max - a.min) / 3600
	perHour := width / hours
	const labelW = 34.0 // of "30 Nov"
	// the shortest step whose labels do not touch
	step := 0.0
	for _, h := range []float64{1, 3, 6, 12, 24, 48, 96, 192, 384} {
		if h*perHour >= labelW || h == 384 {
			step = h
			break
		}
	}
	minor := map[float64]float64{1: 1, 3: 1, 6: 3, 12: 6, 24: 6, 48: 24, 96: 24, 192: 48, 384: 96}[step]
	day0 := from.UTC().Truncate(24 * time.Hour)
	for h := 0.0; ; h += minor {
		t := day0.Add(time.Duration(h * float64(time.Hour)))
		v := float64(t.Unix())
		if v > a.max {
			break
		}
		if v < a.min {
			continue
		}
		tk := tick{v: v}
		midnight := math.Mod(h, 24) == 0
		switch {
		case midnight && math.Mod(h, math.Max(step, 24)) == 0:
			tk.label = t.Format("2\u00a0Jan")
			tk.grid = true
		case step < 24 && math.Mod(h, step) == 0:
			tk.label = t.Format("15") + "\u00a0h"
		case midnight:
			tk.grid = step <= 48
		}
		a.ticks = append(a.ticks, tk)
	}
	return a
}

// panel is one rectangle of a chart with its two axes.
type panel struct {
	box
	x, y axis
}

// newPanel places axes along a box.
func newPanel(b box, x, y axis) panel {
	x.lo, x.hi, y.lo, y.hi = b.x0, b.x1, b.y0, b.y1
	return panel{b, x, y}
}

func (p panel) at(x, y float64) pt { return pt{p.x.at(x), p.y.at(y)} }

// drawGrid draws the grid lines; call it after bands and before data.
func (p panel) drawGrid(s *sheet) {
	for _, t := range p.y.ticks {
		if t.grid {
			y := p.y.at(t.v)
			s.line(strokeGrid, pt{p.x0, y}, pt{p.x1, y})
		}
	}
	for _, t := range p.x.ticks {
		if t.grid {
			x := p.x.at(t.v)
			s.line(strokeGrid, pt{x, p.y0}, pt{x, p.y1})
		}
	}
}

// drawAxes draws the edges, ticks and labels. The y title stands upright above
// the panel's left edge, where it can be read without turning the head.
func (p panel) drawAxes(s *sheet, xLabels bool) {
	s.line(strokeAxis, pt{p.x0, p.y0}, pt{p.x1, p.y0})
	s.line(strokeAxis, pt{p.x0, p.y0}, pt{p.x0, p.y1})
	for _, t := range p.y.ticks {
		y := p.y.at(t.v)
		s.line(strokeAxis, pt{p.x0 - 3, y}, pt{p.x0, y})
		b := extent(letTick, p.x0-5, y, t.label, right, middle)
		if t.label != "" && s.free(b) {
			s.text(letTick, p.x0-5, y, t.label, right, middle)
		}
	}
	if p.y.title != "" {
		s.text(letAxis, p.x0-yTitleBack, p.y1+7, p.y.title, left, bottom)
	}
	for _, t := range p.x.ticks {
		x := p.x.at(t.v)
		d := 2.0
		if t.label != "" {
			d = 4
		}
		s.line(strokeAxis, pt{x, p.y0 - d}, pt{x, p.y0})
		if !xLabels || t.label == "" {
			continue
		}
		b := extent(letTick, x, p.y0-6, t.label, centre, top)
		if s.free(b) {
			s.text(letTick, x, p.y0-6, t.label, centre, top)
		}
	}
	if xLabels && p.x.title != "" {
		s.text(letAxis, p.x1, p.y0-20, p.x.title, right, top)
	}
}

// Room around panels, points.
const (
	yTitleBack = 30.0 // how far left of the panel its y title starts
	marginL    = 40.0
	marginR    = 14.0
	marginTop  = 10.0
	titleRoom  = 26.0
	xAxisRoom  = 34.0 // tick labels and title below a panel
	yTitleRoom = 25.0 // above a panel
)

// title writes the chart's name at the top left, wrapped, and returns the y
// below it.
func (s *sheet) title(str string) float64 {
	y := s.box.y1 - marginTop
	for _, l := range wrap(letTitle, str, s.box.w()-2*marginTop) {
		b := s.text(letTitle, marginTop, y, l, left, top)
		y = b.y0 - 4
	}
	return y - 4
}

// note writes small print, wrapped, below a y, and returns the y below it.
func (s *sheet) note(str string, x, y float64) float64 {
	for _, l := range wrap(letSmall, str, s.box.x1-marginTop-x) {
		b := s.text(letSmall, x, y, l, left, top)
		y = b.y0 - 2.5
	}
	return y - 2
}
