package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"foilledger/plots"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// mapOptions is a request for a map of the weather at one time.
type mapOptions struct {
	at, area, via, track, members, out string
	time                               time.Time
	bounds                             *weather.Bounds
}

func mapCommand() *cli.Command {
	var o mapOptions
	return &cli.Command{
		Name: "map", Usage: "map of wind barbs over shaded waves, with coast and isobars, at one time", ArgsUsage: "FILE…",
		Description: "Examples:\n\n   foilledger forecast map --out map.png wind.grib2\n   foilledger forecast map --at 2026-03-01T12:00:00Z --area \"35,-30; 55,0\" \\\n      --out map.svg wind.grib2 waves.grib2\n\n" + readingRules + "\n\n" + exitCodes,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "at", Usage: "time, RFC 3339 in UTC", DefaultText: "the forecast's first step", Destination: &o.at},
			&cli.StringFlag{Name: "area", Usage: "south-western and north-eastern corner, \"lat,lon; lat,lon\"", DefaultText: "all that the wind covers", Destination: &o.area},
			&cli.StringFlag{Name: "via", Usage: "waypoints of a track to draw, \"lat,lon; lat,lon; …\"", Destination: &o.via},
			&cli.StringFlag{Name: "track", Usage: "track file to draw (GPX route or track, GeoJSON LineString)", Destination: &o.track},
			&cli.StringFlag{Name: "members", Usage: "pattern of files that are one ensemble member each; the map is of the control run or the first", Destination: &o.members},
			&cli.StringFlag{Name: "out", Usage: "map to write: a name that ends in .svg, .png or .pdf", Destination: &o.out},
		},
		Action: func(c *cli.Context) error {
			names, err := fileArguments(c)
			if err != nil {
				return err
			}
			if err := o.validate(); err != nil {
				return err
			}
			return forecastMap(c.Context, names, &o, streams{out: c.App.Writer, errOut: c.App.ErrWriter})
		},
	}
}

func (o *mapOptions) validate() error {
	if o.out == "" {
		return usage("give --out FILE that ends in .svg, .png or .pdf", "no map to write")
	}
	if err := checkChartName(o.out); err != nil {
		return err
	}
	if o.via != "" && o.track != "" {
		return usage("use one of the two", "both --via and --track given")
	}
	if o.at != "" {
		t, err := time.Parse(time.RFC3339, o.at)
		if err != nil {
			return usage("write it as 2026-03-01T06:00:00Z", "--at %q is not a time", o.at)
		}
		o.time = t.UTC()
	}
	if o.area != "" {
		b, err := parseArea(o.area)
		if err != nil {
			return err
		}
		o.bounds = &b
	}
	return nil
}

func forecastMap(ctx context.Context, names []string, o *mapOptions, s streams) error {
	var opt weather.Options
	if b := o.bounds; b != nil {
		// The corners by way of the middle, so that the box is not taken the
		// short way round.
		mid := b.West + b.WidthDeg/2
		opt = weather.Along([]orb.Point{{b.West, b.South}, {mid, b.South}, {b.West + b.WidthDeg, b.North}}, placeMarginNM, o.time, o.time)
	} else {
		opt = weather.Along(nil, 0, o.time, o.time)
	}
	opt.MemberFiles = o.members
	fc, err := weather.Load(ctx, names, opt)
	var c *weather.CoverageError
	if errors.As(err, &c) && !o.time.IsZero() && (c.Kind == weather.BeforeFirst || c.Kind == weather.AfterLast) {
		return &commandError{code: exitNoPassage, hint: fmt.Sprintf("ask for a time from %s to %s", c.First.UTC().Format(time.RFC3339), c.Last.UTC().Format(time.RFC3339)),
			err: fmt.Errorf("--at %s lies outside the times of the forecast", o.time.Format(time.RFC3339))}
	}
	if err != nil {
		return lookError(err)
	}
	d, err := weatherMap(fc.Main(), o)
	if err != nil {
		return lookError(err)
	}
	if o.via != "" || o.track != "" {
		track, _, err := readTrack(o.via, o.track)
		if err != nil {
			return err
		}
		for _, p := range alongTrack(track) {
			d.Track = append(d.Track, plots.Place{LonDeg: p[0], LatDeg: p[1]})
		}
	}
	chart, err := plots.WeatherMapChart(d)
	if err != nil {
		return err
	}
	if err := writeChart(ctx, o.out, chart); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Wrote %s.\n%s\n", o.out, wrap(chart.Alt, 78, ""))
	for _, w := range fc.Warnings {
		fmt.Fprintln(s.out, wrap("warning: "+w, 78, "  "))
	}
	return nil
}

// The map samples the forecast at this many columns; no further north or south
// than the projection is of use.
const (
	mapColumns = 160
	mapLimit   = 80.0
)

// weatherMap samples the field over the area at the time.
func weatherMap(f *weather.Field, o *mapOptions) (*plots.WeatherMap, error) {
	b := f.Bounds()
	if o.bounds != nil {
		b = *o.bounds
	}
	b.South, b.North = max(b.South, -mapLimit), min(b.North, mapLimit)
	at := o.time
	if at.IsZero() {
		at = f.Steps()[0]
	}
	if b.WidthDeg == 0 || b.South >= b.North {
		return nil, usage("give an --area with an extent", "the forecast is for one place or one line: there is no area to map")
	}
	tS := at.Sub(f.Reference()).Seconds()
	d := &plots.WeatherMap{Time: at, Title: "Wind, " + at.Format("Mon 2 Jan 2006 15:04") + " UTC",
		Extent: plots.Extent{WestDeg: b.West, EastDeg: b.West + b.WidthDeg, SouthDeg: b.South, NorthDeg: b.North}}
	step := b.WidthDeg / mapColumns
	for i := range mapColumns + 1 {
		d.LonDeg = append(d.LonDeg, b.West+float64(i)*step)
	}
	rows := max(2, int(math.Ceil((b.North-b.South)/step)))
	for j := range rows + 1 {
		d.LatDeg = append(d.LatDeg, b.South+float64(j)*(b.North-b.South)/float64(rows))
	}
	vars := f.Variables()
	var failed error
	known := 0
	for _, lat := range d.LatDeg {
		for _, lon := range d.LonDeg {
			u, v, hs, hPa := math.NaN(), math.NaN(), math.NaN(), math.NaN()
			w, err := f.At(lon, lat, tS)
			if err != nil {
				failed = err
			} else {
				known++
				u, v, hs = units.Knots(w.U), units.Knots(w.V), w.HsM
				if w.PressurePa > 0 {
					hPa = w.PressurePa / 100
				}
			}
			d.UKn, d.VKn = append(d.UKn, u), append(d.VKn, v)
			d.HsM, d.PressureHPa = append(d.HsM, hs), append(d.PressureHPa, hPa)
		}
	}
	if known == 0 {
		return nil, failed
	}
	if vars.Has(weather.HasWaveHeight) {
		d.Title = "Wind and waves, " + at.Format("Mon 2 Jan 2006 15:04") + " UTC"
	} else {
		d.HsM = nil
	}
	if f.WavesDerived() {
		d.Note = "The waves are derived from the wind."
	}
	for _, ring := range landRings(d.Extent) {
		ps := make([]plots.Place, 0, len(ring))
		for _, p := range ring {
			ps = append(ps, plots.Place{LonDeg: p[0], LatDeg: p[1]})
		}
		d.Coast = append(d.Coast, ps)
	}
	return d, nil
}
