package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
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
	handName = "byhand.csv" // the log of a schedule given by hand
)

// outputFiles lists the files of a result beside its charts.
func outputFiles(res *result) []string {
	out := []string{pageName, jsonName, logName, gpxName, scheduleName, evenName}
	if res.hand != nil {
		out = append(out, handName)
	}
	return out
}

// writeResult fills the output folder and puts it in place.
func writeResult(ctx context.Context, dest *folder, q *question, res *result) error {
	summary := func(files []string) any {
		j := res.json(q)
		j.Files = files
		return j
	}
	if err := fillResult(dest, q, res, res.report(q), summary); err != nil {
		return err
	}
	return dest.commit(ctx)
}

// fillResult writes the files of a passage. summary is what becomes of its JSON,
// given the names of its files.
func fillResult(dest *folder, q *question, res *result, rep *plots.PassageReport, summary func(files []string) any) error {
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
		return printJSON(w, summary(append(outputFiles(res), names...)))
	}); err != nil {
		return err
	}
	if err := dest.write(logName, func(w io.Writer) error { return writeLog(w, res, res.log) }); err != nil {
		return err
	}
	if err := dest.write(scheduleName, func(w io.Writer) error { return writeSchedule(w, res) }); err != nil {
		return err
	}
	if res.hand != nil {
		if err := dest.write(handName, func(w io.Writer) error { return writeLog(w, res, res.hand.log) }); err != nil {
			return err
		}
	}
	if err := dest.write(gpxName, func(w io.Writer) error { return writeGPX(w, q, res) }); err != nil {
		return err
	}
	return dest.write(evenName, func(w io.Writer) error { return writeBreakEvens(w, res) })
}

// writeLog writes one row per step of a voyage, with the time gained over the
// first baseline at the same place.
func writeLog(w io.Writer, res *result, lg *strategy.Log) error {
	c := csv.NewWriter(w)
	head := []string{"time_utc", "lat_deg", "lon_deg", "distance_nm", "doing", "bsp_kn", "sog_kn", "tws_kn", "twa_deg", "wind_from_deg", "hs_m",
		"board", "port_extension", "port_rake_deg", "starboard_extension", "starboard_rake_deg", "heel_deg", "trim_deg", "hull_load",
		"foil_lift_t", "bow_immersions_per_hour", "sail", "ruled_by", "time_gained_min"}
	if err := c.Write(head); err != nil {
		return err
	}
	first := &res.bases[0]
	f := func(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
	for _, s := range res.steps(lg) {
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
