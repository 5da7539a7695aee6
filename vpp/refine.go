package vpp

import (
	"context"
	"math"
)

// The speeds of a table stand on a finer grid than its surge curves: between the
// grid points only the steady speed is solved, which takes a fiftieth of the time
// of a curve, starting from the points around and with the sails, keel and ballast
// in use there. Where a limit rules one of them, or one has no steady state, the
// speed is interpolated between them.

// How many parts each interval of the grid is cut into.
const (
	fineHs  = 2
	fineTWS = 4
	fineTWA = 4
)

// fine is the grid of the speeds: each interval cut into parts.
func (g *Grid) fine() Grid {
	cut := func(x []float64, parts int) []float64 {
		var y []float64
		for i := range x {
			for k := 0; k < parts && (i+1 < len(x) || k == 0); k++ {
				v := x[i]
				if k > 0 {
					v += (x[i+1] - x[i]) * float64(k) / float64(parts)
				}
				y = append(y, v)
			}
		}
		return y
	}
	return Grid{TWSMS: cut(g.TWSMS, fineTWS), TWARad: cut(g.TWARad, fineTWA), HsM: cut(g.HsM, fineHs), VMS: g.VMS}
}

// seed is the steady state at a grid point before the limits that slow a boat
// down, as a start for those between.
type seed struct {
	v  float64
	x  [nUnknown]float64
	at choice
	ok bool // false also where the boat makes no way (v = 0)

	load bool // the foil's load holds the boat below v, at slow
	slow float64
	hold choice
	with [nUnknown]float64
}

// seedOf keeps the steady state just found, of which st is what limits leave.
func (s *Solver) seedOf(st *steadyState) seed {
	nd := &s.eq[0]
	plain := !st.slowed || st.rule == ruleFoilLoad || st.rule == ruleBowImmersion
	return seed{
		v: nd.v, x: nd.x, at: nd.at, ok: plain && !nd.jump,
		load: st.slowed && st.rule == ruleFoilLoad, slow: st.node.v, hold: st.node.at, with: st.node.x,
	}
}

// fillFine solves the speeds between the grid points for one leeward setting,
// along the iw-th interval of wind speed. It returns how many cells it did.
func (t *Table) fillFine(ctx context.Context, s *Solver, fine *Grid, coarse *surface3, l, iw int) (done int) {
	g := &t.data.Grid
	nh, nw, na := len(g.HsM), len(g.TWSMS), len(g.TWARad)
	fw, fa := len(fine.TWSMS), len(fine.TWARad)
	out := t.data.Fine[l*len(fine.HsM)*fw*fa:]
	seeds := t.seeds[l*nh*nw*na:]
	last := func(i, n, parts int) int { // the last interval has its end, too
		if i+1 >= n-1 {
			return parts
		}
		return parts - 1
	}
	var corner [8]*seed
	for ih := range max(nh-1, 1) {
		for ia := range na - 1 {
			if ctx.Err() != nil {
				return done
			}
			done++
			known, sails := true, false
			n := 0
			for dh := range min(nh, 2) {
				for dw := range 2 {
					for da := range 2 {
						c := &seeds[((ih+dh)*nw+iw+dw)*na+ia+da]
						corner[n] = c
						n++
						known = known && (c.ok || c.v == 0)
						sails = sails || c.ok
					}
				}
			}
			lh := 0
			if nh > 1 {
				lh = last(ih, nh, fineHs)
			}
			for kh := 0; kh <= lh; kh++ {
				for kw := 0; kw <= last(iw, nw, fineTWS); kw++ {
					for ka := 0; ka <= last(ia, na, fineTWA); ka++ {
						jh, jw, ja := ih*fineHs+kh, iw*fineTWS+kw, ia*fineTWA+ka
						c := Condition{TWSMS: fine.TWSMS[jw], TWARad: fine.TWARad[ja], HsM: fine.HsM[jh]}
						sp := coarse.spot(c.HsM, c.TWSMS, c.TWARad)
						v := coarse.at(&sp)
						if on := kh%fineHs == 0 && kw%fineTWS == 0 && ka%fineTWA == 0; !on && known && sails {
							v = s.between(c, t.settings[l], corner[:n], v)
						}
						out[(jh*fw+jw)*fa+ja] = max(v, 0)
					}
				}
			}
		}
	}
	return done
}

// between is the steady speed at c, near v, with the best of the choices of the
// seeds around, and the rungs of keel and ballast between those; then the limits.
func (s *Solver) between(c Condition, f FoilSetting, around []*seed, slow float64) float64 {
	v := slow
	s.set(c, f, FoilSetting{})
	lowest, highest := math.Inf(1), 0.0
	more := int16(0) // where the sails change, so may keel and ballast
	var one *seed
	for _, a := range around {
		if !a.ok {
			continue
		}
		if one != nil && a.at.sail != one.at.sail {
			more = 1
		}
		one = a
		lowest, highest = min(lowest, a.v), max(highest, a.v)
	}
	v = min(max(v, lowest), highest)
	var best node
	over := true
	try := func(at choice, from *seed) (better bool) {
		nd := node{v: v, x: from.x, at: at}
		if best.v > 0 {
			// Only what drives the boat on from there is worth a solution.
			nd.v = best.v
			if at == best.at || !s.fullAt(&nd, nd.v) || nd.bal.net < 1e-5*s.m.hull.w0 && !over {
				return false
			}
		}
		if !s.settle(&nd) {
			return false
		}
		o := nd.bal.depower < s.m.boat.Rig.MinDepower
		if better = over && !o || over == o && nd.v > best.v+fineTol; better {
			best, over = nd, o
		}
		return better
	}
	for range 3 {
		better := false
		for i, a := range around {
			lo, hi, first := a.at.rung, a.at.rung, a.ok
			for j, b := range around {
				if b.ok && b.at.sail == a.at.sail {
					first = first && j >= i
					lo, hi = min(lo, b.at.rung), max(hi, b.at.rung)
				}
			}
			for r := lo - more; first && r <= hi+more; r++ {
				at, from := choice{a.at.sail, r}, a
				for _, b := range around {
					if b.ok && b.at == at {
						from = b
					}
				}
				if s.allowed(at) && try(at, from) {
					better = true
				}
			}
		}
		if !better {
			break
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
	for _, a := range around {
		if a.load {
			loaded++
		}
	}
	if loaded == len(around) {
		return slow // all held by the foil's load: that speed varies little
	}
	w := s.limited(&best, around, slow)
	lowest, highest = math.Inf(1), 0
	for _, a := range around {
		lowest, highest = min(lowest, a.slow), max(highest, a.slow)
	}
	if reach := 0.3 + 0.3*(highest-lowest); w < lowest-reach || w > highest+reach {
		return slow
	}
	return w
}

// fullAt solves the balances at speed v with the choice of nd at full power.
func (s *Solver) fullAt(nd *node, v float64) bool {
	s.m.prepare(&s.one, s.st, &s.cond, v)
	t := s.task(&s.one, nd.at, 1)
	t.quick = true
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
		if !s.fullAt(nd, v) {
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
func (s *Solver) limited(nd *node, around []*seed, slow float64) float64 {
	l := &s.m.boat.Limits
	free, v := nd.v, nd.v
	// fall finds where an excess that grows with speed vanishes, from u.
	fall := func(nd *node, u float64, excess func() float64) (float64, bool) {
		pu, pe := 0.0, 0.0
		for range 12 {
			if !s.fullAt(nd, u) {
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
	if rate := func() float64 { return s.immersionsPerHour(&nd.bal, s.one.v) - l.MaxBowImmersionsPerHour }; s.fullAt(nd, free) && rate() > 0 {
		if u, ok := fall(nd, free, rate); ok {
			v = min(v, u)
		}
	}
	if s.st.foils[0].out {
		gust := l.GustFactor
		k := node{x: nd.x, at: nd.at}
		excess := func() float64 { return s.foilPeak(&k.bal)/l.MaxFoilLoadN - 1 }
		for _, a := range around {
			if !a.load {
				continue
			}
			k.x, k.at = a.with, a.hold
			if u, ok := fall(&k, min(slow, free)*gust, excess); ok {
				v = min(v, u/gust)
				break
			}
		}
		if k.x, k.at = nd.x, nd.at; v == free && s.fullAt(&k, free*gust) && excess() > 0 {
			if u, ok := fall(&k, free*gust, excess); ok {
				v = min(v, u/gust)
			}
		}
	}
	return max(v, slowestShare*free)
}
