package strategy

import (
	"context"
	"math"
)

// RuleCost is what one rule of a schedule for a person costs.
type RuleCost struct {
	Rule Rule
	// Without is the plan with this rule lifted and all others kept.
	Without *Voyage
	// CostS is how much earlier Without arrives: the time gained by the plan
	// without the rule minus that by the plan with it. It is +Inf when the
	// rules leave no plan and lifting this one does, and NaN when there is
	// still none or the weather ends before it arrives.
	CostS float64
}

// Rule is a rule that a schedule keeps for the person who follows it.
type Rule uint8

// The rules, in the order in which they are listed.
const (
	RuleGivenRests Rule = iota // nothing is changed in the given rests
	RuleRestQuota              // rest in every 24 hours
	RuleRestState              // the state left on must hold for the gusts and seas of a rest
	RuleSpacing                // time between changes
	RuleEffort                 // work in a day
	RuleChanges                // number of changes
	RuleLeastGain              // what every change must earn
	RuleNight                  // actions take longer in the dark
	RuleAll                    // all of these together
	ruleCount
)

var ruleNames = [ruleCount]string{"given rests", "rest quota", "state to rest in", "spacing", "effort per day", "number of changes",
	"least gain of a change", "night factor", "all rules"}

func (r Rule) String() string { return ruleNames[r] }

// Rules lists the rules that the problem has, RuleAll last where there are two
// or more.
func (p *Problem) Rules() []Rule {
	r := &p.person
	resting := len(r.Rests) > 0 || r.RestS > 0
	has := [ruleCount]bool{
		RuleGivenRests: len(r.Rests) > 0, RuleRestQuota: r.RestS > 0, RuleRestState: resting && !p.opt.anyState, RuleSpacing: r.SpacingS > p.prices.h.SettleS,
		RuleEffort: r.EffortJ > 0, RuleChanges: r.Changes > 0, RuleLeastGain: r.LeastGainS > 0, RuleNight: p.opt.night() != 1,
	}
	var out []Rule
	for i, yes := range has {
		if yes {
			out = append(out, Rule(i))
		}
	}
	if len(out) > 1 {
		out = append(out, RuleAll)
	}
	return out
}

// Lift returns the same passage without one rule.
func (p *Problem) Lift(r Rule) *Problem {
	person := p.person
	sl := *p.Sailor
	all := r == RuleAll
	if r == RuleGivenRests || all {
		person.Rests = nil
	}
	if r == RuleRestQuota || all {
		person.RestS = 0
	}
	if r == RuleRestState || all {
		sl.opt.anyState = true
	}
	if r == RuleSpacing || all {
		person.SpacingS = 0
	}
	if r == RuleEffort || all {
		person.EffortJ = 0
	}
	if r == RuleChanges || all {
		person.Changes = 0
	}
	if r == RuleLeastGain || all {
		person.LeastGainS = 0
	}
	if r == RuleNight || all {
		sl.opt.NightFactor = 0
	}
	q := *p
	q.Sailor = &sl
	return q.For(person)
}

// RuleCosts plans without each rule of the problem in turn, and without all of
// them, and returns what each costs. v is the problem's own plan. Costs of
// single rules do not add up: two rules may each be free where the other one
// holds, or share a cost.
func (p *Problem) RuleCosts(ctx context.Context, v *Voyage, progress func(done, total int)) ([]RuleCost, error) {
	rules := p.Rules()
	out := make([]RuleCost, 0, len(rules))
	for i, r := range rules {
		if progress != nil {
			progress(i, len(rules))
		}
		c := RuleCost{Rule: r, CostS: math.NaN()}
		w, err := p.Lift(r).BestFor(ctx, nil, nil)
		if err != nil {
			if ctx.Err() != nil || ignoreCoverage(err) != nil {
				return nil, err
			}
			out = append(out, c) // without this rule the plan outlasts the forecast
			continue
		}
		if w.Status == Found {
			c.Without = w
			c.CostS = math.Inf(1)
			if v.Status == Found {
				c.CostS = v.ArriveS - w.ArriveS
			}
		}
		out = append(out, c)
	}
	return out, nil
}
