package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"foilledger/plots"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// speedRow is one row of the short table.
type speedRow struct {
	TWSKn        float64  `json:"tws_kn"`
	TWADeg       float64  `json:"twa_deg"`
	HsM          float64  `json:"hs_m"`
	InKn         float64  `json:"bsp_in_kn"`
	InRuledBy    string   `json:"in_ruled_by"`
	BestKn       float64  `json:"bsp_best_kn"`
	BestAboveKn  float64  `json:"bsp_best_above_kn"`
	Extension    float64  `json:"extension"`
	RakeDeg      float64  `json:"rake_deg"`
	RuledBy      string   `json:"ruled_by"`
	Extrapolated []string `json:"extrapolated"`
}

// flightRow is take-off and touch-down of one foil state, by angle.
type flightRow struct {
	Extension float64 `json:"extension"`
	RakeDeg   float64 `json:"rake_deg"`
	TWADeg    float64 `json:"twa_deg"`
	HsM       float64 `json:"hs_m"`
	flightJSON
}

// leanRow says how much of the table stands outside the range of one term.
type leanRow struct {
	Term       string  `json:"term"`
	Range      string  `json:"range"`
	Outside    string  `json:"outside"`
	Source     string  `json:"source"`
	InPercent  float64 `json:"foils_in_percent"`
	OutPercent float64 `json:"foils_out_percent"`
}

var (
	shortTWS    = []float64{6, 10, 14, 18, 22, 28}
	shortTWA    = []float64{50, 75, 100, 120, 140, 160}
	flightTWA   = []float64{80, 100, 120, 140}
	flightHsM   = 1.0
	speedsFile  = "speeds.csv"
	speedsPage  = "speeds.html"
	typicalWord = "as such a wind raises it over some hours"
)

// fastest is the leeward setting that sails fastest; foils in unless another
// gains 0.1 kn.
func fastest(t *vpp.Table, c vpp.Condition) (l int, bspMS float64) {
	in, _ := t.Speed(0, 0, c)
	bspMS = in
	for i := 1; i < len(t.Settings()); i++ {
		if v, ok := t.Speed(i, 0, c); ok && v > max(bspMS, in+worthMS) {
			l, bspMS = i, v
		}
	}
	return l, bspMS
}

func speedRows(t *vpp.Table) []speedRow {
	var rows []speedRow
	for _, kn := range shortTWS {
		for _, deg := range shortTWA {
			hs := typicalSea(units.MS(kn))
			c := vpp.Condition{TWSMS: units.MS(kn), TWARad: units.Rad(deg), HsM: hs}
			in := t.At(0, 0, c)
			l, v := fastest(t, c)
			at, set := t.At(l, 0, c), t.Settings()[l]
			rows = append(rows, speedRow{TWSKn: kn, TWADeg: deg, HsM: hs, InKn: units.Knots(in.BSPMS), InRuledBy: in.RuledBy, BestKn: units.Knots(v),
				BestAboveKn: units.Knots(at.BSPAboveMS), Extension: set.Extension, RakeDeg: tidy(units.Deg(set.RakeRad)), RuledBy: at.RuledBy,
				Extrapolated: append([]string{}, at.Lean.Names()...)})
		}
	}
	return rows
}

func flightRows(t *vpp.Table) []flightRow {
	var rows []flightRow
	for l, set := range t.Settings() {
		if l == 0 {
			continue
		}
		for _, deg := range flightTWA {
			f := t.Flight(l, 0, vpp.Condition{TWARad: units.Rad(deg), HsM: flightHsM})
			rows = append(rows, flightRow{set.Extension, tidy(units.Deg(set.RakeRad)), deg, flightHsM, *newFlightJSON(f)})
		}
	}
	return rows
}

func leanRows(t *vpp.Table) []leanRow {
	terms := vpp.Terms()
	var points [2]int
	count := make([][2]int, len(terms))
	g := t.Grid()
	for l := range t.Settings() {
		side := min(l, 1)
		for _, hs := range g.HsM {
			for _, tws := range g.TWSMS {
				for _, twa := range g.TWARad {
					p := t.At(l, 0, vpp.Condition{TWSMS: tws, TWARad: twa, HsM: hs})
					if !p.OK || p.BSPMS == 0 {
						continue
					}
					points[side]++
					for i := range terms {
						if p.Lean.Has(i) {
							count[i][side]++
						}
					}
				}
			}
		}
	}
	share := func(n, of int) float64 {
		if of == 0 {
			return 0
		}
		return 100 * float64(n) / float64(of)
	}
	var rows []leanRow
	for i, term := range terms {
		if count[i][0]+count[i][1] == 0 {
			continue
		}
		rows = append(rows, leanRow{term.Name, term.Range, term.Outside, term.Source, share(count[i][0], points[0]), share(count[i][1], points[1])})
	}
	return rows
}

// printSpeeds prints the table of speeds with foils in and at the best setting.
func printSpeeds(o *speedsOptions, boat *vpp.Boat, in input, t *vpp.Table, s streams) error {
	rows, flights, leans := speedRows(t), flightRows(t), leanRows(t)
	if o.json {
		var sails []string
		for _, x := range boat.Rig.SailSets {
			sails = append(sails, x.Name)
		}
		return printJSON(s.out, struct {
			Boat      string      `json:"boat"`
			Sails     []string    `json:"sail_sets"`
			Speeds    []speedRow  `json:"speeds"`
			Flights   []flightRow `json:"flights,omitempty"`
			Extrapol  []leanRow   `json:"extrapolated"`
			Unsolved  int         `json:"unsolved_points"`
			OutFolder string      `json:"out,omitempty"`
			Warnings  []string    `json:"warnings"`
			Inputs    []input     `json:"inputs"`
			Version   string      `json:"version"`
		}{boat.Name, sails, rows, flights, leans, t.Failed(), o.out, tableWarnings(t), []input{in}, version()})
	}
	w := s.out
	fmt.Fprintf(w, "%s\n\n", wrap(boat.Name+": boat speed with foils in and at the best setting of the leeward foil, in the sea that such a wind raises over some hours", 80, ""))
	var cells [][]string
	for _, r := range rows {
		best := "in"
		if r.Extension > 0 {
			best = fmt.Sprintf("%.2f, %.0f°", r.Extension, r.RakeDeg)
		}
		cells = append(cells, []string{fmt.Sprintf("%.0f", r.TWSKn), fmt.Sprintf("%.0f", r.TWADeg), fmt.Sprintf("%.1f", r.HsM),
			fmt.Sprintf("%.1f", r.InKn), fmt.Sprintf("%.1f", r.BestKn), fmt.Sprintf("%+.1f", r.BestKn-r.InKn), best, r.RuledBy})
	}
	table(w, []string{"wind kn", "angle °", "sea m", "in kn", "best kn", "gain kn", "<out, rake", "<ruled by"}, cells)
	if s.quiet {
		return nil
	}
	if len(flights) > 0 && o.details {
		printFlights(w, flights)
	} else if len(flights) > 0 {
		fmt.Fprintf(w, "\n%s\n", wrap(bestFlightWords(flights), 80, ""))
	}
	printLeans(w, leans, o.details)
	for _, x := range tableWarnings(t) {
		fmt.Fprintf(w, "\n%s\n", wrap("warning: "+x, 80, "  "))
	}
	if o.out != "" {
		fmt.Fprintf(w, "\nWritten to %s: open %s first.\n", o.out, speedsPage)
	} else if !o.details {
		fmt.Fprintf(w, "\nMore: --details; charts and a page to play with: --out FOLDER.\n")
	}
	return nil
}

// tableWarnings say what is to be minded about the table.
func tableWarnings(t *vpp.Table) []string {
	if t.Failed() == 0 {
		return []string{}
	}
	return []string{fmt.Sprintf("%d points were not solved and took their neighbour's values", t.Failed())}
}

// bestFlightWords names the least wind in which any setting flies, by angle.
func bestFlightWords(rows []flightRow) string {
	var parts []string
	for _, deg := range flightTWA {
		var best *flightRow
		for i := range rows {
			r := &rows[i]
			if r.TWADeg == deg && r.TakeOffTWSKn != nil && (best == nil || *r.TakeOffTWSKn < *best.TakeOffTWSKn) {
				best = r
			}
		}
		if best != nil {
			parts = append(parts, fmt.Sprintf("%.1f kn at %.0f°", *best.TakeOffTWSKn, deg))
		}
	}
	if len(parts) == 0 {
		return fmt.Sprintf("In waves of %g m the foils carry half of the weight in no wind that the limits allow.", flightHsM)
	}
	return fmt.Sprintf("Least true wind in which the foils carry half of the weight, waves %g m, most rake: %s.", flightHsM, strings.Join(parts, ", "))
}

func printFlights(w io.Writer, rows []flightRow) {
	fmt.Fprintf(w, "\nTrue wind (kn) of take-off / touch-down, waves %g m, by true wind angle\n\n", flightHsM)
	head := []string{"<out, rake"}
	for _, d := range flightTWA {
		head = append(head, fmt.Sprintf("%.0f°", d))
	}
	var cells [][]string
	for i := 0; i < len(rows); i += len(flightTWA) {
		line := []string{fmt.Sprintf("%.2f, %.0f°", rows[i].Extension, rows[i].RakeDeg)}
		for _, r := range rows[i : i+len(flightTWA)] {
			line = append(line, flightCell(r.flightJSON))
		}
		cells = append(cells, line)
	}
	table(w, head, cells)
}

func flightCell(f flightJSON) string {
	kn := func(v *float64) string {
		if v == nil {
			return "–"
		}
		return fmt.Sprintf("%.1f", *v)
	}
	if f.TakeOffTWSKn == nil && f.TouchDownTWSKn == nil {
		return "–"
	}
	return kn(f.TakeOffTWSKn) + " / " + kn(f.TouchDownTWSKn)
}

func printLeans(w io.Writer, rows []leanRow, details bool) {
	if len(rows) == 0 {
		return
	}
	fmt.Fprintf(w, "\nShare of the table's points that lean on a term outside its published range\n(which ones: column leans_on of %s)\n\n", speedsFile)
	var cells [][]string
	for _, r := range rows {
		cells = append(cells, []string{r.Term, fmt.Sprintf("%.0f", r.InPercent), fmt.Sprintf("%.0f", r.OutPercent)})
	}
	table(w, []string{"<term", "foils in %", "foils out %"}, cells)
	if !details {
		return
	}
	fmt.Fprintln(w)
	for _, r := range rows {
		fmt.Fprintln(w, wrap(fmt.Sprintf("%s: good for %s; outside, %s. Source: %s.", r.Term, r.Range, r.Outside, r.Source), 80, ""))
	}
}

// writeSpeeds writes the long table, charts and page.
func writeSpeeds(ctx context.Context, dest *folder, boat *vpp.Boat, m *vpp.Model, t *vpp.Table, in input, pr *progress) error {
	defer pr.start("tables, charts and page")()
	if err := dest.write(speedsFile, func(w io.Writer) error { return writeSpeedsCSV(ctx, w, t) }); err != nil {
		return err
	}
	r, err := speedsReport(ctx, boat, m, t, in)
	if err != nil {
		return err
	}
	if err := dest.write(speedsPage, func(w io.Writer) error { return plots.WriteSpeedsPage(w, r) }); err != nil {
		return err
	}
	if err := dest.writeCharts(r.Charts); err != nil {
		return err
	}
	return dest.commit(ctx)
}

// writeSpeedsCSV writes one row per foil state and condition of the table.
func writeSpeedsCSV(ctx context.Context, w io.Writer, t *vpp.Table) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"extension", "rake_deg", "windward_extension", "tws_kn", "twa_deg", "hs_m", "bsp_kn", "bsp_above_kn", "heel_deg", "leeway_deg", "trim_deg",
		"hull_load", "rise_m", "foil_lift_t", "foil_load_t", "bow_immersions_per_hour", "depower", "sail", "ruled_by", "allowed", "leans_on"}); err != nil {
		return err
	}
	f := func(x float64, d int) string { return strconv.FormatFloat(x, 'f', d, 64) }
	g := t.Grid()
	for l, set := range t.Settings() {
		for wi, ext := range t.Extensions() {
			if err := ctx.Err(); err != nil {
				return err
			}
			for _, tws := range g.TWSMS {
				for _, twa := range g.TWARad {
					for _, hs := range g.HsM {
						p := t.At(l, wi, vpp.Condition{TWSMS: tws, TWARad: twa, HsM: hs})
						if err := c.Write([]string{f(set.Extension, 2), f(units.Deg(set.RakeRad), 2), f(ext, 2), f(units.Knots(tws), 1), f(units.Deg(twa), 1), f(hs, 2),
							f(units.Knots(p.BSPMS), 3), f(units.Knots(p.BSPAboveMS), 3), f(units.Deg(p.HeelRad), 2), f(units.Deg(p.LeewayRad), 2), f(units.Deg(p.TrimRad), 3),
							f(p.HullLoad, 4), f(p.RiseM, 3), f(units.TonnesForce(p.FoilLiftN), 3), f(units.TonnesForce(p.FoilLoadN), 3), f(p.BowImmersionsPerHour, 1), f(p.Depower, 3),
							p.Sail, p.RuledBy, strconv.FormatBool(p.OK), strings.Join(p.Lean.Names(), "; ")}); err != nil {
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
