package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"github.com/paulmach/orb"

	"foilledger/plots"
	"foilledger/route"
	"foilledger/strategy"
	"foilledger/vpp/units"
)

// The files of one passage.
const (
	pageName = "passage.html"
	jsonName = "passage.json"
	logName  = "log.csv"
	gpxName  = "track.gpx"
	evenName = "breakeven.csv"
)

var outputFiles = []string{pageName, jsonName, logName, gpxName, evenName}

// writeResult fills the output folder and puts it in place.
func writeResult(ctx context.Context, dest *folder, q *question, res *result) error {
	rep := res.report(q)
	if err := dest.write(pageName, func(w io.Writer) error { return plots.WritePassagePage(w, rep) }); err != nil {
		return err
	}
	charts, err := plots.PassageCharts(rep)
	if err != nil {
		return err
	}
	polar, err := plots.PolarChart(polarData(res.problem.Performer()))
	if err != nil {
		return err
	}
	charts = append(charts, polar)
	first := len(dest.names)
	if err := dest.writeCharts(charts); err != nil {
		return err
	}
	names := dest.names[first:]
	if err := dest.write(jsonName, func(w io.Writer) error {
		j := res.json(q)
		j.Files = append(append([]string{}, outputFiles...), names...)
		return printJSON(w, j)
	}); err != nil {
		return err
	}
	if err := dest.write(logName, func(w io.Writer) error { return writeLog(w, res) }); err != nil {
		return err
	}
	if err := dest.write(gpxName, func(w io.Writer) error { return writeGPX(w, q, res) }); err != nil {
		return err
	}
	if err := dest.write(evenName, func(w io.Writer) error { return writeBreakEvens(w, res) }); err != nil {
		return err
	}
	return dest.commit(ctx)
}

// report turns the result into what the charts and the page show.
func (res *result) report(q *question) *plots.PassageReport {
	v := res.voyage
	title := q.options.title
	if title == "" {
		title = fmt.Sprintf("Passage from %s to %s", route.FormatLatLon(q.track.Points()[0]), route.FormatLatLon(q.track.Points()[len(q.track.Points())-1]))
	}
	rep := &plots.PassageReport{
		Title: title, Boat: q.boat.Name, Headline: res.headline(),
		Departure: timeAt(res.source, v.DepartS), Arrival: timeAt(res.source, v.ArriveS),
		DistanceNM: v.TotalM / units.MPerNM, PassageTimeH: v.TimeS() / units.SPerHour,
		BoundGapMin: res.boundGapS() / 60, Warnings: res.warnings, Assumptions: res.assume,
		Version: version(), Steps: res.steps(res.log),
	}
	if q.options.zone != "" {
		rep.LocalZone, _ = loadZone(q.options.zone) // was checked with the options
	}
	for _, b := range res.bases {
		rep.Baselines = append(rep.Baselines, plots.Baseline{Name: b.name, PassageTimeH: b.voyage.TimeS() / units.SPerHour,
			TimeGainedMin: (b.voyage.TimeS() - v.TimeS()) / 60, Steps: res.steps(b.log)})
	}
	for _, i := range res.ledger.Items {
		rep.Ledger = append(rep.Ledger, plots.LedgerRow{Cause: i.Cause, Minutes: i.GainS / 60})
	}
	m := 0.0
	rep.Running = append(rep.Running, plots.RunningPoint{Time: rep.Departure})
	for k, g := range res.ledger.Running {
		m = res.problem.StageEndM(k)
		rep.Running = append(rep.Running, plots.RunningPoint{Time: timeAt(res.source, v.Stages[k].ArriveS), DistanceNM: m / units.MPerNM, GainedMin: g / 60})
	}
	for i := range res.log.Changes {
		c := &res.log.Changes[i]
		for _, p := range c.Price.Parts() {
			a := res.actionJSON(c, p, res.reasons[i])
			rep.Actions = append(rep.Actions, plots.Action{Time: timeAt(res.source, c.TimeS), LatDeg: a.LatDeg, LonDeg: a.LonDeg,
				DistanceNM: a.DistanceNM, Side: a.Side, Action: a.Action, From: a.From, To: a.To, LostS: a.LostS, EffortKJ: a.EffortKJ,
				BSPBeforeKn: a.BSPKn, CeilingKn: a.CeilingKn, Reason: a.Reason})
		}
	}
	names := res.problem.States()
	for _, e := range res.evens {
		row := plots.BreakEvenRow{Action: "deploy leeward foil", From: names.Describe(e.From), To: names.Describe(e.To),
			TWSKn: units.Knots(e.TWSMS), TWADeg: units.Deg(e.TWARad), HsM: e.HsM, LostS: e.Price.LostS, EffortKJ: e.Price.EffortJ / 1000,
			OldBSPKn: units.Knots(e.OldMS), NewBSPKn: units.Knots(e.NewMS), Refused: e.Refused}
		if !math.IsInf(e.TimeS, 1) {
			row.Pays, row.BreakEvenMin = true, e.TimeS/60
		}
		rep.BreakEven = append(rep.BreakEven, row)
	}
	for _, in := range q.inputs {
		rep.Inputs = append(rep.Inputs, plots.Input{File: in.File, SHA256: in.SHA256})
	}
	rep.Wind = windGrid(res, rep)
	return rep
}

// steps turns a log into the rows of the charts.
func (res *result) steps(lg *strategy.Log) []plots.Step {
	var out []plots.Step
	names := res.problem.States()
	for i := range lg.Entries {
		e := &lg.Entries[i]
		st := lg.Steady(e)
		port, stbd := names.Setting(e.State.Port), names.Setting(e.State.Starboard)
		s := plots.Step{
			Time: timeAt(res.source, e.StartS), LatDeg: e.Place[1], LonDeg: e.Place[0], DistanceNM: e.StartM / units.MPerNM,
			BSPKn: units.Knots(e.Pace.BSPMS), SOGKn: units.Knots(e.LengthM / (e.EndS - e.StartS)),
			TWSKn: units.Knots(e.Pace.TWSMS), TWADeg: units.Deg(e.Pace.TWARad), WindFromDeg: units.Deg(e.Sample.WindFromRad()),
			HsM: e.Sample.HsM, WaveFromDeg: units.Deg(e.Sample.WaveFromRad), HeadingDeg: units.Deg(units.Wrap2Pi(e.CourseRad)),
			Board: boardName(e.Pace.Starboard >= 0.5), PortExt: port.Extension, StbdExt: stbd.Extension,
			PortRakeDeg: units.Deg(port.RakeRad), StbdRakeDeg: units.Deg(stbd.RakeRad),
			HeelDeg: units.Deg(st.HeelRad), TrimDeg: units.Deg(st.TrimRad), HullLoad: st.HullLoad, FoilLiftT: units.TonnesForce(st.FoilLiftN),
			BowImmersionsPerHour: st.BowImmersionsPerHour, Sail: st.Sail, RuledBy: st.RuledBy, Doing: doing(e),
			GustKn:    units.Knots(e.Sample.GustMS),
			CurrentKn: units.Knots(math.Hypot(e.Sample.CurrentU, e.Sample.CurrentV)),
		}
		if e.Changing {
			s.BSPKn = units.Knots(e.LengthM / (e.EndS - e.StartS))
		}
		if s.CurrentKn > 0 {
			s.CurrentToDeg = units.Deg(units.Wrap2Pi(math.Atan2(e.Sample.CurrentU, e.Sample.CurrentV)))
		}
		s.OutsideModel = st.Clamped
		out = append(out, s)
	}
	// The last moment: arrival.
	if n := len(out); n > 0 {
		e := &lg.Entries[n-1]
		last := out[n-1]
		last.Time = timeAt(res.source, e.EndS)
		p, _ := lg.End()
		last.LonDeg, last.LatDeg = p[0], p[1]
		last.DistanceNM = (e.StartM + e.LengthM) / units.MPerNM
		last.Doing = "arrived"
		out = append(out, last)
	}
	return out
}

func boardName(starboard bool) string {
	if starboard {
		return "starboard"
	}
	return "port"
}

func doing(e *strategy.Entry) string {
	switch {
	case e.Changing:
		return "changing foils"
	case e.Pace.Held:
		return "stopped by a limit"
	case e.LengthM == 0:
		return "becalmed"
	case e.Pace.Zigzag && e.Pace.Upwind():
		return "beating"
	case e.Pace.Zigzag:
		return "gybing downwind"
	}
	return "sailing"
}

// windGrid samples the wind for the map's barbs.
func windGrid(res *result, rep *plots.PassageReport) *plots.WindGrid {
	lo, hi := orb.Point{math.Inf(1), math.Inf(1)}, orb.Point{math.Inf(-1), math.Inf(-1)}
	base := rep.Steps[0].LonDeg
	for _, s := range rep.Steps {
		lon := base + units.Wrap180(s.LonDeg-base)
		lo = orb.Point{math.Min(lo[0], lon), math.Min(lo[1], s.LatDeg)}
		hi = orb.Point{math.Max(hi[0], lon), math.Max(hi[1], s.LatDeg)}
	}
	const nx, ny = 12, 8
	padX, padY := 0.08*(hi[0]-lo[0])+1, 0.15*(hi[1]-lo[1])+1
	g := &plots.WindGrid{}
	for i := range nx {
		g.LonDeg = append(g.LonDeg, lo[0]-padX+(hi[0]-lo[0]+2*padX)*float64(i)/(nx-1))
	}
	for j := range ny {
		lat := lo[1] - padY + (hi[1]-lo[1]+2*padY)*float64(j)/(ny-1)
		if lat > -89 && lat < 89 {
			g.LatDeg = append(g.LatDeg, lat)
		}
	}
	step := 6 * time.Hour
	end := rep.Arrival
	for t := rep.Departure; ; t = t.Add(step) {
		if t.After(end) {
			break
		}
		g.Times = append(g.Times, t)
		u := make([]float64, len(g.LatDeg)*len(g.LonDeg))
		v := make([]float64, len(u))
		tS := t.Sub(res.source.Reference()).Seconds()
		for j, lat := range g.LatDeg {
			for i, lon := range g.LonDeg {
				k := j*len(g.LonDeg) + i
				s, err := res.source.At(units.Wrap180(lon), lat, tS)
				if err != nil { // outside the forecast or on land: no barb there
					u[k], v[k] = math.NaN(), math.NaN()
					continue
				}
				u[k], v[k] = units.Knots(s.U), units.Knots(s.V)
			}
		}
		g.UKn = append(g.UKn, u)
		g.VKn = append(g.VKn, v)
	}
	return g
}

// writeLog writes one row per step.
func writeLog(w io.Writer, res *result) error {
	c := csv.NewWriter(w)
	head := []string{"time_utc", "lat_deg", "lon_deg", "distance_nm", "doing", "bsp_kn", "sog_kn", "tws_kn", "twa_deg", "wind_from_deg", "hs_m",
		"board", "port_extension", "port_rake_deg", "starboard_extension", "starboard_rake_deg", "heel_deg", "trim_deg", "hull_load",
		"foil_lift_t", "bow_immersions_per_hour", "sail", "ruled_by", "time_gained_min"}
	if err := c.Write(head); err != nil {
		return err
	}
	first := &res.bases[0]
	f := func(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
	for _, s := range res.steps(res.log) {
		m := s.DistanceNM * units.MPerNM
		gained := (first.timeAt(m) - s.Time.Sub(res.source.Reference()).Seconds()) / 60
		row := []string{s.Time.Format(time.RFC3339), f(s.LatDeg, 5), f(s.LonDeg, 5), f(s.DistanceNM, 2), s.Doing, f(s.BSPKn, 2), f(s.SOGKn, 2),
			f(s.TWSKn, 1), f(s.TWADeg, 1), f(s.WindFromDeg, 0), f(s.HsM, 2), s.Board, f(s.PortExt, 2), f(s.PortRakeDeg, 1), f(s.StbdExt, 2), f(s.StbdRakeDeg, 1),
			f(s.HeelDeg, 1), f(s.TrimDeg, 2), f(s.HullLoad, 3), f(s.FoilLiftT, 2), f(s.BowImmersionsPerHour, 0), s.Sail, s.RuledBy, f(gained, 2)}
		if err := c.Write(row); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// writeGPX writes the track as sailed with the actions as named waypoints.
func writeGPX(w io.Writer, q *question, res *result) error {
	g := route.GPX{Name: "foilledger passage", Desc: caution, Time: timeAt(res.source, res.voyage.DepartS)}
	tr := route.NamedPath{Name: "track with foils"}
	for _, s := range res.steps(res.log) {
		tr.Points = append(tr.Points, route.Waypoint{Point: orb.Point{s.LonDeg, s.LatDeg}, Time: s.Time})
	}
	g.Tracks = append(g.Tracks, tr)
	n := 0
	for i := range res.log.Changes {
		c := &res.log.Changes[i]
		for _, p := range c.Price.Parts() {
			n++
			a := res.actionJSON(c, p, res.reasons[i])
			g.Waypoints = append(g.Waypoints, route.Waypoint{Point: c.Place, Time: timeAt(res.source, c.TimeS),
				Name: fmt.Sprintf("%d %s %s foil", n, a.Action, a.Side),
				Desc: fmt.Sprintf("%s to %s; %.0f kn of wind at %.0f°; %s", a.From, a.To, a.TWSKn, a.TWADeg, a.Reason)})
		}
	}
	rt := route.NamedPath{Name: "waypoints"}
	for i, p := range q.track.Points() {
		rt.Points = append(rt.Points, route.Waypoint{Point: p, Name: fmt.Sprintf("WP%02d", i+1)})
	}
	g.Routes = append(g.Routes, rt)
	return route.WriteGPX(w, g)
}

// writeBreakEvens writes the break-even table.
func writeBreakEvens(w io.Writer, res *result) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"tws_kn", "twa_deg", "hs_m", "action", "from", "to", "old_bsp_kn", "new_bsp_kn", "lost_s", "effort_kj", "break_even_min", "refused"}); err != nil {
		return err
	}
	names := res.problem.States()
	f := func(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
	for _, e := range res.evens {
		even := ""
		if !math.IsInf(e.TimeS, 1) {
			even = f(e.TimeS/60, 1)
		}
		if err := c.Write([]string{f(units.Knots(e.TWSMS), 0), f(units.Deg(e.TWARad), 0), f(e.HsM, 1), "deploy leeward foil", names.Describe(e.From), names.Describe(e.To),
			f(units.Knots(e.OldMS), 2), f(units.Knots(e.NewMS), 2), f(e.Price.LostS, 0), f(e.Price.EffortJ/1000, 1), even, strconv.FormatBool(e.Refused)}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
