package strategy

import (
	"context"
	"errors"
	"math"
	"sort"
)

// BestFor finds the schedule of earliest arrival (plus LeastGainS for every
// change) under the problem's rules for the person. Labels carry what the rules
// need, and of every state all labels are kept that no other dominates. The
// result is the optimum of the discretised problem in which the boat may wait
// at the start of a stage. With RestS waiting is tried as long as it completes
// a nap or a quota, and every whole 24 hours must hold it; the labels can be too
// many then, so that a boat with more than a few states is searched with those
// between which a good schedule can be expected, and where the optimum is not
// proven OpenS says how much is open. So it does for a boat with more than a
// hundred states under any rule, and where foils must hold through whole rests
// in a share of the members: a later boat can meet the better weather to rest
// in then.
//
// The search is made for a cost little above that of the plan without the
// rules first, then for more: of a schedule that costs no more than was asked
// for, no label is dropped, so that the first one found is the best.
func (p *Problem) BestFor(ctx context.Context, allow Allowed, progress func(done, total int)) (*Voyage, error) {
	if !p.person.any() {
		return p.Best(ctx, allow, false, progress)
	}
	progress = onlyUp(progress)
	noWay := &Voyage{Status: NoWay, DepartS: p.DepartS, TotalM: p.course.totalM}
	// What is left without the rest quota, or without any rule, costs no more.
	var loose *Voyage
	var err error
	if p.person.RestS > 0 {
		q := *p
		q.person.RestS = 0
		loose, err = q.BestFor(ctx, allow, progress)
	} else if p.restsOverMembers() {
		q := *p
		q.momentary = true
		loose, err = q.BestFor(ctx, allow, progress)
	} else {
		loose, err = p.Best(ctx, allow, false, progress)
	}
	if err != nil || loose.Status != Found {
		if loose != nil && loose.Status == NoWay {
			loose = noWay
		}
		return loose, err
	}
	least := loose.ArriveS - loose.OpenS
	if p.person.RestS > 0 || p.restsOverMembers() {
		least += p.person.LeastGainS * float64(len(loose.changes(p.Start)))
	}
	if len(p.states.all) > manyStates && p.kept == nil {
		return p.withSome(ctx, allow, loose, least, progress)
	}
	known, err := p.firstTry(loose, allow)
	if err != nil {
		return nil, err
	}
	roughly := false
	if rough, err := p.rough(ctx, allow, known, loose.ArriveS); err != nil {
		return nil, err
	} else if rough != nil {
		known, roughly = rough, true
	}
	bound := math.Inf(1)
	if known != nil {
		if bound = p.cost(known); bound <= least+1e-6 {
			return known, nil
		}
	}
	if p.person.RestS > 0 && p.person.ToleranceS >= 0 {
		v := known
		if !roughly { // rough searched all that can be expected to be good
			var err error
			if v, err = p.restedUpTo(ctx, allow, bound, least, loose.ArriveS, progress); err != nil {
				return p.failed(ctx, err)
			}
			if v == nil {
				v = known
			}
		}
		if v == nil {
			return noWay, nil
		}
		return p.prove(ctx, allow, v, least, loose.ArriveS)
	}
	for _, more := range levels {
		upTo := math.Min(least+more, bound)
		v, err := p.searchUpTo(ctx, allow, upTo, loose.ArriveS, progress)
		if err != nil {
			return p.failed(ctx, err)
		}
		if v == nil && upTo >= bound {
			v = known
		}
		if v != nil {
			if p.jointly() {
				v.OpenS = math.Max(p.cost(v)-least, 0)
			}
			return v, nil
		}
		if upTo >= bound {
			break
		}
	}
	return noWay, nil
}

// levels are the costs beyond the plan without rules for which searches are
// made in turn.
var levels = [...]float64{120, 900, 5400, 6 * 3600, math.Inf(1)}

func (p *Problem) failed(ctx context.Context, err error) (*Voyage, error) {
	st := NoWay
	if ctx.Err() != nil {
		st = Canceled
	}
	return &Voyage{Status: st, DepartS: p.DepartS, TotalM: p.course.totalM}, err
}

// restedUpTo is the search with few labels of a state under a rest quota.
func (p *Problem) restedUpTo(ctx context.Context, allow Allowed, bound, least, leastS float64, progress func(done, total int)) (*Voyage, error) {
	v, err := p.searchUpTo(ctx, allow, bound, leastS, progress)
	if v != nil {
		v.OpenS = math.Max(p.cost(v)-least, 0)
	}
	return v, err
}

// A proof may make so many labels for each stage, and so many in any case.
const (
	provingLabels = 100
	leastProving  = 30000
)

// prove searches without leaving anything out for something better than v, as
// far as that comes to an end soon. No schedule costs less than least.
func (p *Problem) prove(ctx context.Context, allow Allowed, v *Voyage, least, leastS float64) (*Voyage, error) {
	q := *p
	q.person.ToleranceS = -1
	q.budget = max(provingLabels*len(p.course.legs), leastProving)
	if n := len(p.states.all); n > manyStates {
		q.budget = q.budget * manyStates / n
	}
	bound := p.cost(v)
	v.OpenS = math.Max(bound-least, 0)
	for _, more := range levels {
		upTo := math.Min(least+more, bound)
		w, err := q.searchUpTo(ctx, allow, upTo, leastS, nil)
		switch {
		case errors.Is(err, errBudget):
			return v, nil
		case err != nil:
			return p.failed(ctx, err)
		case w != nil:
			if p.jointly() {
				w.OpenS = math.Max(p.cost(w)-least, 0)
			}
			return w, nil
		case !p.jointly():
			v.OpenS = bound - upTo
		}
		if upTo >= bound {
			return v, nil
		}
	}
	return v, nil
}

// roughLabels are how many labels of a state the rough searches keep, one after
// another: each is made for a cost below that of the one before.
var roughLabels = [...]int{4, 12, 20}

// rough finds a good schedule under the rules with few states: those between
// which a good schedule can be expected, and those of them that may be left
// alone. It costs less than known, when that is not nil; nil where there is
// none.
func (p *Problem) rough(ctx context.Context, allow Allowed, known *Voyage, leastS float64) (best *Voyage, err error) {
	n := len(p.states.all)
	if n <= 2*fewStates {
		return nil, nil
	}
	a, err := p.lookAhead(ctx, allow, nil)
	if err != nil || a == nil {
		return nil, ctx.Err()
	}
	keep := p.useful(a, fewStates)
	q := *p
	bound := math.Inf(1)
	if known != nil {
		bound = p.cost(known)
	}
	steps := roughLabels[:]
	if p.person.RestS <= 0 || p.person.ToleranceS < 0 {
		steps = steps[:1] // all labels are kept in any case
	}
	for _, q.most = range steps {
		v, err := q.searchUpTo(ctx, p.only(keep, allow), bound, leastS, nil)
		if err != nil {
			return nil, err
		}
		if v != nil && v.Status == Found && p.cost(v) < bound {
			best, bound = v, p.cost(v)
		}
	}
	return best, nil
}

// only allows the states that are kept.
func (p *Problem) only(keep []bool, allow Allowed) Allowed {
	return func(k int, s State) bool { return keep[p.states.Index(s)] && (allow == nil || allow(k, s)) }
}

// useful chooses states between which a good schedule under the rules can be
// expected, up to most of the fastest and as many that may be left alone.
func (p *Problem) useful(a *ahead, most int) []bool {
	keep := make([]bool, len(p.states.all))
	start := p.states.Index(p.Start)
	for _, s := range a.few(most, start) {
		keep[s] = true
	}
	for _, s := range a.steady(most) {
		keep[s] = true
	}
	if p.person.EffortJ > 0 {
		// What takes least work: each foil in, or out by one action.
		n := len(p.states.settings)
		for i, st := range p.states.all {
			if p.prices.moves[st.Port].n <= 1 && p.prices.moves[st.Starboard].n <= 1 && n*n > manyStates {
				keep[i] = true
			}
		}
	}
	if p.person.RestS > 0 {
		for k := range a.then {
			for s := range a.then[k] {
				first := &p.course.legs[k].steps[0]
				at := p.index(a.first[k])
				if q, b := p.paceIn(first, at, s); q != nil && !p.safeIn(first, at, b, s, q) {
					a.then[k][s] += hourS
				}
			}
		}
		for _, s := range a.few(most, start) {
			keep[s] = true
		}
	}
	return keep
}

// withSome is BestFor for a boat with so many states that the search under
// rules is made with some of them: those of the plan without the rules, and
// those between which a good schedule can be expected. What the others could
// still gain is at most OpenS.
func (p *Problem) withSome(ctx context.Context, allow Allowed, loose *Voyage, least float64, progress func(done, total int)) (*Voyage, error) {
	a, err := p.lookAhead(ctx, allow, nil)
	if err != nil || a == nil {
		return p.failed(ctx, err)
	}
	q := *p
	q.kept = p.useful(a, someStates/2)
	q.kept[p.states.Index(p.Start)] = true
	for _, s := range loose.Schedule {
		q.kept[p.states.Index(s)] = true
	}
	v, err := q.BestFor(ctx, p.only(q.kept, allow), progress)
	if err != nil || v.Status != Found {
		return v, err
	}
	return p.prove(ctx, allow, v, least, loose.ArriveS-loose.OpenS)
}

// searchUpTo is the search for a schedule of a cost of at most upTo; nil where
// there is none. No schedule arrives before leastS.
func (p *Problem) searchUpTo(ctx context.Context, allow Allowed, upTo, leastS float64, progress func(done, total int)) (*Voyage, error) {
	var cut *ladder
	if !math.IsInf(upTo, 1) {
		var err error
		if cut, err = p.ladderFor(ctx, allow, upTo, p.person.LeastGainS, leastS); err != nil {
			return nil, err
		}
	}
	final, _, err := p.frontier(ctx, allow, cut, progress)
	if err != nil {
		return nil, err
	}
	cost := func(x *label) float64 { return x.t + p.person.LeastGainS*float64(x.changes) }
	var best *label
	for _, x := range final {
		if best == nil || cost(x) < cost(best) {
			best = x
		}
	}
	if best == nil || !(cost(best) <= upTo+1e-6) {
		return nil, nil
	}
	return p.retrace(best)
}

// cost is what BestFor minimises, in seconds after the reference.
func (p *Problem) cost(v *Voyage) float64 {
	return v.ArriveS + p.person.LeastGainS*float64(len(v.changes(p.Start)))
}

// firstTry finds some schedule that keeps the rules: the one found without
// them, or the one without changes. It is nil when neither does.
func (p *Problem) firstTry(loose *Voyage, allow Allowed) (*Voyage, error) {
	stay := make(Schedule, len(loose.Schedule))
	allowed := true
	for k := range stay {
		stay[k] = p.Start
		allowed = allowed && (allow == nil || allow(k, p.Start))
	}
	var best *Voyage
	try := func(schedule Schedule, starts []float64) error {
		v, broken, err := p.sailFor(schedule, starts, nil)
		if err != nil {
			return ignoreCoverage(err)
		}
		if !broken && v.Status == Found && (best == nil || p.cost(v) < p.cost(best)) {
			best = v
		}
		return nil
	}
	if err := try(loose.Schedule, nil); err != nil {
		return nil, err
	}
	if loose.starts != nil {
		if err := try(loose.Schedule, loose.starts); err != nil {
			return nil, err
		}
	}
	if allowed {
		if err := try(stay, nil); err != nil {
			return nil, err
		}
	}
	return best, nil
}

// onlyUp keeps a progress report from going back.
func onlyUp(progress func(done, total int)) func(done, total int) {
	if progress == nil {
		return nil
	}
	most := -1
	return func(done, total int) {
		if done > most {
			most = done
			progress(done, total)
		}
	}
}

// Frontier returns the best voyage for each number of changes that pays: each
// has more changes than the one before and arrives earlier.
func (p *Problem) Frontier(ctx context.Context, atMost int, progress func(done, total int)) ([]*Voyage, error) {
	person := p.person
	person.Changes = atMost
	q := p.For(person)
	final, st, err := q.frontier(ctx, nil, nil, progress)
	if err != nil || st != Found {
		return nil, err
	}
	sort.SliceStable(final, func(i, j int) bool {
		a, b := final[i], final[j]
		return a.changes < b.changes || (a.changes == b.changes && a.t < b.t)
	})
	var out []*Voyage
	last := math.Inf(1)
	for _, x := range final {
		if x.t >= last {
			continue
		}
		last = x.t
		v, err := q.retrace(x)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, nil
}

// retrace sails the schedule that led to a label.
func (p *Problem) retrace(x *label) (*Voyage, error) {
	n := len(p.course.legs)
	v := &Voyage{Schedule: make(Schedule, n), starts: make([]float64, n)}
	for k := n - 1; k >= 0; k-- {
		v.Schedule[k], v.starts[k] = p.states.all[x.state], x.startS
		x = x.parent
	}
	w, _, err := p.sailFor(v.Schedule, v.starts, nil)
	return w, err
}
