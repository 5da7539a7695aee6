// Package plainboat holds a boat with closed-form speeds and a wind that is the
// same everywhere, for the tests of what is built on strategy.
package plainboat

import (
	"math"
	"time"

	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// Boat has foils that are all in or all out and a speed of its own for every
// condition; it gets there with a time constant of 20 s.
type Boat struct {
	// RakesRad are the rakes of a foil that is out.
	RakesRad []float64
	// BSP is the speed with leeward setting l and windward extension w, and
	// whether the boat's limits allow them.
	BSP func(l, w int, c vpp.Condition) (bspMS float64, ok bool)
}

// Settings lists in and every rake.
func (b Boat) Settings() []vpp.FoilSetting {
	s := []vpp.FoilSetting{{}}
	for _, r := range b.RakesRad {
		s = append(s, vpp.FoilSetting{Extension: 1, RakeRad: r})
	}
	return s
}

// Extensions are in and out.
func (Boat) Extensions() []float64 { return []float64{0, 1} }

// Speed is what BSP says.
func (b Boat) Speed(l, w int, c vpp.Condition) (float64, bool) { return b.BSP(l, w, c) }

// Accel brings the boat to her speed, with half the power to half of it.
func (b Boat) Accel(l, w int, p vpp.Power, c vpp.Condition, v float64) float64 {
	eq, _ := b.BSP(l, w, c)
	return 0.05 * (eq*[...]float64{0, 0.5, 1}[p] - v)
}

// BestVMG lets the boat sail at almost any angle.
func (b Boat) BestVMG(l, w int, tws, _ float64, upwind bool) (float64, float64) {
	v, _ := b.BSP(l, w, vpp.Condition{TWSMS: tws})
	if upwind {
		return units.Rad(5), v
	}
	return units.Rad(175), v
}

// At is her speed and nothing else.
func (b Boat) At(l, w int, c vpp.Condition) vpp.Steady {
	v, ok := b.BSP(l, w, c)
	return vpp.Steady{BSPMS: v, OK: ok, HullLoad: 1}
}

// Grid is coarse: the speeds need none.
func (Boat) Grid() vpp.Grid {
	g := vpp.Grid{HsM: []float64{0, 4}}
	for t := 0.0; t <= 24; t += 2 {
		g.TWSMS = append(g.TWSMS, t)
	}
	for a := 0.0; a <= 180; a += 30 {
		g.TWARad = append(g.TWARad, units.Rad(a))
	}
	return g
}

// Handling is that of a boat sailed by one person (invented).
func Handling() vpp.Handling {
	return vpp.Handling{
		DeployCeilingMS: units.MS(10), RetractCeilingMS: units.MS(10), AddRakeCeilingMS: units.MS(14), TakeOffRakeCeilingMS: units.MS(30),
		DeployWorkJ: 18e3, RetractWorkJ: 22e3, RakeWorkJPerRad: 1.2e3 * 180 / math.Pi, RakeLoadWorkJPerRadN: 3.5,
		SustainedPowerW: 100, MaxPumpLoadN: 40e3, ReachFoilS: 20, ReachPumpS: 15, TackS: 90, GybeS: 100,
	}
}

// Northerly is wind from the north, as a function of time, that has no end.
type Northerly func(tS float64) float64

// Epoch is the time from which a Northerly counts.
var Epoch = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// At implements weather.Source.
func (w Northerly) At(_, _, tS float64) (weather.Sample, error) {
	return weather.Sample{V: -w(tS)}, nil
}

// Reference implements weather.Source.
func (Northerly) Reference() time.Time { return Epoch }

// SpanS implements weather.Source.
func (Northerly) SpanS() (firstS, lastS float64) { return math.Inf(-1), math.Inf(1) }
