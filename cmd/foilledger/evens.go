package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"foilledger/plots"
	"foilledger/strategy"
	"foilledger/vpp/units"
)

// evenMap is the break-even map of one action in one sea.
type evenMap struct{ *strategy.BreakEvenMap }

// evenSeas are the seas of the break-even maps: shares of the typical sea of
// each wind. Twice is the fully developed sea; see typicalSea.
var evenSeas = []struct {
	name string
	rise float64
}{{"flat water", 0}, {"the sea of some hours of that wind", 1}, {"a fully developed sea", 2}}

// breakEvens is the table of break-even times printed with a passage: putting
// the leeward foil out to its best setting, over wind speed and angle.
func breakEvens(s *strategy.Sailor) []strategy.BreakEven {
	if len(s.States().All()) == 1 {
		return nil
	}
	var out []strategy.BreakEven
	for _, kn := range []float64{8, 12, 16, 20, 25} {
		for _, deg := range []float64{50, 75, 100, 125, 150} {
			hs := typicalSea(units.MS(kn))
			best, _ := s.BestSetting(units.MS(kn), units.Rad(deg), hs)
			if best == 0 {
				best = 1
			}
			out = append(out, s.BreakEven(0, best, units.MS(kn), units.Rad(deg), hs))
		}
	}
	return out
}

// breakEvenMaps fills the maps of every action over wind, angle and sea.
func breakEvenMaps(ctx context.Context, s *strategy.Sailor, pr *progress) ([]evenMap, error) {
	var tws, twa []float64
	for _, kn := range []float64{6, 8, 10, 12, 14, 16, 18, 20, 23, 26, 30, 35} {
		tws = append(tws, units.MS(kn))
	}
	for deg := 40.0; deg <= 170; deg += 10 {
		twa = append(twa, units.Rad(deg))
	}
	defer pr.start("break-even times")()
	actions := s.Actions()
	var out []evenMap
	for i, a := range actions {
		for _, sea := range evenSeas {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			m := s.BreakEvenMap(a, tws, twa, func(w float64) float64 { return sea.rise * typicalSea(w) })
			out = append(out, evenMap{m})
		}
		pr.set(i+1, len(actions))
	}
	return out, nil
}

// writeBreakEvens writes every action in every wind, angle and sea.
func writeBreakEvens(w io.Writer, res *result) error {
	if _, err := io.WriteString(w, strategy.BreakEvenHeader); err != nil {
		return err
	}
	for _, m := range res.maps {
		if err := m.WriteCSV(w, res.problem.States()); err != nil {
			return err
		}
	}
	return nil
}

// evenCharts makes one map for each kind of action in the typical sea: the
// action of that kind that the plan makes most, else the middle one.
func (res *result) evenCharts(s *strategy.Sailor) []*plots.BreakEvenMap {
	used := map[[2]uint8]int{}
	for i := range res.log.Changes {
		for _, p := range res.log.Changes[i].Price.Parts() {
			used[[2]uint8{p.From, p.To}]++
		}
	}
	byKind := map[strategy.Kind][]strategy.Action{}
	for _, a := range s.LeewardActions() {
		byKind[a.Kind] = append(byKind[a.Kind], a)
	}
	var tws, twa []float64
	for kn := 6.0; kn <= 36; kn += 1.5 {
		tws = append(tws, units.MS(kn))
	}
	for deg := 40.0; deg <= 170; deg += 5 {
		twa = append(twa, units.Rad(deg))
	}
	var out []*plots.BreakEvenMap
	for _, k := range []strategy.Kind{strategy.Deploy, strategy.Retract, strategy.Extend, strategy.Shorten, strategy.AddRake, strategy.TakeOffRake} {
		as := byKind[k]
		if len(as) == 0 {
			continue
		}
		best, most := as[len(as)/2], 0
		for _, a := range as {
			if n := used[[2]uint8{a.From, a.To}]; n > most {
				best, most = a, n
			}
		}
		out = append(out, evenChart(s.BreakEvenMap(best, tws, twa, typicalSea), s.States()))
	}
	return out
}

// doTo says an action on a foil.
func doTo(k strategy.Kind, foil string) string {
	switch k {
	case strategy.AddRake:
		return "add rake to " + foil
	case strategy.TakeOffRake:
		return "take rake off " + foil
	}
	return k.String() + " " + foil
}

func evenChart(m *strategy.BreakEvenMap, states *strategy.States) *plots.BreakEvenMap {
	what := fmt.Sprintf("%s, %s to %s", doTo(m.Action.Kind, "the leeward foil"), states.Describe(m.Action.From), states.Describe(m.Action.To))
	d := &plots.BreakEvenMap{Name: "break-even-" + strings.ReplaceAll(m.Action.Kind.String(), " ", "-"), Title: "How long it must last: " + what, Action: what, Sea: evenSeas[1].name}
	for _, w := range m.TWSMS {
		d.TWSKn = append(d.TWSKn, units.Knots(w))
	}
	for _, a := range m.TWARad {
		d.TWADeg = append(d.TWADeg, units.Deg(a))
	}
	min := m.Minutes() // [angle][wind]
	d.Minutes = make([][]float64, len(d.TWSKn))
	for i := range d.Minutes {
		d.Minutes[i] = make([]float64, len(d.TWADeg))
		for j := range d.TWADeg {
			// A change that costs nothing pays at once: half a minute is the
			// least that the chart shows.
			d.Minutes[i][j] = min[j][i]
			if !math.IsNaN(min[j][i]) {
				d.Minutes[i][j] = math.Max(0.5, min[j][i])
			}
		}
	}
	return d
}
