package trial

import (
	"context"
	"math"

	"foilledger/strategy"
	"foilledger/vpp/units"
)

// The conditions for which the one setting of simple policies is chosen: a
// fresh breeze on a reach.
var (
	usualTWSMS  = units.MS(16)
	usualTWARad = units.Rad(110)
	usualHsM    = 1.5
)

// UsualSetting is the setting of simple policies: the fastest of those that are
// out in a fresh breeze on a reach; 0 when the boat has no foils or no limit
// allows one.
func UsualSetting(sl *strategy.Sailor) uint8 {
	i, _ := sl.BestSetting(usualTWSMS, usualTWARad, usualHsM)
	if n := len(sl.Performer().Settings()); i == 0 && n > 1 {
		return uint8(n - 1)
	}
	return i
}

// ThresholdsName is what the policy with the usual thresholds is called.
const ThresholdsName = "thresholds"

// Standard lists the policies of every trial: never out, always out, speed
// thresholds, the break-even rule and re-planning.
func Standard() []Contender {
	return []Contender{
		{"never out", func(context.Context, *strategy.Sailor) strategy.Policy { return strategy.NeverOut{} }},
		{"always out", func(_ context.Context, sl *strategy.Sailor) strategy.Policy {
			return strategy.AlwaysOut{Setting: UsualSetting(sl)}
		}},
		{ThresholdsName, func(_ context.Context, sl *strategy.Sailor) strategy.Policy {
			h := UsualThresholds(UsualSetting(sl))
			return &h
		}},
		{"break-even", func(context.Context, *strategy.Sailor) strategy.Policy { return &BreakEvenRule{} }},
		{"re-plan", func(ctx context.Context, _ *strategy.Sailor) strategy.Policy { return NewReplan(ctx) }},
	}
}

// UsualThresholds are thresholds that a sailor might begin with: out from 12 kn
// of wind between 70° and 150°, in below 10 kn or 5° outside the sector, no two
// changes within half an hour (invented).
func UsualThresholds(setting uint8) strategy.Threshold {
	return strategy.Threshold{Setting: setting, OutTWSMS: units.MS(12), InTWSMS: units.MS(10),
		MinTWARad: units.Rad(70), MaxTWARad: units.Rad(150), MarginRad: units.Rad(5), DwellS: 1800}
}

// BreakEvenRule puts the leeward foil to another setting when that will be the
// fastest, by the newest forecast, for Margin times the break-even time or more:
// the change then pays for itself before another one is due. Without a forecast
// it takes the present conditions to last for AssumeS.
type BreakEvenRule struct {
	Margin   float64 // 0 means 1.5
	HorizonS float64 // how far it looks ahead; 0 means 12 h
	AssumeS  float64 // 0 means 2 h
}

// Name implements strategy.Policy.
func (*BreakEvenRule) Name() string { return "break-even" }

// Begin implements strategy.Policy.
func (*BreakEvenRule) Begin(*strategy.States) {}

// Decide implements strategy.Policy.
func (r *BreakEvenRule) Decide(v *strategy.View) strategy.State {
	lee := v.Leeward()
	now := v.State.On(lee)
	to, fastest := uint8(0), 0.0
	for i := range uint8(v.States().Len()) {
		if s, ok := v.Steady(i); ok && s > fastest {
			to, fastest = i, s
		}
	}
	clear := strategy.State{}.With(lee, to)
	if v.Held {
		return clear // the fastest of what is allowed
	}
	moments := v.Outlook(orDefault(r.HorizonS, 12*units.SPerHour))
	if to == now {
		if v.State.On(other(lee)) != 0 && r.boardHolds(v, moments) {
			return clear
		}
		return v.State // a foil left out to windward waits for the next gybe
	}
	if even := v.BreakEven(to); r.lasts(v, moments, now, to) >= orDefault(r.Margin, 1.5)*even.TimeS {
		return clear
	}
	return v.State
}

// lasts is for how long setting to is expected to stay faster than setting now
// and within nearly of the fastest, on the same board.
func (r *BreakEvenRule) lasts(v *strategy.View, moments []strategy.Moment, now, to uint8) float64 {
	if len(moments) == 0 {
		return orDefault(r.AssumeS, 2*units.SPerHour)
	}
	for _, m := range moments {
		s, ok := v.SpeedIn(m, to)
		old, allowed := v.SpeedIn(m, now)
		if m.Starboard != v.Starboard || !ok || (allowed && s <= old) {
			return m.TimeS - v.TimeS
		}
		for i := range uint8(v.States().Len()) {
			if x, ok := v.SpeedIn(m, i); ok && i != to && s < nearly*x {
				return m.TimeS - v.TimeS
			}
		}
	}
	return math.Inf(1) // at least as far as it looks
}

// nearly is the share of the fastest setting's speed at which another one is
// due.
const nearly = 0.98

// boardHolds reports whether the wind is expected to stay on its side for
// AssumeS.
func (r *BreakEvenRule) boardHolds(v *strategy.View, moments []strategy.Moment) bool {
	for _, m := range moments {
		if m.TimeS > v.TimeS+orDefault(r.AssumeS, 2*units.SPerHour) {
			break
		}
		if m.Starboard != v.Starboard {
			return false
		}
	}
	return true
}

func other(s strategy.Side) strategy.Side { return 1 - s }

func orDefault(x, otherwise float64) float64 {
	if x > 0 {
		return x
	}
	return otherwise
}

// Replan follows the best schedule in the newest forecast. It plans anew
// whenever a forecast is issued, and once a day in the old one from where the
// boat has come to, as far ahead as what is decided now can matter. Without a
// forecast it leaves the foils as they are.
type Replan struct {
	ctx      context.Context
	issuedS  float64
	plannedS float64
	schedule strategy.Schedule
	from     int     // stage of the schedule's first state
	farM     float64 // how far it plans
}

// How often it plans in an old forecast, how far it plans stage by stage, which
// is about as far as a boat sails by then, and how far at all: what the foils do
// a day later has no part in what they do now.
const (
	replanS    = 24 * units.SPerHour
	planNearNM = 400
	planFarNM  = 800
)

// NewReplan returns the policy; its planning stops when ctx ends.
func NewReplan(ctx context.Context) *Replan { return &Replan{ctx: ctx, farM: planFarNM * units.MPerNM} }

// Name implements strategy.Policy.
func (*Replan) Name() string { return "re-plan" }

// Begin implements strategy.Policy.
func (r *Replan) Begin(*strategy.States) { r.schedule, r.issuedS = nil, math.NaN() }

// Decide implements strategy.Policy.
func (r *Replan) Decide(v *strategy.View) strategy.State {
	stage, _ := v.Stage()
	f, ok := v.Forecast()
	outrun := r.schedule != nil && stage-r.from >= len(r.schedule)
	if ok && (f.IssuedS != r.issuedS || v.TimeS >= r.plannedS+replanS || outrun) {
		r.issuedS, r.plannedS = f.IssuedS, v.TimeS
		// Both foils out at once only help round a gybe: left out for speed.
		single := func(_ int, s strategy.State) bool { return s.Port == 0 || s.Starboard == 0 || s == v.State }
		if s, err := v.PlanAhead(r.ctx, f, planNearNM*units.MPerNM, r.farM, single); err == nil && len(s) > 0 {
			r.schedule, r.from = s, stage
		}
	}
	if i := stage - r.from; r.schedule != nil && i < len(r.schedule) {
		want := r.schedule[i]
		if _, ok := v.Steady(want.On(v.Leeward())); ok || !want.Out() {
			return want
		}
		return strategy.State{} // a limit forbids here what the forecast allowed
	}
	return v.State
}
