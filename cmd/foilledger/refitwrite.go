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
	if err := dest.writeChartsAs(charts.all(), "svg", "png", "pdf"); err != nil {
		return err
	}
	return dest.commit(ctx)
}

func writeVariants(w io.Writer, res *refitResult) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"variant", "gain_min", "gain_lo_min", "gain_hi_min", "gain_median_min", "gain_p10_min", "gain_p90_min", "faster_share",
		"gain_over_never_out_min", "gain_over_no_foils_min", "added_mass_kg", "foil_load_tf", "foil_changes", "effort_kj", "model_p10_min", "model_p90_min", "short", "foil_mass_kg", "displacement_kg", "metacentric_height_m", "righting_moment_10_deg_kn_m", "gain_joint_lo_min", "gain_joint_hi_min"}); err != nil {
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
			f(v.OwnGain), f(v.FoilGain), f(v.AddedKg), f(units.TonnesForce(v.LoadN)), f(v.Changes), f(v.EffortJ / 1000), lo, hi,
			res.labels[i], f(foilKg(res.boats[i])), f(res.boats[i].Hull.DisplacementKg), f(res.boats[i].Hull.GMM), f(rightingKNM(res.boats[i])), f(v.Joint.Lo), f(v.Joint.Hi)}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// writeGains writes the gain of every variant on every passage that counts;
// passages are numbered with those left out.
func writeGains(w io.Writer, res *refitResult) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"passage", "variant", "gain_min"}); err != nil {
		return err
	}
	for i := range res.cmp.Variants {
		v := &res.cmp.Variants[i]
		for k, g := range v.Gains() {
			if err := c.Write([]string{strconv.Itoa(res.cmp.Counted[k] + 1), v.Name, strconv.FormatFloat(g, 'f', 3, 64)}); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// page is the self-contained page of the comparison.
func (res *refitResult) page(charts *refitCharts) *plots.StudyPage {
	p := &plots.StudyPage{Title: "Variants compared", Subtitle: res.boat.Name, Headline: res.headline(), KeyNumbers: res.keyNumbers(), Version: version(), Warnings: res.notes(), Inputs: pageInputs(res.inputs)}
	p.Assumptions = []string{
		"Every variant sails by its own exact plan, which knows the weather that comes; all meet the same weather.",
		"A foil's mass follows its area and span, and the load that it bears its area, where the variant does not give them; displacement, draft, freeboard and stability follow the mass. The boat is trimmed as before.",
		"The other limits and the handling of the boat file stay as they are where the variant does not change them.",
	}
	add := func(title string, charts []plots.Chart, head []string, rows [][]string, text ...string) {
		s := plots.StudySection{Title: title, Charts: charts, Text: text}
		if len(rows) > 0 {
			s.Table = &plots.PageTable{Head: head, Rows: rows}
		}
		if len(charts)+len(rows) > 0 {
			p.Sections = append(p.Sections, s)
		}
	}
	add("Gained per passage", charts.gain, refitHead, res.rows(), res.intervalWords())
	add("What the names stand for", nil, []string{"<variant", "<changes"}, res.legend())
	head, rows := res.pairRows()
	add("Gained, minutes per passage, for every pair", charts.pairs, head, rows)
	head, rows = res.causeTable()
	add("Where it comes from, minutes per passage", charts.causes, head, rows)
	add("What one more unit is worth", charts.along, marginalHead, res.marginalRows())
	add("What it costs", charts.costs, weightHead, res.weights())
	add("How sure the model is", charts.sure, sampleHead, res.sampleRows(),
		fmt.Sprintf("%d samples of the model's uncertain factors, the same for all variants, over %s. %s", res.samples, count(res.cmp.SamplePassages, "passage", "passages"), res.coarseWords()))
	return p
}
