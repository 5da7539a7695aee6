package main

import (
	"fmt"
	"slices"
	"strings"

	"foilledger/plots"
	"foilledger/strategy/refit"
	"foilledger/vpp/units"
)

// refitCharts are the pictures of a comparison, by section of the page.
type refitCharts struct {
	gain, pairs, causes, along, costs, sure []plots.Chart
}

func (c *refitCharts) all() (out []plots.Chart) {
	for _, cs := range [][]plots.Chart{c.gain, c.pairs, c.causes, c.along, c.costs, c.sure} {
		out = append(out, cs...)
	}
	return out
}

// gainLabel is the axis of all gains.
const gainLabel = "gained over the boat as she is (min per passage)"

// charts draws the comparison.
func (res *refitResult) charts() (*refitCharts, error) {
	out := &refitCharts{}
	var failed error
	add := func(to *[]plots.Chart, c plots.Chart, err error) {
		if err != nil && failed == nil {
			failed = err
		}
		*to = append(*to, c)
	}
	c, err := plots.VariantBarsChart("gain", res.bars())
	add(&out.gain, c, err)
	if split := res.split(); split != nil {
		c, err := plots.SplitBarsChart("causes", split)
		add(&out.causes, c, err)
	}
	if m := res.pairMap(); m != nil {
		c, err := plots.PairsChart("pairs", m)
		add(&out.pairs, c, err)
	}
	if l := res.alongSweep(); l != nil {
		c, err := plots.LinesChart("sweep", l)
		add(&out.along, c, err)
	}
	for _, q := range []struct {
		name, label string
		least       float64 // difference that is one
		of          func(*refit.Compared) float64
	}{{"gain-load", "greatest force on a foil (tf), mean over the passages", 0.05, func(c *refit.Compared) float64 { return units.TonnesForce(c.LoadN) }},
		{"gain-mass", "added mass (kg)", 1, func(c *refit.Compared) float64 { return c.AddedKg }}} {
		if d := res.tradeOff(q.label, q.least, q.of); d != nil {
			c, err := plots.TradeOffChart(q.name, d)
			add(&out.costs, c, err)
		}
	}
	for i := range res.variants {
		if d := res.tornado(i + 1); d != nil {
			c, err := plots.TornadoChart(d)
			add(&out.sure, c, err)
		}
	}
	return out, failed
}

func (res *refitResult) bars() *plots.VariantBars {
	d := &plots.VariantBars{Title: "Gained over the boat as she is", Label: "minutes per passage"}
	if res.cmp.Weathers > 1 {
		d.Label += "; whiskers: 95 % interval for all at once"
	}
	for i := range res.variants {
		c := &res.cmp.Variants[i+1]
		d.Rows = append(d.Rows, plots.VariantBar{Name: res.labels[i+1], Value: c.Gain, Lo: c.Joint.Lo, Hi: c.Joint.Hi})
	}
	return d
}

// split is the gains by cause; nil when there are none.
func (res *refitResult) split() *plots.SplitBars {
	d := &plots.SplitBars{Title: "Where the gain comes from", Label: "minutes per passage"}
	any := false
	for i := range res.variants {
		row := plots.SplitRow{Name: res.labels[i+1]}
		for _, it := range res.cmp.Variants[i+1].Ledger {
			row.Parts = append(row.Parts, plots.SplitPart{Cause: it.Cause, Value: it.GainS})
			any = true
		}
		d.Rows = append(d.Rows, row)
	}
	if !any {
		return nil
	}
	return d
}

// pairMap is the gain of every pair of two sweeps; nil when there are not two.
func (res *refitResult) pairMap() *plots.Pairs {
	g := res.pairs()
	if g == nil {
		return nil
	}
	return &plots.Pairs{Title: "Gained for every pair (min per passage)", RowLabel: g.rowWords, ColumnLabel: g.columnWords, Rows: g.rows, Columns: g.columns, Values: g.gain}
}

// alongSweep is the gain along a sweep of numbers: with its interval, or a line
// for each value of a second sweep. nil when there is nothing of the kind.
func (res *refitResult) alongSweep() *plots.LineChart {
	if len(res.swept) == 0 {
		return nil
	}
	words, unit := refit.KeyWords(res.swept[0])
	d := &plots.LineChart{Title: "Gain along the sweep", XLabel: axisWords(words, unit), YLabel: gainLabel, ZeroLine: true}
	mean, lo, hi := plots.Line{Name: "mean"}, plots.Line{Name: "low end"}, plots.Line{Name: "high end"}
	byOther := map[string]int{}
	for i := range res.variants {
		v := &res.variants[i]
		if !v.Sweeps(res.swept) {
			continue
		}
		x, ok := v.Changes[0].Value.(float64)
		if !ok {
			return nil
		}
		c := &res.cmp.Variants[i+1]
		if len(res.swept) == 1 {
			for _, l := range []struct {
				to *plots.Line
				y  float64
			}{{&mean, c.Gain}, {&lo, c.Joint.Lo}, {&hi, c.Joint.Hi}} {
				l.to.X, l.to.Y = append(l.to.X, x), append(l.to.Y, l.y)
			}
			continue
		}
		name := refit.ValueWords(v.Changes[1].Key, v.Changes[1].Value)
		k, ok := byOther[name]
		if !ok {
			k = len(d.Lines)
			byOther[name] = k
			d.Lines = append(d.Lines, plots.Line{Name: name})
		}
		d.Lines[k].X, d.Lines[k].Y = append(d.Lines[k].X, x), append(d.Lines[k].Y, c.Gain)
	}
	switch {
	case len(res.swept) == 1 && res.cmp.Weathers < 2:
		mean.Name = "one weather"
		d.Lines = []plots.Line{mean}
	case len(res.swept) == 1:
		d.Lines = []plots.Line{mean, lo, hi}
		d.Title += ", with its 95 % interval (all values at once)"
	}
	if len(d.Lines[0].X) < 2 {
		return nil
	}
	return d
}

func axisWords(words, unit string) string {
	if unit == "" {
		return words
	}
	return words + " (" + unit + ")"
}

// tradeOff sets the gains against what they cost; nil when the costs differ by
// less than the least that counts.
func (res *refitResult) tradeOff(label string, least float64, of func(*refit.Compared) float64) *plots.TradeOff {
	var gain, cost []float64
	for i := range res.cmp.Variants {
		gain, cost = append(gain, res.cmp.Variants[i].Gain), append(cost, of(&res.cmp.Variants[i]))
	}
	if slices.Max(cost)-slices.Min(cost) < least {
		return nil
	}
	front := refit.Pareto(gain, cost)
	name, _, _ := strings.Cut(label, " (")
	d := &plots.TradeOff{Title: "Gain against " + name, XLabel: label, YLabel: gainLabel}
	for i := range gain {
		d.Points = append(d.Points, plots.TradePoint{Name: res.labels[i], X: cost[i], Y: gain[i], Best: front[i]})
	}
	return d
}

// tornado is what the uncertain factors do to the gain of a variant; nil without
// enough samples, and where they say nothing.
func (res *refitResult) tornado(i int) *plots.Tornado {
	c := &res.cmp.Variants[i]
	if len(c.Effects) == 0 || c.TooCoarse() {
		return nil
	}
	d := &plots.Tornado{Name: fmt.Sprintf("tornado-%d", i), Title: "What the model is unsure of: the gain of " + res.labels[i], Quantity: gainLabel,
		Note: fmt.Sprintf("By a straight line through the samples, which explains %.0f %% of their variance.", 100*c.Fit), Mid: c.Centre}
	for _, e := range c.Effects {
		d.Bars = append(d.Bars, tornadoBar(e.Range, c.Centre+e.LowMin, c.Centre+e.HiMin))
	}
	return d
}
