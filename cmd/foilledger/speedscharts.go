package main

import (
	"context"
	"fmt"
	"math"

	"foilledger/plots"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// The condition in which the page explains why the boat settles where it does.
const whyTWSKn, whyTWADeg = 16.0, 110.0

// speedsReport is what the page and the charts show: the whole table for the
// page's controls, and charts in flat water and in the sea of the wind.
func speedsReport(ctx context.Context, boat *vpp.Boat, m *vpp.Model, t *vpp.Table, in input) (*plots.SpeedsReport, error) {
	r := &plots.SpeedsReport{
		Title: "Speeds of " + boat.Name, Boat: boat.Name, Version: version(),
		Shape: boatShape(boat),
		Assumptions: []string{"The windward foil is in.", "The waves run with the wind.",
			"The speed is the one reached by accelerating from low speed; where the boat keeps a higher one from above, the page says so.",
			"Between the points of the table the page interpolates in straight lines.",
			"All states are steady. Nothing here knows surfing, slamming or crew mistakes.",
			"Boat speeds of 35 kn and more in flat water say what the equations say, not what a boat averages: such a wind raises a sea."},
		Inputs: []plots.Input{{File: in.File, SHA256: in.SHA256}},
	}
	r.Headline, r.KeyNumbers = speedsAnswer(t)
	for _, s := range t.Settings() {
		r.Settings = append(r.Settings, plots.FoilSetting{Extension: s.Extension, RakeDeg: tidy(units.Deg(s.RakeRad))})
	}
	pageTable(r, t)
	var err error
	if r.Charts, err = speedsCharts(ctx, m, t); err != nil {
		return nil, err
	}
	r.Tables = speedsTables(t)
	return r, nil
}

func boatShape(boat *vpp.Boat) plots.BoatShape {
	h := &boat.Hull
	s := plots.BoatShape{
		LengthM: math.Max(h.BowXM+h.CGFromTransomM, h.LengthWaterlineM), BeamM: 1.5 * h.BeamWaterlineM, WaterlineBeamM: h.BeamWaterlineM, PlaningBeamM: h.PlaningBeamM,
		FreeboardM: boat.Rig.DeckHeightM, DraftCanoeM: h.DraftM, BowFreeboardM: h.BowFreeboardM, BowForwardM: h.BowXM,
		DeadriseDeg: units.Deg(h.DeadriseRad), KeelArmM: boat.Keel.ArmM, KeelCantDeg: units.Deg(boat.Keel.MaxCantRad), CentreOfGravityFromTransomM: h.CGFromTransomM,
		BulbLengthM: boat.Keel.BulbLengthM, BulbDiameterM: boat.Keel.BulbDiamM, FinChordM: boat.Keel.FinChordM, MastHeightM: boat.Rig.MastHeightM,
	}
	if f := boat.Foils; f != nil {
		s.FoilRootOutM, s.FoilRootUpM, s.FoilRootForwardM = f.RootYM, f.RootZM, f.RootXM
		s.FoilSpanM, s.FoilChordM, s.FoilDihedralDeg = f.SpanM, f.ChordM(), units.Deg(f.DihedralRad)
		s.FoilTipSpanM, s.FoilTipDihedralDeg = f.TipSpanM, units.Deg(f.TipDihedral)
	}
	return s
}

// pageTable fills the table that the page's controls read: the grid of the
// speed table, without calm and without the angles at which no way can be made.
func pageTable(r *plots.SpeedsReport, t *vpp.Table) {
	g := t.Grid()
	for _, v := range g.TWSMS {
		if v > 0 {
			r.TWSKn = append(r.TWSKn, tidy(units.Knots(v)))
		}
	}
	for _, a := range g.TWARad {
		if d := tidy(units.Deg(a)); d >= 40 {
			r.TWADeg = append(r.TWADeg, d)
		}
	}
	r.HsM = g.HsM
	for l := range t.Settings() {
		for _, kn := range r.TWSKn {
			for _, deg := range r.TWADeg {
				for _, hs := range r.HsM {
					p := t.At(l, 0, vpp.Condition{TWSMS: units.MS(kn), TWARad: units.Rad(deg), HsM: hs})
					c := plots.SpeedCell{OK: p.OK, BSPKn: units.Knots(p.BSPMS), HeelDeg: units.Deg(p.HeelRad), TrimDeg: units.Deg(p.TrimRad),
						LeewayDeg: units.Deg(p.LeewayRad), RiseM: p.RiseM, HullLoad: p.HullLoad, FoilLiftT: units.TonnesForce(p.FoilLiftN),
						BowImmersionsPerHour: p.BowImmersionsPerHour, RuledBy: p.RuledBy, Sail: p.Sail}
					if p.BSPAboveMS > p.BSPMS+units.MS(0.1) {
						c.AboveKn = units.Knots(p.BSPAboveMS)
					}
					r.Cells = append(r.Cells, c)
				}
			}
		}
	}
}

// seaCase is one sea of the charts.
type seaCase struct {
	key, title string // for file names, for titles
	words      string // "" for flat water
	hs         func(twsMS float64) float64
}

var seaCases = []seaCase{
	{"", "flat water", "", func(float64) float64 { return 0 }},
	{"-sea", "in the sea of the wind", typicalWord, typicalSea},
}

func speedsCharts(ctx context.Context, m *vpp.Model, t *vpp.Table) ([]plots.Chart, error) {
	var charts []plots.Chart
	var failed error
	add := func(draw func() (plots.Chart, error)) {
		if failed == nil {
			failed = ctx.Err()
		}
		if failed != nil {
			return
		}
		var c plots.Chart
		c, failed = draw()
		charts = append(charts, c)
	}
	foils := len(t.Settings()) > 1
	for _, sea := range seaCases {
		add(func() (plots.Chart, error) { return plots.PolarChart(seaPolar(t, sea)) })
	}
	if foils {
		add(func() (plots.Chart, error) { return plots.PolarChart(statePolar(t)) })
		for _, sea := range seaCases {
			gain, best := gainMaps(t, sea)
			add(func() (plots.Chart, error) { return plots.GainMapChart(gain) })
			add(func() (plots.Chart, error) { return plots.SettingChart(best) })
		}
	}
	c := vpp.Condition{TWSMS: units.MS(whyTWSKn), TWARad: units.Rad(whyTWADeg)}
	c.HsM = math.Round(typicalSea(c.TWSMS)*10) / 10
	p := &operatingPoint{cond: c}
	p.leeward, p.point, p.status = m.BestSetting(c, vpp.FoilSetting{})
	if p.status == vpp.Solved {
		p.aboveMS = p.point.BSPMS
		add(func() (plots.Chart, error) {
			return plots.SurgeCurveChart(surgeChart(surgeCurve(m, p), "Why the boat settles where it does: "+conditionWords(p)))
		})
		add(func() (plots.Chart, error) {
			_, _, effects := m.Sensitivity(c, p.leeward, p.windward)
			return plots.TornadoChart(tornado(p, effects, "What the model is unsure of: "+conditionWords(p)))
		})
	}
	return charts, failed
}

// seaPolar is the polar diagram with foils in and at the best setting.
func seaPolar(t *vpp.Table, sea seaCase) *plots.PolarData {
	d := &plots.PolarData{Name: "polar" + sea.key, Sea: sea.words, Title: "Boat speed with foils in and at the best setting, " + sea.title}
	for _, kn := range []float64{8, 12, 16, 22} {
		hs := sea.hs(units.MS(kn))
		d.Curves = append(d.Curves, stateCurve(t, "foils in", kn, hs, func(l int) bool { return l == 0 }))
		if len(t.Settings()) > 1 {
			d.Curves = append(d.Curves, stateCurve(t, "foil out, best setting", kn, hs, func(l int) bool { return l > 0 }))
		}
	}
	return d
}

// statePolar is the polar diagram of every extension at its best rake, in two
// winds.
func statePolar(t *vpp.Table) *plots.PolarData {
	d := &plots.PolarData{Name: "polar-states", Sea: typicalWord, Title: "Boat speed by extension of the leeward foil, each at its best rake"}
	for _, e := range t.Extensions() {
		name := "foils in"
		if e > 0 {
			name = fmt.Sprintf("out %.2f", e)
		}
		for _, kn := range []float64{12, 20} {
			d.Curves = append(d.Curves, stateCurve(t, name, kn, typicalSea(units.MS(kn)), func(l int) bool { return t.Settings()[l].Extension == e }))
		}
	}
	return d
}

// stateCurve is the fastest of the settings that belong to a state.
func stateCurve(t *vpp.Table, name string, twsKn, hsM float64, belongs func(l int) bool) plots.PolarCurve {
	c := plots.PolarCurve{State: name, TWSKn: twsKn}
	for deg := 35.0; deg <= 180; deg += 2.5 {
		cond := vpp.Condition{TWSMS: units.MS(twsKn), TWARad: units.Rad(deg), HsM: hsM}
		best := math.NaN()
		for l := range t.Settings() {
			if v, ok := t.Speed(l, 0, cond); belongs(l) && ok && !(v <= best) {
				best = v
			}
		}
		if !math.IsNaN(best) {
			c.Points = append(c.Points, plots.PolarPoint{TWADeg: deg, BSPKn: units.Knots(best)})
		}
	}
	return c
}

// worthMS is the gain under which a foil is not worth putting out: 0.1 kn.
const worthMS = 0.1 * units.MSPerKnot

// fastestOut is the speed with foils in, the best with the leeward foil out, and
// the setting that makes it: foils in where it gains less than worthMS.
func fastestOut(t *vpp.Table, sea seaCase, kn, deg float64) (v0, v float64, set vpp.FoilSetting) {
	c := vpp.Condition{TWSMS: units.MS(kn), TWARad: units.Rad(deg), HsM: sea.hs(units.MS(kn))}
	v0, _ = t.Speed(0, 0, c)
	v = math.NaN()
	at := 0
	for l := 1; l < len(t.Settings()); l++ {
		if u, ok := t.Speed(l, 0, c); ok && !(u <= v) {
			v, at = u, l
		}
	}
	if set = t.Settings()[at]; !(v > v0+worthMS) {
		set = vpp.FoilSetting{}
	}
	return v0, v, set
}

// gainMaps are the speed gained over foils in, and the setting that gains most.
func gainMaps(t *vpp.Table, sea seaCase) (*plots.GainMap, *plots.SettingMap) {
	gain := &plots.GainMap{Name: "gain-map" + sea.key, Sea: sea.words, Title: "Speed gained over foils in, " + sea.title, Quantity: "speed gained over foils in (kn)"}
	best := &plots.SettingMap{Name: "best-setting-map" + sea.key, Sea: sea.words, Title: "Fastest extension and rake, " + sea.title}
	for kn := 4.0; kn <= 36; kn += 2 {
		gain.TWSKn = append(gain.TWSKn, kn)
	}
	for deg := 40.0; deg <= 175; deg += 7.5 {
		gain.TWADeg = append(gain.TWADeg, deg)
	}
	best.TWSKn = gain.TWSKn
	for deg := 40.0; deg <= 170; deg += 10 {
		best.TWADeg = append(best.TWADeg, deg)
	}
	for _, kn := range gain.TWSKn {
		var g, ext, rake []float64
		for _, deg := range gain.TWADeg {
			v0, v, _ := fastestOut(t, sea, kn, deg)
			g = append(g, units.Knots(v-v0))
		}
		for _, deg := range best.TWADeg {
			_, _, set := fastestOut(t, sea, kn, deg)
			ext = append(ext, set.Extension)
			rake = append(rake, tidy(units.Deg(set.RakeRad)))
		}
		gain.Value = append(gain.Value, g)
		best.Extension = append(best.Extension, ext)
		best.RakeDeg = append(best.RakeDeg, rake)
	}
	return gain, best
}

// speedsTables are the page's tables: take-off and touch-down, and what the
// table leans on.
func speedsTables(t *vpp.Table) []plots.PageTable {
	var out []plots.PageTable
	if rows := flightRows(t); len(rows) > 0 {
		pt := plots.PageTable{Caption: fmt.Sprintf("True wind (kn) of take-off / touch-down, waves %g m, by true wind angle", flightHsM), Head: []string{"<extension, rake"},
			Note: "A boat that speeds up from low speed flies (its foil carries more than half of the weight) from the first wind; one that flies already comes down below the second. A dash: not within the limits, or never."}
		for _, d := range flightTWA {
			pt.Head = append(pt.Head, fmt.Sprintf("%.0f°", d))
		}
		for i := 0; i < len(rows); i += len(flightTWA) {
			line := []string{fmt.Sprintf("%.2f, %.0f°", rows[i].Extension, rows[i].RakeDeg)}
			for _, r := range rows[i : i+len(flightTWA)] {
				line = append(line, flightCell(r.flightJSON))
			}
			pt.Rows = append(pt.Rows, line)
		}
		out = append(out, pt)
	}
	pt := plots.PageTable{Caption: "What the model leans on outside its published range", Head: []string{"<term", "foils in %", "foils out %", "<good for; outside"},
		Note: "Share of the table's points that lean on the term; column leans_on of " + speedsFile + " names it for every point."}
	for _, r := range leanRows(t) {
		pt.Rows = append(pt.Rows, []string{r.Term, fmt.Sprintf("%.0f", r.InPercent), fmt.Sprintf("%.0f", r.OutPercent), r.Range + "; " + r.Outside})
	}
	if len(pt.Rows) > 0 {
		out = append(out, pt)
	}
	var unsure plots.PageTable
	unsure.Caption = "Uncertain factors of the model"
	unsure.Head = []string{"<factor", "low", "high", "<why"}
	for _, f := range vpp.FactorRanges() {
		unsure.Rows = append(unsure.Rows, []string{f.Name, fmt.Sprintf("%.2f", f.Low), fmt.Sprintf("%.2f", f.High), f.Reason})
	}
	return append(out, unsure)
}
