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
type evenMap struct {
	sea  string
	rise float64 // of the sea over the typical one of each wind
	*strategy.BreakEvenMap
}

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
	actions := s.LeewardActions()
	var out []evenMap
	for i, a := range actions {
		for _, sea := range evenSeas {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			m := s.BreakEvenMap(a, tws, twa, func(w float64) float64 { return sea.rise * typicalSea(w) })
			out = append(out, evenMap{sea.name, sea.rise, m})
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
func (res *result) evenCharts() []*plots.BreakEvenMap {
	states := res.problem.States()
	used := map[[2]uint8]int{}
	for i := range res.log.Changes {
		for _, p := range res.log.Changes[i].Price.Parts() {
			used[[2]uint8{p.From, p.To}]++
		}
	}
	byKind := map[strategy.Kind][]evenMap{}
	for _, m := range res.maps {
		if m.rise == 1 {
			byKind[m.Action.Kind] = append(byKind[m.Action.Kind], m)
		}
	}
	var out []*plots.BreakEvenMap
	for _, k := range []strategy.Kind{strategy.Deploy, strategy.Retract, strategy.Extend, strategy.Shorten, strategy.AddRake, strategy.TakeOffRake} {
		ms := byKind[k]
		if len(ms) == 0 {
			continue
		}
		best := ms[len(ms)/2]
		most := 0
		for _, m := range ms {
			if n := used[[2]uint8{m.Action.From, m.Action.To}]; n > most {
				best, most = m, n
			}
		}
		out = append(out, res.evenChart(best, states))
	}
	return out
}

func (res *result) evenChart(m evenMap, states *strategy.States) *plots.BreakEvenMap {
	what := fmt.Sprintf("%s the leeward foil, %s to %s", m.Action.Kind, states.Describe(m.Action.From), states.Describe(m.Action.To))
	d := &plots.BreakEvenMap{Name: "break-even-" + strings.ReplaceAll(m.Action.Kind.String(), " ", "-"), Title: "How long it must last: " + what, Action: what, Sea: m.sea}
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
