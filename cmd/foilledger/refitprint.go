package main

import (
	"fmt"
	"math"
	"strings"

	"foilledger/plots"
	"foilledger/strategy/refit"
	"foilledger/vpp/units"
)

// refitJSON is the result of refit as one object.
type refitJSON struct {
	Boat           string             `json:"boat"`
	Passages       int                `json:"passages"`
	LeftOut        []string           `json:"passages_left_out"`
	Variants       []refitVariantJSON `json:"variants"`
	Marginal       []refitMarginal    `json:"marginal_values"`
	Samples        int                `json:"samples"`
	SamplePassages int                `json:"sample_passages"`
	CoarseErrorMin float64            `json:"coarse_error_min"`
	Files          []string           `json:"files,omitempty"`
	Warnings       []string           `json:"warnings"`
	Inputs         []input            `json:"inputs"`
	Version        string             `json:"version"`
}

type refitVariantJSON struct {
	Name        string            `json:"name"`
	Changes     map[string]any    `json:"changes"`
	GainMin     float64           `json:"gain_min"` // over the boat as she is
	IntervalMin [2]float64        `json:"gain_interval_min"`
	MedianMin   float64           `json:"gain_median_min"`
	P10Min      float64           `json:"gain_p10_min"`
	P90Min      float64           `json:"gain_p90_min"`
	Faster      float64           `json:"faster_share"`
	OwnGainMin  float64           `json:"gain_over_never_out_min"`
	FoilGainMin float64           `json:"gain_over_no_foils_min"`
	Ledger      []refitLedgerJSON `json:"ledger"`
	AddedKg     float64           `json:"added_mass_kg"`
	LoadTf      float64           `json:"foil_load_tf"`
	Limited     float64           `json:"ruled_by_foil_load_share"`
	Changing    float64           `json:"foil_changes"`
	EffortKJ    float64           `json:"effort_kj"`
	Model       *refitModelJSON   `json:"model,omitempty"`
}

type refitLedgerJSON struct {
	Cause   string  `json:"cause"`
	Minutes float64 `json:"minutes"`
}

type refitModelJSON struct {
	MedianMin float64           `json:"gain_median_min"`
	P10Min    float64           `json:"gain_p10_min"`
	P90Min    float64           `json:"gain_p90_min"`
	Positive  float64           `json:"positive_share"`
	Explained float64           `json:"explained_share"`
	Effects   []refitEffectJSON `json:"effects"`
}

type refitEffectJSON struct {
	Factor  string  `json:"factor"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	LowMin  float64 `json:"at_low_min"`
	HighMin float64 `json:"at_high_min"`
}

type refitMarginal struct {
	Key         string     `json:"key"`
	From        float64    `json:"from"`
	To          float64    `json:"to"`
	MinPerUnit  float64    `json:"min_per_unit"`
	IntervalMin [2]float64 `json:"interval_min_per_unit"`
}

func (res *refitResult) json() *refitJSON {
	j := &refitJSON{Boat: res.boat.Name, Passages: res.cmp.Passages, LeftOut: append([]string{}, res.leftOut...), Samples: res.samples,
		SamplePassages: res.cmp.SamplePassages, CoarseErrorMin: res.cmp.CoarseErrorMin, Marginal: []refitMarginal{},
		Warnings: append([]string{}, res.warnings...), Inputs: res.inputs, Version: version()}
	for i := range res.cmp.Variants {
		c := &res.cmp.Variants[i]
		v := refitVariantJSON{Name: c.Name, Changes: map[string]any{}, GainMin: c.Gain, IntervalMin: [2]float64{c.Interval.Lo, c.Interval.Hi},
			MedianMin: c.Spread.Median, P10Min: c.Spread.P10, P90Min: c.Spread.P90, Faster: c.Faster, OwnGainMin: c.OwnGain, FoilGainMin: c.FoilGain,
			AddedKg: c.AddedKg, LoadTf: units.TonnesForce(c.LoadN), Limited: c.Limited, Changing: c.Changes, EffortKJ: c.EffortJ / 1000, Ledger: []refitLedgerJSON{}}
		if i > 0 {
			for _, ch := range res.variants[i-1].Changes {
				v.Changes[ch.Key] = ch.Value
			}
		}
		for _, it := range c.Ledger {
			v.Ledger = append(v.Ledger, refitLedgerJSON{it.Cause, it.GainS})
		}
		if len(c.Samples) > 0 {
			m := &refitModelJSON{MedianMin: c.Model.Median, P10Min: c.Model.P10, P90Min: c.Model.P90, Explained: c.Fit, Positive: positive(c.Samples), Effects: []refitEffectJSON{}}
			for _, e := range c.Effects {
				m.Effects = append(m.Effects, refitEffectJSON{e.Range.Name, e.Range.Low, e.Range.High, e.LowMin, e.HiMin})
			}
			v.Model = m
		}
		j.Variants = append(j.Variants, v)
	}
	for _, m := range res.marginals {
		j.Marginal = append(j.Marginal, refitMarginal{m.Key, m.From, m.To, m.MinPerUnit, [2]float64{m.Interval.Lo, m.Interval.Hi}})
	}
	return j
}

func positive(x []float64) float64 {
	n := 0.0
	for _, v := range x {
		if v > 0 {
			n++
		}
	}
	return n / float64(len(x))
}

// best is the variant of the greatest gain; the base boat when none gains.
func (res *refitResult) best() *refit.Compared {
	b := &res.cmp.Variants[0]
	for i := range res.cmp.Variants {
		if c := &res.cmp.Variants[i]; c.Gain > b.Gain {
			b = c
		}
	}
	return b
}

func (res *refitResult) headline() string {
	b := res.best()
	if b == &res.cmp.Variants[0] {
		return fmt.Sprintf("No variant is faster than the boat as she is, on the mean of %s.", count(res.cmp.Passages, "passage", "passages"))
	}
	return fmt.Sprintf("The fastest variant, %s, gains %s min per passage over the boat as she is (95 %% interval %s to %s, %s), and is faster on %.0f %% of them.",
		b.Name, signedMin(b.Gain), signedMin(b.Interval.Lo), signedMin(b.Interval.Hi), count(res.cmp.Passages, "passage", "passages"), 100*b.Faster)
}

func signedMin(x float64) string {
	s := fmt.Sprintf("%+.1f", x)
	if strings.Trim(s, "+-0.") == "" {
		return "0.0"
	}
	return strings.Replace(s, "-", "−", 1)
}

// short cuts a name to a width.
func short(s string, width int) string {
	r := []rune(s)
	if len(r) <= width {
		return s
	}
	return string(r[:width-1]) + "…"
}

// limitNotes say where a limit of the boat file, not the foil, made the speed.
func (res *refitResult) limitNotes() (out []string) {
	for i := range res.cmp.Variants {
		if c := &res.cmp.Variants[i]; c.Limited >= 0.05 {
			out = append(out, fmt.Sprintf("%s: on %.0f %% of the time with foils out the speed is ruled by limits.max_foil_load_tf = %.3g; a foil of another size may bear another load.",
				c.Name, 100*c.Limited, units.TonnesForce(res.boats[i].Limits.MaxFoilLoadN)))
		}
	}
	return out
}

// rows are the variants as a table.
func (res *refitResult) rows(width int) [][]string {
	var rows [][]string
	for i := range res.cmp.Variants {
		c := &res.cmp.Variants[i]
		rows = append(rows, []string{short(c.Name, width), signedMin(c.Gain), signedMin(c.Interval.Lo) + " to " + signedMin(c.Interval.Hi),
			fmt.Sprintf("%.0f %%", 100*c.Faster), signedMin(c.FoilGain), fmt.Sprintf("%+.0f", c.AddedKg), fmt.Sprintf("%.1f", units.TonnesForce(c.LoadN))})
	}
	return rows
}

var refitHead = []string{"<variant", "gain min", "95 % interval", "faster", "over no foils", "kg", "load tf"}

// printRefit prints the short answer first.
func printRefit(s streams, o *refitOptions, res *refitResult) error {
	if o.json {
		j := res.json()
		if o.out != "" {
			j.Files = refitFiles
		}
		return printJSON(s.out, j)
	}
	w := s.out
	fmt.Fprintf(w, "%s\n", wrap(res.headline(), 78, ""))
	if s.quiet {
		return nil
	}
	fmt.Fprintf(w, "\nBoat   %s\n\n", res.boat.Name)
	table(w, refitHead, res.rows(20))
	fmt.Fprintf(w, "\nWhere it comes from, minutes per passage\n")
	for i := range res.cmp.Variants[1:] {
		c := &res.cmp.Variants[i+1]
		fmt.Fprintf(w, "\n%s\n", wrap(c.Name, 78, "  "))
		for _, it := range c.Ledger {
			fmt.Fprintf(w, "  %8s  %s\n", signedMin(it.GainS), it.Cause)
		}
	}
	if len(res.marginals) > 0 {
		fmt.Fprintf(w, "\nWhat one more unit is worth, minutes per passage\n\n")
		var rows [][]string
		for _, m := range res.marginals {
			rows = append(rows, []string{m.Key, fmt.Sprintf("%g to %g", m.From, m.To), signedMin(m.MinPerUnit), signedMin(m.Interval.Lo) + " to " + signedMin(m.Interval.Hi)})
		}
		table(w, []string{"<key", "from", "per unit", "95 % interval"}, rows)
	}
	if res.samples > 0 {
		fmt.Fprintf(w, "\nHow sure the model is: %d samples of its factors, %s\n\n", res.samples, count(res.cmp.SamplePassages, "passage", "passages"))
		var rows [][]string
		for i := range res.cmp.Variants[1:] {
			c := &res.cmp.Variants[i+1]
			if len(c.Samples) == 0 {
				continue
			}
			most := "–"
			size := 0.0
			for _, e := range c.Effects {
				if x := math.Abs(e.HiMin - e.LowMin); x > size {
					most, size = e.Range.Name, x
				}
			}
			rows = append(rows, []string{short(c.Name, 24), signedMin(c.Model.Median), signedMin(c.Model.P10) + " to " + signedMin(c.Model.P90), fmt.Sprintf("%.0f %%", 100*positive(c.Samples)), most})
		}
		table(w, []string{"<variant", "median", "10 to 90 %", "gains in", "<what it hangs on most"}, rows)
		fmt.Fprintf(w, "\n%s\n", wrap(fmt.Sprintf("The coarser speed tables of the samples change a gain by at most %.1f min.", res.cmp.CoarseErrorMin), 78, ""))
	}
	fmt.Fprintln(w)
	for _, l := range res.leftOut {
		fmt.Fprintf(w, "%s\n", wrap("Left out, for a variant does not arrive: "+l, 78, "  "))
	}
	for _, l := range append(res.limitNotes(), res.warnings...) {
		fmt.Fprintf(w, "%s\n", wrap("Note: "+l, 78, "  "))
	}
	if o.out != "" {
		fmt.Fprintf(w, "Wrote %s to %s\n", strings.Join(refitFiles, ", "), o.out)
	}
	fmt.Fprintf(w, "%s\n", wrap(caution, 78, ""))
	return nil
}

// charts draws the comparison.
func (res *refitResult) charts() ([]plots.Chart, error) {
	bars := &plots.VariantBars{Title: "Gained over the boat as she is", Label: "minutes per passage, with 95 % interval"}
	causes := map[string]bool{}
	for i := range res.cmp.Variants[1:] {
		c := &res.cmp.Variants[i+1]
		bars.Rows = append(bars.Rows, plots.VariantBar{Name: c.Name, Value: c.Gain, Lo: c.Interval.Lo, Hi: c.Interval.Hi})
		for _, it := range c.Ledger {
			causes[it.Cause] = true
		}
	}
	var out []plots.Chart
	add := func(c plots.Chart, err error) error {
		if err == nil {
			out = append(out, c)
		}
		return err
	}
	if err := add(plots.VariantBarsChart("gain", bars)); err != nil {
		return nil, err
	}
	split := &plots.SplitBars{Title: "Where the gain comes from", Label: "minutes per passage"}
	for i := range res.cmp.Variants[1:] {
		c := &res.cmp.Variants[i+1]
		row := plots.SplitRow{Name: c.Name}
		for _, it := range c.Ledger {
			row.Parts = append(row.Parts, plots.SplitPart{Cause: it.Cause, Value: it.GainS})
		}
		split.Rows = append(split.Rows, row)
	}
	if len(causes) > 0 {
		if err := add(plots.SplitBarsChart("causes", split)); err != nil {
			return nil, err
		}
	}
	for _, q := range []struct {
		name, label string
		of          func(*refit.Compared) float64
	}{{"gain-load", "greatest force on a foil (tf), mean over the passages", func(c *refit.Compared) float64 { return units.TonnesForce(c.LoadN) }},
		{"gain-mass", "added mass (kg)", func(c *refit.Compared) float64 { return c.AddedKg }}} {
		var gain, cost []float64
		for i := range res.cmp.Variants {
			gain, cost = append(gain, res.cmp.Variants[i].Gain), append(cost, q.of(&res.cmp.Variants[i]))
		}
		front := refit.Pareto(gain, cost)
		d := &plots.TradeOff{Title: "Gain against " + strings.SplitN(q.label, " (", 2)[0], XLabel: q.label, YLabel: "gained over the boat as she is (min per passage)"}
		for i := range gain {
			d.Points = append(d.Points, plots.TradePoint{Name: res.cmp.Variants[i].Name, X: cost[i], Y: gain[i], Best: front[i]})
		}
		if err := add(plots.TradeOffChart(q.name, d)); err != nil {
			return nil, err
		}
	}
	for i := range res.cmp.Variants[1:] {
		c := &res.cmp.Variants[i+1]
		if len(c.Effects) == 0 {
			continue
		}
		d := &plots.Tornado{Name: fmt.Sprintf("tornado-%d", i+1), Title: "What the gain of " + c.Name + " hangs on", Quantity: "gained over the boat as she is (min per passage)",
			Note: fmt.Sprintf("A straight line through the samples; it explains %.0f %% of their variance.", 100*c.Fit), Mid: c.Centre}
		for _, e := range c.Effects {
			d.Bars = append(d.Bars, plots.TornadoBar{Factor: e.Range.Name, Low: c.Centre + e.LowMin, High: c.Centre + e.HiMin,
				LowWords: fmt.Sprintf("%.2f", e.Range.Low), HighWords: fmt.Sprintf("%.2f", e.Range.High)})
		}
		if err := add(plots.TornadoChart(d)); err != nil {
			return nil, err
		}
	}
	return out, nil
}
