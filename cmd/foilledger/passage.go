package main

import (
	"context"
	"os"
	"path/filepath"
	"time"

	"github.com/urfave/cli/v2"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// passageOptions is one question of the passage command.
type passageOptions struct {
	common
	boat      string
	forecast  []string
	depart    string
	via       string
	track     string
	out       string
	afterEnd  string
	stageNM   float64
	corridor  float64
	leastMin  float64
	zone      string
	schedule  string
	members   string // pattern of files that are one ensemble member each
	refine    bool
	person    personOptions
	title     string
	departure time.Time
	words     []string // the command line, for the record
}

// common holds the options that every computing command has.
type common struct {
	json  bool
	quiet bool
	cache string
}

func commonFlags(c *common) []cli.Flag {
	return []cli.Flag{
		&cli.BoolFlag{Name: "json", Usage: "print the result as one JSON object on stdout", Destination: &c.json},
		&cli.BoolFlag{Name: "quiet", Aliases: []string{"q"}, Usage: "print only the short answer", Destination: &c.quiet},
		&cli.StringFlag{Name: "cache", Usage: "folder for computed speed tables; \"none\" computes afresh", Destination: &c.cache, DefaultText: "the user's cache folder"},
	}
}

func passageFlags(o *passageOptions) []cli.Flag {
	flags := append([]cli.Flag{
		&cli.StringFlag{Name: "out", Usage: "folder for charts, page, log and track", Destination: &o.out},
		&cli.StringFlag{Name: "after-end", Usage: "when the forecast ends before the arrival: refuse, or hold the last step's weather", Value: "refuse", Destination: &o.afterEnd},
		&cli.Float64Flag{Name: "stage", Usage: "longest stage, nautical miles; foils change only between stages", Value: 10, Destination: &o.stageNM},
		&cli.Float64Flag{Name: "corridor", Usage: "width of the corridor for beating and gybing, nautical miles", Value: 20, Destination: &o.corridor},
		&cli.Float64Flag{Name: "least-gain", Usage: "leave out changes that gain less than this many minutes; 0 keeps the exact optimum", Value: 3, Destination: &o.leastMin},
		&cli.StringFlag{Name: "zone", Usage: "time zone shown beside UTC, for instance Europe/Lisbon or local", Destination: &o.zone},
		&cli.StringFlag{Name: "schedule", Usage: "CSV file of times or places and actions by hand, priced and compared with the plan; " + scheduleName + " in --out is one to edit", Destination: &o.schedule},
		&cli.BoolFlag{Name: "refine", Usage: "measure the error of the plan's steps by planning again with finer ones", Destination: &o.refine},
	}, personFlags(&o.person)...)
	return append(flags, commonFlags(&o.common)...)
}

// readPassageFlags takes what flags with destinations cannot hold, and checks
// what passages share.
func readPassageFlags(c *cli.Context, o *passageOptions) error {
	o.words = os.Args
	if err := o.person.read(c); err != nil {
		return err
	}
	return o.validateShared()
}

func passageCommand() *cli.Command {
	var o passageOptions
	return &cli.Command{
		Name:  "passage",
		Usage: "plan the foils along a given track in a forecast",
		Description: "Example:\n\n   foilledger passage --boat boat.toml --forecast wind.grib2 \\\n      --via \"47.0,-6.0; 44.0,-20.0; 38.5,-28.0\" \\\n      --depart 2026-03-01T06:00:00Z --out plan\n\n" +
			exitCodes,
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "boat", Usage: "boat file (TOML)", Destination: &o.boat},
			&cli.StringSliceFlag{Name: "forecast", Usage: "forecast file, folder or pattern (GRIB 1, GRIB 2, NetCDF); may be repeated"},
			&cli.StringFlag{Name: "members", Usage: "pattern of forecast files that are one ensemble member each, for ensembles whose files do not say so", Destination: &o.members},
			&cli.StringFlag{Name: "depart", Usage: "departure, RFC 3339 in UTC", DefaultText: "the forecast's first step", Destination: &o.depart},
			&cli.StringFlag{Name: "via", Usage: "waypoints \"lat,lon; lat,lon; …\", start and finish included", Destination: &o.via},
			&cli.StringFlag{Name: "track", Usage: "track file (GPX route or track, GeoJSON LineString)", Destination: &o.track},
		}, passageFlags(&o)...),
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			o.forecast = c.StringSlice("forecast")
			if err := readPassageFlags(c, &o); err != nil {
				return err
			}
			if err := o.validate(); err != nil {
				return err
			}
			return runPassage(c.Context, &o, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

// validate checks everything that can be checked before files are read.
func (o *passageOptions) validate() error {
	const see = "run foilledger passage --help for an example"
	switch {
	case o.boat == "":
		return usage("give a boat file with --boat; foilledger boat --new boat.toml writes one to start from", "no boat file given")
	case len(o.forecast) == 0:
		return usage("give a forecast file, folder or pattern with --forecast", "no forecast given")
	case o.via == "" && o.track == "":
		return usage("give waypoints with --via \"lat,lon; lat,lon\" or a file with --track", "no track given")
	case o.via != "" && o.track != "":
		return usage("use one of the two", "both --via and --track given")
	}
	if o.depart == "" {
		return nil
	}
	t, err := time.Parse(time.RFC3339, o.depart)
	if err != nil {
		return usage("write it as 2026-03-01T06:00:00Z; "+see, "departure %q is not a time", o.depart)
	}
	o.departure = t.UTC()
	return nil
}

func (o *passageOptions) validateShared() error {
	if o.afterEnd != "refuse" && o.afterEnd != "hold" {
		return usage("", "--after-end %q: must be refuse or hold", o.afterEnd)
	}
	if !(o.stageNM >= 1 && o.stageNM <= 200) {
		return usage("", "--stage %g: must be from 1 to 200 nautical miles", o.stageNM)
	}
	if !(o.corridor >= 1 && o.corridor <= 500) {
		return usage("", "--corridor %g: must be from 1 to 500 nautical miles", o.corridor)
	}
	if !(o.leastMin >= 0 && o.leastMin <= 600) {
		return usage("", "--least-gain %g: must be from 0 to 600 minutes", o.leastMin)
	}
	if o.zone != "" {
		if _, err := loadZone(o.zone); err != nil {
			return usage("use a name such as Europe/Lisbon, local or UTC", "--zone %q is not a known time zone", o.zone)
		}
	}
	return nil
}

func loadZone(name string) (*time.Location, error) {
	if name == "local" {
		return time.Local, nil
	}
	return time.LoadLocation(name)
}

// runPassage answers one question: it reads as the method does.
func runPassage(ctx context.Context, o *passageOptions, s streams) error {
	boat, boatInput, err := readBoat(o.boat)
	if err != nil {
		return err
	}
	track, trackInputs, err := readTrack(o.via, o.track)
	if err != nil {
		return err
	}
	forecast, err := loadAlong(ctx, o.forecast, o.members, track, o.corridor, o.departure)
	if err != nil {
		return err
	}
	if err := covers(forecast, alongTrack(track), o.departure); err != nil {
		return err
	}
	inputs := append([]input{boatInput}, trackInputs...)
	for _, in := range forecast.Inputs {
		inputs = append(inputs, input{in.File, in.SHA256})
	}
	q := &question{options: o, boat: boat, track: track, forecast: forecast, inputs: inputs}
	return answer(ctx, q, s)
}

// question is a passage to be planned, with everything read and checked.
type question struct {
	options  *passageOptions
	boat     *vpp.Boat
	track    *route.Track
	forecast *weather.Forecast
	inputs   []input
	hand     []strategy.HandAction // a schedule given by hand; nil without
}

// readOwn reads the files that any passage may have beside its own.
func (q *question) readOwn() error {
	hand, in, err := readHand(q.options.schedule)
	if err != nil {
		return err
	}
	q.hand = hand
	if in != nil {
		q.inputs = append(q.inputs, *in)
	}
	rests, err := q.options.person.restInputs()
	q.inputs = append(q.inputs, rests...)
	return err
}

// answer plans the passage and prints and writes what came of it.
func answer(ctx context.Context, q *question, s streams) error {
	if err := q.readOwn(); err != nil {
		return err
	}
	var dest *folder
	if q.options.out != "" {
		var err error
		if dest, err = newFolder(q.options.out); err != nil {
			return err
		}
		defer dest.discard()
	}
	fleet, err := buildFleet(ctx, q.boat, q.options.cache, newProgress(s))
	if err != nil {
		return err
	}
	res, err := plan(ctx, q, fleet, newProgress(s))
	if err != nil {
		return err
	}
	if dest != nil {
		done := newProgress(s).start("charts and page")
		err := writeResult(ctx, dest, q, res)
		if done(); err != nil {
			return err
		}
	}
	return printResult(s, q, res)
}

// readBoat reads a boat file.
func readBoat(path string) (*vpp.Boat, input, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, input{}, err
	}
	boat, err := vpp.LoadBoat(data, path)
	if err != nil {
		return nil, input{}, err
	}
	return boat, input{filepath.Base(path), sha256Hex(data)}, nil
}

// readTrack reads waypoints from the command line or a file.
func readTrack(via, path string) (*route.Track, []input, error) {
	if via != "" {
		points, err := route.ParseVia(via)
		if err != nil {
			return nil, nil, usage("write --via \"lat,lon; lat,lon; …\" in degrees, south and west negative", "--via: %w", err)
		}
		t, err := route.NewTrack(points)
		if err != nil {
			return nil, nil, usage("write --via \"lat,lon; lat,lon; …\" in degrees, south and west negative", "--via: %w", err)
		}
		return t, nil, nil
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, err
	}
	t, err := route.DecodeTrack(data)
	if err != nil {
		return nil, nil, usage("use a GPX route or track, or a GeoJSON LineString", "%s: %w", path, err)
	}
	return t, []input{{filepath.Base(path), sha256Hex(data)}}, nil
}

// departS is the departure in seconds after the forecast's reference.
func (q *question) departS(src weather.Source) (float64, error) {
	first, last := src.SpanS()
	if q.options.departure.IsZero() {
		q.options.departure = src.Reference().Add(time.Duration(first * float64(time.Second))).UTC()
		return first, nil
	}
	t := q.options.departure.Sub(src.Reference()).Seconds()
	at := func(s float64) time.Time { return src.Reference().Add(time.Duration(s * float64(time.Second))) }
	if t < first {
		return 0, departsEarly(q.options.departure, at(first))
	}
	if t >= last {
		return 0, departsLate(q.options.departure, at(last))
	}
	return t, nil
}

// strategyOptions turns the command's options into the planner's.
func (q *question) strategyOptions(f *weather.Field) strategy.Options {
	opt := strategy.Options{
		StageM:         q.options.stageNM * units.MPerNM,
		CorridorM:      q.options.corridor * units.MPerNM,
		WaveDirections: f.Variables().Has(weather.HasWaveDirection),
	}
	q.options.person.setOptions(&opt, q.forecast, q.options.afterEnd == "hold")
	return opt
}
