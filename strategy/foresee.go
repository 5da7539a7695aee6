package strategy

import (
	"context"
	"math"

	"foilledger/vpp"
	"foilledger/weather"
)

// Issue is a forecast and the moment from which it can be known. Its source
// counts time from the same reference as the weather that is sailed in.
type Issue struct {
	IssuedS float64
	Source  weather.Source
}

// latest returns the place of the last issue at or before t, −1 without one.
// Issues are in the order of their times.
func latest(issues []Issue, t float64) int {
	at := -1
	for i := range issues {
		if issues[i].IssuedS <= t {
			at = i
		}
	}
	return at
}

// Forecast returns the newest forecast issued by now; ok is false when there is
// none.
func (v *View) Forecast() (f Issue, ok bool) {
	if i := latest(v.p.Issues, v.TimeS); i >= 0 {
		return v.p.Issues[i], true
	}
	return Issue{}, false
}

// Stage returns the number of the stage that begins, and of the last one.
func (v *View) Stage() (now, last int) { return v.stage, len(v.p.course.legs) - 1 }

// TWA returns the true wind angle off the course, 0…π, however the boat sails
// it.
func (v *View) TWA() float64 { return v.courseTWARad }

// Moment is what a forecast lets a sailor expect at a place on the track.
type Moment struct {
	TimeS, DistanceM   float64
	TWSMS, TWARad, HsM float64 // the angle as sailed with the foils as they are
	Starboard          bool
	// Sea is what speeds are asked for.
	Sea vpp.Condition
}

// Outlook expects, from the newest forecast issued by now, the conditions on
// the track ahead when the boat keeps the foils as they are, one for each stage
// from this one on, as long as horizonS. It ends early where the forecast does,
// and is empty without a forecast.
func (v *View) Outlook(horizonS float64) []Moment {
	f, ok := v.Forecast()
	if !ok {
		return nil
	}
	sl := v.p.In(f.Source)
	t := v.TimeS
	var out []Moment
	for n := v.stage; n < len(v.p.course.legs) && t <= v.TimeS+horizonS; n++ {
		l := &v.p.course.legs[n]
		s := &l.steps[len(l.steps)/2]
		smp, err := f.Source.At(s.mid[0], s.mid[1], t)
		if err != nil {
			break
		}
		sea := sl.sea(smp)
		q := sl.paceSea(s.courseRad, sea, v.State)
		starboard := wrapPi(sea.windFromRad-s.courseRad) >= 0
		heading := sea.windFromRad - q.TWARad
		if !starboard {
			heading = sea.windFromRad + q.TWARad
		}
		out = append(out, Moment{TimeS: t, DistanceM: l.startM, TWSMS: q.TWSMS, TWARad: q.TWARad, HsM: q.HsM,
			Starboard: starboard, Sea: sea.condition(q.TWARad, heading)})
		along := q.AlongMS
		if along == 0 { // stopped: expect her to get going as the limit bids
			along = math.Max(q.BSPMS, 1)
		}
		t += l.lengthM / along
	}
	return out
}

// SpeedIn returns the steady speed with leeward setting l, windward foil in, in
// expected conditions; ok is false when a limit refuses it.
func (v *View) SpeedIn(m Moment, l uint8) (bspMS float64, ok bool) {
	return v.p.perf.Speed(int(l), 0, m.Sea)
}

// PlanAhead finds the best schedule in a forecast for the stages from this one
// on that begin within farM metres. It steps through the weather in pieces and
// intervals that are coarser than the passage's own, because a forecast is not
// worth more, and beyond nearM metres it plans for several stages at a time.
// The schedule is empty when the forecast offers no way. It is made for few
// allowed states.
func (v *View) PlanAhead(ctx context.Context, f Issue, nearM, farM float64, allow Allowed) (Schedule, error) {
	sl := v.p.In(f.Source)
	c := &course{binS: aheadBinS, totalM: v.p.course.totalM, end: v.p.course.end, endRad: v.p.course.endRad}
	legs := v.p.course.legs[v.stage:]
	for n := range legs {
		if legs[n].startM-legs[0].startM > farM {
			legs = legs[:n]
			break
		}
	}
	var first []int // stage at which each leg of the plan begins
	for n := 0; n < len(legs); {
		take := 1
		if legs[n].startM-legs[0].startM > nearM {
			take = min(farStages, len(legs)-n)
		}
		l := leg{from: legs[n].from, startM: legs[n].startM}
		for _, x := range legs[n : n+take] {
			mid := &x.steps[len(x.steps)/2]
			l.lengthM += x.lengthM
			l.steps = append(l.steps, step{mid: mid.mid, courseRad: mid.courseRad, lengthM: x.lengthM, startM: x.startM})
		}
		c.legs = append(c.legs, l)
		first = append(first, n)
		n += take
	}
	var prev *step
	for i := range c.legs {
		for j := range c.legs[i].steps {
			c.legs[i].steps[j].prev = prev
			prev = &c.legs[i].steps[j]
		}
	}
	q := &Problem{Sailor: sl, track: v.p.track, course: c, DepartS: v.TimeS, Start: v.State}
	var within Allowed
	if allow != nil {
		within = func(k int, s State) bool { return allow(v.stage+first[k], s) }
	}
	best, err := q.best(ctx, within, nil, nil)
	if err != nil || best.Status != Found {
		return nil, err
	}
	out := make(Schedule, len(legs))
	for k, s := range best.Schedule {
		end := len(legs)
		if k+1 < len(first) {
			end = first[k+1]
		}
		for n := first[k]; n < end; n++ {
			out[n] = s
		}
	}
	return out, nil
}

// farStages is how many stages a plan made under way decides at a time far
// ahead.
const farStages = 4

// aheadBinS is the interval of the weather in a plan made under way, s.
const aheadBinS = 3600

// plainStates is up to how many states a search without deadlines is faster.
const plainStates = 64

// BestNear is Best when schedules of other voyages are known: their states are
// where the search begins, which saves finding such states. The result is that
// of Best.
func (p *Problem) BestNear(ctx context.Context, schedules ...Schedule) (*Voyage, error) {
	if len(p.states.all) <= plainStates {
		return p.best(ctx, nil, nil, nil)
	}
	use := make([]bool, len(p.states.all))
	use[p.states.Index(p.Start)], use[0] = true, true
	few := 0
	for _, s := range schedules {
		for _, st := range s {
			if i := p.states.Index(st); !use[i] {
				use[i] = true
				few++
			}
		}
	}
	if few == 0 || 2*few > len(use) {
		return p.Best(ctx, nil, false, nil)
	}
	rough, err := p.best(ctx, func(_ int, s State) bool { return use[p.states.Index(s)] }, nil, nil)
	if err != nil || rough.Status != Found {
		return p.Best(ctx, nil, false, nil)
	}
	cut, err := p.deadlinesFor(ctx, nil, rough.ArriveS+1e-3)
	if err != nil {
		return nil, err
	}
	return p.best(ctx, nil, cut, nil)
}
