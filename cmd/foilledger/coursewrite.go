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
	"foilledger/vpp/units"
)

// The files of one course, beside those of a passage.
const (
	courseGeoName  = "course.geojson"
	courseCSVName  = "course.csv"
	departuresName = "departures.csv"
)

func courseFiles(res *courseResult) []string {
	out := append(outputFiles(res.result), courseGeoName, courseCSVName)
	if len(res.departures) > 0 {
		out = append(out, departuresName)
	}
	return out
}

// writeCourse fills the output folder and puts it in place.
func writeCourse(ctx context.Context, dest *folder, o *courseOptions, q *question, res *courseResult) error {
	rep := res.report(q)
	rep.BoundGapMin = res.freeGapS() / 60
	rep.Fronts = append(res.fronts(res.never, true), res.fronts(res.search, false)...)
	for _, m := range o.points {
		name := m.Name
		if m.Passing == route.Between {
			rep.Marks = append(rep.Marks, plots.Mark{Name: name, Place: plots.Place{LonDeg: m.Other[0], LatDeg: m.Other[1]}})
		} else if name == "start" || name == "finish" {
			continue // the map names them
		}
		rep.Marks = append(rep.Marks, plots.Mark{Name: name, Place: plots.Place{LonDeg: m.Point[0], LatDeg: m.Point[1]}})
	}
	if o.title == "" {
		rep.Title = fmt.Sprintf("Course from %s to %s", route.FormatLatLon(o.points[0].Point), route.FormatLatLon(o.points[len(o.points)-1].Point))
	}
	if len(res.departures) > 0 {
		charts, err := departureCharts(res)
		if err != nil {
			return err
		}
		if err := dest.writeCharts(charts); err != nil {
			return err
		}
		if err := dest.write(departuresName, func(w io.Writer) error { return writeDepartures(w, res) }); err != nil {
			return err
		}
	}
	if err := dest.write(courseGeoName, func(w io.Writer) error { return res.writeGeoJSON(w, o, rep) }); err != nil {
		return err
	}
	if err := dest.write(courseCSVName, func(w io.Writer) error { return res.writeCSV(w) }); err != nil {
		return err
	}
	first := append([]string{}, dest.names...)
	summary := func(files []string) any {
		j := res.courseJSON(q)
		j.Files = append(files, first...)
		return j
	}
	if err := fillResult(dest, q, res.result, rep, summary); err != nil {
		return err
	}
	return dest.commit(ctx)
}

// fronts are the lines of equal time of a search's first mesh, every 6, 12 or 24
// hours, whichever gives at most a dozen.
func (res *courseResult) fronts(r *route.Result, baseline bool) []plots.Front {
	start := res.voyage.DepartS
	every := 6 * units.SPerHour
	for every < 48*units.SPerHour && (r.ArrivalS-start)/every > 12 {
		every *= 2
	}
	var out []plots.Front
	ref := timeAt(res.source, 0)
	midnight := ref.Truncate(24 * time.Hour).Sub(ref).Seconds()
	for k := math.Ceil((start - midnight) / every); ; k++ {
		t := midnight + k*every
		if t <= start {
			continue
		}
		if t >= r.ArrivalS {
			return out
		}
		if parts := equalTime(r.Arrivals, t); len(parts) > 0 {
			out = append(out, plots.Front{Label: timeAt(res.source, t).Format("2 Jan 15:04"), Baseline: baseline, Parts: parts})
		}
	}
}

// equalTime is the line on which the earliest arrival is t: on every row of the
// mesh along the course, the last place where the arrival passes t.
func equalTime(columns []route.Arrivals, t float64) [][]plots.Place {
	rows := 0
	for _, c := range columns {
		rows = max(rows, len(c.Points))
	}
	at := func(k, j int) (orb.Point, float64) {
		c := &columns[k]
		n := len(c.Points)
		if n == 1 || rows == 1 {
			return c.Points[0], c.TimeS[0]
		}
		i := int(math.Round(float64(j) * float64(n-1) / float64(rows-1)))
		return c.Points[i], c.TimeS[i]
	}
	var parts [][]plots.Place
	var part []plots.Place
	end := func() {
		if len(part) > 1 {
			parts = append(parts, part)
		}
		part = nil
	}
	for j := range rows {
		found := false
		for k := len(columns) - 2; k >= 0 && !found; k-- {
			a, ta := at(k, j)
			b, tb := at(k+1, j)
			if ta <= t && t < tb && !math.IsInf(tb, 1) {
				d, az, _ := route.Inverse(a, b)
				p, _ := route.Direct(a, az, d*(t-ta)/(tb-ta))
				q := plots.Place{LonDeg: math.Round(units.Wrap180(p[0])*1e4) / 1e4, LatDeg: math.Round(p[1]*1e4) / 1e4}
				if n := len(part); n == 0 || part[n-1] != q {
					part = append(part, q)
				}
				found = true
			}
		}
		if !found {
			end()
		}
	}
	end()
	return parts
}

// writeGeoJSON writes both courses, the marks, the actions and the lines of
// equal time.
func (res *courseResult) writeGeoJSON(w io.Writer, o *courseOptions, rep *plots.PassageReport) error {
	line := func(steps []plots.Step) (ps []orb.Point) {
		for _, s := range steps {
			if n := len(ps); n == 0 || ps[n-1] != (orb.Point{s.LonDeg, s.LatDeg}) {
				ps = append(ps, orb.Point{s.LonDeg, s.LatDeg})
			}
		}
		return ps
	}
	fs := []route.Feature{{Points: line(rep.Steps), Properties: map[string]any{"name": "course with foils", "kind": "course",
		"departure": rep.Departure.Format(time.RFC3339), "arrival": rep.Arrival.Format(time.RFC3339), "distance_nm": rep.DistanceNM, "passage_time_h": rep.PassageTimeH}}}
	for _, b := range rep.Baselines {
		fs = append(fs, route.Feature{Points: line(b.Steps), Properties: map[string]any{"name": b.Name, "kind": "baseline", "passage_time_h": b.PassageTimeH, "time_gained_min": b.TimeGainedMin}})
	}
	for _, m := range o.points {
		ps := []orb.Point{m.Point}
		if m.Passing == route.Between {
			ps = append(ps, m.Other)
		}
		fs = append(fs, route.Feature{Points: ps, Properties: map[string]any{"name": m.Name, "kind": "mark", "passed": passing(m)}})
	}
	for i, a := range rep.Actions {
		fs = append(fs, route.Feature{Points: []orb.Point{{a.LonDeg, a.LatDeg}}, Properties: map[string]any{"name": fmt.Sprintf("%d %s %s foil", i+1, a.Action, a.Side),
			"kind": "action", "time": a.Time.Format(time.RFC3339), "to": a.To, "lost_s": a.LostS, "reason": a.Reason}})
	}
	for _, f := range rep.Fronts {
		who := "foils"
		if f.Baseline {
			who = "baseline"
		}
		for _, part := range f.Parts {
			var ps []orb.Point
			for _, p := range part {
				ps = append(ps, orb.Point{p.LonDeg, p.LatDeg})
			}
			fs = append(fs, route.Feature{Points: ps, Properties: map[string]any{"name": f.Label + " UTC", "kind": "equal time", "boat": who}})
		}
	}
	return route.WriteGeoJSON(w, fs)
}

func passing(m route.Mark) string {
	switch m.Passing {
	case route.Between:
		return "across the line"
	case route.ToPort:
		return "leave to port"
	case route.ToStarboard:
		return "leave to starboard"
	}
	return "at the place"
}

// writeCSV writes the course's points with the times of passing.
func (res *courseResult) writeCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"point", "time_utc", "lat_deg", "lon_deg", "distance_nm", "course_deg", "leg_nm", "baseline_passes_min_later"}); err != nil {
		return err
	}
	f := func(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
	ps := res.track.track.Points()
	for i, p := range ps {
		m := res.track.track.LegStartM(i)
		t := res.log.TimeAt(m)
		course, leg := "", ""
		if i+1 < len(ps) {
			d, az, _ := route.Inverse(p, ps[i+1])
			course, leg = f(units.Deg(units.Wrap2Pi(az)), 1), f(d/units.MPerNM, 2)
		}
		if err := c.Write([]string{strconv.Itoa(i + 1), timeAt(res.source, t).Format(time.RFC3339), f(p[1], 5), f(p[0], 5), f(m/units.MPerNM, 2), course, leg,
			f((res.bases[0].timeAt(m)-t)/60, 1)}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// departureCharts are arrival and passage time against departure.
func departureCharts(res *courseResult) ([]plots.Chart, error) {
	first := res.departures[0].departS
	var out []plots.Chart
	for _, c := range []struct {
		name, title, label string
		of                 func(d *departureRow, arriveS float64) float64
	}{
		{"arrivals", "Arrival against departure", "arrival (h after the first departure)", func(_ *departureRow, t float64) float64 { return t - first }},
		{"departures", "Passage time against departure", "passage time (h)", func(d *departureRow, t float64) float64 { return t - d.departS }},
	} {
		with, never := plots.Line{Name: "foils"}, plots.Line{Name: "foils never"}
		for i := range res.departures {
			d := &res.departures[i]
			x := (d.departS - first) / units.SPerHour
			if !math.IsInf(d.arriveS, 1) {
				with.X, with.Y = append(with.X, x), append(with.Y, c.of(d, d.arriveS)/units.SPerHour)
			}
			if !math.IsInf(d.neverS, 1) {
				never.X, never.Y = append(never.X, x), append(never.Y, c.of(d, d.neverS)/units.SPerHour)
			}
		}
		chart := &plots.LineChart{Title: c.title, XLabel: "departure, hours after " + timeAt(res.source, first).Format("2 Jan 2006 15:04 UTC"), YLabel: c.label}
		for _, l := range []plots.Line{with, never} {
			if len(l.X) > 0 {
				chart.Lines = append(chart.Lines, l)
			}
		}
		if len(chart.Lines) == 0 { // no departure arrives: the table says why
			return nil, nil
		}
		x, err := plots.LinesChart(c.name, chart)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

// writeDepartures writes the comparison of departures.
func writeDepartures(w io.Writer, res *courseResult) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"departure_utc", "arrival_utc", "passage_time_h", "foils_never_passage_time_h", "time_gained_min", "note"}); err != nil {
		return err
	}
	num := func(x *float64, digits int) string {
		if x == nil {
			return ""
		}
		return strconv.FormatFloat(*x, 'f', digits, 64)
	}
	for i := range res.departures {
		j := res.departures[i].json(res)
		if err := c.Write([]string{j.Departure, j.Arrival, num(j.PassageTimeH, 3), num(j.NeverH, 3), num(j.GainMin, 1), j.Note}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
