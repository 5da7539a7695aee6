package main

import (
	"context"
	"fmt"
	"os"
	"time"

	"github.com/urfave/cli/v2"

	"foilledger/strategy"
	"foilledger/strategy/trial"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// trialOptions is one question of the trial command.
type trialOptions struct {
	common
	boats            []string
	via, track       string
	forecast, issued []string
	each             bool
	made             string
	weathers         int
	seed             uint64
	depart, until    string
	every, newEvery  time.Duration
	see, afterEnd    string
	rules            []string
	search           bool
	between          string
	train            float64
	stageNM          float64
	corridor         float64
	out              string
	workers          int
	part             string
	parts            int

	departure, end time.Time
	share          trial.Part
}

const trialHelp = `Every policy sails every weather: never out, always out, speed thresholds,
the break-even rule on the forecast, re-planning at each forecast, the policies
of your own rule files, and the clairvoyant plan, which knows the weather to come
and which none can beat.

Examples:

   foilledger trial --boat boat.toml --via "41,-52; 44.2,-38; 49.3,-12" \
      --made weather.toml --weathers 40 --out trial
   foilledger trial --boat boat.toml --track track.gpx --forecast members.grib2
   foilledger trial --boat boat.toml --track track.gpx --forecast year.nc \
      --depart 2011-01-01T00:00:00Z --until 2011-12-20T00:00:00Z --every 24h
   foilledger trial --boat boat.toml --track track.gpx \
      --forecast analysis.grib2 --issued monday.grib2 --issued tuesday.grib2
   foilledger trial --boat small.toml --boat big.toml --track track.gpx \
      --made weather.toml --rules mine.toml --search --out trial

A rule file is a list of [[rule]] blocks; the first one whose ranges of wind
(tws_kn), angle (twa_deg), boat speed (bsp_kn) and sea (hs_m) hold says what to
do: out, in or keep. lasts_min asks that the forecast keep wind and angle in
their ranges so long. testdata/policies/fresh-reach.toml explains every key.

A run with --out that was interrupted goes on when the same command is given
again. Parts run on other machines with --part 2/4, or as the array of a batch
scheduler (Slurm's job arrays; a Kubernetes indexed job with --parts 4), and
"foilledger trial merge" makes of them what one machine would have made.

`

func trialFlags(o *trialOptions) []cli.Flag {
	return append([]cli.Flag{
		&cli.StringSliceFlag{Name: "boat", Usage: "boat file (TOML); repeat it to compare boats"},
		&cli.StringFlag{Name: "via", Usage: "waypoints \"lat,lon; lat,lon; …\", start and finish included", Destination: &o.via},
		&cli.StringFlag{Name: "track", Usage: "track file (GPX route or track, GeoJSON LineString)", Destination: &o.track},
		&cli.StringSliceFlag{Name: "forecast", Usage: "weather to sail in: file, folder or pattern; each ensemble member is one weather; may be repeated"},
		&cli.BoolFlag{Name: "each", Usage: "every --forecast is a weather of its own", Destination: &o.each},
		&cli.StringFlag{Name: "made", Usage: "recipe (TOML) of made weather, drawn anew for each weather", Destination: &o.made},
		&cli.IntFlag{Name: "weathers", Usage: "number of made weathers", Value: 40, Destination: &o.weathers},
		&cli.Uint64Flag{Name: "seed", Usage: "seed of made weather, of the intervals and of the training set", Value: 1, Destination: &o.seed},
		&cli.StringFlag{Name: "depart", Usage: "departure, RFC 3339 in UTC", DefaultText: "the weather's first step", Destination: &o.depart},
		&cli.StringFlag{Name: "until", Usage: "last departure", DefaultText: "the weather's end", Destination: &o.until},
		&cli.DurationFlag{Name: "every", Usage: "time between departures, as 24h; without it there is one", Destination: &o.every},
		&cli.StringSliceFlag{Name: "issued", Usage: "forecast that the policies see from its own reference time on; may be repeated"},
		&cli.StringFlag{Name: "see", Usage: "what the policies see as the forecast: nothing, truth, mean, control, issued", DefaultText: "what there is", Destination: &o.see},
		&cli.DurationFlag{Name: "new-forecast-every", Usage: "time between forecasts of made weather or of an ensemble, each starting without error", DefaultText: "12h in made weather, else one", Destination: &o.newEvery},
		&cli.StringFlag{Name: "after-end", Usage: "when the weather ends before the arrival: refuse, or hold the last step's weather", Value: "refuse", Destination: &o.afterEnd},
		&cli.StringSliceFlag{Name: "rules", Usage: "rule file (TOML) of an own policy, or a fitted rule card; may be repeated"},
		betweenFlag(&o.between),
		&cli.BoolFlag{Name: "search", Usage: "search the best thresholds on some weathers and test them on the others", Destination: &o.search},
		&cli.Float64Flag{Name: "train", Usage: "share of the weathers that thresholds are chosen on", Value: 0.5, Destination: &o.train},
		&cli.Float64Flag{Name: "stage", Usage: "longest stage, nautical miles; policies decide between stages", Value: 10, Destination: &o.stageNM},
		&cli.Float64Flag{Name: "corridor", Usage: "width of the corridor for beating and gybing, nautical miles", Value: 20, Destination: &o.corridor},
		&cli.StringFlag{Name: "out", Usage: "folder for page, charts, tables and the journal by which a run goes on", Destination: &o.out},
		&cli.IntFlag{Name: "workers", Usage: "runs at the same time", DefaultText: "the number of cores", Destination: &o.workers},
		&cli.StringFlag{Name: "part", Usage: "only part k of n, as 2/4", DefaultText: "all, or the index of a Slurm array", Destination: &o.part},
		&cli.IntFlag{Name: "parts", Usage: "number of parts of a Kubernetes indexed job", Destination: &o.parts},
	}, commonFlags(&o.common)...)
}

func betweenFlag(to *string) cli.Flag {
	return &cli.StringFlag{Name: "between", Usage: "list the weathers that tell these two policies apart, \"re-plan; thresholds\"", DefaultText: "the two best", Destination: to}
}

func trialCommand() *cli.Command {
	var o trialOptions
	return &cli.Command{
		Name:        "trial",
		Usage:       "try foil policies in many weathers: which is better, by how much, how sure",
		Description: trialHelp + exitCodes,
		Flags:       trialFlags(&o),
		Subcommands: []*cli.Command{trialMergeCommand(), trialReplayCommand()},
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			o.boats, o.forecast, o.issued, o.rules = c.StringSlice("boat"), c.StringSlice("forecast"), c.StringSlice("issued"), c.StringSlice("rules")
			if err := o.validate(os.Getenv); err != nil {
				return err
			}
			return runTrial(c.Context, &o, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

// validate checks everything that can be checked before files are read.
func (o *trialOptions) validate(getenv func(string) string) error {
	switch {
	case len(o.boats) == 0:
		return usage("give a boat file with --boat; foilledger boat --new boat.toml writes one to start from", "no boat file given")
	case o.via == "" && o.track == "":
		return usage("give waypoints with --via \"lat,lon; lat,lon\" or a file with --track", "no track given")
	case o.via != "" && o.track != "":
		return usage("use one of the two", "both --via and --track given")
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
	case !(o.train > 0 && o.train < 1):
		return usage("", "--train %g: must be between 0 and 1", o.train)
	case o.workers < 0 || o.workers > 1024:
		return usage("", "--workers %d: must be from 1 to 1024", o.workers)
	case o.parts < 0:
		return usage("", "--parts %d: must be at least 1", o.parts)
	case o.every < 0 || (o.every > 0 && o.every < 15*time.Minute):
		return usage("", "--every %v: must be at least 15m", o.every)
	case o.newEvery != 0 && o.newEvery < time.Hour:
		return usage("", "--new-forecast-every %v: must be at least 1h", o.newEvery)
	case o.until != "" && o.every == 0:
		return usage("add --every 24h", "--until needs the time between departures")
	}
	switch o.see {
	case "", "nothing", "truth", "mean", "control", "issued":
	default:
		return usage("", "--see %q: must be nothing, truth, mean, control or issued", o.see)
	}
	err := spanOfDepartures(o.depart, o.until, &o.departure, &o.end)
	if err != nil {
		return err
	}
	if o.part != "" {
		if o.share, err = trial.ParsePart(o.part); err != nil {
			return usage("", "--part: %w", err)
		}
	} else if o.share, _, err = trial.PartFromScheduler(getenv, o.parts); err != nil {
		return usage("", "%w", err)
	}
	if o.share.N > 1 && o.out == "" {
		return usage("give --out DIR; all parts may share it", "a part needs a folder for its results")
	}
	return nil
}

// runTrial answers one question: it reads as the method does.
func runTrial(ctx context.Context, o *trialOptions, s streams) error {
	study, note, err := openTrial(ctx, o, newProgress(s))
	if err != nil {
		return trialError(err)
	}
	var journal string
	if o.out != "" {
		if journal, err = note.journal(o.out, o.share); err != nil {
			return err
		}
	}
	pr := newProgress(s)
	done := pr.start("runs")
	records, err := trial.Run(ctx, study.Jobs(), study.Job, trial.RunOptions{Workers: o.workers, Part: o.share, Journal: journal,
		Fingerprint: note.fingerprint(), Note: note, Progress: pr.set})
	done()
	if err != nil {
		return trialError(err)
	}
	if o.share.N > 1 {
		fmt.Fprintf(s.out, "Part %v is done: its results are in %s.\nWhen all parts are: foilledger trial merge %s\n", o.share, journal, o.out)
		return nil
	}
	return finishTrial(ctx, note, records, o.between, o.out, o.json, s)
}

// finishTrial sums up, writes and prints; merging ends here too.
func finishTrial(ctx context.Context, note *trialNote, records []trial.Record, between, out string, asJSON bool, s streams) error {
	res := note.result(records)
	if err := res.tellApart(between); err != nil {
		return err
	}
	if res.failed() {
		return &commandError{code: exitNoPassage, hint: "use weather that lasts longer and reaches round the track, depart earlier, or add --after-end hold",
			err: fmt.Errorf("there is no weather in which every policy arrives: %s", res.failures())}
	}
	if out != "" {
		dest, err := newFolder(out)
		if err != nil {
			return err
		}
		defer dest.discard()
		if err := writeTrial(ctx, dest, res); err != nil {
			return err
		}
	}
	return printTrial(s, res, out, asJSON)
}

// openTrial reads everything and lists what goes into the results.
func openTrial(ctx context.Context, o *trialOptions, pr *progress) (*trial.Study, *trialNote, error) {
	track, inputs, err := readTrack(o.via, o.track)
	if err != nil {
		return nil, nil, err
	}
	set, weatherInputs, err := o.openSet(ctx, alongOf(track, o))
	if err != nil {
		return nil, nil, err
	}
	inputs = append(inputs, weatherInputs...)
	study := &trial.Study{Track: track, Set: set, Ceiling: true, Policies: trial.Standard()}
	var rules []ownPolicy
	for _, name := range o.rules {
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, nil, err
		}
		r, err := readOwnPolicy(data, name)
		if err != nil {
			return nil, nil, err
		}
		rules = append(rules, r)
		inputs = append(inputs, input{baseName(name), sha256Hex(data)})
	}
	note := &trialNote{Version: version(), Command: o.paths(), DistanceNM: track.LengthM() / units.MPerNM, Seed: o.seed, EveryS: set.Every.Seconds(),
		Forecast: set.Forecast, Warnings: set.Warnings, Search: o.search, Train: o.train, StageNM: o.stageNM, CorridorNM: o.corridor}
	for i, path := range o.boats {
		boat, in, err := readBoat(path)
		if err != nil {
			return nil, nil, err
		}
		inputs = append(inputs, in)
		table, err := buildTable(ctx, boat, o.cache, pr)
		if err != nil {
			return nil, nil, err
		}
		sl, err := strategy.NewSailor(ctx, table, boat.Handling, nil, strategy.Options{StageM: o.stageNM * units.MPerNM,
			CorridorM: o.corridor * units.MPerNM, WaveDirections: set.WaveDirections})
		if err != nil {
			return nil, nil, err
		}
		name := boat.Name
		for _, b := range study.Boats {
			if b.Name == name {
				name = fmt.Sprintf("%s (%d)", boat.Name, i+1)
			}
		}
		study.Boats = append(study.Boats, trial.Boat{Name: name, Sailor: sl})
		note.addBoat(name, sl)
		for _, r := range rules {
			if _, err := r.make(sl); err != nil {
				return nil, nil, err
			}
		}
	}
	taken := map[string]bool{trial.CeilingName: true}
	for _, c := range study.Policies {
		taken[c.Name] = true
	}
	for _, r := range rules {
		if taken[r.name] {
			return nil, nil, usage("change name in the rule file", "there are two policies named %q", r.name)
		}
		taken[r.name] = true
		study.Policies = append(study.Policies, trial.Contender{Name: r.name, New: func(_ context.Context, sl *strategy.Sailor) strategy.Policy {
			p, _ := r.make(sl) // was checked above
			return p
		}})
	}
	if o.search {
		study.Search = trial.Candidates()
	}
	for _, c := range study.Policies {
		note.Policies = append(note.Policies, c.Name)
	}
	for i := range set.Len() {
		note.Weathers = append(note.Weathers, noteWeather{set.Name(i), set.Departure(i)})
	}
	note.Inputs = inputs
	return study, note, nil
}

// openSet reads or prepares the weathers.
func (o *trialOptions) openSet(ctx context.Context, load weather.Options) (*trial.Set, []input, error) {
	so := trial.SetOptions{Files: o.forecast, Each: o.each, Issued: o.issued, Load: load, Depart: o.departure, Until: o.end, Every: o.every,
		See: trial.See(o.see), Reissue: o.newEvery, Hold: o.afterEnd == "hold", Members: o.weathers, Seed: o.seed}
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
		so.Recipe = r
		so.Load = weather.Options{}
	}
	set, err := trial.OpenSet(ctx, so)
	if err != nil {
		return nil, nil, trialError(err)
	}
	for _, in := range set.Inputs {
		inputs = append(inputs, input{in.File, in.SHA256})
	}
	return set, inputs, nil
}

// describePolicies says what the standard policies do, for the page and the
// help.
func describePolicies(setting string) []string {
	return []string{
		"never out: both foils stay in.",
		"always out: the leeward foil is out (" + setting + ") wherever no limit forbids it.",
		"thresholds: out from 12 kn of wind between 70° and 150°, in below 10 kn or 5° outside of that, no two changes within half an hour.",
		"break-even: the leeward foil goes to the fastest setting when, by the newest forecast, that stays the fastest for one and a half times the break-even time.",
		"re-plan: the best schedule in the newest forecast, planned anew whenever one is issued and once a day in an old one.",
		trial.CeilingName + ": the best schedule for the weather that came; it knows the future and is the ceiling.",
	}
}
