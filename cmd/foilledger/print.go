package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"

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
	if n == 0 {
		return "Leave the foils in: putting them out gains nothing on this passage."
	}
	occasions := "occasions"
	if n == 1 {
		occasions = "occasion"
	}
	return fmt.Sprintf("Using the foils gains %s over leaving them in, with %d actions on %d %s; no schedule on this track can gain more than %.0f min beyond that.",
		hoursMinutes(res.gainedS()), res.actions(), n, occasions, math.Ceil(res.boundGapS()/60))
}

// printResult prints the passage: the short answer first.
func printResult(s streams, q *question, res *result) error {
	if q.options.json {
		j := res.json(q)
		if q.options.out != "" {
			j.Files = outputFiles
		}
		return printJSON(s.out, j)
	}
	w := s.out
	v := res.voyage
	if q.options.title != "" {
		fmt.Fprintf(w, "%s\n", q.options.title)
	}
	fmt.Fprintf(w, "%s\n\n", wrap(res.headline(), 78, ""))
	fmt.Fprintf(w, "Boat        %s\n", q.boat.Name)
	fmt.Fprintf(w, "Departure   %s\n", timeAt(res.source, v.DepartS).Format("2006-01-02 15:04 UTC"))
	fmt.Fprintf(w, "Arrival     %s after %s\n", timeAt(res.source, v.ArriveS).Format("2006-01-02 15:04 UTC"), hoursMinutes(v.TimeS()))
	fmt.Fprintf(w, "Distance    %.0f nm at %.1f kn on average; tacks and gybes: %d\n", v.TotalM/units.MPerNM, units.Knots(v.TotalM/v.TimeS()), res.boards())
	for _, b := range res.bases {
		fmt.Fprintf(w, "Gained      %s over %q, which takes %s\n", hoursMinutes(b.voyage.TimeS()-v.TimeS()), b.name, hoursMinutes(b.voyage.TimeS()))
	}
	effort := 0.0
	for _, c := range res.log.Changes {
		effort += c.Price.EffortJ
	}
	fmt.Fprintf(w, "Bound       %.1f min (%.2f %%) above what free and instant changes would allow\n", res.boundGapS()/60, 100*res.boundGapS()/v.TimeS())
	if q.options.leastMin > 0 {
		fmt.Fprintf(w, "Left out    changes that gain less than %g min each; all of them would gain %.1f min more\n", q.options.leastMin, res.thinnedS/60)
	}
	fmt.Fprintf(w, "Effort      %.0f kJ at winch and pump\n", effort/1000)
	if s.quiet {
		return nil
	}
	fmt.Fprintf(w, "\nWhere the time comes from\n\n")
	var rows [][]string
	for _, i := range res.ledger.Items {
		rows = append(rows, []string{i.Cause, fmt.Sprintf("%+.1f", i.GainS/60)})
	}
	rows = append(rows, []string{"time gained over \"" + res.bases[0].name + "\"", fmt.Sprintf("%+.1f", res.ledger.TotalS/60)})
	table(w, []string{"<cause", "min"}, rows)

	if len(res.log.Changes) > 0 {
		fmt.Fprintf(w, "\nWhat to do (times UTC; lost: time lost by slowing and working)\n\n")
		rows = rows[:0]
		var why []string
		n := 0
		for i := range res.log.Changes {
			c := &res.log.Changes[i]
			for _, p := range c.Price.Parts() {
				n++
				a := res.actionJSON(c, p, "")
				ceiling := "-"
				if a.CeilingKn > 0 {
					ceiling = fmt.Sprintf("%.0f", a.CeilingKn)
				}
				rows = append(rows, []string{
					fmt.Sprint(n), timeAt(res.source, c.TimeS).Format("Jan 02 15:04"), fmt.Sprintf("%.0f", a.DistanceNM),
					a.Side, a.Action, a.To, fmt.Sprintf("%.0f@%.0f", a.TWSKn, a.TWADeg),
					fmt.Sprintf("%.0f", a.BSPKn), ceiling, fmt.Sprintf("%.0f", a.LostS),
				})
			}
			why = append(why, fmt.Sprintf("%s  %s.", timeAt(res.source, c.TimeS).Format("Jan 02 15:04"), res.reasons[i]))
		}
		table(w, []string{"#", "<time", "nm", "<side", "<action", "<to", "wind", "kn", "max", "lost s"}, rows)
		fmt.Fprintf(w, "\nwind: true speed in kn @ angle in degrees; kn: boat speed before; max: boat speed\nabove which the action cannot be done (- none).\n")
		fmt.Fprintf(w, "\nWhy then\n\n")
		for _, y := range why {
			fmt.Fprintln(w, wrap(y, 78, "              "))
		}
	}
	if len(res.warnings) > 0 {
		fmt.Fprintf(w, "\nWarnings\n\n")
		for _, x := range res.warnings {
			fmt.Fprintln(w, wrap("- "+x, 78, "  "))
		}
	}
	if q.options.out != "" {
		fmt.Fprintf(w, "\nWritten to %s: open %s first.\n", q.options.out, pageName)
	}
	fmt.Fprintf(w, "\n%s\n", wrap(caution, 78, ""))
	return nil
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
		case n+1+l > width:
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
