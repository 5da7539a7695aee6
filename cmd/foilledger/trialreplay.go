package main

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/urfave/cli/v2"

	"foilledger/strategy"
	"foilledger/strategy/trial"
	"foilledger/weather"
)

// replayOptions name one run of a trial.
type replayOptions struct {
	common
	out     string
	policy  string
	weather int
	boat    int
}

func trialReplayCommand() *cli.Command {
	var o replayOptions
	return &cli.Command{
		Name: "replay", Usage: "show one run of a trial as a passage, with all its pictures", ArgsUsage: "DIR",
		Description: "Without options: the weather in which the best policy loses most to the best\npossible plan.\n\nExample:\n\n   foilledger trial replay --policy thresholds --weather 7 --out worst trial\n\n" + exitCodes,
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "folder for the passage's page, charts, log and track", Value: "replay", Destination: &o.out},
			&cli.StringFlag{Name: "policy", Usage: "policy, by name", DefaultText: "the best", Destination: &o.policy},
			&cli.IntFlag{Name: "weather", Usage: "number of the weather, from 1", DefaultText: "the policy's worst", Destination: &o.weather},
			&cli.IntFlag{Name: "boat", Usage: "number of the boat, from 1", Value: 1, Destination: &o.boat},
		}, commonFlags(&o.common)...),
		Action: func(c *cli.Context) error {
			if c.Args().Len() != 1 {
				return usage("name the folder that --out named for the trial, after the options", "want one folder, got %d", c.Args().Len())
			}
			return runReplay(c.Context, &o, c.Args().First(), streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

// runReplay sails one run of a trial again and shows it as a passage.
func runReplay(ctx context.Context, o *replayOptions, dir string, s streams) error {
	note, records, err := mergeTrial([]string{dir})
	if err != nil {
		return trialError(err)
	}
	study, again, err := openAgain(ctx, note, o.cache, newProgress(s))
	if err != nil {
		return trialError(err)
	}
	policy, number, err := o.choose(note.result(records))
	if err != nil {
		return err
	}
	dest, err := newFolder(o.out)
	if err != nil {
		return err
	}
	defer dest.discard()
	q, res, err := sailAgain(ctx, o, study, again, policy, number, newProgress(s))
	if err != nil {
		return err
	}
	if err := writeResult(ctx, dest, q, res); err != nil {
		return err
	}
	return printResult(s, q, res)
}

// choose finds the policy and the weather that are meant.
func (o *replayOptions) choose(res *trialResult) (policy, number int, err error) {
	if o.boat < 1 || o.boat > len(res.sum.Boats) {
		return 0, 0, usage("", "--boat %d: the trial has %d", o.boat, len(res.sum.Boats))
	}
	b := res.sum.Boats[o.boat-1]
	policy = b.Best
	var names []string
	for i, p := range b.Policies {
		names = append(names, p.Name)
		if p.Name == o.policy {
			policy = i
		}
	}
	if policy < 0 || (o.policy != "" && !slices.Contains(names, o.policy)) {
		return 0, 0, usage(fmt.Sprintf("the trial has %q", names), "--policy %q is not in the trial", o.policy)
	}
	number = o.weather - 1
	if o.weather == 0 {
		number = max(0, b.Policies[policy].WorstWeather)
	}
	if number < 0 || number >= len(res.note.Weathers) {
		return 0, 0, usage("", "--weather %d: the trial has %d", o.weather, len(res.note.Weathers))
	}
	return policy, number, nil
}

// openAgain opens a trial from its note, and refuses when it is not the same
// any more.
func openAgain(ctx context.Context, note *trialNote, cache string, pr *progress) (*trial.Study, *trialNote, error) {
	o := note.options()
	o.cache = cache
	if err := o.validate(func(string) string { return "" }); err != nil {
		return nil, nil, err
	}
	study, now, err := openTrial(ctx, &o, pr)
	if err != nil {
		return nil, nil, err
	}
	now.Search, now.Train = note.Search, note.Train
	if now.fingerprint() != note.fingerprint() {
		return nil, nil, &commandError{code: exitFailed, hint: "run the trial again", err: errors.New("the boats, the weather or the rules are not those of the trial any more")}
	}
	return study, now, nil
}

// sailAgain sails the run and gathers what a passage shows; the best possible
// plan is one of its baselines.
func sailAgain(ctx context.Context, o *replayOptions, study *trial.Study, note *trialNote, policy, number int, pr *progress) (*question, *result, error) {
	w, err := study.Set.Open(ctx, number)
	if err != nil {
		return nil, nil, err
	}
	boat, in, err := readBoat(note.Command.Boats[o.boat-1])
	if err != nil {
		return nil, nil, err
	}
	f, err := buildFleet(ctx, boat, o.cache, pr)
	if err != nil {
		return nil, nil, err
	}
	name := trial.CeilingName
	if policy < len(study.Policies) {
		name = study.Policies[policy].Name
	}
	po := &passageOptions{common: o.common, out: o.out, afterEnd: note.Command.AfterEnd, stageNM: note.StageNM, corridor: note.CorridorNM,
		departure: w.Departure(), title: fmt.Sprintf("Policy “%s” in %s", name, w.Name)}
	q := &question{options: po, boat: boat, track: study.Track, forecast: &weather.Forecast{Members: []*weather.Field{w.Field}, Reference: w.Field.Reference()}, inputs: append([]input{in}, note.Inputs...)}
	sailor := study.Boats[o.boat-1].Sailor.In(w.Truth)
	p := sailor.NewProblem(study.Track, w.DepartS)
	p.Issues = w.Issues
	best, err := p.Best(ctx, nil, false, nil)
	if err != nil {
		return nil, nil, err
	}
	v := best
	if policy < len(study.Policies) {
		if v, err = p.Follow(ctx, study.Policies[policy].New(ctx, sailor)); err != nil {
			return nil, nil, err
		}
	}
	if v.Status != strategy.Found || best.Status != strategy.Found {
		return nil, nil, &commandError{code: exitNoPassage, hint: "choose another weather", err: fmt.Errorf("%q does not arrive in %s", name, w.Name)}
	}
	res := &result{problem: p, source: w.Truth, field: w.Field, voyage: v, best: v}
	if _, res.log, err = p.RecordVoyage(v); err != nil {
		return nil, nil, err
	}
	res.rest = p.RestReport(res.log)
	if res.bound, err = p.Best(ctx, nil, true, nil); err != nil {
		return nil, nil, err
	}
	if err := res.baselines(ctx, q, f, sailor, w.DepartS); err != nil {
		return nil, nil, err
	}
	if policy < len(study.Policies) {
		_, lg, err := p.Record(best.Schedule)
		if err != nil {
			return nil, nil, err
		}
		ledger, err := p.NewLedger(v, p, best)
		if err != nil {
			return nil, nil, err
		}
		res.bases = append(res.bases, base{name: trial.CeilingName, problem: p, voyage: best, log: lg, ledger: ledger})
	}
	if err := res.complete(ctx, q, f, sailor, pr); err != nil {
		return nil, nil, err
	}
	res.warnings = append([]string{fmt.Sprintf("this is a run of a trial: what the policy %q did in %s, not advice", name, w.Name)}, res.warnings...)
	return q, res, nil
}
