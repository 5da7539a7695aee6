package strategy

import (
	"fmt"
	"math"
	"strings"
)

// Alternatives are the passage times that a change's rivals lead to, in
// seconds more than the voyage's own (negative: the rival is faster, which
// only rules can cause). NaN: the rival cannot be sailed, and its Bar says why.
type Alternatives struct {
	WithoutS float64 // leaving the foils as they are until the next change
	EarlierS float64 // the same change an hour earlier
	LaterS   float64 // the same change an hour later
	// What stands in the way of each rival.
	WithoutBar, EarlierBar, LaterBar Bar
	// WithoutHeld says that a limit stops the boat when the change is not made.
	WithoutHeld bool
}

// hourS is the shift of the rivals.
const hourS = 3600

// rival is how a rival of a change fares.
type rival struct {
	moreS float64 // than the voyage, or NaN
	bar   Bar
	held  bool // a limit stops it for longer
}

// Alternatives sails the rivals of the i-th change of a voyage, under the
// problem's rules: a later change that these put off is put off.
func (p *Problem) Alternatives(v *Voyage, changes []Change, i int) (Alternatives, error) {
	none := rival{math.NaN(), BarNoMoment, false}
	without, earlier, later := none, none, none
	k := changes[i].Stage
	end := len(v.Schedule)
	if i+1 < len(changes) {
		end = changes[i+1].Stage
	}
	begin := 0
	if i > 0 {
		begin = changes[i-1].Stage
	}
	// run sails the voyage with the stages from a to b in another state.
	run := func(a, b int, st State) (rival, error) {
		sch := append(Schedule(nil), v.Schedule...)
		for j := a; j < b; j++ {
			sch[j] = st
		}
		r, _, err := p.sailRules(sch)
		switch {
		case err != nil:
			return rival{math.NaN(), BarForecast, false}, ignoreCoverage(err)
		case r.Status != Found:
			return rival{math.NaN(), r.Bar, r.Bar == BarStopped}, nil
		}
		return rival{r.ArriveS - v.ArriveS, BarNone, r.held() > v.held()}, nil
	}
	var err error
	if without, err = run(k, end, changes[i].From); err != nil {
		return Alternatives{}, err
	}
	// An hour earlier: the first stage that starts within the hour.
	e := k
	for e > begin && v.Stages[e-1].DepartS >= v.Stages[k].DepartS-hourS {
		e--
	}
	if e == k && k > begin {
		e = k - 1
	}
	if e < k && (i == 0 || e > begin) {
		if earlier, err = run(e, k, changes[i].To); err != nil {
			return Alternatives{}, err
		}
	}
	l := k
	for l < end && v.Stages[l].DepartS < v.Stages[k].DepartS+hourS {
		l++
	}
	if l > k && l < end {
		if later, err = run(k, l, changes[i].From); err != nil {
			return Alternatives{}, err
		}
	}
	return Alternatives{WithoutS: without.moreS, EarlierS: earlier.moreS, LaterS: later.moreS,
		WithoutBar: without.bar, EarlierBar: earlier.bar, LaterBar: later.bar, WithoutHeld: without.held}, nil
}

// ignoreCoverage drops the error of a rival that outlasts the forecast: that
// rival is left out.
func ignoreCoverage(err error) error {
	if _, ok := err.(*PassageError); ok {
		return nil
	}
	return err
}

// Reason says in one line why a change is made when it is.
func (a Alternatives) Reason() string {
	var parts []string
	say := func(format, name string) {
		if format != "" {
			parts = append(parts, fmt.Sprintf(format, name))
		}
	}
	switch {
	case a.WithoutHeld:
		parts = append(parts, "a limit forbids the old setting before the next change")
	case math.IsNaN(a.WithoutS) && a.WithoutBar == BarRest:
		parts = append(parts, "the old setting could not be left alone, which leaves too little rest")
	default:
		say(against(a.WithoutS, a.WithoutBar), "leaving it as it is")
	}
	earlier, later := against(a.EarlierS, a.EarlierBar), against(a.LaterS, a.LaterBar)
	if earlier == later {
		say(earlier, "an hour earlier or later")
	} else {
		say(earlier, "an hour earlier")
		say(later, "an hour later")
	}
	if len(parts) == 0 {
		return "no rival to compare with inside the forecast"
	}
	return strings.Join(parts, "; ")
}

// against says what a rival that arrives s seconds later comes to, with a verb
// for its name; s is NaN where it breaks a rule.
func against(s float64, bar Bar) string {
	switch {
	case !math.IsNaN(s):
		return compare(s, "%s")
	case bar == BarRest:
		return "%s: too little rest"
	case bar != BarNone && bar != BarNoMoment:
		return "%s cannot be: " + bar.String()
	}
	return ""
}

func compare(s float64, rival string) string {
	switch {
	case math.Abs(s) < 30:
		return "level with " + rival
	case s > 0:
		return fmt.Sprintf("gains %s over %s", minutes(s), rival)
	}
	return fmt.Sprintf("costs %s against %s", minutes(-s), rival)
}

// minutes writes seconds as whole minutes, one decimal below ten, and as hours
// and minutes from two hours on.
func minutes(s float64) string {
	m := s / 60
	if m < 9.95 {
		return fmt.Sprintf("%.1f min", m)
	}
	if m < 120 {
		return fmt.Sprintf("%.0f min", m)
	}
	whole := int(math.Round(m))
	return fmt.Sprintf("%d h %02d min", whole/60, whole%60)
}
