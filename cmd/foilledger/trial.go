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
)

// trialOptions is one question of the trial command.
type trialOptions struct {
	common
	weatherOptions
	boats      []string
	via, track string
	issued     []string
	newEvery   time.Duration
	see        string
	rules      []string
	search     bool
	between    string
	train      float64
	out        string
	part       string
	parts      int

	share trial.Part
}

const trialHelp = `Every policy sails every weather: never out, always out, speed thresholds, the
break-even rule on the forecast, re-planning at each forecast, the policies of
your own rule files, and the clairvoyant plan, which knows the weather to come
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

Policies are compared in the same weathers. The intervals of the differences
hold for all pairs at once with 95 % confidence, so that the best of many may
be looked for. pairs.csv and --json (joint_interval_min, mean_interval_min)
hold the narrower one of each pair alone too.

A run with --out that was interrupted goes on when the same command is given
again. Parts run on other machines with --part 2/4, or as the array of a batch
scheduler (Slurm's job arrays; a Kubernetes indexed job with --parts 4), and
"foilledger trial merge" makes of them what one machine would have made.

`

func trialFlags(o *trialOptions) []cli.Flag {
	flags := []cli.Flag{
		&cli.StringSliceFlag{Name: "boat", Usage: "boat file (TOML); repeat it to compare boats"},
		&cli.StringFlag{Name: "via", Usage: "waypoints \"lat,lon; lat,lon; …\", start and finish included", Destination: &o.via},
		&cli.StringFlag{Name: "track", Usage: "track file (GPX route or track, GeoJSON LineString)", Destination: &o.track},
	}
	flags = append(flags, weatherFlags(&o.weatherOptions, "seed of made weather, of the intervals and of the training set", "policies decide between stages", "runs at the same time")...)
	flags = append(flags, []cli.Flag{
		&cli.StringSliceFlag{Name: "issued", Usage: "forecast that the policies see from its own reference time on; may be repeated"},
		&cli.StringFlag{Name: "see", Usage: "what the policies see as the forecast: nothing, truth, mean, control, issued", DefaultText: "what there is", Destination: &o.see},
		&cli.DurationFlag{Name: "new-forecast-every", Usage: "time between forecasts of made weather or of an ensemble, each starting without error", DefaultText: "12h in made weather, else one", Destination: &o.newEvery},
		&cli.StringSliceFlag{Name: "rules", Usage: "rule file (TOML) of an own policy, or a fitted rule card; may be repeated"},
		betweenFlag(&o.between),
		&cli.BoolFlag{Name: "search", Usage: "search the best thresholds on some weathers and test them on the others", Destination: &o.search},
		&cli.Float64Flag{Name: "train", Usage: "share of the weathers that thresholds are chosen on", Value: 0.5, Destination: &o.train},
		&cli.StringFlag{Name: "out", Usage: "folder for page, charts, tables and the journal by which a run goes on", Destination: &o.out},
		&cli.StringFlag{Name: "part", Usage: "only part k of n, as 2/4", DefaultText: "all, or the index of a Slurm array", Destination: &o.part},
		&cli.IntFlag{Name: "parts", Usage: "number of parts of a Kubernetes indexed job", Destination: &o.parts},
	}...)
	return append(flags, commonFlags(&o.common)...)
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
	case !(o.train > 0 && o.train < 1):
		return usage("", "--train %g: must be between 0 and 1", o.train)
	case o.parts < 0:
		return usage("", "--parts %d: must be at least 1", o.parts)
	case o.newEvery != 0 && o.newEvery < time.Hour:
		return usage("", "--new-forecast-every %v: must be at least 1h", o.newEvery)
	}
	switch o.see {
	case "", "nothing", "truth", "mean", "control", "issued":
	default:
		return usage("", "--see %q: must be nothing, truth, mean, control or issued", o.see)
	}
	err := o.weatherOptions.validate()
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
	if err := note.check(o.between); err != nil {
		return err
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
	set, weatherInputs, err := o.open(ctx, trial.SetOptions{Issued: o.issued, Load: alongOf(track, o), See: trial.See(o.see), Reissue: o.newEvery})
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
