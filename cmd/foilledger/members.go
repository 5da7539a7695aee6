package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat"

	"foilledger/plots"
	"foilledger/strategy"
	"foilledger/weather"
)

// spread is what one schedule, followed by place, gains in every member of an
// ensemble.
type spread struct {
	members []member
	refused int // members in which a limit stops the boat for good
	outside int // members that do not cover the departure
}

// member is the passage in one member.
type member struct {
	number        int
	timeS, gainS  float64 // of the schedule; over foils never used in the same member
	heldS         float64 // stopped by a limit
	arrivesBefore bool    // the member ends before the arrival; its last weather is kept
}

// overMembers sails the plan's schedule in every member. A nil spread means
// that there is one forecast only.
func overMembers(ctx context.Context, q *question, sailor *strategy.Sailor, res *result, pr *progress) (*spread, error) {
	if len(q.forecast.Members) < 2 {
		return nil, nil
	}
	done := pr.start("members")
	defer done()
	sp := &spread{}
	for i, m := range q.forecast.Members {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		pr.set(i, len(q.forecast.Members))
		p := sailor.In(m.HoldLast()).NewProblem(q.track, res.voyage.DepartS)
		v, err := p.Sail(res.voyage.Schedule, false, nil)
		var gap *weather.CoverageError
		switch {
		case errors.As(err, &gap):
			sp.outside++
			continue
		case err != nil:
			return nil, err
		case v.Status != strategy.Found:
			sp.refused++
			continue
		}
		b, err := p.Best(ctx, strategy.FoilsIn, false, nil)
		if err != nil {
			return nil, err
		}
		if b.Status != strategy.Found {
			sp.refused++
			continue
		}
		x := member{number: m.Member(), timeS: v.TimeS(), gainS: b.TimeS() - v.TimeS()}
		for _, s := range v.Stages {
			x.heldS += s.HeldS
		}
		_, last := m.SpanS()
		x.arrivesBefore = math.Max(v.ArriveS, b.ArriveS) > last
		sp.members = append(sp.members, x)
	}
	return sp, nil
}

// gains returns the p-quantile of the time gained, seconds.
func (sp *spread) gains(p float64) float64 {
	xs := make([]float64, len(sp.members))
	for i, m := range sp.members {
		xs[i] = m.gainS
	}
	sort.Float64s(xs)
	return stat.Quantile(p, stat.LinInterp, xs, nil)
}

// ends are the gains that the spread is told by: 10 and 90 %, or the least and
// the most of few members.
func (sp *spread) ends() (lo, hi float64) {
	if len(sp.members) < plots.FewMembers {
		return sp.gains(0), sp.gains(1)
	}
	return sp.gains(0.1), sp.gains(0.9)
}

// short says the spread in a clause.
func (sp *spread) short() string {
	if len(sp.members) < plots.FewMembers {
		return fmt.Sprintf("Over %d forecast members it gains %s to %s.", len(sp.members), hoursMinutes(sp.gains(0)), hoursMinutes(sp.gains(1)))
	}
	return fmt.Sprintf("Over %d forecast members it gains %s to %s (10 to 90 %%).", len(sp.members), hoursMinutes(sp.gains(0.1)), hoursMinutes(sp.gains(0.9)))
}

// losing is the number of members in which the schedule is slower than foils
// never used.
func (sp *spread) losing() int {
	n := 0
	for _, m := range sp.members {
		if m.gainS < 0 {
			n++
		}
	}
	return n
}

// words says the spread in sentences.
func (sp *spread) words() string {
	n := len(sp.members)
	if n == 0 {
		return "In no forecast member can this schedule be sailed to the end."
	}
	text := fmt.Sprintf("The same schedule, followed by place in each of %d forecast members, gains %s in the middle one; ", n, hoursMinutes(sp.gains(0.5)))
	if n < plots.FewMembers {
		text += fmt.Sprintf("the least is %s, the most %s.", hoursMinutes(sp.gains(0)), hoursMinutes(sp.gains(1)))
	} else {
		text += fmt.Sprintf("in one of ten it gains less than %s, in one of ten more than %s.", hoursMinutes(sp.gains(0.1)), hoursMinutes(sp.gains(0.9)))
	}
	switch l := sp.losing(); {
	case l == 0:
		text += " It loses in none."
	case l == 1:
		text += " It loses in 1."
	default:
		text += fmt.Sprintf(" It loses in %d.", l)
	}
	if sp.refused > 0 {
		text += fmt.Sprintf(" In %d more a limit or calm stops the boat for good.", sp.refused)
	}
	if sp.outside > 0 {
		text += fmt.Sprintf(" %d do not cover the passage.", sp.outside)
	}
	over := 0
	for _, m := range sp.members {
		if m.arrivesBefore {
			over++
		}
	}
	if over > 0 {
		text += fmt.Sprintf(" %d of the members end before the arrival; their last weather is kept.", over)
	}
	return text
}
