package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"foilledger/strategy"
	"foilledger/strategy/trial"
	"foilledger/vpp/units"
)

// printJSON prints one object on stdout.
func printJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// table prints columns aligned for a terminal of 80 columns. A column is left
// aligned when its name starts with "<".
func table(w io.Writer, head []string, rows [][]string) {
	width := make([]int, len(head))
	left := make([]bool, len(head))
	names := make([]string, len(head))
	for i, h := range head {
		names[i] = strings.TrimPrefix(h, "<")
		left[i] = names[i] != h
		width[i] = len([]rune(names[i]))
	}
	for _, r := range rows {
		for i, c := range r {
			width[i] = max(width[i], len([]rune(c)))
		}
	}
	line := func(cells []string) {
		var b strings.Builder
		for i, c := range cells {
			if i > 0 {
				b.WriteString("  ")
			}
			pad := strings.Repeat(" ", width[i]-len([]rune(c)))
			if left[i] {
				b.WriteString(c + pad)
			} else {
				b.WriteString(pad + c)
			}
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
	line(names)
	for _, r := range rows {
		line(r)
	}
}

// hoursMinutes writes seconds as "4 d 03 h 12 min" or "3 h 05 min".
func hoursMinutes(s float64) string {
	sign := ""
	if s < 0 {
		sign, s = "−", -s
	}
	m := int(math.Round(s / 60))
	d, h := m/(24*60), m/60%24
	switch {
	case d > 0:
		return fmt.Sprintf("%s%d d %02d h %02d min", sign, d, h, m%60)
	case m >= 60:
		return fmt.Sprintf("%s%d h %02d min", sign, h, m%60)
	}
	return fmt.Sprintf("%s%d min", sign, m)
}

// actions is the number of single actions at the foils.
func (res *result) actions() int {
	n := 0
	for i := range res.log.Changes {
		n += len(res.log.Changes[i].Price.Parts())
	}
	return n
}

// headline is the answer in words.
func (res *result) headline() string {
	n := len(res.log.Changes)
	if len(res.problem.Performer().Settings()) == 1 {
		return fmt.Sprintf("The boat has no foils; the passage takes %s.", hoursMinutes(res.voyage.TimeS()))
	}
	if n == 0 {
		return "Leave the foils in: putting them out gains nothing on this passage."
	}
	occasions := "occasions"
	if n == 1 {
		occasions = "occasion"
	}
	text := fmt.Sprintf("Using the foils gains %s over leaving them in, with %d actions on %d %s; no schedule on this track can gain more than %s beyond that.",
		hoursMinutes(res.gainedS()), res.actions(), n, occasions, upToMinutes(res.boundGapS()))
	if sp := res.spread; sp != nil && len(sp.members) > 1 {
		text += " " + sp.short()
	}
	return text
}

// upToMinutes writes seconds as whole minutes, rounded up.
func upToMinutes(s float64) string {
	if m := math.Ceil(s / 60); m < 100 {
		return fmt.Sprintf("%.0f min", m)
	}
	return hoursMinutes(60 * math.Ceil(s/60))
}

// printResult prints the passage.
func printResult(s streams, q *question, res *result) error {
	if q.options.json {
		j := res.json(q)
		if q.options.out != "" {
			j.Files = outputFiles(res)
		}
		return printJSON(s.out, j)
	}
	printPlan(s, q, res)
	printEnd(s, q)
	return nil
}

// printPlan prints the plan: the short answer first.
func printPlan(s streams, q *question, res *result) {
	w := s.out
	v := res.voyage
	if q.options.title != "" {
		fmt.Fprintf(w, "%s\n", q.options.title)
	}
	fmt.Fprintf(w, "%s\n\n", wrap(res.headline(), 78, ""))
	say := func(name, format string, a ...any) { fmt.Fprintln(w, fact(name, fmt.Sprintf(format, a...))) }
	say("Boat", "%s", q.boat.Name)
	say("Departure", "%s", timeAt(res.source, v.DepartS).Format("2006-01-02 15:04 UTC"))
	say("Arrival", "%s after %s", timeAt(res.source, v.ArriveS).Format("2006-01-02 15:04 UTC"), hoursMinutes(v.TimeS()))
	say("Distance", "%.0f nm at %.1f kn on average; tacks and gybes: %d", v.TotalM/units.MPerNM, units.Knots(v.TotalM/v.TimeS()), res.boards())
	for _, b := range res.bases {
		say("Gained", "%s over %q (%s)", hoursMinutes(b.voyage.TimeS()-v.TimeS()), b.name, hoursMinutes(b.voyage.TimeS()))
	}
	say("Bound", "%.1f min (%.2f %%) above what free, instant changes would allow", res.boundGapS()/60, 100*res.boundGapS()/v.TimeS())
	if res.best.OpenS > 0 {
		say("Search", "ended early under the rules; another schedule could be better by at most %s", minutes(60*ceilMin(res.best.OpenS)))
	}
	if q.options.leastMin > 0 {
		say("Left out", "changes that gain less than %g min each; together %.1f min", q.options.leastMin, res.thinnedS/60)
	}
	effort := 0.0
	for _, c := range res.log.Changes {
		effort += c.Price.EffortJ
	}
	say("Effort", "%.0f kJ at winch and pump; by day %s kJ", effort/1000, res.days())
	for _, x := range res.restWords(q) {
		say("Rest", "%s", x)
	}
	for _, c := range res.costs {
		say("Rule", "%s", c.name+": "+c.words())
	}
	if res.spread != nil {
		say("Members", "%s", res.spread.words())
	}
	if res.hand != nil {
		say("By hand", "%s", res.hand.words(res))
	}
	for _, r := range res.refined {
		say("Steps", "with %s the fastest plan arrives %s", r.What, laterEarlier(r.ChangeS))
	}
	if s.quiet {
		return
	}
	printLedgers(w, res)

	if len(res.log.Changes) > 0 {
		fmt.Fprintf(w, "\nWhat to do (times UTC; lost by slowing and working)\n\n")
		var rows [][]string
		var why []string
		n := 0
		for i := range res.log.Changes {
			c := &res.log.Changes[i]
			for _, p := range c.Price.Parts() {
				n++
				a := res.actionJSON(c, p, "")
				speed := fmt.Sprintf("%.0f", a.BSPKn)
				if slow := fmt.Sprintf("%.0f", a.CeilingKn); a.CeilingKn > 0 && a.BSPKn > a.CeilingKn && slow != speed {
					speed += ">" + slow
				}
				rows = append(rows, []string{
					fmt.Sprint(n), timeAt(res.source, c.TimeS).Format("Jan 02 15:04"), fmt.Sprintf("%.0f", a.DistanceNM),
					shortSide(a.Side), a.Action, shortSetting(a.To), fmt.Sprintf("%.0f@%.0f", a.TWSKn, a.TWADeg), speed, wholeSeconds(a.LostS),
				})
			}
			why = append(why, fmt.Sprintf("%s  %s.", timeAt(res.source, c.TimeS).Format("Jan 02 15:04"), res.reasons[i]))
		}
		table(w, []string{"#", "<time", "nm", "<side", "<action", "<to", "wind", "kn", "s lost"}, rows)
		fmt.Fprintf(w, "\nwind: true speed in kn @ angle in degrees; kn: boat speed, and > the speed to\nslow down to before the action can be done; to: the foil's rake last.\n")
		fmt.Fprintf(w, "\nWhy then\n\n")
		for _, y := range why {
			fmt.Fprintln(w, wrap(y, 78, "              "))
		}
	}
	if res.hand != nil {
		printByHand(w, res)
	}
	if len(res.limits) > 0 {
		fmt.Fprintf(w, "\nLimits that ruled\n\n")
		for _, x := range res.limits {
			fmt.Fprintln(w, wrap("- "+x, 78, "  "))
		}
	}
	if len(res.warnings) > 0 {
		fmt.Fprintf(w, "\nWarnings\n\n")
		for _, x := range res.warnings {
			fmt.Fprintln(w, wrap("- "+x, 78, "  "))
		}
	}
}

// printEnd says where the files are, and what no plan replaces.
func printEnd(s streams, q *question) {
	if s.quiet {
		return
	}
	if q.options.out != "" {
		fmt.Fprintf(s.out, "\nWritten to %s: open %s first.\n", q.options.out, pageName)
	}
	fmt.Fprintf(s.out, "\n%s\n", wrap(caution, 78, ""))
}

// fact is a line of the short answer: its name, and the text beside it.
func fact(name, text string) string {
	return fmt.Sprintf("%-12s", name) + strings.ReplaceAll(wrap(text, 67, ""), "\n", "\n            ")
}

// words says what a rule costs.
func (c *constraint) words() string {
	switch m := c.costS / 60; {
	case math.IsNaN(m):
		return "its cost could not be found"
	case math.Abs(m) < 0.05:
		return "costs nothing"
	default:
		return fmt.Sprintf("costs %.1f min", m)
	}
}

// printLedgers prints where the time comes from, against every baseline.
func printLedgers(w io.Writer, res *result) {
	fmt.Fprintf(w, "\nWhere the time comes from (minutes gained)\n\n")
	short := map[string]string{baseNeverUsed: "never used", baseNotAboard: "not aboard", trial.CeilingName: "ceiling"}
	type column struct {
		name string
		*strategy.Ledger
	}
	var cols []column
	for k, b := range res.bases {
		if l := res.ledgerOf(k); len(l.Items) > 0 {
			name := b.name
			if s := short[name]; s != "" {
				name = s
			}
			cols = append(cols, column{name, l})
		}
	}
	if res.hand != nil && res.hand.ledger != nil {
		cols = append(cols, column{"by hand", res.hand.ledger})
	}
	var causes []string
	seen := map[string]int{}
	for _, c := range cols {
		for _, i := range c.Items {
			if _, ok := seen[i.Cause]; !ok {
				seen[i.Cause] = len(causes)
				causes = append(causes, i.Cause)
			}
		}
	}
	rows := make([][]string, len(causes)+1)
	for i, c := range causes {
		rows[i] = make([]string, 1+len(cols))
		rows[i][0] = c
	}
	total := []string{"time gained"}
	head := []string{"<cause, over foils:"}
	for k, c := range cols {
		head = append(head, c.name)
		for _, i := range c.Items {
			rows[seen[i.Cause]][k+1] = fmt.Sprintf("%+.1f", i.GainS/60)
		}
		total = append(total, fmt.Sprintf("%+.1f", c.TotalS/60))
	}
	rows[len(causes)] = total
	table(w, head, rows)
}

// ledgerOf is the ledger of the plan against a baseline; empty when there is
// none.
func (res *result) ledgerOf(k int) *strategy.Ledger {
	switch {
	case k == 0:
		return res.ledger
	case res.bases[k].ledger != nil:
		return res.bases[k].ledger
	}
	return &strategy.Ledger{}
}

// shortSetting is a foil's setting in a narrow table: extension and rake.
func shortSetting(to string) string { return strings.Replace(to, ", rake ", ", ", 1) }

// wholeSeconds writes seconds without a sign before naught.
func wholeSeconds(s float64) string { return fmt.Sprintf("%.0f", math.Round(s)+0) }

// shortSide is a side of the boat in a narrow table.
func shortSide(side string) string {
	if side == "starboard" {
		return "stbd"
	}
	return side
}

// printByHand prints the schedule given by hand.
func printByHand(w io.Writer, res *result) {
	fmt.Fprintf(w, "\nBy hand: %s\n\n", res.hand.name)
	var rows [][]string
	for _, a := range res.actionsJSON(res.hand.log, nil) {
		t, _ := time.Parse(time.RFC3339, a.Time)
		rows = append(rows, []string{t.Format("Jan 02 15:04"), fmt.Sprintf("%.0f", a.DistanceNM), shortSide(a.Side), a.Action, shortSetting(a.To),
			fmt.Sprintf("%.0f@%.0f", a.TWSKn, a.TWADeg), fmt.Sprintf("%.0f", a.BSPKn), wholeSeconds(a.LostS)})
	}
	table(w, []string{"<time", "nm", "<side", "<action", "<to", "wind", "kn", "s lost"}, rows)
	if len(res.hand.breaks) > 0 {
		fmt.Fprintf(w, "\nBreaks by hand\n\n")
	}
	for _, b := range res.hand.breaks {
		fmt.Fprintln(w, wrap(fmt.Sprintf("%s  %s: %s.", timeAt(res.source, b.timeS).Format("Jan 02 15:04"), b.rule, b.words), 78, "              "))
	}
}

// wrap breaks text at spaces so that no line is longer than width; lines after
// the first start with indent.
func wrap(text string, width int, indent string) string {
	var b strings.Builder
	n := 0
	for i, word := range strings.Fields(text) {
		l := len([]rune(word))
		switch {
		case i == 0:
		case n+1+l > width && n > 1: // a mark alone keeps what it marks
			b.WriteString("\n" + indent)
			n = len(indent)
		default:
			// Keep the double space of the text's own alignment.
			b.WriteByte(' ')
			n++
		}
		b.WriteString(word)
		n += l
	}
	return b.String()
}
