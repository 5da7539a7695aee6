// Package rulecard fits a card of few rules to exact plans over many weathers,
// and measures what following it costs on weathers that it has not seen.
//
// A card is a set of boxes in true wind speed, true wind angle and sea that
// cover every condition once; each names a setting of the foils. Two
// more rules keep it from flapping: a setting is kept while the condition is
// within a margin of a box that asks for it, and nothing is changed sooner than
// a hold time after the last change.
package rulecard

import (
	"foilledger/strategy"
	"foilledger/vpp"
)

// Span is a half-open interval; To may be +Inf.
type Span struct{ From, To float64 }

// holds reports whether x lies in the span widened by margin at both ends.
func (s Span) holds(x, margin float64) bool { return x >= s.From-margin && x < s.To+margin }

// Advice is what a rule says: a setting of the leeward foil, and whether the
// windward foil is set alike. While the boat beats or gybes down both foils are
// set alike anyway, so that a tack or gybe needs no change.
type Advice struct {
	Setting uint8 // index into Card.Settings
	Both    bool
}

// state is the foil state that the advice leads to.
func (a Advice) state(leeward strategy.Side, zigzag bool) strategy.State {
	if a.Both || zigzag {
		return strategy.State{Port: a.Setting, Starboard: a.Setting}
	}
	return strategy.State{}.With(leeward, a.Setting)
}

// Rule is one box of a card and its advice.
type Rule struct {
	TWSMS, TWARad, HsM Span
	Advice
}

// Card is a rule card for one boat.
type Card struct {
	Settings []vpp.FoilSetting
	Rules    []Rule
	// The margins by which a condition must leave the boxes of a setting before
	// it is changed.
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
		r := &c.Rules[i]
		if r.TWSMS.holds(twsMS, 0) && r.TWARad.holds(twaRad, 0) && r.HsM.holds(hsM, 0) {
			return r
		}
	}
	return nil // boxes cover all finite conditions
}

// keeps reports whether a condition is within the margins of a box whose
// advice the boat follows already.
func (c *Card) keeps(s *seen) bool {
	for i := range c.Rules {
		r := &c.Rules[i]
		if r.TWSMS.holds(s.twsMS, c.TWSMarginMS) && r.TWARad.holds(s.twaRad, c.TWAMarginRad) && r.HsM.holds(s.hsM, c.HsMarginM) && r.state(s.leeward, s.zigzag) == s.now {
			return true
		}
	}
	return false
}

// Advise returns the card's advice for a condition, whatever is set now.
func (c *Card) Advise(twsMS, twaRad, hsM float64) Advice {
	if r := c.find(twsMS, twaRad, hsM); r != nil {
		return r.Advice
	}
	return Advice{}
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

// decide returns the foil state that following the card leads to.
func (c *Card) decide(s *seen) strategy.State {
	lee := s.now.On(s.leeward)
	swapped := lee == 0 && s.now.Out() // the foil that worked has come to windward
	if s.allowed(lee) && (s.sinceS < c.HoldS && !swapped || c.keeps(s)) {
		return s.now
	}
	if want := c.Advise(s.twsMS, s.twaRad, s.hsM); s.allowed(want.Setting) {
		return want.state(s.leeward, s.zigzag)
	}
	return strategy.State{}
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
