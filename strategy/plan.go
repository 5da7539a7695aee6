package strategy

import (
	"context"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/weather"
)

// Status says how a plan ended.
type Status uint8

// The ways in which a plan ends.
const (
	Found    Status = iota
	NoWay           // no schedule arrives: every allowed state is stopped somewhere
	Canceled        // the context ended
)

func (s Status) String() string {
	return [...]string{"found", "no feasible schedule", "cancelled"}[s]
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
}

// Problem is a track to be sailed by a boat from a moment on.
type Problem struct {
	*Sailor
	course  *course
	DepartS float64
	Start   State // state before the first stage
}

// NewProblem prepares a track for a boat that leaves at departS, in seconds
// after the forecast's reference time, with both foils in.
func (sl *Sailor) NewProblem(track *route.Track, departS float64) *Problem {
	return &Problem{Sailor: sl, course: newCourse(track, sl.opt.stageM(), subM), DepartS: departS}
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

// candidate is one way to start a stage in a state.
type candidate struct {
	s0          int
	t, fromM    float64 // after the change
	eff, spread float64 // start moved back to the stage's start, and its uncertainty
}

// paceSpread bounds the relative change of a boat's pace within the minutes of
// one change of state. Ways to start a stage whose order could be turned by
// such a change are all integrated; the others are ruled out by their
// estimate.
const paceSpread = 0.15

// Best finds the schedule of earliest arrival among the allowed states. It is
// forward label setting over (stage, port setting, starboard setting): since a
// later start never arrives earlier, the earliest arrival in each state is all
// that the next stage needs. free makes changes of the foils free and instant,
// which gives the lower bound of the same discretised problem.
//
// The error is a *PassageError where the weather does not cover the passage.
// progress, when not nil, is told the number of stages done.
func (p *Problem) Best(ctx context.Context, allow Allowed, free bool, progress func(done, total int)) (*Voyage, error) {
	all := p.states.All()
	n := len(all)
	labels := make([]float64, n) // earliest arrival at the stage's start
	for i := range labels {
		labels[i] = math.Inf(1)
	}
	labels[p.states.Index(p.Start)] = p.DepartS
	parents := make([][]int16, len(p.course.legs))
	next := make([]float64, n)
	cands := make([][]candidate, n)
	for k := range p.course.legs {
		if ctx.Err() != nil {
			return &Voyage{Status: Canceled}, ctx.Err()
		}
		if progress != nil {
			progress(k, len(p.course.legs))
		}
		leg := &p.course.legs[k]
		if err := p.starts(leg, k, labels, allow, free, cands); err != nil {
			return nil, &PassageError{DistanceNM: leg.startM / 1852, Err: err}
		}
		parents[k] = make([]int16, n)
		any := false
		for s1 := range n {
			next[s1] = math.Inf(1)
			parents[k][s1] = -1
			best := math.Inf(1)
			for _, c := range cands[s1] {
				best = math.Min(best, c.eff+c.spread)
			}
			for _, c := range cands[s1] {
				if c.eff-c.spread > best {
					continue
				}
				r, err := p.sail(leg, all[s1], c.t, math.Min(c.fromM, leg.lengthM), nil)
				if err != nil {
					return nil, &PassageError{DistanceNM: leg.startM / 1852, Err: err}
				}
				if !r.feasible {
					continue
				}
				if arrive := r.arriveS + overshoot(c, leg); arrive < next[s1] {
					next[s1] = arrive
					parents[k][s1] = int16(c.s0)
					any = true
				}
			}
		}
		if !any {
			return &Voyage{Status: NoWay, DepartS: p.DepartS, TotalM: p.course.totalM}, nil
		}
		labels, next = next, labels
	}
	end, t := -1, math.Inf(1)
	for s := range n {
		if labels[s] < t {
			end, t = s, labels[s]
		}
	}
	schedule := make(Schedule, len(p.course.legs))
	for k := len(schedule) - 1; k >= 0; k-- {
		schedule[k] = all[end]
		end = int(parents[k][end])
	}
	return p.Sail(schedule, free, nil)
}

// overshoot is the time that a change which covers more than its stage has
// taken beyond it, negative.
func overshoot(c candidate, l *leg) float64 {
	if c.fromM <= l.lengthM || c.t <= c.eff {
		return 0
	}
	v := c.fromM / (c.t - c.eff)
	return -(c.fromM - l.lengthM) / v
}

// starts lists for every state the ways to start a stage in it.
func (p *Problem) starts(l *leg, k int, labels []float64, allow Allowed, free bool, cands [][]candidate) error {
	all := p.states.All()
	for s1 := range cands {
		cands[s1] = cands[s1][:0]
	}
	// A state that is reached later than by changing to it here from the
	// earliest state is no way to anywhere: a change made in one is never dearer
	// than one made in two.
	first := 0
	for s, t := range labels {
		if t < labels[first] {
			first = s
		}
	}
	var from moment
	if !free && !math.IsInf(labels[first], 1) {
		var err error
		if from, err = p.moment(l, all[first], labels[first]); err != nil {
			return err
		}
	}
	for s0, t := range labels {
		if math.IsInf(t, 1) || (free && s0 != first) {
			continue
		}
		if s0 != first {
			var pr Price
			from.price(p.prices, &pr, all[first], all[s0])
			if t > labels[first]+pr.LostS+paceSpread*pr.TimeS {
				continue
			}
		}
		var here moment
		if !free {
			var err error
			if here, err = p.moment(l, all[s0], t); err != nil {
				return err
			}
		}
		for s1 := range all {
			if allow != nil && !allow(k, all[s1]) {
				continue
			}
			c := candidate{s0: s0, t: t, eff: t}
			if s1 != s0 && !free {
				var pr Price
				here.price(p.prices, &pr, all[s0], all[s1])
				c.after(&pr)
			}
			if l.prevRad != l.courseRad {
				lost, _, err := p.waypoint(l, all[s1], t)
				if err != nil {
					return err
				}
				c.t += lost
				c.eff += lost
			}
			cands[s1] = append(cands[s1], c)
		}
	}
	return nil
}

// after moves the candidate to the end of its change.
func (c *candidate) after(pr *Price) {
	c.t += pr.TimeS
	c.fromM = pr.DistanceM
	c.eff += pr.LostS
	c.spread = paceSpread * pr.TimeS
}

// moment is the situation in which a change of state is priced.
type moment struct {
	cell      cell
	starboard bool
	pace      Pace
	// ease is how far the leeward foil can be handled unloaded, 0…1, because
	// it is the windward foil on the other board, which the boat is on just
	// before or after, or now and then in a zigzag.
	ease float64
}

func (p *Problem) moment(l *leg, s0 State, t float64) (moment, error) {
	smp, err := p.wx.At(l.from[0], l.from[1], t)
	if err != nil {
		return moment{}, err
	}
	pc := p.pace(l.courseRad, smp, s0)
	m := moment{pace: pc, starboard: pc.Starboard >= 0.5}
	other := math.Min(pc.Starboard, 1-pc.Starboard)
	if l.prevRad != l.courseRad {
		before := p.pace(l.prevRad, smp, s0).Starboard
		other = math.Max(other, math.Abs(pc.Starboard-before)/2)
	}
	// A share of a quarter on the other board is enough to wait for it; below,
	// the ease fades, so that the price changes smoothly as the wind shifts.
	m.ease = math.Min(1, 4*other)
	m.cell = p.prices.locate(pc.TWSMS, pc.TWARad, pc.HsM)
	return m, nil
}

// price prices the change from s0 to s1 at the moment.
func (m *moment) price(pr *prices, out *Price, s0, s1 State) {
	l0, w0 := pr.states.roles(s0, m.starboard)
	l1, w1 := pr.states.roles(s1, m.starboard)
	v0, v1 := pr.mix(pr.steady, l0, w0, &m.cell), pr.mix(pr.steady, l1, w1, &m.cell)
	pr.change(out, s0, s1, m.starboard, m.ease >= 0.5, &m.cell, v0, v1)
	if m.ease > 0 && m.ease < 1 {
		var other Price
		pr.change(&other, s0, s1, m.starboard, m.ease < 0.5, &m.cell, v0, v1)
		w := m.ease
		if m.ease >= 0.5 {
			w = 1 - m.ease
		}
		out.blend(&other, w)
	}
	// The price's distance is through the water; the course takes the share
	// that the boat makes good along it.
	if m.pace.BSPMS > stoppedMS {
		out.DistanceM *= m.pace.AlongMS / m.pace.BSPMS
	} else {
		out.DistanceM = 0
	}
}

// Sail sails a schedule and records it. free makes changes free and instant.
// record, when not nil, is called for every step.
func (p *Problem) Sail(schedule Schedule, free bool, record recorder) (*Voyage, error) {
	if len(schedule) != len(p.course.legs) {
		return nil, fmt.Errorf("strategy: the schedule has %d stages, the track %d", len(schedule), len(p.course.legs))
	}
	v := &Voyage{Schedule: schedule, DepartS: p.DepartS, TotalM: p.course.totalM}
	t := p.DepartS
	s0 := p.Start
	for k := range p.course.legs {
		leg := &p.course.legs[k]
		st, err := p.sailStage(leg, k, s0, schedule[k], t, free, record)
		if err != nil {
			return nil, &PassageError{DistanceNM: leg.startM / 1852, Err: err}
		}
		if math.IsInf(st.ArriveS, 1) {
			v.Status = NoWay
			return v, nil
		}
		v.Stages = append(v.Stages, st)
		t = st.ArriveS
		s0 = schedule[k]
	}
	v.ArriveS = t
	return v, nil
}

func (p *Problem) sailStage(leg *leg, k int, s0, s1 State, t float64, free bool, record recorder) (Stage, error) {
	st := Stage{State: s1, DepartS: t}
	c := candidate{t: t, eff: t}
	if s1 != s0 && !free {
		here, err := p.moment(leg, s0, t)
		if err != nil {
			return st, err
		}
		here.price(p.prices, &st.Change, s0, s1)
		st.Starboard = here.starboard
		c.after(&st.Change)
		if record != nil {
			record.change(leg, k, s0, s1, t, &st.Change, here)
		}
	}
	lost, boards, err := p.waypoint(leg, s1, t)
	if err != nil {
		return st, err
	}
	c.t += lost
	c.eff += lost
	var rec visit
	if record != nil {
		rec = func(at *step, departS, arriveS, fromM, lengthM float64, smp weather.Sample, pc Pace, boardS float64) {
			record.step(at, k, s1, departS, arriveS, fromM, lengthM, smp, pc, boardS)
		}
		if lost > 0 {
			record.turn(leg, k, s1, c.t-lost, c.t)
		}
	}
	r, err := p.sail(leg, s1, c.t, math.Min(c.fromM, leg.lengthM), rec)
	if err != nil {
		return st, err
	}
	st.SailS, st.BoardS, st.HeldS, st.CalmS, st.Boards = r.sailS, r.boardS+lost, r.heldS, r.calmS, r.boards+boards
	st.ArriveS = r.arriveS + overshoot(c, leg)
	if !r.feasible {
		st.ArriveS = math.Inf(1)
	}
	return st, nil
}

// StageEndM returns how far along the track stage k ends.
func (p *Problem) StageEndM(k int) float64 {
	l := &p.course.legs[k]
	return l.startM + l.lengthM
}

// End returns the end of the track and the course there in radians.
func (p *Problem) End() (orb.Point, float64) { return p.course.end, p.course.endRad }
