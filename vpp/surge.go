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
	loads      []loadKnot
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
		cand:  make([]candidate, len(m.sails)*len(m.righting)),
		loads: make([]loadKnot, 0, len(speeds)+10),
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
	return task{least: math.Inf(-1), m: s.m, sp: sp, st: s.st, sail: s.m.sails[c.sail], rs: &s.m.righting[c.rung], power: power, side: 1}
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
