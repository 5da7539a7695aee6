package plots

import (
	"fmt"
	"math"
	"reflect"
)

// ScalingData is how long a computation takes against its size: one line for
// each kind of computation.
type ScalingData struct {
	Name  string // of the file; empty: "scaling"
	Title string
	Size  string // what grows, for instance "stages"
	Note  string // on what it was measured
	Lines []ScalingLine
}

// ScalingLine is one series of measurements.
type ScalingLine struct {
	Label string    // for instance "49 foil states"
	Size  []float64 // ascending
	TimeS []float64
}

// mostScalingLines is how many lines can be told apart.
const mostScalingLines = 4

// ScalingChart draws time against size. Both axes begin at zero, so that a cost
// that is linear in the size is a straight line to the corner.
func ScalingChart(d *ScalingData) (Chart, error) {
	if err := finite("ScalingData", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if n := len(d.Lines); n == 0 || n > mostScalingLines {
		return Chart{}, fieldErr("ScalingData.Lines", "has %d; a chart takes 1 to %d", n, mostScalingLines)
	}
	maxX, maxY := 0.0, 0.0
	for i, l := range d.Lines {
		where := fmt.Sprintf("ScalingData.Lines[%d]", i)
		if len(l.Size) < 2 || len(l.Size) != len(l.TimeS) {
			return Chart{}, fieldErr(where, "has %d sizes and %d times; it needs as many of both, at least 2", len(l.Size), len(l.TimeS))
		}
		for j, x := range l.Size {
			if x < 0 || l.TimeS[j] < 0 || (j > 0 && x <= l.Size[j-1]) {
				return Chart{}, fieldErr(where, "sizes must rise from 0 on, and times be ≥ 0")
			}
			maxX, maxY = math.Max(maxX, x), math.Max(maxY, l.TimeS[j])
		}
	}
	c := Chart{
		Name: named(d.Name, "scaling"), Title: d.Title,
		Alt:  fmt.Sprintf("Time in seconds against the number of %s, %s, up to %.3g s for %.0f.", d.Size, plural(len(d.Lines), "line", "lines"), maxY, maxX),
		tall: 330, tallNarrow: 320,
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		for _, l := range wrap(letSmall, d.Note, s.box.w()-2*marginTop) {
			y = s.text(letSmall, marginTop, y, l, left, top).y0 - 3
		}
		unit, per := "s", 1.0
		if maxY < 1 {
			unit, per = "ms", 1e-3
		}
		b := box{marginL, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - yTitleRoom}
		xa := linear(0, maxX, 6, true)
		xa.title = d.Size
		ya := linear(0, maxY/per, 5, true)
		ya.title = "time (" + unit + ")"
		p := newPanel(b, xa, ya)
		p.drawGrid(s)
		p.drawAxes(s, true)
		kinds := [mostScalingLines]stroke{strokePlan, strokeBase, strokeWind, strokeSea}
		var ends []pt
		for i, l := range d.Lines {
			strokes := make([]pt, len(l.Size))
			for j, x := range l.Size {
				strokes[j] = p.at(x, l.TimeS[j]/per)
			}
			s.line(kinds[i], strokes...)
			s.occupy(strokes...)
			ring := kinds[i]
			ring.dashes = nil
			for _, q := range strokes {
				s.dot(tintPaper, ring, circle(q, 2.5))
			}
			ends = append(ends, strokes[len(strokes)-1])
		}
		for i, e := range ends {
			s.label(letBold.in(kinds[i].col), d.Lines[i].Label, b.grown(14),
				spot{e.x - 6, e.y + 5, right, bottom}, spot{e.x - 6, e.y - 5, right, top}, spot{e.x - 40, e.y + 14, right, bottom}, spot{e.x - 90, e.y, right, middle})
		}
	}
	return c, nil
}
