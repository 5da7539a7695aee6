package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"foilledger/plots"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// atOptions is a question about one place.
type atOptions struct {
	lat, lon float64
	members  string
	everyH   float64
	out      string
	json     bool
}

func atCommand() *cli.Command {
	var o atOptions
	return &cli.Command{
		Name: "at", Usage: "wind and sea at a place over time, as a table and a chart", ArgsUsage: "FILE…",
		Description: "Examples:\n\n   foilledger forecast at --lat 45 --lon -30 wind.grib2\n   foilledger forecast at --lat 45 --lon -30 --out place.png \\\n      wind.grib2 waves.grib2\n" +
			"   foilledger forecast at --lat 45 --lon -30 --members \"run_*.grib2\" --json ens/\n\n" + readingRules + "\n\n" + exitCodes,
		Flags: []cli.Flag{
			&cli.Float64Flag{Name: "lat", Usage: "latitude, degrees north", Destination: &o.lat},
			&cli.Float64Flag{Name: "lon", Usage: "longitude, degrees east", Destination: &o.lon},
			&cli.Float64Flag{Name: "every", Usage: "interval in hours", DefaultText: "the forecast's own steps", Destination: &o.everyH},
			&cli.StringFlag{Name: "members", Usage: "pattern of files that are one ensemble member each", Destination: &o.members},
			&cli.StringFlag{Name: "out", Usage: "chart to write: a name that ends in .svg, .png or .pdf", Destination: &o.out},
			&cli.BoolFlag{Name: "json", Usage: "print the result as one JSON object on stdout", Destination: &o.json},
		},
		Action: func(c *cli.Context) error {
			names, err := fileArguments(c)
			if err != nil {
				return err
			}
			if !c.IsSet("lat") || !c.IsSet("lon") {
				return usage("give both --lat and --lon", "no place given")
			}
			if err := o.validate(c.IsSet("every")); err != nil {
				return err
			}
			return forecastAt(c.Context, names, &o, streams{out: c.App.Writer, errOut: c.App.ErrWriter})
		},
	}
}

func (o *atOptions) validate(every bool) error {
	if !(o.lat >= -90 && o.lat <= 90 && o.lon >= -360 && o.lon <= 360) {
		return usage("latitude −90 to 90, longitude −180 to 180", "place %g, %g is not on the Earth", o.lat, o.lon)
	}
	if every && !(o.everyH >= 0.1 && o.everyH <= 240) {
		return usage("", "--every %g: must be from 0.1 to 240 hours", o.everyH)
	}
	return checkChartName(o.out)
}

// lookError gives a coverage error the hint for one who only looks.
func lookError(err error) error {
	var c *weather.CoverageError
	if !errors.As(err, &c) {
		return err
	}
	hint := "foilledger forecast show FILE… tells what the files cover"
	switch c.Kind {
	case weather.BeforeFirst, weather.AfterLast, weather.InGap:
		hint = fmt.Sprintf("ask for a time from %s to %s", c.First.UTC().Format(time.RFC3339), c.Last.UTC().Format(time.RFC3339))
	case weather.OutsideArea:
		hint = swapped(c) + "ask for a place inside, or add a file that covers it"
	case weather.Missing:
		hint = "the forecast has no value there (land or ice); ask a little farther off"
	}
	return &commandError{code: exitNoPassage, hint: hint, err: err}
}

// checkChartName refuses a chart's name without a known ending.
func checkChartName(name string) error {
	if name == "" {
		return nil
	}
	switch strings.ToLower(filepath.Ext(name)) {
	case ".svg", ".png", ".pdf":
		return nil
	}
	return usage("end the name in .svg, .png or .pdf", "--out %s: unknown kind of picture", name)
}

// writeChart writes one chart in the format of its name's ending.
func writeChart(ctx context.Context, name string, c plots.Chart) error {
	return writeFile(ctx, name, func(w io.Writer) error {
		switch strings.ToLower(filepath.Ext(name)) {
		case ".svg":
			return c.SVG(w, plots.Wide)
		case ".pdf":
			return c.PDF(w, plots.Wide)
		}
		return c.PNG(w, plots.Wide)
	})
}

// placeMarginNM is the margin round a place, so that it has grid points on all
// sides however coarse the grid.
const placeMarginNM = 10

// placeRow is a sample with the spread of an ensemble.
type placeRow struct {
	weather.SampleRow
	TWSLowKn  *float64 `json:"tws_low_kn,omitempty"` // 10 and 90 % of the members
	TWSHighKn *float64 `json:"tws_high_kn,omitempty"`
	HsLowM    *float64 `json:"hs_low_m,omitempty"`
	HsHighM   *float64 `json:"hs_high_m,omitempty"`
	known     bool
}

func forecastAt(ctx context.Context, names []string, o *atOptions, s streams) error {
	opt := weather.Along([]orb.Point{{o.lon, o.lat}}, placeMarginNM, time.Time{}, time.Time{})
	opt.MemberFiles = o.members
	fc, err := weather.Load(ctx, names, opt)
	if err != nil {
		return lookError(err)
	}
	f := fc.Main()
	rows, err := placeRows(fc, o.lon, o.lat, placeTimes(f, o.everyH))
	if err != nil {
		return lookError(err)
	}
	if o.out != "" {
		// The chart follows the interpolation between the steps.
		fine := o.everyH
		if fine == 0 || fine > 1 {
			fine = 1
		}
		chartRows, err := placeRows(fc, o.lon, o.lat, placeTimes(f, fine))
		if err != nil {
			return err
		}
		chart, err := plots.MeteogramChart(meteogram(fc, o, chartRows))
		if err != nil {
			return err
		}
		if err := writeChart(ctx, o.out, chart); err != nil {
			return err
		}
	}
	if o.json {
		known := make([]placeRow, 0, len(rows))
		for _, r := range rows {
			if r.known {
				known = append(known, r)
			}
		}
		return printJSON(s.out, struct {
			LatDeg   float64    `json:"lat_deg"`
			LonDeg   float64    `json:"lon_deg"`
			Members  int        `json:"members"` // of an ensemble, 0: none
			Samples  []placeRow `json:"samples"`
			Warnings []string   `json:"warnings"`
			Inputs   []input    `json:"inputs"`
			Version  string     `json:"version"`
		}{o.lat, o.lon, ensembleSize(fc), known, append([]string{}, fc.Warnings...), forecastInputs(fc.Inputs), version()})
	}
	printPlace(s, fc, rows)
	if o.out != "" {
		fmt.Fprintf(s.out, "\nWrote %s.\n", o.out)
	}
	return nil
}

func printPlace(s streams, fc *weather.Forecast, rows []placeRow) {
	head := []string{"<time (UTC)", "wind kn", "from °", "gust kn", "sea m", "period s", "from °", "set kn", "to °", "hPa"}
	ensemble := ensembleSize(fc) > 0
	if ensemble {
		head = slices.Insert(head, 2, "10–90 %")
	}
	opt := func(v *float64, format string) string {
		if v == nil {
			return "-"
		}
		return fmt.Sprintf(format, *v)
	}
	var cells [][]string
	for _, r := range rows {
		if !r.known {
			continue
		}
		c := []string{r.Valid.UTC().Format("2006-01-02 15:04"), fmt.Sprintf("%.1f", r.TWSKn), fmt.Sprintf("%.0f", r.WindFromDeg),
			opt(r.GustKn, "%.1f"), opt(r.HsM, "%.1f"), opt(r.WavePeriodS, "%.1f"), opt(r.WaveFromDeg, "%.0f"), opt(r.CurrentKn, "%.1f"), opt(r.CurrentTo, "%.0f"), opt(r.PressureHPa, "%.0f")}
		if ensemble {
			c = slices.Insert(c, 2, opt(r.TWSLowKn, "%.0f")+"–"+opt(r.TWSHighKn, "%.0f"))
		}
		cells = append(cells, c)
	}
	table(s.out, head, cells)
	for _, w := range fc.Warnings {
		fmt.Fprintln(s.out, wrap("warning: "+w, 78, "  "))
	}
}

// ensembleSize is the number of members, 0 for a single forecast.
func ensembleSize(fc *weather.Forecast) int {
	if n := len(fc.Members); n > 1 {
		return n
	}
	return 0
}

// placeTimes are the forecast's steps, or equal intervals from the first to the
// last.
func placeTimes(f *weather.Field, everyH float64) []time.Time {
	if everyH == 0 {
		return f.Steps()
	}
	first, last := f.SpanS()
	var out []time.Time
	for k := 0; ; k++ {
		t := first + float64(k)*everyH*units.SPerHour
		if t > last+1 {
			return out
		}
		out = append(out, f.Reference().Add(time.Duration(math.Round(t))*time.Second))
	}
}

// placeRows asks the forecast at a place. Times without weather are not known;
// the error is for a place at which nothing is.
func placeRows(fc *weather.Forecast, lonDeg, latDeg float64, times []time.Time) ([]placeRow, error) {
	f := fc.Main()
	rows := make([]placeRow, len(times))
	var missing error
	any := false
	for i, a := range weather.Series(f, lonDeg, latDeg, times) {
		if a.Err != nil {
			missing = a.Err
			rows[i].Valid = a.Valid
			continue
		}
		any = true
		rows[i] = placeRow{SampleRow: a.Row(f.Variables()), known: true}
	}
	if !any && missing != nil {
		return nil, missing
	}
	if ensembleSize(fc) == 0 {
		return rows, nil
	}
	tws, hs := make([][]float64, len(times)), make([][]float64, len(times))
	for _, m := range fc.Members {
		for i, a := range weather.Series(m, lonDeg, latDeg, times) {
			if a.Err == nil {
				tws[i] = append(tws[i], units.Knots(a.Sample.TWSMS()))
				hs[i] = append(hs[i], a.Sample.HsM)
			}
		}
	}
	for i := range rows {
		if len(tws[i]) < 2 || !rows[i].known {
			continue
		}
		rows[i].TWSLowKn, rows[i].TWSHighKn = tenths(tws[i])
		if rows[i].HsM != nil {
			rows[i].HsLowM, rows[i].HsHighM = tenths(hs[i])
		}
	}
	return rows, nil
}

// tenths are the values that a tenth of the members stay below and above,
// linear between ranked values.
func tenths(v []float64) (low, high *float64) {
	slices.Sort(v)
	at := func(q float64) *float64 {
		x := q * float64(len(v)-1)
		i := min(int(x), len(v)-2)
		y := v[i] + (x-float64(i))*(v[i+1]-v[i])
		return &y
	}
	return at(0.1), at(0.9)
}

// meteogram turns rows into a chart's data.
func meteogram(fc *weather.Forecast, o *atOptions, rows []placeRow) *plots.Meteogram {
	f := fc.Main()
	d := &plots.Meteogram{LatDeg: o.lat, Members: ensembleSize(fc)}
	optional := func(dst *[]float64, v *float64) {
		x := math.NaN()
		if v != nil {
			x = *v
		}
		*dst = append(*dst, x)
	}
	for _, r := range rows {
		d.Times = append(d.Times, r.Valid)
		tws, from := r.TWSKn, r.WindFromDeg
		if !r.known {
			tws, from = math.NaN(), math.NaN()
		}
		d.TWSKn, d.WindFromDeg = append(d.TWSKn, tws), append(d.WindFromDeg, from)
		optional(&d.GustKn, r.GustKn)
		optional(&d.HsM, r.HsM)
		optional(&d.PeriodS, r.WavePeriodS)
		optional(&d.WaveFromDeg, r.WaveFromDeg)
		optional(&d.CurrentKn, r.CurrentKn)
		optional(&d.CurrentToDeg, r.CurrentTo)
		optional(&d.PressureHPa, r.PressureHPa)
		optional(&d.TWSLowKn, r.TWSLowKn)
		optional(&d.TWSHighKn, r.TWSHighKn)
		optional(&d.HsLowM, r.HsLowM)
		optional(&d.HsHighM, r.HsHighM)
	}
	if f.WavesDerived() {
		d.Note = "The waves are derived from the wind."
	}
	d.Title = fmt.Sprintf("Forecast at %s %s", degreesOf(o.lat, "N", "S"), degreesOf(units.Wrap180(o.lon), "E", "W"))
	if n := len(d.Times); n > 0 {
		d.Title += fmt.Sprintf(", %s to %s UTC", d.Times[0].Format("2 Jan 2006 15:04"), d.Times[n-1].Format("2 Jan 15:04"))
	}
	return d
}

func degreesOf(deg float64, pos, neg string) string {
	if deg < 0 {
		return fmt.Sprintf("%.2f°%s", -deg, neg)
	}
	return fmt.Sprintf("%.2f°%s", deg, pos)
}
