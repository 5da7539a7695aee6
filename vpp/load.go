package vpp

import (
	"cmp"
	"math"
	"slices"
)

// The limit on the foil's load: how fast a boat may sail so that a gust keeps
// within it.

// foilPeak is the foil load that the crew counts on: mean and waves.
func (s *Solver) foilPeak(b *balance) float64 {
	return b.foilN + s.m.boat.Limits.WaveLoadDeviations*b.foilRms
}

// loadStepMS is the step in which the foil load is followed down the curve.
const loadStepMS = 0.15

// loadKnot is the foil load, waves counted, at one speed.
type loadKnot struct{ v, n float64 }

// addLoad puts a knot into the curve of loads, which rises in speed.
func (s *Solver) addLoad(k loadKnot) {
	i, found := slices.BinarySearchFunc(s.loads, k, func(a, b loadKnot) int { return cmp.Compare(a.v, b.v) })
	if found {
		s.loads[i] = k
		return
	}
	s.loads = slices.Insert(s.loads, i, k)
}

// loadCurve fills the curve of loads from the marched curve and the steady state.
func (s *Solver) loadCurve(nd *node) {
	s.loads = s.loads[:0]
	for i := range s.nodes {
		if k := &s.nodes[i]; k.ok {
			s.loads = append(s.loads, loadKnot{k.v, s.foilPeak(&k.bal)})
		}
	}
	if !nd.jump {
		s.addLoad(loadKnot{nd.v, s.foilPeak(&nd.bal)})
	}
}

// peakLoad is the greatest foil load between two speeds; straight between the
// knots of the curve, held beyond.
func (s *Solver) peakLoad(from, to float64) float64 {
	peak := 0.0
	for i := 1; i < len(s.loads); i++ {
		p, k := s.loads[i-1], s.loads[i]
		if a, b := max(from, p.v), min(to, k.v); a <= b {
			slope := (k.n - p.n) / (k.v - p.v)
			peak = max(peak, p.n+slope*(a-p.v), p.n+slope*(b-p.v))
		}
	}
	if n := len(s.loads); n > 0 && from > s.loads[n-1].v {
		peak = s.loads[n-1].n
	}
	return peak
}

// heldByLoad is the highest speed, up to v, whose gust keeps within the load limit
// on the curve of loads; what lies above from is sailed through on the way.
func (s *Solver) heldByLoad(v, from float64) float64 {
	l := &s.m.boat.Limits
	over := func(v float64) bool { return s.peakLoad(min(from, v), v*l.GustFactor) > l.MaxFoilLoadN }
	if !over(v) {
		return v
	}
	lo := v
	for lo > s.nodes[0].v && over(lo) {
		lo -= loadStepMS
	}
	hi := lo + loadStepMS
	for range 20 {
		if mid := 0.5 * (lo + hi); over(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return max(lo, s.nodes[0].v)
}

const (
	// loadBend is how far below the limit, as a share of it, the straight line
	// between two knots is trusted: the load between them may bend over it.
	loadBend = 0.85
	// loadTolMS is how well the speed at which the load limit holds is solved.
	loadTolMS = 2e-3
	// gustTol is by how much of the limit the load in a gust may pass it.
	gustTol = 2e-3
)

// slowedByLoad is the speed at which the load limit holds the steady state nd. The
// gust is solved with the sails in use and becomes a knot of the curve, until it
// no longer moves the speed.
func (s *Solver) slowedByLoad(nd *node, from float64) float64 {
	l := &s.m.boat.Limits
	s.loadCurve(nd)
	v := s.heldByLoad(nd.v, from)
	for range 8 {
		g := v * l.GustFactor
		if s.peakLoad(g, g) < loadBend*l.MaxFoilLoadN || g > s.nodes[len(s.nodes)-1].v {
			break
		}
		x := nd.x
		for i := range s.nodes {
			if k := &s.nodes[i]; k.ok && k.v <= g && k.v >= nd.v {
				x = k.x
			}
		}
		var b balance
		if _, ok := s.netAt(g, nd.at, 1, &x, &b); !ok {
			break
		}
		s.addLoad(loadKnot{g, s.foilPeak(&b)})
		u := s.heldByLoad(nd.v, from)
		if math.Abs(u-v) < loadTolMS {
			return min(u, v)
		}
		v = u
	}
	return v
}

// easeForGust slows a held boat further while a gust overloads the foil with the
// sails, keel and ballast by which it is held: they need not be those of the curve
// of loads.
func (s *Solver) easeForGust(out *steadyState) bool {
	l := &s.m.boat.Limits
	nd := &out.node
	var pv, pn float64 // the last speed and load
	for range 10 {
		var b balance
		x := nd.x
		if _, ok := s.netAt(nd.v*l.GustFactor, nd.at, 1, &x, &b); !ok {
			return true
		}
		v, n := nd.v, s.foilPeak(&b)
		over := n/l.MaxFoilLoadN - 1
		if over <= gustTol {
			return true
		}
		step := 0.5 * over // load grows about as V²
		if pv > 0 && pn > n {
			step = (n - l.MaxFoilLoadN) * (pv - v) / (pn - n) / v
		}
		pv, pn = v, n
		if !s.holdBelow(out, v*(1-min(max(step, gustTol), 0.06))) {
			return false
		}
	}
	return true
}
