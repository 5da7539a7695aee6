package strategy

import (
	"context"
	"math"
)

// dominates reports whether whatever can follow b can follow a no later. A
// boat may wait at the start of a stage, so that earlier and no less rested is
// never worse.
func (p *Problem) dominates(a, b *tally) bool {
	r := &p.person
	if a.t > b.t || (r.counts() && a.changes > b.changes) {
		return false
	}
	if r.SpacingS > 0 && math.Max(a.t, a.ready) > math.Max(b.t, b.ready) {
		return false
	}
	if r.EffortJ > 0 {
		if da, db := p.day(a.t), p.day(b.t); da == db && a.effortOn(da) > b.effortOn(db) {
			return false
		}
	}
	if r.RestS > 0 {
		slack := r.slack()
		if math.Min(a.gap, a.t-r.NapS) > math.Min(b.gap, b.t-r.NapS)+slack {
			return false
		}
		n := p.windows()
		last := int(math.Floor((b.t - p.DepartS) / r.WindowS))
		for w := max(0, last-n+1); w <= last; w++ {
			from := p.DepartS + float64(w)*r.WindowS
			if from >= a.t || a.awake[w%n] <= b.awake[w%n]+slack {
				continue
			}
			if a.awake[w%n]+from+dayS-math.Min(a.t, a.gap) > dayS-r.RestS { // the window can still fail
				return false
			}
		}
	}
	return true
}

func (y *tally) effortOn(day int32) float64 {
	if y.day == day {
		return y.effort
	}
	return 0
}

// insert adds a label to a set of which none dominates another.
func (p *Problem) insert(set []*label, x *label) []*label {
	for _, a := range set {
		if p.dominates(&a.tally, &x.tally) {
			return set
		}
	}
	kept := set[:0]
	for _, a := range set {
		if !p.dominates(&x.tally, &a.tally) {
			kept = append(kept, a)
		}
	}
	kept = append(kept, x)
	if p.person.RestS > 0 && p.person.ToleranceS >= 0 && len(kept) > mostLabels {
		kept = p.drop(kept)
	}
	return kept
}

// mostLabels is how many labels of a state are kept under a rest quota, unless
// the person's ToleranceS asks for all.
const mostLabels = 6

// drop leaves out the latest label that is not the best rested.
func (p *Problem) drop(set []*label) []*label {
	up := func(y *tally) (sum float64) {
		for _, a := range y.awake {
			sum += a
		}
		return sum
	}
	rested := 0
	for i := range set {
		if up(&set[i].tally) < up(&set[rested].tally) {
			rested = i
		}
	}
	latest := -1
	for i := range set {
		if i != rested && (latest < 0 || set[i].t > set[latest].t) {
			latest = i
		}
	}
	return append(set[:latest], set[latest+1:]...)
}

// boundChanges limits the number of changes to those that can pay: no schedule
// arrives before the plan without rules, and the schedule that never changes is
// one to beat.
func (p *Problem) boundChanges(ctx context.Context, allow Allowed) (*Problem, error) {
	free := *p
	free.person = Person{}
	free.course = p.fresh()
	plan, err := free.Best(ctx, allow, false, nil)
	if err != nil || plan.Status != Found {
		return p, err
	}
	stay := make(Schedule, len(plan.Schedule))
	for k := range stay {
		stay[k] = p.Start
		if allow != nil && !allow(k, p.Start) {
			return p, nil
		}
	}
	v, broken, err := p.sailFor(stay, nil, nil)
	if err != nil {
		return p, ignoreCoverage(err)
	}
	if broken || v.Status != Found {
		return p, nil
	}
	most := int((v.ArriveS - plan.ArriveS) / p.person.LeastGainS)
	q := *p
	if q.person.Changes == 0 || most < q.person.Changes {
		q.person.Changes = max(most, 1)
	}
	return &q, nil
}

// fresh is the course without what has been met on it: its paces depend on the
// rules.
func (p *Problem) fresh() *course {
	c := newCourse(p.track, p.opt.stageM(), p.opt.piece(), p.opt.interval(), p.cuts)
	c.legs = c.legs[:len(p.course.legs)]
	return c
}
