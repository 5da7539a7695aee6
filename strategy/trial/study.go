package trial

import (
	"context"
	"errors"
	"fmt"
	"math"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// Boat is a boat, or a variant of one, that sails every weather.
type Boat struct {
	Name   string
	Sailor *strategy.Sailor // in any weather
}

// Contender is a policy that takes part. New makes one for each run.
type Contender struct {
	Name string
	New  func(ctx context.Context, sl *strategy.Sailor) strategy.Policy
}

// Study is a track to be sailed by every boat, with every policy, in every
// weather.
type Study struct {
	Track    *route.Track
	Set      *Set
	Boats    []Boat
	Policies []Contender
	// Ceiling also finds the best schedule with full knowledge of the weather,
	// which no policy can beat.
	Ceiling bool
	// Search are thresholds whose passage times are to be recorded too.
	Search []Candidate
}

// Jobs returns the number of jobs: one for each weather and boat.
func (st *Study) Jobs() int { return st.Set.Len() * len(st.Boats) }

// Outcome says how a run ended.
type Outcome string

// How a run ends.
const (
	Arrived    Outcome = ""
	NoWay      Outcome = "no feasible passage"
	NotCovered Outcome = "the weather ends or does not reach"
)

// Move is one change of the foil state.
type Move struct {
	DistanceM float64 `json:"m"` // along the track
	Port      uint8   `json:"p"` // settings after it
	Starboard uint8   `json:"s"`
}

// Result is what one policy made of one weather. All values are finite.
type Result struct {
	Outcome Outcome `json:"outcome,omitempty"`
	TimeS   float64 `json:"time_s"` // passage time
	Changes int     `json:"changes"`
	Actions int     `json:"actions"`
	EffortJ float64 `json:"effort_j"`
	LostS   float64 `json:"lost_s"` // in changes
	SlowS   float64 `json:"slow_s"` // from easing the sails to 98 % of the new speed
	WaitS   float64 `json:"wait_s"`
	BoardS  float64 `json:"board_s"` // in tacks and gybes
	Boards  float64 `json:"boards"`
	// Breaches are the stages on which a limit stopped the boat or would have,
	// had the foils not been taken in for it; HeldS is how long it stopped her.
	Breaches int     `json:"breaches"`
	HeldS    float64 `json:"held_s"`
	CalmS    float64 `json:"calm_s"`
	OutS     float64 `json:"out_s"` // a foil out
	Moves    []Move  `json:"moves,omitempty"`
}

// Features describe a weather as the first policy met it: means over the
// passage time.
type Features struct {
	TWSMS  float64 `json:"tws_ms"`
	TWARad float64 `json:"twa_rad"`
	HsM    float64 `json:"hs_m"`
	// SwingMS is the standard deviation of the wind speed.
	SwingMS float64 `json:"swing_ms"`
}

// Record is the result of one job.
type Record struct {
	Weather  int      `json:"weather"`
	Boat     int      `json:"boat"`
	Features Features `json:"features"`
	Ceiling  *Result  `json:"ceiling,omitempty"`
	Runs     []Result `json:"runs"`
	// Search holds the passage times of Study.Search in seconds; negative where
	// the boat does not arrive.
	Search []float64 `json:"search,omitempty"`
}

// Job does one job: all policies of one boat in one weather. They share the
// paces that the boat finds there.
func (st *Study) Job(ctx context.Context, job int) (Record, error) {
	rec := Record{Weather: job / len(st.Boats), Boat: job % len(st.Boats)}
	w, err := st.Set.Open(ctx, rec.Weather)
	if err != nil {
		return rec, err
	}
	sl := st.Boats[rec.Boat].Sailor.In(w.Truth)
	p := sl.NewProblem(st.Track, w.DepartS)
	p.Issues = w.Issues
	var schedules []strategy.Schedule
	for i, c := range st.Policies {
		pol := &watched{Policy: c.New(ctx, sl), end: math.NaN()}
		v, err := p.Follow(ctx, pol)
		r, err := st.finish(p)(v, err)
		if err != nil {
			return rec, fmt.Errorf("policy %q in %s: %w", c.Name, w.Name, err)
		}
		if i == 0 && r.Outcome == Arrived {
			rec.Features = pol.features(v.ArriveS)
		}
		rec.Runs = append(rec.Runs, r)
		if r.Outcome == Arrived {
			schedules = append(schedules, v.Schedule)
		}
	}
	if st.Ceiling {
		r, err := st.finish(p)(p.BestNear(ctx, schedules...))
		if err != nil {
			return rec, err
		}
		rec.Ceiling = &r
	}
	for _, c := range st.Search {
		h := c.Threshold(UsualSetting(sl))
		v, err := p.Follow(ctx, &h)
		r, err := st.finish(p)(v, err)
		if err != nil {
			return rec, err
		}
		if r.Outcome != Arrived {
			r.TimeS = -1
		}
		rec.Search = append(rec.Search, r.TimeS)
	}
	return rec, nil
}

// finish turns a voyage into a run; what the weather or the boat do not allow
// is an outcome, not an error.
func (st *Study) finish(p *strategy.Problem) func(v *strategy.Voyage, err error) (Result, error) {
	return func(v *strategy.Voyage, err error) (Result, error) {
		var ce *weather.CoverageError
		switch {
		case errors.As(err, &ce):
			return Result{Outcome: NotCovered}, nil
		case err != nil:
			return Result{}, err
		case v.Status != strategy.Found:
			return Result{Outcome: NoWay}, nil
		}
		return Summarize(p, v), nil
	}
}

// Summarize counts what a voyage that arrived took.
func Summarize(p *strategy.Problem, v *strategy.Voyage) Result {
	r := Result{TimeS: v.TimeS(), Breaches: v.Overruled}
	for k := range v.Stages {
		s := &v.Stages[k]
		if s.Change.TimeS > 0 || len(s.Change.Parts()) > 0 {
			r.Changes++
			r.Actions += len(s.Change.Parts())
			r.EffortJ += s.Change.EffortJ
			r.LostS += s.Change.LostS
			r.SlowS += s.Change.TimeS - s.Change.WaitS
			r.WaitS += s.Change.WaitS
			at := 0.0
			if k > 0 {
				at = p.StageEndM(k - 1)
			}
			r.Moves = append(r.Moves, Move{at, s.State.Port, s.State.Starboard})
		}
		r.BoardS += s.BoardS
		r.Boards += s.Boards
		r.CalmS += s.CalmS
		if s.HeldS > 0 {
			r.Breaches++
			r.HeldS += s.HeldS
		}
		if s.State.Out() {
			r.OutS += s.ArriveS - s.DepartS
		}
	}
	return r
}

// watched looks over the shoulder of a policy.
type watched struct {
	strategy.Policy
	end           float64
	last          strategy.View
	sumS, tws, sq float64
	twa, hs       float64
	haveLast      bool
}

// Decide implements strategy.Policy.
func (w *watched) Decide(v *strategy.View) strategy.State {
	w.until(v.TimeS)
	w.last, w.haveLast = *v, true
	return w.Policy.Decide(v)
}

func (w *watched) until(t float64) {
	if !w.haveLast {
		return
	}
	d := math.Max(t-w.last.TimeS, 0)
	w.sumS += d
	w.tws += d * w.last.TWSMS
	w.sq += d * w.last.TWSMS * w.last.TWSMS
	w.twa += d * w.last.TWA()
	w.hs += d * w.last.HsM
}

func (w *watched) features(arriveS float64) Features {
	w.until(arriveS)
	if !(w.sumS > 0) {
		return Features{}
	}
	m := w.tws / w.sumS
	return Features{TWSMS: m, TWARad: w.twa / w.sumS, HsM: w.hs / w.sumS, SwingMS: math.Sqrt(math.Max(0, w.sq/w.sumS-m*m))}
}

// Hours turns seconds into hours.
func Hours(s float64) float64 { return s / units.SPerHour }
