package strategy

import (
	"math"
	"math/bits"

	"foilledger/vpp"
	"foilledger/weather"
)

// rests reports whether interval k lies in a given rest.
func (p *Problem) rests(k int) bool {
	t0, t1 := float64(k)*p.course.binS, float64(k+1)*p.course.binS
	for _, w := range p.person.Rests {
		if t0 < w.ToS && t1 > w.FromS {
			return true
		}
	}
	return false
}

// restEnd returns the first moment from t on at which a change that takes
// takesS meets no given rest.
func (p *Problem) restEnd(t, takesS float64) float64 {
	if len(p.person.Rests) == 0 {
		return t
	}
	for moved := true; moved; {
		moved = false
		for _, w := range p.person.Rests {
			from := math.Floor(w.FromS/p.course.binS) * p.course.binS
			to := math.Ceil(w.ToS/p.course.binS) * p.course.binS
			if t < to && t+takesS > from {
				t, moved = to, true
			}
		}
	}
	return t
}

// members is a set of forecast members, one bit each; nil is all of them.
type members []uint64

// and returns the members that are in both sets.
func (m members) and(o members) members {
	switch {
	case o.covers(m):
		return m
	case m.covers(o):
		return o
	}
	out := make(members, len(m))
	for i := range m {
		out[i] = m[i] & o[i]
	}
	return out
}

// covers reports whether every member of o is in m.
func (m members) covers(o members) bool {
	if m == nil {
		return true
	}
	if o == nil {
		return false
	}
	for i := range m {
		if o[i]&^m[i] != 0 {
			return false
		}
	}
	return true
}

// share is the part of all members that are in a set.
func (p *Problem) share(m members) float64 {
	if m == nil {
		return 1
	}
	n := 0
	for _, w := range m {
		n += bits.OnesCount64(w)
	}
	return float64(n) / float64(len(p.opt.Members))
}

// enough reports whether as many members are in a set as must hold.
func (p *Problem) enough(m members) bool { return p.share(m) >= or(p.opt.Probability, 1)-1e-9 }

// safeIn reports whether a foil state may be left alone in a piece in interval
// k: in its gusts and sea the boat keeps within the limits without anybody
// slowing it.
func (p *Problem) safeIn(s *step, k int, b *bin, state int, q *binPace) bool {
	if p.opt.anyState {
		return true
	}
	if b.safe == nil {
		b.safe = make([]int8, len(p.states.all))
	}
	if b.safe[state] == 0 {
		b.safe[state] = -1
		if len(p.opt.Members) == 0 && p.gustHolds(s, b.smp, state, q) || len(p.opt.Members) > 0 && p.enough(p.askMembers(s, k, b, state, q)) {
			b.safe[state] = 1
		}
	}
	return b.safe[state] > 0
}

// holders returns the members in which a foil state may be left alone in a piece
// in interval k.
func (p *Problem) holders(s *step, k int, b *bin, state int, q *binPace) members {
	if len(p.opt.Members) == 0 || p.opt.anyState {
		return nil
	}
	p.safeIn(s, k, b, state, q)
	return b.holders[state]
}

// askMembers finds out what the members say of a foil state in a piece, and
// keeps it. Those that know nothing of the place do not count as holding.
func (p *Problem) askMembers(s *step, k int, b *bin, state int, q *binPace) members {
	if b.holders == nil {
		b.holders = make([]members, len(p.states.all))
	}
	at := (float64(k) + 0.5) * p.course.binS
	n := len(p.opt.Members)
	set := make(members, (n+63)/64)
	good := 0
	for i, m := range p.opt.Members {
		first, last := m.SpanS()
		smp, err := m.At(s.mid[0], s.mid[1], math.Min(math.Max(at, first), last))
		if err == nil && p.gustHolds(s, smp, state, q) {
			set[i/64] |= 1 << (i % 64)
			good++
		}
	}
	if good == n {
		set = nil
	}
	b.holders[state] = set
	return set
}

// gustHolds checks the state on the boards sailed in the gusts of a sample.
func (p *Problem) gustHolds(s *step, smp weather.Sample, state int, q *binPace) bool {
	sea := p.sea(smp)
	gust := or(p.opt.RestLimits.GustFactor, 1) * sea.twsMS
	if smp.GustMS > 0 {
		gust = math.Max(smp.GustMS, sea.twsMS)
	}
	rel := wrapPi(sea.windFromRad - s.courseRad)
	for _, starboard := range [2]bool{true, false} {
		twa := math.Abs(rel)
		if q.Zigzag {
			twa = q.TWARad
		} else if starboard != (rel >= 0) {
			continue
		}
		heading := sea.windFromRad - twa
		if !starboard {
			heading = sea.windFromRad + twa
		}
		l, w := p.states.roles(p.states.all[state], starboard)
		c := sea.condition(twa, heading)
		c.TWSMS = gust
		if !p.opt.RestLimits.allow(p.perf.At(l, w, c)) {
			return false
		}
	}
	return true
}

// allow reports whether a steady state keeps within the limits with nobody to
// slow the boat. Sails that are trimmed for the heel limit stay as they are.
func (r *RestLimits) allow(s vpp.Steady) bool {
	within := func(x, limit float64) bool { return limit == 0 || x <= limit*(1+1e-9) }
	switch s.RuledBy {
	case vpp.RuleFoilLoad, vpp.RuleBowImmersion, vpp.RuleOverpowered, vpp.RuleWind, vpp.RuleSea:
		return false
	}
	return s.OK && within(math.Abs(s.FoilLoadN), r.MaxFoilLoadN) && within(math.Abs(s.HeelRad), r.MaxHeelRad) &&
		within(s.BowImmersionsPerHour, r.MaxBowImmersionsPerHour)
}
