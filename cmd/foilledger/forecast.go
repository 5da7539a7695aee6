package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"foilledger/weather"
)

func forecastCommand() *cli.Command {
	return &cli.Command{
		Name:        "forecast",
		Usage:       "look into forecast files, or make weather",
		Description: "Examples:\n\n   foilledger forecast show wind.grib2\n   foilledger forecast at --lat 45 --lon -30 --out place.svg \\\n      wind.grib2 waves.grib2\n   foilledger forecast map --at 2026-03-01T12:00:00Z --out map.png wind.grib2\n   foilledger forecast make --kind low --out made.grib2\n\n" + readingRules + "\n\n" + exitCodes,
		Action:      needsSubcommand,
		Subcommands: []*cli.Command{showCommand(), atCommand(), mapCommand(), makeCommand()},
	}
}

// readingRules stands in the help of the commands that read forecasts.
const readingRules = "GRIB 1, GRIB 2 and classic NetCDF are told apart by content. Several files,\nfolders and patterns make one forecast: for each variable and valid time the\nnewest run rules, of equal runs the file given first; where grids of different\nresolution overlap, the newest run, of equal runs the finest. Ensemble members\nare known by the numbers in the messages, or, where files carry none, by\n--members \"PATTERN\": each file whose name matches is one member."

// fileArguments are the files, folders and patterns after the options.
func fileArguments(c *cli.Context) ([]string, error) {
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

func showCommand() *cli.Command {
	var asJSON bool
	return &cli.Command{
		Name: "show", Usage: "what is in forecast files", ArgsUsage: "FILE…",
		Description: "Variables, times, members, grids, templates and packing of each field, with the\nnumber of missing points and the least, mean and largest value. Fields that\ncannot be decoded are named with the reason.\n\nExample:\n\n   foilledger forecast show wind.grib2\n\n" + exitCodes,
		Flags:       []cli.Flag{&cli.BoolFlag{Name: "json", Usage: "print the result as one JSON object on stdout", Destination: &asJSON}},
		Action: func(c *cli.Context) error {
			names, err := fileArguments(c)
			if err != nil {
				return err
			}
			return forecastShow(c.Context, names, asJSON, streams{out: c.App.Writer, errOut: c.App.ErrWriter})
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
			Inputs   []input                `json:"inputs"`
			Version  string                 `json:"version"`
		}{d.Fields, append([]string{}, d.Warnings...), forecastInputs(d.Inputs), version()})
	}
	var rows [][]string
	last := ""
	for _, f := range d.Fields {
		if name := filepath.Base(f.File); name != last {
			last = name
			rows = append(rows, []string{name, "", "", "", "", "", "", ""})
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
		rows = append(rows, []string{"  " + name, f.Unit, f.Valid.UTC().Format("2006-01-02 15:04"), member, fmt.Sprint(f.Missing), num(f.Min), num(f.Mean), num(f.Max)})
	}
	table(s.out, []string{"<variable", "<unit", "<valid (UTC)", "member", "missing", "min", "mean", "max"}, rows)
	fmt.Fprintln(s.out)
	for _, l := range codings(d.Fields) {
		fmt.Fprintln(s.out, wrap(l, 78, "  "))
	}
	for _, w := range d.Warnings {
		fmt.Fprintln(s.out, wrap("warning: "+w, 78, "  "))
	}
	return nil
}

// forecastInputs are the files of a forecast as results name them.
func forecastInputs(files []weather.Input) []input {
	out := []input{}
	for _, in := range files {
		out = append(out, input{in.File, in.SHA256})
	}
	return out
}

// codings says how the fields are coded, one line for each way.
func codings(fields []weather.FieldSummary) []string {
	type coding struct{ grid, packing, product, refused string }
	count, order := map[coding]int{}, []coding{}
	for _, f := range fields {
		k := coding{f.Grid, f.Packing, f.Product, f.Refused}
		if count[k]++; count[k] == 1 {
			order = append(order, k)
		}
	}
	var out []string
	for _, k := range order {
		fields := "fields"
		if count[k] == 1 {
			fields = "field"
		}
		l := fmt.Sprintf("%d %s: grid %s; packing %s", count[k], fields, k.grid, k.packing)
		if k.product != "" {
			l += "; product " + k.product
		}
		if k.refused != "" {
			l += "; refused: " + k.refused
		}
		out = append(out, l)
	}
	return out
}
