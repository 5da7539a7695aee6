package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"

	"foilledger/plots"
	"foilledger/vpp/units"
)

var refitFiles = []string{"refit.html", "variants.csv", "passages.csv", "refit.json"}

// writeRefit fills the output folder and puts it in place.
func writeRefit(ctx context.Context, dest *folder, res *refitResult) error {
	charts, err := res.charts()
	if err != nil {
		return err
	}
	if err := dest.write("refit.html", func(w io.Writer) error { return plots.WriteStudyPage(w, res.page(charts)) }); err != nil {
		return err
	}
	if err := dest.write("variants.csv", func(w io.Writer) error { return writeVariants(w, res) }); err != nil {
		return err
	}
	if err := dest.write("passages.csv", func(w io.Writer) error { return writeGains(w, res) }); err != nil {
		return err
	}
	if err := dest.write("refit.json", func(w io.Writer) error {
		j := res.json()
		j.Files = refitFiles
		return printJSON(w, j)
	}); err != nil {
		return err
	}
	if err := dest.writeChartsAs(charts, "svg", "png", "pdf"); err != nil {
		return err
	}
	return dest.commit(ctx)
}

func writeVariants(w io.Writer, res *refitResult) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"variant", "gain_min", "gain_lo_min", "gain_hi_min", "gain_median_min", "gain_p10_min", "gain_p90_min", "faster_share",
		"gain_over_never_out_min", "gain_over_no_foils_min", "added_mass_kg", "foil_load_tf", "foil_changes", "effort_kj", "model_p10_min", "model_p90_min"}); err != nil {
		return err
	}
	f := func(x float64) string { return strconv.FormatFloat(x, 'f', 3, 64) }
	for i := range res.cmp.Variants {
		v := &res.cmp.Variants[i]
		lo, hi := "", ""
		if len(v.Samples) > 0 {
			lo, hi = f(v.Model.P10), f(v.Model.P90)
		}
		if err := c.Write([]string{v.Name, f(v.Gain), f(v.Interval.Lo), f(v.Interval.Hi), f(v.Spread.Median), f(v.Spread.P10), f(v.Spread.P90), f(v.Faster),
			f(v.OwnGain), f(v.FoilGain), f(v.AddedKg), f(units.TonnesForce(v.LoadN)), f(v.Changes), f(v.EffortJ / 1000), lo, hi}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// writeGains writes the gain of every variant on every passage that counts.
func writeGains(w io.Writer, res *refitResult) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"passage", "variant", "gain_min"}); err != nil {
		return err
	}
	for i := range res.cmp.Variants {
		v := &res.cmp.Variants[i]
		for k, g := range v.Gains() {
			if err := c.Write([]string{strconv.Itoa(k + 1), v.Name, strconv.FormatFloat(g, 'f', 3, 64)}); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// page is the self-contained page of the comparison.
func (res *refitResult) page(charts []plots.Chart) *plots.StudyPage {
	p := &plots.StudyPage{Title: "Variants compared", Subtitle: res.boat.Name, Headline: res.headline(), Version: version(), Warnings: append(res.limitNotes(), res.warnings...)}
	for _, l := range res.leftOut {
		p.Warnings = append(p.Warnings, "Left out, for a variant does not arrive: "+l)
	}
	p.Assumptions = []string{
		"Every variant sails by its own exact plan, which knows the weather that comes; all meet the same weather.",
		"A foil's mass follows its area and span where the variant does not give it; displacement, draft, freeboard and stability follow the mass.",
		"The limits and the handling of the boat file stay as they are where the variant does not change them.",
	}
	head := append([]string{"variant"}, refitHead[1:]...)
	p.Sections = append(p.Sections, plots.StudySection{Title: "Gained per passage", Charts: charts[:1], Table: &plots.StudyTable{Head: head, Rows: res.rows(80)}})
	var causes [][]string
	for i := range res.cmp.Variants[1:] {
		c := &res.cmp.Variants[i+1]
		for _, it := range c.Ledger {
			causes = append(causes, []string{c.Name, it.Cause, signedMin(it.GainS)})
		}
	}
	rest := charts[1:]
	if len(causes) > 0 {
		p.Sections = append(p.Sections, plots.StudySection{Title: "Where it comes from", Charts: rest[:1],
			Table: &plots.StudyTable{Head: []string{"variant", "cause", "minutes per passage"}, Rows: causes}})
		rest = rest[1:]
	}
	if len(res.marginals) > 0 {
		var rows [][]string
		for _, m := range res.marginals {
			rows = append(rows, []string{m.Key, fmt.Sprintf("%g to %g", m.From, m.To), signedMin(m.MinPerUnit), signedMin(m.Interval.Lo) + " to " + signedMin(m.Interval.Hi)})
		}
		p.Sections = append(p.Sections, plots.StudySection{Title: "What one more unit is worth",
			Table: &plots.StudyTable{Head: []string{"key", "between", "minutes per unit", "95 % interval"}, Rows: rows}})
	}
	p.Sections = append(p.Sections, plots.StudySection{Title: "What it costs", Charts: rest[:2]})
	if rest = rest[2:]; len(rest) > 0 {
		p.Sections = append(p.Sections, plots.StudySection{Title: "How sure the model is", Charts: rest,
			Text: []string{fmt.Sprintf("%d samples of the model's uncertain factors, the same for all variants, over %s. The coarser speed tables of the samples change a gain by at most %.1f min.",
				res.samples, count(res.cmp.SamplePassages, "passage", "passages"), res.cmp.CoarseErrorMin)}})
	}
	for _, in := range res.inputs {
		p.Inputs = append(p.Inputs, plots.Input{File: in.File, SHA256: in.SHA256})
	}
	return p
}
