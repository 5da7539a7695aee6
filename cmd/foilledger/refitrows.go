package main

import (
	"fmt"
	"math"
	"strings"

	"foilledger/strategy/refit"
	"foilledger/strategy/trial"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// The tables of a comparison, for terminal and page alike.

var refitHead = []string{"<variant", "gain min", "95 %, jointly", "faster", "over none", "kg", "load tf"}

// rows are the variants as a table.
func (res *refitResult) rows() (rows [][]string) {
	for i := range res.cmp.Variants {
		c := &res.cmp.Variants[i]
		rows = append(rows, []string{res.labels[i], signedMin(c.Gain), res.interval(c.Joint, 1),
			fmt.Sprintf("%.0f %%", 100*c.Faster), signedMin(c.FoilGain), signed(c.AddedKg, 0), fmt.Sprintf("%.1f", units.TonnesForce(c.LoadN))})
	}
	return rows
}

// legend says what the short names stand for, where they do not say it.
func (res *refitResult) legend() (rows [][]string) {
	for i := range res.variants {
		v := &res.variants[i]
		if words := v.Legend(res.labels[i+1]); words != "" && !v.Sweeps(res.swept) {
			rows = append(rows, []string{res.labels[i+1], words})
		}
	}
	return rows
}

var weightHead = []string{"<variant", "foil kg", "displacement kg", "draft m", "GM m", "righting kN·m at 10°"}

// weights are what a foil's mass does to the boat; none when no mass changes.
func (res *refitResult) weights() (rows [][]string) {
	changed := false
	for i, b := range res.boats {
		changed = changed || res.cmp.Variants[i].AddedKg != 0
		rows = append(rows, []string{res.labels[i], fmt.Sprintf("%.0f", foilKg(b)), fmt.Sprintf("%.0f", b.Hull.DisplacementKg), fmt.Sprintf("%.3f", b.Hull.DraftM),
			fmt.Sprintf("%.3f", b.Hull.GMM), fmt.Sprintf("%.2f", rightingKNM(b))})
	}
	if !changed {
		return nil
	}
	return rows
}

// foilKg is the mass of each foil.
func foilKg(b *vpp.Boat) float64 {
	if b.Foils == nil {
		return 0
	}
	return b.Foils.MassKg
}

// rightingKNM is the righting moment at 10° of heel by the metacentric height,
// keel centred and foils in.
func rightingKNM(b *vpp.Boat) float64 {
	return b.Hull.DisplacementKg * units.G * b.Hull.GMM * math.Sin(units.Rad(10)) / 1000
}

var marginalHead = []string{"<dimension", "from", "min per unit", "95 %, jointly", "<unit"}

// marginalRows are what one more unit is worth.
func (res *refitResult) marginalRows() (rows [][]string) {
	size := map[string]float64{} // by key, so that its values show the same decimals
	for i := range res.marginals {
		m := &res.marginals[i]
		size[m.Key] = max(size[m.Key], math.Abs(m.MinPerUnit), math.Abs(m.Joint.Lo), math.Abs(m.Joint.Hi))
	}
	for i := range res.marginals {
		m := &res.marginals[i]
		words, unit := refit.KeyWords(m.Key)
		if m.At != "" {
			words += " at " + m.At
		}
		if unit == "" {
			unit = "1"
		}
		d := decimals(size[m.Key])
		rows = append(rows, []string{words, fmt.Sprintf("%g to %g", m.From, m.To), signed(m.MinPerUnit, d), res.interval(m.Joint, d), unit})
	}
	return rows
}

// pairGains are the gains of every pair of two sweeps: a row for each value of
// the first, a column for each of the second.
type pairGains struct {
	rowWords, columnWords string // with units
	rows, columns         []string
	gain                  [][]float64 // minutes per passage
}

// pairs returns the gains of every pair; nil when there are not two sweeps.
func (res *refitResult) pairs() *pairGains {
	if len(res.swept) != 2 {
		return nil
	}
	g := &pairGains{rowWords: axisWords(refit.KeyWords(res.swept[0])), columnWords: axisWords(refit.KeyWords(res.swept[1]))}
	at := map[string]int{}
	for i := range res.variants {
		v := &res.variants[i]
		if !v.Sweeps(res.swept) {
			continue
		}
		row, column := refit.ValueWords("", v.Changes[0].Value), refit.ValueWords("", v.Changes[1].Value)
		k, ok := at[row]
		if !ok {
			k = len(g.rows)
			at[row] = k
			g.rows, g.gain = append(g.rows, row), append(g.gain, nil)
		}
		if k == 0 {
			g.columns = append(g.columns, column)
		}
		g.gain[k] = append(g.gain[k], res.cmp.Variants[i+1].Gain)
	}
	return g
}

// pairRows are the pairs as a table.
func (res *refitResult) pairRows() (head []string, rows [][]string) {
	g := res.pairs()
	if g == nil {
		return nil, nil
	}
	head = append([]string{"<" + g.rowWords + " / " + g.columnWords}, g.columns...)
	for i, r := range g.rows {
		row := []string{r}
		for _, x := range g.gain[i] {
			row = append(row, signedMin(x))
		}
		rows = append(rows, row)
	}
	return head, rows
}

var sampleHead = []string{"<variant", "median", "10 to 90 %", "gains in", "tables", "<what it hangs on most"}

// sampleRows say how the gains spread over the samples of the model's factors.
func (res *refitResult) sampleRows() (rows [][]string) {
	for i := range res.variants {
		c := &res.cmp.Variants[i+1]
		if len(c.Samples) == 0 {
			continue
		}
		most, size := "–", 0.0
		for _, e := range c.Effects {
			if x := math.Abs(e.HiMin - e.LowMin); x > size {
				most, size = e.Range.Name, x
			}
		}
		gains := fmt.Sprintf("%.0f %%", 100*positive(c.Samples))
		if c.TooCoarse() {
			gains, most = "–", "tables too coarse to tell"
		}
		rows = append(rows, []string{res.labels[i+1], signedMin(c.Model.Median), spanMin(c.Model.P10, c.Model.P90), gains, signedMin(c.Shift), most})
	}
	return rows
}

// causeRows are the causes of a variant's gain that show in tenths of a minute;
// what the others come to stands in one row.
func causeRows(c *refit.Compared) (rows [][]string) {
	rest := 0.0
	for _, it := range c.Ledger {
		if math.Abs(it.GainS) < 0.05 {
			rest += it.GainS
			continue
		}
		rows = append(rows, []string{signedMin(it.GainS), it.Cause})
	}
	switch {
	case len(rows) == 0:
		rows = append(rows, []string{signedMin(rest), "nothing that shows"})
	case math.Abs(rest) >= 0.05:
		rows = append(rows, []string{signedMin(rest), "smaller ones together"})
	}
	return rows
}

// widestTable is the largest number of variants side by side.
const widestTable = 7

// causeTable sets the causes against the variants: the variants side by side, or
// below each other when they are many. nil when nothing has a cause.
func (res *refitResult) causeTable() (head []string, rows [][]string) {
	at := map[string]int{}
	var causes []string
	for i := range res.variants {
		for _, it := range res.cmp.Variants[i+1].Ledger {
			if _, ok := at[it.Cause]; !ok {
				at[it.Cause] = len(causes)
				causes = append(causes, it.Cause)
			}
		}
	}
	if len(causes) == 0 {
		return nil, nil
	}
	cells := make([][]string, len(causes)) // by cause and variant
	head = []string{"<cause"}
	for k := range cells {
		cells[k] = make([]string, len(res.variants))
		for i := range cells[k] {
			cells[k][i] = signedMin(0)
		}
	}
	for i := range res.variants {
		for _, it := range res.cmp.Variants[i+1].Ledger {
			cells[at[it.Cause]][i] = signedMin(it.GainS)
		}
	}
	if len(res.variants) <= widestTable {
		head = append(head, res.labels[1:]...)
		for k, c := range causes {
			rows = append(rows, append([]string{c}, cells[k]...))
		}
		return head, rows
	}
	head = append([]string{"<variant"}, causes...)
	for i := range res.variants {
		row := []string{res.labels[i+1]}
		for k := range causes {
			row = append(row, cells[k][i])
		}
		rows = append(rows, row)
	}
	return head, rows
}

// interval writes an interval; of a single weather there is none.
func (res *refitResult) interval(iv trial.Interval, decimals int) string {
	if res.cmp.Weathers < 2 {
		return "–"
	}
	return signed(iv.Lo, decimals) + " to " + signed(iv.Hi, decimals)
}

// signedMin writes minutes with their sign.
func signedMin(x float64) string { return signed(x, 1) }

func spanMin(lo, hi float64) string { return signedMin(lo) + " to " + signedMin(hi) }

// signed writes a number with its sign; zero has none.
func signed(x float64, decimals int) string {
	s := fmt.Sprintf("%+.*f", decimals, x)
	if strings.Trim(s, "+-0.") == "" {
		return s[1:]
	}
	return strings.Replace(s, "-", "−", 1)
}

// decimals that show two digits of numbers up to size.
func decimals(size float64) int {
	if !(size > 0) {
		return 1
	}
	return int(min(max(1-math.Floor(math.Log10(size)), 1), 6))
}
