package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/strategy/trial"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// manyOptions say which passages and weathers a command runs over: every track
// in every weather.
type manyOptions struct {
	common
	vias, tracks []string
	backToo      bool
	forecast     []string
	each         bool
	made         string
	weathers     int
	seed         uint64
	depart       string
	until        string
	every        time.Duration
	afterEnd     string
	stageNM      float64
	corridor     float64
	workers      int
	out          string

	departure, end time.Time
}

func manyFlags(o *manyOptions) []cli.Flag {
	return append([]cli.Flag{
		&cli.StringSliceFlag{Name: "via", Usage: "waypoints \"lat,lon; lat,lon; …\" of a passage; may be repeated"},
		&cli.StringSliceFlag{Name: "track", Usage: "track file of a passage (GPX route or track, GeoJSON LineString); may be repeated"},
		&cli.BoolFlag{Name: "back-too", Usage: "sail every passage the other way as well", Destination: &o.backToo},
		&cli.StringSliceFlag{Name: "forecast", Usage: "weather to sail in: file, folder or pattern; each ensemble member is one weather; may be repeated"},
		&cli.BoolFlag{Name: "each", Usage: "every --forecast is a weather of its own", Destination: &o.each},
		&cli.StringFlag{Name: "made", Usage: "recipe (TOML) of made weather, drawn anew for each weather", Destination: &o.made},
		&cli.IntFlag{Name: "weathers", Usage: "number of made weathers", Value: 40, Destination: &o.weathers},
		&cli.Uint64Flag{Name: "seed", Usage: "seed of all that is drawn", Value: 1, Destination: &o.seed},
		&cli.StringFlag{Name: "depart", Usage: "departure, RFC 3339 in UTC", DefaultText: "the weather's first step", Destination: &o.depart},
		&cli.StringFlag{Name: "until", Usage: "last departure", DefaultText: "the weather's end", Destination: &o.until},
		&cli.DurationFlag{Name: "every", Usage: "time between departures, as 24h; without it there is one", Destination: &o.every},
		&cli.StringFlag{Name: "after-end", Usage: "when the weather ends before the arrival: refuse, or hold the last step's weather", Value: "refuse", Destination: &o.afterEnd},
		&cli.Float64Flag{Name: "stage", Usage: "longest stage, nautical miles; foils change only between stages", Value: 10, Destination: &o.stageNM},
		&cli.Float64Flag{Name: "corridor", Usage: "width of the corridor for beating and gybing, nautical miles", Value: 20, Destination: &o.corridor},
		&cli.IntFlag{Name: "workers", Usage: "passages at the same time", DefaultText: "the number of cores", Destination: &o.workers},
	}, commonFlags(&o.common)...)
}

// boatFlag is the flag of the one boat of a command.
func boatFlag(use string, to *string) cli.Flag {
	return &cli.StringFlag{Name: "boat", Usage: use, Destination: to}
}

// noBoat is the error of a command that was given no boat.
func noBoat() error {
	return usage("give a boat file with --boat; foilledger boat --new boat.toml writes one to start from", "no boat file given")
}

// noneArrives is the negative answer of a command that found no passage to
// speak of.
func noneArrives(err error) error {
	return &commandError{code: exitNoPassage, hint: "use weather that lasts longer and reaches round the track, or add --after-end hold", err: err}
}

// take reads the repeated options, which urfave/cli keeps in the context.
func (o *manyOptions) take(c *cli.Context) {
	o.vias, o.tracks, o.forecast = c.StringSlice("via"), c.StringSlice("track"), c.StringSlice("forecast")
}

func (o *manyOptions) validate() error {
	switch {
	case len(o.vias)+len(o.tracks) == 0:
		return usage("give waypoints with --via \"lat,lon; lat,lon\" or a file with --track", "no passage given")
	case (len(o.forecast) == 0) == (o.made == ""):
		return usage("give files with --forecast, or a recipe with --made", "no weather given, or two kinds of it")
	case o.weathers < 1 || o.weathers > 100000:
		return usage("", "--weathers %d: must be from 1 to 100000", o.weathers)
	case o.afterEnd != "refuse" && o.afterEnd != "hold":
		return usage("", "--after-end %q: must be refuse or hold", o.afterEnd)
	case !(o.stageNM >= 1 && o.stageNM <= 200):
		return usage("", "--stage %g: must be from 1 to 200 nautical miles", o.stageNM)
	case !(o.corridor >= 1 && o.corridor <= 500):
		return usage("", "--corridor %g: must be from 1 to 500 nautical miles", o.corridor)
	case o.workers < 0 || o.workers > 1024:
		return usage("", "--workers %d: must be from 1 to 1024", o.workers)
	case o.every < 0 || (o.every > 0 && o.every < 15*time.Minute):
		return usage("", "--every %v: must be at least 15m", o.every)
	case o.until != "" && o.every == 0:
		return usage("add --every 24h", "--until needs the time between departures")
	}
	return spanOfDepartures(o.depart, o.until, &o.departure, &o.end)
}

// spanOfDepartures reads the first and the last departure.
func spanOfDepartures(depart, until string, from, to *time.Time) error {
	for _, d := range []struct {
		name, text string
		to         *time.Time
	}{{"depart", depart, from}, {"until", until, to}} {
		if d.text == "" {
			continue
		}
		t, err := time.Parse(time.RFC3339, d.text)
		if err != nil {
			return usage("write it as 2026-03-01T06:00:00Z", "--%s %q is not a time", d.name, d.text)
		}
		*d.to = t.UTC()
	}
	if !to.IsZero() && to.Before(*from) {
		return usage("", "--until is before --depart")
	}
	return nil
}

// fleetOfPassages is every track in every weather, numbered track by track
// within each weather.
type fleetOfPassages struct {
	tracks []namedTrack
	set    *trial.Set
	inputs []input
}

type namedTrack struct {
	name  string
	track *route.Track
}

// read reads the tracks and prepares the weathers.
func (o *manyOptions) read(ctx context.Context) (*fleetOfPassages, error) {
	f := &fleetOfPassages{}
	add := func(name, via, path string) error {
		t, in, err := readTrack(via, path)
		if err != nil {
			return err
		}
		f.inputs = append(f.inputs, in...)
		f.tracks = append(f.tracks, namedTrack{name, t})
		if o.backToo {
			var back []orb.Point
			ps := t.Points()
			for i := len(ps) - 1; i >= 0; i-- {
				back = append(back, ps[i])
			}
			b, err := route.NewTrack(back)
			if err != nil {
				return err
			}
			f.tracks = append(f.tracks, namedTrack{name + " back", b})
		}
		return nil
	}
	for i, v := range o.vias {
		if err := add(fmt.Sprintf("passage %d", i+1), v, ""); err != nil {
			return nil, err
		}
	}
	for _, p := range o.tracks {
		if err := add(filepath.Base(p), "", p); err != nil {
			return nil, err
		}
	}
	so := trial.SetOptions{Files: o.forecast, Each: o.each, Depart: o.departure, Until: o.end, Every: o.every, See: trial.SeeNothing,
		Hold: o.afterEnd == "hold", Members: o.weathers, Seed: o.seed}
	if o.made != "" {
		r, err := readRecipe(o.made)
		if err != nil {
			return nil, err
		}
		data, err := os.ReadFile(o.made)
		if err != nil {
			return nil, err
		}
		so.Recipe = r
		f.inputs = append(f.inputs, input{filepath.Base(o.made), sha256Hex(data)})
	} else {
		var points []orb.Point
		for _, t := range f.tracks {
			points = append(points, alongTrack(t.track)...)
		}
		so.Load = weather.Along(points, max(o.corridor, leastCorridorNM), time.Time{}, time.Time{})
	}
	var err error
	if f.set, err = trial.OpenSet(ctx, so); err != nil {
		return nil, trialError(err)
	}
	for _, in := range f.set.Inputs {
		f.inputs = append(f.inputs, input{in.File, in.SHA256})
	}
	return f, nil
}

// count is the number of passages.
func (f *fleetOfPassages) count() int { return len(f.tracks) * f.set.Len() }

// name names a passage.
func (f *fleetOfPassages) name(i int) string {
	w := f.set.Name(i / len(f.tracks))
	if len(f.tracks) == 1 {
		return w
	}
	return f.tracks[i%len(f.tracks)].name + ", " + w
}

// problem opens the weather of a passage and gives it to a boat.
func (f *fleetOfPassages) problem(ctx context.Context, i int, sl *strategy.Sailor) (*strategy.Problem, error) {
	w, err := f.set.Open(ctx, i/len(f.tracks))
	if err != nil {
		return nil, err
	}
	return sl.In(w.Truth).NewProblem(f.tracks[i%len(f.tracks)].track, w.DepartS), nil
}

// sailing is how passages are sailed in the weathers of a set.
func (o *manyOptions) sailing(set *trial.Set) strategy.Options {
	return strategy.Options{StageM: o.stageNM * units.MPerNM, CorridorM: o.corridor * units.MPerNM, WaveDirections: set.WaveDirections}
}
