package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"foilledger/plots"
	"foilledger/strategy/trial"
)

// trialJSON is the machine-readable result of a trial. Keys carry their units;
// keys may be added, never renamed.
type trialJSON struct {
	DistanceNM float64             `json:"distance_nm"`
	Forecast   string              `json:"forecast_seen"`
	Weathers   []trialWeatherJSON  `json:"weathers"`
	Block      int                 `json:"block"`
	Level      float64             `json:"level"`
	Boats      []trial.BoatSummary `json:"boats"`
	Replays    []replayJSON        `json:"worst_cases"`
	Warnings   []string            `json:"warnings"`
	Cautions   []string            `json:"cautions"`
	Inputs     []input             `json:"inputs"`
	Files      []string            `json:"files,omitempty"`
	Version    string              `json:"version"`
}

type trialWeatherJSON struct {
	Name      string `json:"name"`
	Departure string `json:"departure"`
}

// replayJSON says how to look at a worst case.
type replayJSON struct {
	Boat      string  `json:"boat"`
	Policy    string  `json:"policy"`
	Weather   string  `json:"weather"`
	RegretMin float64 `json:"regret_min"`
	Schedule  string  `json:"schedule_file,omitempty"`
	Command   string  `json:"command"`
}

func (res *trialResult) json(out string) trialJSON {
	n := res.note
	j := trialJSON{DistanceNM: n.DistanceNM, Forecast: n.Forecast, Level: res.sum.Level, Block: res.sum.Block, Boats: res.sum.Boats,
		Warnings: append([]string{}, res.notes...), Cautions: append([]string{}, plots.Cautions...), Inputs: append([]input{}, n.Inputs...), Version: n.Version}
	for _, w := range n.Weathers {
		j.Weathers = append(j.Weathers, trialWeatherJSON{w.Name, w.Depart.Format(time.RFC3339)})
	}
	j.Replays = res.replays(out)
	return j
}

// replays lists the worst case of the best policy of every boat.
func (res *trialResult) replays(out string) []replayJSON {
	list := []replayJSON{}
	for b, s := range res.sum.Boats {
		if s.Best < 0 || s.Policies[s.Best].WorstWeather < 0 {
			continue
		}
		p := s.Policies[s.Best]
		dir := out
		if dir == "" {
			dir = "DIR"
		}
		which := ""
		if b > 0 {
			which = fmt.Sprintf(" --boat %d", b+1)
		}
		cmd := fmt.Sprintf("foilledger trial replay%s --weather %d --policy %q --out worst %s", which, p.WorstWeather+1, p.Name, dir)
		list = append(list, replayJSON{Boat: s.Boat, Policy: p.Name, Weather: res.note.Weathers[p.WorstWeather].Name, RegretMin: p.WorstMin, Command: cmd})
	}
	return list
}

// trialHeadline is the answer for one boat in words.
func trialHeadline(b *trial.BoatSummary, weathers int) string {
	best := b.Policies[b.Best]
	if b.Best == 0 {
		return fmt.Sprintf("Leave the foils in: over %s no policy but the %s is faster on average.", count(weathers, "weather", "weathers"), trial.CeilingName)
	}
	text := fmt.Sprintf("Best is %q: it gains %s over leaving the foils in (median; 10 to 90 %%: %s to %s)", best.Name,
		hoursMinutes(best.GainedMin.Median*60), hoursMinutes(best.GainedMin.P10*60), hoursMinutes(best.GainedMin.P90*60))
	if c := ceilingOf(b); c != nil {
		text += fmt.Sprintf(", %.0f %% of what can be gained", 100*best.CeilingShare)
	}
	if b.Second >= 0 {
		if p := pairOf(b, best.Name, b.Policies[b.Second].Name); p != nil && p.N > 1 {
			sure := "clear of zero"
			if !p.Clear {
				sure = "which may be chance"
			}
			text += fmt.Sprintf(". It beats the next, %q, by %s on average (95 %% interval for all comparisons at once: %s to %s, %s)", b.Policies[b.Second].Name,
				minutesText(p.SavedBy.Mean), minutesText(p.Joint.Lo), minutesText(p.Joint.Hi), sure)
		}
	}
	return text + "."
}

// jointText is the interval of a pair that holds with those of all others; one
// weather says nothing of it.
func jointText(p *trial.PairSummary) string {
	if p.N < 2 {
		return "-"
	}
	return fmt.Sprintf("%.1f to %.1f", p.Joint.Lo, p.Joint.Hi)
}

// searchNote says what the best thresholds are worth.
func searchNote(f *trial.SearchSummary) string {
	text := fmt.Sprintf("Gains are means in minutes over leaving the foils in. In the test the first gains %s to %s (95 %% interval of the mean), %s than where it was chosen",
		minutesText(f.TestInterval.Lo), minutesText(f.TestInterval.Hi), lessOrMore(f.Optimism))
	if f.UsualMin != nil {
		text += fmt.Sprintf("; the policy %q gains %s there", trial.ThresholdsName, minutesText(*f.UsualMin))
	}
	text += "."
	if len(f.Edges) > 0 {
		text += fmt.Sprintf(" The first is at the end of what was tried in: %s; better ones may lie beyond.", strings.Join(f.Edges, ", "))
	}
	return text
}

func lessOrMore(m float64) string {
	if m < 0 {
		return minutesText(-m) + " more"
	}
	return minutesText(m) + " less"
}

// jointNote says what the intervals of so many comparisons hold.
func jointNote(pairs int) string {
	return fmt.Sprintf("Jointly: with 95 %% confidence all %d intervals hold at once, as they must where the best of many comparisons is looked for. %s holds the narrower interval of each comparison alone too.", pairs, trialDiff)
}

func minutesText(m float64) string {
	if math.Abs(m) >= 100 {
		return hoursMinutes(m * 60)
	}
	return strings.Replace(fmt.Sprintf("%.1f min", m), "-", "−", 1)
}

func ceilingOf(b *trial.BoatSummary) *trial.PolicySummary {
	for i := range b.Policies {
		if b.Policies[i].Ceiling {
			return &b.Policies[i]
		}
	}
	return nil
}

// pairOf finds the comparison of a with b, whichever way round it was made.
func pairOf(s *trial.BoatSummary, a, b string) *trial.PairSummary {
	for i := range s.Pairs {
		p := s.Pairs[i]
		if p.A == a && p.B == b {
			return &p
		}
		if p.A == b && p.B == a {
			r := p.Reversed()
			return &r
		}
	}
	return nil
}

// printTrial prints the result: the short answer first.
func printTrial(s streams, res *trialResult, out string, asJSON bool) error {
	if asJSON {
		j := res.json(out)
		if out != "" {
			j.Files = trialFiles(res)
		}
		return printJSON(s.out, j)
	}
	w := s.out
	n := res.note
	for i := range res.sum.Boats {
		b := &res.sum.Boats[i]
		if len(res.sum.Boats) > 1 {
			fmt.Fprintf(w, "%s\n", b.Boat)
		}
		fmt.Fprintf(w, "%s\n\n", wrap(trialHeadline(b, res.sum.Weathers), 78, ""))
		if s.quiet {
			continue
		}
		printBoatTrial(s, res, b)
	}
	if s.quiet {
		return nil
	}
	fmt.Fprintf(w, "%s\n", wrap(fmt.Sprintf("%s on a track of %.0f nm; the policies see %s. Minutes unless said. gain: over leaving the foils in, median, and its 10 and 90 %% points; regret: mean time lost to the %s; won: weathers in which it is the fastest policy; chg: changes of the foils; kJ: work at winch and pump; slow: slowed down or gathering speed for changes; lim: times that a limit forbade what the policy wanted.",
		count(res.sum.Weathers, "weather", "weathers"), n.DistanceNM, n.Forecast, trial.CeilingName), 78, ""))
	if len(res.notes) > 0 {
		fmt.Fprintf(w, "\nWarnings\n\n")
		for _, x := range res.notes {
			fmt.Fprintln(w, wrap("- "+x, 78, "  "))
		}
	}
	if out != "" {
		fmt.Fprintf(w, "\nWritten to %s: open %s first.\n", out, trialPage)
		for _, r := range res.replays(out) {
			fmt.Fprintf(w, "The worst case of %q as a passage:\n  %s\n", r.Policy, r.Command)
		}
	}
	fmt.Fprintf(w, "\n%s\n", wrap(caution, 78, ""))
	return nil
}

func printBoatTrial(s streams, res *trialResult, b *trial.BoatSummary) {
	w := s.out
	var rows [][]string
	for _, p := range b.Policies {
		regret, won := "-", "-"
		if p.RegretMin != nil {
			regret = fmt.Sprintf("%.0f", p.RegretMin.Mean)
			won = fmt.Sprintf("%.0f", 100*p.WonShare)
		}
		rows = append(rows, []string{shorten(p.Name, 17), daysHours(p.TimeH.Median), fmt.Sprintf("%.0f", p.GainedMin.Median), fmt.Sprintf("%.0f", p.GainedMin.P10), fmt.Sprintf("%.0f", p.GainedMin.P90),
			regret, won, fmt.Sprintf("%.0f", p.Changes.Mean), fmt.Sprintf("%.0f", p.EffortKJ.Mean), fmt.Sprintf("%.0f", p.SlowMin.Mean), fmt.Sprintf("%.1f", p.Breaches.Mean)})
	}
	table(w, []string{"<policy", "time", "gain", "10 %", "90 %", "regret", "won %", "chg", "kJ", "slow", "lim"}, rows)
	fmt.Fprintf(w, "\nTime saved by the first over the second, minutes, in the same weather\n\n")
	rows = rows[:0]
	for _, p := range b.Pairs {
		if p.SavedBy.Mean < 0 {
			p = p.Reversed()
		}
		sure := ""
		if !p.Clear {
			sure = "may be chance"
		}
		rows = append(rows, []string{shorten(p.A, 17), shorten(p.B, 17), fmt.Sprintf("%.1f", p.SavedBy.Mean), jointText(&p), fmt.Sprintf("%.0f", 100*p.AWins), sure})
	}
	table(w, []string{"<first", "<second", "mean", "95 %, jointly", "faster %", "<"}, rows)
	if res.sum.Weathers > 1 {
		fmt.Fprintf(w, "\n%s\n", wrap(jointNote(len(b.Pairs)), 78, ""))
	}
	if sp := b.Split; sp != nil {
		fmt.Fprintf(w, "\nWeathers that tell %q from %q\n\n", sp.A, sp.B)
		rows = rows[:0]
		add := func(name string, t trial.Telling) {
			rows = append(rows, []string{name, shorten(res.note.Weathers[t.Weather].Name, 26), fmt.Sprintf("%.0f", math.Abs(t.SavedMin)), fmt.Sprintf("%.0f", t.TWSKn), fmt.Sprintf("%.0f", t.SwingKn), fmt.Sprintf("%.0f", t.TWADeg), fmt.Sprintf("%.1f", t.HsM)})
		}
		for _, t := range sp.ForA[:min(3, len(sp.ForA))] {
			add(shorten(sp.A, 17), t)
		}
		for _, t := range sp.ForB[:min(3, len(sp.ForB))] {
			add(shorten(sp.B, 17), t)
		}
		mean := func(name string, m *trial.MeanWeather) {
			if m != nil {
				rows = append(rows, []string{shorten(name, 17), fmt.Sprintf("mean of %s", count(m.N, "weather", "weathers")), "", fmt.Sprintf("%.0f", m.TWSKn), fmt.Sprintf("%.0f", m.SwingKn), fmt.Sprintf("%.0f", m.TWADeg), fmt.Sprintf("%.1f", m.HsM)})
			}
		}
		mean(sp.A, sp.MeanA)
		mean(sp.B, sp.MeanB)
		table(w, []string{"<faster", "<weather", "by min", "wind kn", "swing", "angle °", "sea m"}, rows)
	}
	if f := b.Search; f != nil && len(f.Best) > 0 {
		fmt.Fprintf(w, "\nBest thresholds of %d tried on %d weathers, tested on %d others\n\n", f.Tried, f.Training, f.Testing)
		rows = rows[:0]
		for _, x := range f.Best {
			rows = append(rows, []string{fmt.Sprintf("%.0f", x.OutKn), fmt.Sprintf("%.0f", x.InKn), fmt.Sprintf("%.0f–%.0f", x.MinDeg, x.MaxDeg), fmt.Sprintf("%.0f", x.DwellMin), fmt.Sprintf("%.0f", x.TrainMin), fmt.Sprintf("%.0f", x.TestMin)})
		}
		table(w, []string{"out kn", "in kn", "angles °", "dwell min", "gain, chosen on", "gain, tested on"}, rows)
		fmt.Fprintf(w, "\n%s\n", wrap(searchNote(f), 78, ""))
	}
	fmt.Fprintln(w)
}

// daysHours writes hours as "4d 03.5h".
func daysHours(h float64) string {
	h = math.Round(10*h) / 10
	if h < 24 {
		return fmt.Sprintf("%.1fh", h)
	}
	return fmt.Sprintf("%dd %04.1fh", int(h/24), h-24*math.Floor(h/24))
}

func shorten(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}
