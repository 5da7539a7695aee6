package vpp

import "math"

// corner is a grid point of the cell around a point of the finer grid, and its
// weight in linear interpolation.
type corner struct {
	*seed
	w float64
}

// weigh sets the weights of the corners of a cell, in the order sea (if seas),
// wind speed, angle, at the place h, w, a (0..1) in it.
func weigh(around []corner, seas bool, h, w, a float64) {
	for i := range around {
		k := 1.0
		for bit, x := range [...]float64{a, w, h} {
			switch {
			case bit == 2 && !seas:
			case i>>bit&1 == 1:
				k *= x
			default:
				k *= 1 - x
			}
		}
		around[i].w = k
	}
}

// between is the steady speed at c, near slow, with the best of the choices of the
// seeds around, and the rungs of keel and ballast between those; then the limits.
func (s *Solver) between(c Condition, f FoilSetting, around []corner, slow float64) float64 {
	s.set(c, f, FoilSetting{})
	lowest, highest := math.Inf(1), 0.0
	more := int16(0) // where the sails change, so may keel and ballast
	var one, nearest *corner
	freer, weight := 0.0, 0.0 // how much faster the boat were without limits
	for i := range around {
		a := &around[i]
		if !a.ok {
			continue
		}
		if one != nil && a.at.sail != one.at.sail {
			more = 1
		}
		if nearest == nil || a.w > nearest.w {
			nearest = a
		}
		one = a
		lowest, highest = min(lowest, a.v), max(highest, a.v)
		freer += a.w * (a.v - a.slow)
		weight += a.w
	}
	v := slow
	if weight > 0 {
		v += freer / weight
	}
	v = min(max(v, lowest), highest)
	var best node
	over := true
	try := func(at choice) {
		nd := node{v: v, x: startOf(around, nearest, at), at: at}
		if best.v > 0 {
			// Only what drives the boat on from there is worth a solution. It brakes there
			// all the more when a better one has been found in between.
			nd.v = best.v
			least := math.Inf(-1)
			if !over {
				least = 1e-5 * s.m.hull.w0
			}
			if at == best.at || !s.fullAt(&nd, nd.v, least) || nd.bal.net < least {
				return
			}
		}
		if !s.settle(&nd) {
			return
		}
		o := nd.bal.depower < s.m.boat.Rig.MinDepower
		if over && !o || over == o && nd.v > best.v+fineTol {
			best, over = nd, o
		}
	}
	try(nearest.at)
	for i := range around {
		a := &around[i]
		lo, hi, first := a.at.rung, a.at.rung, a.ok
		for j := range around {
			if b := &around[j]; b.ok && b.at.sail == a.at.sail {
				first = first && j >= i
				lo, hi = min(lo, b.at.rung), max(hi, b.at.rung)
			}
		}
		for r := lo - more; first && r <= hi+more; r++ {
			if at := (choice{a.at.sail, r}); at != nearest.at && s.allowed(at) {
				try(at)
			}
		}
	}
	if best.v == 0 {
		return slow
	}
	// Another branch than that of the seeds is not for here: the speed jumps there,
	// and is left to the points of the grid.
	if reach := 0.6 + 0.5*(highest-lowest); best.v < lowest-reach || best.v > highest+reach {
		return slow
	}
	loaded := 0
	lowest, highest = math.Inf(1), 0
	for i := range around {
		a := &around[i]
		if a.load {
			loaded++
		}
		lowest, highest = min(lowest, a.slow), max(highest, a.slow)
	}
	if loaded == len(around) {
		return slow // all held by the foil's load: that speed varies little
	}
	w := s.limited(&best, around, slow)
	if reach := 0.3 + 0.3*(highest-lowest); w < lowest-reach || w > highest+reach {
		return slow
	}
	return w
}

// startOf is a start for the balances with a choice: the mean of the seeds that
// have it, or have its sails, or of the nearest.
func startOf(around []corner, nearest *corner, at choice) [nUnknown]float64 {
	for _, rungs := range [...]bool{true, false} {
		var x [nUnknown]float64
		sum := 0.0
		for i := range around {
			a := &around[i]
			if !a.ok || a.at.sail != at.sail || rungs && a.at.rung != at.rung {
				continue
			}
			k := a.w + 1e-3
			sum += k
			for j := range x {
				x[j] += k * a.x[j]
			}
		}
		if sum > 0 {
			for j := range x {
				x[j] /= sum
			}
			return x
		}
	}
	return nearest.x
}

// fullAt solves the balances at speed v with the choice of nd at full power; a net
// force below least need not be good.
func (s *Solver) fullAt(nd *node, v, least float64) bool {
	s.m.prepare(&s.one, s.st, &s.cond, v)
	t := s.task(&s.one, nd.at, 1)
	t.quick, t.least = true, least
	n, ok := t.solve(&nd.x, &nd.bal)
	s.Evaluations += n
	return ok
}

// fineTol is how well a speed between the grid points is solved, m/s.
const fineTol = 1e-3

// joint solves the four balances and the net force together for the speed near
// nd, by Newton's method on five unknowns. The derivatives against speed come from
// one difference at the start and from the steps after it. It gives up, leaving nd
// in disorder, when a step is large, the net force does not fall with speed, or
// convergence is slow.
func (s *Solver) joint(nd *node) bool {
	t := s.task(&s.one, nd.at, 1)
	at := func(v float64, b *balance) {
		s.m.prepare(&s.one, s.st, &s.cond, v)
		t.evaluate(&nd.x, b, nil)
		s.Evaluations++
	}
	var old balance
	b := &nd.bal
	dv := 1e-4 * nd.v
	at(nd.v+dv, &old)
	at(nd.v, b)
	var rv [nUnknown]float64 // residuals against speed
	for i := range rv {
		rv[i] = (old.res[i] - b.res[i]) / dv
	}
	xv := (old.net - b.net) / dv
	for range 9 {
		a, ok := linSolve(&b.jac, &b.res)
		c, ok2 := linSolve(&b.jac, &rv)
		if !ok || !ok2 {
			return false
		}
		net, slope := b.net, xv
		for i := range a {
			net -= b.dnt[i] * a[i]
			slope -= b.dnt[i] * c[i]
		}
		if !(slope < 0) {
			return false
		}
		dv = -net / slope
		if !(math.Abs(dv) < 0.1*nd.v) {
			return false
		}
		var dx [nUnknown]float64
		for i := range dx {
			dx[i] = -a[i] - c[i]*dv
			if lim := stepLimit[i]; !(math.Abs(dx[i]) < 2*lim) {
				return false
			}
			nd.x[i] += dx[i]
		}
		nd.v += dv
		if math.Abs(dv) < 0.3*fineTol && norm(&b.res) < 1e-9 {
			return true
		}
		old = *b
		at(nd.v, b)
		if math.Abs(dv) < 1e-5 {
			continue
		}
		xv = (b.net - old.net) / dv
		for i := range rv {
			rv[i] = (b.res[i] - old.res[i]) / dv
			for j := range dx {
				rv[i] -= 0.5 * (old.jac[i][j] + b.jac[i][j]) * dx[j] / dv
			}
			xv -= 0.5 * (old.dnt[i] + b.dnt[i]) * dx[i] / dv
		}
	}
	return false
}

// settle finds the speed near nd at which the net force of its choice vanishes,
// falling.
func (s *Solver) settle(nd *node) bool {
	lo, hi := s.nodes[0].v, s.nodes[len(s.nodes)-1].v
	if quick := *nd; s.joint(&quick) && quick.v > lo && quick.v < hi && math.Abs(quick.v-nd.v) < 0.15*nd.v {
		*nd = quick
		return true
	}
	v := nd.v
	slope := -0.06 * s.m.hull.w0 // per m/s: drag grows about as V²
	pv, pf := 0.0, 0.0
	for range 16 {
		if !s.fullAt(nd, v, math.Inf(-1)) {
			return false
		}
		f := nd.bal.net
		if pv > 0 && v != pv {
			slope = (f - pf) / (v - pv)
		}
		if f > 0 {
			lo = v
		} else {
			hi = v
		}
		pv, pf = v, f
		next := v - f/slope
		reach := 0.08 * v
		switch {
		case !(slope < 0): // no stable branch here: on, the way the boat goes
			next = v + math.Copysign(reach, f)
		case math.Abs(next-v) > reach:
			next = v + math.Copysign(reach, f)
		}
		if !(next > lo && next < hi) {
			next = 0.5 * (lo + hi)
		}
		if slope < 0 && math.Abs(next-v) < fineTol {
			nd.v = next
			return true
		}
		v = next
	}
	return false
}

// limited is the speed to which the limits on foil load and bow immersions hold
// the steady state nd. slow is near that speed where the load limit rules the
// seeds around.
func (s *Solver) limited(nd *node, around []corner, slow float64) float64 {
	l := &s.m.boat.Limits
	free, v := nd.v, nd.v
	// fall finds where an excess that grows with speed vanishes, from u.
	fall := func(nd *node, u float64, excess func() float64) (float64, bool) {
		pu, pe := 0.0, 0.0
		for range 12 {
			if !s.fullAt(nd, u, math.Inf(-1)) {
				return 0, false
			}
			e := excess()
			step := math.Copysign(0.02*u, e)
			if pu > 0 {
				k := (e - pe) / (u - pu)
				if !(k > 0) {
					return 0, false
				}
				step = min(max(e/k, -0.1*u), 0.1*u)
			}
			pu, pe = u, e
			u -= step
			if math.Abs(step) < fineTol {
				return u, true
			}
		}
		return 0, false
	}
	rate := func() float64 { return s.immersionsPerHour(&nd.bal, s.one.v) - l.MaxBowImmersionsPerHour }
	if rate() > 0 { // the balances are those next to the steady state
		if u, ok := fall(nd, free, rate); ok {
			v = min(v, u)
		}
	}
	if s.st.foils[0].out {
		gust := l.GustFactor
		k := node{x: nd.x, at: nd.at}
		excess := func() float64 { return s.foilPeak(&k.bal)/l.MaxFoilLoadN - 1 }
		for i := range around {
			a := &around[i]
			if !a.load {
				continue
			}
			k.x, k.at = a.with, a.hold
			if u, ok := fall(&k, min(slow, free)*gust, excess); ok {
				v = min(v, u/gust)
				break
			}
		}
		// A boat that sails on at the same angles would meet the square of the gust; it
		// rises and meets less.
		near := s.foilPeak(&nd.bal)*gust*gust > l.MaxFoilLoadN
		if k.x, k.at = nd.x, nd.at; v == free && near && s.fullAt(&k, free*gust, math.Inf(-1)) && excess() > 0 {
			if u, ok := fall(&k, free*gust, excess); ok {
				v = min(v, u/gust)
			}
		}
	}
	return max(v, slowestShare*free)
}
