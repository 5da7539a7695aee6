package main

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sort"
	"sync/atomic"

	"github.com/urfave/cli/v2"
	"golang.org/x/sync/errgroup"

	"foilledger/strategy"
	"foilledger/strategy/rulecard"
	"foilledger/strategy/trial"
	"foilledger/vpp"
	"foilledger/weather"
)

// cardOptions is one question of the card command.
type cardOptions struct {
	manyOptions
	boat     string
	rules    int
	exactly  int
	train    float64
	worthMin float64
}

const cardHelp = `A card of few rules is fitted to the exact plans of many passages and tried on
passages that it was not fitted to: how much of the time that foils can gain it
keeps, and what each further rule would buy. The card comes as PDF, PNG and SVG
for A5 and A4 paper, black and white, and as a file that trial reads with --rules.

Examples:

   foilledger card --boat boat.toml --via "41,-52; 44.2,-38; 49.3,-12" \
      --back-too --made weather.toml --weathers 60 --out card
   foilledger card --boat boat.toml --track track.gpx --forecast year.nc \
      --depart 2011-01-01T00:00:00Z --until 2011-12-20T00:00:00Z \
      --every 48h --out card

`

func cardCommand() *cli.Command {
	var o cardOptions
	return &cli.Command{
		Name:        "card",
		Usage:       "fit the one-page rule card to exact plans over many weathers, and test it on others",
		Description: cardHelp + exitCodes,
		Flags: append([]cli.Flag{
			boatFlag("boat file (TOML)", &o.boat),
			&cli.IntFlag{Name: "rules", Usage: "largest number of rules", Value: 12, Destination: &o.rules},
			&cli.IntFlag{Name: "exactly", Usage: "take this many rules", DefaultText: "as many as are worth their line", Destination: &o.exactly},
			&cli.Float64Flag{Name: "worth", Usage: "minutes per passage that a rule must save on weathers not fitted to", Value: 0.5, Destination: &o.worthMin},
			&cli.Float64Flag{Name: "train", Usage: "share of the weathers that the card is fitted to", Value: 0.5, Destination: &o.train},
			&cli.StringFlag{Name: "out", Usage: "folder for card, charts, page and rule file", Destination: &o.out},
		}, manyFlags(&o.manyOptions)...),
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			o.take(c)
			if err := o.validate(); err != nil {
				return err
			}
			return runCard(c.Context, &o, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

func (o *cardOptions) validate() error {
	switch {
	case o.boat == "":
		return noBoat()
	case o.rules < 1 || o.rules > 40:
		return usage("", "--rules %d: must be from 1 to 40", o.rules)
	case o.exactly < 0 || o.exactly > o.rules:
		return usage("", "--exactly %d: must be from 1 to --rules", o.exactly)
	case !(o.train > 0 && o.train < 1):
		return usage("", "--train %g: must be between 0 and 1", o.train)
	case !(o.worthMin >= 0 && o.worthMin <= 600):
		return usage("", "--worth %g: must be from 0 to 600 minutes", o.worthMin)
	}
	return o.manyOptions.validate()
}

// cardResult is a fitted and tested card with all that the outputs show.
type cardResult struct {
	boat     *vpp.Boat
	settings []vpp.FoilSetting
	steps    []rulecard.Step
	cross    []float64 // cross-validated loss by number of rules, s
	chosen   int       // number of rules asked for
	card     *rulecard.Card
	train    []rulecard.Score // by number of rules
	test     []rulecard.Score
	tested   []rulecard.Followed        // the chosen card
	lost     trial.Interval             // of the mean loss, s
	share    trial.Interval             // of the loss as a share of the time that foils gain
	present  rulecard.Score             // what the present alone allows on the tested passages
	causes   map[rulecard.Cause]float64 // means over the tested passages, s
	boxes    []rulecard.Box
	handled  []rulecard.Handled
	left     []string // passages left out, and why
	warnings []string
	inputs   []input
	weathers int
}

// runCard answers one question: it reads as the method does.
func runCard(ctx context.Context, o *cardOptions, s streams) error {
	boat, boatInput, err := readBoat(o.boat)
	if err != nil {
		return err
	}
	if len(boat.Settings()) == 1 {
		return usage("use a boat file with a [foils] section", "the boat %q has no foils to make a card for", boat.Name)
	}
	many, err := o.read(ctx)
	if err != nil {
		return err
	}
	if many.set.Len() < 4 {
		return usage("add weathers: members, departures with --every, or --made with --weathers", "%d weathers: at least 4 are needed to fit a card and to test it", many.set.Len())
	}
	var dest *folder
	if o.out != "" {
		if dest, err = newFolder(o.out); err != nil {
			return err
		}
		defer dest.discard()
	}
	res, err := fitCard(ctx, o, boat, many, newProgress(s))
	if err != nil {
		return err
	}
	res.inputs = append([]input{boatInput}, many.inputs...)
	if dest != nil {
		if err := writeCard(ctx, dest, o, res); err != nil {
			return err
		}
	}
	return printCard(s, o, res)
}

// fitCard plans the training passages, fits cards to them and tries the cards
// on the others.
func fitCard(ctx context.Context, o *cardOptions, boat *vpp.Boat, many *fleetOfPassages, pr *progress) (*cardResult, error) {
	done := pr.start("speeds")
	table, err := speedTable(ctx, boat, vpp.NoFactors(), vpp.DefaultGrid(), o.cache, pr.set)
	done()
	if err != nil {
		return nil, err
	}
	sl, err := strategy.NewSailor(ctx, table, boat.Handling, nil, o.sailing(many.set))
	if err != nil {
		return nil, err
	}
	res := &cardResult{boat: boat, settings: table.Settings(), weathers: many.set.Len(), warnings: many.set.Warnings}
	// All passages of a weather are on the same side, so that nothing of a
	// tested weather has been seen.
	inTraining := trial.TrainingSet(many.set.Len(), o.train, 1, o.seed)
	left := make([]string, many.count())
	passage := func(ctx context.Context, i int) (*rulecard.Passage, error) {
		ps, ok, err := rulecard.NewPassage(ctx, many.name(i), func() (*strategy.Problem, error) { return many.problem(ctx, i, sl) })
		var ce *weather.CoverageError
		switch {
		case errors.As(err, &ce):
			left[i] = fmt.Sprintf("%s: %v", many.name(i), ce)
			return nil, nil
		case err == nil && !ok:
			left[i] = many.name(i) + ": no feasible passage"
		case err == nil:
			ps.Group = i / len(many.tracks)
		}
		return ps, err
	}
	var train, test []int
	for i := range many.count() {
		if inTraining[i/len(many.tracks)] {
			train = append(train, i)
		} else {
			test = append(test, i)
		}
	}
	done = pr.start("exact plans")
	fitted := make([]*rulecard.Passage, len(train))
	err = o.parallel(ctx, len(train), pr.set, func(ctx context.Context, k int) (err error) {
		fitted[k], err = passage(ctx, train[k])
		return err
	})
	done()
	if err != nil {
		return nil, err
	}
	n := 0
	for _, p := range fitted {
		if p != nil {
			fitted[n] = p
			n++
		}
	}
	fitted = fitted[:n]
	if n == 0 {
		return nil, noneArrives(fmt.Errorf("no training passage arrives: %s", firstWord(left)))
	}
	opt := rulecard.Options{Rules: o.rules, Workers: o.workers}
	done = pr.start("card")
	res.steps, err = rulecard.Fit(ctx, fitted, opt, pr.set)
	done()
	if err != nil {
		return nil, err
	}
	done = pr.start("cross-validation")
	res.cross, err = rulecard.CrossValidated(ctx, fitted, opt, pr.set)
	done()
	if err != nil {
		return nil, err
	}
	res.chosen = o.exactly
	if res.chosen == 0 {
		res.chosen = rulecard.Choose(res.cross, 60*o.worthMin)
	}
	if res.chosen == 0 {
		res.chosen = o.rules
	}
	res.chosen = min(res.chosen, len(res.steps))
	res.card = res.steps[res.chosen-1].Card

	done = pr.start("test")
	trained, tested := make([][]rulecard.Followed, len(fitted)), make([][]rulecard.Followed, len(test))
	present, causes := make([]rulecard.Followed, len(test)), make([]map[rulecard.Cause]float64, len(test))
	follow := func(ctx context.Context, p *rulecard.Passage) ([]rulecard.Followed, error) {
		var out []rulecard.Followed
		for _, s := range res.steps {
			f, err := p.Try(ctx, s.Card)
			if err != nil {
				return nil, err
			}
			out = append(out, f)
		}
		return out, nil
	}
	err = o.parallel(ctx, len(fitted)+len(test), pr.set, func(ctx context.Context, k int) (err error) {
		if k < len(fitted) {
			trained[k], err = follow(ctx, fitted[k])
			return err
		}
		k -= len(fitted)
		p, err := passage(ctx, test[k])
		if err != nil || p == nil {
			return err
		}
		if present[k], err = p.TryPresent(ctx); err != nil {
			return err
		}
		if causes[k], err = p.Losses(ctx, res.card); err != nil {
			return err
		}
		tested[k], err = follow(ctx, p)
		return err
	})
	done()
	if err != nil {
		return nil, err
	}
	pick := func(all [][]rulecard.Followed, n int) (out []rulecard.Followed) {
		for _, f := range all {
			if f != nil {
				out = append(out, f[n])
			}
		}
		return out
	}
	for n := range res.steps {
		res.train = append(res.train, rulecard.Total(pick(trained, n)))
		res.test = append(res.test, rulecard.Total(pick(tested, n)))
	}
	res.tested = pick(tested, res.chosen-1)
	if len(res.tested) == 0 {
		return nil, noneArrives(fmt.Errorf("no test passage arrives: %s", firstWord(left)))
	}
	res.sumUp(o, test, tested, present, causes, len(many.tracks))
	res.boxes = rulecard.Boxes(fitted, res.card)
	if res.handled, err = rulecard.Handlings(ctx, fitted, res.card); err != nil {
		return nil, err
	}
	for _, l := range left {
		if l != "" {
			res.left = append(res.left, l)
		}
	}
	sort.Strings(res.left)
	return res, nil
}

// sumUp takes means and intervals over the passages that were tested; those of
// one weather are not independent.
func (res *cardResult) sumUp(o *cardOptions, test []int, tested [][]rulecard.Followed, present []rulecard.Followed, causes []map[rulecard.Cause]float64, tracks int) {
	share := res.test[res.chosen-1].RegretShare()
	var lost, over []float64
	var weathers []int
	var now []rulecard.Followed
	res.causes = map[rulecard.Cause]float64{}
	split := 0.0
	for i, f := range tested {
		if f == nil {
			continue
		}
		c := &f[res.chosen-1]
		weathers = append(weathers, test[i]/tracks)
		lost = append(lost, c.LostS())
		over = append(over, c.LostS()-share*(c.NeverS-c.BestS))
		now = append(now, present[i])
		if causes[i] != nil {
			split++
		}
		for k, v := range causes[i] {
			res.causes[k] += v
		}
	}
	for k := range res.causes {
		res.causes[k] /= split
	}
	res.present = rulecard.Total(now)
	b := trial.Bootstrap{Seed: o.seed}
	_, res.lost = b.Mean(trial.PerWeather(lost, weathers))
	// Of a ratio of means, to the first order.
	_, d := b.Mean(trial.PerWeather(over, weathers))
	gain := res.test[res.chosen-1].GainS
	res.share = trial.Interval{Lo: share + d.Lo/gain, Hi: share + d.Hi/gain}
}

// parallel does n jobs on the workers asked for.
func (o *manyOptions) parallel(ctx context.Context, n int, progress func(done, total int), do func(ctx context.Context, k int) error) error {
	eg, ctx := errgroup.WithContext(ctx)
	workers := o.workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	eg.SetLimit(workers)
	var count atomic.Int64
	for k := range n {
		eg.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			if err := do(ctx, k); err != nil {
				return err
			}
			progress(int(count.Add(1)), n)
			return nil
		})
	}
	return eg.Wait()
}

// firstWord is the first text that says something.
func firstWord(list []string) string {
	for _, s := range list {
		if s != "" {
			return s
		}
	}
	return "no reason known"
}
