package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"foilledger/plots"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// writePoint writes one operating point: as JSON, its surge curve as a table and
// a chart, and the chart of what the model is unsure of.
func writePoint(ctx context.Context, dest *folder, m *vpp.Model, p *operatingPoint, effects []vpp.Effect, j *pointJSON) error {
	if err := dest.write("point.json", func(w io.Writer) error { return printJSON(w, j) }); err != nil {
		return err
	}
	curve := surgeCurve(m, p)
	if err := dest.write("surge.csv", func(w io.Writer) error { return writeSurgeCSV(w, curve) }); err != nil {
		return err
	}
	where := conditionWords(p)
	surge, err := plots.SurgeCurveChart(surgeChart(curve, "Why the boat settles where it does: "+where))
	if err != nil {
		return err
	}
	charts := []plots.Chart{surge}
	if p.status == vpp.Solved {
		c, err := plots.TornadoChart(tornado(p, effects, "What the model is unsure of: "+where))
		if err != nil {
			return err
		}
		charts = append(charts, c)
	}
	if err := dest.writeCharts(charts); err != nil {
		return err
	}
	return dest.commit(ctx)
}

func conditionWords(p *operatingPoint) string {
	return fmt.Sprintf("%.0f kn of true wind at %.0f°, waves %.1f m, %s", units.Knots(p.cond.TWSMS), units.Deg(p.cond.TWARad), p.cond.HsM, settingWords(p.leeward))
}

// surgeCurve is the surge curve by parts, every half knot to well beyond the
// steady speed.
func surgeCurve(m *vpp.Model, p *operatingPoint) []vpp.SurgePart {
	top := math.Min(math.Max(units.Knots(p.aboveMS)*1.35, 20), 40)
	var v []float64
	for kn := 2.0; kn <= top; kn += 0.5 {
		v = append(v, units.MS(kn))
	}
	var out []vpp.SurgePart
	for _, q := range m.SurgeParts(p.cond, p.leeward, p.windward, v) {
		if q.OK {
			out = append(out, q)
		}
	}
	return out
}

// surgeGroups are the parts of the surge chart, each a sum of parts of the drag.
var surgeGroups = []struct {
	name  string
	parts []int
}{
	{"hull", []int{vpp.DragHullFriction, vpp.DragHullPressure}},
	{"keel, rudder, board", []int{vpp.DragAppendages, vpp.DragAppendagesInduced}},
	{"foil", []int{vpp.DragFoilProfile, vpp.DragFoilInduced, vpp.DragFoilWaves, vpp.DragFoilLoss, vpp.DragFoilUnsteady, vpp.DragFoilSpray, vpp.DragFoilJunction, vpp.DragFoilAir, vpp.DragFoilWindward}},
	{"sea", []int{vpp.DragWaves, vpp.DragBowImmersion}},
	{"windage", []int{vpp.DragWindage}},
}

func surgeChart(curve []vpp.SurgePart, title string) *plots.SurgeChart {
	d := &plots.SurgeChart{Title: title}
	sails := plots.SurgePart{Name: "sails"}
	groups := make([]plots.SurgePart, len(surgeGroups))
	for _, q := range curve {
		d.VKn = append(d.VKn, units.Knots(q.BSPMS))
		d.NetN = append(d.NetN, q.NetN)
		sails.ForceN = append(sails.ForceN, q.ThrustN)
		for i, g := range surgeGroups {
			sum := 0.0
			for _, k := range g.parts {
				sum -= q.Drag[k]
			}
			groups[i].ForceN = append(groups[i].ForceN, sum)
		}
	}
	d.Parts = append(d.Parts, sails)
	for i, g := range groups {
		g.Name = surgeGroups[i].name
		for _, f := range g.ForceN {
			if math.Abs(f) > 1 { // a part that is nowhere is left out
				d.Parts = append(d.Parts, g)
				break
			}
		}
	}
	stable := 0
	for i := 1; i < len(d.VKn); i++ {
		a, b := d.NetN[i-1], d.NetN[i]
		if (a > 0) == (b > 0) {
			continue
		}
		e := plots.SurgeEquilibrium{VKn: d.VKn[i-1] + (d.VKn[i]-d.VKn[i-1])*a/(a-b), Stable: a > 0}
		if e.Stable {
			stable++
			if stable > 1 {
				e.Note = "kept from above"
			}
		}
		d.Equilibria = append(d.Equilibria, e)
	}
	for i := range d.Equilibria {
		if d.Equilibria[i].Stable && stable > 1 {
			d.Equilibria[i].Note = "reached from below"
			break
		}
	}
	return d
}

func tornado(p *operatingPoint, effects []vpp.Effect, title string) *plots.Tornado {
	d := &plots.Tornado{Title: title, Quantity: "boat speed (kn)", Mid: units.Knots(p.point.BSPMS)}
	for _, e := range effects {
		bar := tornadoBar(e.Range, units.Knots(e.LowMS), units.Knots(e.HighMS))
		bar.LowRefused, bar.HiRefused = e.LowStatus != vpp.Solved, e.HiStatus != vpp.Solved
		d.Bars = append(d.Bars, bar)
	}
	return d
}

// tornadoBar is what one uncertain factor does to a value.
func tornadoBar(r vpp.FactorRange, low, high float64) plots.TornadoBar {
	return plots.TornadoBar{Factor: r.Name, LowWords: fmt.Sprintf("%.2f", r.Low), HighWords: fmt.Sprintf("%.2f", r.High), Low: low, High: high}
}

func writeSurgeCSV(w io.Writer, curve []vpp.SurgePart) error {
	c := csv.NewWriter(w)
	head := []string{"bsp_kn", "net_n", "thrust_n"}
	for _, n := range vpp.DragNames {
		head = append(head, "drag_"+n+"_n")
	}
	head = append(head, "heel_deg", "leeway_deg", "trim_deg", "hull_load", "rise_m", "foil_lift_t", "foil_load_t", "depower", "sail", "cant_deg", "ballast_kg")
	if err := c.Write(head); err != nil {
		return err
	}
	f := func(x float64, d int) string { return strconv.FormatFloat(x, 'f', d, 64) }
	for _, q := range curve {
		row := []string{f(units.Knots(q.BSPMS), 2), f(q.NetN, 1), f(q.ThrustN, 1)}
		for _, d := range q.Drag {
			row = append(row, f(d, 1))
		}
		row = append(row, f(units.Deg(q.HeelRad), 2), f(units.Deg(q.LeewayRad), 2), f(units.Deg(q.TrimRad), 3), f(q.HullLoad, 4), f(q.RiseM, 3),
			f(units.TonnesForce(q.FoilLiftN), 3), f(units.TonnesForce(q.FoilLoadN), 3), f(q.Depower, 3), q.Sail, f(units.Deg(q.CantRad), 1), f(q.BallastKg, 0))
		if err := c.Write(row); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
