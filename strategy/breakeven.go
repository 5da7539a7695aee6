package strategy

import (
	"math"

	"foilledger/vpp"
)

// BreakEven is how long conditions must last for a change to pay.
type BreakEven struct {
	From, To uint8 // settings of the foil that is changed
	Windward bool  // it is the windward foil
	// Other is the setting of the other foil: in for a change of the leeward
	// foil, the fastest leeward setting for one of the windward foil.
	Other              uint8
	TWSMS, TWARad, HsM float64
	OldMS, NewMS       float64
	Price              Price
	// TimeS is the time lost over 1 − old speed / new speed; +Inf when the new
	// setting is not faster. A windward foil that goes out or is raked is not:
	// it pays after the next tack or gybe, and its price is what counts.
	TimeS float64
	// Refused is set when a limit refuses the new setting here.
	Refused bool
}

// BreakEven prices the change of the leeward foil between two settings in
// given conditions, with the windward foil in and the wind from starboard.
func (sl *Sailor) BreakEven(from, to uint8, twsMS, twaRad, hsM float64) BreakEven {
	return sl.breakEven(BreakEven{From: from, To: to}, vpp.Condition{TWSMS: twsMS, TWARad: twaRad, HsM: hsM})
}

// BreakEvenOf prices one action on either foil in given conditions with the
// wind from starboard.
func (sl *Sailor) BreakEvenOf(a Action, twsMS, twaRad, hsM float64) BreakEven {
	b := BreakEven{From: a.From, To: a.To, Windward: a.Windward}
	if a.Windward {
		b.Other, _ = sl.BestSetting(twsMS, twaRad, hsM)
	}
	return sl.breakEven(b, vpp.Condition{TWSMS: twsMS, TWARad: twaRad, HsM: hsM})
}

func (sl *Sailor) breakEven(b BreakEven, cond vpp.Condition) BreakEven {
	b.TWSMS, b.TWARad, b.HsM, b.TimeS = cond.TWSMS, cond.TWARad, cond.HsM, math.Inf(1)
	// The wind is from starboard: port is to leeward.
	s0, s1 := State{Port: b.From, Starboard: b.Other}, State{Port: b.To, Starboard: b.Other}
	if b.Windward {
		s0, s1 = State{Port: b.Other, Starboard: b.From}, State{Port: b.Other, Starboard: b.To}
	}
	l0, w0 := sl.states.roles(s0, true)
	l1, w1 := sl.states.roles(s1, true)
	b.OldMS, _ = sl.perf.Speed(l0, w0, cond)
	var ok bool
	b.NewMS, ok = sl.perf.Speed(l1, w1, cond)
	b.Refused = !ok
	sl.prices.scene(cond, true).change(&b.Price, s0, s1, false)
	b.Price.DistanceM = (b.Price.TimeS - b.Price.LostS) * b.NewMS
	if ok && b.NewMS > b.OldMS {
		b.TimeS = math.Max(0, b.Price.LostS) / (1 - b.OldMS/b.NewMS)
	}
	return b
}

// BestSetting is the fastest allowed leeward setting in given conditions with
// the windward foil in.
func (sl *Sailor) BestSetting(twsMS, twaRad, hsM float64) (setting uint8, bspMS float64) {
	cond := vpp.Condition{TWSMS: twsMS, TWARad: twaRad, HsM: hsM}
	for i := range sl.states.settings {
		if v, ok := sl.perf.Speed(i, 0, cond); ok && v > bspMS {
			setting, bspMS = uint8(i), v
		}
	}
	return setting, bspMS
}
