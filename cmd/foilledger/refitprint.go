package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"foilledger/strategy/refit"
	"foilledger/vpp/units"
)

// best is the index of the variant of the greatest gain; 0, the base boat, when
// none gains.
func (res *refitResult) best() int {
	b := 0
	for i := range res.cmp.Variants {
		if res.cmp.Variants[i].Gain > res.cmp.Variants[b].Gain {
			b = i
		}
	}
	return b
}

// called is what a variant is called in a sentence.
func (res *refitResult) called(i int) string {
	v := &res.variants[i-1]
	if words := v.Legend(res.labels[i]); words != "" {
		return fmt.Sprintf("%s (%s)", res.labels[i], words)
	}
	return res.labels[i]
}

func (res *refitResult) headline() string {
	i := res.best()
	if i == 0 {
		return fmt.Sprintf("No variant is faster than the boat as she is, on the mean of %s.", count(res.cmp.Passages, "passage", "passages"))
	}
	b := &res.cmp.Variants[i]
	return fmt.Sprintf("The fastest variant, %s, gains %s min per passage over the boat as she is (%s; %s), and is faster on %.0f %% of them.",
		res.called(i), signedMin(b.Gain), res.sureWords(b), count(res.cmp.Passages, "passage", "passages"), 100*b.Faster)
}

// limitNotes say where a limit of the boat file, not the foil, made the speed:
// one note for each limit, or for all when they are many.
func (res *refitResult) limitNotes() (out []string) {
	type ruled struct {
		names  []string
		lo, hi float64
	}
	var limits []float64
	by := map[float64]*ruled{}
	for i := range res.cmp.Variants {
		c := &res.cmp.Variants[i]
		if c.Limited < 0.05 {
			continue
		}
		l := res.boats[i].Limits.MaxFoilLoadN
		r := by[l]
		if r == nil {
			r = &ruled{lo: c.Limited}
			limits, by[l] = append(limits, l), r
		}
		r.names = append(r.names, fmt.Sprintf("%s (%.0f %%)", res.labels[i], 100*c.Limited))
		r.lo, r.hi = min(r.lo, c.Limited), max(r.hi, c.Limited)
	}
	if len(limits) > 2 {
		all := &ruled{lo: 1}
		for _, r := range by {
			all.names, all.lo, all.hi = append(all.names, r.names...), min(all.lo, r.lo), max(all.hi, r.hi)
		}
		return []string{fmt.Sprintf("limits.max_foil_load_tf, from %.3g to %.3g, rules the speed on %.0f to %.0f %% of the time with foils out with %d of the %d boats; a foil of another size may bear another load.",
			units.TonnesForce(slices.Min(limits)), units.TonnesForce(slices.Max(limits)), 100*all.lo, 100*all.hi, len(all.names), len(res.boats))}
	}
	for _, l := range limits {
		r := by[l]
		who := strings.Join(r.names, ", ")
		if len(r.names) > 4 {
			who = fmt.Sprintf("%.0f to %.0f %% with %d of the %d boats", 100*r.lo, 100*r.hi, len(r.names), len(res.boats))
		}
		out = append(out, fmt.Sprintf("limits.max_foil_load_tf = %.3g rules the speed in a share of the time with foils out: %s; a foil of another size may bear another load.", units.TonnesForce(l), who))
	}
	return out
}

// printRefit prints the short answer first.
func printRefit(s streams, o *refitOptions, res *refitResult) error {
	if o.json {
		j := res.json()
		if o.out != "" {
			j.Files = refitFiles
		}
		return printJSON(s.out, j)
	}
	a := &textAnswer{headline: res.headline(), boat: res.boat.Name, details: res.print, notes: res.notes(), out: o.out, files: refitFiles}
	a.print(s)
	return nil
}

// notes are what to mind.
func (res *refitResult) notes() (out []string) {
	for _, l := range res.leftOut {
		out = append(out, "left out, for a variant does not arrive: "+l)
	}
	return append(append(out, res.limitNotes()...), res.warnings...)
}

// print prints the comparison at length.
func (res *refitResult) print(w io.Writer) {
	table(w, refitHead, res.rows())
	if rows := res.legend(); len(rows) > 0 {
		fmt.Fprintln(w)
		for _, r := range rows {
			fmt.Fprintf(w, "%s\n", wrap(r[0]+": "+r[1], 78, "   "))
		}
	}
	fmt.Fprintf(w, "\n%s\n", wrap(res.intervalWords(), 78, ""))
	if head, rows := res.pairRows(); rows != nil {
		section(w, "Gained, minutes per passage, for every pair", head, rows)
	}
	if rows := res.weights(); rows != nil {
		section(w, "What it weighs", weightHead, rows)
	}
	fmt.Fprintf(w, "\nWhere it comes from, minutes per passage\n")
	for i := range res.variants {
		fmt.Fprintf(w, "\n%s\n", res.labels[i+1])
		for _, r := range causeRows(&res.cmp.Variants[i+1]) {
			fmt.Fprintf(w, "  %8s  %s\n", r[0], r[1])
		}
	}
	if rows := res.marginalRows(); rows != nil {
		section(w, "What one more unit is worth, minutes per passage", marginalHead, rows)
	}
	if rows := res.sampleRows(); rows != nil {
		section(w, fmt.Sprintf("How sure the model is: %d samples of its factors, %s", res.samples, count(res.cmp.SamplePassages, "passage", "passages")), sampleHead, rows)
		fmt.Fprintf(w, "\n%s\n", wrap(res.coarseWords(), 78, ""))
	}
}

// sureWords say how sure a variant's gain is.
func (res *refitResult) sureWords(c *refit.Compared) string {
	switch {
	case res.cmp.Weathers < 2:
		return "one weather, which says nothing of others"
	case len(res.variants) > 1:
		return "95 % interval for all variants at once " + res.interval(c.Joint, 1)
	}
	return "95 % interval " + res.interval(c.Joint, 1)
}

// intervalWords say what the columns are.
func (res *refitResult) intervalWords() string {
	text := "Gain: mean over the passages, of which the variant is faster on the share given; over none: gain over the same passages without foils."
	if res.cmp.Weathers > 1 {
		text += " Jointly: with 95 % confidence the means over all weathers of this kind lie in all these intervals at once, as they must where the best of many variants is looked for; variants.csv holds the narrower interval of each alone too."
	}
	return text
}

// coarseWords say what the samples' tables do.
func (res *refitResult) coarseWords() string {
	if res.cmp.CoarseErrorMin == 0 {
		return "The samples are sailed with full speed tables."
	}
	return "Tables: what full speed tables add to the gain at the published factors, added to every sample; where it is more than half of the gain the samples say nothing. --fine-samples does without."
}
