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

// pointJSON is one operating point.
type pointJSON struct {
	TWSKn        float64            `json:"tws_kn"`
	TWADeg       float64            `json:"twa_deg"`
	HsM          float64            `json:"hs_m"`
	Extension    float64            `json:"extension"`
	RakeDeg      float64            `json:"rake_deg"`
	Windward     float64            `json:"windward_extension"`
	BSPKn        float64            `json:"bsp_kn"`
	BSPAboveKn   float64            `json:"bsp_above_kn"`
	HeelDeg      float64            `json:"heel_deg"`
	LeewayDeg    float64            `json:"leeway_deg"`
	TrimDeg      float64            `json:"trim_deg"`
	HullLoad     float64            `json:"hull_load"`
	RiseM        float64            `json:"rise_m"`
	FoilLiftT    float64            `json:"foil_lift_t"`
	FoilLoadT    float64            `json:"foil_load_t"`
	Immersions   float64            `json:"bow_immersions_per_hour"`
	Sail         string             `json:"sail"`
	CantDeg      float64            `json:"cant_deg"`
	BallastKg    float64            `json:"ballast_kg"`
	Depower      float64            `json:"depower"`
	RuledBy      string             `json:"ruled_by"`
	Status       string             `json:"status"`
	Extrapolated []string           `json:"extrapolated"`
	ForcesN      map[string]float64 `json:"forces_n"`
	DragN        map[string]float64 `json:"drag_n"`
	Flight       *flightJSON        `json:"flight,omitempty"`
	Sensitivity  []effectJSON       `json:"sensitivity,omitempty"`
	Version      string             `json:"version"`
}

// flightJSON is take-off and touch-down of one foil state at one angle and sea;
// nil: not within the limits.
type flightJSON struct {
	TakeOffTWSKn   *float64 `json:"take_off_tws_kn"`
	TakeOffBSPKn   *float64 `json:"take_off_bsp_kn"`
	TouchDownTWSKn *float64 `json:"touch_down_tws_kn"`
	TouchDownBSPKn *float64 `json:"touch_down_bsp_kn"`
}

func newFlightJSON(f vpp.Flight) *flightJSON {
	j := &flightJSON{}
	kn := func(on bool, v float64) *float64 {
		if !on {
			return nil
		}
		k := units.Knots(v)
		return &k
	}
	j.TakeOffTWSKn, j.TakeOffBSPKn = kn(f.TakesOff, f.TakeOffTWSMS), kn(f.TakesOff, f.TakeOffBSPMS)
	j.TouchDownTWSKn, j.TouchDownBSPKn = kn(f.Flies, f.TouchDownTWSMS), kn(f.Flies, f.TouchDownBSPMS)
	return j
}

// effectJSON is what one uncertain factor does to the speed.
type effectJSON struct {
	Factor     string   `json:"factor"`
	Key        string   `json:"key"`
	Low        float64  `json:"low"`
	High       float64  `json:"high"`
	BSPLowKn   *float64 `json:"bsp_low_kn"` // nil: no steady state allowed there
	BSPHighKn  *float64 `json:"bsp_high_kn"`
	Reason     string   `json:"reason"`
	LowStatus  string   `json:"low_status"`
	HighStatus string   `json:"high_status"`
}

// operatingPoint is one solved point with what belongs to it.
type operatingPoint struct {
	cond     vpp.Condition
	leeward  vpp.FoilSetting
	windward vpp.FoilSetting
	point    vpp.Point
	status   vpp.Status
	aboveMS  float64
}

// findPoint solves the setting given, or finds the fastest.
func findPoint(o *speedsOptions, boat *vpp.Boat, m *vpp.Model) (*operatingPoint, error) {
	p := &operatingPoint{cond: vpp.Condition{TWSMS: units.MS(o.tws), TWARad: units.Rad(o.twa), HsM: o.sea}}
	if boat.Foils == nil && (o.ext > 0 || o.windward > 0) {
		return nil, usage("use --ext 0 and --windward 0", "%s has no foils", boat.Name)
	}
	p.windward.Extension = o.windward
	if o.extGiven {
		p.leeward = vpp.FoilSetting{Extension: o.ext, RakeRad: units.Rad(o.rake)}
		if o.ext > 0 && (p.leeward.RakeRad < boat.Foils.MinRakeRad-1e-9 || p.leeward.RakeRad > boat.Foils.MaxRakeRad+1e-9) {
			return nil, usage("", "--rake %g: the boat's foils allow %g to %g degrees", o.rake, units.Deg(boat.Foils.MinRakeRad), units.Deg(boat.Foils.MaxRakeRad))
		}
		if o.ext == 0 {
			p.leeward.RakeRad = 0
		}
		p.point, p.status = m.Solve(p.cond, p.leeward, p.windward)
	} else {
		p.leeward, p.point, p.status = m.BestSetting(p.cond, p.windward)
	}
	if p.status == vpp.Unsolved || p.status == vpp.BadInput {
		return nil, fmt.Errorf("no balance found at %g kn of wind, %g°, %g m of sea (%v)", o.tws, o.twa, o.sea, p.status)
	}
	above, st := m.SolveAbove(p.cond, p.leeward, p.windward)
	p.aboveMS = p.point.BSPMS
	if st == vpp.Solved || st == vpp.Refused {
		p.aboveMS = math.Max(p.aboveMS, above.BSPMS)
	}
	return p, nil
}

// speedsPoint answers for one operating point.
func speedsPoint(ctx context.Context, o *speedsOptions, boat *vpp.Boat, dest *folder, s streams) error {
	m, err := vpp.NewModel(boat, vpp.NoFactors())
	if err != nil {
		return err
	}
	p, err := findPoint(o, boat, m)
	if err != nil {
		return err
	}
	j := p.json(o)
	var effects []vpp.Effect
	if o.details || dest != nil {
		if p.leeward.Extension > 0 {
			j.Flight = newFlightJSON(m.Flight(p.cond, p.leeward, p.windward))
		}
		_, _, effects = m.Sensitivity(p.cond, p.leeward, p.windward)
		j.Sensitivity = effectsJSON(effects)
	}
	if dest != nil {
		if err := writePoint(ctx, dest, m, p, effects, j); err != nil {
			return err
		}
	}
	if o.json {
		return printJSON(s.out, j)
	}
	printPoint(o, p, j, s)
	return nil
}

func (p *operatingPoint) json(o *speedsOptions) *pointJSON {
	q := &p.point
	return &pointJSON{
		TWSKn: o.tws, TWADeg: o.twa, HsM: o.sea, Extension: p.leeward.Extension, RakeDeg: tidy(units.Deg(p.leeward.RakeRad)), Windward: p.windward.Extension,
		BSPKn: units.Knots(q.BSPMS), BSPAboveKn: units.Knots(p.aboveMS),
		HeelDeg: units.Deg(q.HeelRad), LeewayDeg: units.Deg(q.LeewayRad), TrimDeg: units.Deg(q.TrimRad),
		HullLoad: q.HullLoad, RiseM: q.RiseM, FoilLiftT: units.TonnesForce(q.FoilLiftN), FoilLoadT: units.TonnesForce(q.FoilLoadN),
		Immersions: q.BowImmersionsPerHour, Sail: q.Sail, CantDeg: units.Deg(q.CantRad), BallastKg: q.BallastKg,
		Depower: q.Depower, RuledBy: q.RuledBy, Status: p.status.String(), Extrapolated: append([]string{}, q.Extrapolated...),
		ForcesN: q.Forces.Map(), DragN: q.Drag.Map(), Version: version(),
	}
}

// tidy takes the dust of unit conversion off a number.
func tidy(x float64) float64 { return math.Round(x*1e9) / 1e9 }

func effectsJSON(effects []vpp.Effect) []effectJSON {
	var out []effectJSON
	for _, e := range effects {
		kn := func(v float64, st vpp.Status) *float64 {
			if st != vpp.Solved {
				return nil
			}
			k := units.Knots(v)
			return &k
		}
		out = append(out, effectJSON{Factor: e.Range.Name, Key: e.Range.Key, Low: e.Range.Low, High: e.Range.High, Reason: e.Range.Reason,
			BSPLowKn: kn(e.LowMS, e.LowStatus), BSPHighKn: kn(e.HighMS, e.HiStatus), LowStatus: e.LowStatus.String(), HighStatus: e.HiStatus.String()})
	}
	return out
}

func settingWords(f vpp.FoilSetting) string {
	if f.Extension <= 0 {
		return "foils in"
	}
	return fmt.Sprintf("leeward foil out %.2f, rake %.1f°", f.Extension, units.Deg(f.RakeRad))
}

func printPoint(o *speedsOptions, p *operatingPoint, j *pointJSON, s streams) {
	w := s.out
	head := fmt.Sprintf("%.1f kn in %g kn of true wind at %g°, waves %g m, %s", j.BSPKn, o.tws, o.twa, o.sea, settingWords(p.leeward))
	switch p.status {
	case vpp.Refused:
		head = fmt.Sprintf("Refused by a limit (%s): would be %s", j.RuledBy, head)
	case vpp.NoGo:
		head = fmt.Sprintf("No way can be made at %g° in %g kn of true wind", o.twa, o.tws)
	}
	fmt.Fprintln(w, wrap(head, 80, ""))
	if s.quiet || p.status == vpp.NoGo {
		return
	}
	ruled := j.RuledBy
	if ruled == "" {
		ruled = "none"
	}
	fmt.Fprintln(w)
	rows := [][]string{
		{"heel", fmt.Sprintf("%.1f", j.HeelDeg), "°"}, {"leeway", fmt.Sprintf("%.1f", j.LeewayDeg), "°"},
		{"trim, bow up", fmt.Sprintf("%.2f", j.TrimDeg), "°"}, {"rise of the hull", fmt.Sprintf("%.2f", j.RiseM), "m"},
		{"weight on the hull", fmt.Sprintf("%.0f", 100*j.HullLoad), "%"}, {"foil lift, vertical", fmt.Sprintf("%.2f", j.FoilLiftT), "tf"},
		{"foil load, normal", fmt.Sprintf("%.2f", j.FoilLoadT), "tf"}, {"bow immersions", fmt.Sprintf("%.0f", j.Immersions), "per h"},
		{"sails' lift used", fmt.Sprintf("%.0f", 100*j.Depower), "%"},
	}
	if j.BSPAboveKn > j.BSPKn+0.05 {
		rows = append(rows, []string{"speed kept from above", fmt.Sprintf("%.1f", j.BSPAboveKn), "kn"})
	}
	table(w, []string{"<state", "value", "<unit"}, rows)
	fmt.Fprintf(w, "\n%s\n", wrap(fmt.Sprintf("Sails: %s; keel canted %.0f°, water ballast %.0f kg. Limit that ruled: %s.", j.Sail, j.CantDeg, j.BallastKg, ruled), 80, ""))
	if o.details {
		printDetails(p, j, w)
	}
	if len(j.Extrapolated) > 0 {
		fmt.Fprintf(w, "\nTerms used outside their published range:\n")
		for _, e := range j.Extrapolated {
			for _, t := range vpp.Terms() {
				if t.Name == e {
					fmt.Fprintf(w, "  %s\n", wrap(e+": good for "+t.Range+"; outside, "+t.Outside+".", 78, "    "))
				}
			}
		}
	}
	if o.out != "" {
		fmt.Fprintf(w, "\nWritten to %s.\n", o.out)
	}
}

func printDetails(p *operatingPoint, j *pointJSON, w io.Writer) {
	fmt.Fprintf(w, "\nWhat drives and what brakes\n\n")
	rows := [][]string{{"sails", fmt.Sprintf("%+.0f", p.point.Forces[vpp.PartSails])}}
	for i, n := range vpp.DragNames {
		if d := p.point.Drag[i]; math.Abs(d) >= 0.5 {
			rows = append(rows, []string{dragWords[n], fmt.Sprintf("%+.0f", -d)})
		}
	}
	table(w, []string{"<part", "force N"}, rows)
	fmt.Fprintln(w)
	rows = rows[:0]
	for i, n := range vpp.PartNames {
		if f := p.point.Forces[i]; f != 0 && n[:5] != "drive" {
			rows = append(rows, []string{n, fmt.Sprintf("%.0f", f)})
		}
	}
	table(w, []string{"<side (to leeward) and vertical (up)", "force N"}, rows)
	if f := j.Flight; f != nil {
		fmt.Fprintf(w, "\n%s\n", wrap(flightWords(f), 80, ""))
	}
	fmt.Fprintf(w, "\nWhat the model is unsure of\n\n")
	rows = rows[:0]
	for _, e := range j.Sensitivity {
		cell := func(f float64, v *float64, st string) string {
			if v == nil {
				return st
			}
			return fmt.Sprintf("%.1f", *v)
		}
		rows = append(rows, []string{e.Factor, fmt.Sprintf("%.2f to %.2f", e.Low, e.High), cell(e.Low, e.BSPLowKn, e.LowStatus), cell(e.High, e.BSPHighKn, e.HighStatus)})
	}
	table(w, []string{"<factor", "<range", "low kn", "high kn"}, rows)
	fmt.Fprintln(w)
	for _, e := range j.Sensitivity {
		fmt.Fprintln(w, wrap(e.Factor+": "+e.Reason+".", 80, ""))
	}
}

func flightWords(f *flightJSON) string {
	switch {
	case f.TakeOffTWSKn != nil && f.TouchDownTWSKn != nil && *f.TouchDownTWSKn < *f.TakeOffTWSKn-0.05:
		return fmt.Sprintf("At this angle and sea the foil state takes off in %.1f kn of true wind and comes down in %.1f kn: between the two the boat keeps the state that it is in.", *f.TakeOffTWSKn, *f.TouchDownTWSKn)
	case f.TakeOffTWSKn != nil:
		return fmt.Sprintf("At this angle and sea the foil state takes off and comes down in %.1f kn of true wind.", *f.TakeOffTWSKn)
	case f.TouchDownTWSKn != nil:
		return fmt.Sprintf("At this angle and sea a boat that flies already stays up from %.1f kn of true wind; from below it does not take off.", *f.TouchDownTWSKn)
	}
	return "At this angle and sea the foil state never carries half of the weight."
}

// dragWords are the parts of the resistance in words.
var dragWords = map[string]string{
	"windage": "windage of hull, mast and rigging", "hull_friction": "hull: friction", "hull_pressure": "hull: waves and planing pressure",
	"appendages": "keel, rudder, board: profile", "appendages_induced": "keel, rudder, board: side force", "foil_profile": "foil: profile",
	"foil_induced": "foil: induced", "foil_waves": "foil: waves at the surface", "foil_loss": "foil: stall, cavity, air drawn", "foil_unsteady": "foil: lift that comes and goes",
	"foil_spray": "foil: spray", "foil_junction": "foil: junction with the hull", "foil_air": "foils: part in the air", "foil_windward": "windward foil in the water",
	"sea": "sea: added resistance", "bow_immersion": "sea: bow immersions",
}

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
		d.Bars = append(d.Bars, plots.TornadoBar{
			Factor: e.Range.Name, LowWords: fmt.Sprintf("%.2f", e.Range.Low), HighWords: fmt.Sprintf("%.2f", e.Range.High),
			Low: units.Knots(e.LowMS), High: units.Knots(e.HighMS), LowRefused: e.LowStatus != vpp.Solved, HiRefused: e.HiStatus != vpp.Solved,
		})
	}
	return d
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
