package strategy

import (
	"sort"

	"github.com/paulmach/orb"

	"foilledger/vpp"
	"foilledger/weather"
)

// recorder is told what happens while a schedule is sailed.
type recorder interface {
	change(l *leg, stage int, s0, s1 State, t float64, p *Price, m moment)
	turn(l *leg, stage int, s State, t0, t1 float64)
	step(at *step, stage int, s State, departS, arriveS, fromM, lengthM float64, smp weather.Sample, p Pace, boardS float64)
}

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
	Changing  bool    // a change of foils is under way
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
}

// Record sails a schedule and keeps its log.
func (p *Problem) Record(schedule Schedule) (*Voyage, *Log, error) {
	lg := &Log{problem: p}
	v, err := p.Sail(schedule, false, lg)
	if err != nil {
		return nil, nil, err
	}
	return v, lg, nil
}

func (lg *Log) change(l *leg, stage int, s0, s1 State, t float64, p *Price, m moment) {
	smp, _ := lg.problem.wx.At(l.from[0], l.from[1], t) // was available a moment ago
	lg.Changes = append(lg.Changes, Change{
		Stage: stage, TimeS: t, DistanceM: l.startM, Place: l.from, From: s0, To: s1,
		Starboard: m.starboard, Price: *p, Pace: m.pace, Sample: smp,
	})
	lg.Entries = append(lg.Entries, Entry{
		Stage: stage, State: s0, StartS: t, EndS: t + p.TimeS, StartM: l.startM, LengthM: p.DistanceM,
		Place: l.from, CourseRad: l.courseRad, Sample: smp, Pace: m.pace, Changing: true,
	})
}

func (lg *Log) turn(l *leg, stage int, s State, t0, t1 float64) {
	smp, _ := lg.problem.wx.At(l.from[0], l.from[1], t0) // was available a moment ago
	lg.Entries = append(lg.Entries, Entry{
		Stage: stage, State: s, StartS: t0, EndS: t1, StartM: l.startM, Place: l.from, CourseRad: l.courseRad,
		Sample: smp, Pace: lg.problem.pace(l.courseRad, smp, s), BoardS: t1 - t0,
	})
}

func (lg *Log) step(at *step, stage int, s State, departS, arriveS, fromM, lengthM float64, smp weather.Sample, p Pace, boardS float64) {
	place := at.mid
	lg.Entries = append(lg.Entries, Entry{
		Stage: stage, State: s, StartS: departS, EndS: arriveS, StartM: at.startM + fromM, LengthM: lengthM,
		Place: place, CourseRad: at.courseRad, Sample: smp, Pace: p, BoardS: boardS,
	})
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
