// Package rulecard fits a card of few rules to exact plans over many weathers,
// and measures what following it costs on weathers that it has not seen.
//
// A card is a set of boxes in true wind speed, true wind angle and sea that
// cover every condition once. Each names a setting of the foils, or a rake at
// its lower angle that goes by equal steps to another one at its upper angle.
// Two more rules keep a card from flapping: a setting is kept while the
// condition is within a margin of where it is asked for, and nothing is changed
// sooner than a hold time after the last change.
package rulecard

import (
	"foilledger/strategy"
	"foilledger/vpp"
)

// Card is a rule card for one boat.
type Card struct {
	Settings []vpp.FoilSetting
	Rules    []Rule
	// The margins by which a condition must leave where a setting is asked for
	// before it is changed.
	TWSMarginMS, TWAMarginRad, HsMarginM float64
	// HoldS is the least time between two changes.
	HoldS float64
	// A setting is not used where a limit of the boat would refuse it in so
	// much more wind or sea.
	LimitMarginMS, LimitMarginHsM float64
}

// allows reports whether no limit refuses a setting here and a little beyond.
func (c *Card) allows(v *strategy.View, setting uint8) bool {
	_, ok := v.Steady(setting)
	if ok && (c.LimitMarginMS > 0 || c.LimitMarginHsM > 0) {
		w := *v
		w.TWSMS += c.LimitMarginMS
		w.HsM += c.LimitMarginHsM
		_, ok = w.Steady(setting)
	}
	return ok
}

// find returns the rule that a condition falls under.
func (c *Card) find(twsMS, twaRad, hsM float64) *Rule {
	for i := range c.Rules {
		if c.Rules[i].has(twsMS, twaRad, hsM) {
			return &c.Rules[i]
		}
	}
	return nil // boxes cover all finite conditions
}

// seen is what the card looks at.
type seen struct {
	twsMS, twaRad, hsM float64
	leeward            strategy.Side
	zigzag             bool
	now                strategy.State
	sinceS             float64
	allowed            func(setting uint8) bool
}

// within is the setting itself where no limit refuses it, else the nearest with
// less rake at the same extension, else in: rake comes off by degrees before the
// foil comes in.
func (c *Card) within(setting uint8, allowed func(uint8) bool) uint8 {
	for setting != 0 && !allowed(setting) {
		less := uint8(0)
		for l, q := range c.Settings {
			if q.Extension == c.Settings[setting].Extension && q.RakeRad < c.Settings[setting].RakeRad && (less == 0 || q.RakeRad > c.Settings[less].RakeRad) {
				less = uint8(l)
			}
		}
		setting = less
	}
	return setting
}

// keeps reports whether a condition is within the margins of a box whose
// advice the boat follows already.
func (c *Card) keeps(s *seen) bool {
	lee := s.now.On(s.leeward)
	for i := range c.Rules {
		r := &c.Rules[i]
		if r.TWSMS.holds(s.twsMS, c.TWSMarginMS) && r.TWARad.holds(s.twaRad, c.TWAMarginRad) && r.HsM.holds(s.hsM, c.HsMarginM) &&
			r.follows(lee, s.twsMS, s.twaRad, c.TWSMarginMS, c.TWAMarginRad) && r.state(lee, s.leeward, s.zigzag, s.now) == s.now {
			return true
		}
	}
	return false
}

// decide returns the foil state that following the card leads to.
func (c *Card) decide(s *seen) strategy.State {
	lee := s.now.On(s.leeward)
	swapped := lee == 0 && s.now.Out() // the foil that worked has come to windward
	if s.allowed(lee) && (s.sinceS < c.HoldS && !swapped || c.keeps(s)) {
		return s.now
	}
	r := c.find(s.twsMS, s.twaRad, s.hsM)
	if r == nil {
		return strategy.State{}
	}
	want := r.At(s.twsMS, s.twaRad)
	set := c.within(want, s.allowed)
	if set == 0 && want != 0 {
		return strategy.State{} // a limit asks for both foils in
	}
	return r.state(set, s.leeward, s.zigzag, s.now)
}

// Policy follows the card.
type Policy struct {
	Card  *Card
	Title string // "rule card" when empty
}

// Name implements [strategy.Policy].
func (p Policy) Name() string {
	if p.Title == "" {
		return "rule card"
	}
	return p.Title
}

// Begin implements [strategy.Policy].
func (Policy) Begin(*strategy.States) {}

// Decide implements [strategy.Policy].
func (p Policy) Decide(v *strategy.View) strategy.State {
	return p.Card.decide(&seen{twsMS: v.TWSMS, twaRad: v.TWARad, hsM: v.HsM, leeward: v.Leeward(), zigzag: v.Zigzag, now: v.State, sinceS: v.SinceS,
		allowed: func(l uint8) bool { return p.Card.allows(v, l) }})
}
