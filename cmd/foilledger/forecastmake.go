package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/urfave/cli/v2"

	"foilledger/route"
	"foilledger/weather"
	"foilledger/weather/grib"
	"foilledger/weather/grid"
	"foilledger/weather/synth"
)

// makeOptions is one request for made weather: a recipe file, or a kind of
// weather with what is to be changed of it.
type makeOptions struct {
	recipe, kind, out, saveRecipe string
	area, start, centres, coast   string
	packing                       string
	ensemble                      int
	seed                          uint64
	changes                       map[string]float64 // by option
}

func makeDescription() string {
	var b strings.Builder
	b.WriteString("Made weather for drills, demonstrations and tests. Kinds:\n\n")
	for _, k := range synth.Kinds {
		fmt.Fprintf(&b, "   %-11s %s\n", k.Name, strings.ReplaceAll(wrap(k.What, helpWidth-15, ""), "\n", "\n               "))
	}
	b.WriteString("\nThe options change the numbers of a kind; a recipe (TOML) may combine any\nsystems, and --save-recipe writes one to start from. --ensemble adds members\naround the base, with errors of position, depth, speed and direction that grow\nwith time.\n\nExamples:\n\n" +
		"   foilledger forecast make --kind steady --wind 18 --wind-from 240 \\\n      --out steady.grib2\n" +
		"   foilledger forecast make --kind turning --turn 4 --hours 48 \\\n      --out turning.grib2\n" +
		"   foilledger forecast make --kind swinging --swing 25 --swing-hours 8 \\\n      --out swinging.grib2\n" +
		"   foilledger forecast make --kind sea-breeze --breeze 18 \\\n      --coast \"43.0,-9.0\" --inland 90 --out breeze.grib2\n" +
		"   foilledger forecast make --kind trade --wind 20 --squall-kn 18 \\\n      --out trade.grib2\n" +
		"   foilledger forecast make --kind low --radius 150 \\\n      --centres \"0,44,-42,990; 48,49,-12,972\" --out low.grib2\n" +
		"   foilledger forecast make --kind front --front-jump 30 \\\n      --area \"38,-40; 56,-8\" --out front.grib2\n" +
		"   foilledger forecast make --kind low --ensemble 20 --seed 7 \\\n      --out lows.grib2\n" +
		"   foilledger forecast make --recipe weather.toml --out made.grib2\n\n" + exitCodes)
	return b.String()
}

func makeCommand() *cli.Command {
	var o makeOptions
	flags := []cli.Flag{
		&cli.StringFlag{Name: "kind", Usage: "kind of weather, from the list above", Destination: &o.kind},
		&cli.StringFlag{Name: "recipe", Usage: "recipe file in place of a kind", Destination: &o.recipe},
		&cli.StringFlag{Name: "out", Usage: "GRIB 2 file to write", Destination: &o.out},
		&cli.StringFlag{Name: "save-recipe", Usage: "also write the recipe to this file", Destination: &o.saveRecipe},
		&cli.StringFlag{Name: "area", Usage: "south-western and north-eastern corner, \"lat,lon; lat,lon\"", DefaultText: "the kind's own", Destination: &o.area},
		&cli.StringFlag{Name: "start", Usage: "first step, RFC 3339 in UTC", DefaultText: "2030-05-01T00:00:00Z", Destination: &o.start},
		&cli.StringFlag{Name: "centres", Usage: "low: where its centre is and how deep, \"hour,lat,lon,hPa; …\"", Destination: &o.centres},
		&cli.StringFlag{Name: "coast", Usage: "sea breeze: a point of the coast, \"lat,lon\"", Destination: &o.coast},
		&cli.IntFlag{Name: "ensemble", Usage: "members beside the control run; 0 makes a single forecast", Destination: &o.ensemble},
		&cli.Uint64Flag{Name: "seed", Usage: "seed of the members and of the squalls", Destination: &o.seed},
		&cli.StringFlag{Name: "packing", Usage: "how values are stored: " + strings.Join(packingNames(), ", "), Value: grib.PackSimple.String(), Destination: &o.packing},
	}
	for _, ch := range makeChanges {
		flags = append(flags, &cli.Float64Flag{Name: ch.name, Usage: ch.usage, DefaultText: "the kind's own"})
	}
	return &cli.Command{
		Name: "make", Usage: "make weather, from options or from a recipe, as a GRIB 2 file",
		Description: makeDescription(),
		Flags:       flags,
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			o.changes = map[string]float64{}
			for _, ch := range makeChanges {
				if c.IsSet(ch.name) {
					o.changes[ch.name] = c.Float64(ch.name)
				}
			}
			if err := o.validate(); err != nil {
				return err
			}
			return forecastMake(c.Context, &o, streams{out: c.App.Writer, errOut: c.App.ErrWriter})
		},
	}
}

func packingNames() []string {
	var names []string
	for p := grib.PackSimple; p <= grib.PackCCSDS; p++ {
		names = append(names, p.String())
	}
	return names
}

func packingOf(name string) (grib.Packing, bool) {
	for i, n := range packingNames() {
		if n == name {
			return grib.PackSimple + grib.Packing(i), true
		}
	}
	return 0, false
}

func (o *makeOptions) validate() error {
	const see = "run foilledger forecast make --help for the kinds and examples"
	switch {
	case o.out == "":
		return usage("give --out FILE", "no file to write")
	case o.kind == "" && o.recipe == "":
		return usage(see, "give --kind or --recipe")
	case o.kind != "" && o.recipe != "":
		return usage("use one of the two", "both --kind and --recipe given")
	case o.recipe != "" && (len(o.changes) > 0 || o.area != "" || o.start != "" || o.centres != "" || o.coast != ""):
		return usage("change the recipe file instead", "options that change a kind do not go with --recipe")
	case o.ensemble < 0 || o.ensemble > 1000:
		return usage("", "--ensemble %d: must be from 0 to 1000", o.ensemble)
	}
	if _, ok := packingOf(o.packing); !ok {
		return usage("use one of "+strings.Join(packingNames(), ", "), "--packing %q is not known", o.packing)
	}
	return nil
}

// makeRecipe reads the recipe, or builds it from the options.
func (o *makeOptions) makeRecipe() (*synth.Recipe, error) {
	var r *synth.Recipe
	var err error
	if o.recipe != "" {
		if r, err = readRecipe(o.recipe); err != nil {
			return nil, err
		}
	} else if r, err = o.fromKind(); err != nil {
		return nil, err
	}
	if o.ensemble > 0 {
		r.Ensemble.Members = o.ensemble
	}
	if o.seed > 0 {
		r.Ensemble.Seed = o.seed
	}
	return r, nil
}

func (o *makeOptions) fromKind() (*synth.Recipe, error) {
	var box *[4]float64
	if o.area != "" {
		b, err := parseArea(o.area)
		if err != nil {
			return nil, err
		}
		box = &[4]float64{b.South, b.West, b.North, b.West + b.WidthDeg}
	}
	r, err := synth.Starter(o.kind, box)
	if err != nil {
		return nil, usage("run foilledger forecast make --help for the kinds", "--kind: %w", err)
	}
	if o.start != "" {
		t, err := time.Parse(time.RFC3339, o.start)
		if err != nil {
			return nil, usage("write it as 2030-05-01T00:00:00Z", "--start %q is not a time", o.start)
		}
		r.Start = t.UTC()
	}
	if o.centres != "" {
		if len(r.Low) == 0 {
			return nil, usage("use --kind low or front", "--centres does not go with --kind %s", o.kind)
		}
		if r.Low[0].Fix, err = parseCentres(o.centres); err != nil {
			return nil, err
		}
	}
	if o.coast != "" {
		if len(r.SeaBreeze) == 0 {
			return nil, usage("use --kind sea-breeze", "--coast does not go with --kind %s", o.kind)
		}
		p, err := route.ParseVia(o.coast)
		if err != nil || len(p) != 1 {
			return nil, usage("write --coast \"lat,lon\" in degrees, south and west negative", "--coast %q is not a place", o.coast)
		}
		r.SeaBreeze[0].LonDeg, r.SeaBreeze[0].LatDeg = p[0][0], p[0][1]
	}
	for _, ch := range makeChanges {
		if v, ok := o.changes[ch.name]; ok && !ch.apply(r, v) {
			return nil, usage("run foilledger forecast make --help for what goes with which kind", "--%s does not go with --kind %s", ch.name, o.kind)
		}
	}
	return r, nil
}

// parseArea reads two corners, "lat,lon; lat,lon".
func parseArea(s string) (weather.Bounds, error) {
	bad := func() error {
		return usage("write the south-western and the north-eastern corner, \"lat,lon; lat,lon\", in degrees, south and west negative", "--area %q is not an area", s)
	}
	p, err := route.ParseVia(s)
	if err != nil || len(p) != 2 || !(p[0][1] < p[1][1]) {
		return weather.Bounds{}, bad()
	}
	width := p[1][0] - p[0][0]
	if width <= 0 { // across the antimeridian
		width += 360
	}
	return weather.Bounds{South: p[0][1], North: p[1][1], West: p[0][0], WidthDeg: width}, nil
}

// parseCentres reads "hour,lat,lon,hPa; …".
func parseCentres(s string) ([]synth.FixRecipe, error) {
	var out []synth.FixRecipe
	for i, part := range strings.Split(strings.TrimRight(s, "; "), ";") {
		f := strings.Split(part, ",")
		var v [4]float64
		ok := len(f) == 4
		for k := range v {
			if !ok {
				break
			}
			x, err := strconv.ParseFloat(strings.TrimSpace(f[k]), 64)
			v[k], ok = x, err == nil && x-x == 0
		}
		if !ok {
			return nil, usage("write --centres \"hour,lat,lon,hPa; hour,lat,lon,hPa; …\"", "--centres: position %d, %q, is not four numbers", i+1, strings.TrimSpace(part))
		}
		out = append(out, synth.FixRecipe{Hour: v[0], LatDeg: v[1], LonDeg: v[2], HPa: v[3]})
	}
	return out, nil
}

const recipeHint = "testdata/demo/weather.toml shows the keys; --kind KIND --save-recipe FILE writes a recipe to start from"

func readRecipe(name string) (*synth.Recipe, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	var r synth.Recipe
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(&r); err != nil {
		var strict *toml.StrictMissingError
		var de *toml.DecodeError
		switch {
		case errors.As(err, &strict) && len(strict.Errors) > 0:
			line, _ := strict.Errors[0].Position()
			return nil, usage(recipeHint, "%s:%d: unknown key %s", name, line, strings.Join(strict.Errors[0].Key(), "."))
		case errors.As(err, &de):
			line, _ := de.Position()
			return nil, usage(recipeHint, "%s:%d: %s", name, line, strings.TrimPrefix(de.Error(), "toml: "))
		}
		return nil, usage(recipeHint, "%s: %w", name, err)
	}
	return &r, nil
}

// forecastMake writes made weather. Files appear whole or not at all.
func forecastMake(ctx context.Context, o *makeOptions, s streams) error {
	r, err := o.makeRecipe()
	if err != nil {
		return err
	}
	name := o.recipe
	if name == "" {
		name = "--kind " + o.kind
	}
	fields, err := r.Fields()
	if err != nil {
		return usage(recipeHint, "%s: %w", name, err)
	}
	members := map[int]bool{}
	for _, f := range fields {
		members[f.Member] = true
	}
	packing, _ := packingOf(o.packing)
	if err := writeFile(ctx, o.out, func(w io.Writer) error {
		for _, f := range fields {
			if err := ctx.Err(); err != nil {
				return err
			}
			opt := grib.EncodeOptions{Bits: 12, Packing: packing}
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
	if o.saveRecipe != "" {
		if err := writeFile(ctx, o.saveRecipe, func(w io.Writer) error { return toml.NewEncoder(w).Encode(r) }); err != nil {
			return err
		}
	}
	sh := r.Shape()
	fmt.Fprintf(s.out, "Wrote %s: %d fields on %d × %d points, %d steps", o.out, len(fields), sh.NLon, sh.NLat, len(r.TimesS()))
	if n := len(members); n > 1 {
		fmt.Fprintf(s.out, ", a control run and %d members", n-1)
	}
	fmt.Fprintln(s.out, ". This weather is made, not forecast.")
	return nil
}

// writeFile writes one file, whole or not at all.
func writeFile(ctx context.Context, name string, fill func(io.Writer) error) error {
	dest, err := newFolder(filepath.Dir(name))
	if err != nil {
		return err
	}
	defer dest.discard()
	if err := dest.write(filepath.Base(name), fill); err != nil {
		return err
	}
	return dest.commit(ctx)
}
