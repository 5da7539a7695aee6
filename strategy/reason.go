package strategy

import (
	"fmt"
	"math"
	"strings"
)

// Alternatives are the passage times that a change's rivals lead to, in
// seconds more than the voyage's own (negative: the rival is faster, which
// only constraints can cause). NaN: the rival does not exist or does not
// arrive.
type Alternatives struct {
	WithoutS float64 // leaving the foils as they are until the next change
	EarlierS float64 // the same change an hour earlier
	LaterS   float64 // the same change an hour later
	// WithoutHeld says that a limit stops the boat when the change is not made.
	WithoutHeld bool
}

// hourS is the shift of the rivals.
const hourS = 3600

// Alternatives sails the rivals of the i-th change of a voyage.
func (p *Problem) Alternatives(v *Voyage, changes []Change, i int) (Alternatives, error) {
	a := Alternatives{WithoutS: math.NaN(), EarlierS: math.NaN(), LaterS: math.NaN()}
	k := changes[i].Stage
	end := len(v.Schedule)
	if i+1 < len(changes) {
		end = changes[i+1].Stage
	}
	begin := 0
	if i > 0 {
		begin = changes[i-1].Stage
	}
	run := func(sch Schedule) (float64, bool, error) {
		r, _, err := p.sailRules(sch)
		if err != nil { // a rival that outlasts the forecast is left out
			return math.NaN(), false, ignoreCoverage(err)
		}
		if r.Status != Found {
			return math.NaN(), true, nil
		}
		return r.ArriveS - v.ArriveS, r.held() > v.held(), nil
	}
	var err error
	sch := append(Schedule(nil), v.Schedule...)
	for j := k; j < end; j++ {
		sch[j] = changes[i].From
	}
	if a.WithoutS, a.WithoutHeld, err = run(sch); err != nil {
		return a, err
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
		sch = append(sch[:0], v.Schedule...)
		for j := e; j < k; j++ {
			sch[j] = changes[i].To
		}
		if a.EarlierS, _, err = run(sch); err != nil {
			return a, err
		}
	}
	l := k
	for l < end && v.Stages[l].DepartS < v.Stages[k].DepartS+hourS {
		l++
	}
	if l > k && l < end {
		sch = append(sch[:0], v.Schedule...)
		for j := k; j < l; j++ {
			sch[j] = changes[i].From
		}
		if a.LaterS, _, err = run(sch); err != nil {
			return a, err
		}
	}
	return a, nil
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
	switch {
	case a.WithoutHeld:
		parts = append(parts, "a limit forbids the old setting before the next change")
	case !math.IsNaN(a.WithoutS):
		parts = append(parts, compare(a.WithoutS, "leaving it as it is"))
	}
	if !math.IsNaN(a.EarlierS) {
		parts = append(parts, compare(a.EarlierS, "an hour earlier"))
	}
	if !math.IsNaN(a.LaterS) {
		parts = append(parts, compare(a.LaterS, "an hour later"))
	}
	if len(parts) == 0 {
		return "no rival to compare with inside the forecast"
	}
	return strings.Join(parts, "; ")
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

// minutes writes seconds as whole minutes, one decimal below ten.
func minutes(s float64) string {
	m := s / 60
	if m < 9.95 {
		return fmt.Sprintf("%.1f min", m)
	}
	return fmt.Sprintf("%.0f min", m)
}
