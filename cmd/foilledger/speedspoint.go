package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

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
	Warnings     []string           `json:"warnings"`
	Inputs       []input            `json:"inputs"`
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
	for _, x := range []struct {
		name      string
		extension float64
	}{{"ext", o.ext}, {"windward", o.windward}} {
		if !slices.ContainsFunc(boat.Extensions(), func(e float64) bool { return math.Abs(e-x.extension) < 1e-6 }) {
			return nil, usage("foils.extension_steps in the boat file lists how far they can be out", "--%s %g: the boat's foils can be at %s", x.name, x.extension, listed(boat.Extensions()))
		}
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
func speedsPoint(ctx context.Context, o *speedsOptions, boat *vpp.Boat, in input, dest *folder, s streams) error {
	m, err := vpp.NewModel(boat, vpp.NoFactors())
	if err != nil {
		return err
	}
	p, err := findPoint(o, boat, m)
	if err != nil {
		return err
	}
	j := p.json(o)
	j.Inputs = []input{in}
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
		if err := printJSON(s.out, j); err != nil {
			return err
		}
	} else {
		printPoint(o, p, j, s)
	}
	return p.refusal(boat)
}

// refusal is the negative answer of a point at which the boat must or can not be
// sailed; nil of any other.
func (p *operatingPoint) refusal(boat *vpp.Boat) error {
	switch p.status {
	case vpp.Refused:
		hint := "leave out --ext and --rake to see the fastest setting within the limits"
		if f := boat.Limits; p.point.RuledBy == vpp.RuleWind {
			hint = fmt.Sprintf("limits.max_foils_out_tws_kn is %g in the boat file; %s", tidy(units.Knots(f.MaxFoilsOutTWSMS)), hint)
		} else if p.point.RuledBy == vpp.RuleSea {
			hint = fmt.Sprintf("limits.max_foils_out_hs_m is %g in the boat file; %s", f.MaxFoilsOutHsM, hint)
		}
		return &commandError{code: exitNoPassage, hint: hint, err: fmt.Errorf("the boat's limits refuse this state: %s", p.point.RuledBy)}
	case vpp.NoGo:
		return &commandError{code: exitNoPassage, hint: "ask for more wind or a wider angle", err: errors.New("no way can be made")}
	}
	return nil
}

// listed writes numbers as "0, 0.5 or 1".
func listed(x []float64) string {
	var b strings.Builder
	for i, v := range x {
		switch {
		case i == 0:
		case i == len(x)-1:
			b.WriteString(" or ")
		default:
			b.WriteString(", ")
		}
		fmt.Fprintf(&b, "%g", v)
	}
	return b.String()
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
		ForcesN: q.Forces.Map(), DragN: q.Drag.Map(), Warnings: p.warnings(), Version: version(),
	}
}

// warnings say what is to be minded about the point.
func (p *operatingPoint) warnings() []string {
	out := []string{}
	switch p.status {
	case vpp.Refused:
		out = append(out, "a limit refuses this state: "+p.point.RuledBy)
	case vpp.NoGo:
		out = append(out, "no way can be made")
	}
	if p.aboveMS > p.point.BSPMS+units.MS(0.05) {
		out = append(out, "a boat that comes from above keeps a higher speed")
	}
	if len(p.point.Extrapolated) > 0 {
		out = append(out, "terms used outside their published range: "+strings.Join(p.point.Extrapolated, ", "))
	}
	return out
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
	if p.aboveMS > p.point.BSPMS+units.MS(0.05) {
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
			rows = append(rows, []string{strings.Replace(n, "_", ": ", 1), fmt.Sprintf("%.0f", f)})
		}
	}
	table(w, []string{"<side to leeward, vertical up", "force N"}, rows)
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
