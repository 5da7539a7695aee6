package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"foilledger/strategy"
	"foilledger/strategy/rulecard"
	"foilledger/vpp/units"
)

// cardJSON is the result of card as one object.
type cardJSON struct {
	Boat     string         `json:"boat"`
	Rules    []cardRuleJSON `json:"rules"`
	Margins  cardMargins    `json:"margins"`
	Regret   cardRegret     `json:"regret"`
	Present  float64        `json:"present_alone_of_gain_percent"` // what the present alone allows, lost
	Causes   []cardCause    `json:"lost_by_cause"`
	Curve    []cardPoint    `json:"regret_by_rules"`
	Handling []cardHandling `json:"handling"`
	Passages []cardPassage  `json:"passages"`
	Weathers int            `json:"weathers"`
	Fitted   int            `json:"passages_fitted"`
	Tested   int            `json:"passages_tested"`
	LeftOut  []string       `json:"passages_left_out"`
	Files    []string       `json:"files,omitempty"`
	Warnings []string       `json:"warnings"`
	Inputs   []input        `json:"inputs"`
	Version  string         `json:"version"`
}

type cardRuleJSON struct {
	TWSKn        [2]float64 `json:"tws_kn"`
	TWADeg       [2]float64 `json:"twa_deg"`
	HsM          [2]float64 `json:"hs_m"`
	Foils        string     `json:"foils"` // in, leeward in, leeward out, both out
	Extension    float64    `json:"extension"`
	RakeDeg      float64    `json:"rake_deg"`     // at the lower angle, or in the least wind
	RakeFarDeg   float64    `json:"rake_far_deg"` // at the other end, by equal steps
	RakeBy       string     `json:"rake_by"`      // angle, wind
	TimeShare    float64    `json:"time_share"`
	BreakEvenMin float64    `json:"break_even_min"` // −1: never pays; 0: not met
}

type cardMargins struct {
	TWSKn      float64 `json:"tws_kn"`
	TWADeg     float64 `json:"twa_deg"`
	HsM        float64 `json:"hs_m"`
	HoldMin    float64 `json:"hold_min"`
	LimitTWSKn float64 `json:"limit_tws_kn"`
	LimitHsM   float64 `json:"limit_hs_m"`
}

// cardRegret is what following the card costs on the passages not fitted to.
type cardRegret struct {
	LostMin         float64    `json:"lost_min"`
	LostIntervalMin [2]float64 `json:"lost_interval_min"`
	CeilingGainMin  float64    `json:"ceiling_gain_min"`
	OfGainPercent   float64    `json:"of_gain_percent"`
	OfGainInterval  [2]float64 `json:"of_gain_interval_percent"`
	OfTimePercent   float64    `json:"of_passage_time_percent"`
	Changes         float64    `json:"changes"`
	EffortKJ        float64    `json:"effort_kj"`
	Stuck           int        `json:"stuck"`
}

// cardCause is a part of the mean time lost on the passages not fitted to.
type cardCause struct {
	Cause   string  `json:"cause"`
	LostMin float64 `json:"lost_min"`
}

type cardPoint struct {
	Rules             int     `json:"rules"`
	FittedLostMin     float64 `json:"fitted_lost_min"`
	CrossLostMin      float64 `json:"cross_validated_lost_min,omitempty"`
	TestedLostMin     float64 `json:"tested_lost_min"`
	TestedGainPercent float64 `json:"tested_of_gain_percent"`
	Changes           float64 `json:"changes"`
}

// cardPassage is one passage that the card was not fitted to.
type cardPassage struct {
	Name    string  `json:"name"`
	Arrived bool    `json:"arrived"`
	LostMin float64 `json:"lost_min"`
	GainMin float64 `json:"ceiling_gain_min"`
	TimeH   float64 `json:"best_passage_time_h"`
	Changes int     `json:"changes"`
	HeldMin float64 `json:"held_min"`
}

type cardHandling struct {
	Action    string  `json:"action"`
	Count     int     `json:"count"`
	Slowed    int     `json:"slowed"`
	CeilingKn float64 `json:"ceiling_kn"`
	LostS     float64 `json:"lost_s"`
	How       string  `json:"how,omitempty"`
}

// upTo is the end of a span in the unit of its axis, for people.
func upTo(x, end float64) float64 {
	if math.IsInf(x, 1) || x > end {
		return end
	}
	return math.Round(x*100) / 100
}

// The ends of open spans.
const (
	endKn  = 99.0
	endDeg = 180.0
	endHsM = 99.0
)

func foilsOf(c *rulecard.Card, a rulecard.Advice) string {
	switch {
	case c.Settings[a.Setting].Extension == 0 && a.Both:
		return "leeward in"
	case c.Settings[a.Setting].Extension == 0:
		return "in"
	case a.Both:
		return "both out"
	}
	return "leeward out"
}

func (res *cardResult) json() *cardJSON {
	c := res.card
	t := res.test[res.chosen-1]
	j := &cardJSON{Boat: res.boat.Name, Weathers: res.weathers, Fitted: res.train[0].Passages, Tested: t.Passages, LeftOut: append([]string{}, res.left...),
		Warnings: append([]string{}, res.warnings...), Inputs: res.inputs, Version: version(), Handling: []cardHandling{}}
	j.Margins = cardMargins{units.Knots(c.TWSMarginMS), units.Deg(c.TWAMarginRad), c.HsMarginM, c.HoldS / 60, units.Knots(c.LimitMarginMS), c.LimitMarginHsM}
	j.Regret = cardRegret{t.LostS / 60, [2]float64{res.lost.Lo / 60, res.lost.Hi / 60}, t.GainS / 60, 100 * t.RegretShare(), [2]float64{100 * res.share.Lo, 100 * res.share.Hi}, 100 * t.LostS / t.PassageS, t.Changes, t.EffortJ / 1000, t.Stuck}
	for _, b := range res.boxes {
		s := c.Settings[b.Setting]
		even := b.BreakEvenS / 60
		if math.IsInf(even, 1) {
			even = -1
		}
		j.Rules = append(j.Rules, cardRuleJSON{
			TWSKn:  [2]float64{upTo(units.Knots(b.TWSMS.From), endKn), upTo(units.Knots(b.TWSMS.To), endKn)},
			TWADeg: [2]float64{upTo(units.Deg(b.TWARad.From), endDeg), upTo(units.Deg(b.TWARad.To), endDeg)},
			HsM:    [2]float64{b.HsM.From, upTo(b.HsM.To, endHsM)},
			Foils:  foilsOf(c, b.Advice), Extension: s.Extension, RakeDeg: units.Deg(s.RakeRad), RakeFarDeg: units.Deg(c.Settings[b.Far].RakeRad), RakeBy: b.By(), TimeShare: b.Share, BreakEvenMin: even})
	}
	j.Present = 100 * res.present.RegretShare()
	for _, c := range rulecard.Causes {
		j.Causes = append(j.Causes, cardCause{string(c), res.causes[c] / 60})
	}
	for n := range res.steps {
		p := cardPoint{Rules: n + 1, FittedLostMin: res.train[n].LostS / 60, TestedLostMin: res.test[n].LostS / 60,
			TestedGainPercent: 100 * res.test[n].RegretShare(), Changes: res.test[n].Changes}
		if n < len(res.cross) {
			p.CrossLostMin = res.cross[n] / 60
		}
		j.Curve = append(j.Curve, p)
	}
	for i := range res.tested {
		f := &res.tested[i]
		j.Passages = append(j.Passages, cardPassage{f.Name, f.Arrived, f.LostS() / 60, (f.NeverS - f.BestS) / 60, f.BestS / units.SPerHour, f.Changes, f.HeldS / 60})
	}
	for _, h := range res.handled {
		j.Handling = append(j.Handling, cardHandling{h.Kind.String(), h.Count, h.Slowed, units.Knots(h.CeilingMS), h.LostS, h.How})
	}
	return j
}

// headline is the answer in words.
func (res *cardResult) headline() string {
	t := res.test[res.chosen-1]
	return fmt.Sprintf("A card of %s. On %d passages in weather that it was not fitted to it keeps %.1f %% (95 %% interval %.1f to %.1f) of the %s that foils can gain there: following it costs %.0f min (%.0f to %.0f) or %.2f %% of the passage time against the best possible.",
		count(len(res.card.Rules), "rule", "rules"), t.Passages, 100*(1-t.RegretShare()), 100*(1-res.share.Hi), 100*(1-res.share.Lo), hoursMinutes(t.GainS), t.LostS/60, res.lost.Lo/60, res.lost.Hi/60, 100*t.LostS/t.PassageS)
}

// targetPercent is how much of what foils can gain a card should keep.
const targetPercent = 98

// reach says how much a card could keep, and why this one keeps less.
func (res *cardResult) reach() string {
	t, p := res.test[res.chosen-1], res.present
	kept, most := 100*(1-t.RegretShare()), 100*(1-p.RegretShare())
	w := fmt.Sprintf("A sailor who knows all speeds and prices but no forecast keeps %.1f %%: foresight is worth the last %.1f %%, and", most, 100-most)
	if kept >= targetPercent {
		return w + fmt.Sprintf(" so few rules cost %.1f %%. The aim of %d %% is reached.", most-kept, targetPercent)
	}
	return w + fmt.Sprintf(" so few rules cost %.1f %%. The aim of %d %% is missed by %.1f %%.", most-kept, targetPercent, targetPercent-kept)
}

// causeRows are the parts of the time lost that are worth a line.
func (res *cardResult) causeRows() (rows [][]string) {
	gain := res.test[res.chosen-1].GainS
	for _, c := range rulecard.Causes {
		rows = append(rows, []string{string(c), fmt.Sprintf("%.1f", res.causes[c]/60), fmt.Sprintf("%.2f %%", 100*res.causes[c]/gain)})
	}
	return rows
}

// worst lists the passages on which the card loses most.
func (res *cardResult) worst(n int) (rows [][]string) {
	fs := slices.Clone(res.tested)
	slices.SortStableFunc(fs, func(a, b rulecard.Followed) int { return cmp.Compare(b.LostS(), a.LostS()) })
	for _, f := range fs[:min(n, len(fs))] {
		lost := fmt.Sprintf("%.0f", f.LostS()/60)
		if !f.Arrived {
			lost = "does not arrive"
		}
		rows = append(rows, []string{f.Name, lost, hoursMinutes(f.NeverS - f.BestS)})
	}
	return rows
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// spanWords writes a span of an axis: "13–18", "18 and more", "all".
func spanWords(s rulecard.Span, unit func(float64) float64, end float64) string {
	from, to := math.Round(unit(s.From)*100)/100, upTo(unit(s.To), end)
	switch {
	case from == 0 && to == end:
		return "all"
	case to == end:
		return fmt.Sprintf("%g +", from)
	}
	return fmt.Sprintf("%g–%g", from, to)
}

func same(x float64) float64 { return x }

// adviceWords is a rule's advice in words.
func (res *cardResult) adviceWords(r *rulecard.Rule) string {
	w := foilsOf(res.card, r.Advice)
	s := res.settings[r.Setting]
	if s.Extension == 0 {
		return w
	}
	if s.Extension < 0.99 {
		w += fmt.Sprintf(" %.0f %%", 100*s.Extension)
	}
	w += fmt.Sprintf(", rake %.3g", units.Deg(s.RakeRad))
	if _, _, each := r.Taper(); each > 0 {
		w += fmt.Sprintf("…%.3g°", units.Deg(res.settings[r.Far].RakeRad))
		if r.ByWind {
			return w + fmt.Sprintf(" by %.2g kn", units.Knots(each))
		}
		return w + fmt.Sprintf(" by %.0f°", units.Deg(each))
	}
	return w + "°"
}

func evenWords(s float64) string {
	switch {
	case s == 0:
		return "–"
	case math.IsInf(s, 1):
		return "never"
	}
	return hoursMinutes(s)
}

// notes are the rules of the card that are not boxes.
func (res *cardResult) notes() []string {
	c := res.card
	var out, beyond []string
	if c.TWSMarginMS > 0 {
		beyond = append(beyond, fmt.Sprintf("wind by %.0f kn", units.Knots(c.TWSMarginMS)))
	}
	if c.TWAMarginRad > 0 {
		beyond = append(beyond, fmt.Sprintf("angle by %.0f°", units.Deg(c.TWAMarginRad)))
	}
	if c.HsMarginM > 0 && slices.ContainsFunc(c.Rules, func(r rulecard.Rule) bool { return r.HsM.From > 0 }) {
		beyond = append(beyond, fmt.Sprintf("sea by %g m", c.HsMarginM))
	}
	if len(beyond) > 0 {
		out = append(out, "Change only when clear of the box: "+strings.Join(beyond, ", ")+".")
	}
	if c.HoldS > 0 {
		out = append(out, fmt.Sprintf("No change within %.0f min of the last.", c.HoldS/60))
	}
	l := res.boat.Limits
	return append(out, "Beating or gybing down: set both foils alike.", "Load or bow near its limit: take rake off by degrees, then the foils in.",
		fmt.Sprintf("Foils in above %.0f kn of wind or %.1f m of sea.",
			units.Knots(l.MaxFoilsOutTWSMS-c.LimitMarginMS), math.Floor(10*(l.MaxFoilsOutHsM-c.LimitMarginHsM))/10))
}

// slowFirst are the rules for slowing down.
func (res *cardResult) slowFirst() []string {
	h := res.boat.Handling
	words := map[strategy.Kind]string{strategy.Deploy: "Put out", strategy.Retract: "Take in", strategy.Extend: "Let out a step", strategy.Shorten: "Take in a step",
		strategy.AddRake: "Add rake", strategy.TakeOffRake: "Take off rake"}
	ceiling := map[strategy.Kind]float64{strategy.Deploy: h.DeployCeilingMS, strategy.Extend: h.DeployCeilingMS, strategy.Retract: h.RetractCeilingMS,
		strategy.Shorten: h.RetractCeilingMS, strategy.AddRake: h.AddRakeCeilingMS, strategy.TakeOffRake: h.TakeOffRakeCeilingMS}
	var out []string
	for _, x := range res.handled {
		s := fmt.Sprintf("%s: up to %.0f kn of boat speed", words[x.Kind], units.Knots(ceiling[x.Kind]))
		if x.Slowed > 0 && x.How != "" {
			s += "; " + x.How
		}
		out = append(out, s+fmt.Sprintf("; costs %.0f s.", math.Max(0, x.LostS)))
	}
	return append(out, "Windward foil: at any speed, before the tack or gybe.")
}

// printCard prints the short answer first.
func printCard(s streams, o *cardOptions, res *cardResult) error {
	if o.json {
		j := res.json()
		if o.out != "" {
			j.Files = cardFiles
		}
		return printJSON(s.out, j)
	}
	a := &textAnswer{headline: res.headline(), boat: res.boat.Name, details: res.print, notes: append(someOf(res.left, 3), res.warnings...), out: o.out, files: cardFiles[:3],
		next: fmt.Sprintf("Try the card in other weather: foilledger trial --rules %s/%s", o.out, cardRules)}
	a.print(s)
	return nil
}

// print prints the card at length.
func (res *cardResult) print(w io.Writer) {
	var rows [][]string
	for i, b := range res.boxes {
		rows = append(rows, []string{fmt.Sprint(i + 1), spanWords(b.TWSMS, units.Knots, endKn), spanWords(b.TWARad, units.Deg, endDeg), spanWords(b.HsM, same, endHsM),
			res.adviceWords(&b.Rule), evenWords(b.BreakEvenS), fmt.Sprintf("%.0f %%", 100*b.Share)})
	}
	table(w, []string{"rule", "wind kn", "angle °", "sea m", "<foils", "pays after", "of time"}, rows)
	fmt.Fprintln(w)
	for _, n := range append(res.slowFirst(), res.notes()...) {
		fmt.Fprintf(w, "- %s\n", wrap(n, 76, "  "))
	}
	rows = nil
	for n := range res.steps {
		cross := ""
		if n < len(res.cross) {
			cross = fmt.Sprintf("%.1f", res.cross[n]/60)
		}
		mark := ""
		if n+1 == res.chosen {
			mark = "this card"
		}
		t := res.test[n]
		rows = append(rows, []string{fmt.Sprint(n + 1), fmt.Sprintf("%.1f", res.train[n].LostS/60), cross, fmt.Sprintf("%.1f", t.LostS/60),
			fmt.Sprintf("%.2f %%", 100*t.RegretShare()), fmt.Sprintf("%.1f", t.Changes), mark})
	}
	section(w, "What each rule buys, minutes lost per passage against the best possible", []string{"rules", "fitted", "cross-validated", "tested", "of gain", "changes", "<"}, rows)
	fmt.Fprintf(w, "\n%s\n", wrap(res.reach(), 78, ""))
	section(w, "Where the card loses time, minutes per passage and of the time that foils gain", []string{"<cause", "minutes", "of gain"}, res.causeRows())
	section(w, "Where it loses most, minutes of the time that foils gain there", []string{"<passage", "lost", "of"}, res.worst(4))
}

// someOf is the first n of many notes, and how many more there are.
func someOf(notes []string, n int) []string {
	if len(notes) <= n+1 {
		return append([]string{}, notes...)
	}
	return append(append([]string{}, notes[:n]...), fmt.Sprintf("%d more passages are left out for like reasons", len(notes)-n))
}
