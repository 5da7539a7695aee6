package route

import (
	"context"
	"fmt"
	"math"
	"runtime"

	"github.com/paulmach/orb"
)

// Passing says how a mark is to be passed.
type Passing int

const (
	// AtPoint: sail to the point.
	AtPoint Passing = iota
	// Between: cross the line from Point to Other anywhere, such as a gate,
	// a starting or a finishing line.
	Between
	// ToPort: leave the point on the port side, within ReachM of it.
	ToPort
	// ToStarboard: leave the point on the starboard side, within ReachM of it.
	ToStarboard
)

// Mark is a place to sail from, by or to.
type Mark struct {
	Name    string
	Point   orb.Point
	Passing Passing
	Other   orb.Point // the other end for Between
	// ClearM and ReachM are the least and largest distance for ToPort and
	// ToStarboard. A ReachM of 0 means 50 km.
	ClearM, ReachM float64

	corner *orb.Point // of a gate put in by detour: where the axis passes
}

// Departure is a state at the start and when it may leave.
type Departure struct {
	State int
	TimeS float64
}

// Options of a search. The zero value of every field is sensible.
type Options struct {
	// Stages along the whole course; 0 means 100. Each leg has at least two.
	Stages int
	// Lateral points across, made odd; 0 means 41.
	Lateral int
	// HalfWidthM of the first round's mesh in the middle of a leg; 0 means
	// 0.3 of the leg's length.
	HalfWidthM float64
	// MaxAngleRad between an edge and the axis; 0 means 75°.
	MaxAngleRad float64
	// Fan is how many places to either side an edge may go, against the centre of
	// the mesh: the middle in the first round, the best course later. 0 means all.
	Fan int
	// MinGainS ends the refinement when two rounds in turn gain less; 0 means
	// 60 s.
	MinGainS float64
	// MaxRounds bounds the rounds that find a course; 0 means 12.
	MaxRounds int
	// LatestS is the latest arrival allowed; 0 means none.
	LatestS float64
	// Workers sail in parallel; 0 means one per processor. The result does
	// not depend on it.
	Workers int
	// Waters to sail in; nil: everywhere.
	Waters *Waters
	// Surface; nil means WGS84.
	Surface Surface
	// Relaxed, when given, is the same mover with fewer limits and prices; it
	// runs over the last round's mesh for Result.RelaxedS. Its states must be
	// the same.
	Relaxed Mover
	// KeepArrivals keeps the earliest arrivals over the whole first mesh that
	// has a course, for Result.Arrivals.
	KeepArrivals bool
	// Progress is called after every stage of every round from one goroutine.
	Progress func(round, done, total int)
}

// Arrivals are the earliest arrivals at the points of one column of a mesh, in
// any state; +Inf where nobody gets.
type Arrivals struct {
	Points []orb.Point
	TimeS  []float64
}

// Status of a search.
type Status int

const (
	// Found: there is a course.
	Found Status = iota
	// NoCourse: the mesh holds no way to the finish.
	NoCourse
	// TooLate: there may be a course, but none arrives by LatestS.
	TooLate
)

func (s Status) String() string {
	switch s {
	case Found:
		return "found"
	case NoCourse:
		return "no course"
	case TooLate:
		return "too late"
	}
	return fmt.Sprintf("Status(%d)", int(s))
}

// Step is a point of the course.
type Step struct {
	Point orb.Point
	TimeS float64 // arrival, or departure at the start
	State int     // on arrival; at the start, on departure
	Leg   int     // leg that ends or passes here
	// OffsetM across the axis, positive to the right of it.
	OffsetM float64
}

// Round says what one round of refinement did.
type Round struct {
	ArrivalS   float64 // +Inf when it found nothing
	HalfWidthM float64 // widest column
	Edges      int     // edges sailed
	Blocked    int     // edges refused by land or areas
}

// Result of a search.
type Result struct {
	Status Status
	// Reason says in words why there is no course.
	Reason   string
	ArrivalS float64
	Course   []Step
	Rounds   []Round
	// Arrivals by column, from the start to the finish; see KeepArrivals.
	Arrivals []Arrivals
	// Detour says that the mesh was laid along a way by sea because land
	// barred all of it around the shortest lines.
	Detour bool
	// LastGainS is what the last round gained; the course could be refined by
	// about as much again.
	LastGainS float64
	// LowerBoundS is the arrival that no course between the marks can beat,
	// from MaxSpeedMS and the shortest lines; -Inf when there is none.
	LowerBoundS float64
	// RelaxedS is the arrival of Options.Relaxed over the last round's mesh;
	// NaN without it.
	RelaxedS float64
}

func (o Options) withDefaults() (Options, error) {
	for name, v := range map[string]float64{"HalfWidthM": o.HalfWidthM, "MaxAngleRad": o.MaxAngleRad, "MinGainS": o.MinGainS, "LatestS": o.LatestS} {
		if !finite(v) && !math.IsInf(v, 1) {
			return o, fmt.Errorf("search: %s is %v", name, v)
		}
	}
	if o.Stages <= 0 {
		o.Stages = 100
	}
	if o.Lateral <= 0 {
		o.Lateral = 41
	}
	o.Lateral |= 1
	if o.MaxAngleRad <= 0 || o.MaxAngleRad >= math.Pi/2 {
		o.MaxAngleRad = 75 * math.Pi / 180
	}
	if o.MinGainS <= 0 {
		o.MinGainS = 60
	}
	if o.MaxRounds <= 0 {
		o.MaxRounds = 12
	}
	if o.LatestS == 0 {
		o.LatestS = math.Inf(1)
	}
	if o.Workers <= 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	if o.Surface == nil {
		o.Surface = WGS84
	}
	if _, earth := o.Surface.(*Ellipsoid); o.Waters != nil && !earth {
		return o, fmt.Errorf("search: waters are on the Earth, the surface is not")
	}
	return o, nil
}

// Search finds the course of earliest arrival from the first mark past the
// others to the last, over a mesh of positions around the shortest lines
// between successive marks, for every state of the mover, and refines the mesh
// around the best course until two rounds in turn gain less than MinGainS.
//
// Where land bars the whole mesh, it is laid along a short way by sea instead
// of the shortest line.
//
// A mark that cannot be sailed to is a *PlaceError; a cancelled context and an
// error of the mover are returned as they are. No course is no error but a
// Status. The optimum is exact for the mesh and, by the refinement, local to
// the neighbourhood of the first round's best course.
func Search(ctx context.Context, mover Mover, marks []Mark, departures []Departure, opt Options) (*Result, error) {
	o, err := opt.withDefaults()
	if err != nil {
		return nil, err
	}
	if err := checkQuestion(mover, marks, departures, o); err != nil {
		return nil, err
	}
	m := newMesh(o, marks)
	r := &Result{Status: NoCourse, ArrivalS: math.Inf(1), RelaxedS: math.NaN(), LowerBoundS: m.lowerBound(mover, departures)}
	sw := newSweep(o, m, mover)
	m.spread(1)
	shrink, quiet := 1.0, 0
	var legs []int // of the marks asked for, once there are gates between
	for round, found := 0, 0; ; round++ {
		path, stats, err := sw.run(ctx, round, departures, math.Min(o.LatestS, r.ArrivalS))
		if err != nil {
			return nil, err
		}
		r.Rounds = append(r.Rounds, stats)
		if path == nil {
			if r.Status == Found {
				// The last course is in the mesh, so some way is.
				return nil, fmt.Errorf("search: round %d lost the course", round+1)
			}
			if m.denser(round) {
				continue
			}
			r.Status, r.Reason = sw.whyNot(o)
			if r.Status != NoCourse || sw.everBlocked == 0 || len(legs) > 0 {
				return r, nil
			}
			// Bars across the whole mesh: lay it along a way by sea.
			var ok bool
			var around []Mark
			if around, legs, ok, err = detour(ctx, o.Waters, marks); err != nil {
				return nil, err
			}
			if !ok {
				return r, nil
			}
			r.Detour = true
			m = newMesh(o, around)
			sw = newSweep(o, m, mover)
			m.spread(1)
			continue
		}
		if o.KeepArrivals && r.Arrivals == nil {
			r.Arrivals = sw.arrivals()
		}
		gain := r.ArrivalS - stats.ArrivalS
		r.Status, r.ArrivalS, r.Course = Found, stats.ArrivalS, path
		if !math.IsInf(gain, 1) {
			r.LastGainS = gain
		}
		inside := m.inside(path)
		if inside && gain < o.MinGainS {
			quiet++
		} else {
			quiet = 0
		}
		// One quiet round may be chance: the points merely fell badly.
		if found++; quiet == 2 || found >= o.MaxRounds {
			break
		}
		if inside {
			shrink /= 2
		}
		m.around(path, shrink)
	}
	for i := range r.Course {
		if legs != nil {
			r.Course[i].Leg = legs[r.Course[i].Leg]
		}
	}
	if o.Relaxed != nil {
		rs := newSweep(o, m, o.Relaxed)
		_, stats, err := rs.run(ctx, len(r.Rounds), departures, r.ArrivalS)
		if err != nil {
			return nil, err
		}
		r.RelaxedS = stats.ArrivalS
	}
	return r, nil
}

func checkQuestion(mover Mover, marks []Mark, departures []Departure, o Options) error {
	if len(marks) < 2 {
		return &TrackError{Msg: fmt.Sprintf("a course needs at least two marks, there are %d", len(marks))}
	}
	if len(departures) == 0 {
		return fmt.Errorf("search: no departure")
	}
	for _, d := range departures {
		if d.State < 0 || d.State >= mover.States() || !finite(d.TimeS) {
			return fmt.Errorf("search: departure in state %d of %d at %v s", d.State, mover.States(), d.TimeS)
		}
	}
	_, flat := o.Surface.(Plane)
	for i, k := range marks {
		what := k.Name
		if what == "" {
			what = markName(i, len(marks))
		}
		for n, p := range []orb.Point{k.Point, k.Other} {
			if n == 1 && k.Passing != Between {
				break
			}
			if !flat {
				if err := checkPoint(p); err != nil {
					err.Waypoint = i + 1
					return err
				}
			} else if !finite(p[0], p[1]) {
				return &TrackError{Waypoint: i + 1, Msg: "not finite numbers"}
			}
			// The ends of a gate and a mark to round may stand ashore.
			if k.Passing == AtPoint {
				if err := o.Waters.CheckPlace(what, p); err != nil {
					return err
				}
			}
		}
		if !finite(k.ClearM, k.ReachM) || k.ClearM < 0 || k.ReachM < 0 {
			return &TrackError{Waypoint: i + 1, Msg: fmt.Sprintf("clear distance %v m, reach %v m", k.ClearM, k.ReachM)}
		}
		if i > 0 {
			if d, _, _ := o.Surface.Inverse(marks[i-1].Point, k.Point); !(d > 0) {
				return &TrackError{Waypoint: i + 1, Msg: fmt.Sprintf("the same place as waypoint %d", i), Hint: "remove one of them"}
			}
		}
	}
	return nil
}

func markName(i, n int) string {
	switch i {
	case 0:
		return "start"
	case n - 1:
		return "finish"
	}
	return fmt.Sprintf("mark %d", i)
}
