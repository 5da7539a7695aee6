package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"foilledger/route"
	"foilledger/route/coast"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// courseOptions is one question of the course command.
type courseOptions struct {
	passageOptions
	from, to   string
	marks      []string
	avoid      string
	shore      string
	offLandNM  float64
	maxWindKn  float64
	maxGustKn  float64
	maxWaveM   float64
	southDeg   string
	northDeg   string
	latest     string
	until      string
	every      time.Duration
	stages     int
	across     int
	widthNM    float64
	refineMin  float64
	workers    int
	rounds     int // 0: until refined
	points     []route.Mark
	latestTime time.Time
	untilTime  time.Time
}

func courseCommand() *cli.Command {
	var o courseOptions
	return &cli.Command{
		Name:  "course",
		Usage: "find the course and the foils together, round marks and clear of land, in a forecast",
		Description: "Example:\n\n   foilledger course --boat boat.toml --forecast wind.grib2 \\\n      --from 47.0,-6.0 --to 38.5,-28.0 \\\n      --depart 2026-03-01T06:00:00Z --out course\n\n" +
			"Marks, in the order in which they are passed:\n\n" +
			"   --mark 43.9,-9.5             sail to the place\n" +
			"   --mark 43.9,-9.5,port        leave it to port (or starboard), within 27 nm\n" +
			"   --mark 43.9,-9.5,port,2      leave it to port, at least 2 nm off\n" +
			"   --mark \"43,-10; 44,-10\"      cross the line between two places\n\n" +
			"--from and --to take a place or a line.\n\n" + exitCodes,
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "boat", Usage: "boat file (TOML)", Destination: &o.boat},
			&cli.StringSliceFlag{Name: "forecast", Usage: "forecast file, folder or pattern (GRIB 1, GRIB 2, NetCDF); may be repeated"},
			&cli.StringFlag{Name: "depart", Usage: "departure, RFC 3339 in UTC", DefaultText: "the forecast's first step", Destination: &o.depart},
			&cli.StringFlag{Name: "from", Usage: "start: \"lat,lon\", or a line \"lat,lon; lat,lon\"", Destination: &o.from},
			&cli.StringFlag{Name: "to", Usage: "finish: \"lat,lon\", or a line \"lat,lon; lat,lon\"", Destination: &o.to},
			&cli.StringSliceFlag{Name: "mark", Usage: "mark to pass, see above; may be repeated"},
			&cli.StringFlag{Name: "avoid", Usage: "areas to keep out of or with limits (GeoJSON)", Destination: &o.avoid},
			&cli.StringFlag{Name: "shore", Usage: "coastline: fine, coarse or none", Value: "fine", Destination: &o.shore},
			&cli.Float64Flag{Name: "off-land", Usage: "distance to keep off land, nautical miles", Destination: &o.offLandNM},
			&cli.Float64Flag{Name: "max-wind", Usage: "do not sail in more mean wind than this, knots; 0: no limit", Destination: &o.maxWindKn},
			&cli.Float64Flag{Name: "max-gust", Usage: "nor in stronger gusts, knots; 0: no limit", Destination: &o.maxGustKn},
			&cli.Float64Flag{Name: "max-wave", Usage: "nor in a higher significant wave height, metres; 0: no limit", Destination: &o.maxWaveM},
			&cli.StringFlag{Name: "not-south-of", Usage: "ice limit: latitude not to be passed southward, degrees", Destination: &o.southDeg},
			&cli.StringFlag{Name: "not-north-of", Usage: "ice limit: latitude not to be passed northward, degrees", Destination: &o.northDeg},
			&cli.StringFlag{Name: "latest-arrival", Usage: "refuse later arrivals, RFC 3339 in UTC", Destination: &o.latest},
			&cli.StringFlag{Name: "depart-until", Usage: "compare departures from --depart until this time, RFC 3339 in UTC", Destination: &o.until},
			&cli.DurationFlag{Name: "depart-every", Usage: "step of the compared departures", Value: 6 * time.Hour, Destination: &o.every},
			&cli.IntFlag{Name: "stages", Usage: "steps of the mesh along the course", Value: 100, Destination: &o.stages},
			&cli.IntFlag{Name: "across", Usage: "points of the mesh across the course", Value: 41, Destination: &o.across},
			&cli.Float64Flag{Name: "half-width", Usage: "half width of the first mesh, nautical miles; 0: 0.3 of each leg", Destination: &o.widthNM},
			&cli.Float64Flag{Name: "refine-until", Usage: "refine the mesh until a round gains less than this many minutes", Value: 1, Destination: &o.refineMin},
			&cli.IntFlag{Name: "workers", Usage: "parallel workers of the search; the result does not depend on it", DefaultText: "one per processor", Destination: &o.workers},
		}, passageFlags(&o.passageOptions)...),
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			o.forecast, o.marks = c.StringSlice("forecast"), c.StringSlice("mark")
			if err := readPassageFlags(c, &o.passageOptions); err != nil {
				return err
			}
			if err := o.validateCourse(); err != nil {
				return err
			}
			return runCourse(c.Context, &o, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

// validateCourse checks everything that can be checked before files are read.
func (o *courseOptions) validateCourse() error {
	switch {
	case o.boat == "":
		return usage("give a boat file with --boat; foilledger boat --new boat.toml writes one to start from", "no boat file given")
	case len(o.forecast) == 0:
		return usage("give a forecast file, folder or pattern with --forecast", "no forecast given")
	case o.from == "" || o.to == "":
		return usage("give start and finish with --from \"lat,lon\" and --to \"lat,lon\"", "no start or no finish given")
	case o.shore != "fine" && o.shore != "coarse" && o.shore != "none":
		return usage("", "--shore %q: must be fine, coarse or none", o.shore)
	}
	for _, x := range []struct {
		name   string
		v, max float64
		unit   string
	}{
		{"off-land", o.offLandNM, 27, "nautical miles"}, {"max-wind", o.maxWindKn, 200, "knots"}, {"max-gust", o.maxGustKn, 300, "knots"}, {"max-wave", o.maxWaveM, 40, "metres"},
		{"half-width", o.widthNM, 5000, "nautical miles"}, {"refine-until", o.refineMin, 600, "minutes"},
	} {
		if !(x.v >= 0 && x.v <= x.max) {
			return usage("", "--%s %g: must be from 0 to %g %s", x.name, x.v, x.max, x.unit)
		}
	}
	if o.stages < 2 || o.stages > 1000 {
		return usage("", "--stages %d: must be from 2 to 1000", o.stages)
	}
	if o.across < 3 || o.across > 401 {
		return usage("", "--across %d: must be from 3 to 401", o.across)
	}
	if o.workers < 0 || o.workers > 1024 {
		return usage("", "--workers %d: must be from 1 to 1024", o.workers)
	}
	for _, x := range []struct {
		name, text string
		to         *time.Time
	}{{"depart", o.depart, &o.departure}, {"latest-arrival", o.latest, &o.latestTime}, {"depart-until", o.until, &o.untilTime}} {
		if x.text == "" {
			continue
		}
		t, err := time.Parse(time.RFC3339, x.text)
		if err != nil {
			return usage("write it as 2026-03-01T06:00:00Z", "--%s %q is not a time", x.name, x.text)
		}
		*x.to = t.UTC()
	}
	if !(o.every >= 10*time.Minute) {
		return usage("write it as 6h or 90m", "--depart-every %s: must be at least 10m", o.every)
	}
	for _, l := range []string{o.southDeg, o.northDeg} {
		if l == "" {
			continue
		}
		if x, err := strconv.ParseFloat(l, 64); err != nil || !(x >= -89 && x <= 89) {
			return usage("write degrees, south negative", "ice limit %q: must be a latitude from -89 to 89", l)
		}
	}
	return o.readMarks()
}

// readMarks turns start, marks and finish into what the search takes.
func (o *courseOptions) readMarks() error {
	o.points = nil
	for i, text := range append(append([]string{o.from}, o.marks...), o.to) {
		option, name := "mark", fmt.Sprintf("mark %d", i)
		switch i {
		case 0:
			option, name = "from", "start"
		case len(o.marks) + 1:
			option, name = "to", "finish"
		}
		m, err := parseMark(text, option == "mark")
		if err != nil {
			return usage("write --"+option+" \"lat,lon\" in degrees, south and west negative; see foilledger course --help", "--%s %q: %w", option, text, err)
		}
		m.Name = name
		o.points = append(o.points, m)
	}
	return nil
}

func parseMark(text string, sides bool) (route.Mark, error) {
	var m route.Mark
	if strings.Contains(text, ";") {
		ps, err := route.ParseVia(text)
		if err != nil {
			return m, err
		}
		if len(ps) != 2 {
			return m, fmt.Errorf("%d places; a line has two", len(ps))
		}
		return route.Mark{Point: ps[0], Other: ps[1], Passing: route.Between}, nil
	}
	part := strings.Split(text, ",")
	if len(part) < 2 || len(part) > 4 {
		return m, errors.New("not latitude, longitude")
	}
	var x [2]float64
	for i := range x {
		v, err := strconv.ParseFloat(strings.TrimSpace(part[i]), 64)
		if err != nil {
			return m, fmt.Errorf("%q is not a number", strings.TrimSpace(part[i]))
		}
		x[i] = v
	}
	if !(math.Abs(x[0]) <= 90) || !(x[1] >= -180 && x[1] <= 360) {
		return m, errors.New("latitude or longitude out of range")
	}
	m.Point = orb.Point{units.Wrap180(x[1]), x[0]}
	if len(part) == 2 {
		return m, nil
	}
	if !sides {
		return m, errors.New("a side is for marks only")
	}
	switch strings.TrimSpace(part[2]) {
	case "port":
		m.Passing = route.ToPort
	case "starboard":
		m.Passing = route.ToStarboard
	default:
		return m, fmt.Errorf("%q: the side must be port or starboard", strings.TrimSpace(part[2]))
	}
	if len(part) == 4 {
		v, err := strconv.ParseFloat(strings.TrimSpace(part[3]), 64)
		if err != nil || !(v >= 0 && v <= 60) {
			return m, fmt.Errorf("%q: the distance off must be from 0 to 60 nautical miles", strings.TrimSpace(part[3]))
		}
		m.ClearM = v * units.MPerNM
		m.ReachM = m.ClearM + 50e3
	}
	return m, nil
}

// readWaters makes the waters that may be sailed in.
func (o *courseOptions) readWaters() (*route.Waters, []input, error) {
	w := &route.Waters{KeepOffM: o.offLandNM * units.MPerNM}
	switch o.shore {
	case "fine":
		w.Land = coast.Fine()
	case "coarse":
		w.Land = coast.Coarse()
	}
	var inputs []input
	if o.avoid != "" {
		data, err := os.ReadFile(o.avoid)
		if err != nil {
			return nil, nil, err
		}
		areas, err := route.DecodeAreas(data)
		if err != nil {
			return nil, nil, usage("give GeoJSON polygons with properties such as name, max_wind_kn, max_gust_kn, max_wave_m, avoid; README.md describes the format", "%s: %w", o.avoid, err)
		}
		w.Areas = areas
		inputs = append(inputs, input{filepath.Base(o.avoid), sha256Hex(data)})
	}
	for _, ice := range []struct {
		text, name string
		pole       float64
	}{{o.southDeg, "ice limit in the south", -90}, {o.northDeg, "ice limit in the north", 90}} {
		if ice.text == "" {
			continue
		}
		lat, _ := strconv.ParseFloat(ice.text, 64) // was checked with the options
		w.Areas = append(w.Areas, route.NewArea(ice.name, []orb.Point{
			{-180, lat}, {-90, lat}, {0, lat}, {90, lat}, {180, lat}, {180, ice.pole}, {90, ice.pole}, {0, ice.pole}, {-90, ice.pole}, {-180, ice.pole}}))
	}
	return w, inputs, nil
}

// runCourse answers one question: it reads as the method does.
func runCourse(ctx context.Context, o *courseOptions, s streams) error {
	boat, boatInput, err := readBoat(o.boat)
	if err != nil {
		return err
	}
	waters, areaInputs, err := o.readWaters()
	if err != nil {
		return err
	}
	for _, m := range o.points {
		if m.Passing == route.AtPoint {
			if err := placeOpen(waters, m); err != nil {
				return err
			}
		}
	}
	forecast, err := o.loadForecast(ctx, waters)
	if err != nil {
		return err
	}
	var places []orb.Point
	for _, m := range o.points {
		places = append(places, m.Point)
	}
	if err := covers(forecast, places, o.departure); err != nil {
		return err
	}
	inputs := append([]input{boatInput}, areaInputs...)
	for _, in := range forecast.Inputs {
		inputs = append(inputs, input{in.File, in.SHA256})
	}
	var dest *folder
	if o.out != "" {
		if dest, err = newFolder(o.out); err != nil {
			return err
		}
		defer dest.discard()
	}
	fl, err := buildFleet(ctx, boat, o.cache, newProgress(s))
	if err != nil {
		return err
	}
	q := &question{options: &o.passageOptions, boat: boat, forecast: forecast, inputs: inputs}
	if err := q.readOwn(); err != nil {
		return err
	}
	res, err := findCourse(ctx, o, q, fl, waters, newProgress(s))
	if err != nil {
		return err
	}
	if dest != nil {
		done := newProgress(s).start("charts and page")
		err := writeCourse(ctx, dest, o, q, res)
		if done(); err != nil {
			return err
		}
	}
	return printCourse(s, q, res)
}

// loadForecast reads the weather round the mesh of positions, or all of it
// where land bars the shortest lines and the way by sea is not known yet.
func (o *courseOptions) loadForecast(ctx context.Context, w *route.Waters) (*weather.Forecast, error) {
	const marginNM = 60
	var points []orb.Point
	lengthM, halfM := 0.0, 0.0
	for i, m := range o.points {
		ends := []orb.Point{m.Point}
		if m.Passing == route.Between {
			ends = append(ends, m.Other)
		}
		for _, p := range ends {
			if err := route.CheckPoint(p); err != nil {
				return nil, usage("write --from, --to and --mark \"lat,lon\" in degrees", "%s: %w", m.Name, err)
			}
			points = append(points, p)
		}
		if i == 0 {
			continue
		}
		a := o.points[i-1].Point
		if w.Blocked(a, m.Point) {
			return weather.Load(ctx, o.forecast, weather.Options{MemberFiles: o.members})
		}
		line := route.LineBetween(a, m.Point)
		d := line.LengthM()
		for k := 1.0; k*60*units.MPerNM < d; k++ {
			p, _ := line.At(k * 60 * units.MPerNM)
			points = append(points, p)
		}
		lengthM += 2 * d // the way there may be that much longer
		halfM = math.Max(halfM, 0.3*d)
	}
	if o.widthNM > 0 {
		halfM = o.widthNM * units.MPerNM
	}
	depart := o.departure
	if !o.untilTime.IsZero() {
		depart = time.Time{}
	}
	return loadRound(ctx, o.forecast, o.members, points, halfM/units.MPerNM+marginNM, lengthM, depart)
}

func placeOpen(w *route.Waters, m route.Mark) error {
	err := w.CheckPlace(m.Name, m.Point)
	var pe *route.PlaceError
	if errors.As(err, &pe) {
		return &commandError{code: exitUsage, hint: "move it to the water that is named", err: err}
	}
	return err
}
