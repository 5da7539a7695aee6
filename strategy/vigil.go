package strategy

import "math"

// A schedule's time without rest is kept as spans. Whatever of 24 hours they do
// not cover is rest: every gap between two of them is a nap of NapS or longer.
// The rest in 24 hours is least where these end with a span without rest, so
// that a look at the end of every span covers every moment.

// vigil is a span without rest.
type vigil struct {
	fromS, toS float64
	sumS       float64 // time without rest since the departure, this span included
	before     *vigil
}

// awakeSince is the time without rest since time u, up to the gap.
func (y *tally) awakeSince(u float64) float64 {
	s := &y.last
	for s != nil && u < s.fromS {
		s = s.before
	}
	return y.awakeFrom(s, u)
}

// pass moves a tally's clock on to t, with nothing to do until then.
func (p *Problem) pass(y *tally, t float64) {
	if first := p.DepartS + dayS; p.person.RestS > 0 && y.t < first && t >= first {
		p.checkRest(y, first)
	}
	y.t = t
}

// checkRest checks the 24 hours that end at endS.
func (p *Problem) checkRest(y *tally, endS float64) {
	if y.awakeSince(endS-dayS) > dayS-p.person.RestS+1e-6 {
		y.breaks(BarRest)
	}
}

// busy ends a gap at t0 with something to do until t1.
func (p *Problem) busy(y *tally, t0, t1 float64) {
	if p.person.RestS <= 0 {
		y.t, y.gap = t1, t1
		return
	}
	p.pass(y, t0)
	if t0-y.gap < p.person.NapS { // too short for a nap
		y.last.sumS += t1 - y.last.toS
		y.last.toS = t1
	} else {
		before := y.last
		y.last = vigil{t0, t1, before.sumS + t1 - t0, &before}
	}
	y.t, y.gap, y.hold = t1, t1, nil
	if t1 >= p.DepartS+dayS {
		p.checkRest(y, t1)
	}
}

// arrive ends a tally: a nap that has just begun does not count.
func (p *Problem) arrive(y *tally) {
	if p.person.RestS > 0 && y.t-y.gap < p.person.NapS {
		p.busy(y, y.t, y.t)
	}
}

// watch follows a tally along a stage as it is sailed.
type watch struct {
	p *Problem
	y *tally
}

func (w *watch) sailed(s *step, k, state int, t0, t1, _, lengthM float64, b *bin, q *binPace, boardS float64) {
	p, y := w.p, w.y
	if t0 = max(t0, y.t); t1 <= t0 {
		return // while the foils are changed
	}
	p.leftAlone(y, s, k, b, state, q)
	switch {
	case p.person.RestS <= 0:
		y.t = t1
		return
	case !p.idle(s, k, b, state, q, lengthM, boardS):
		p.busy(y, t0, t1)
		return
	}
	if p.momentary {
		p.pass(y, t1)
		return
	}
	here := p.holders(s, k, b, state, q)
	if y.hold = y.hold.and(here); !p.enough(y.hold) {
		// They would not hold from the nap's beginning to here in enough
		// members: up, and a look whether the state may stay for another one.
		p.busy(y, t0, t0)
		y.hold = here
	}
	p.pass(y, t1)
}

// idle reports whether there is nothing to do in a piece.
func (p *Problem) idle(s *step, k int, b *bin, state int, q *binPace, lengthM, boardS float64) bool {
	if boardS > 0 && !(q.Zigzag && lengthM > 0 && q.ChangesPerS*p.person.NapS <= 1) {
		return false
	}
	return p.safeIn(s, k, b, state, q)
}

// jointly reports whether foils must hold through whole rests in a share of the
// members. An earlier boat can be worse off then: of two of the same state the
// search keeps the earlier one if it holds in all the members of the other, and
// does not try to let it wait for the other's weather.
func (p *Problem) jointly() bool {
	return (len(p.person.Rests) > 0 || p.person.RestS > 0) && len(p.opt.Members) > 0 && !p.opt.anyState && !p.momentary
}

// restsOverMembers reports whether given rests are among those.
func (p *Problem) restsOverMembers() bool { return len(p.person.Rests) > 0 && p.jointly() }

// leftAlone follows the members through a given rest: the state that is left on
// must hold in enough of them from its beginning to its end. Where the boat is
// stopped there is nothing to hold.
func (p *Problem) leftAlone(y *tally, s *step, k int, b *bin, state int, q *binPace) {
	switch {
	case !p.restsOverMembers():
	case !p.rests(k):
		y.given = nil
	case q.AlongMS > 0:
		if y.given = y.given.and(p.holders(s, k, b, state, q)); !p.enough(y.given) {
			y.breaks(BarRest)
		}
	}
}

// waiting follows a tally while the boat waits at the start of a leg.
func (p *Problem) waiting(l *leg, state int, y *tally, t0, t1 float64) {
	w := watch{p, y}
	s := &l.steps[0]
	p.intervals(t0, t1, func(k int, from, to float64) {
		if q, b := p.paceIn(s, k, state); q != nil {
			w.sailed(s, k, state, from, to, 0, 0, b, q, 0)
		}
	})
	y.t = t1
}

// intervals cuts a span at the intervals of the weather.
func (p *Problem) intervals(t0, t1 float64, f func(k int, from, to float64)) {
	for k := p.index(t0); t0 < t1; k++ {
		to := math.Min(t1, float64(k+1)*p.course.binS)
		if to > t0 {
			f(k, t0, to)
			t0 = to
		}
	}
}

// noLessRested reports whether whoever rests as a does is as well rested as b
// whatever follows, but for a slack.
func (p *Problem) noLessRested(a, b *tally) bool {
	r := &p.person
	slack := r.slack()
	if min(a.gap, a.t-r.NapS) > min(b.gap, b.t-r.NapS)+slack || !a.hold.covers(b.hold) {
		return false
	}
	// Windows of 24 hours that begin before this hold enough rest already.
	from := max(p.DepartS, b.t-dayS)
	need := r.RestS
	for s := &a.last; s.before != nil; s = s.before {
		if nap := s.fromS - s.before.toS; nap >= need {
			from = max(from, s.fromS-need)
			break
		} else {
			need -= nap
		}
	}
	// The difference is greatest at the start of a span of a or the end of one
	// of b.
	if a.awakeSince(from) > b.awakeSince(from)+slack {
		return false
	}
	at := &b.last // the span of b at or before the moment
	for s := &a.last; s != nil && s.fromS > from; s = s.before {
		for at != nil && s.fromS < at.fromS {
			at = at.before
		}
		if a.last.sumS-s.sumS+s.toS-s.fromS > b.awakeFrom(at, s.fromS)+slack {
			return false
		}
	}
	at = &a.last
	for s := &b.last; s != nil && s.toS > from; s = s.before {
		for at != nil && s.toS < at.fromS {
			at = at.before
		}
		if a.awakeFrom(at, s.toS) > b.last.sumS-s.sumS+slack {
			return false
		}
	}
	return true
}

// awakeFrom is awakeSince for a moment u of which the span at or before it is
// known.
func (y *tally) awakeFrom(at *vigil, u float64) float64 {
	if at == nil {
		return y.last.sumS
	}
	return y.last.sumS - at.sumS + max(0, at.toS-u)
}

// restedAt lists the moments at which the 24 hours that begin with a span
// without rest come to enough rest, if nothing is done until then, and the one
// from which a change of settleS is possible again.
func (p *Problem) restedAt(y *tally, settleS float64) (out []float64) {
	r := &p.person
	for s := &y.last; s != nil && s.toS > y.t-dayS; s = s.before {
		out = append(out, s.fromS+y.awakeSince(s.fromS)+r.RestS)
	}
	// As old spans leave the 24 hours.
	left := dayS - r.RestS - settleS
	for s := &y.last; s != nil; s = s.before {
		if d := s.toS - s.fromS; d < left {
			left -= d
			continue
		}
		return append(out, s.toS-left+dayS-settleS)
	}
	return out
}
