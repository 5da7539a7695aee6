package main

import (
	"foilledger/plots"
	"foilledger/strategy"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// polarData is the polar diagram of a boat with foils in and with the best
// setting of the leeward foil, in flat water.
func polarData(perf strategy.Performer) *plots.PolarData {
	d := &plots.PolarData{Title: "Boat speed with foils in and at the best setting, flat water"}
	for _, kn := range []float64{8, 12, 16, 22} {
		d.Curves = append(d.Curves, polarCurve(perf, "foils in", kn, false))
		if len(perf.Settings()) > 1 {
			d.Curves = append(d.Curves, polarCurve(perf, "foil out, best setting", kn, true))
		}
	}
	return d
}

func polarCurve(perf strategy.Performer, name string, twsKn float64, out bool) plots.PolarCurve {
	c := plots.PolarCurve{State: name, TWSKn: twsKn}
	for deg := 35.0; deg <= 180; deg += 2.5 {
		cond := vpp.Condition{TWSMS: units.MS(twsKn), TWARad: units.Rad(deg)}
		best, found := 0.0, false
		if out {
			for l := 1; l < len(perf.Settings()); l++ {
				if v, ok := perf.Speed(l, 0, cond); ok && (v > best || !found) {
					best, found = v, true
				}
			}
		} else if v, ok := perf.Speed(0, 0, cond); ok {
			best, found = v, true
		}
		if found {
			c.Points = append(c.Points, plots.PolarPoint{TWADeg: deg, BSPKn: units.Knots(best)})
		}
	}
	return c
}

// typicalSea is the significant height that a wind raises in the open ocean
// over some hours, for tables that are not tied to a forecast: half of the
// fully developed height of Pierson & Moskowitz (1964), 0.2092 U²/g with the
// wind at 19.5 m taken as 1.026 U10. Half is an assumption.
func typicalSea(twsMS float64) float64 {
	u := 1.026 * twsMS
	return 0.5 * 0.2092 * u * u / units.G
}
