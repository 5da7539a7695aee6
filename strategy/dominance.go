package strategy

import (
	"cmp"
	"math"
	"slices"
)

// dominates reports whether whatever can follow b can follow a no later. A
// boat may wait at the start of a stage, so that earlier and no less rested is
// never worse.
func (p *Problem) dominates(a, b *tally) bool {
	r := &p.person
	if a.t > b.t || (r.counts() && a.changes > b.changes) {
		return false
	}
	if r.SpacingS > 0 && max(a.t, a.ready) > max(b.t, b.ready) {
		return false
	}
	if r.EffortJ > 0 {
		if da, db := p.day(a.t), p.day(b.t); da == db && a.effortOn(da) > b.effortOn(db) {
			return false
		}
	}
	if !a.given.covers(b.given) {
		return false
	}
	return r.RestS <= 0 || p.noLessRested(a, b)
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
	if p.person.RestS > 0 && p.person.ToleranceS >= 0 && len(kept) > p.mostLabels() {
		kept = p.drop(kept)
	}
	return kept
}

// manyLabels is how many labels of a state are kept under a rest quota, unless
// the person's ToleranceS asks for all.
const manyLabels = 8

func (p *Problem) mostLabels() int {
	if p.most > 0 {
		return p.most
	}
	return manyLabels
}

// drop leaves one label out so that those left stay spread between the earliest
// and the best rested: the one whose neighbours are the least apart.
func (p *Problem) drop(set []*label) []*label {
	slices.SortStableFunc(set, func(a, b *label) int { return cmp.Compare(a.t, b.t) })
	up := func(y *label) float64 { return y.awakeSince(y.t - dayS) }
	rested := 0
	for i := range set {
		if up(set[i]) < up(set[rested]) {
			rested = i
		}
	}
	worst, least := -1, math.Inf(1)
	for i := 1; i < len(set); i++ { // the earliest stays
		if i == rested {
			continue
		}
		var apart float64
		if i+1 < len(set) {
			a, b := set[i-1], set[i+1]
			apart = b.t - a.t + math.Abs(up(b)-up(a))
		} else {
			apart = 2 * (set[i].t - set[i-1].t + math.Abs(up(set[i])-up(set[i-1])))
		}
		if apart < least {
			worst, least = i, apart
		}
	}
	if worst < 0 {
		worst = len(set) - 1
	}
	return append(set[:worst], set[worst+1:]...)
}
