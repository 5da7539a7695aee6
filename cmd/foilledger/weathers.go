package main

import (
	"context"
	"errors"
	"os"
	"time"

	"github.com/urfave/cli/v2"

	"foilledger/strategy/trial"
	"foilledger/weather"
)

// weatherOptions say which weathers a command sails in, and how finely.
type weatherOptions struct {
	forecast []string
	each     bool
	made     string
	weathers int
	seed     uint64
	depart   string
	until    string
	every    time.Duration
	afterEnd string
	stageNM  float64
	corridor float64
	workers  int

	departure, end time.Time
}

// weatherFlags are the flags of these options; what the seed is for, what the
// stages mean and what is done at the same time are the command's to say.
func weatherFlags(o *weatherOptions, seed, stage, workers string) []cli.Flag {
	return []cli.Flag{
		&cli.StringSliceFlag{Name: "forecast", Usage: "weather to sail in: file, folder or pattern; each ensemble member is one weather; may be repeated"},
		&cli.BoolFlag{Name: "each", Usage: "every --forecast is a weather of its own", Destination: &o.each},
		&cli.StringFlag{Name: "made", Usage: "recipe (TOML) of made weather, drawn anew for each weather", Destination: &o.made},
		&cli.IntFlag{Name: "weathers", Usage: "number of made weathers", Value: 40, Destination: &o.weathers},
		&cli.Uint64Flag{Name: "seed", Usage: seed, Value: 1, Destination: &o.seed},
		&cli.StringFlag{Name: "depart", Usage: "departure, RFC 3339 in UTC", DefaultText: "the weather's first step", Destination: &o.depart},
		&cli.StringFlag{Name: "until", Usage: "last departure", DefaultText: "the weather's end", Destination: &o.until},
		&cli.DurationFlag{Name: "every", Usage: "time between departures, as 24h; without it there is one", Destination: &o.every},
		&cli.StringFlag{Name: "after-end", Usage: "when the weather ends before the arrival: refuse, or hold the last step's weather", Value: "refuse", Destination: &o.afterEnd},
		&cli.Float64Flag{Name: "stage", Usage: "longest stage, nautical miles; " + stage, Value: 10, Destination: &o.stageNM},
		&cli.Float64Flag{Name: "corridor", Usage: "width of the corridor for beating and gybing, nautical miles", Value: 20, Destination: &o.corridor},
		&cli.IntFlag{Name: "workers", Usage: workers, DefaultText: "the number of cores", Destination: &o.workers},
	}
}

// validate checks everything that can be checked before files are read.
func (o *weatherOptions) validate() error {
	switch {
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

// open reads or prepares the weathers, with what else so asks for, and lists the
// files that they come from. so.Load is for files only.
func (o *weatherOptions) open(ctx context.Context, so trial.SetOptions) (*trial.Set, []input, error) {
	so.Files, so.Each, so.Depart, so.Until, so.Every = o.forecast, o.each, o.departure, o.end, o.every
	so.Hold, so.Members, so.Seed = o.afterEnd == "hold", o.weathers, o.seed
	var inputs []input
	if o.made != "" {
		r, err := readRecipe(o.made)
		if err != nil {
			return nil, nil, err
		}
		data, err := os.ReadFile(o.made)
		if err != nil {
			return nil, nil, err
		}
		inputs = append(inputs, input{baseName(o.made), sha256Hex(data)})
		so.Recipe, so.Load = r, weather.Options{}
	}
	set, err := trial.OpenSet(ctx, so)
	var gap *weather.CoverageError
	if errors.As(err, &gap) && !o.departure.IsZero() {
		// The reader asks for the days before too: say what is wrong by the
		// departure that was given.
		switch {
		case gap.Kind == weather.AfterLast && o.departure.After(gap.Last):
			return nil, nil, departsLate(o.departure, gap.Last)
		case gap.Kind == weather.BeforeFirst && o.departure.Before(gap.First):
			return nil, nil, departsEarly(o.departure, gap.First)
		}
	}
	if err != nil {
		return nil, nil, trialError(err)
	}
	for _, in := range set.Inputs {
		inputs = append(inputs, input{in.File, in.SHA256})
	}
	return set, inputs, nil
}
