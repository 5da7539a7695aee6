package vpp

import (
	"math"
)

// Equilibria: where the surge curve falls through zero.

// root finds the speed between nodes lo and hi where the net force of one choice
// vanishes: secant steps kept inside the bracket (Illinois). It leaves the boat
// at that speed in nd.
func (s *Solver) root(lo, hi *node, c choice, nd *node) bool {
	a, b := lo.v, hi.v
	x := lo.x
	if c != lo.at {
		x = hi.x
	}
	fa, ok := s.netAt(a, c, 1, &x, &nd.bal)
	if !ok || fa < 0 {
		return false // this choice is already too slow at the lower node
	}
	xa := x
	x = hi.x
	fb, ok := s.netAt(b, c, 1, &x, &nd.bal)
	if !ok || fb > 0 {
		return false
	}
	xb := x
	tol := 1e-8 * s.m.hull.w0
	for side := 0; ; {
		v := (a*fb - b*fa) / (fb - fa)
		f := (v - a) / (b - a)
		for j := range x {
			x[j] = xa[j] + f*(xb[j]-xa[j])
		}
		fv, ok := s.netAt(v, c, 1, &x, &nd.bal)
		if !ok {
			return false
		}
		if math.Abs(fv) < tol {
			nd.v, nd.at, nd.x, nd.ok, nd.jump = v, c, x, true, false
			nd.net[PowerFull] = fv
			nd.order = s.rank(&nd.bal)
			return true
		}
		if b-a < 1e-7 {
			// Two solutions of the balances meet here, the lower side driving and the
			// upper side braking: the boat cannot be steady at full power.
			nd.v, nd.at, nd.x, nd.ok, nd.jump = a, c, xa, true, true
			nd.net[PowerFull], _ = s.netAt(a, c, 1, &nd.x, &nd.bal)
			nd.order = s.rank(&nd.bal)
			return true
		}
		if fv > 0 {
			a, fa, xa = v, fv, x
			if side == 1 {
				fb /= 2
			}
			side = 1
		} else {
			b, fb, xb = v, fv, x
			if side == -1 {
				fa /= 2
			}
			side = -1
		}
	}
}

func (s *Solver) netAt(v float64, c choice, power float64, x *[nUnknown]float64, b *balance) (float64, bool) {
	s.m.prepare(&s.one, s.st, &s.cond, v)
	ok := s.balanceAt(&s.one, c, power, x, b)
	return b.net, ok
}

// equilibria finds the stable steady states on the marched curve, from slow to
// fast, into dst: crossings from + to −. It returns how many there are; at most
// len(dst) are kept, the first and the last ones.
func (s *Solver) equilibria(dst []node) int {
	n := 0
	prev := -1
	for i := 0; i < len(s.nodes); i++ {
		if !s.nodes[i].ok {
			continue
		}
		if prev >= 0 && s.nodes[prev].net[PowerFull] > 0 && s.nodes[i].net[PowerFull] <= 0 {
			nd := &dst[min(n, len(dst)-1)]
			if !s.cross(&s.nodes[prev], &s.nodes[i], nd) {
				// The balances have no solution in between: the boat cannot be
				// steady there. It is given the speed below the gap.
				*nd = s.nodes[prev]
				nd.jump = true
			} else {
				s.lift(nd)
				for i+1 < len(s.nodes) && s.nodes[i].v < nd.v {
					i++
				}
			}
			n++
		} else if prev >= 0 && s.nodes[prev].net[PowerFull] > 0 && s.nodes[i].net[PowerFull] > 0 {
			if nd := &dst[min(n, len(dst)-1)]; s.dip(&s.nodes[prev], &s.nodes[i], nd) {
				n++
			}
		} else if prev >= 0 && n > 0 && s.nodes[prev].net[PowerFull] <= 0 && s.nodes[i].net[PowerFull] <= 0 {
			if nd := &dst[min(n, len(dst)-1)]; s.bump(&s.nodes[prev], &s.nodes[i], nd) {
				n++
			}
		}
		if s.nodes[i].ok {
			prev = i
		}
	}
	if prev >= 0 && prev < len(s.nodes)-1 && s.nodes[prev].net[PowerFull] > 0 {
		if nd := &dst[min(n, len(dst)-1)]; s.beyond(&s.nodes[prev], nd) {
			s.lift(nd)
			n++
		}
	}
	return n
}

// dip looks for a crossing between two nodes that both drive but little: the
// choice of the lower may stop driving before that of the upper begins to, as when
// the sails for flight do not carry the boat over the hump.
func (s *Solver) dip(lo, hi, nd *node) bool {
	least := min(lo.net[PowerFull], hi.net[PowerFull])
	if least > 0.03*s.m.hull.w0 || lo.at == hi.at && least > 0.01*s.m.hull.w0 {
		return false
	}
	x := lo.x
	for _, f := range [...]float64{0.25, 0.5, 0.75, 1} {
		end := node{v: lo.v + f*(hi.v-lo.v), at: lo.at, x: x}
		n, ok := s.netAt(end.v, lo.at, 1, &end.x, &end.bal)
		if !ok {
			return false
		}
		x = end.x
		if n > 0 {
			continue
		}
		var to node
		if !s.rootInto(lo, &end, &to) {
			return false
		}
		s.lift(&to)
		if to.v >= hi.v {
			return false
		}
		*nd = to
		return true
	}
	return false
}

// bump looks for a crossing between two nodes that both brake, the lower but
// little: past a hump of the resistance the boat may drive again for a knot or so.
func (s *Solver) bump(lo, hi, nd *node) bool {
	if lo.net[PowerFull] < -0.005*s.m.hull.w0 {
		return false
	}
	x := lo.x
	for _, f := range [...]float64{0.25, 0.5, 0.75} {
		end := node{v: lo.v + f*(hi.v-lo.v), at: lo.at, x: x}
		n, ok := s.netAt(end.v, lo.at, 1, &end.x, &end.bal)
		if !ok {
			return false
		}
		x = end.x
		if n <= 0 {
			continue
		}
		var to node
		if !s.cross(&end, hi, &to) {
			return false
		}
		*nd = to
		s.lift(nd)
		return true
	}
	return false
}

// beyond looks for a crossing above the last node that was solved, in small
// steps: the balances of the next may have been too far away.
func (s *Solver) beyond(last, nd *node) bool {
	lo := *last
	for top := s.nodes[len(s.nodes)-1].v; lo.v < top; {
		hi := lo
		hi.v = min(1.02*lo.v, top)
		f, ok := s.netAt(hi.v, hi.at, 1, &hi.x, &hi.bal)
		if !ok {
			return false
		}
		if f <= 0 {
			return s.rootInto(&lo, &hi, nd)
		}
		lo = hi
	}
	return false
}

// lift looks at every choice of sails, keel and ballast at a crossing, where the
// march has looked at neighbours only. While one of them ranks better there, the
// crossing moves to where that one stops driving, and nodes passed on the way up
// take it over.
func (s *Solver) lift(nd *node) {
	for range 6 {
		from := node{order: nd.order + 1e-6*s.m.hull.w0}
		net := 0.0
		s.m.prepare(&s.one, s.st, &s.cond, nd.v)
		for a := range s.m.sails {
			for r := range s.m.righting {
				c := choice{int16(a), int16(r)}
				if c == nd.at || !s.allowed(c) {
					continue
				}
				x := nd.x
				var b balance
				t := s.task(&s.one, c, 1)
				t.quick, t.least = true, from.order
				ok := s.balance(&t, &x, &b, false)
				if !ok { // from full sails to small ones, or back
					x = nd.x
					x[iHeel] = min(x[iHeel], 0.6*s.m.boat.Limits.MaxHeelRad)
					ok = s.balance(&t, &x, &b, false)
				}
				// Down only for a clear gain: next to the smallest lift fraction each of
				// two choices may look better at the other's speed.
				if r := s.rank(&b); ok && r > from.order && (b.net > 0 || r > nd.order+0.005*s.m.hull.w0) {
					from = node{v: nd.v, at: c, x: x, order: s.rank(&b), ok: true}
					net = b.net
				}
			}
		}
		if !from.ok || net > 0 && !s.followUp(from, nd) || net <= 0 && !s.followDown(from, nd) {
			return
		}
	}
}

// followUp moves a crossing up to where the choice of from, which still drives
// there, stops driving.
func (s *Solver) followUp(from node, nd *node) bool {
	for i := range s.nodes {
		k := &s.nodes[i]
		if !k.ok || k.v <= from.v {
			continue
		}
		hi := node{v: k.v, at: from.at, x: from.x, ok: true}
		f, ok := s.netAt(hi.v, from.at, 1, &hi.x, &hi.bal)
		if !ok {
			return false
		}
		if f <= 0 {
			return s.rootInto(&from, &hi, nd)
		}
		hi.net, hi.order = k.net, s.rank(&hi.bal)
		hi.net[PowerFull] = f
		if hi.order > k.order {
			*k = hi
		}
		from = hi
	}
	return false
}

// followDown moves the crossing of an overpowered choice down to that of a
// better one.
func (s *Solver) followDown(from node, nd *node) bool {
	for i := len(s.nodes) - 1; i >= 0; i-- {
		k := &s.nodes[i]
		if !k.ok || k.v >= from.v {
			continue
		}
		lo := node{v: k.v, at: from.at, x: from.x, ok: true}
		f, ok := s.netAt(lo.v, from.at, 1, &lo.x, &lo.bal)
		if !ok {
			return false
		}
		if f > 0 {
			return s.rootInto(&lo, &from, nd)
		}
		from = lo
	}
	return false
}

func (s *Solver) rootInto(lo, hi, nd *node) bool {
	var to node
	if !s.root(lo, hi, lo.at, &to) || to.jump {
		return false
	}
	*nd = to
	return true
}

// cross takes the faster of the crossings that the choices at both ends give.
func (s *Solver) cross(lo, hi, dst *node) bool {
	var a, b node
	okA := s.root(lo, hi, lo.at, &a)
	okB := false
	if hi.at != lo.at {
		okB = s.root(lo, hi, hi.at, &b)
	}
	over := s.m.boat.Rig.MinDepower
	switch {
	case okA && okB:
		*dst = a
		if aOver, bOver := a.bal.depower < over, b.bal.depower < over; aOver && !bOver || aOver == bOver && b.v > a.v {
			*dst = b
		}
	case okA:
		*dst = a
	case okB:
		*dst = b
	default:
		return s.bisect(lo, hi, dst)
	}
	return true
}

// bisect finds a crossing of the envelope itself, choosing sails afresh at each
// speed: for the rare bracket in which neither end's choice crosses.
func (s *Solver) bisect(lo, hi, dst *node) bool {
	s.bisections++
	a, b := *lo, *hi
	tol := 1e-8 * s.m.hull.w0
	for k := range 60 {
		m := node{v: 0.5 * (a.v + b.v)}
		s.m.prepare(&s.one, s.st, &s.cond, m.v)
		// A node number of its own, so that nothing is taken for solved or skipped.
		s.climb(&m, &s.one, 1000+2*k, a.at, a.x, false)
		if !m.ok {
			return false
		}
		*dst = m
		if math.Abs(m.net[PowerFull]) < tol {
			break
		}
		if m.net[PowerFull] > 0 {
			a = m
		} else {
			b = m
		}
		if b.v-a.v < 1e-7 {
			*dst = a
			dst.jump = true
			break
		}
	}
	for i := range s.cand {
		s.cand[i].done, s.cand[i].skip = 0, 0
	}
	return true
}
