package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"foilledger/strategy/refit"
	"foilledger/strategy/trial"
	"foilledger/vpp"
)

// refitOptions is one question of the refit command.
type refitOptions struct {
	manyOptions
	boat            string
	changes, sweeps []string
	variants        string
	samples         int
	samplePassages  int
	fineSamples     bool
	growth          refit.GrowthRule
	part            string
	parts           int
	merge           string
	share           trial.Part
}

const refitHelp = `Variants of a boat sail the same passages in the same weathers, each by its own
exact plan: minutes gained per passage over the boat as she is, split by cause,
with intervals; what one more unit of a dimension is worth; and how sure the
model itself is (--samples draws its uncertain factors, the same for all).

A change names a key of the boat file and its new value, and may begin with a
name and a colon. pump=cockpit and pump=below place the rake pump. The mass of a
foil follows its area and span unless foils.mass_kg is given, and the load that
it bears follows its area unless limits.max_foil_load_tf is; displacement, draft
and stability follow the mass. The rakes to consider follow foils.max_rake_deg.
Two sweeps make a table of every pair.

Examples:

   foilledger refit --boat boat.toml --track track.gpx --made weather.toml \
      --change "bigger: foils.area_m2=1.8,foils.span_m=2.9" \
      --change pump=below --out refit
   foilledger refit --boat boat.toml --track track.gpx \
      --forecast members.grib2 --sweep foils.span_m=2.2:3.4:0.4 \
      --samples 12 --out refit
   foilledger refit --boat boat.toml --track track.gpx --made weather.toml \
      --sweep "foils.extension_steps=[1],[0.5,1]" \
      --sweep foils.max_rake_deg=4:6:1
   foilledger refit --boat boat.toml --track track.gpx --made weather.toml \
      --variants variants.toml

A file of variants holds tables of two kinds:

   [[variant]]
   name = "longer foil"
   short = "longer"
   changes = { "foils.span_m" = 3.0, pump = "cockpit" }
   [[sweep]]
   key = "foils.dihedral_deg"
   values = [24, 28, 32]

A run with --out that was interrupted goes on when the same command is given
again. Parts run on other machines with --part 2/4, or as the array of a batch
scheduler; the same command with --merge DIR in place of --part makes of their
journals what one machine would have made.

`

func refitCommand() *cli.Command {
	var o refitOptions
	return &cli.Command{
		Name:        "refit",
		Usage:       "compare variants of a boat over the same passages: what a bigger foil is worth",
		Description: refitHelp + exitCodes,
		Flags: append([]cli.Flag{
			boatFlag("file of the boat as she is (TOML)", &o.boat),
			&cli.StringSliceFlag{Name: "change", Usage: "a variant: \"key=value,key=value\" or \"name: key=value\"; may be repeated"},
			&cli.StringFlag{Name: "variants", Usage: "file of variants (TOML)", Destination: &o.variants},
			&cli.StringSliceFlag{Name: "sweep", Usage: "a row of variants: key=from:to:step or key=a,b,c, of numbers, [lists] or words; a second one makes every pair"},
			&cli.IntFlag{Name: "samples", Usage: fmt.Sprintf("samples of the model's uncertain factors; %d or more show what each one does", refit.LeastSamples()), Destination: &o.samples},
			&cli.BoolFlag{Name: "fine-samples", Usage: "samples with full speed tables, at five times the time", Destination: &o.fineSamples},
			&cli.IntFlag{Name: "sample-passages", Usage: "passages sailed in each sample", Value: 8, Destination: &o.samplePassages},
			&cli.Float64Flag{Name: "mass-area-power", Usage: "a foil's mass grows with this power of its area", Value: refit.DefaultGrowth.MassArea, Destination: &o.growth.MassArea},
			&cli.Float64Flag{Name: "mass-span-power", Usage: "and with this power of its span", Value: refit.DefaultGrowth.MassSpan, Destination: &o.growth.MassSpan},
			&cli.Float64Flag{Name: "load-area-power", Usage: "the limit of a foil's load grows with this power of its area", Value: refit.DefaultGrowth.LoadArea, Destination: &o.growth.LoadArea},
			&cli.StringFlag{Name: "out", Usage: "folder for page, charts, tables and the journal by which a run goes on", Destination: &o.out},
			&cli.StringFlag{Name: "part", Usage: "only part k of n, as 2/4", DefaultText: "all, or the index of a Slurm array", Destination: &o.part},
			&cli.IntFlag{Name: "parts", Usage: "number of parts of a Kubernetes indexed job", Destination: &o.parts},
			&cli.StringFlag{Name: "merge", Usage: "folder with the journals of all parts, in place of sailing", Destination: &o.merge},
		}, manyFlags(&o.manyOptions)...),
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			o.take(c)
			o.changes, o.sweeps = c.StringSlice("change"), c.StringSlice("sweep")
			if err := o.validate(os.Getenv); err != nil {
				return err
			}
			return runRefit(c.Context, &o, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

func (o *refitOptions) validate(getenv func(string) string) error {
	switch {
	case o.boat == "":
		return noBoat()
	case len(o.changes)+len(o.sweeps) == 0 && o.variants == "":
		return usage("give --change \"foils.area_m2=1.8\", --sweep foils.span_m=2.2:3.4:0.4 or --variants FILE", "no variant given")
	case o.samples < 0 || o.samples > 1000:
		return usage("", "--samples %d: must be from 0 to 1000", o.samples)
	case o.samplePassages < 1:
		return usage("", "--sample-passages %d: must be at least 1", o.samplePassages)
	case o.parts < 0:
		return usage("", "--parts %d: must be at least 1", o.parts)
	}
	for name, x := range map[string]float64{"mass-area-power": o.growth.MassArea, "mass-span-power": o.growth.MassSpan, "load-area-power": o.growth.LoadArea} {
		if !(x >= 0 && x <= 4) {
			return usage("", "--%s %g: must be from 0 to 4", name, x)
		}
	}
	if err := o.manyOptions.validate(); err != nil {
		return err
	}
	var err error
	if o.part != "" {
		if o.share, err = trial.ParsePart(o.part); err != nil {
			return usage("", "--part: %w", err)
		}
	} else if o.share, _, err = trial.PartFromScheduler(getenv, o.parts); err != nil {
		return usage("", "%w", err)
	}
	if o.merge != "" {
		o.share = trial.Part{}
	}
	if o.share.N > 1 && o.out == "" {
		return usage("give --out DIR; all parts may share it", "a part needs a folder for its results")
	}
	return nil
}

// refitResult is a comparison with all that the outputs show.
type refitResult struct {
	boat      *vpp.Boat
	boats     []*vpp.Boat
	variants  []refit.Variant // without the base
	swept     []string
	labels    []string // short names, the base boat's first
	cmp       *refit.Comparison
	marginals []refit.Marginal
	samples   int
	leftOut   []string
	warnings  []string
	inputs    []input
}

// runRefit answers one question: it reads as the method does.
func runRefit(ctx context.Context, o *refitOptions, s streams) error {
	base, boatInput, err := readBoat(o.boat)
	if err != nil {
		return err
	}
	text, err := os.ReadFile(o.boat)
	if err != nil {
		return err
	}
	vs, swept, inputs, err := o.list()
	if err != nil {
		return err
	}
	study := &refit.Study{Names: []string{baseVariant}, Boats: []*vpp.Boat{base}, Workers: o.workers, Samples: refit.Factors(o.samples, o.seed), SamplePassages: o.samplePassages, FineSamples: o.fineSamples}
	for i := range vs {
		b, err := vs[i].Build(text, filepath.Base(o.boat), o.growth)
		if err != nil {
			return err
		}
		study.Names, study.Boats = append(study.Names, vs[i].Name), append(study.Boats, b)
	}
	many, err := o.read(ctx)
	if err != nil {
		return err
	}
	inputs = append(append([]input{boatInput}, many.inputs...), inputs...)
	study.Passages, study.Problem = many.count(), many.problem
	study.Options = o.sailing(many.set)
	study.Table = func(ctx context.Context, b *vpp.Boat, f vpp.Factors, g vpp.Grid) (*vpp.Table, error) {
		return speedTable(ctx, b, f, g, o.cache, nil)
	}
	records, err := o.sail(ctx, study, inputs, s)
	if err != nil || records == nil {
		return err
	}
	sampling := refit.Sampling{Tracks: len(many.tracks), Seed: o.seed,
		Block: trial.BlockFor(many.set.Every.Seconds(), meanPassageS(records[0]), many.set.Len())}
	res := &refitResult{boat: base, boats: study.Boats, variants: vs, swept: swept, samples: o.samples, inputs: inputs, warnings: many.set.Warnings,
		labels: append([]string{baseVariant}, refit.Labels(vs, swept, baseVariant)...),
		cmp:    study.Compare(records, sampling)}
	if res.cmp.Passages == 0 {
		return noneArrives(errors.New("there is no passage on which every variant arrives"))
	}
	for _, i := range res.cmp.LeftOut {
		res.leftOut = append(res.leftOut, many.name(i))
	}
	for _, key := range singleKeys(vs, swept) {
		res.marginals = append(res.marginals, res.cmp.Marginals(vs, key)...)
	}
	if o.out != "" {
		dest, err := newFolder(o.out)
		if err != nil {
			return err
		}
		defer dest.discard()
		if err := writeRefit(ctx, dest, res); err != nil {
			return err
		}
	}
	return printRefit(s, o, res)
}

// singleKeys are the keys whose marginal value can be told.
func singleKeys(vs []refit.Variant, swept []string) []string {
	if len(swept) > 0 {
		return swept
	}
	var keys []string
	for _, v := range vs {
		if len(v.Changes) == 1 {
			known := false
			for _, k := range keys {
				known = known || k == v.Changes[0].Key
			}
			if !known {
				keys = append(keys, v.Changes[0].Key)
			}
		}
	}
	return keys
}

func meanPassageS(r refit.Record) float64 {
	sum, n := 0.0, 0.0
	for _, o := range r.Out {
		if o.Arrived {
			sum += o.TimeS
			n++
		}
	}
	return sum / max(n, 1)
}

// sail does the jobs or takes them from the journals of parts. It returns nil
// when only a part was done.
func (o *refitOptions) sail(ctx context.Context, study *refit.Study, inputs []input, s streams) ([]refit.Record, error) {
	print := o.fingerprint(inputs, study)
	if o.merge != "" {
		return mergeRefit(o.merge, print)
	}
	journal := ""
	if o.out != "" {
		if err := os.MkdirAll(o.out, 0o755); err != nil {
			return nil, unwritable(o.out, err)
		}
		journal = filepath.Join(o.out, "refit-"+print[:12]+".jsonl")
		if o.share.N > 1 {
			journal = filepath.Join(o.out, fmt.Sprintf("refit-%s-%d-of-%d.jsonl", print[:12], o.share.K, o.share.N))
		}
	}
	pr := newProgress(s)
	done := pr.start("variants")
	records, err := trial.Run(ctx, study.Jobs(), study.Job, trial.RunOptions{Workers: 1, Part: o.share, Journal: journal, Fingerprint: print, Progress: pr.set})
	done()
	if err != nil {
		return nil, trialError(err)
	}
	if o.share.N > 1 {
		fmt.Fprintf(s.out, "Part %v is done: its results are in %s.\nWhen all parts are, give the same command with --merge %s in place of --part.\n", o.share, journal, o.out)
		return nil, nil
	}
	return records, nil
}

// mergeRefit takes together the journals of one question's parts in a folder.
func mergeRefit(dir, print string) ([]refit.Record, error) {
	paths, err := filepath.Glob(filepath.Join(dir, "refit-"+print[:12]+"*.jsonl"))
	if err == nil && len(paths) == 0 {
		return nil, usage("give the same options as the parts had", "%s holds no journal refit-%s*.jsonl of this question", dir, print[:12])
	}
	if err != nil {
		return nil, err
	}
	records, was, err := trial.MergeRuns[refit.Record](paths, nil)
	if err == nil && was != print {
		err = &trial.JournalError{Path: paths[0], Msg: "holds the results of another question", Other: true}
	}
	return records, trialError(err)
}

// fingerprint stands for everything that the results depend on.
func (o *refitOptions) fingerprint(inputs []input, study *refit.Study) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%v\n%v %v %v %v %v %v\n", version(), inputs, o.vias, o.tracks, o.backToo, o.weathers, o.seed, o.each)
	fmt.Fprintf(&b, "%v %v %v %v %v %v\n", o.departure, o.end, o.every, o.afterEnd, o.stageNM, o.corridor)
	fmt.Fprintf(&b, "%v %v %v %v %v\n", study.Names, study.Samples, o.samplePassages, o.fineSamples, study.Passages)
	for _, boat := range study.Boats {
		m, err := vpp.NewModel(boat, vpp.NoFactors())
		if err == nil {
			b.WriteString(vpp.CacheKey(m, vpp.DefaultGrid()))
		}
		fmt.Fprintf(&b, " %+v\n", boat.Handling)
	}
	return sha256Hex([]byte(b.String()))
}
