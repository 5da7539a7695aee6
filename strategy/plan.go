package strategy

import (
	"context"
	"fmt"
	"math"
	"sort"

	"foilledger/route"
	"foilledger/vpp/units"
)

// Status says how a plan ended.
type Status uint8

// The ways in which a plan ends.
const (
	Found    Status = iota
	NoWay           // no schedule arrives: every allowed state is stopped somewhere, or a rule cannot be kept
	Canceled        // the context ended
)

func (s Status) String() string {
	return [...]string{"found", "no feasible schedule", "cancelled"}[s]
}

// Bar says what stands in the way of a schedule.
type Bar uint8

// What can stand in the way of a schedule.
const (
	BarNone     Bar = iota
	BarStopped      // a limit, calm or the current stops the boat for two days
	BarEffort       // the day's effort does not suffice
	BarChanges      // more changes than wanted
	BarRest         // too little rest is left
	BarForecast     // it outlasts the forecast
	BarNoMoment     // there is no such moment between the change before and the next
)

func (b Bar) String() string {
	return [...]string{"", "the boat is stopped for two days", "the day's effort does not suffice", "too many changes", "too little rest is left",
		"it outlasts the forecast", "no room between the changes before and after"}[b]
}

// Schedule is one foil state for each stage of a track: the boat changes to it
// at the stage's start.
type Schedule []State

// Voyage is a passage sailed: a schedule and what came of it.
type Voyage struct {
	Status   Status
	Schedule Schedule
	DepartS  float64 // seconds after the forecast's reference time
	ArriveS  float64
	TotalM   float64
	Stages   []Stage
	// Overruled is the number of stages on which a limit overruled a policy.
	Overruled int
	// Bar says what stands in the way of a schedule that cannot be sailed or
	// breaks a rule.
	Bar Bar
	// OpenS is how much less another schedule under the same rules could cost
	// (see BestFor) at the most: 0 where this one is proven to be the best.
	OpenS float64

	starts []float64 // when each stage's change may begin at the earliest; nil: at once
}

// TimeS is the passage time in seconds.
func (v *Voyage) TimeS() float64 { return v.ArriveS - v.DepartS }

// Stage is one stage of a voyage.
type Stage struct {
	State   State
	DepartS float64
	ArriveS float64
	Change  Price // zero without a change
	SailS   float64
	BoardS  float64
	HeldS   float64
	CalmS   float64
	Boards  float64 // tacks and gybes
	// Starboard is the board on which the change was made: the wind from
	// starboard or from port.
	Starboard bool

	begun begun
}

// Problem is a track to be sailed by a boat from a moment on. It keeps the
// weather and the paces that it has met and is for one goroutine.
type Problem struct {
	*Sailor
	track   *route.Track
	course  *course
	DepartS float64
	Start   State // state before the first stage
	// Issues are the forecasts that a policy may see, by rising time of issue.
	Issues []Issue

	cuts   []float64 // more ends of stages, m
	person Person
	memo   *memo  // prices met by a search; nil outside
	most   int    // labels of a state kept under a rest quota, 0: as usual
	budget int    // labels that a search may make, 0: no limit
	kept   []bool // states that a search under rules is made with; nil: all
	// momentary asks the members anew at every moment of a rest, which bounds
	// what can be had with those that hold through all of it.
	momentary bool
}

// NewProblem prepares a track for a boat that leaves at departS, in seconds
// after the forecast's reference time, with both foils in.
func (sl *Sailor) NewProblem(track *route.Track, departS float64) *Problem {
	return sl.newProblem(track, departS, nil)
}

// newProblem also cuts the track's stages at the places cuts, in metres.
func (sl *Sailor) newProblem(track *route.Track, departS float64, cuts []float64) *Problem {
	return &Problem{Sailor: sl, track: track, DepartS: departS, cuts: cuts,
		course: newCourse(track, sl.opt.stageM(), sl.opt.piece(), sl.opt.interval(), cuts)}
}

// Stages returns the number of stages.
func (p *Problem) Stages() int { return len(p.course.legs) }

// TotalM returns the length of the track in metres.
func (p *Problem) TotalM() float64 { return p.course.totalM }

// Allowed restricts a search: it says whether a state may be sailed on a
// stage. A nil Allowed allows everything.
type Allowed func(stage int, s State) bool

// FoilsIn allows only the state with both foils in.
func FoilsIn(_ int, s State) bool { return !s.Out() }

// candidate is one way to start a stage in a state. Of two the one that is level
// with an earlier boat arrives first.
type candidate struct {
	s0 int32
	g  begun
}

// search holds the labels of one search.
type search struct {
	p      *Problem
	allow  Allowed
	cut    *deadlines
	labels []float64 // earliest arrival at the stage's start by state
	next   []float64
	best   []candidate // by state, with g.t +Inf where there is none
	order  []int
}

// Best finds the schedule of earliest arrival among the allowed states,
// without rules for the person (see BestFor). It is forward label
// setting over (stage, port setting, starboard setting): since a later start
// never arrives earlier, the earliest arrival in each state is all that the
// next stage needs. free makes changes of the foils free and instant, which
// gives the lower bound of the same discretised problem.
//
// The error is a *PassageError where the weather does not cover the passage.
// progress, when not nil, is told the number of stages done.
func (p *Problem) Best(ctx context.Context, allow Allowed, free bool, progress func(done, total int)) (*Voyage, error) {
	if free {
		return p.bestFree(ctx, allow, progress)
	}
	cut, err := p.cut(ctx, allow)
	if err != nil {
		return &Voyage{Status: Canceled}, err
	}
	return p.best(ctx, allow, cut, progress)
}

// best is Best with deadlines, which may be nil.
func (p *Problem) best(ctx context.Context, allow Allowed, cut *deadlines, progress func(done, total int)) (*Voyage, error) {
	n := len(p.states.all)
	sr := &search{p: p, allow: allow, cut: cut, labels: make([]float64, n), next: make([]float64, n), best: make([]candidate, n)}
	for i := range sr.labels {
		sr.labels[i] = math.Inf(1)
	}
	sr.labels[p.states.Index(p.Start)] = p.DepartS
	parents := make([][]int16, len(p.course.legs))
	for k := range p.course.legs {
		if err := ctx.Err(); err != nil {
			return &Voyage{Status: Canceled}, err
		}
		if progress != nil {
			progress(k, len(p.course.legs))
		}
		parents[k] = make([]int16, n)
		found, err := sr.stage(k, parents[k])
		if err != nil {
			return nil, &PassageError{DistanceNM: p.course.legs[k].startM / units.MPerNM, Err: err}
		}
		if !found {
			return &Voyage{Status: NoWay, DepartS: p.DepartS, TotalM: p.course.totalM}, nil
		}
		sr.labels, sr.next = sr.next, sr.labels
	}
	end := 0
	for s, t := range sr.labels {
		if t < sr.labels[end] {
			end = s
		}
	}
	schedule := make(Schedule, len(p.course.legs))
	for k := len(schedule) - 1; k >= 0; k-- {
		schedule[k] = p.states.all[end]
		end = int(parents[k][end])
	}
	return p.Sail(schedule, false, nil)
}

// stage sails one stage from all labels.
func (sr *search) stage(n int, parent []int16) (found bool, err error) {
	p := sr.p
	l := &p.course.legs[n]
	if err := sr.starts(l, n); err != nil {
		return false, err
	}
	for s1 := range sr.best {
		sr.next[s1] = math.Inf(1)
		parent[s1] = -1
		c := &sr.best[s1]
		if math.IsInf(c.g.t, 1) {
			continue
		}
		r, err := p.finish(l, s1, &c.g, nil)
		if err != nil {
			return false, err
		}
		if r.feasible {
			sr.next[s1], parent[s1] = r.arriveS, int16(c.s0)
			found = true
		}
	}
	return found, nil
}

// starts finds for every state the best way to start a stage in it.
func (sr *search) starts(l *leg, n int) error {
	p := sr.p
	sr.order = sr.order[:0]
	for s, t := range sr.labels {
		if !math.IsInf(t, 1) && (sr.cut == nil || t <= sr.cut.leave[n]) {
			sr.order = append(sr.order, s)
		}
	}
	sort.SliceStable(sr.order, func(i, j int) bool { return sr.labels[sr.order[i]] < sr.labels[sr.order[j]] })
	for s := range sr.best {
		sr.best[s].g.t = math.Inf(1)
	}
	for _, s := range sr.order { // going on is a bound for coming from elsewhere
		if err := sr.begin(l, n, s, s); err != nil {
			return err
		}
	}
	for _, s0 := range sr.order {
		t := sr.labels[s0]
		k := p.index(t)
		s := &l.steps[0]
		q0, b := p.paceIn(s, k, s0)
		if q0 == nil {
			return b.err
		}
		lb := p.lowerBound(s, k, b, q0, s0, t)
		for s1 := range sr.best {
			if s1 == s0 || !sr.cut.open(n, s1, t) || lb.to(s1) > sr.best[s1].g.t {
				continue
			}
			if err := sr.begin(l, n, s0, s1); err != nil {
				return err
			}
		}
	}
	return nil
}

// lowerBound bounds when a boat that changes its state at the start of a leg
// can be level with one that was in the new state already.
type lowerBound struct {
	p     *Problem
	from  int
	t     float64
	now   *scene
	next  *scene // of the next interval, for which the boat may wait
	nextS float64
	easy  [2]bool
}

func (p *Problem) lowerBound(s *step, k int, b *bin, q0 *binPace, s0 int, t float64) lowerBound {
	lb := lowerBound{p: p, from: s0, t: t, now: p.sceneIn(s, k, b), nextS: float64(k+1) * p.course.binS}
	lb.easy[0] = p.ease(s, k, q0, s0) > 0
	if q, b := p.paceIn(s, k+1, s0); q != nil {
		lb.next = p.sceneIn(s, k+1, b)
		lb.easy[1] = p.ease(s, k+1, q, s0) > 0
	}
	return lb
}

// to returns the bound for state s1.
func (lb *lowerBound) to(s1 int) float64 {
	from, to := lb.p.states.all[lb.from], lb.p.states.all[s1]
	x := lb.t + lb.now.leastLost(from, to, lb.easy[0])
	if lb.next != nil && (lb.nextS < x || lb.next.mayGain(from, to)) {
		x = math.Min(x, lb.nextS+lb.next.leastLost(from, to, lb.easy[1]))
	}
	return x
}

// begin tries the ways to start leg number n in s1, coming in s0.
func (sr *search) begin(l *leg, n, s0, s1 int) error {
	p := sr.p
	if sr.allow != nil && !sr.allow(n, p.states.all[s1]) {
		return nil
	}
	t := sr.labels[s0]
	if !sr.cut.open(n, s1, t) {
		return nil
	}
	lost := math.Inf(1)
	first := p.index(t)
	for k := first; k == first || p.mayWait(l, k, s0, s1, t, lost); k++ {
		var pr Price
		g, err := p.beginAt(l, k, s0, s1, t, false, &pr)
		if err != nil {
			if k > first {
				break
			}
			return err
		}
		eff := g.t - t
		if k > first && eff >= lost {
			continue
		}
		lost = math.Min(lost, eff)
		if g.t < sr.best[s1].g.t {
			sr.best[s1] = candidate{int32(s0), g}
		}
	}
	return nil
}

// Sail sails a schedule. free makes changes free and instant; log, when not
// nil, keeps what happens.
func (p *Problem) Sail(schedule Schedule, free bool, log *Log) (*Voyage, error) {
	if len(schedule) != len(p.course.legs) {
		return nil, fmt.Errorf("strategy: the schedule has %d stages, the track %d", len(schedule), len(p.course.legs))
	}
	v := &Voyage{Schedule: schedule, DepartS: p.DepartS, TotalM: p.course.totalM, Stages: make([]Stage, 0, len(schedule))}
	t := p.DepartS
	s0 := p.states.Index(p.Start)
	for k := range p.course.legs {
		s1 := p.states.Index(schedule[k])
		st, err := p.sailStage(k, s0, s1, t, free, log)
		if err != nil {
			return nil, &PassageError{DistanceNM: p.course.legs[k].startM / units.MPerNM, Err: err}
		}
		if math.IsInf(st.ArriveS, 1) {
			v.Status, v.Bar = NoWay, BarStopped
			return v, nil
		}
		v.Stages = append(v.Stages, st)
		t, s0 = st.ArriveS, s1
	}
	v.ArriveS = t
	return v, nil
}

// StageEndM returns how far along the track stage k ends.
func (p *Problem) StageEndM(k int) float64 {
	l := &p.course.legs[k]
	return l.startM + l.lengthM
}
