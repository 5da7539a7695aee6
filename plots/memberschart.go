package plots

import (
	"fmt"
	"math"
	"sort"
)

// membersChart draws the time gained in each ensemble member as a dot over a
// common axis, with the middle and the span that holds eight of ten.
func membersChart(r *PassageReport) Chart {
	c := Chart{
		Name:  "gain-by-member",
		Title: "Time gained by the same schedule in each forecast member",
		Alt: fmt.Sprintf("Dots of the time gained in each of %d forecast members; from %s to %s in %s, the middle %s.",
			len(r.Members), gain(r.GainLowMin), gain(r.GainHighMin), r.SpreadScope(), gain(r.GainMidMin)),
		tall: 210, tallNarrow: 220,
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		xs := make([]float64, len(r.Members))
		for i, m := range r.Members {
			xs[i] = m.GainedMin
		}
		sort.Float64s(xs)
		unit, per := "min", 1.0
		lo, hi := math.Min(0, xs[0]), math.Max(0, xs[len(xs)-1])
		if hi-lo > 240 {
			unit, per = "h", 60
		}
		pad := 0.04 * (hi - lo)
		xa := linear((lo-pad)/per, (hi+pad)/per, 6, true)
		xa.title = "time gained over " + r.Baselines[0].Name + " (" + unit + ")"
		b := box{marginTop + 6, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - 10}
		p := newPanel(b, xa, axis{min: 0, max: 1})
		p.drawGrid(s)
		s.fillBox(box{p.x.at(r.GainLowMin / per), b.y0, p.x.at(r.GainHighMin / per), b.y1}, tintBandB)
		zero := p.x.at(0)
		s.line(strokeZero, pt{zero, b.y0}, pt{zero, b.y1})
		mid := p.x.at(r.GainMidMin / per)
		s.line(strokePlan, pt{mid, b.y0}, pt{mid, b.y1 - 26})
		// dots that would cover each other are stacked
		const d = 9.0
		level := map[int]int{}
		for _, x := range xs {
			col := int(math.Round(p.x.at(x/per) / d))
			q := pt{float64(col) * d, b.y0 + 10 + d*float64(level[col])}
			level[col]++
			s.dot(tintPlan, stroke{col: tintPaper, width: 0.8}, circle(q, 3.6))
		}
		s.label(letBold.in(tintPlan), "middle "+gain(r.GainMidMin), b.grown(4), spot{mid, b.y1 - 12, centre, middle}, spot{mid, b.y1 - 12, right, middle}, spot{mid, b.y1 - 12, left, middle})
		low, high := "10 %", "90 %"
		if r.few() {
			low, high = "least", "most"
		}
		s.label(letSmall, low, b.grown(4), spot{p.x.at(r.GainLowMin/per) - 3, b.y1 - 32, right, middle}, spot{p.x.at(r.GainLowMin/per) + 3, b.y1 - 32, left, middle})
		s.label(letSmall, high, b.grown(4), spot{p.x.at(r.GainHighMin/per) + 3, b.y1 - 32, left, middle}, spot{p.x.at(r.GainHighMin/per) - 3, b.y1 - 32, right, middle})
		p.drawAxes(s, true)
	}
	return c
}

// breakCharts draws the break-even maps of a report; one that has no place
// where it pays is left out.
func breakCharts(r *PassageReport) []Chart {
	var out []Chart
	for _, d := range r.BreakMaps {
		if c, err := BreakEvenChart(d); err == nil {
			out = append(out, c)
		}
	}
	return out
}

// FewMembers is the number of members below which a tenth of them means
// nothing: GainLowMin and GainHighMin are then the least and the most.
const FewMembers = 10

func (r *PassageReport) few() bool { return len(r.Members) > 0 && len(r.Members) < FewMembers }

// SpreadScope says what GainLowMin and GainHighMin span.
func (r *PassageReport) SpreadScope() string {
	if r.few() {
		return fmt.Sprintf("all %d forecast members", len(r.Members))
	}
	return "8 of 10 forecast members"
}
