package strategy

import (
	"context"
	"math"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// View is what a sailor can see at the start of a stage: the present, and of
// what lies ahead only the forecasts issued by then.
type View struct {
	TimeS     float64 // seconds after the forecast's reference
	DistanceM float64 // along the track
	State     State
	// SinceS is the time since the last change ended; +Inf before the first.
	SinceS    float64
	TWSMS     float64
	TWARad    float64 // as sailed
	HsM       float64
	BSPMS     float64 // of the present state, steady
	Starboard bool    // wind from starboard
	Zigzag    bool    // beating or gybing down
	// Held says that a limit refuses the present state in the present weather.
	Held bool

	p            *Problem
	stage        int
	courseTWARad float64
}

// States returns the foil states of the boat.
func (v *View) States() *States { return v.p.states }

// Leeward returns the leeward side.
func (v *View) Leeward() Side {
	if v.Starboard {
		return Port
	}
	return Starboard
}

// Steady returns the boat's steady speed in the present weather with leeward
// setting l and the windward foil in; ok is false when a limit refuses it.
func (v *View) Steady(l uint8) (bspMS float64, ok bool) {
	return v.p.perf.Speed(int(l), 0, vpp.Condition{TWSMS: v.TWSMS, TWARad: v.TWARad, HsM: v.HsM})
}

// BreakEven prices the change of the leeward foil from its present setting in
// the present weather.
func (v *View) BreakEven(to uint8) BreakEven {
	return v.p.BreakEven(v.State.On(v.Leeward()), to, v.TWSMS, v.TWARad, v.HsM)
}

// Policy decides at the start of each stage from what can be seen there. It
// returns the state wanted for the stage. A policy is for one run at a time.
type Policy interface {
	Name() string
	// Begin is called before a run.
	Begin(states *States)
	Decide(v *View) State
}

// Follow sails the passage as a policy decides. Where a limit would stop the
// boat within a stage, no sailor would lie there and wait: when that is faster,
// the foils are in from the stage's start, whatever the policy wants.
func (p *Problem) Follow(ctx context.Context, policy Policy) (*Voyage, error) {
	policy.Begin(p.states)
	v := &Voyage{DepartS: p.DepartS, TotalM: p.course.totalM}
	t, s0 := p.DepartS, p.states.Index(p.Start)
	done := math.Inf(-1)
	for n := range p.course.legs {
		if err := ctx.Err(); err != nil {
			return &Voyage{Status: Canceled}, err
		}
		l := &p.course.legs[n]
		fail := func(err error) error { return &PassageError{DistanceNM: l.startM / units.MPerNM, Err: err} }
		q, b := p.paceIn(&l.steps[0], p.index(t), s0)
		if q == nil {
			return nil, fail(b.err)
		}
		st := policy.Decide(&View{TimeS: t, DistanceM: l.startM, State: p.states.all[s0], SinceS: t - done, TWSMS: q.TWSMS, TWARad: q.TWARad,
			HsM: q.HsM, BSPMS: q.BSPMS, Starboard: b.relRad >= 0, Zigzag: q.Zigzag, Held: q.Held, p: p, stage: n, courseTWARad: math.Abs(b.relRad)})
		s1 := p.states.Index(st)
		stage, err := p.sailStage(n, s0, s1, t, false, nil)
		if err != nil {
			return nil, fail(err)
		}
		if st.Out() && (stage.HeldS > 0 || math.IsInf(stage.ArriveS, 1)) {
			in, err := p.sailStage(n, s0, 0, t, false, nil)
			if err != nil {
				return nil, fail(err)
			}
			if in.ArriveS < stage.ArriveS {
				st, s1, stage = State{}, 0, in
				v.Overruled++
			}
		}
		if math.IsInf(stage.ArriveS, 1) {
			v.Status = NoWay
			return v, nil
		}
		if stage.Change.n > 0 {
			done = t + stage.Change.TimeS
		}
		v.Schedule = append(v.Schedule, st)
		v.Stages = append(v.Stages, stage)
		t, s0 = stage.ArriveS, s1
	}
	v.ArriveS = t
	return v, nil
}

// NeverOut keeps both foils in.
type NeverOut struct{}

// Name implements Policy.
func (NeverOut) Name() string { return "never out" }

// Begin implements Policy.
func (NeverOut) Begin(*States) {}

// Decide implements Policy.
func (NeverOut) Decide(*View) State { return State{} }

// AlwaysOut keeps the leeward foil out in one setting, and the windward one in,
// except where a limit refuses it.
type AlwaysOut struct{ Setting uint8 }

// Name implements Policy.
func (AlwaysOut) Name() string { return "always out" }

// Begin implements Policy.
func (AlwaysOut) Begin(*States) {}

// Decide implements Policy.
func (a AlwaysOut) Decide(v *View) State {
	if _, ok := v.Steady(a.Setting); !ok {
		return State{}
	}
	return State{}.With(v.Leeward(), a.Setting)
}

// Threshold puts the leeward foil out in one setting when the wind is above
// OutTWSMS and its angle within a sector, and takes it in when the wind falls
// below InTWSMS or the angle leaves the sector by more than MarginRad; neither
// sooner than DwellS after the last change.
type Threshold struct {
	Setting              uint8
	OutTWSMS, InTWSMS    float64
	MinTWARad, MaxTWARad float64
	MarginRad            float64
	DwellS               float64
}

// Name implements Policy.
func (*Threshold) Name() string { return "thresholds" }

// Begin implements Policy.
func (*Threshold) Begin(*States) {}

// Decide implements Policy.
func (h *Threshold) Decide(v *View) State {
	if v.SinceS < h.DwellS && !v.Held {
		return v.State
	}
	out := v.State.On(v.Leeward()) != 0
	tws, margin := h.OutTWSMS, 0.0
	if v.State.Out() {
		tws, margin = h.InTWSMS, h.MarginRad
	}
	_, ok := v.Steady(h.Setting)
	want := ok && v.TWSMS >= tws && v.TWARad >= h.MinTWARad-margin && v.TWARad <= h.MaxTWARad+margin
	switch {
	case want && !out:
		return State{}.With(v.Leeward(), h.Setting)
	case !want:
		return State{}
	}
	return v.State
}
