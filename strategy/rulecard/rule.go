package rulecard

import (
	"cmp"
	"math"
	"slices"

	"foilledger/strategy"
	"foilledger/vpp"
	"foilledger/vpp/units"
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
	// Far is the setting at the upper angle, or with ByWind in the most wind; it
	// differs from Setting in nothing but the rake, which goes from one to the
	// other in equal steps (see Rule.Taper).
	Far    uint8
	ByWind bool
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

// By says what the rake follows: "angle" or "wind".
func (a Advice) By() string {
	if a.ByWind {
		return "wind"
	}
	return "angle"
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

// The angles between which boats sail, and the wind up to which they carry
// foils: where a box goes beyond them its rake changes within them (common
// practice).
const (
	closestRad  = 40 * math.Pi / 180
	deepestRad  = 160 * math.Pi / 180
	strongestMS = 40 * units.MSPerKnot
)

// Taper returns where the rake goes from Setting to Far, radians or with ByWind
// metres per second, and for how much of that each rake holds; 0 where there is
// one rake only.
func (r *Rule) Taper() (from, to, step float64) {
	span, least, most := r.TWARad, closestRad, deepestRad
	if r.ByWind {
		span, least, most = r.TWSMS, 0, strongestMS
	}
	from, to = math.Max(span.From, least), math.Min(span.To, most)
	if to <= from { // a box outside
		from, to = span.From, math.Min(span.To, span.From+most)
	}
	if n := len(r.steps); n > 0 {
		step = (to - from) / float64(n)
	}
	return from, to, step
}

// At returns the leeward setting in a wind at an angle; outside the box it is
// that of the nearer side.
func (r *Rule) At(twsMS, twaRad float64) uint8 {
	n := len(r.steps)
	if n == 0 {
		return r.Setting
	}
	x := twaRad
	if r.ByWind {
		x = twsMS
	}
	from, _, step := r.Taper()
	return r.steps[max(0, min(n-1, int((x-from)/step)))]
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

// follows reports whether a leeward setting is what the rule asks for within
// margins of a wind and an angle.
func (r *Rule) follows(setting uint8, twsMS, twaRad, twsMarginMS, twaMarginRad float64) bool {
	if len(r.steps) == 0 {
		return setting == r.Setting
	}
	at := slices.Index(r.steps, setting)
	return at >= slices.Index(r.steps, r.At(twsMS-twsMarginMS, twaRad-twaMarginRad)) &&
		at <= slices.Index(r.steps, r.At(twsMS+twsMarginMS, twaRad+twaMarginRad))
}
