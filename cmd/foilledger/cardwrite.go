package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"

	"foilledger/plots"
	"foilledger/strategy/rulecard"
	"foilledger/vpp/units"
)

// The files of a card.
const (
	cardRules = "card.toml"
	cardPage  = "card.html"
	cardCurve = "regret.csv"
	cardName  = "card.json"
)

var cardFiles = []string{cardPage, "card-a5.pdf", "card-a4.pdf", cardRules, cardCurve, cardName}

// writeCard fills the output folder and puts it in place.
func writeCard(ctx context.Context, dest *folder, o *cardOptions, res *cardResult) error {
	if err := dest.write(cardRules, func(w io.Writer) error { return res.card.WriteTOML(w, "rule card") }); err != nil {
		return err
	}
	if err := dest.write(cardCurve, func(w io.Writer) error { return writeRegret(w, res) }); err != nil {
		return err
	}
	if err := dest.write(cardName, func(w io.Writer) error {
		j := res.json()
		j.Files = cardFiles
		return printJSON(w, j)
	}); err != nil {
		return err
	}
	d := res.ruleCard()
	var cards []plots.Chart
	for _, p := range []plots.Paper{plots.A5, plots.A4} {
		c, err := plots.CardChart(d, p)
		if err != nil {
			return fmt.Errorf("the card of %d rules: %w", res.chosen, err)
		}
		cards = append(cards, c)
	}
	curve, err := plots.LinesChart("regret", res.curveChart())
	if err != nil {
		return err
	}
	if err := dest.writeChartsAs(cards, "pdf", "png", "svg"); err != nil {
		return err
	}
	if err := dest.writeChartsAs([]plots.Chart{curve}, "svg", "png", "pdf"); err != nil {
		return err
	}
	if err := dest.write(cardPage, func(w io.Writer) error {
		return plots.WriteStudyPage(w, res.page(cards[1], curve))
	}); err != nil {
		return err
	}
	return dest.commit(ctx)
}

// writeChartsAs adds charts in some formats.
func (f *folder) writeChartsAs(charts []plots.Chart, formats ...string) error {
	names, err := plots.WriteFiles(f.temp, charts, formats...)
	for _, n := range names {
		f.names = append(f.names, filepath.Base(n))
	}
	return err
}

func writeRegret(w io.Writer, res *cardResult) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"rules", "fitted_lost_min", "cross_validated_lost_min", "tested_lost_min", "tested_of_gain_percent", "changes", "effort_kj"}); err != nil {
		return err
	}
	f := func(x float64, d int) string { return strconv.FormatFloat(x, 'f', d, 64) }
	for n := range res.steps {
		cross := ""
		if n < len(res.cross) {
			cross = f(res.cross[n]/60, 2)
		}
		t := res.test[n]
		if err := c.Write([]string{strconv.Itoa(n + 1), f(res.train[n].LostS/60, 2), cross, f(t.LostS/60, 2), f(100*t.RegretShare(), 3), f(t.Changes, 2), f(t.EffortJ/1000, 1)}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// curveChart draws what each rule buys.
func (res *cardResult) curveChart() *plots.LineChart {
	d := &plots.LineChart{Title: "What each further rule buys", XLabel: "number of rules", YLabel: "lost against the best possible, % of the time that foils gain", ZeroLine: true}
	fit, test := plots.Line{Name: "fitted to"}, plots.Line{Name: "not fitted to"}
	for n := range res.steps {
		fit.X, fit.Y = append(fit.X, float64(n+1)), append(fit.Y, 100*res.train[n].RegretShare())
		test.X, test.Y = append(test.X, float64(n+1)), append(test.Y, 100*res.test[n].RegretShare())
	}
	d.Lines = []plots.Line{test, fit}
	return d
}

// ruleCard lays the rules out as a table of wind and angle bands.
func (res *cardResult) ruleCard() *plots.RuleCard {
	c := res.card
	t := res.test[res.chosen-1]
	d := &plots.RuleCard{Title: "Foils: in or out", Boat: res.boat.Name, Version: version(), SlowFirst: res.slowFirst(), Notes: res.notes(),
		RegretPercent: 100 * t.LostS / t.PassageS, KeptPercent: 100 * (1 - t.RegretShare()),
		FittedOn: count(res.train[0].Passages, "passage", "passages"), TestedOn: count(t.Passages, "other", "others")}
	edges := func(of func(r *rulecard.Rule) rulecard.Span, unit func(float64) float64, end float64) []float64 {
		var out []float64
		for i := range c.Rules {
			s := of(&c.Rules[i])
			for _, x := range []float64{s.From, s.To} {
				out = append(out, upTo(unit(x), end))
			}
		}
		slices.Sort(out)
		return slices.Compact(out)
	}
	tws := edges(func(r *rulecard.Rule) rulecard.Span { return r.TWSMS }, units.Knots, endKn)
	twa := edges(func(r *rulecard.Rule) rulecard.Span { return r.TWARad }, units.Deg, endDeg)
	for i := 1; i < len(tws); i++ {
		d.TWSBandsKn = append(d.TWSBandsKn, plots.Band{From: tws[i-1], To: tws[i]})
	}
	for j := 1; j < len(twa); j++ {
		d.TWABandsDeg = append(d.TWABandsDeg, plots.Band{From: twa[j-1], To: twa[j]})
	}
	// Rules that differ only in the sea share their boxes.
	number := map[[4]float64]int{}
	for _, b := range d.TWSBandsKn {
		row := make([]plots.RuleCell, len(d.TWABandsDeg))
		for j, a := range d.TWABandsDeg {
			x, y := units.MS((b.From+b.To)/2), units.Rad((a.From+a.To)/2)
			for k, r := range res.boxes {
				if x < r.TWSMS.From || x >= r.TWSMS.To || y < r.TWARad.From || y >= r.TWARad.To {
					continue
				}
				key := [4]float64{r.TWSMS.From, r.TWSMS.To, r.TWARad.From, r.TWARad.To}
				if number[key] == 0 {
					number[key] = k + 1
				}
				row[j].Box = number[key]
				if r.HsM.From > 0 {
					row[j].Sea = &plots.SeaAdvice{AboveM: r.HsM.From, CardAdvice: res.cardAdvice(&r.Rule)}
					continue
				}
				row[j].CardAdvice = res.cardAdvice(&r.Rule)
				if row[j].Out && !math.IsInf(r.BreakEvenS, 1) {
					row[j].BreakEvenMin = math.Round(r.BreakEvenS / 60)
				}
			}
		}
		d.Cells = append(d.Cells, row)
	}
	return d
}

// cardAdvice is a rule's advice as it is drawn.
func (res *cardResult) cardAdvice(r *rulecard.Rule) plots.CardAdvice {
	near, far := res.settings[r.Setting], res.settings[r.Far]
	_, _, each := r.Taper()
	out := near.Extension > 0
	a := plots.CardAdvice{Out: out, Both: out && r.Both, Leave: !out && r.Both, Extension: near.Extension,
		RakeDeg: round2(units.Deg(near.RakeRad)), RakeFarDeg: round2(units.Deg(far.RakeRad))}
	if r.ByWind {
		a.EachKn = units.Knots(each)
	} else {
		a.EachDeg = math.Round(units.Deg(each))
	}
	return a
}

func round2(x float64) float64 { return math.Round(x*100) / 100 }

// page is the self-contained page of the card.
func (res *cardResult) page(card, curve plots.Chart) *plots.StudyPage {
	p := &plots.StudyPage{Title: "Rule card", Subtitle: res.boat.Name, Headline: res.headline(), KeyNumbers: res.keyNumbers(), Version: version(), Warnings: append(append([]string{}, res.left...), res.warnings...)}
	p.Sections = append(p.Sections, plots.StudySection{Title: "The card", Print: true, Charts: []plots.Chart{card},
		Text: []string{"Print card-a5.pdf or card-a4.pdf; they are black and white."}})
	var rows [][]string
	for i, b := range res.boxes {
		rows = append(rows, []string{fmt.Sprint(i + 1), spanWords(b.TWSMS, units.Knots, endKn), spanWords(b.TWARad, units.Deg, endDeg), spanWords(b.HsM, same, endHsM),
			res.adviceWords(&b.Rule), evenWords(b.BreakEvenS), fmt.Sprintf("%.0f %%", 100*b.Share)})
	}
	p.Sections = append(p.Sections, plots.StudySection{Title: "The rules", Table: &plots.PageTable{
		Head: []string{"rule", "true wind (kn)", "true wind angle (°)", "sea (m)", "foils", "pays after", "share of time"}, Rows: rows},
		Text: append(res.slowFirst(), res.notes()...)})
	rows = nil
	for n := range res.steps {
		cross := "–"
		if n < len(res.cross) {
			cross = fmt.Sprintf("%.1f", res.cross[n]/60)
		}
		t := res.test[n]
		rows = append(rows, []string{fmt.Sprint(n + 1), fmt.Sprintf("%.1f", res.train[n].LostS/60), cross, fmt.Sprintf("%.1f", t.LostS/60), fmt.Sprintf("%.2f %%", 100*t.RegretShare()), fmt.Sprintf("%.1f", t.Changes)})
	}
	p.Sections = append(p.Sections, plots.StudySection{Title: "What each further rule buys", Charts: []plots.Chart{curve},
		Table: &plots.PageTable{Head: []string{"rules", "fitted (min lost)", "cross-validated", "tested", "of gain", "changes"}, Rows: rows},
		Text:  []string{"Minutes lost per passage against the exact plan, which knows the weather that comes. Tested: in weather that the cards were not fitted to."}})
	p.Sections = append(p.Sections, plots.StudySection{Title: "Where the card loses time", Text: []string{res.reach()},
		Table: &plots.PageTable{Head: []string{"cause", "minutes per passage", "of what foils gain"}, Rows: res.causeRows()}},
		plots.StudySection{Title: "Where it loses most", Table: &plots.PageTable{Head: []string{"passage", "minutes lost", "of what foils gain"}, Rows: res.worst(10)}})
	p.Inputs = pageInputs(res.inputs)
	return p
}
