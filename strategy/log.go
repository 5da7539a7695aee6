package strategy

import (
	"math"
	"sort"

	"github.com/paulmach/orb"

	"foilledger/vpp"
	"foilledger/weather"
)

// Entry is one piece of a voyage's log.
type Entry struct {
	Stage     int
	State     State
	StartS    float64 // seconds after the forecast's reference time
	EndS      float64
	StartM    float64 // along the track
	LengthM   float64
	Place     orb.Point // at the start
	CourseRad float64
	Sample    weather.Sample
	Pace      Pace
	BoardS    float64 // lost in tacks and gybes
	Changing  bool    // a change of foils is under way, or waited for

	waiting bool
	// alone tells whether the state may be left alone here, and in which
	// members; nil while foils are changed.
	alone func() (bool, members)
}

// Change is one change of the foil state.
type Change struct {
	Stage     int
	TimeS     float64
	DistanceM float64 // along the track
	Place     orb.Point
	From, To  State
	Starboard bool // wind from starboard
	Price     Price
	Pace      Pace // before the change
	Sample    weather.Sample
}

// Log is the detailed record of a voyage.
type Log struct {
	Entries []Entry
	Changes []Change

	problem *Problem
	stage   int // being sailed
	from    int // its first entry
}

// End returns the end of the track and the course there in radians.
func (p *Problem) End() (orb.Point, float64) { return p.course.end, p.course.endRad }

// End returns the end of the log's track and the course there in radians.
func (lg *Log) End() (orb.Point, float64) { return lg.problem.End() }

// Record sails a schedule and keeps its log.
func (p *Problem) Record(schedule Schedule) (*Voyage, *Log, error) {
	lg := &Log{problem: p}
	v, err := p.Sail(schedule, false, lg)
	if err != nil {
		return nil, nil, err
	}
	return v, lg, nil
}

// RecordVoyage sails a voyage again, waits of a person's schedule included,
// and keeps its log.
func (p *Problem) RecordVoyage(v *Voyage) (*Voyage, *Log, error) {
	if v.starts == nil {
		return p.Record(v.Schedule)
	}
	lg := &Log{problem: p}
	w, _, err := p.sailFor(v.Schedule, v.starts, lg)
	if err != nil {
		return nil, nil, err
	}
	return w, lg, nil
}

// began records the change and the turn at the start of a stage.
func (lg *Log) began(l *leg, stage, s0, s1 int, t float64, g *begun, pr *Price) {
	p := lg.problem
	s := &l.steps[0]
	lg.stage = stage
	q, b := p.paceIn(s, p.index(g.startS), s0)
	lg.from = len(lg.Entries)
	end := g.t - g.turnS
	if pr.n > 0 {
		lg.Changes = append(lg.Changes, Change{
			Stage: stage, TimeS: g.startS, DistanceM: l.startM, Place: l.from, From: p.states.all[s0], To: p.states.all[s1],
			Starboard: b.relRad >= 0, Price: *pr, Pace: q.Pace, Sample: b.smp,
		})
	}
	if g.turnS > 0 {
		q, b := p.paceIn(s, p.index(g.startS), s1)
		lg.Entries = append(lg.Entries, Entry{
			Stage: stage, State: p.states.all[s1], StartS: end, EndS: g.t, StartM: l.startM,
			Place: l.from, CourseRad: s.courseRad, Sample: b.smp, Pace: q.Pace, BoardS: g.turnS,
		})
	}
}

// changed puts the change at the start of a stage in the place of what was
// sailed until it ends. endS is its end; on a short stage that may be on the
// next.
func (lg *Log) changed(l *leg, s0 int, t, endS float64, pr *Price) {
	p := lg.problem
	if pr.n == 0 && len(lg.Entries) > lg.from && lg.Entries[lg.from].StartS <= t {
		return // neither change nor wait
	}
	sailed := append([]Entry(nil), lg.Entries[lg.from:]...)
	if len(sailed) == 0 {
		return
	}
	if pr.n == 0 {
		endS = sailed[0].StartS // a wait for a cheaper turn
	}
	endS = math.Min(math.Max(endS, t), sailed[len(sailed)-1].EndS)
	s := &l.steps[0]
	q, b := p.paceIn(s, p.index(t), s0)
	e := Entry{Stage: lg.stage, State: p.states.all[s0], StartS: t, EndS: endS, StartM: l.startM,
		Place: l.from, CourseRad: s.courseRad, Sample: b.smp, Pace: q.Pace, Changing: true}
	rest := sailed[:0]
	for _, x := range sailed {
		switch {
		case x.EndS <= endS:
			e.LengthM += x.LengthM
		case x.StartS < endS:
			f := (endS - x.StartS) / (x.EndS - x.StartS)
			e.LengthM += f * x.LengthM
			x.StartM += f * x.LengthM
			x.LengthM *= 1 - f
			x.BoardS *= 1 - f
			x.StartS = endS
			rest = append(rest, x)
		default:
			rest = append(rest, x)
		}
	}
	lg.Entries = append(append(lg.Entries[:lg.from], e), rest...)
}

// waited records a wait at the start of a stage.
func (lg *Log) waited(stage, s0 int, t0, t1 float64) {
	p := lg.problem
	l := &p.course.legs[stage]
	s := &l.steps[0]
	p.intervals(t0, t1, func(k int, from, to float64) {
		q, b := p.paceIn(s, k, s0)
		if q == nil {
			return
		}
		lg.Entries = append(lg.Entries, Entry{Stage: stage, State: p.states.all[s0], StartS: from, EndS: to, StartM: l.startM,
			Place: l.from, CourseRad: s.courseRad, Sample: b.smp, Pace: q.Pace, Changing: true, waiting: true, alone: p.alone(s, k, b, s0, q)})
	})
}

func (lg *Log) sailed(s *step, k, state int, t0, t1, fromM, lengthM float64, b *bin, q *binPace, boardS float64) {
	p := lg.problem
	lg.Entries = append(lg.Entries, Entry{
		Stage: lg.stage, State: p.states.all[state], StartS: t0, EndS: t1, StartM: s.startM + fromM, LengthM: lengthM,
		Place: s.mid, CourseRad: s.courseRad, Sample: b.smp, Pace: q.Pace, BoardS: boardS, alone: p.alone(s, k, b, state, q),
	})
}

// alone asks later, for the members take their time.
func (p *Problem) alone(s *step, k int, b *bin, state int, q *binPace) func() (bool, members) {
	return func() (bool, members) { return p.safeIn(s, k, b, state, q), p.holders(s, k, b, state, q) }
}

// TimeAt returns when the voyage passed the place m metres along the track.
func (lg *Log) TimeAt(m float64) float64 {
	e := lg.Entries
	i := sort.Search(len(e), func(i int) bool { return e[i].StartM+e[i].LengthM >= m })
	if i == len(e) {
		i--
	}
	if e[i].LengthM <= 0 {
		return e[i].EndS
	}
	f := (m - e[i].StartM) / e[i].LengthM
	return e[i].StartS + min(max(f, 0), 1)*(e[i].EndS-e[i].StartS)
}

// Steady returns the whole steady state of the boat in an entry, on the board
// sailed most.
func (lg *Log) Steady(e *Entry) vpp.Steady {
	sl := lg.problem.Sailor
	l, w := sl.states.roles(e.State, e.Pace.Starboard >= 0.5)
	sea := sl.sea(e.Sample)
	heading := sea.windFromRad - e.Pace.TWARad
	if e.Pace.Starboard < 0.5 {
		heading = sea.windFromRad + e.Pace.TWARad
	}
	return sl.perf.At(l, w, sea.condition(e.Pace.TWARad, heading))
}
