package strategy

import (
	"math"

	"foilledger/vpp/units"
)

const dayS = 24 * units.SPerHour

// maxWindows is the largest number of windows of 24 hours open at a time.
const maxWindows = 8

// For returns the same passage under the rules of a person.
func (p *Problem) For(person Person) *Problem {
	q := *p
	q.person = person
	if q.person.any() {
		q.person.SpacingS = math.Max(q.person.SpacingS, p.prices.h.SettleS)
	}
	q.person.WindowS = math.Max(or(person.WindowS, 6*units.SPerHour), dayS/maxWindows)
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
	t       float64             // now
	ready   float64             // when the next change may begin
	gap     float64             // since when the person can rest
	awake   [maxWindows]float64 // time without rest up to gap, by open window of 24 h
	effort  float64             // J, on the day of the last change
	day     int32
	changes int32
	broken  bool // a rule is broken
	bar     Bar  // which, the first one
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

// windows is the number of windows of 24 hours that are open at a time.
func (p *Problem) windows() int { return int(math.Ceil(dayS/p.person.WindowS - 1e-9)) }

// addAwake counts the span from t0 to t1 as time without rest.
func (p *Problem) addAwake(y *tally, t0, t1 float64) {
	n := p.windows()
	ws := p.person.WindowS
	w1 := int(math.Floor((t1 - p.DepartS) / ws))
	for w := max(0, int(math.Floor((t0-p.DepartS)/ws))-n+1); w <= w1; w++ {
		from := p.DepartS + float64(w)*ws
		if d := math.Min(t1, from+dayS) - math.Max(t0, from); d > 0 {
			y.awake[w%n] += d
		}
	}
}

// pass moves a tally's clock on to t. Windows of 24 hours that end on the way
// are checked and their places taken by new ones.
func (p *Problem) pass(y *tally, t float64) {
	if p.person.RestS <= 0 {
		y.t = t
		return
	}
	n := p.windows()
	ws := p.person.WindowS
	for w := int(math.Ceil((y.t-dayS-p.DepartS)/ws - 1e-9)); ; w++ {
		end := p.DepartS + float64(w)*ws + dayS
		if end > t {
			break
		}
		if w < 0 || end <= y.t {
			continue
		}
		awake := y.awake[w%n]
		if g := math.Max(y.gap, end-dayS); end-y.gap < p.person.NapS {
			awake += end - g // a nap that is too short as yet
		}
		if awake > dayS-p.person.RestS+1e-6 {
			y.breaks(BarRest)
		}
		y.awake[w%n] = 0
	}
	y.t = t
}

// busy ends a gap at t0 with something to do until t1.
func (p *Problem) busy(y *tally, t0, t1 float64) {
	if p.person.RestS <= 0 {
		y.t, y.gap = t1, t1
		return
	}
	p.pass(y, t0)
	if t0-y.gap < p.person.NapS {
		p.addAwake(y, y.gap, t0)
	}
	// Piece by piece, so that windows are checked with what they hold.
	for t := t0; t < t1; {
		next := math.Min(t1, p.DepartS+(math.Floor((t-p.DepartS)/p.person.WindowS+1e-9)+1)*p.person.WindowS)
		p.addAwake(y, t, next)
		y.gap = next
		p.pass(y, next)
		t = next
	}
	y.gap = t1
}

// watch follows a tally along a stage as it is sailed.
type watch struct {
	p *Problem
	y *tally
}

func (w *watch) sailed(s *step, k, state int, t0, t1, _, lengthM float64, b *bin, q *binPace, boardS float64) {
	if t0 = max(t0, w.y.t); t1 <= t0 {
		return // while the foils are changed
	}
	idle := w.p.safeIn(s, k, b, state, q)
	if boardS > 0 {
		idle = idle && q.Zigzag && lengthM > 0 && q.ChangesPerS*w.p.person.NapS <= 1
	}
	if idle {
		w.p.pass(w.y, t1)
	} else {
		w.p.busy(w.y, t0, t1)
	}
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
	if log != nil && startS > begin {
		log.waited(n, s0, begin, startS)
	}
	if st.Change.n > 0 {
		c := &st.Change
		from := math.Max(begin, startS)
		end := from + c.TimeS
		from += c.WaitS // for a cheaper moment; what follows is for the rules
		if wait := startS - begin; wait > 0 {
			c.WaitS += wait
			c.TimeS += wait
			c.LostS += wait
		}
		p.busy(y, from, end)
		y.ready = end + p.person.SpacingS
		y.changes++
		if d := p.day(from); d != y.day {
			y.day, y.effort = d, 0
		}
		y.effort += countedJ(st.Change.EffortJ)
		if p.person.EffortJ > 0 && y.effort > p.person.EffortJ*(1+1e-9) {
			y.breaks(BarEffort)
		}
	} else if startS > begin {
		p.pass(y, startS)
	}
	if p.person.RestS > 0 {
		if err := p.again(n, s1, &st, y); err != nil {
			return st, err
		}
	}
	y.t = math.Max(y.t, st.ArriveS)
	if p.person.RestS <= 0 {
		y.t = st.ArriveS
	}
	st.DepartS = begin
	return st, nil
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
	y := tally{t: p.DepartS, gap: p.DepartS, ready: math.Inf(-1)}
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
