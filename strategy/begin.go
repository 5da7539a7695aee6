package strategy

import (
	"math"
)

// begun is one way to begin a stage. A change of foils puts the boat back by
// the time that it loses: from then on she is where a boat would be that has
// been in the new state all the while, and covers distance as that one does.
type begun struct {
	startS float64 // of the change
	t      float64 // when a boat without the change would have begun, after the turn
	turnS  float64
	boards float64
}

// sceneIn returns the scene in which changes at the start of a leg are priced
// in an interval. All states share it: where the boat beats or gybes down, the
// angle is that of the best speed made good with the foils in.
func (p *Problem) sceneIn(s *step, k int, b *bin) *scene {
	if b.scene != nil {
		return b.scene
	}
	twa := math.Abs(b.relRad)
	best, _ := p.perf.BestVMG(0, 0, b.sea.twsMS, b.sea.hsM, twa < math.Pi/2)
	if twa < math.Pi/2 {
		twa = math.Max(twa, best)
	} else {
		twa = math.Min(twa, best)
	}
	heading := b.sea.windFromRad - twa
	if b.relRad < 0 {
		heading = b.sea.windFromRad + twa
	}
	sc := p.prices.scene(b.sea.condition(twa, heading), b.relRad >= 0)
	if f := p.opt.night(); f != 1 {
		at := (float64(k) + 0.5) * p.course.binS
		if dark(s.mid, p.wx.Reference(), at) {
			sc.night, sc.slowWork = true, f
		}
	}
	b.scene = sc
	return sc
}

// ease is how far the leeward foil can be handled unloaded in a state at the
// start of a leg, 0…1, because it is the windward foil on the other board,
// which the boat is on just before or after, or now and then in a zigzag. A
// share of a quarter on the other board is enough to wait for it; below, the
// ease fades, so that the price changes smoothly as the wind shifts.
func (p *Problem) ease(s *step, k int, q *binPace, state int) float64 {
	other := math.Min(q.Starboard, 1-q.Starboard)
	if s.prev != nil {
		if before, _ := p.paceIn(s.prev, k, state); before != nil {
			other = math.Max(other, math.Abs(q.Starboard-before.Starboard)/2)
		}
	}
	return math.Min(1, 4*other)
}

// priceIn prices the change between two states at the start of a leg in
// interval k.
func (p *Problem) priceIn(s *step, k int, b *bin, s0, s1 int, q0, q1 *binPace, out *Price) {
	sc := p.sceneIn(s, k, b)
	a, z := p.states.all[s0], p.states.all[s1]
	ease := p.ease(s, k, q0, s0)
	sc.change(out, a, z, ease >= 0.5)
	if ease > 0 && ease < 1 {
		var other Price
		sc.change(&other, a, z, ease < 0.5)
		out.blend(&other, math.Min(ease, 1-ease))
	}
	// The price is through the water; along the course the boat makes good the
	// share that it makes good when sailing on, and the current.
	if q1.AlongMS > 0 {
		current, _ := b.sea.current(s.courseRad)
		out.DistanceM = math.Max(0, (out.TimeS-out.LostS)*(q1.AlongMS-current)+current*out.TimeS)
		// On a course that is beaten or gybed the scene's one angle suits the foils
		// in; a state that goes best at another is better than it looks there. No
		// change takes the boat further than sailing at the better of both paces.
		if most := out.TimeS * math.Max(q0.AlongMS, q1.AlongMS); out.DistanceM > most {
			out.addWorking((out.DistanceM - most) / q1.AlongMS)
			out.DistanceM = most
		}
		out.effectS = out.TimeS - out.DistanceM/q1.AlongMS
	} else {
		out.DistanceM, out.LostS, out.effectS = 0, out.TimeS, out.TimeS
	}
}

// beginAt begins a leg in interval k, at time t or, when that is later, at the
// interval's start. price, which must not be nil, is filled in when s0 ≠ s1
// and changes are not free.
func (p *Problem) beginAt(l *leg, k, s0, s1 int, t float64, free bool, price *Price) (begun, error) {
	s := &l.steps[0]
	g := begun{startS: math.Max(t, float64(k)*p.course.binS)}
	q1, b := p.paceIn(s, k, s1)
	if q1 == nil {
		return g, b.err
	}
	g.t = g.startS
	if s0 != s1 && !free {
		p.priceAt(l, k, b, s0, s1, q1, price)
		// Nothing is known of the weather before the departure.
		g.t = math.Max(g.t+price.effectS, p.DepartS)
	}
	g.turnS, g.boards = p.enter(s, k, s1)
	g.t += g.turnS
	return g, nil
}

// finish sails a leg that was begun and returns the arrival. A change that takes
// longer than its leg ends on the next one.
func (p *Problem) finish(l *leg, state int, g *begun, tr tracer) (run, error) {
	return p.sail(l, state, g.t, 0, tr)
}

// mayWait reports whether a boat at time t can come to less than lost by waiting
// for interval k with a change. A change to a state that is slower there can
// even gain on it, while the boat goes on in the faster one.
func (p *Problem) mayWait(l *leg, k, s0, s1 int, t, lost float64) bool {
	wait := float64(k)*p.course.binS - t
	if wait < lost {
		return true
	}
	if s0 == s1 || wait >= lost+longestGainS {
		return false
	}
	s := &l.steps[0]
	q0, b := p.paceIn(s, k, s0)
	q1, _ := p.paceIn(s, k, s1)
	if q0 == nil || q1 == nil || q1.AlongMS == 0 {
		return false
	}
	sc := p.sceneIn(s, k, b)
	a, z := p.states.all[s0], p.states.all[s1]
	ratio := q0.AlongMS / q1.AlongMS
	if v1 := sc.steady(sc.role(z)); v1 > stoppedMS {
		ratio = max(ratio, sc.steady(sc.role(a))/v1)
	}
	return wait < lost+longestGainS*(ratio-1)
}

// sailStage changes from s0 to s1 at the start of leg number n and sails it.
// The boat may wait for the next interval of the weather where the change or
// the turn is so much cheaper there; earlier is then never worse.
func (p *Problem) sailStage(n, s0, s1 int, t float64, free bool, record *Log) (Stage, error) {
	l := &p.course.legs[n]
	st := Stage{State: p.states.all[s1], DepartS: t, ArriveS: math.Inf(1)}
	var best begun
	var price Price
	var out run
	lost := math.Inf(1)
	first := p.index(t)
	for k := first; k == first || p.mayWait(l, k, s0, s1, t, lost); k++ {
		var pr Price
		g, err := p.beginAt(l, k, s0, s1, t, free, &pr)
		if err != nil {
			if k > first {
				break // no weather there: no waiting for it
			}
			return st, err
		}
		eff := g.t - t
		if k > first && (eff >= lost || (pr.n > 0 && p.restEnd(g.startS, pr.TimeS) > g.startS)) {
			continue
		}
		lost = math.Min(lost, eff)
		r, err := p.finish(l, s1, &g, nil)
		if err != nil {
			if k > first {
				continue
			}
			return st, err
		}
		if r.feasible && r.arriveS < st.ArriveS {
			best, price, out = g, pr, r
			st.ArriveS = r.arriveS
		}
	}
	if math.IsInf(st.ArriveS, 1) {
		return st, nil
	}
	if wait := best.startS - t; wait > 0 && price.n > 0 {
		price.WaitS = wait
		price.TimeS += wait
		price.LostS += wait
		price.effectS += wait
	}
	st.Change = price
	st.begun = best
	st.SailS, st.BoardS, st.HeldS, st.CalmS, st.Boards = out.sailS, out.boardS+best.turnS, out.heldS, out.calmS, out.boards+best.boards
	st.Starboard = p.starboard(l, best.startS)
	if record != nil {
		record.began(l, n, s0, s1, t, &best, &price)
		if _, err := p.finish(l, s1, &best, record); err != nil {
			return st, err
		}
		record.changed(l, s0, t, best.startS+price.TimeS-price.WaitS, &price)
	}
	return st, nil
}

// starboard reports whether the wind is from starboard at the start of a leg.
func (p *Problem) starboard(l *leg, t float64) bool {
	b := p.bin(&l.steps[0], p.index(t))
	return b.relRad >= 0
}
