package main

import (
	"fmt"
	"math"
	"strings"

	"foilledger/strategy"
	"foilledger/vpp/units"
)

// commandLine is the command that repeats a result, without what says only
// where it goes. Words that a shell would split are quoted.
func commandLine(args []string) string {
	if len(args) < 2 {
		return ""
	}
	out := []string{"foilledger"}
	for i := 1; i < len(args); i++ {
		name := strings.TrimLeft(args[i], "-")
		if strings.HasPrefix(args[i], "-") {
			switch name {
			case "json", "json=true", "quiet", "q":
				continue
			case "out", "cache":
				i++
				continue
			}
			if strings.HasPrefix(name, "out=") || strings.HasPrefix(name, "cache=") {
				continue
			}
		}
		w := args[i]
		if strings.ContainsAny(w, " \t;*?'\"$&|<>()") {
			w = "'" + strings.ReplaceAll(w, "'", `'\''`) + "'"
		}
		out = append(out, w)
	}
	return strings.Join(out, " ")
}

// precision says how exact the plan is.
func (res *result) precision() []string {
	out := []string{fmt.Sprintf("No schedule on this track, with these stages and settings, can arrive more than %s earlier (%.2f %% of the passage): that is what free and instant changes would allow.",
		minutes(60*ceilMin(res.boundGapS())), 100*res.boundGapS()/res.voyage.TimeS())}
	if res.best.OpenS > 0 {
		out = append(out, fmt.Sprintf("Under the rules for the person the search was ended early: another schedule could be better by at most %s.", minutes(60*ceilMin(res.best.OpenS))))
	}
	for _, r := range res.refined {
		out = append(out, fmt.Sprintf("With %s the fastest plan arrives %s.", r.What, laterEarlier(r.ChangeS)))
	}
	return out
}

func laterEarlier(s float64) string {
	switch {
	case math.Abs(s) < 0.5:
		return "at the same time"
	case s > 0:
		return minutes(s) + " later"
	}
	return minutes(-s) + " earlier"
}

// minutes writes seconds as minutes, finer where they are few.
func minutes(s float64) string {
	switch m := s / 60; {
	case math.Abs(m) < 9.95:
		return fmt.Sprintf("%.1f min", m)
	case math.Abs(m) < 99.5:
		return fmt.Sprintf("%.0f min", m)
	}
	return hoursMinutes(s)
}

// ceilMin is seconds in minutes, rounded up to what is shown.
func ceilMin(s float64) float64 {
	if m := s / 60; m < 9.9 {
		return math.Ceil(10*m-1e-9) / 10
	} else {
		return math.Ceil(m - 1e-9)
	}
}

// restWords says what rest the plan leaves and what each day asks for.
func (res *result) restWords(q *question) []string {
	var out []string
	if n := len(res.rest.Naps); n > 0 {
		longest := 0.0
		for _, x := range res.rest.Naps {
			longest = math.Max(longest, x.ToS-x.FromS)
		}
		text := fmt.Sprintf("%d spans in which nothing is to be done and the foils may be left alone, the longest %s", n, hoursMinutes(longest))
		if n == 1 {
			text = fmt.Sprintf("1 span of %s in which nothing is to be done and the foils may be left alone", hoursMinutes(longest))
		}
		if !math.IsNaN(res.rest.Least.RestS) {
			text += fmt.Sprintf("; %s in the leanest 24 h", hoursMinutes(res.rest.Least.RestS))
		}
		out = append(out, text)
		if n := len(q.forecast.Members); n > 1 {
			least := 1.0
			for _, x := range append(append([]strategy.Nap(nil), res.rest.Naps...), res.rest.Given...) {
				least = math.Min(least, x.Share)
			}
			out = append(out, fmt.Sprintf("the foils left alone hold from beginning to end of each rest in at least %.0f of the %d forecast members", math.Round(least*float64(n)), n))
		}
	} else if q.options.person.wantsRest() {
		out = append(out, fmt.Sprintf("no span of %g min or more in which nothing is to be done and the foils may be left alone", q.options.person.napMin))
	}
	if q.options.person.sleepH > 0 && res.voyage.TimeS() < 24*units.SPerHour {
		out = append(out, "the passage is shorter than 24 h, so that the quota of rest in every 24 h does not bind")
	}
	return out
}

// days lists the effort of each day of the passage.
func (res *result) days() string {
	var out []string
	for _, e := range res.rest.EffortJ {
		out = append(out, fmt.Sprintf("%.0f", e/1000))
	}
	return strings.Join(out, ", ")
}
