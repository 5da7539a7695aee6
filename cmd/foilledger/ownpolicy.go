package main

import (
	"foilledger/strategy"
	"foilledger/strategy/rulecard"
	"foilledger/strategy/trial"
)

// ownPolicy is a policy from a file: a list of rules, or a rule card.
type ownPolicy struct {
	name string
	// make makes the policy for a boat; it fails when the boat does not have
	// a setting that the file names.
	make func(sl *strategy.Sailor) (strategy.Policy, error)
}

// readOwnPolicy reads a policy of either kind.
func readOwnPolicy(data []byte, file string) (ownPolicy, error) {
	if name, ok := rulecard.NameIn(data); ok {
		return ownPolicy{name, func(sl *strategy.Sailor) (strategy.Policy, error) {
			c, _, err := rulecard.ReadTOML(data, file, sl.Performer().Settings())
			if err != nil {
				return nil, usage("use the card of this boat, or see foilledger card", "%w", err)
			}
			return rulecard.Policy{Card: c, Title: name}, nil
		}}, nil
	}
	r, err := trial.ReadRules(data, file)
	if err != nil {
		return ownPolicy{}, err
	}
	return ownPolicy{r.Name, func(sl *strategy.Sailor) (strategy.Policy, error) { return r.For(sl.States()) }}, nil
}
