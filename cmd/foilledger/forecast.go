package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/urfave/cli/v2"

	"foilledger/weather"
	"foilledger/weather/grib"
	"foilledger/weather/grid"
	"foilledger/weather/synth"
)

type forecastOptions struct {
	lat, lon float64
	recipe   string
	out      string
	json     bool
}

func forecastCommand() *cli.Command {
	var o forecastOptions
	jsonFlag := &cli.BoolFlag{Name: "json", Usage: "print the result as one JSON object on stdout", Destination: &o.json}
	out := func(c *cli.Context) streams { return streams{out: c.App.Writer, errOut: c.App.ErrWriter} }
	files := func(c *cli.Context) ([]string, error) {
		if !c.Args().Present() {
			return nil, usage("name files, folders or patterns after the options", "no forecast file given")
		}
		for _, a := range c.Args().Slice() {
			if strings.HasPrefix(a, "-") {
				return nil, usage("options go before the files", "unexpected %q after the files", a)
			}
		}
		return c.Args().Slice(), nil
	}
	return &cli.Command{
		Name:        "forecast",
		Usage:       "look into forecast files, or make weather",
		Description: exitCodes,
		Subcommands: []*cli.Command{
			{
				Name: "show", Usage: "what is in forecast files", ArgsUsage: "FILE…",
				Description: "Example:\n\n   foilledger forecast show wind.grib2",
				Flags:       []cli.Flag{jsonFlag},
				Action: func(c *cli.Context) error {
					names, err := files(c)
					if err != nil {
						return err
					}
					return forecastShow(c.Context, names, o.json, out(c))
				},
			},
			{
				Name: "at", Usage: "wind and sea at a place over time", ArgsUsage: "FILE…",
				Description: "Example:\n\n   foilledger forecast at --lat 45 --lon -30 wind.grib2",
				Flags: []cli.Flag{
					&cli.Float64Flag{Name: "lat", Usage: "latitude, degrees north", Destination: &o.lat},
					&cli.Float64Flag{Name: "lon", Usage: "longitude, degrees east", Destination: &o.lon},
					jsonFlag,
				},
				Action: func(c *cli.Context) error {
					names, err := files(c)
					if err != nil {
						return err
					}
					if !c.IsSet("lat") || !c.IsSet("lon") {
						return usage("give both --lat and --lon", "no place given")
					}
					if !(o.lat >= -90 && o.lat <= 90 && o.lon >= -360 && o.lon <= 360) {
						return usage("latitude −90 to 90, longitude −180 to 180", "place %g, %g is not on the Earth", o.lat, o.lon)
					}
					return forecastAt(c.Context, names, &o, out(c))
				},
			},
			{
				Name: "make", Usage: "make weather from a recipe (TOML) as a GRIB 2 file",
				Description: "Example:\n\n   foilledger forecast make --recipe weather.toml --out made.grib2",
				Flags: []cli.Flag{
					&cli.StringFlag{Name: "recipe", Usage: "recipe file; testdata/demo/weather.toml is one", Destination: &o.recipe},
					&cli.StringFlag{Name: "out", Usage: "GRIB 2 file to write", Destination: &o.out},
				},
				Action: func(c *cli.Context) error {
					if err := noArguments(c); err != nil {
						return err
					}
					if o.recipe == "" || o.out == "" {
						return usage("give --recipe FILE and --out FILE", "nothing to make")
					}
					return forecastMake(&o, out(c))
				},
			},
		},
	}
}

func forecastShow(ctx context.Context, names []string, asJSON bool, s streams) error {
	d, err := weather.Describe(ctx, names)
	if err != nil {
		return err
	}
	if asJSON {
		return printJSON(s.out, struct {
			Fields   []weather.FieldSummary `json:"fields"`
			Warnings []string               `json:"warnings"`
			Version  string                 `json:"version"`
		}{d.Fields, append([]string{}, d.Warnings...), version()})
	}
	var rows [][]string
	last := ""
	for _, f := range d.Fields {
		if name := filepath.Base(f.File); name != last {
			last = name
			rows = append(rows, []string{name, "", "", "", "", "", ""})
		}
		num := func(v *float64) string {
			if v == nil {
				return "-"
			}
			return fmt.Sprintf("%.4g", *v)
		}
		member := "-"
		if f.Member >= 0 {
			member = fmt.Sprint(f.Member)
		}
		name := f.Variable
		if f.Refused != "" {
			name += " (refused)"
		}
		rows = append(rows, []string{"  " + name, f.Valid.UTC().Format("2006-01-02 15:04"), member, fmt.Sprint(f.Missing), num(f.Min), num(f.Mean), num(f.Max)})
	}
	table(s.out, []string{"<variable", "<valid (UTC)", "member", "missing", "min", "mean", "max"}, rows)
	if n := len(d.Fields); n > 0 {
		f := d.Fields[0]
		fmt.Fprintf(s.out, "\n%d fields; the first: %s, %s\n", n, f.Grid, f.Packing)
	}
	for _, w := range d.Warnings {
		fmt.Fprintln(s.out, wrap("warning: "+w, 78, "  "))
	}
	return nil
}

func forecastAt(ctx context.Context, names []string, o *forecastOptions, s streams) error {
	fc, err := weather.Load(ctx, names, weather.Options{})
	if err != nil {
		return err
	}
	f := fc.Main()
	rows := []weather.SampleRow{}
	var missing error
	for _, a := range weather.Series(f, o.lon, o.lat, f.Steps()) {
		if a.Err != nil {
			missing = a.Err
			continue
		}
		rows = append(rows, a.Row(f.Variables()))
	}
	if len(rows) == 0 && missing != nil {
		return missing
	}
	if o.json {
		return printJSON(s.out, struct {
			LatDeg   float64             `json:"lat_deg"`
			LonDeg   float64             `json:"lon_deg"`
			Samples  []weather.SampleRow `json:"samples"`
			Warnings []string            `json:"warnings"`
			Version  string              `json:"version"`
		}{o.lat, o.lon, rows, append([]string{}, fc.Warnings...), version()})
	}
	var cells [][]string
	for _, r := range rows {
		opt := func(v *float64, format string) string {
			if v == nil {
				return "-"
			}
			return fmt.Sprintf(format, *v)
		}
		cells = append(cells, []string{r.Valid.UTC().Format("2006-01-02 15:04"), fmt.Sprintf("%.1f", r.TWSKn), fmt.Sprintf("%.0f", r.WindFromDeg),
			opt(r.GustKn, "%.1f"), opt(r.HsM, "%.1f"), opt(r.WavePeriodS, "%.1f"), opt(r.WaveFromDeg, "%.0f"), opt(r.CurrentKn, "%.1f"), opt(r.PressureHPa, "%.0f")})
	}
	table(s.out, []string{"<time (UTC)", "wind kn", "from °", "gust kn", "sea m", "period s", "from °", "set kn", "hPa"}, cells)
	for _, w := range fc.Warnings {
		fmt.Fprintln(s.out, wrap("warning: "+w, 78, "  "))
	}
	return nil
}

// forecastMake writes made weather. The file appears whole or not at all.
func forecastMake(o *forecastOptions, s streams) error {
	text, err := os.ReadFile(o.recipe)
	if err != nil {
		return err
	}
	var r synth.Recipe
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(&r); err != nil {
		var strict *toml.StrictMissingError
		if errors.As(err, &strict) {
			return usage("testdata/demo/weather.toml shows the keys", "%s: unknown key:\n%s", o.recipe, strict.String())
		}
		return usage("testdata/demo/weather.toml shows the keys", "%s: %w", o.recipe, err)
	}
	fields, err := r.Fields()
	if err != nil {
		return usage("testdata/demo/weather.toml shows the keys", "%s: %w", o.recipe, err)
	}
	members := map[int]bool{}
	for _, f := range fields {
		members[f.Member] = true
	}
	dest, err := newFolder(filepath.Dir(o.out))
	if err != nil {
		return err
	}
	defer dest.discard()
	if err := dest.write(filepath.Base(o.out), func(w io.Writer) error {
		for _, f := range fields {
			opt := grib.EncodeOptions{Bits: 12}
			if f.Member >= 0 {
				opt.Members = len(members)
			}
			if err := grib.Encode2(w, []*grid.Field{f}, opt); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		return err
	}
	if err := dest.commit(context.Background()); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "Wrote %s: %d fields. This weather is made, not forecast.\n", o.out, len(fields))
	return nil
}
