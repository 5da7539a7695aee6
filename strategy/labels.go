package strategy

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"foilledger/vpp/units"
)

// frontier runs the label search under the rules of the person and returns the
// labels at the end of the track that no other dominates. With cut only labels
// are kept that can still come to a cost for which it was made.
func (p *Problem) frontier(ctx context.Context, allow Allowed, cut *ladder, progress func(done, total int)) ([]*label, Status, error) {
	q := *p // with a memo of its own
	q.memo = new(memo)
	p = &q
	n := len(p.states.all)
	sets, next := make([][]*label, n), make([][]*label, n)
	start := p.states.Index(p.Start)
	sets[start] = []*label{{tally: p.begin(), state: int32(start)}}
	ls := &labelSearch{p: p, allow: allow, cut: cut, left: p.budget, ways: make([]waysIn, n)}
	for k := range p.course.legs {
		if err := ctx.Err(); err != nil {
			if errors.Is(err, errBudget) {
				return nil, NoWay, err
			}
			return nil, Canceled, err
		}
		if progress != nil {
			progress(k, len(p.course.legs))
		}
		for s := range next {
			next[s] = nil
		}
		if err := ls.stage(ctx, k, sets, next); err != nil {
			if errors.Is(err, errBudget) {
				return nil, NoWay, err
			}
			return nil, Canceled, err
		}
		sets, next = next, sets
		any := false
		for _, set := range sets {
			any = any || len(set) > 0
		}
		if !any && ls.missing != nil {
			return nil, NoWay, &PassageError{DistanceNM: p.course.legs[k].startM / units.MPerNM, Err: ls.missing}
		}
		if !any {
			return nil, NoWay, nil
		}
	}
	var final []*label
	for _, set := range sets {
		final = append(final, set...)
	}
	slices.SortStableFunc(final, earlier)
	return final, Found, nil
}

func earlier(a, b *label) int { return cmp.Compare(a.t, b.t) }

// errBudget ends a search that makes too many labels.
var errBudget = errors.New("strategy: too many labels")

// wayIn is one way into a stage in a state: from a label, with the change not
// beginning before startS. before is what the tally comes to once the change
// is done, with t the moment at which a boat without it would be level.
type wayIn struct {
	from   *label
	startS float64
	before tally
	lo     float64
}

// waysIn are the ways into a stage in one state.
type waysIn struct {
	all  []wayIn
	last int // the one that ruled out another last: it will often do so again
}

type labelSearch struct {
	p     *Problem
	allow Allowed
	cut   *ladder
	ways  []waysIn // by state
	left  int      // labels that may still be made; 0: no limit
	// missing is the first gap in the weather that was met. What needs the
	// weather there is dropped: it comes later than what does not.
	missing error
}

// skip drops a way for which the weather is missing.
func (ls *labelSearch) skip(err error) {
	if ls.missing == nil {
		ls.missing = err
	}
}

// stage carries all labels over one stage.
func (ls *labelSearch) stage(ctx context.Context, n int, sets, next [][]*label) error {
	p := ls.p
	l := &p.course.legs[n]
	var order []*label
	for _, set := range sets {
		for _, x := range set {
			if d := ls.cut.level(x.changes); d == nil || x.t <= d.leave[n] {
				order = append(order, x)
			}
		}
	}
	slices.SortStableFunc(order, earlier)
	for s := range ls.ways {
		ls.ways[s] = waysIn{all: ls.ways[s].all[:0]}
	}
	for _, x := range order {
		ls.into(l, n, x, int(x.state), x.t)
	}
	for _, x := range order {
		if err := ctx.Err(); err != nil {
			return err
		}
		ls.changes(l, n, x)
	}
	for s1 := range ls.ways {
		ways := ls.ways[s1].all
		slices.SortStableFunc(ways, func(a, b wayIn) int { return cmp.Compare(a.before.t, b.before.t) })
		for i := range ways {
			w := &ways[i]
			if ls.ruledOutBefore(ways[:i], w) {
				continue
			}
			if ls.left > 0 {
				if ls.left--; ls.left == 0 {
					return errBudget
				}
			}
			x := &label{tally: w.from.tally, parent: w.from, state: int32(s1), startS: w.startS}
			if _, err := p.step(n, &x.tally, int(w.from.state), s1, w.startS, nil); err != nil {
				ls.skip(err)
				continue
			}
			if !x.broken {
				next[s1] = p.insert(next[s1], x)
			}
		}
	}
	return nil
}

// changes lists the changes from a label at the start of a stage.
func (ls *labelSearch) changes(l *leg, n int, x *label) {
	p := ls.p
	s := &l.steps[0]
	k := p.index(x.t)
	q0, b := p.paceIn(s, k, int(x.state))
	if q0 == nil {
		ls.skip(b.err)
		return
	}
	lb := p.lowerBound(s, k, b, q0, int(x.state), x.t)
	rest := p.person.RestS > 0 && p.safeIn(s, k, b, int(x.state), q0)
	cut := ls.cut.level(x.changes + 1)
	least := x.tally // at a change to any state
	least.changes++
	least.ready = math.Max(x.t, x.ready) + p.person.SpacingS
	least.gap = x.t
	for s1 := range ls.ways {
		if s1 == int(x.state) || !cut.open(n, s1, x.t) || (ls.allow != nil && !ls.allow(n, p.states.all[s1])) {
			continue
		}
		if least.t = lb.to(s1); ls.ruledOut(s1, &least) {
			continue
		}
		from, err := p.earliest(l, &x.tally, int(x.state), s1, x.t)
		if err != nil {
			ls.skip(err)
			continue
		}
		if math.IsInf(from, 1) {
			continue
		}
		ls.into(l, n, x, s1, from)
		if !rest {
			continue
		}
		// Resting on until the nap counts, or until a quota is reached.
		for _, until := range ls.restUntil(x, from) {
			at, err := p.earliest(l, &x.tally, int(x.state), s1, until)
			if err != nil {
				ls.skip(err)
			} else if !math.IsInf(at, 1) {
				ls.into(l, n, x, s1, at)
			}
		}
	}
}

// changeRoomS is what a change is given room for when the 24 hours before it
// hold too little rest.
const changeRoomS = 900

// longestRestWaitS bounds the waits that are tried to complete a rest.
const longestRestWaitS = 2 * units.SPerHour

// restUntil lists the moments after from that complete a nap or a quota.
func (ls *labelSearch) restUntil(x *label, from float64) (out []float64) {
	p := ls.p
	r := &p.person
	if nap := x.gap + r.NapS; nap > from && nap < from+longestRestWaitS {
		out = append(out, nap)
	}
	for _, need := range p.restedAt(&x.tally, changeRoomS) {
		if need > from && need < from+longestRestWaitS {
			out = append(out, need)
		}
	}
	return out
}

// into adds a way into a stage.
func (ls *labelSearch) into(l *leg, n int, x *label, s1 int, startS float64) {
	p := ls.p
	if ls.allow != nil && !ls.allow(n, p.states.all[s1]) {
		return
	}
	changes := x.changes
	if s1 != int(x.state) {
		changes++
	}
	if !ls.cut.level(changes).open(n, s1, startS) {
		return
	}
	w := wayIn{from: x, startS: startS, before: x.tally}
	var pr Price
	k := p.index(startS)
	g, err := p.beginAt(l, k, int(x.state), s1, startS, false, &pr)
	if err != nil {
		ls.skip(err)
		return
	}
	w.lo = g.t
	if pr.n > 0 {
		end := g.startS + pr.TimeS
		if p.person.RestS > 0 {
			p.busy(&w.before, g.startS, end)
		}
		w.before.gap = end
		w.before.ready = end + p.person.SpacingS
		w.before.changes++
		if d := p.day(g.startS); d != w.before.day {
			w.before.day, w.before.effort = d, 0
		}
		w.before.effort += countedJ(pr.EffortJ)
	}
	w.before.t = g.t
	// Where the next interval's price or turn may count, the order is open.
	if p.mayWait(l, k+1, int(x.state), s1, startS, math.Max(g.t-startS, 0)) {
		w.lo = math.Inf(-1)
	}
	if w.before.broken {
		return
	}
	y := w.before
	if y.t = w.lo; ls.ruledOut(s1, &y) {
		return
	}
	ls.ways[s1].all = append(ls.ways[s1].all, w)
}

// ruledOut reports whether a way into a stage that comes to y at the best is
// dominated by another.
func (ls *labelSearch) ruledOut(s1 int, y *tally) bool {
	ways := &ls.ways[s1]
	if ways.last < len(ways.all) && ls.rulesOut(&ways.all[ways.last], y) {
		return true
	}
	for i := range ways.all {
		if ls.rulesOut(&ways.all[i], y) {
			ways.last = i
			return true
		}
	}
	return false
}

func (ls *labelSearch) rulesOut(a *wayIn, y *tally) bool {
	return (a.before.t < y.t || (a.before.t == y.t && a.lo == a.before.t)) && ls.p.dominates(&a.before, y)
}

// ruledOutBefore reports whether a way is dominated by one of those before it:
// of two equal ones the first stays.
func (ls *labelSearch) ruledOutBefore(before []wayIn, w *wayIn) bool {
	y := w.before
	y.t = w.lo
	for i := range before {
		if before[i].before.t <= w.lo && ls.p.dominates(&before[i].before, &y) {
			return true
		}
	}
	return false
}
