package strategy

import (
	"context"
	"math"
	"sort"

	"foilledger/vpp/units"
)

// deadlines are the latest moments from which an arrival can still be reached
// when the foils change freely, at once and anywhere. A label that comes later
// cannot be on the way to a plan that arrives by then: the search drops it and
// stays exact.
type deadlines struct {
	leave []float64   // latest moment at the start of each stage, and at the end
	by    [][]float64 // latest moment at which a stage can be begun in a state
}

// open reports whether a boat at time t can still begin stage n in a state.
func (d *deadlines) open(n, state int, t float64) bool { return d == nil || t <= d.by[n][state] }

// ahead is what the free search knows of every stage: the earliest moment at
// which it can be reached, and the arrival in each state from then.
type ahead struct {
	first []float64
	then  [][]float64
}

// sharing keeps what was computed for one state of a stage for those that sail
// it in the same way: with the same foils at work on a course that is sailed
// directly and without a change of board.
type sharing struct {
	p       *Problem
	value   [2][]float64 // by board, by role
	known   [2][]bool
	pure    bool
	onBoard int
}

func (p *Problem) newSharing() *sharing {
	sh := &sharing{p: p}
	n := len(p.states.settings) * p.states.exts
	for i := range sh.value {
		sh.value[i], sh.known[i] = make([]float64, n), make([]bool, n)
	}
	return sh
}

func (sh *sharing) reset() {
	for i := range sh.known {
		clear(sh.known[i])
	}
}

func (sh *sharing) role(state, board int) int {
	l, w := sh.p.states.roles(sh.p.states.all[state], board == 0)
	return l*sh.p.states.exts + w
}

// get returns the value of a state that sails the stage as state does.
func (sh *sharing) get(state int) (float64, bool) {
	for board := range sh.known {
		if r := sh.role(state, board); sh.known[board][r] {
			return sh.value[board][r], true
		}
	}
	return 0, false
}

// begin starts to watch the sailing of one state.
func (sh *sharing) begin() { sh.pure, sh.onBoard = true, -1 }

// end keeps its value for the others if they sail alike.
func (sh *sharing) end(state int, value float64) {
	if sh.pure && sh.onBoard >= 0 {
		r := sh.role(state, sh.onBoard)
		sh.value[sh.onBoard][r], sh.known[sh.onBoard][r] = value, true
	}
}

// see notes a piece that was sailed in interval k; turn says that a turn at the
// interval's start counts.
func (sh *sharing) see(s *step, k, state int, turn bool) {
	if !sh.pure {
		return
	}
	sh.at(s, k, state)
	if turn {
		sh.at(s, k-1, state)
	}
	if s.prev != nil {
		sh.at(s.prev, k, state)
	}
}

func (sh *sharing) at(s *step, k, state int) {
	q, b := sh.p.paceIn(s, k, state)
	if q == nil {
		return // no weather, whatever the state
	}
	board := 0
	if b.relRad < 0 {
		board = 1
	}
	if sh.onBoard < 0 {
		sh.onBoard = board
	}
	if board != sh.onBoard || b.roles[sh.role(state, board)] != q {
		sh.pure = false
	}
}

func (sh *sharing) sailed(s *step, k, state int, t0, _, _, _ float64, _ *bin, _ *binPace, _ float64) {
	c := sh.p.course
	sh.see(s, k, state, t0 < float64(k)*c.binS+c.longestTurnS())
}

// lookAhead sails every stage in every allowed state from the earliest moment
// at which the free search can be there.
//
// The error is a *PassageError where the weather does not cover the passage.
func (p *Problem) lookAhead(ctx context.Context, allow Allowed, progress func(done, total int)) (*ahead, error) {
	a := &ahead{first: make([]float64, len(p.course.legs)+1), then: make([][]float64, len(p.course.legs))}
	sh := p.newSharing()
	a.first[0] = p.DepartS
	for k := range p.course.legs {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if progress != nil {
			progress(k, len(p.course.legs))
		}
		sh.reset()
		then := make([]float64, len(p.states.all))
		best := math.Inf(1)
		for s := range then {
			then[s] = math.Inf(1)
			if allow != nil && !allow(k, p.states.all[s]) {
				continue
			}
			if v, ok := sh.get(s); ok {
				then[s] = v
				continue
			}
			sh.begin()
			r, err := p.stayFrom(k, s, a.first[k], sh)
			if err != nil {
				return nil, &PassageError{DistanceNM: p.course.legs[k].startM / units.MPerNM, Err: err}
			}
			then[s] = r
			sh.end(s, r)
			best = math.Min(best, r)
		}
		a.then[k], a.first[k+1] = then, best
		if math.IsInf(best, 1) {
			return nil, nil
		}
	}
	return a, nil
}

// bestFree is the search with free and instant changes: every stage is sailed
// in the state that ends it first.
func (p *Problem) bestFree(ctx context.Context, allow Allowed, progress func(done, total int)) (*Voyage, error) {
	a, err := p.lookAhead(ctx, allow, progress)
	switch {
	case ctx.Err() != nil:
		return &Voyage{Status: Canceled}, err
	case err != nil:
		return nil, err
	case a == nil:
		return &Voyage{Status: NoWay, DepartS: p.DepartS, TotalM: p.course.totalM}, nil
	}
	schedule := make(Schedule, len(p.course.legs))
	for k, then := range a.then {
		best := 0
		for s, t := range then {
			if t < then[best] {
				best = s
			}
		}
		schedule[k] = p.states.all[best]
	}
	v, err := p.Sail(schedule, true, nil)
	if err != nil || v.Status != Found {
		return v, err
	}
	// A change that takes its time can keep the boat in a state that is faster
	// for the moment: to bound that too, the best pace of any state counts
	// everywhere.
	top, err := p.arriveFastest(ctx, allow)
	v.ArriveS = math.Min(v.ArriveS, top)
	return v, err
}

// stayFrom is the arrival at the end of stage n in a state from time t on,
// without a change; +Inf when never.
func (p *Problem) stayFrom(n, state int, t float64, tr *sharing) (float64, error) {
	l := &p.course.legs[n]
	lost, _, err := 0.0, 0.0, error(nil)
	if l.steps[0].prev != nil {
		lost, _, err = p.cross(&l.steps[0], state, t)
	}
	if err != nil {
		return 0, err
	}
	if lost > 0 {
		tr.pure = false // the turn is the state's own
	}
	r, err := p.sail(l, state, t+lost, 0, tr)
	if err != nil {
		return 0, err
	}
	if !r.feasible {
		return math.Inf(1), nil
	}
	return r.arriveS, nil
}

// fastest is the best pace of any allowed state on a piece of stage n in
// interval k, tacks and gybes in a zigzag included; 0 where all are stopped. ok
// is false where the weather is missing.
func (p *Problem) fastest(n int, s *step, k int, allow Allowed) (alongMS float64, ok bool) {
	b := p.bin(s, k)
	if b.err != nil {
		return 0, false
	}
	if allow == nil && b.hasFastest {
		return b.fastest, true
	}
	for i := range p.states.all {
		if allow != nil && !allow(n, p.states.all[i]) {
			continue
		}
		q, _ := p.paceIn(s, k, i)
		alongMS = math.Max(alongMS, q.AlongMS/(1+q.ChangesPerS*q.lossS))
	}
	if allow == nil {
		b.fastest, b.hasFastest = alongMS, true
	}
	return alongMS, true
}

// arriveFastest sails the track at the best pace of any state everywhere: no
// schedule arrives earlier. It is +Inf when even so the boat is stopped.
func (p *Problem) arriveFastest(ctx context.Context, allow Allowed) (float64, error) {
	t := p.DepartS
	for n := range p.course.legs {
		if err := ctx.Err(); err != nil {
			return 0, err
		}
		l := &p.course.legs[n]
		waited := 0.0
		for i := range l.steps {
			for rest := l.steps[i].lengthM; rest > 0; {
				k := p.index(t)
				end := float64(k+1) * p.course.binS
				if !(end > t) {
					k++
					end += p.course.binS
				}
				v, ok := p.fastest(n, &l.steps[i], k, allow)
				if !ok {
					return 0, &PassageError{DistanceNM: l.startM / units.MPerNM, Err: p.bin(&l.steps[i], k).err}
				}
				switch {
				case v == 0:
					waited += end - t
					t = end
				case t+rest/v > end:
					rest -= (end - t) * v
					t = end
				default:
					t += rest / v
					rest = 0
				}
				if waited > maxWaitS {
					return math.Inf(1), nil
				}
			}
		}
	}
	return t, nil
}

// longestGainS bounds the time for which a change keeps the boat at a better
// pace than that of the state that it leads to.
const longestGainS = 900

// deadlinesFor works back from an arrival.
func (p *Problem) deadlinesFor(ctx context.Context, allow Allowed, arriveS float64) (*deadlines, error) {
	n := len(p.course.legs)
	d := &deadlines{leave: make([]float64, n+1), by: make([][]float64, n)}
	d.leave[n] = arriveS
	sh := p.newSharing()
	for k := n - 1; k >= 0; k-- {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		l := &p.course.legs[k]
		d.leave[k] = p.latestFastest(k, d.leave[k+1], allow)
		sh.reset()
		by := make([]float64, len(p.states.all))
		for s := range by {
			by[s] = math.Inf(-1)
			if allow != nil && !allow(k, p.states.all[s]) {
				continue
			}
			v, ok := sh.get(s)
			if !ok {
				sh.begin()
				v = p.latest(l, s, d.leave[k+1], sh)
				sh.end(s, v)
			}
			by[s] = v
			if math.IsInf(v, -1) {
				continue
			}
			// A change to a slower state can gain on it while it lasts.
			if q, _ := p.paceIn(&l.steps[0], p.index(v), s); q != nil {
				if top, _ := p.fastest(k, &l.steps[0], p.index(v), allow); top > q.AlongMS {
					by[s] += longestGainS * (1 - q.AlongMS/(1+q.ChangesPerS*q.lossS)/top)
				}
			}
		}
		d.by[k] = by
	}
	return d, nil
}

// latestFastest is the latest moment at the start of stage n from which its end
// can be reached by arriveS at the best pace of any state.
func (p *Problem) latestFastest(n int, arriveS float64, allow Allowed) float64 {
	if math.IsInf(arriveS, -1) {
		return arriveS // too late for the stage after it already
	}
	t := arriveS
	binS := p.course.binS
	l := &p.course.legs[n]
	for i := len(l.steps) - 1; i >= 0; i-- {
		for rest := l.steps[i].lengthM; rest > 0; {
			k := int(math.Ceil(t/binS)) - 1
			start := float64(k) * binS
			if start+binS < p.DepartS {
				return math.Inf(-1)
			}
			v, _ := p.fastest(n, &l.steps[i], k, allow)
			if rest > (t-start)*v {
				rest -= (t - start) * v
				t = start
			} else {
				t -= rest / v
				rest = 0
			}
		}
	}
	return t
}

// latest is the latest moment at the start of a leg from which a boat in a
// state is at its end by arriveS: sail backwards.
func (p *Problem) latest(l *leg, state int, arriveS float64, sh *sharing) float64 {
	if math.IsInf(arriveS, -1) {
		return arriveS
	}
	t := arriveS
	binS := p.course.binS
	for i := len(l.steps) - 1; i >= 0; i-- {
		s := &l.steps[i]
		rest := s.lengthM
		for rest > 0 {
			k := int(math.Ceil(t/binS)) - 1
			start := float64(k) * binS
			if start+binS < p.DepartS {
				return math.Inf(-1)
			}
			q, b := p.paceIn(s, k, state)
			if q == nil || q.AlongMS == 0 { // no way on in this interval
				sh.pure = false
				t = start
				continue
			}
			from := start
			v := q.AlongMS / (1 + q.ChangesPerS*q.lossS)
			early := t-rest/v < start+p.course.longestTurnS()
			if early {
				stop, _ := p.turn(s, k, state, q, b)
				from += stop
			}
			sh.see(s, k, state, early)
			switch {
			case t <= from:
				t = start
			case t-rest/v < from:
				rest -= (t - from) * v
				t = start
			default:
				t -= rest / v
				rest = 0
			}
		}
		if i > 0 { // the turn on entering the leg is left out
			t = p.latestCross(s, state, t, sh)
		}
	}
	return t
}

// latestCross is the latest moment at which a tack or gybe on entering a piece
// can begin to be done by time t (see cross).
func (p *Problem) latestCross(s *step, state int, t float64, sh *sharing) float64 {
	if s.prev == nil {
		return t
	}
	for k := p.index(t); ; k-- {
		if q, _ := p.paceIn(s, k, state); q == nil {
			return t
		}
		lost, _ := p.enter(s, k, state)
		if lost == 0 {
			if k == p.index(t) {
				return t
			}
			return float64(k+1) * p.course.binS
		}
		sh.pure = false
		at := math.Min(t-lost, float64(k+1)*p.course.binS)
		if at >= float64(k)*p.course.binS {
			return at
		}
	}
}

// few chooses up to most states between which a good schedule can be expected:
// those that together lose least against the best state of every stage.
func (a *ahead) few(most int, always int) []int {
	n := len(a.then[0])
	lost := make([]float64, len(a.then)) // against the best state, with those chosen so far
	excess := func(k, s int) float64 { return math.Min(a.then[k][s]-a.first[k+1], 1800) }
	for k := range lost {
		lost[k] = excess(k, always)
	}
	chosen := []int{always}
	for len(chosen) < most {
		best, gain := -1, 1.0
		for s := range n {
			g := 0.0
			for k, l := range lost {
				if e := excess(k, s); e < l {
					g += l - e
				}
			}
			if g > gain {
				best, gain = s, g
			}
		}
		if best < 0 {
			break
		}
		for k, l := range lost {
			lost[k] = math.Min(l, excess(k, best))
		}
		chosen = append(chosen, best)
	}
	sort.Ints(chosen)
	return chosen
}

// steady lists the most states that lose least when they are kept all the way:
// good ones where few changes can be made.
func (a *ahead) steady(most int) []int {
	lost := make([]float64, len(a.then[0]))
	order := make([]int, len(lost))
	for s := range lost {
		order[s] = s
		for k := range a.then {
			lost[s] += math.Min(a.then[k][s]-a.first[k+1], 3600)
		}
	}
	sort.SliceStable(order, func(i, j int) bool { return lost[order[i]] < lost[order[j]] })
	return order[:min(most, len(order))]
}

// The first, rough plan may use so many states: more on a boat with many.
const (
	fewStates  = 10
	someStates = 30
	manyStates = 100
)

func (p *Problem) few() int {
	if len(p.states.all) > manyStates {
		return someStates
	}
	return fewStates
}

// cut finds deadlines for the search without rules from a plan with few
// states. It is nil where there is none.
func (p *Problem) cut(ctx context.Context, allow Allowed) (*deadlines, error) {
	n := len(p.states.all)
	if n <= 2*fewStates {
		return nil, nil
	}
	a, err := p.lookAhead(ctx, allow, nil)
	if err != nil || a == nil {
		return nil, ctx.Err()
	}
	keep := make([]bool, n)
	for _, s := range a.few(p.few(), p.states.Index(p.Start)) {
		keep[s] = true
	}
	rough, err := p.best(ctx, func(k int, s State) bool { return keep[p.states.Index(s)] && (allow == nil || allow(k, s)) }, nil, nil)
	if err != nil || rough.Status != Found {
		return nil, ctx.Err()
	}
	return p.deadlinesFor(ctx, allow, rough.ArriveS+1e-3)
}

// ladder holds deadlines for an arrival and for earlier ones: a schedule that
// pays for every change must arrive so much earlier.
type ladder struct {
	rungs []*deadlines
	perS  float64 // cost of a change
	stepS float64 // between the rungs' arrivals
}

// mostRungs is the largest number of rungs of a ladder.
const mostRungs = 24

// ladderFor makes the deadlines for schedules of a cost of at most costS, in
// seconds after the reference, with perS added for every change.
func (p *Problem) ladderFor(ctx context.Context, allow Allowed, costS, perS, leastS float64) (*ladder, error) {
	ld := &ladder{perS: perS, stepS: math.Max(perS, (costS-leastS)/mostRungs)}
	for at := costS; ; at -= ld.stepS {
		d, err := p.deadlinesFor(ctx, allow, at+1e-3)
		if err != nil {
			return nil, err
		}
		ld.rungs = append(ld.rungs, d)
		if perS == 0 || at < leastS {
			return ld, nil
		}
	}
}

// level returns the deadlines of a schedule with so many changes.
func (ld *ladder) level(changes int32) *deadlines {
	if ld == nil {
		return nil
	}
	if ld.perS == 0 {
		return ld.rungs[0]
	}
	return ld.rungs[min(int(float64(changes)*ld.perS/ld.stepS), len(ld.rungs)-1)]
}
