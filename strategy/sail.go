package strategy

import (
	"context"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// Sailor moves one boat along tracks in one forecast: the simulator that the
// plan, the baselines, fixed schedules and policies share.
type Sailor struct {
	perf   Performer
	states *States
	prices *prices
	wx     weather.Source
	opt    Options

	waveDirections bool
}

// NewSailor prepares a boat for a forecast. It tabulates the prices of
// manoeuvres, which takes a fraction of a second and stops when ctx ends.
func NewSailor(ctx context.Context, perf Performer, h vpp.Handling, wx weather.Source, opt Options) (*Sailor, error) {
	states, err := NewStates(perf.Settings(), perf.Extensions())
	if err != nil {
		return nil, err
	}
	pr, err := newPrices(ctx, perf, states, h)
	if err != nil {
		return nil, err
	}
	return &Sailor{perf: perf, states: states, prices: pr, wx: wx, opt: opt, waveDirections: opt.WaveDirections}, nil
}

// In returns the same boat and tables in another forecast.
func (sl *Sailor) In(wx weather.Source) *Sailor {
	c := *sl
	c.wx = wx
	return &c
}

// States returns the foil states of the boat.
func (sl *Sailor) States() *States { return sl.states }

// The pace of a boat is taken as constant over pieces of the track of at most
// subM metres and over intervals of binS seconds, at their middles: a field of
// speeds over place and time. A boat that follows such a field can never be
// overtaken by one that leaves later in the same state, whatever the weather
// does, which is what makes the search for the earliest arrival exact. The
// error of the steps is second order in both; Problem.Refined measures it.
const (
	subM = 2.5 * units.MPerNM
	binS = 900.0
)

// maxWaitS is how long a stopped boat may wait in all on one stage.
const maxWaitS = 48 * units.SPerHour

// step is one piece of a stage, with the paces found there so far.
type step struct {
	mid       orb.Point
	courseRad float64
	lengthM   float64
	startM    float64 // along the track
	bins      map[int]*bin
}

// bin is the weather in one piece of the track in one interval of time, and
// the paces of the foil states in it.
type bin struct {
	smp   weather.Sample
	err   error
	paces []binPace
}

// binPace is one state's pace, with what boards cost it.
type binPace struct {
	Pace
	known   bool
	lossS   float64 // of one tack or gybe; known when Zigzag
	turnS   float64 // stopped at the start of the interval because the board changes
	turned  float64 // boards changed then, 0…1
	turnSet bool
}

// leg is a stage made ready for integration.
type leg struct {
	from      orb.Point
	courseRad float64 // at its start
	prevRad   float64 // course on which its start is reached
	lengthM   float64
	startM    float64
	steps     []step
}

// course is a track made ready for integration.
type course struct {
	legs   []leg
	totalM float64
	end    orb.Point
	endRad float64
}

func newCourse(track *route.Track, stageM, subM float64) *course {
	var c course
	prev, prevLeg := 0.0, -1
	for _, st := range track.Stages(stageM) {
		l := leg{from: st.From, lengthM: st.LengthM, startM: st.StartM}
		n := max(1, int(math.Ceil(st.LengthM/subM)))
		h := st.LengthM / float64(n)
		for i := range n {
			mid, b := track.At(st.StartM + (float64(i)+0.5)*h)
			l.steps = append(l.steps, step{mid: mid, courseRad: b, lengthM: h, startM: st.StartM + float64(i)*h, bins: map[int]*bin{}})
		}
		l.courseRad = l.steps[0].courseRad
		l.prevRad = l.courseRad
		if prevLeg >= 0 && st.Leg != prevLeg {
			l.prevRad = prev // a waypoint: the course changes
		}
		prev, prevLeg = l.steps[n-1].courseRad, st.Leg
		c.legs = append(c.legs, l)
		c.totalM = st.StartM + st.LengthM
		c.end = st.To
	}
	c.endRad = prev
	return &c
}

// run is what sailing a piece of track came to.
type run struct {
	arriveS  float64
	sailS    float64 // under way
	boardS   float64 // lost in tacks and gybes
	heldS    float64 // stopped by a limit
	calmS    float64 // stopped for want of wind, or by the current
	boards   float64 // number of tacks and gybes, as a real number
	feasible bool
}

// visit is called for every piece sailed when a detailed record is wanted.
type visit func(at *step, departS, arriveS, fromM, lengthM float64, smp weather.Sample, p Pace, boardS float64)

// bin returns the weather of a piece in interval number k.
func (sl *Sailor) bin(s *step, k int) *bin {
	b := s.bins[k]
	if b == nil {
		b = &bin{paces: make([]binPace, len(sl.states.all))}
		first, last := sl.wx.SpanS()
		t0, t1 := float64(k)*binS, float64(k+1)*binS
		at := (t0 + t1) / 2
		if t1 > first && at < first { // the forecast starts or ends inside
			at = first
		}
		if t0 < last && at > last {
			at = last
		}
		b.smp, b.err = sl.wx.At(s.mid[0], s.mid[1], at)
		s.bins[k] = b
	}
	return b
}

// paceIn returns the pace of a state in interval k of a piece.
func (sl *Sailor) paceIn(s *step, k, state int) (*binPace, *bin) {
	b := sl.bin(s, k)
	if b.err != nil {
		return nil, b
	}
	p := &b.paces[state]
	if !p.known {
		p.Pace = sl.pace(s.courseRad, b.smp, sl.states.all[state])
		p.known = true
		if p.ChangesPerS > 0 {
			p.lossS = sl.boardLoss(sl.states.all[state], p.Pace, true)
		}
	}
	return p, b
}

// sail integrates the boat in a state along a leg from departS, from fromM
// metres after its start.
func (sl *Sailor) sail(l *leg, st State, departS, fromM float64, record visit) (run, error) {
	r := run{feasible: true}
	state := sl.states.Index(st)
	t := departS
	gone := 0.0
	for i := range l.steps {
		s := &l.steps[i]
		rest := s.lengthM
		if gone += s.lengthM; gone <= fromM {
			continue
		}
		rest = math.Min(rest, gone-fromM)
		for rest > 0 {
			k := int(math.Floor(t / binS))
			p, b := sl.paceIn(s, k, state)
			if p == nil {
				return r, b.err
			}
			end := float64(k+1) * binS
			if !(end > t) {
				end += binS // t at the very end of the interval, rounded
			}
			if !p.turnSet {
				p.turnS, p.turned = sl.turn(s, k, state, p)
				p.turnSet = true
			}
			if over := float64(k)*binS + p.turnS; t < over {
				if record != nil {
					record(s, t, over, s.lengthM-rest, 0, b.smp, p.Pace, over-t)
				}
				r.boardS += over - t
				r.boards += p.turned * (over - t) / p.turnS
				t = over
			}
			if p.AlongMS == 0 {
				wait := end - t
				if p.Held {
					r.heldS += wait
				} else {
					r.calmS += wait
				}
				if r.heldS+r.calmS > maxWaitS {
					r.feasible = false
					return r, nil
				}
				if record != nil {
					record(s, t, end, s.lengthM-rest, 0, b.smp, p.Pace, 0)
				}
				t = end
				continue
			}
			// Tacks and gybes in a zigzag come at a rate: they stretch time.
			stretch := 1 + p.ChangesPerS*p.lossS
			dt := rest / p.AlongMS * stretch
			length := rest
			if t+dt > end {
				dt = end - t
				length = math.Min(rest, dt/stretch*p.AlongMS)
				rest -= length
			} else {
				rest = 0
			}
			under := dt / stretch
			if record != nil {
				record(s, t, t+dt, s.lengthM-rest-length, length, b.smp, p.Pace, dt-under)
			}
			r.sailS += under
			r.boardS += dt - under
			r.boards += p.ChangesPerS * under
			if t+dt >= end {
				t = end
			} else {
				t += dt
			}
		}
	}
	r.arriveS = t
	return r, nil
}

// turn is the time for which a boat is stopped at the start of interval k
// because the wind has come round to its other side since the interval before.
func (sl *Sailor) turn(s *step, k, state int, p *binPace) (stopS, boards float64) {
	if before := s.bins[k-1]; before == nil || before.err != nil {
		// Not asked for yet: cheap to see whether it matters.
		if before = sl.bin(s, k-1); before.err != nil {
			return 0, 0
		}
	}
	q, _ := sl.paceIn(s, k-1, state)
	boards = math.Abs(p.Starboard - q.Starboard)
	if boards == 0 || p.AlongMS == 0 || (p.Zigzag && q.Zigzag) {
		return 0, 0 // the turns of a zigzag are in its rate
	}
	return math.Min(boards*sl.boardLoss(sl.states.all[state], p.Pace, p.Starboard >= q.Starboard), binS/2), boards
}

// waypoint is the time lost in changing boards where the course changes.
func (sl *Sailor) waypoint(l *leg, st State, t float64) (lossS, boards float64, err error) {
	if l.prevRad == l.courseRad {
		return 0, 0, nil
	}
	smp, err := sl.wx.At(l.from[0], l.from[1], t)
	if err != nil {
		return 0, 0, err
	}
	before, after := sl.pace(l.prevRad, smp, st), sl.pace(l.courseRad, smp, st)
	boards = math.Abs(after.Starboard - before.Starboard)
	if boards == 0 || after.AlongMS == 0 {
		return 0, 0, nil
	}
	return boards * sl.boardLoss(st, after, after.Starboard >= before.Starboard), boards, nil
}

// boardLoss is the time lost by one tack or gybe onto starboard or port tack.
// In a zigzag the mean of both is taken.
func (sl *Sailor) boardLoss(st State, p Pace, toStarboard bool) float64 {
	c := sl.prices.locate(p.TWSMS, p.TWARad, p.HsM)
	tack := p.Upwind()
	one := func(toStarboard bool) float64 {
		l0, w0 := sl.states.roles(st, !toStarboard)
		l1, w1 := sl.states.roles(st, toStarboard)
		v0 := sl.prices.mix(sl.prices.steady, l0, w0, &c)
		v1 := sl.prices.mix(sl.prices.steady, l1, w1, &c)
		return sl.prices.board(st, toStarboard, tack, &c, v0, v1)
	}
	if p.Zigzag {
		return (one(true) + one(false)) / 2
	}
	return one(toStarboard)
}

// PassageError says where on a passage the weather was missing.
type PassageError struct {
	DistanceNM float64 // along the track
	Err        error   // usually a *weather.CoverageError
}

func (e *PassageError) Error() string {
	return fmt.Sprintf("%.0f nautical miles along the track: %v", e.DistanceNM, e.Err)
}

// Unwrap returns the cause.
func (e *PassageError) Unwrap() error { return e.Err }

// Grid returns the grid of conditions of the boat's speed table.
func (sl *Sailor) Grid() vpp.Grid { return sl.perf.Grid() }

// Performer returns the boat.
func (sl *Sailor) Performer() Performer { return sl.perf }
