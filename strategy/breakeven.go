package strategy

import (
	"math"

	"foilledger/vpp"
)

// BreakEven is how long conditions must last for a change to pay.
type BreakEven struct {
	From, To           uint8 // settings of the leeward foil
	TWSMS, TWARad, HsM float64
	OldMS, NewMS       float64
	Price              Price
	// TimeS is the time lost over 1 − old speed / new speed; +Inf when the new
	// setting is not faster.
	TimeS float64
	// Refused is set when a limit refuses the new setting here.
	Refused bool
}

// BreakEven prices the change of the leeward foil between two settings in
// given conditions, with the windward foil in and the wind from starboard.
func (sl *Sailor) BreakEven(from, to uint8, twsMS, twaRad, hsM float64) BreakEven {
	b := BreakEven{From: from, To: to, TWSMS: twsMS, TWARad: twaRad, HsM: hsM, TimeS: math.Inf(1)}
	cond := vpp.Condition{TWSMS: twsMS, TWARad: twaRad, HsM: hsM}
	b.OldMS, _ = sl.perf.Speed(int(from), 0, cond)
	var ok bool
	b.NewMS, ok = sl.perf.Speed(int(to), 0, cond)
	b.Refused = !ok
	sl.prices.scene(cond, true).change(&b.Price, State{Port: from}, State{Port: to}, false)
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
