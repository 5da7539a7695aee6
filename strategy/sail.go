package strategy

import (
	"context"
	"fmt"
	"math"

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
	vmg    *vmgAngles
	wx     weather.Source
	opt    Options
}

// NewSailor prepares a boat for a forecast.
func NewSailor(ctx context.Context, perf Performer, h vpp.Handling, wx weather.Source, opt Options) (*Sailor, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	states, err := NewStates(perf.Settings(), perf.Extensions())
	if err != nil {
		return nil, err
	}
	if opt.PowerW > 0 {
		h.SustainedPowerW = opt.PowerW
	}
	pr, err := newPrices(perf, states, h)
	if err != nil {
		return nil, err
	}
	return &Sailor{perf: perf, states: states, prices: pr, vmg: newVMGAngles(perf), wx: wx, opt: opt}, nil
}

// In returns the same boat and tables in another forecast.
func (sl *Sailor) In(wx weather.Source) *Sailor {
	c := *sl
	c.wx = wx
	return &c
}

// States returns the foil states of the boat.
func (sl *Sailor) States() *States { return sl.states }

// Grid returns the grid of conditions of the boat's speed table.
func (sl *Sailor) Grid() vpp.Grid { return sl.perf.Grid() }

// Performer returns the boat.
func (sl *Sailor) Performer() Performer { return sl.perf }

// maxWaitS is how long a stopped boat may wait in all on one stage.
const maxWaitS = 48 * units.SPerHour

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

// tracer is told of every piece sailed. q is the pace, boardS the part of the
// time lost in tacks and gybes; a turn has no length.
type tracer interface {
	sailed(s *step, k, state int, t0, t1, fromM, lengthM float64, b *bin, q *binPace, boardS float64)
}

// sail integrates the boat in a state along a leg from departS, from fromM
// metres after its start. The tack or gybe on entering the leg is the caller's.
func (p *Problem) sail(l *leg, state int, departS, fromM float64, tr tracer) (run, error) {
	r := run{feasible: true}
	t := departS
	gone := 0.0
	first := true
	binS := p.course.binS
	for i := range l.steps {
		s := &l.steps[i]
		rest := s.lengthM
		if gone += s.lengthM; gone <= fromM {
			continue
		}
		rest = math.Min(rest, gone-fromM)
		if !first && s.prev != nil {
			lost, boards, err := p.cross(s, state, t)
			if err != nil {
				return r, err
			}
			if lost > 0 {
				if tr != nil {
					k := p.index(t)
					q, b := p.paceIn(s, k, state)
					tr.sailed(s, k, state, t, t+lost, 0, 0, b, q, lost)
				}
				t += lost
				r.boardS += lost
				r.boards += boards
			}
		}
		first = false
		for rest > 0 {
			k := p.index(t)
			q, b := p.paceIn(s, k, state)
			if q == nil {
				return r, b.err
			}
			end := float64(k+1) * binS
			if !(end > t) {
				end += binS // t at the very end of the interval, rounded
			}
			if start := float64(k) * binS; t < start+p.course.longestTurnS() {
				if stop, turns := p.turn(s, k, state, q, b); stop > 0 && t < start+stop {
					over := start + stop
					if tr != nil {
						tr.sailed(s, k, state, t, over, s.lengthM-rest, 0, b, q, over-t)
					}
					r.boardS += over - t
					r.boards += turns * (over - t) / stop
					t = over
				}
			}
			if q.AlongMS == 0 {
				wait := end - t
				if q.Held {
					r.heldS += wait
				} else {
					r.calmS += wait
				}
				if tr != nil {
					tr.sailed(s, k, state, t, end, s.lengthM-rest, 0, b, q, 0)
				}
				t = end
				if r.heldS+r.calmS > maxWaitS {
					r.feasible = false
					return r, nil
				}
				continue
			}
			// Tacks and gybes in a zigzag come at a rate: they stretch time.
			stretch := 1 + q.ChangesPerS*q.lossS
			dt := rest / q.AlongMS * stretch
			length := rest
			if t+dt > end {
				dt = end - t
				length = math.Min(rest, dt/stretch*q.AlongMS)
				rest -= length
			} else {
				rest = 0
			}
			under := dt / stretch
			if tr != nil {
				tr.sailed(s, k, state, t, t+dt, s.lengthM-rest-length, length, b, q, dt-under)
			}
			r.sailS += under
			r.boardS += dt - under
			r.boards += q.ChangesPerS * under
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

// cross is the time lost by a tack or gybe on entering a piece at time t. A
// boat may wait for the next interval when the turn is cheaper there, so that
// a later boat never gets away earlier.
func (p *Problem) cross(s *step, state int, t float64) (lostS, boards float64, err error) {
	k := p.index(t)
	if q, b := p.paceIn(s, k, state); q == nil {
		return 0, 0, b.err
	}
	lostS, boards = p.enter(s, k, state)
	for lostS > 0 {
		k++
		wait := float64(k)*p.course.binS - t
		if wait >= lostS {
			return lostS, boards, nil
		}
		if q, _ := p.paceIn(s, k, state); q == nil {
			return lostS, boards, nil
		}
		if l, n := p.enter(s, k, state); wait+l < lostS {
			lostS, boards = wait+l, n
		}
	}
	return 0, boards, nil
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
