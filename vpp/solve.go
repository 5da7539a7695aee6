package vpp

import (
	"fmt"
	"math"

	"foilledger/vpp/units"
)

// Solve finds the steady state that the boat reaches by accelerating from low
// speed, with the foils at the given settings: best sail set, keel cant and
// ballast. It is safe for concurrent use. For many neighbouring points use a
// [Solver].
//
// When the status is Refused the point is what the boat would do if the limit
// named in RuledBy did not stand; when it is NoGo the boat is at rest.
func (m *Model) Solve(c Condition, leeward, windward FoilSetting) (Point, Status) {
	s := m.pool.Get().(*Solver)
	defer m.pool.Put(s)
	return s.Solve(c, leeward, windward)
}

// SolveAbove finds the steady state that the boat keeps when it comes from
// higher speed; it differs from Solve where a foiling boat has both.
func (m *Model) SolveAbove(c Condition, leeward, windward FoilSetting) (Point, Status) {
	s := m.pool.Get().(*Solver)
	defer m.pool.Put(s)
	return s.SolveAbove(c, leeward, windward)
}

// Equilibria lists all stable steady states at full power, slow to fast, before
// the limits that slow a boat down are applied.
func (m *Model) Equilibria(c Condition, leeward, windward FoilSetting) []Point {
	s := m.pool.Get().(*Solver)
	defer m.pool.Put(s)
	if m.checkInput(c, leeward, windward) != "" {
		return nil
	}
	s.set(c, leeward, windward)
	s.march(false)
	n := min(s.equilibria(s.eq[:]), len(s.eq))
	pts := make([]Point, 0, n)
	for i := range n {
		if !s.eq[i].jump { // no steady state there
			pts = append(pts, s.point(&s.eq[i], 1))
		}
	}
	return pts
}

// checkInput says what is wrong with an input, or "".
func (m *Model) checkInput(c Condition, leeward, windward FoilSetting) string {
	finite := func(x, lo, hi float64) bool { return x >= lo && x <= hi }
	switch {
	case !finite(c.TWSMS, 0, 100):
		return fmt.Sprintf("true wind speed %v m/s, must be from 0 to 100", c.TWSMS)
	case !finite(c.TWARad, 0, math.Pi+1e-9):
		return fmt.Sprintf("true wind angle %v rad, must be from 0 to π", c.TWARad)
	case !finite(c.HsM, 0, 30):
		return fmt.Sprintf("significant wave height %v m, must be from 0 to 30", c.HsM)
	case !finite(c.WaveFromBowRad, -math.Pi-1e-9, math.Pi+1e-9):
		return fmt.Sprintf("wave angle %v rad, must be from -π to π", c.WaveFromBowRad)
	}
	for _, f := range [...]FoilSetting{leeward, windward} {
		if !finite(f.Extension, 0, 1) {
			return fmt.Sprintf("foil extension %v, must be from 0 to 1", f.Extension)
		}
		if !finite(f.RakeRad, -units.Rad(20), units.Rad(20)) {
			return fmt.Sprintf("foil rake %v rad, must be within 20°", f.RakeRad)
		}
		if f.Extension > 0 && m.boat.Foils == nil {
			return "the boat has no foils"
		}
	}
	return ""
}

// Solve is Model.Solve on this solver.
func (s *Solver) Solve(c Condition, leeward, windward FoilSetting) (Point, Status) {
	return s.solveFrom(c, leeward, windward, false)
}

// SolveAbove is Model.SolveAbove on this solver.
func (s *Solver) SolveAbove(c Condition, leeward, windward FoilSetting) (Point, Status) {
	return s.solveFrom(c, leeward, windward, true)
}

func (s *Solver) solveFrom(c Condition, leeward, windward FoilSetting, above bool) (Point, Status) {
	s.haveLast = false
	if s.m.checkInput(c, leeward, windward) != "" {
		return Point{}, BadInput
	}
	s.set(c, leeward, windward)
	s.march(false)
	var out steadyState
	st := s.steady(&out, above)
	if st == NoGo || st == Unsolved {
		return Point{RuledBy: ruleNames[out.rule], HullLoad: 1}, st
	}
	if !out.slowed {
		s.last, s.haveLast = out.node, true
	}
	p := s.point(&out.node, out.share)
	p.RuledBy = ruleNames[out.rule]
	return p, st
}

// Continue solves a point near the last one solved, following the same branch
// with the last sails and their neighbours. It falls back to Solve when there is
// no last point, or when a limit slows the boat.
func (s *Solver) Continue(c Condition, leeward, windward FoilSetting) (Point, Status) {
	if !s.haveLast || s.m.checkInput(c, leeward, windward) != "" {
		return s.Solve(c, leeward, windward)
	}
	s.set(c, leeward, windward)
	nd := s.last
	for range 4 {
		if !s.follow(&nd) {
			return s.Solve(c, leeward, windward)
		}
		if !s.better(&nd) {
			break
		}
	}
	rule := s.plainRule(&nd.bal)
	if r, refused := s.refusal(); refused {
		p := s.point(&nd, 1)
		p.RuledBy = ruleNames[r]
		return p, Refused
	}
	if s.wouldSlow(&nd) {
		return s.Solve(c, leeward, windward)
	}
	s.last = nd
	p := s.point(&nd, 1)
	p.RuledBy = ruleNames[rule]
	return p, Solved
}

// follow finds the zero of net force near nd by secant steps.
func (s *Solver) follow(nd *node) bool {
	v0, x := nd.v, nd.x
	f0, ok := s.netAt(v0, nd.at, 1, &x, &nd.bal)
	if !ok {
		return false
	}
	tol := 1e-8 * s.m.hull.w0
	// First step: drag grows about as V².
	v1 := v0 * (1 + min(max(f0/(0.3*s.m.hull.w0), -0.04), 0.04))
	if v1 == v0 {
		v1 = v0 * 1.001
	}
	for range 14 {
		if math.Abs(f0) < tol {
			nd.v, nd.x, nd.net[PowerFull], nd.order = v0, x, f0, s.rank(&nd.bal)
			return true
		}
		f1, ok := s.netAt(v1, nd.at, 1, &x, &nd.bal)
		if !ok {
			return false
		}
		slope := (f1 - f0) / (v1 - v0)
		if !(slope < 0) { // not on a stable branch
			return false
		}
		step := min(max(-f1/slope, -0.15*v1), 0.15*v1)
		v0, f0 = v1, f1
		v1 += step
		if v1 < s.nodes[0].v || v1 > s.nodes[len(s.nodes)-1].v {
			return false
		}
	}
	return false
}

// better looks among the neighbours of the choice in nd for one with more net
// force at the same speed, and takes the best.
func (s *Solver) better(nd *node) bool {
	best, found := nd.order, false
	at, x0 := nd.at, nd.x
	for i := range len(s.m.sails) + 2 {
		c := choice{int16(i), at.rung}
		if i >= len(s.m.sails) {
			c = choice{at.sail, at.rung + int16(2*(i-len(s.m.sails))-1)}
		}
		if c == at || !s.allowed(c) {
			continue
		}
		x := x0
		var b balance
		if !s.balanceAt(&s.one, c, 1, &x, &b) {
			continue
		}
		if r := s.rank(&b); r > best+1e-7*s.m.hull.w0 {
			best, found = r, true
			nd.at, nd.x, nd.order = c, x, r
		}
	}
	return found
}

// point describes a solved node.
func (s *Solver) point(nd *node, share float64) Point {
	rs := &s.m.righting[nd.at.rung]
	b := &nd.bal
	p := Point{
		BSPMS: nd.v, HeelRad: b.phi, LeewayRad: math.Atan(nd.x[iLeeway]), TrimRad: nd.x[iTrim],
		HullLoad: nd.x[iLoad], RiseM: b.rise, FoilLiftN: b.foilZ, FoilLoadN: b.foilN,
		BowImmersionsPerHour: s.immersionsPerHour(b, nd.v),
		Depower:              b.depower * share,
		Sail:                 s.m.sails[nd.at.sail].name,
		CantRad:              rs.cant, BallastKg: rs.ballastKg + rs.trimKg,
	}
	s.m.prepare(&s.one, s.st, &s.cond, nd.v)
	t := s.task(&s.one, nd.at, share)
	var chk balance
	x := nd.x
	var parts tally
	t.evaluate(&x, &chk, &parts)
	p.Forces, p.Drag = parts.forces, parts.drag
	for _, r := range chk.res {
		p.ResidualN = max(p.ResidualN, math.Abs(r)*t.weight())
	}
	p.ResidualN = max(p.ResidualN, math.Abs(chk.net))
	p.Lean = s.m.lean(&s.cond, s.st, nd)
	p.Extrapolated = p.Lean.Names()
	return p
}
