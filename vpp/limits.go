package vpp

import (
	"math"

	"foilledger/vpp/units"
)

// Limits: how a steady state is refused, or slowed by easing the sails.

// steadyState is a steady state after the limits.
type steadyState struct {
	node   node
	above  float64 // speed kept from above
	free   float64 // speed before limits
	share  float64 // of full power, < 1 when slowed
	slowed bool
	rule   int
}

// refusal tells which limit refuses the foils that are out, if one does.
func (s *Solver) refusal() (rule int, refused bool) {
	if !s.st.foils[0].out && !s.st.foils[1].out {
		return 0, false
	}
	l := &s.m.boat.Limits
	switch {
	case s.cond.TWSMS > l.MaxFoilsOutTWSMS:
		return ruleWind, true
	case s.cond.HsM > l.MaxFoilsOutHsM:
		return ruleSea, true
	}
	return 0, false
}

func (s *Solver) plainRule(b *balance) int {
	switch {
	case b.depower < s.m.boat.Rig.MinDepower:
		return ruleOverpowered
	case b.depower < 0.995:
		return ruleHeel
	}
	return ruleNone
}

// steady turns the marched curve into a steady state: first or last crossing,
// then limits. Foils out are refused in too much wind or sea; a boat whose gusts
// would overload the foil, or whose bow goes under too often, is slowed by easing
// the sails.
func (s *Solver) steady(out *steadyState, above bool) Status {
	*out = steadyState{share: 1}
	n := s.equilibria(s.eq[:])
	if n == 0 {
		first, last := s.ends()
		switch {
		case first == nil:
			return Unsolved
		case first.net[PowerFull] <= 0:
			out.rule = ruleNoGo
			return NoGo
		case last.net[PowerFull] > 0: // faster than the grid of speeds
			s.eq[0] = *last
			s.eq[0].jump = true
			out.rule = ruleGrid
		default:
			return Unsolved
		}
		n = 1
	}
	n = min(n, len(s.eq))
	out.above = s.eq[n-1].v
	out.node = s.eq[0]
	if above {
		out.node = s.eq[n-1]
	}
	if out.rule == ruleNone {
		out.rule = s.plainRule(&out.node.bal)
	}
	out.free = out.node.v
	if out.node.jump {
		if out.rule != ruleGrid {
			out.rule = ruleUnsteady
		}
		out.slowed = true
		v, held := out.node.v, false
		for _, k := range [...]float64{1 - 1e-6, 0.98, 0.95, 0.9, 0.85, 0.8} {
			if held = s.hold(&out.node, v*k, &out.share); held {
				break
			}
		}
		if !held {
			return Unsolved
		}
	}
	v, rule := s.slowed(&out.node, above)
	if rule != ruleNone && v < out.node.v {
		held := s.hold(&out.node, v, &out.share)
		if !held && above && n > 1 {
			// At that speed the boat falls back to its slower state.
			return s.steady(out, false)
		}
		held = held || s.holdBelow(out, 0.97*v)
		if held && rule == ruleFoilLoad {
			held = s.easeForGust(out)
		}
		if !held {
			return Unsolved
		}
		out.rule, out.slowed = rule, true
		out.above = min(out.above, out.node.v)
	}
	if r, refused := s.refusal(); refused {
		out.rule = r
		return Refused
	}
	return Solved
}

// holdBelow eases the sails until the boat is steady at speed v, or as little
// below it as there is a solution.
func (s *Solver) holdBelow(out *steadyState, v float64) bool {
	for _, k := range [...]float64{1, 0.96, 0.91, 0.82, 0.72, 0.62, 0.52} {
		if s.hold(&out.node, v*k, &out.share) {
			return true
		}
	}
	return false
}

func (s *Solver) ends() (first, last *node) {
	for i := range s.nodes {
		if s.nodes[i].ok {
			if first == nil {
				first = &s.nodes[i]
			}
			last = &s.nodes[i]
		}
	}
	return first, last
}

func (s *Solver) immersionsPerHour(b *balance, v float64) float64 {
	if s.cond.HsM <= 0 {
		return 0
	}
	return b.immersion * encounterHz(s.cond.HsM, s.cond.waveAngle(), v) * units.SPerHour
}

// slowestShare is how far below its free speed bow immersions may hold the boat.
const slowestShare = 0.6

// wouldSlow reports whether a limit slows the boat at nd; one more balance.
func (s *Solver) wouldSlow(nd *node) bool {
	l := &s.m.boat.Limits
	if s.immersionsPerHour(&nd.bal, nd.v) > l.MaxBowImmersionsPerHour {
		return true
	}
	if !s.st.foils[0].out {
		return false
	}
	if s.foilPeak(&nd.bal) > l.MaxFoilLoadN {
		return true
	}
	var b balance
	x := nd.x
	if _, ok := s.netAt(nd.v*l.GustFactor, nd.at, 1, &x, &b); !ok {
		return true
	}
	return s.foilPeak(&b) > l.MaxFoilLoadN
}

// slowed returns the speed to which limits hold the boat, and the limit. A boat
// that comes from below is held where the foil load first passes its limit, also
// when it would fall again at the speeds beyond: the crew does not sail through
// the overload. One that is there already only looks at its own gusts.
func (s *Solver) slowed(nd *node, above bool) (v float64, rule int) {
	l := &s.m.boat.Limits
	v = nd.v
	floor := slowestShare * nd.v
	if s.st.foils[0].out {
		from := s.nodes[0].v
		if above {
			from = v
		}
		if u := s.slowedByLoad(nd, from); u < v {
			v, rule = u, ruleFoilLoad
		}
	}
	rate := s.immersionsPerHour(&nd.bal, nd.v)
	if rate > l.MaxBowImmersionsPerHour {
		hv, hr := nd.v, rate
		at := floor
		for i := len(s.nodes) - 1; i >= 0; i-- {
			k := &s.nodes[i]
			if !k.ok || k.v >= hv {
				continue
			}
			r := s.immersionsPerHour(&k.bal, k.v)
			if r <= l.MaxBowImmersionsPerHour {
				at = k.v + (hv-k.v)*(l.MaxBowImmersionsPerHour-r)/(hr-r)
				break
			}
			hv, hr = k.v, r
			if hv < floor {
				break
			}
		}
		if at = max(at, floor); at < v {
			v, rule = at, ruleBowImmersion
		}
	}
	return v, rule
}

// hold eases the sails until the boat is steady at speed v: with the sails, keel
// and ballast of nd if they drive there, else with those of the surge curve just
// above or below v.
func (s *Solver) hold(nd *node, v float64, share *float64) bool {
	if s.holdWith(nd, nd.at, nd.x, v, share) {
		return true
	}
	for i := len(s.nodes) - 1; i >= 0; i-- {
		if k := &s.nodes[i]; k.ok && k.v <= v {
			if i+1 < len(s.nodes) && s.nodes[i+1].ok && s.holdWith(nd, s.nodes[i+1].at, s.nodes[i+1].x, v, share) {
				return true
			}
			return s.holdWith(nd, k.at, k.x, v, share)
		}
	}
	return false
}

func (s *Solver) holdWith(nd *node, at choice, x [nUnknown]float64, v float64, share *float64) bool {
	lo, hi := 0.0, 1.0
	var b balance
	s.m.prepare(&s.one, s.st, &s.cond, v)
	net := func(p float64) (float64, bool) {
		ok := s.balanceAt(&s.one, at, p, &x, &b)
		return b.net, ok
	}
	fh, ok := net(1)
	if !ok || fh < 0 {
		return false
	}
	fl, ok := net(0)
	if !ok || fl > 0 {
		return false
	}
	tol := 1e-8 * s.m.hull.w0
	for side := 0; hi-lo > 1e-13; {
		p := (lo*fh - hi*fl) / (fh - fl)
		f, ok := net(p)
		if !ok {
			return false
		}
		if math.Abs(f) < tol {
			nd.v, nd.at, nd.x, nd.bal, nd.net[PowerFull] = v, at, x, b, f
			*share = p
			return true
		}
		if f > 0 {
			hi, fh = p, f
			if side == 1 {
				fl /= 2
			}
			side = 1
		} else {
			lo, fl = p, f
			if side == -1 {
				fh /= 2
			}
			side = -1
		}
	}
	return false
}
