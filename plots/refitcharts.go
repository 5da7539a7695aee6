package plots

import (
	"fmt"
	"math"
	"reflect"
)

// VariantBars are values with intervals, one row each.
type VariantBars struct {
	Title, Label string
	Rows         []VariantBar
}

// VariantBar is a value with its interval.
type VariantBar struct {
	Name          string
	Value, Lo, Hi float64
}

// barRoom is the height of one row of bars, wide and narrow.
const (
	barRow       = 26.0
	barRowNarrow = 42.0
)

// rowFrame lays out rows of bars from a common zero and returns the axis, the
// top of the first row and the height of a row. Names stand left of the bars,
// and on narrow sheets above them.
func rowFrame(s *sheet, names []string, label string, y, lo, hi float64) (axis, float64, float64) {
	textW := 0.0
	for _, n := range names {
		textW = math.Max(textW, extent(letAxis, 0, 0, n, left, bottom).w())
	}
	x0, rowH := marginTop+math.Min(textW, 0.42*s.box.w())+12, barRow
	if s.narrow {
		x0, rowH = marginTop, barRowNarrow
	}
	y = s.text(letAxis, marginTop, y, label, left, top).y0 - 6
	ax := linear(lo, hi, 6, true)
	ax.lo, ax.hi = x0+6, s.box.x1-marginR-8
	bottomY := y - rowH*float64(len(names)) - 4
	for _, t := range ax.ticks {
		x := ax.at(t.v)
		k := strokeGrid
		if t.v == 0 {
			k = strokeZero
		}
		s.line(k, pt{x, y}, pt{x, bottomY})
		s.text(letTick, x, bottomY-3, t.label, centre, top)
	}
	return ax, y, rowH
}

// rowName writes the name of row i and returns the middle of its bar.
func rowName(s *sheet, ax axis, name string, i int, y, rowH float64) float64 {
	top0 := y - rowH*float64(i)
	if s.narrow {
		l := letAxis
		l.halo = true // the line of zero crosses it
		s.text(l, marginTop, top0-4, fitted(letAxis, name, s.box.w()-2*marginTop), left, top)
		return top0 - 29
	}
	s.text(letAxis, ax.lo-12, top0-rowH/2, fitted(letAxis, name, ax.lo-12-marginTop), right, middle)
	return top0 - rowH/2
}

// fitted cuts a text to a width.
func fitted(l lettering, str string, width float64) string {
	r := []rune(str)
	for extent(l, 0, 0, str, left, bottom).w() > width && len(r) > 1 {
		r = r[:len(r)-1]
		str = string(r) + "…"
	}
	return str
}

// rowsTall is the height of a chart of rows.
func rowsTall(n int, narrow bool, more float64) float64 {
	if narrow {
		return 96 + barRowNarrow*float64(n) + more
	}
	return 82 + barRow*float64(n) + more
}

// VariantBarsChart draws values as bars with their intervals as whiskers.
func VariantBarsChart(name string, d *VariantBars) (Chart, error) {
	if err := finite("VariantBars", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if len(d.Rows) == 0 {
		return Chart{}, fieldErr("VariantBars.Rows", "empty")
	}
	n := len(d.Rows)
	c := Chart{Name: name, Title: d.Title, tall: rowsTall(n, false, 0), tallNarrow: rowsTall(n, true, 0), Alt: d.Label + ": "}
	lo, hi := 0.0, 0.0
	var names []string
	for _, r := range d.Rows {
		names = append(names, r.Name)
		lo, hi = math.Min(lo, math.Min(r.Lo, r.Value)), math.Max(hi, math.Max(r.Hi, r.Value))
		c.Alt += fmt.Sprintf("%s %s (%s to %s); ", r.Name, signedNumber(r.Value, 1), signedNumber(r.Lo, 1), signedNumber(r.Hi, 1))
	}
	span := math.Max(hi-lo, 1)
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		ax, y, rowH := rowFrame(s, names, d.Label, y, lo-0.10*span*sign(lo), hi+0.10*span)
		for i, r := range d.Rows {
			mid := rowName(s, ax, r.Name, i, y, rowH)
			zero, v := ax.at(0), ax.at(r.Value)
			col := tintPlan
			if r.Value < 0 {
				col = tintBase
			}
			s.fillBox(box{math.Min(zero, v), mid - 6, math.Max(zero, v), mid + 6}, col)
			a, b := ax.at(r.Lo), ax.at(r.Hi)
			k := stroke{col: tintInk, width: 1.2}
			if r.Lo < r.Hi {
				s.line(k, pt{a, mid}, pt{b, mid})
				s.line(k, pt{a, mid - 4}, pt{a, mid + 4})
				s.line(k, pt{b, mid - 4}, pt{b, mid + 4})
			}
			end := math.Max(math.Max(b, v), zero)
			l := letBold
			l.halo = true
			if e := extent(l, end+5, mid, signedNumber(r.Value, 1), left, middle); e.x1 < s.box.x1-2 {
				s.text(l, end+5, mid, signedNumber(r.Value, 1), left, middle)
			} else {
				s.text(l, math.Min(a, math.Min(v, zero))-5, mid, signedNumber(r.Value, 1), right, middle)
			}
		}
	}
	return c, nil
}

func sign(x float64) float64 {
	if x < 0 {
		return 1
	}
	return 0
}

// SplitBars are sums split by cause, one row each.
type SplitBars struct {
	Title, Label string
	Rows         []SplitRow
}

// SplitRow is one sum.
type SplitRow struct {
	Name  string
	Parts []SplitPart
}

// SplitPart is one part of a sum.
type SplitPart struct {
	Cause string
	Value float64
}

// splitLooks are the fills of causes: a tint, and hatching for the second half,
// so that no meaning rests on colour alone.
var splitLooks = []struct {
	col   tint
	hatch float64
}{{tintPlan, 0}, {tintBase, 0}, {tintWind, 0}, {tintSea, 0}, {tintMuted, 0}, {tintPlan, 4}, {tintBase, 4}, {tintWind, 4}, {tintSea, 4}, {tintMuted, 4}, {tintInk, 3}}

// SplitBarsChart draws each sum as its gains to the right of zero and its
// losses to the left, with a dot at the sum.
func SplitBarsChart(name string, d *SplitBars) (Chart, error) {
	if err := finite("SplitBars", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if len(d.Rows) == 0 {
		return Chart{}, fieldErr("SplitBars.Rows", "empty")
	}
	n := len(d.Rows)
	c := Chart{Name: name, Title: d.Title, Alt: d.Label + " by cause: "}
	lo, hi := 0.0, 0.0
	var names, causes []string
	look := map[string]int{}
	for _, r := range d.Rows {
		names = append(names, r.Name)
		up, down := 0.0, 0.0
		c.Alt += r.Name
		for _, p := range r.Parts {
			if _, ok := look[p.Cause]; !ok {
				look[p.Cause] = len(causes)
				causes = append(causes, p.Cause)
			}
			up, down = up+math.Max(p.Value, 0), down+math.Min(p.Value, 0)
			c.Alt += fmt.Sprintf(" %s %s,", p.Cause, signedNumber(p.Value, 1))
		}
		c.Alt += "; "
		lo, hi = math.Min(lo, down), math.Max(hi, up)
	}
	key := 17*float64(len(causes)) + 10
	c.tall, c.tallNarrow = rowsTall(n, false, key), rowsTall(n, true, key)
	fill := func(s *sheet, b box, cause string) {
		l := splitLooks[look[cause]%len(splitLooks)]
		if l.hatch == 0 {
			s.fillBox(b, l.col)
		} else {
			s.hatch(stroke{col: l.col, width: 1.2}, b, l.hatch)
		}
		s.frame(stroke{col: l.col, width: 0.8}, b)
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		for _, cause := range causes {
			fill(s, box{marginTop, y - 12, marginTop + 18, y - 2}, cause)
			s.text(letAxis, marginTop+24, y-7, cause, left, middle)
			y -= 17
		}
		ax, y, rowH := rowFrame(s, names, d.Label+"; dot: the sum", y-8, lo, math.Max(hi, lo+1))
		for i, r := range d.Rows {
			mid := rowName(s, ax, r.Name, i, y, rowH)
			up, down, sum := 0.0, 0.0, 0.0
			for _, p := range r.Parts {
				from := up
				if p.Value < 0 {
					from = down
					down += p.Value
				} else {
					up += p.Value
				}
				sum += p.Value
				a, b := ax.at(from), ax.at(from+p.Value)
				if math.Abs(a-b) > 0.3 {
					fill(s, box{math.Min(a, b), mid - 7, math.Max(a, b), mid + 7}, p.Cause)
				}
			}
			s.dot(tintInk, stroke{col: tintPaper, width: 1.2}, circle(pt{ax.at(sum), mid}, 4))
		}
	}
	return c, nil
}

// TradeOff shows a gain against what it costs.
type TradeOff struct {
	Title, XLabel, YLabel string
	Points                []TradePoint
}

// TradePoint is one choice; Best says that no other one has more gain for no
// more cost.
type TradePoint struct {
	Name string
	X, Y float64
	Best bool
}

// TradeOffChart draws choices as dots, those that no other beats filled and
// joined by a line.
func TradeOffChart(name string, d *TradeOff) (Chart, error) {
	if err := finite("TradeOff", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if len(d.Points) == 0 {
		return Chart{}, fieldErr("TradeOff.Points", "empty")
	}
	xlo, xhi, ylo, yhi := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	c := Chart{Name: name, Title: d.Title, tall: 400, tallNarrow: 380, Alt: fmt.Sprintf("%s against %s: ", d.YLabel, d.XLabel)}
	var front []TradePoint
	for _, p := range d.Points {
		xlo, xhi, ylo, yhi = math.Min(xlo, p.X), math.Max(xhi, p.X), math.Min(ylo, p.Y), math.Max(yhi, p.Y)
		c.Alt += fmt.Sprintf("%s %s for %s; ", p.Name, signedNumber(p.Y, 1), signedNumber(p.X, 1))
		if p.Best {
			front = append(front, p)
		}
	}
	for i := range front { // by cost
		for j := i; j > 0 && front[j].X < front[j-1].X; j-- {
			front[j], front[j-1] = front[j-1], front[j]
		}
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.note("Filled dots: no other variant gains more at no more cost.", marginTop, y+4)
		pad := func(lo, hi float64) (float64, float64) {
			d := 0.08 * math.Max(hi-lo, 1e-6)
			return lo - d, hi + d
		}
		x0, x1 := pad(xlo, xhi)
		y0, y1 := pad(ylo, yhi)
		xa, ya := linear(x0, x1, 6, false), linear(y0, y1, 5, true)
		xa.title, ya.title = d.XLabel, d.YLabel
		b := box{marginL + 8, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - yTitleRoom + 4}
		p := newPanel(b, xa, ya)
		p.drawGrid(s)
		zero := []pt{{b.x0, p.y.at(0)}, {b.x1, p.y.at(0)}}
		s.line(strokeZero, zero...)
		s.occupy(zero...)
		var line []pt
		for _, q := range front {
			line = append(line, p.at(q.X, q.Y))
		}
		s.line(stroke{col: tintPlan, width: 1.2, dashes: []float64{4, 3}}, line...)
		s.occupy(line...)
		for _, q := range d.Points {
			s.avoid(p.at(q.X, q.Y), 5)
		}
		for _, q := range d.Points {
			at := p.at(q.X, q.Y)
			if q.Best {
				s.dot(tintPlan, stroke{col: tintPlan, width: 1.2}, circle(at, 4.5))
			} else {
				s.dot(tintPaper, stroke{col: tintBase, width: 1.4}, circle(at, 4))
			}
		}
		p.drawAxes(s, true)
		for _, q := range d.Points {
			at := p.at(q.X, q.Y)
			name := fitted(letSmall, q.Name, 0.6*b.w())
			s.label(letSmall, name, p.box.grown(4), append(around(at, 7), around(at, 15)...)...)
		}
	}
	return c, nil
}
