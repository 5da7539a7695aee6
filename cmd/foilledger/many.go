package main

import (
	"context"
	"fmt"
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
	weatherOptions
	vias, tracks []string
	backToo      bool
	out          string
}

func manyFlags(o *manyOptions) []cli.Flag {
	flags := []cli.Flag{
		&cli.StringSliceFlag{Name: "via", Usage: "waypoints \"lat,lon; lat,lon; …\" of a passage; may be repeated"},
		&cli.StringSliceFlag{Name: "track", Usage: "track file of a passage (GPX route or track, GeoJSON LineString); may be repeated"},
		&cli.BoolFlag{Name: "back-too", Usage: "sail every passage the other way as well", Destination: &o.backToo},
	}
	flags = append(flags, weatherFlags(&o.weatherOptions, "seed of all that is drawn", "foils change only between stages", "passages at the same time")...)
	return append(flags, commonFlags(&o.common)...)
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
	if len(o.vias)+len(o.tracks) == 0 {
		return usage("give waypoints with --via \"lat,lon; lat,lon\" or a file with --track", "no passage given")
	}
	return o.weatherOptions.validate()
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
	var points []orb.Point
	for _, t := range f.tracks {
		points = append(points, alongTrack(t.track)...)
	}
	set, inputs, err := o.open(ctx, trial.SetOptions{See: trial.SeeNothing, Load: weather.Along(points, max(o.corridor, leastCorridorNM), time.Time{}, time.Time{})})
	if err != nil {
		return nil, err
	}
	f.set, f.inputs = set, append(f.inputs, inputs...)
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
