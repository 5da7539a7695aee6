package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/urfave/cli/v2"

	"foilledger/plots"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

type speedsOptions struct {
	common
	boat            string
	tws, twa        float64
	sea             float64
	ext, rake       float64
	out             string
	point, extGiven bool
}

func speedsCommand() *cli.Command {
	var o speedsOptions
	return &cli.Command{
		Name:  "speeds",
		Usage: "speeds of a boat in its foil states: one operating point, or tables and charts",
		Description: "Examples:\n\n   foilledger speeds --boat boat.toml --tws 16 --twa 110 --ext 1 --rake 4\n   foilledger speeds --boat boat.toml --out speeds\n\n" +
			exitCodes,
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "boat", Usage: "boat file (TOML)", Destination: &o.boat},
			&cli.Float64Flag{Name: "tws", Usage: "true wind speed, knots: one operating point", Destination: &o.tws},
			&cli.Float64Flag{Name: "twa", Usage: "true wind angle from the bow, degrees", Destination: &o.twa},
			&cli.Float64Flag{Name: "sea", Usage: "significant wave height, metres", Destination: &o.sea},
			&cli.Float64Flag{Name: "ext", Usage: "extension of the leeward foil, 0 in to 1 out", DefaultText: "the fastest", Destination: &o.ext},
			&cli.Float64Flag{Name: "rake", Usage: "rake of the leeward foil, degrees", DefaultText: "the fastest", Destination: &o.rake},
			&cli.StringFlag{Name: "out", Usage: "folder for tables, charts and page", Destination: &o.out},
		}, commonFlags(&o.common)...),
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			o.point = c.IsSet("tws") || c.IsSet("twa")
			o.extGiven = c.IsSet("ext") || c.IsSet("rake")
			switch {
			case o.boat == "":
				return usage("give a boat file with --boat", "no boat file given")
			case o.point && (!c.IsSet("tws") || !c.IsSet("twa")):
				return usage("give both --tws and --twa", "one operating point needs wind speed and angle")
			case c.IsSet("rake") && !c.IsSet("ext"):
				return usage("give --ext too, 0 in to 1 out", "--rake without --ext")
			case !o.point && (o.extGiven || c.IsSet("sea")):
				return usage("add --tws and --twa", "--sea, --ext and --rake belong to one operating point")
			}
			for _, r := range []struct {
				name      string
				v, lo, hi float64
			}{{"tws", o.tws, 0, 80}, {"twa", o.twa, 0, 180}, {"sea", o.sea, 0, 20}, {"ext", o.ext, 0, 1}, {"rake", o.rake, -20, 20}} {
				if !(r.v >= r.lo && r.v <= r.hi) {
					return usage("", "--%s %g: must be from %g to %g", r.name, r.v, r.lo, r.hi)
				}
			}
			return runSpeeds(c.Context, &o, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

func runSpeeds(ctx context.Context, o *speedsOptions, s streams) error {
	boat, in, err := readBoat(o.boat)
	if err != nil {
		return err
	}
	if o.point {
		return speedsPoint(o, boat, s)
	}
	var dest *folder
	if o.out != "" {
		if dest, err = newFolder(o.out); err != nil {
			return err
		}
		defer dest.discard()
	}
	f, err := buildFleet(ctx, boat, o.cache, newProgress(s))
	if err != nil {
		return err
	}
	if dest != nil {
		if err := writeSpeeds(ctx, dest, boat, f.table, in); err != nil {
			return err
		}
	}
	return printSpeeds(o, boat, f.table, s)
}

// pointJSON is one operating point.
type pointJSON struct {
	TWSKn        float64            `json:"tws_kn"`
	TWADeg       float64            `json:"twa_deg"`
	HsM          float64            `json:"hs_m"`
	Extension    float64            `json:"extension"`
	RakeDeg      float64            `json:"rake_deg"`
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
	Version      string             `json:"version"`
}

// speedsPoint solves one operating point: the setting given, or the fastest.
func speedsPoint(o *speedsOptions, boat *vpp.Boat, s streams) error {
	m, err := vpp.NewModel(boat, vpp.NoFactors())
	if err != nil {
		return err
	}
	c := vpp.Condition{TWSMS: units.MS(o.tws), TWARad: units.Rad(o.twa), HsM: o.sea}
	candidates := boat.Settings()
	if o.extGiven {
		set := vpp.FoilSetting{Extension: o.ext, RakeRad: units.Rad(o.rake)}
		if boat.Foils == nil && o.ext > 0 {
			return usage("use --ext 0", "%s has no foils", boat.Name)
		}
		if o.ext > 0 && (set.RakeRad < boat.Foils.MinRakeRad-1e-9 || set.RakeRad > boat.Foils.MaxRakeRad+1e-9) {
			return usage("", "--rake %g: the boat's foils allow %g to %g degrees", o.rake, units.Deg(boat.Foils.MinRakeRad), units.Deg(boat.Foils.MaxRakeRad))
		}
		if o.ext == 0 {
			set.RakeRad = 0
		}
		candidates = []vpp.FoilSetting{set}
	}
	var best vpp.Point
	var at vpp.FoilSetting
	status := vpp.Unsolved
	for _, set := range candidates {
		p, st := m.Solve(c, set, vpp.FoilSetting{})
		if status == vpp.Unsolved || (st == vpp.Solved && (status != vpp.Solved || p.BSPMS > best.BSPMS)) {
			best, at, status = p, set, st
		}
	}
	if status == vpp.Unsolved || status == vpp.BadInput {
		return fmt.Errorf("no balance found at %g kn of wind, %g°, %g m of sea (%v)", o.tws, o.twa, o.sea, status)
	}
	above, _ := m.SolveAbove(c, at, vpp.FoilSetting{})
	j := pointJSON{
		TWSKn: o.tws, TWADeg: o.twa, HsM: o.sea, Extension: at.Extension, RakeDeg: units.Deg(at.RakeRad),
		BSPKn: units.Knots(best.BSPMS), BSPAboveKn: units.Knots(math.Max(above.BSPMS, best.BSPMS)),
		HeelDeg: units.Deg(best.HeelRad), LeewayDeg: units.Deg(best.LeewayRad), TrimDeg: units.Deg(best.TrimRad),
		HullLoad: best.HullLoad, RiseM: best.RiseM, FoilLiftT: units.TonnesForce(best.FoilLiftN), FoilLoadT: units.TonnesForce(best.FoilLoadN),
		Immersions: best.BowImmersionsPerHour, Sail: best.Sail, CantDeg: units.Deg(best.CantRad), BallastKg: best.BallastKg,
		Depower: best.Depower, RuledBy: best.RuledBy, Status: status.String(), Extrapolated: append([]string{}, best.Extrapolated...),
		ForcesN: best.Forces.Map(), Version: version(),
	}
	if o.json {
		return printJSON(s.out, j)
	}
	foil := "foils in"
	if at.Extension > 0 {
		foil = fmt.Sprintf("leeward foil out %.2f, rake %.1f°", at.Extension, j.RakeDeg)
	}
	fmt.Fprintf(s.out, "%.1f kn in %g kn of true wind at %g°, waves %g m, %s\n", j.BSPKn, o.tws, o.twa, o.sea, foil)
	if s.quiet {
		return nil
	}
	ruled := j.RuledBy
	if ruled == "" {
		ruled = "none"
	}
	fmt.Fprintln(s.out)
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
	table(s.out, []string{"<state", "value", "<unit"}, rows)
	fmt.Fprintf(s.out, "\nSails: %s; keel canted %.0f°, water ballast %.0f kg. Limit that ruled: %s.\n\n", j.Sail, j.CantDeg, j.BallastKg, ruled)
	rows = rows[:0]
	for i, n := range vpp.PartNames {
		if f := best.Forces[i]; f != 0 {
			rows = append(rows, []string{n, fmt.Sprintf("%.0f", f)})
		}
	}
	table(s.out, []string{"<force", "N"}, rows)
	for _, e := range j.Extrapolated {
		fmt.Fprintf(s.out, "outside its published range: %s\n", e)
	}
	return nil
}

// printSpeeds prints the table of speeds with foils in and at the best setting.
func printSpeeds(o *speedsOptions, boat *vpp.Boat, t *vpp.Table, s streams) error {
	type row struct {
		TWSKn     float64 `json:"tws_kn"`
		TWADeg    float64 `json:"twa_deg"`
		HsM       float64 `json:"hs_m"`
		InKn      float64 `json:"bsp_in_kn"`
		BestKn    float64 `json:"bsp_best_kn"`
		Extension float64 `json:"extension"`
		RakeDeg   float64 `json:"rake_deg"`
	}
	var rows []row
	for _, kn := range []float64{6, 10, 14, 18, 22, 28} {
		for _, deg := range []float64{50, 75, 100, 120, 140, 160} {
			hs := typicalSea(units.MS(kn))
			c := vpp.Condition{TWSMS: units.MS(kn), TWARad: units.Rad(deg), HsM: hs}
			in, _ := t.Speed(0, 0, c)
			r := row{TWSKn: kn, TWADeg: deg, HsM: hs, InKn: units.Knots(in)}
			r.BestKn = r.InKn
			for l, set := range t.Settings() {
				if v, ok := t.Speed(l, 0, c); ok && units.Knots(v) > r.BestKn {
					r.BestKn, r.Extension, r.RakeDeg = units.Knots(v), set.Extension, units.Deg(set.RakeRad)
				}
			}
			rows = append(rows, r)
		}
	}
	if o.json {
		return printJSON(s.out, struct {
			Boat    string `json:"boat"`
			Speeds  []row  `json:"speeds"`
			Version string `json:"version"`
		}{boat.Name, rows, version()})
	}
	fmt.Fprintf(s.out, "%s: boat speed with foils in and at the best setting of the leeward foil,\nin the sea that such a wind raises over some hours\n\n", boat.Name)
	var cells [][]string
	for _, r := range rows {
		best := "in"
		if r.Extension > 0 {
			best = fmt.Sprintf("out %.2f, rake %.0f°", r.Extension, r.RakeDeg)
		}
		cells = append(cells, []string{fmt.Sprintf("%.0f", r.TWSKn), fmt.Sprintf("%.0f", r.TWADeg), fmt.Sprintf("%.1f", r.HsM),
			fmt.Sprintf("%.1f", r.InKn), fmt.Sprintf("%.1f", r.BestKn), fmt.Sprintf("%+.1f", r.BestKn-r.InKn), best})
	}
	table(s.out, []string{"wind kn", "angle °", "sea m", "in kn", "best kn", "gain kn", "<best setting"}, cells)
	if o.out != "" {
		fmt.Fprintf(s.out, "\nWritten to %s: open speeds.html first.\n", o.out)
	}
	return nil
}

// writeSpeeds writes the long table, charts and page.
func writeSpeeds(ctx context.Context, dest *folder, boat *vpp.Boat, t *vpp.Table, in input) error {
	if err := dest.write("speeds.csv", func(w io.Writer) error { return writeSpeedsCSV(w, t) }); err != nil {
		return err
	}
	m, err := vpp.NewModel(boat, vpp.NoFactors())
	if err != nil {
		return err
	}
	r := speedsReport(boat, m, t, in)
	if err := dest.write("speeds.html", func(w io.Writer) error { return plots.WriteSpeedsPage(w, r) }); err != nil {
		return err
	}
	var charts []plots.Chart
	add := func(c plots.Chart, err error) error {
		if err == nil {
			charts = append(charts, c)
		}
		return err
	}
	err = add(plots.PolarChart(r.Polars))
	if r.Gain != nil {
		err = errors.Join(err, add(plots.GainMapChart(r.Gain)), add(plots.SettingChart(r.Best)))
	}
	if err != nil {
		return err
	}
	if err := dest.writeCharts(charts); err != nil {
		return err
	}
	return dest.commit(ctx)
}

// writeSpeedsCSV writes one row per foil state and condition of the table.
func writeSpeedsCSV(w io.Writer, t *vpp.Table) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"extension", "rake_deg", "windward_extension", "tws_kn", "twa_deg", "hs_m", "bsp_kn", "bsp_above_kn", "heel_deg", "leeway_deg", "trim_deg",
		"hull_load", "foil_lift_t", "foil_load_t", "bow_immersions_per_hour", "depower", "sail", "ruled_by", "allowed"}); err != nil {
		return err
	}
	f := func(x float64, d int) string { return strconv.FormatFloat(x, 'f', d, 64) }
	g := t.Grid()
	for l, set := range t.Settings() {
		for wi, ext := range t.Extensions() {
			for _, tws := range g.TWSMS {
				for _, twa := range g.TWARad {
					for _, hs := range g.HsM {
						p := t.At(l, wi, vpp.Condition{TWSMS: tws, TWARad: twa, HsM: hs})
						if err := c.Write([]string{f(set.Extension, 2), f(units.Deg(set.RakeRad), 2), f(ext, 2), f(units.Knots(tws), 1), f(units.Deg(twa), 1), f(hs, 2),
							f(units.Knots(p.BSPMS), 3), f(units.Knots(p.BSPAboveMS), 3), f(units.Deg(p.HeelRad), 2), f(units.Deg(p.LeewayRad), 2), f(units.Deg(p.TrimRad), 3),
							f(p.HullLoad, 4), f(units.TonnesForce(p.FoilLiftN), 3), f(units.TonnesForce(p.FoilLoadN), 3), f(p.BowImmersionsPerHour, 1), f(p.Depower, 3),
							p.Sail, p.RuledBy, strconv.FormatBool(p.OK)}); err != nil {
							return err
						}
					}
				}
			}
		}
	}
	c.Flush()
	return c.Error()
}

// speedsReport is what the page and the charts show: flat water for the charts,
// the whole table for the page's controls.
func speedsReport(boat *vpp.Boat, m *vpp.Model, t *vpp.Table, in input) *plots.SpeedsReport {
	solver := m.NewSolver()
	h := &boat.Hull
	r := &plots.SpeedsReport{
		Title: "Speeds of " + boat.Name, Boat: boat.Name, Version: version(),
		Headline: "Move the wind, the sea and the foil, and see what the boat does beside the same boat with foils in.",
		Shape: plots.BoatShape{
			LengthM: h.BowXM + h.CGFromTransomM, BeamM: 1.5 * h.BeamWaterlineM, FreeboardM: boat.Rig.DeckHeightM, DraftCanoeM: h.DraftM,
			DeadriseDeg: units.Deg(h.DeadriseRad), KeelArmM: boat.Keel.ArmM, KeelCantDeg: units.Deg(boat.Keel.MaxCantRad), CentreOfGravityFromTransomM: h.CGFromTransomM,
		},
		Assumptions: []string{"The windward foil is in.", "The waves run with the wind.", "The speed is the one reached by accelerating from low speed."},
		Inputs:      []plots.Input{{File: in.File, SHA256: in.SHA256}},
	}
	if f := boat.Foils; f != nil {
		r.Shape.FoilRootOutM, r.Shape.FoilRootUpM, r.Shape.FoilRootForwardM = f.RootYM, f.RootZM, f.RootXM
		r.Shape.FoilSpanM, r.Shape.FoilChordM, r.Shape.FoilDihedralDeg = f.SpanM, f.ChordM(), units.Deg(f.DihedralRad)
	}
	for _, s := range t.Settings() {
		r.Settings = append(r.Settings, plots.FoilSetting{Extension: s.Extension, RakeDeg: units.Deg(s.RakeRad)})
	}
	for kn := 4.0; kn <= 36; kn += 2 {
		r.TWSKn = append(r.TWSKn, kn)
	}
	for deg := 40.0; deg <= 180; deg += 10 {
		r.TWADeg = append(r.TWADeg, deg)
	}
	r.HsM = []float64{0, 1.5, 3.5}
	for l := range r.Settings {
		for _, kn := range r.TWSKn {
			for _, deg := range r.TWADeg {
				for _, hs := range r.HsM {
					p, st := solver.Solve(vpp.Condition{TWSMS: units.MS(kn), TWARad: units.Rad(deg), HsM: hs}, t.Settings()[l], vpp.FoilSetting{})
					r.Cells = append(r.Cells, plots.SpeedCell{OK: st == vpp.Solved, BSPKn: units.Knots(p.BSPMS), HeelDeg: units.Deg(p.HeelRad), TrimDeg: units.Deg(p.TrimRad),
						LeewayDeg: units.Deg(p.LeewayRad), RiseM: p.RiseM, HullLoad: p.HullLoad, FoilLiftT: units.TonnesForce(p.FoilLiftN),
						BowImmersionsPerHour: p.BowImmersionsPerHour, RuledBy: p.RuledBy})
				}
			}
		}
	}
	r.Polars = polarData(t)
	if len(r.Settings) > 1 {
		r.Gain = &plots.GainMap{Title: "Speed gained over foils in, flat water", Quantity: "speed gained over foils in (kn)"}
		r.Best = &plots.SettingMap{Title: "Fastest extension and rake, flat water"}
		for kn := 4.0; kn <= 36; kn += 2 {
			r.Gain.TWSKn = append(r.Gain.TWSKn, kn)
		}
		for deg := 40.0; deg <= 175; deg += 7.5 {
			r.Gain.TWADeg = append(r.Gain.TWADeg, deg)
		}
		r.Best.TWSKn, r.Best.TWADeg = r.Gain.TWSKn, r.Gain.TWADeg
		for _, kn := range r.Gain.TWSKn {
			var gain, ext, rake []float64
			for _, deg := range r.Gain.TWADeg {
				c := vpp.Condition{TWSMS: units.MS(kn), TWARad: units.Rad(deg)}
				v0, _ := t.Speed(0, 0, c)
				best, at := math.NaN(), 0
				for l := 1; l < len(t.Settings()); l++ {
					if v, ok := t.Speed(l, 0, c); ok && !(v <= best) {
						best, at = v, l
					}
				}
				set := t.Settings()[at]
				if best < v0 {
					set = vpp.FoilSetting{}
				}
				gain = append(gain, units.Knots(best-v0))
				ext = append(ext, set.Extension)
				rake = append(rake, units.Deg(set.RakeRad))
			}
			r.Gain.Value = append(r.Gain.Value, gain)
			r.Best.Extension = append(r.Best.Extension, ext)
			r.Best.RakeDeg = append(r.Best.RakeDeg, rake)
		}
	}
	return r
}
