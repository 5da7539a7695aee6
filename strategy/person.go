package strategy

import (
	"math"

	"foilledger/vpp/units"
)

const dayS = 24 * units.SPerHour

// For returns the same passage under the rules of a person.
func (p *Problem) For(person Person) *Problem {
	q := *p
	q.person = person
	if q.person.any() {
		q.person.SpacingS = math.Max(q.person.SpacingS, p.prices.h.SettleS)
	}
	q.course = newCourse(p.track, p.opt.stageM(), p.opt.piece(), p.opt.interval(), p.cuts)
	return &q
}

func (r *Person) any() bool {
	return len(r.Rests) > 0 || r.RestS > 0 || r.SpacingS > 0 || r.EffortJ > 0 || r.Changes > 0 || r.LeastGainS > 0
}

// slack is how much better rested a schedule may be and yet be dropped for an
// earlier one.
func (r *Person) slack() float64 {
	if r.ToleranceS < 0 {
		return 0
	}
	return or(r.ToleranceS, 300)
}

// counts reports whether the number of changes matters.
func (r *Person) counts() bool { return r.Changes > 0 || r.LeastGainS > 0 }

// tally is what a schedule has come to so far under the rules of a person.
type tally struct {
	t       float64 // now
	ready   float64 // when the next change may begin
	gap     float64 // since when the person can rest
	last    vigil   // the last span without rest, which ends at gap
	hold    members // in which the foils were left alone well since then
	given   members // the same since the given rest began that it is now
	effort  float64 // J, on the day of the last change
	day     int32
	changes int32
	broken  bool // a rule is broken
	bar     Bar  // which, the first one
}

// begin is the tally at the departure.
func (p *Problem) begin() tally {
	return tally{t: p.DepartS, gap: p.DepartS, ready: math.Inf(-1), last: vigil{fromS: p.DepartS, toS: p.DepartS}}
}

// breaks notes that a rule is broken.
func (y *tally) breaks(by Bar) {
	if !y.broken {
		y.broken, y.bar = true, by
	}
}

// label is a tally in the search with the way that led to it.
type label struct {
	tally
	parent *label
	state  int32
	startS float64 // when the change at the stage's start was allowed to begin
}

// earliest is when the change from s0 to s1 may begin at the start of a leg,
// from time t on; +Inf when never.
func (p *Problem) earliest(l *leg, y *tally, s0, s1 int, t float64) (float64, error) {
	r := &p.person
	if r.Changes > 0 && int(y.changes) >= r.Changes {
		y.bar = BarChanges
		return math.Inf(1), nil
	}
	t = math.Max(t, y.ready)
	if len(r.Rests) == 0 && r.EffortJ <= 0 {
		return t, nil
	}
	for range 8 {
		var pr Price
		if _, err := p.beginAt(l, p.index(t), s0, s1, t, false, &pr); err != nil {
			return 0, err
		}
		next := p.restEnd(t, pr.TimeS)
		if r.EffortJ > 0 {
			work := countedJ(pr.EffortJ)
			if work > r.EffortJ {
				y.bar = BarEffort
				return math.Inf(1), nil
			}
			if day := p.day(next); day == y.day && y.effort+work > r.EffortJ {
				next = p.DepartS + float64(day+1)*dayS
			}
		}
		if next == t {
			return t, nil
		}
		t = next
	}
	y.bar = BarRest
	return math.Inf(1), nil
}

// countedJ is the work of a change as it counts against the day's: in whole
// kilojoules, rounded up, so that schedules which differ by less are one.
func countedJ(j float64) float64 { return math.Ceil(j/1000-1e-9) * 1000 }

func (p *Problem) day(t float64) int32 { return int32(math.Floor((t - p.DepartS) / dayS)) }

// step sails a stage from a tally, the change not beginning before startS.
func (p *Problem) step(n int, y *tally, s0, s1 int, startS float64, log *Log) (Stage, error) {
	st, err := p.sailStage(n, s0, s1, math.Max(y.t, startS), false, log)
	if err != nil || math.IsInf(st.ArriveS, 1) {
		y.breaks(BarStopped)
		return st, err
	}
	begin := y.t
	if startS > begin {
		p.waiting(&p.course.legs[n], s0, y, begin, startS)
		if log != nil {
			log.waited(n, s0, begin, startS)
		}
	}
	if st.Change.n > 0 {
		c := &st.Change
		from := math.Max(begin, startS)
		end := from + c.TimeS
		p.busy(y, from, end)
		from += c.WaitS // for a cheaper moment
		if wait := startS - begin; wait > 0 {
			c.WaitS += wait
			c.TimeS += wait
			c.LostS += wait
		}
		y.ready = end + p.person.SpacingS
		y.changes++
		if d := p.day(from); d != y.day {
			y.day, y.effort = d, 0
		}
		y.effort += countedJ(st.Change.EffortJ)
		if p.person.EffortJ > 0 && y.effort > p.person.EffortJ*(1+1e-9) {
			y.breaks(BarEffort)
		}
	}
	if g := &st.begun; g.turnS > 0 || (st.Change.n == 0 && g.t > y.t) {
		// A tack or gybe on entering, or a wait for a cheaper one.
		from := y.t
		if st.Change.n > 0 {
			from = math.Max(from, g.t-g.turnS)
		}
		if g.t > from {
			p.busy(y, from, g.t)
		}
	}
	if p.watches() {
		if err := p.again(n, s1, &st, y); err != nil {
			return st, err
		}
	}
	y.t = math.Max(y.t, st.ArriveS)
	if p.person.RestS <= 0 {
		y.t = st.ArriveS
	}
	if n == len(p.course.legs)-1 {
		p.arrive(y)
	}
	st.DepartS = begin
	return st, nil
}

// watches reports whether the rules need to know how every piece is sailed.
func (p *Problem) watches() bool {
	return p.person.RestS > 0 || p.restsOverMembers()
}

// again sails the rest of a stage with a watch on the person.
func (p *Problem) again(n, s1 int, st *Stage, y *tally) error {
	_, err := p.finish(&p.course.legs[n], s1, &st.begun, &watch{p, y})
	return err
}

// sailFor sails a schedule under the rules. Without starts every change begins
// as early as the rules permit. broken says that a rule is not kept.
func (p *Problem) sailFor(schedule Schedule, starts []float64, log *Log) (v *Voyage, broken bool, err error) {
	v = &Voyage{Schedule: schedule, DepartS: p.DepartS, TotalM: p.course.totalM, starts: make([]float64, len(schedule))}
	y := p.begin()
	s0 := p.states.Index(p.Start)
	for k := range p.course.legs {
		s1 := p.states.Index(schedule[k])
		from := y.t
		switch {
		case starts != nil:
			from = starts[k]
		case s1 != s0:
			if from, err = p.earliest(&p.course.legs[k], &y, s0, s1, y.t); err != nil {
				return nil, false, &PassageError{DistanceNM: p.course.legs[k].startM / units.MPerNM, Err: err}
			}
			if math.IsInf(from, 1) {
				v.Status, v.Bar = NoWay, y.bar
				return v, true, nil
			}
		}
		st, err := p.step(k, &y, s0, s1, from, log)
		if err != nil {
			return nil, false, &PassageError{DistanceNM: p.course.legs[k].startM / units.MPerNM, Err: err}
		}
		if math.IsInf(st.ArriveS, 1) {
			v.Status, v.Bar = NoWay, y.bar
			return v, true, nil
		}
		v.Stages = append(v.Stages, st)
		v.starts[k] = from
		s0 = s1
	}
	v.ArriveS = y.t
	if y.broken {
		v.Bar = y.bar
	}
	return v, y.broken, nil
}

// sailRules sails a schedule under the problem's rules, or without when there
// are none.
func (p *Problem) sailRules(schedule Schedule) (*Voyage, bool, error) {
	if !p.person.any() {
		v, err := p.Sail(schedule, false, nil)
		return v, false, err
	}
	v, broken, err := p.sailFor(schedule, nil, nil)
	if err == nil && broken {
		v.Status = NoWay
	}
	return v, broken, err
}
