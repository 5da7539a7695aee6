package strategy

import (
	"math"
	"sync/atomic"

	"foilledger/route"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// The pace of a boat that is free to choose her course is taken as constant
// over pieces of an edge of at most freePieceM metres and over intervals of
// freeBinS seconds: coarser than on a given track, because a course is planned
// again on its own track once it is found.
const (
	freePieceM = 10 * units.MPerNM
	freeBinS   = 1800.0
)

// turnWindowS bounds the time that one tack or gybe stops the boat.
const turnWindowS = 300.0

// FreeOptions of a boat that is free to choose her course. The zero value is
// usable: no limits, up to eight settings of the leeward foil.
type FreeOptions struct {
	// Leeward lists the settings of the leeward foil that may be used; setting
	// 0 (in) is added when it is missing. nil: those that Sailor.Leeward picks.
	Leeward []uint8
	// FoilsNever leaves the foils in.
	FoilsNever bool
	// Instant makes changes of foils, tacks and gybes free: a lower bound.
	Instant bool
	// Limits of mean wind, gust and significant wave height, m/s and m; 0
	// means none. The boat does not go where they are passed; she may wait for
	// up to two days where they are not.
	MaxWindMS, MaxGustMS, MaxWaveM float64
	// PieceM and IntervalS override the steps of the integration.
	PieceM, IntervalS float64
}

// FreeCourse is a boat in a forecast as the search for a course moves it; it is
// a route.Mover. Its state is the board she is on and the setting of the leeward
// foil; the foil to windward is in, and both are out while she beats or gybes
// downwind. State board·n + i is the i-th of n settings with the wind from port
// (board 0) or from starboard (board 1).
//
// A change of setting costs what it costs on a given track. On tacking and
// gybing the foil of the new leeward side is put out before the turn and that
// of the old one taken in after it, both unloaded. A course that cannot be
// sailed directly is sailed on both boards; at its end she is on the one that
// she wants. Prices are tabulated by day on the grid of the speed table.
type FreeCourse struct {
	sl       *Sailor
	opt      FreeOptions
	leeward  []uint8
	prices   *freePrices
	paces    *freePaces
	maxMS    float64
	pieceM   float64
	binS     float64
	uncovers atomic.Uint32
}

// NewFreeCourse prepares a boat for the search for a course.
func (sl *Sailor) NewFreeCourse(opt FreeOptions) *FreeCourse {
	f := &FreeCourse{sl: sl, opt: opt, pieceM: or(opt.PieceM, freePieceM), binS: or(opt.IntervalS, freeBinS)}
	switch {
	case opt.FoilsNever:
		f.leeward = []uint8{0}
	case opt.Leeward != nil:
		f.leeward = []uint8{0}
		for _, s := range opt.Leeward {
			if s != 0 && len(f.leeward) < mostLeeward {
				f.leeward = append(f.leeward, s)
			}
		}
	default:
		f.leeward = sl.Leeward(8)
	}
	f.prices = newFreePrices(sl.prices, f.leeward)
	f.paces = newFreePaces(sl, f.leeward, f.prices)
	f.maxMS = f.topSpeed()
	return f
}

// Relaxed is the same boat with the same states for which changes of foils,
// tacks and gybes are free and instant.
func (f *FreeCourse) Relaxed() *FreeCourse {
	r := &FreeCourse{sl: f.sl, opt: f.opt, leeward: f.leeward, prices: f.prices, paces: f.paces, maxMS: f.maxMS, pieceM: f.pieceM, binS: f.binS}
	r.opt.Instant = true
	return r
}

// States is the number of states: boards times settings.
func (f *FreeCourse) States() int { return 2 * len(f.leeward) }

// MaxSpeedMS is the highest speed of the boat over all conditions, plus a
// current of 4 m/s where the forecast may have one.
func (f *FreeCourse) MaxSpeedMS() float64 { return f.maxMS }

// Sailor returns a sailor for one worker.
func (f *FreeCourse) Sailor() route.Sailor { return newFreeSailor(f) }

// State says what a state of the search is: the leeward foil's setting, and
// whether the wind is from starboard.
func (f *FreeCourse) State(q int) (leeward uint8, starboard bool) {
	n := len(f.leeward)
	return f.leeward[q%n], q >= n
}

// Leeward lists the settings of the leeward foil that are used.
func (f *FreeCourse) Leeward() []uint8 { return f.leeward }

// Departures are the states at the start: foils in, on either board.
func (f *FreeCourse) Departures(departS float64) []route.Departure {
	return []route.Departure{{State: 0, TimeS: departS}, {State: len(f.leeward), TimeS: departS}}
}

// Uncovered says whether the search met places or times that the forecast does
// not know; it went round them.
func (f *FreeCourse) Uncovered(kind weather.CoverageKind) bool {
	return f.uncovers.Load()&(1<<uint(kind)) != 0
}

// mostCurrentMS is more than any ocean current (common knowledge, no source).
const mostCurrentMS = 4.0

// topSpeed is the highest speed at a node of the grid of conditions, which the
// table's monotone interpolation does not pass.
func (f *FreeCourse) topSpeed() float64 {
	g := f.sl.perf.Grid()
	top := 0.0
	for _, l := range f.leeward {
		for _, tws := range g.TWSMS {
			for _, twa := range g.TWARad {
				for _, hs := range g.HsM {
					v, _ := f.sl.perf.Speed(int(l), 0, vpp.Condition{TWSMS: tws, TWARad: twa, HsM: hs})
					top = math.Max(top, v)
				}
			}
		}
	}
	if w, ok := f.sl.wx.(interface{ Variables() weather.Variables }); !ok || w.Variables().Has(weather.HasCurrent) {
		top += mostCurrentMS
	}
	return top
}

// Leeward picks at most most settings of the leeward foil, 0 (in) first, that
// together give up least speed against having all of them, over the grid of
// conditions in winds of 3 m/s and more on courses from 40° to 170°.
func (sl *Sailor) Leeward(most int) []uint8 {
	n := len(sl.states.settings)
	if n <= most {
		all := make([]uint8, n)
		for i := range all {
			all[i] = uint8(i)
		}
		return all
	}
	g := sl.perf.Grid()
	var speeds [][]float64 // by condition, by setting
	for _, tws := range g.TWSMS {
		for _, twa := range g.TWARad {
			if tws < 3 || twa < units.Rad(40) || twa > units.Rad(170) {
				continue
			}
			for _, hs := range g.HsM {
				row := make([]float64, n)
				for l := range n {
					if v, ok := sl.perf.Speed(l, 0, vpp.Condition{TWSMS: tws, TWARad: twa, HsM: hs}); ok {
						row[l] = v
					}
				}
				speeds = append(speeds, row)
			}
		}
	}
	in := make([]bool, n)
	in[0] = true
	for range most - 1 {
		best, bestGain := -1, 0.0
		for l := range n {
			if in[l] {
				continue
			}
			gain := 0.0
			for _, row := range speeds {
				have := 0.0
				for k, v := range row {
					if in[k] {
						have = math.Max(have, v)
					}
				}
				if d := row[l] - have; d > 0 {
					gain += d / row[l]
				}
			}
			if gain > bestGain {
				best, bestGain = l, gain
			}
		}
		if best < 0 {
			break
		}
		in[best] = true
	}
	var out []uint8
	for l, ok := range in {
		if ok {
			out = append(out, uint8(l))
		}
	}
	return out
}

// Person returns the rules under which the problem is planned.
func (p *Problem) Person() Person { return p.person }
