package plots

import (
	"fmt"
	"math"
	"reflect"
	"slices"
)

// TrialReport is a trial of policies in many weathers.
type TrialReport struct {
	Title    string
	Weathers int
	Boats    []TrialBoat
	Facts    []string // what was tried, in sentences
	Policies []string // what the policies do, in sentences
	Warnings []string
	Replays  []string // commands that show the worst cases as passages
	Inputs   []Input
	Version  string
}

// TrialBoat is one boat's part of a trial.
type TrialBoat struct {
	Boat     string
	Headline string
	// Best is the place of the best policy in Policies; CeilingPct is how much
	// of the ceiling's gain it reaches.
	Best       int
	CeilingPct float64
	Policies   []TrialPolicy
	Pairs      []TrialPair
	// Split names the policies that Telling tells apart.
	SplitA, SplitB string
	Telling        []TrialTelling
	// Search is the threshold search: its rows under the words of SearchNote.
	SearchNote string
	Search     []TrialThreshold
}

// TrialPolicy is one policy's runs: GainedMin by weather, over the first
// policy, in the same order for all policies.
type TrialPolicy struct {
	Name                             string
	Ceiling                          bool
	GainedMin                        []float64
	MedianH, MedianMin, P10, P90     float64
	RegretMin, WonPct                float64
	Changes, EffortKJ, SlowMin, Lims float64
}

// TrialPair is the mean time that policy A saves over B, with an interval that
// holds for all pairs at once.
type TrialPair struct {
	A, B         string
	MeanMin      float64
	LoMin, HiMin float64
	AFasterPct   float64
	Certain      bool
}

// TrialTelling is a weather that tells two policies apart.
type TrialTelling struct {
	Faster, Weather string
	ByMin           float64
	TWSKn, SwingKn  float64
	TWADeg, HsM     float64
	MeanOf          int // the row is the mean of so many weathers
}

// TrialThreshold is a set of thresholds and what it gains.
type TrialThreshold struct {
	Words             string
	TrainMin, TestMin float64
}

// Validate reports the first value that makes no sense, as a *FieldError.
func (r *TrialReport) Validate() error {
	if err := finite("Boats", reflect.ValueOf(r.Boats), ""); err != nil {
		return err
	}
	if len(r.Boats) == 0 {
		return fieldErr("Boats", "empty")
	}
	for i, b := range r.Boats {
		if len(b.Policies) == 0 {
			return fieldErr(fmt.Sprintf("Boats[%d].Policies", i), "empty")
		}
		if b.Best < 0 || b.Best >= len(b.Policies) {
			return fieldErr(fmt.Sprintf("Boats[%d].Best", i), "%d: there are %d policies", b.Best, len(b.Policies))
		}
		for j, p := range b.Policies {
			if len(p.GainedMin) == 0 || len(p.GainedMin) != len(b.Policies[0].GainedMin) {
				return fieldErr(fmt.Sprintf("Boats[%d].Policies[%d].GainedMin", i, j), "has %d values, the first policy %d; at least one each, of the same weathers", len(p.GainedMin), len(b.Policies[0].GainedMin))
			}
		}
	}
	return nil
}

// TrialCharts draws the charts of a trial: for every boat how the policies'
// gains are distributed, what they leave, and how they compare in pairs.
func TrialCharts(r *TrialReport) ([]Chart, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	var out []Chart
	for i := range r.Boats {
		suffix, of := "", ""
		if len(r.Boats) > 1 {
			suffix, of = fmt.Sprintf("-%d", i+1), ": "+r.Boats[i].Boat
		}
		out = append(out, gainsChart(&r.Boats[i], dotsInRow(r.Boats), suffix, of))
		if n := len(r.Boats[i].Policies); n > 1 && r.Boats[i].Policies[n-1].Ceiling {
			out = append(out, regretChart(&r.Boats[i], suffix, of))
		}
		if len(r.Boats[i].Pairs) > 0 {
			out = append(out, pairsChart(&r.Boats[i], suffix, of))
		}
	}
	return out, nil
}

// hoursOr chooses minutes or hours for an axis.
func hoursOr(lo, hi float64) (unit string, per float64) {
	if math.Max(hi, -lo) > 240 {
		return "h", 60
	}
	return "min", 1
}

// Dots in a row, and in all charts of a trial: they keep the sizes of a chart
// and of the page in bounds.
const (
	mostDots    = 150
	leastDots   = 20
	mostDotsAll = 2100
)

// dotsInRow is how many dots are drawn for one policy of one boat.
func dotsInRow(boats []TrialBoat) int {
	rows := 0
	for i := range boats {
		rows += len(boats[i].Policies)
	}
	return min(mostDots, max(leastDots, mostDotsAll/rows))
}

// evenly returns the values, or at most n of them evenly by rank, the least
// and the greatest among them.
func evenly(x []float64, n int) []float64 {
	if len(x) <= n {
		return x
	}
	sorted := slices.Sorted(slices.Values(x))
	out := make([]float64, n)
	for i := range out {
		out[i] = sorted[i*(len(sorted)-1)/(n-1)]
	}
	return out
}

// gainsChart draws one row for each policy: a dot for every weather, or for
// most of them, the span of 10 to 90 %, and the median.
func gainsChart(b *TrialBoat, most int, suffix, of string) Chart {
	rows := b.Policies
	c := Chart{Name: "gain-by-policy" + suffix, Title: "Time gained over “" + rows[0].Name + "” in each weather" + of,
		tall: float64(112 + 40*len(rows)), tallNarrow: float64(140 + 56*len(rows))}
	c.Alt = fmt.Sprintf("Rows of dots, for %d weathers. Median and 10 to 90 %% of the time gained: ", len(rows[0].GainedMin))
	for _, p := range rows {
		c.Alt += fmt.Sprintf("%s %s, %s to %s; ", p.Name, gain(p.MedianMin), gain(p.P10), gain(p.P90))
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		dots := "Dot: one weather."
		if n := len(rows[0].GainedMin); n > most {
			dots = fmt.Sprintf("Dots: %d of the %d weathers, evenly by rank.", most, n)
		}
		y = s.note(dots+" Bar: 10 to 90 % of them. Upright line with figure: median.", marginTop, y+2)
		lo, hi, nameW := 0.0, 0.0, 0.0
		for _, p := range rows {
			lo, hi = math.Min(lo, slices.Min(p.GainedMin)), math.Max(hi, slices.Max(p.GainedMin))
			nameW = math.Max(nameW, extent(letAxis, 0, 0, p.Name, left, bottom).w())
		}
		unit, per := hoursOr(lo, hi)
		x0 := marginTop + nameW + 12
		if s.narrow {
			x0 = marginTop + 4
		}
		xa := linear(lo/per, hi/per, 6, true)
		xa.title = "time gained (" + unit + "), to the right is better"
		ya := axis{min: 0, max: float64(len(rows))}
		p := newPanel(box{x0, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - 6}, xa, ya)
		p.drawGrid(s)
		zero := p.x.at(0)
		s.line(strokeZero, pt{zero, p.y0}, pt{zero, p.y1})
		for i, row := range rows {
			mid := p.y.at(float64(len(rows)-i) - 0.5)
			h := p.h() / float64(len(rows))
			if s.narrow {
				mid -= h * 0.16
				s.text(lettering{size: sizeLabel, col: tintInk, halo: true}, x0+4, mid+h*0.42, row.Name, left, middle)
			} else {
				s.text(letAxis, x0-8, mid, row.Name, right, middle)
			}
			look := tintPlan
			if row.Ceiling {
				look = tintWind
			}
			band := math.Min(9, h*0.24)
			s.fillBox(box{p.x.at(row.P10 / per), mid - band, p.x.at(row.P90/per) + 0.01, mid + band}, tintGain)
			for k, g := range evenly(row.GainedMin, most) {
				// Spread up and down by the golden section, so that equal
				// values do not hide each other.
				_, f := math.Modf(float64(k) * 0.6180339887498949)
				at := pt{p.x.at(g / per), mid + (2*f-1)*band}
				if row.Ceiling {
					s.dot(tintPaper, stroke{col: look, width: 0.9}, circle(at, 2))
				} else {
					s.dot(look, stroke{col: tintPaper, width: 0.4}, circle(at, 1.9))
				}
			}
			m := p.x.at(row.MedianMin / per)
			s.line(stroke{col: tintInk, width: 2}, pt{m, mid - band - 3}, pt{m, mid + band + 3})
			text := gain(row.MedianMin)
			if i == 0 {
				text = ""
			}
			s.labelClear(lettering{size: sizeTick, bold: true, col: tintInk, halo: true}, text, s.box, false, spot{m, mid + band + 4, centre, bottom}, spot{m + 4, mid + band + 4, left, bottom}, spot{m - 4, mid + band + 4, right, bottom})
		}
		p.y.ticks = nil
		p.drawAxes(s, true)
	}
	return c
}

// regretChart draws, for each policy, in which share of the weathers it loses
// no more than so much to the ceiling.
func regretChart(b *TrialBoat, suffix, of string) Chart {
	rows := b.Policies[:len(b.Policies)-1]
	ceiling := b.Policies[len(b.Policies)-1]
	c := Chart{Name: "regret" + suffix, Title: "How much each policy leaves to the " + ceiling.Name + of, tall: 400, tallNarrow: 390,
		Alt: "Lines of the share of weathers in which a policy loses no more than the time on the horizontal axis to the best possible plan; the further to the upper left, the better."}
	var sorted [][]float64
	most := 0.0
	for _, p := range rows {
		r := make([]float64, len(p.GainedMin))
		for k := range r {
			r[k] = math.Max(0, ceiling.GainedMin[k]-p.GainedMin[k])
		}
		slices.Sort(r)
		sorted = append(sorted, r)
		most = math.Max(most, r[min(len(r)-1, int(0.95*float64(len(r))))])
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		unit, per := hoursOr(0, most)
		xa := linear(0, math.Max(most/per, 1e-6), 6, true)
		xa.title = "time lost to it (" + unit + "), at most"
		ya := fixedAxis(0, 100, 20)
		ya.title = "share of the weathers (%)"
		var names []string
		for _, p := range rows {
			names = append(names, p.Name)
		}
		bx := box{marginL, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - yTitleRoom + 4}
		p := newPanel(bx, xa, ya)
		p.drawGrid(s)
		for i, r := range sorted {
			look := seriesStrokes[i%len(seriesStrokes)]
			ps := []pt{p.at(0, 0)}
			n := float64(len(r))
			for k, v := range r {
				ps = append(ps, p.at(v/per, 100*float64(k)/n), p.at(v/per, 100*float64(k+1)/n))
			}
			ps = append(ps, p.at(math.Max(xa.max, r[len(r)-1]/per), 100))
			s.clippedLine(look, p.box.grown(0.5), ps...)
		}
		p.drawAxes(s, true)
		// The key stands inside, at the lower right, where the lines are not.
		w := 0.0
		for _, n := range names {
			w = math.Max(w, extent(letTick, 0, 0, n, left, bottom).w())
		}
		k := box{p.x1 - w - 44, p.y0 + 8, p.x1 - 6, p.y0 + 14 + 15*float64(len(names))}
		s.fillBox(k, tintPaper)
		s.frame(strokeGrid, k)
		for i, n := range names {
			ky := k.y1 - 11 - 15*float64(i)
			s.line(seriesStrokes[i%len(seriesStrokes)], pt{k.x0 + 5, ky}, pt{k.x0 + 29, ky})
			s.text(letTick, k.x0+34, ky, n, left, middle)
		}
	}
	return c
}

// pairsChart draws the mean differences with their intervals.
func pairsChart(b *TrialBoat, suffix, of string) Chart {
	rows := b.Pairs
	c := Chart{Name: "pairs" + suffix, Title: "Time that the first policy saves over the second, in the same weather" + of,
		tall: float64(96 + 21*len(rows)), tallNarrow: float64(110 + 36*len(rows))}
	c.Alt = "Mean difference and its interval for each pair, holding for all pairs at once with 95 %: "
	for _, p := range rows {
		c.Alt += fmt.Sprintf("%s over %s %s minutes, %s to %s; ", p.A, p.B, signedNumber(p.MeanMin, 1), signedNumber(p.LoMin, 1), signedNumber(p.HiMin, 1))
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.note("Dot: mean over the weathers. Bar: interval of the mean, holding for all pairs at once with 95 %. Open dot: the interval holds zero, so that the difference may be chance.", marginTop, y+2)
		lo, hi, nameW := 0.0, 0.0, 0.0
		for _, p := range rows {
			lo, hi = math.Min(lo, p.LoMin), math.Max(hi, p.HiMin)
			nameW = math.Max(nameW, extent(letTick, 0, 0, p.A+" over "+p.B, left, bottom).w())
		}
		unit, per := hoursOr(lo, hi)
		x0 := marginTop + nameW + 12
		if s.narrow {
			x0 = marginTop + 4
		}
		xa := linear(lo/per, hi/per, 6, true)
		xa.title = "time saved (" + unit + ")"
		p := newPanel(box{x0, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - 6}, xa, axis{min: 0, max: float64(len(rows))})
		p.drawGrid(s)
		zero := p.x.at(0)
		s.line(strokeZero, pt{zero, p.y0}, pt{zero, p.y1})
		h := p.h() / float64(len(rows))
		for i, row := range rows {
			mid := p.y.at(float64(len(rows)-i) - 0.5)
			name := row.A + " over " + row.B
			if s.narrow {
				mid -= h * 0.2
				s.text(lettering{size: sizeTick, col: tintInk, halo: true}, x0+4, mid+h*0.45, name, left, middle)
			} else {
				s.text(letTick.in(tintInk), x0-8, mid, name, right, middle)
			}
			a, z, m := p.x.at(row.LoMin/per), p.x.at(row.HiMin/per), p.x.at(row.MeanMin/per)
			k := stroke{col: tintPlan, width: 2.2}
			s.line(k, pt{a, mid}, pt{z, mid})
			s.line(stroke{col: tintPlan, width: 1.2}, pt{a, mid - 4}, pt{a, mid + 4})
			s.line(stroke{col: tintPlan, width: 1.2}, pt{z, mid - 4}, pt{z, mid + 4})
			if row.Certain {
				s.dot(tintPlan, stroke{col: tintPaper, width: 0.8}, circle(pt{m, mid}, 4))
			} else {
				s.dot(tintPaper, stroke{col: tintPlan, width: 1.4}, circle(pt{m, mid}, 3.6))
			}
		}
		p.y.ticks = nil
		p.drawAxes(s, true)
	}
	return c
}
