package vpp

import (
	"math"

	"foilledger/vpp/units"
)

// The surge curve: net force along the track against boat speed, the other four
// balances solved at each speed. At each speed the crew is taken to use the best
// of the boat's sail sets, keel cants and ballasts (the upper envelope of their
// curves).

// surgeKnots are the boat speeds of the surge samples.
var surgeKnots = []float64{1, 2.5, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 18, 20, 22, 24, 27, 30, 34, 40}

func surgeSpeeds() []float64 {
	v := make([]float64, len(surgeKnots))
	for i, k := range surgeKnots {
		v[i] = units.MS(k)
	}
	return v
}

// choice is one way to sail: which sails, and which rung of keel and ballast.
type choice struct{ sail, rung int16 }

// node is the boat at one speed on its surge curve.
type node struct {
	v     float64
	net   [numPowers]float64 // X by Power, N
	at    choice
	x     [nUnknown]float64
	bal   balance
	ok    bool
	jump  bool    // X jumps from + to − here: no steady state, see root
	order float64 // X, less a penalty when overpowered: what choices are ranked by
}

// Solver solves operating points one after the other and remembers the last, so
// that a neighbouring one is solved faster. It is not safe for concurrent use;
// make one per goroutine. It allocates only when made.
type Solver struct {
	m     *Model
	nodes []node
	sps   []speedState
	st    *setting
	key   [2]FoilSetting
	cond  Condition
	one   speedState // for speeds off the grid
	cand  []candidate
	// Evaluations counts evaluations of the balances since the solver was made.
	Evaluations int
	// Failures counts balances that Newton's method did not solve.
	Failures   int
	solves     int
	bisections int
	hasty      bool
	last       node
	haveLast   bool
	eq         [4]node // equilibria of the marched curve
}

type candidate struct {
	x    [nUnknown]float64
	off  [nUnknown]float64 // from the winner's solution, when last solved
	bal  balance
	rank float64
	ok   bool
	done int // node at which it was last solved, +1
	skip int // not to be tried again before this node
}

// NewSolver returns a solver on the default grid of boat speeds.
func (m *Model) NewSolver() *Solver { return m.newSolver(surgeSpeeds()) }

func (m *Model) newSolver(speeds []float64) *Solver {
	s := &Solver{
		m: m, nodes: make([]node, len(speeds)), sps: make([]speedState, len(speeds)),
		cand: make([]candidate, len(m.sails)*len(m.righting)),
	}
	for i, v := range speeds {
		s.nodes[i].v = v
	}
	for i := range s.sps {
		s.sps[i].alloc()
	}
	s.one.alloc()
	return s
}

func (sp *speedState) alloc() {
	for i := range sp.slices {
		sp.slices[i] = foilSlices{newSlice(), newSlice()}
	}
}

// set fixes foils and condition.
func (s *Solver) set(c Condition, leeward, windward FoilSetting) {
	if s.st == nil || s.key != [2]FoilSetting{leeward, windward} {
		s.st = s.m.newSetting(leeward, windward)
		s.key = [2]FoilSetting{leeward, windward}
	}
	s.cond = c
}

func (s *Solver) task(sp *speedState, c choice, power float64) task {
	return task{m: s.m, sp: sp, st: s.st, sail: s.m.sails[c.sail], rs: &s.m.righting[c.rung], power: power, side: 1}
}

// starts are the guesses tried when there is none at hand, or it fails.
var starts = [...][nUnknown]float64{
	{0.15, 0.06, 0, 0.95}, {0.05, 0.02, -0.01, 1.0}, {0.30, 0.10, -0.02, 0.9},
	{0.25, 0.05, 0.02, 0.5}, {0.05, 1.0, 0, 1.0}, {0.45, 0.3, -0.02, 1.0}, {-0.15, 0.02, 0, 1.0}, {0.8, 0.5, 0, 1.0},
}

// balanceAt solves the four balances, from x if it converges there.
func (s *Solver) balanceAt(sp *speedState, c choice, power float64, x *[nUnknown]float64, out *balance) bool {
	t := s.task(sp, c, power)
	return s.balance(&t, x, out, true)
}

// balance solves a task; it tries again in other ways only when it must.
func (s *Solver) balance(t *task, x *[nUnknown]float64, out *balance, must bool) bool {
	t.must = must
	x0 := *x
	n, ok := t.solve(x, out)
	s.Evaluations += n
	s.solves++
	if ok || !must || s.hopeless(x) {
		return ok
	}
	*x = x0
	n, ok = t.newton(x, out, true)
	s.Evaluations += n
	for i := 0; !ok && i < len(starts); i++ {
		if s.hopeless(x) {
			return false
		}
		*x = starts[i]
		n, ok = t.solve(x, out)
		s.Evaluations += n
	}
	if !ok && !s.hopeless(x) {
		s.Failures++
	}
	return ok
}

// hopeless reports whether a solve ended because no easing of these sails is
// enough.
func (s *Solver) hopeless(x *[nUnknown]float64) bool {
	return x[iHeel] > s.m.boat.Limits.MaxHeelRad+hopelessDepower
}

// rank is what the crew compares: net force, but a set of sails that cannot be
// depowered far enough only comes in question when no other can.
func (s *Solver) rank(b *balance) float64 {
	r := b.net
	if d := s.m.boat.Rig.MinDepower - b.depower; d > 0 {
		r -= 2 * s.m.hull.w0 * d
	}
	return r
}

// march follows the curve up the grid of speeds at full power, and adds the
// curves at eased and no power when all is set.
func (s *Solver) march(all bool) {
	for i := range s.cand {
		s.cand[i] = candidate{}
	}
	prev, prev2 := -1, -1
	top := 0.0 // highest speed so far at which the boat still accelerates
	for i := range s.nodes {
		nd, sp := &s.nodes[i], &s.sps[i]
		s.m.prepare(sp, s.st, &s.cond, nd.v)
		var guess [nUnknown]float64
		var at choice
		switch {
		case prev < 0:
			guess, at = starts[4], s.firstChoice()
		case prev2 < 0:
			guess, at = s.nodes[prev].x, s.nodes[prev].at
		default:
			a, b := &s.nodes[prev2], &s.nodes[prev]
			guess, at = b.x, b.at
			if a.at == b.at {
				f := min((nd.v-b.v)/(b.v-a.v), 1)
				for j := range guess {
					guess[j] += f * (b.x[j] - a.x[j])
				}
			}
		}
		// Far above the speeds that the boat can keep only the order of the braking
		// counts, and a stubborn balance is not worth its time.
		s.hasty = prev >= 0 && top > 0 && nd.v > 1.4*top && s.nodes[prev].net[PowerFull] < -0.06*s.m.hull.w0
		s.climb(nd, sp, i, at, guess, prev < 0)
		if nd.ok && nd.net[PowerFull] > 0 {
			top = nd.v
		}
		if nd.ok {
			prev, prev2 = i, prev
		}
	}
	if all {
		s.lowPower()
	}
}

// lowPower adds net force with the sails eased and let go, same sails, along
// the whole grid.
func (s *Solver) lowPower() {
	var b balance
	for _, p := range [...]Power{PowerEased, PowerNone} {
		share := s.powerShare(p)
		var x0, x1 [nUnknown]float64 // the last two solutions
		var v0, v1 float64
		for i := range s.nodes {
			nd := &s.nodes[i]
			if !nd.ok {
				continue
			}
			x := nd.x
			switch {
			case v0 > 0:
				f := min((nd.v-v1)/(v1-v0), 1)
				for j := range x {
					x[j] = x1[j] + f*(x1[j]-x0[j])
				}
			case v1 > 0:
				x = x1
			default:
				x[iHeel] = min(x[iHeel], 0.5*s.m.boat.Limits.MaxHeelRad)
			}
			nd.net[p] = nd.net[p+1]
			t := s.task(&s.sps[i], nd.at, share)
			t.quick = true
			if s.balance(&t, &x, &b, i < len(s.nodes)*2/3) {
				nd.net[p] = b.net
				x0, v0, x1, v1 = x1, v1, x, nd.v
			}
		}
	}
}

func (s *Solver) powerShare(p Power) float64 {
	switch p {
	case PowerNone:
		return 0
	case PowerEased:
		return s.m.boat.Handling.EasedPower
	}
	return 1
}

// firstChoice is the smallest sail set with everything to windward: a start from
// which the climb always finds its way.
func (s *Solver) firstChoice() choice {
	return choice{0, int16(min(2, len(s.m.righting)-1))}
}

func (s *Solver) index(c choice) int { return int(c.sail)*len(s.m.righting) + int(c.rung) }

// allowed reports whether there is such a choice, and whether the sails may be
// carried in this wind; the smallest may always.
func (s *Solver) allowed(c choice) bool {
	return c.sail >= 0 && int(c.sail) < len(s.m.sails) && c.rung >= 0 && int(c.rung) < len(s.m.righting) &&
		(c.sail == 0 || s.m.sails[c.sail].maxTWS >= s.cond.TWSMS)
}

// climb finds the best choice at one speed: all choices at the first node, after
// that uphill from the last node's choice, over all sail sets and the
// neighbouring rungs of keel and ballast, where a choice that was far behind is
// left alone for some nodes.
func (s *Solver) climb(nd *node, sp *speedState, i int, at choice, guess [nUnknown]float64, all bool) {
	nd.ok = false
	best := s.try(sp, i, at, &guess, nil)
	bi := at
	consider := func(c choice) {
		if !s.allowed(c) {
			return
		}
		k := &s.cand[s.index(c)]
		if k.done == i+1 || k.skip > i && !s.settling(best) {
			return
		}
		k = s.try(sp, i, c, &guess, best)
		if k.ok && (best == nil || !best.ok || k.rank > best.rank) {
			best, bi = k, c
		}
	}
	if all {
		for a := range s.m.sails {
			for r := range s.m.righting {
				consider(choice{int16(a), int16(r)})
			}
		}
	} else {
		for from := (choice{-1, -1}); from != bi; {
			from = bi
			for a := range s.m.sails {
				if c := (choice{int16(a), from.rung}); best == nil || !best.ok || s.settling(best) || s.promising(sp, c, bi, best) {
					consider(c)
					s.otherRungs(i, c, best, consider)
				}
			}
			consider(choice{from.sail, from.rung + 1})
			consider(choice{from.sail, from.rung - 1})
		}
	}
	if best == nil || !best.ok {
		return
	}
	// A choice that trails by 6 % of the drive for each node can wait that long.
	unit := 0.06*math.Abs(best.rank) + 0.004*s.m.hull.w0
	for j := range s.cand {
		if k := &s.cand[j]; k.done == i+1 && k.ok {
			k.skip = i + 1 + min(int((best.rank-k.rank)/unit), 2)
			for l := range k.off {
				k.off[l] = k.x[l] - best.x[l]
			}
		}
	}
	nd.ok, nd.at, nd.x, nd.bal, nd.order = true, bi, best.x, best.bal, best.rank
	nd.net[PowerFull] = best.bal.net
}

// promising guesses, from the wind on the sails alone, whether another sail set
// may beat the one in use: at the heel of the best solution and eased until it
// heels the boat no more than the boat can stand, does it drive about as well?
func (s *Solver) promising(sp *speedState, c, used choice, best *candidate) bool {
	if c.sail == used.sail {
		return true
	}
	m := s.m
	cos := con(math.Cos(best.bal.phi))
	rig := &m.boat.Rig
	pull := func(sd *sailData, f float64) (drive, moment float64) {
		d, sf := sd.forces(&sp.wind, con(f), cos, 1, m.factors.SailPower, rig.MinDepower)
		return d.v, sf.v * (sd.ce*(1-rig.TwistDrop*(1-f)) - m.boat.Hull.CGHeightM)
	}
	drive, moment := pull(m.sails[used.sail], best.bal.depower)
	// Heel not used yet; 3 m is a generous metacentric height with keel and foil.
	moment += 3 * m.hull.w0 * max(0, m.boat.Limits.MaxHeelRad-best.bal.phi)
	moment = max(moment, 0)
	sd := m.sails[c.sail]
	lo, hi := 0.02, 1.0
	d, mo := pull(sd, hi)
	if mo > moment {
		for range 7 {
			mid := 0.5 * (lo + hi)
			if _, mo := pull(sd, mid); mo > moment {
				hi = mid
			} else {
				lo = mid
			}
		}
		d, _ = pull(sd, hi)
	}
	over := max(0, rig.MinDepower-hi) - max(0, rig.MinDepower-best.bal.depower)
	return d-2*m.hull.w0*over > drive-0.05*math.Abs(drive)-0.003*m.hull.w0
}

// otherRungs looks at the other rungs of keel and ballast for sails that run
// close behind where the boat settles: smaller sails want less ballast.
func (s *Solver) otherRungs(i int, c choice, best *candidate, consider func(choice)) {
	if !s.settling(best) {
		return
	}
	k := &s.cand[s.index(c)]
	if k.done != i+1 || !k.ok || k.rank < best.rank-0.02*s.m.hull.w0 {
		return
	}
	for _, d := range [...]int16{-1, 1} {
		last := k.rank
		for n := (choice{c.sail, c.rung + d}); s.allowed(n); n.rung += d {
			consider(n)
			o := &s.cand[s.index(n)]
			if o.done != i+1 || !o.ok || !(o.rank > last) {
				break
			}
			last = o.rank
		}
	}
}

// settling reports whether the boat is about to settle with the choice k: its
// speed then hangs on the choice, and all are looked at with care.
func (s *Solver) settling(k *candidate) bool {
	return k != nil && k.ok && math.Abs(k.rank) < 0.015*s.m.hull.w0
}

// try solves one choice at node i, from the best solution at hand there shifted
// by what lay between the two when last both were solved.
func (s *Solver) try(sp *speedState, i int, c choice, guess *[nUnknown]float64, best *candidate) *candidate {
	k := &s.cand[s.index(c)]
	k.x = *guess
	if best != nil && best.ok {
		k.x = best.x
		if k.done == i {
			for j := range k.x {
				k.x[j] += k.off[j]
			}
		}
	}
	t := s.task(sp, c, 1)
	t.quick = true
	k.ok = s.balance(&t, &k.x, &k.bal, best == nil && !s.hasty || s.settling(best))
	k.rank = s.rank(&k.bal)
	k.done = i + 1
	return k
}

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
				t.quick = true
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
