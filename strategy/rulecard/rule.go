package rulecard

import (
	"cmp"
	"math"
	"slices"

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
	Setting uint8 // index into Card.Settings; at the lower angle of the box
	// Far is the setting at the upper angle; it differs from Setting in nothing
	// but the rake, which goes from one to the other in equal steps of angle
	// (see Rule.Taper).
	Far uint8
	// Both: the windward foil is set like the leeward one; with the leeward one
	// in, the windward foil is left as it is.
	Both bool
}

// adviceOf numbers the plain advices: twice the setting, one more for both
// foils.
func adviceOf(i uint8) Advice { return Advice{Setting: i / 2, Far: i / 2, Both: i%2 == 1} }

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

// state is the foil state that the advice leads to with the leeward foil in a
// setting.
func (a Advice) state(setting uint8, leeward strategy.Side, zigzag bool, now strategy.State) strategy.State {
	switch {
	case setting == 0 && a.Both && !zigzag:
		return now.With(leeward, 0)
	case a.Both || zigzag:
		return strategy.State{Port: setting, Starboard: setting}
	}
	return strategy.State{}.With(leeward, setting)
}

// Rule is one box of a card and its advice.
type Rule struct {
	TWSMS, TWARad, HsM Span
	Advice
	steps []uint8 // the settings from Setting to Far where they differ
}

// has reports whether a condition is in the box.
func (r *Rule) has(twsMS, twaRad, hsM float64) bool {
	return r.TWSMS.holds(twsMS, 0) && r.TWARad.holds(twaRad, 0) && r.HsM.holds(hsM, 0)
}

// The angles between which boats sail: where a box goes beyond them its rake
// changes within them (common practice).
const (
	closestRad = 40 * math.Pi / 180
	deepestRad = 160 * math.Pi / 180
)

// Taper returns the angles between which the rake goes from Setting to Far, and
// for how much of angle each rake holds; 0 where there is one rake only.
func (r *Rule) Taper() (fromRad, toRad, stepRad float64) {
	fromRad, toRad = math.Max(r.TWARad.From, closestRad), math.Min(r.TWARad.To, deepestRad)
	if toRad <= fromRad {
		fromRad, toRad = r.TWARad.From, math.Min(r.TWARad.To, math.Pi)
	}
	if n := len(r.steps); n > 0 {
		stepRad = (toRad - fromRad) / float64(n)
	}
	return fromRad, toRad, stepRad
}

// At returns the leeward setting at an angle; outside the box it is that of the
// nearer side.
func (r *Rule) At(twaRad float64) uint8 {
	n := len(r.steps)
	if n == 0 {
		return r.Setting
	}
	from, _, step := r.Taper()
	return r.steps[max(0, min(n-1, int((twaRad-from)/step)))]
}

// taper fills in the settings from Setting to Far.
func (r *Rule) taper(settings []vpp.FoilSetting) {
	r.steps = nil
	if r.Far == r.Setting {
		return
	}
	near, far := settings[r.Setting], settings[r.Far]
	lo, hi := math.Min(near.RakeRad, far.RakeRad), math.Max(near.RakeRad, far.RakeRad)
	for l, q := range settings {
		if q.Extension == near.Extension && q.RakeRad >= lo && q.RakeRad <= hi {
			r.steps = append(r.steps, uint8(l))
		}
	}
	slices.SortFunc(r.steps, func(a, b uint8) int { return cmp.Compare(settings[a].RakeRad, settings[b].RakeRad) })
	if near.RakeRad > far.RakeRad {
		slices.Reverse(r.steps)
	}
}

// follows reports whether a leeward setting is what the rule asks for within a
// margin of an angle.
func (r *Rule) follows(setting uint8, twaRad, marginRad float64) bool {
	if len(r.steps) == 0 {
		return setting == r.Setting
	}
	at := slices.Index(r.steps, setting)
	return at >= slices.Index(r.steps, r.At(twaRad-marginRad)) && at <= slices.Index(r.steps, r.At(twaRad+marginRad))
}
