package plots

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"slices"
)

// TornadoChart draws one bar for each uncertain factor, from the value with the
// factor low to the value with it high, the longest bar on top.
func TornadoChart(d *Tornado) (Chart, error) {
	if err := finite("Tornado", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if len(d.Bars) == 0 {
		return Chart{}, fieldErr("Tornado.Bars", "empty")
	}
	bars := slices.Clone(d.Bars)
	lo, hi := d.Mid, d.Mid
	for i := range bars {
		b := &bars[i]
		// A refused end has no value; the bar ends at the middle there.
		if b.LowRefused {
			b.Low = d.Mid
		}
		if b.HiRefused {
			b.High = d.Mid
		}
		lo, hi = min(lo, b.Low, b.High), max(hi, b.Low, b.High)
	}
	reach := func(b TornadoBar) float64 { return math.Abs(b.High - b.Low) }
	slices.SortStableFunc(bars, func(a, b TornadoBar) int { return cmp.Compare(reach(b), reach(a)) })
	alt := fmt.Sprintf("Bars of %s for each uncertain factor at the low and the high end of its range; %.1f with all as they are.", d.Quantity, d.Mid)
	for _, b := range bars {
		alt += fmt.Sprintf(" %s: %.1f to %.1f.", b.Factor, b.Low, b.High)
	}
	rows := float64(len(bars))
	c := Chart{Name: named(d.Name, "sensitivity"), Title: d.Title, Alt: alt, tall: 118 + 36*rows, tallNarrow: 134 + 46*rows}
	c.draw = func(s *sheet) { drawTornado(s, d, c.Title, bars, lo, hi) }
	return c, nil
}

func drawTornado(s *sheet, d *Tornado, title string, bars []TornadoBar, lo, hi float64) {
	y := s.title(title)
	words := "Each bar: the value with one factor at the low end of its range (plain, rust) and at the high end (hatched, blue), the others as they are. Number at an end: the factor there."
	if d.Note != "" {
		words += " " + d.Note
	}
	y = s.note(words, marginTop, y+4)
	room := 0.0
	if !s.narrow { // names left of the panel; on a telephone above their bars
		for _, b := range bars {
			room = math.Max(room, extent(letAxis, 0, 0, b.Factor, left, bottom).w())
		}
	}
	ends := 0.0
	for _, b := range bars {
		for _, w := range []string{endWords(b.LowWords, b.LowRefused), endWords(b.HighWords, b.HiRefused)} {
			ends = math.Max(ends, extent(letTick, 0, 0, w, left, bottom).w())
		}
	}
	span := math.Max(hi-lo, 0.2)
	xa := linear(lo-0.14*span, hi+0.14*span, 6, false)
	xa.title = d.Quantity
	b := box{marginTop + room + 12, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - 6}
	p := newPanel(b, xa, axis{min: 0, max: float64(len(bars))})
	for _, t := range p.x.ticks {
		x := p.x.at(t.v)
		s.line(strokeGrid, pt{x, p.y0}, pt{x, p.y1})
	}
	mid := p.x.at(d.Mid)
	for i, bar := range bars {
		row := float64(len(bars)-i) - 0.5
		half, drop := 0.26, 0.0
		if s.narrow {
			half, drop = 0.2, 0.16
		}
		y0, y1 := p.y.at(row-drop-half), p.y.at(row-drop+half)
		// Ends on the same side of the middle would hide one another: the low one
		// takes the upper half of the bar then, the high one the lower.
		split := (bar.Low-d.Mid)*(bar.High-d.Mid) > 0
		for _, e := range []struct {
			v       float64
			refused bool
			words   string
			high    bool
		}{{bar.Low, bar.LowRefused, bar.LowWords, false}, {bar.High, bar.HiRefused, bar.HighWords, true}} {
			x := p.x.at(e.v)
			q := box{math.Min(mid, x), y0, math.Max(mid, x), y1}
			switch {
			case split && e.high:
				q.y1 = (y0 + y1) / 2
			case split:
				q.y0 = (y0 + y1) / 2
			}
			if e.high {
				s.fillBox(q, tintGain)
				s.hatch(stroke{col: tintPlan, width: 0.6}, q, 5)
				s.frame(stroke{col: tintPlan, width: 1}, q)
			} else {
				s.fillBox(q, tintLoss)
				s.frame(stroke{col: tintBase, width: 1}, q)
			}
			ax, dx := left, 4.0
			if x < mid || x == mid && (bar.High > bar.Low) != e.high {
				ax, dx = right, -4
			}
			s.text(letTick, x+dx, (q.y0+q.y1)/2, endWords(e.words, e.refused), ax, middle)
		}
		if s.narrow {
			s.text(letAxis, b.x0+4, y1+3, bar.Factor, left, bottom)
		} else {
			s.text(letAxis, marginTop+room, (y0+y1)/2, bar.Factor, right, middle)
		}
	}
	s.line(strokeZero, pt{mid, p.y0}, pt{mid, p.y1})
	pa := p
	pa.y.ticks = nil
	pa.drawAxes(s, true)
}

func endWords(words string, refused bool) string {
	if refused {
		return words + ", refused"
	}
	return words
}
