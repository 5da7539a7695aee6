package rulecard

import (
	"context"

	"foilledger/strategy"
)

// Cause is why a card loses time against the exact plan.
type Cause string

// The causes.
const (
	InForOut    Cause = "foils in where the plan has them out"
	OutForIn    Cause = "foils out where the plan has them in"
	OtherRake   Cause = "another rake or extension than the plan's"
	Windward    Cause = "the windward foil set otherwise"
	Kept        Cause = "a change made late: margins and hold time"
	NearLimit   Cause = "clear of limits by a margin"
	Changes     Cause = "changing foils, more than the plan"
	OtherMoment Cause = "other weather met by being later or earlier"
)

// Causes lists the causes in the order in which they are told.
var Causes = []Cause{OtherRake, InForOut, OutForIn, Windward, Kept, NearLimit, Changes, OtherMoment}

// Losses splits the time that following a card loses against the exact plan by
// cause, seconds. Each stage is compared in the weather that the plan meets
// there; what is left over is that the boat meets other weather. It is nil when
// she does not arrive.
func (ps *Passage) Losses(ctx context.Context, c *Card) (map[Cause]float64, error) {
	f, err := ps.Try(ctx, c)
	if err != nil || !f.Arrived {
		return nil, err
	}
	out := map[Cause]float64{}
	direct, err := ps.losses(c, out)
	out[OtherMoment] = f.LostS() - direct
	return out, err
}

// losses adds a passage's losses by cause and returns their sum.
func (ps *Passage) losses(c *Card, out map[Cause]float64) (sum float64, err error) {
	planned := strategy.State{}
	_, err = ps.walk(c, func(k int, from, to strategy.State, took float64) error {
		m := &ps.moments[k]
		before, plan := planned, ps.plan[k]
		planned = plan
		best, err := ps.stage(m, k, before, plan)
		if err != nil {
			return err
		}
		steady, err := ps.stage(m, k, to, to)
		if err != nil {
			return err
		}
		planSteady, err := ps.stage(m, k, plan, plan)
		if err != nil {
			return err
		}
		out[ps.why(c, m, to, plan)] += steady.tookS - planSteady.tookS
		out[Changes] += took - steady.tookS - (best.tookS - planSteady.tookS)
		sum += took - best.tookS
		return nil
	})
	return sum, err
}

// why is the cause of a difference between the card's state and the plan's.
func (ps *Passage) why(c *Card, m *moment, to, plan strategy.State) Cause {
	lee := m.view.Leeward()
	if r := c.find(m.view.TWSMS, m.view.TWARad, m.view.HsM); r != nil && to != plan {
		want := r.At(m.view.TWSMS, m.view.TWARad)
		switch {
		case !m.allowed[want]:
			return NearLimit
		case r.state(want, lee, m.view.Zigzag, to) != to:
			return Kept
		}
	}
	switch {
	case plan.On(lee) == to.On(lee):
		return Windward
	case to.On(lee) == 0:
		return InForOut
	case plan.On(lee) == 0:
		return OutForIn
	}
	return OtherRake
}
