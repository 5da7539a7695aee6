package strategy

import (
	"fmt"
	"io"
	"math"
	"strconv"

	"foilledger/vpp/units"
)

// Action is a change of one foil by one elementary action.
type Action struct {
	Kind     Kind
	From, To uint8 // settings
	Windward bool  // of the windward foil, else of the leeward one
}

// Actions lists the elementary actions on both foils: those of LeewardActions,
// and the same on the windward foil.
func (sl *Sailor) Actions() []Action {
	out := sl.LeewardActions()
	for _, a := range out {
		a.Windward = true
		out = append(out, a)
	}
	return out
}

// LeewardActions lists the elementary actions on a leeward foil: out and in,
// to the next extension and back with the rake kept, and to the next rake and
// back.
func (sl *Sailor) LeewardActions() []Action {
	var out []Action
	set := sl.states.settings
	n := len(set)
	between := func(x, a, b float64) bool { return x > math.Min(a, b)+1e-9 && x < math.Max(a, b)-1e-9 }
	for from := range n {
	pair:
		for to := range n {
			ms := &sl.prices.moves[from*n+to]
			if ms.n != 1 {
				continue // not elementary
			}
			a, b := set[from], set[to]
			for i := 1; i < n; i++ { // neighbours only
				if a.Extension == b.Extension && set[i].Extension == a.Extension && between(set[i].RakeRad, a.RakeRad, b.RakeRad) {
					continue pair
				}
				if a.Extension != 0 && b.Extension != 0 && between(set[i].Extension, a.Extension, b.Extension) {
					continue pair
				}
			}
			out = append(out, Action{Kind: ms.m[0].kind, From: uint8(from), To: uint8(to)})
		}
	}
	return out
}

func (a Action) foil() string {
	if a.Windward {
		return "windward"
	}
	return "leeward"
}

// BreakEvenMap is the break-even time of one action over true wind speed
// (columns) and angle (rows) at one sea state.
type BreakEvenMap struct {
	Action Action
	TWSMS  []float64
	TWARad []float64
	// HsM is the significant wave height for each wind speed.
	HsM   []float64
	Cells [][]BreakEven // [angle][wind]
}

// BreakEvenMap fills a map; hsM gives the sea that goes with a wind speed, nil
// means flat water.
func (sl *Sailor) BreakEvenMap(a Action, twsMS, twaRad []float64, hsM func(twsMS float64) float64) *BreakEvenMap {
	m := &BreakEvenMap{Action: a, TWSMS: twsMS, TWARad: twaRad}
	for _, w := range twsMS {
		h := 0.0
		if hsM != nil {
			h = hsM(w)
		}
		m.HsM = append(m.HsM, h)
	}
	for _, angle := range twaRad {
		row := make([]BreakEven, len(twsMS))
		for i, w := range twsMS {
			row[i] = sl.BreakEvenOf(a, w, angle, m.HsM[i])
		}
		m.Cells = append(m.Cells, row)
	}
	return m
}

// Minutes returns the break-even times in minutes, [angle][wind]; +Inf where
// the action does not pay, NaN where a limit refuses the new setting.
func (m *BreakEvenMap) Minutes() [][]float64 {
	out := make([][]float64, len(m.Cells))
	for j, row := range m.Cells {
		out[j] = make([]float64, len(row))
		for i := range row {
			out[j][i] = row[i].TimeS / 60
			if row[i].Refused {
				out[j][i] = math.NaN()
			}
		}
	}
	return out
}

// WriteCSV writes the map as long-form rows under the header of
// BreakEvenHeader.
func (m *BreakEvenMap) WriteCSV(w io.Writer, states *States) error {
	f := func(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
	for _, row := range m.Cells {
		for i := range row {
			e := &row[i]
			even := ""
			if !math.IsInf(e.TimeS, 1) {
				even = f(e.TimeS/60, 1)
			}
			if _, err := fmt.Fprintf(w, "%s,%s,\"%s\",\"%s\",%s,%s,%s,%s,%s,%s,%s,%s,\"%s\",%t\n", m.Action.Kind, m.Action.foil(), states.Describe(e.From), states.Describe(e.To),
				f(units.Knots(e.TWSMS), 1), f(units.Deg(e.TWARad), 0), f(e.HsM, 1), f(units.Knots(e.OldMS), 2), f(units.Knots(e.NewMS), 2),
				f(e.Price.LostS, 0), f(e.Price.EffortJ/1000, 1), even, e.Price.Slow.Describe(), e.Refused); err != nil {
				return err
			}
		}
	}
	return nil
}

// BreakEvenHeader is the header of WriteCSV's rows.
const BreakEvenHeader = "action,foil,from,to,tws_kn,twa_deg,hs_m,old_bsp_kn,new_bsp_kn,lost_s,effort_kj,break_even_min,slow_down,refused\n"
