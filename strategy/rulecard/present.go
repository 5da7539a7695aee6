package rulecard

import (
	"context"
	"math"

	"foilledger/strategy"
	"foilledger/vpp/units"
)

// present takes the present weather to last for two hours and knows all speeds
// and prices in it: the best of its kind that a sailor without a forecast could
// do, and what no card can be expected to beat.
type present struct {
	p      *strategy.Problem
	states []strategy.State
}

// lastsS is for how long the present weather is taken to last (common practice).
const lastsS = 2 * units.SPerHour

func (*present) Name() string           { return "the present alone" }
func (*present) Begin(*strategy.States) {}

func (r *present) Decide(v *strategy.View) strategy.State {
	k, _ := v.Stage()
	stages := 1.0 // as long as this one, in which the weather lasts
	if stay, err := r.p.SailStage(k, v.State, v.State, v.TimeS); err == nil && stay.ArriveS > v.TimeS {
		stages = math.Max(1, lastsS/(stay.ArriveS-v.TimeS))
	}
	best, at := math.Inf(1), v.State
	for _, to := range append([]strategy.State{v.State}, r.states...) {
		change, err := r.p.SailStage(k, v.State, to, v.TimeS)
		if err != nil {
			continue // the weather ends before she arrives so
		}
		on, err := r.p.SailStage(k, to, to, v.TimeS)
		if err != nil {
			continue
		}
		if c := change.ArriveS - v.TimeS + (stages-1)*(on.ArriveS-v.TimeS); c < best {
			best, at = c, to
		}
	}
	return at
}

// TryPresent sails the passage as well as the present alone allows: with all
// speeds and prices known and no forecast.
func (ps *Passage) TryPresent(ctx context.Context) (Followed, error) {
	r := &present{p: ps.problem}
	for l := range ps.problem.Performer().Settings() {
		one := strategy.State{}.With(strategy.Port, uint8(l))
		other := strategy.State{}.With(strategy.Starboard, uint8(l))
		r.states = append(r.states, one, other, strategy.State{Port: uint8(l), Starboard: uint8(l)})
	}
	return ps.follow(ctx, r)
}
