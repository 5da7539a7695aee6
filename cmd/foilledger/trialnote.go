package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/strategy/trial"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// trialNote is everything but the runs that the outputs of a trial are made of.
// It stands in the head of each journal, so that merging needs nothing else.
type trialNote struct {
	Version    string        `json:"version"`
	Command    trialPaths    `json:"command"`
	DistanceNM float64       `json:"distance_nm"`
	StageNM    float64       `json:"stage_nm"`
	CorridorNM float64       `json:"corridor_nm"`
	Seed       uint64        `json:"seed"`
	EveryS     float64       `json:"every_s"`
	Forecast   string        `json:"forecast"`
	Search     bool          `json:"search"`
	Train      float64       `json:"train"`
	Boats      []noteBoat    `json:"boats"`
	Policies   []string      `json:"policies"`
	Weathers   []noteWeather `json:"weathers"`
	Warnings   []string      `json:"warnings"`
	Inputs     []input       `json:"inputs"`
}

// paths keeps the options by which the trial can be opened again.
func (o *trialOptions) paths() trialPaths {
	return trialPaths{Boats: o.boats, Forecast: o.forecast, Issued: o.issued, Rules: o.rules, Via: o.via, Track: o.track, Made: o.made, Each: o.each,
		Weathers: o.weathers, Seed: o.seed, Depart: o.depart, Until: o.until, See: o.see, AfterEnd: o.afterEnd, Every: o.every, NewEvery: o.newEvery,
		StageNM: o.stageNM, Corridor: o.corridor}
}

// trialPaths are the options by which a trial can be opened again. They are no
// part of the fingerprint: files may lie elsewhere on another machine.
type trialPaths struct {
	Boats, Forecast, Issued, Rules []string
	Via, Track, Made               string
	Each                           bool
	Weathers                       int
	Seed                           uint64
	Depart, Until, See, AfterEnd   string
	Every, NewEvery                time.Duration
	StageNM, Corridor              float64
}

type noteBoat struct {
	Name     string    `json:"name"`
	Usual    string    `json:"usual_setting"`
	Settings []setting `json:"settings"`
}

type setting struct {
	Extension float64 `json:"extension"`
	RakeDeg   float64 `json:"rake_deg"`
}

type noteWeather struct {
	Name   string    `json:"name"`
	Depart time.Time `json:"depart"`
}

func (n *trialNote) addBoat(name string, sl *strategy.Sailor) {
	b := noteBoat{Name: name, Usual: sl.States().Describe(trial.UsualSetting(sl))}
	for _, s := range sl.Performer().Settings() {
		b.Settings = append(b.Settings, setting{s.Extension, units.Deg(s.RakeRad)})
	}
	n.Boats = append(n.Boats, b)
}

// fingerprint stands for all that the runs depend on.
func (n *trialNote) fingerprint() string {
	c := *n
	c.Command = trialPaths{}
	b, err := json.Marshal(c)
	if err != nil {
		panic(err) // plain data
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// journal names the journal of a part in the output folder, which is made.
func (n *trialNote) journal(out string, p trial.Part) (string, error) {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return "", unwritable(out, err)
	}
	name := "runs-" + n.fingerprint()[:8]
	if p.N > 1 {
		name += fmt.Sprintf("-part%dof%d", p.K, p.N)
	}
	return filepath.Join(out, name+".jsonl"), nil
}

// options turns the note of a journal back into the options of the command.
func (n *trialNote) options() trialOptions {
	c := n.Command
	return trialOptions{boats: c.Boats, issued: c.Issued, rules: c.Rules, via: c.Via, track: c.Track, see: c.See, newEvery: c.NewEvery, train: 0.5,
		weatherOptions: weatherOptions{forecast: c.Forecast, made: c.Made, each: c.Each, weathers: c.Weathers, seed: c.Seed, depart: c.Depart, until: c.Until,
			every: c.Every, afterEnd: c.AfterEnd, stageNM: c.StageNM, corridor: c.Corridor}}
}

// trialResult is a trial with everything that the outputs show.
type trialResult struct {
	note    *trialNote
	records []trial.Record
	sum     *trial.Summary
	notes   []string // warnings
}

// result sums the runs up.
func (n *trialNote) result(records []trial.Record) *trialResult {
	z := n.summarizer()
	res := &trialResult{note: n, records: records, sum: z.Summarize(records), notes: append([]string(nil), n.Warnings...)}
	if k := res.sum.Weathers; k < 10 {
		res.notes = append(res.notes, fmt.Sprintf("%s: too few for the intervals to say much", count(k, "weather", "weathers")))
	}
	if res.sum.Block > 1 {
		res.notes = append(res.notes, fmt.Sprintf("departures follow each other closely: up to %d in a row share weather, and the intervals allow for it", res.sum.Block))
	}
	for _, b := range res.sum.Boats {
		for _, p := range b.Policies {
			var why []string
			if p.NoWay > 0 {
				why = append(why, fmt.Sprintf("does not arrive in %s", count(p.NoWay, "weather", "weathers")))
			}
			if p.Uncovered > 0 {
				why = append(why, fmt.Sprintf("meets the end or the edge of %s", count(p.Uncovered, "weather", "weathers")))
			}
			if len(why) > 0 {
				res.notes = append(res.notes, fmt.Sprintf("%s, %q: %s; left out of the comparison", b.Boat, p.Name, strings.Join(why, ", and ")))
			}
		}
	}
	return res
}

// check finds, before anything is run, what could not be told afterwards.
func (n *trialNote) check(between string) error {
	if _, _, err := n.pair(between); err != nil {
		return err
	}
	if n.Search {
		train := 0
		for _, t := range n.summarizer().Train {
			if t {
				train++
			}
		}
		if train == 0 || train == len(n.Weathers) {
			return usage("take more weathers, or another --train", "--search with --train %g chooses thresholds on %d of %s and tests them on %d: both need some",
				n.Train, train, count(len(n.Weathers), "weather", "weathers"), len(n.Weathers)-train)
		}
	}
	return nil
}

// pair finds the two policies named as "a; b"; both are 0 for "".
func (n *trialNote) pair(between string) (a, b int, err error) {
	if between == "" {
		return 0, 0, nil
	}
	names := append(slices.Clone(n.Policies), trial.CeilingName)
	first, second, _ := strings.Cut(between, ";")
	a, b = slices.Index(names, strings.TrimSpace(first)), slices.Index(names, strings.TrimSpace(second))
	if a < 0 || b < 0 || a == b {
		return 0, 0, usage("write two of "+strings.Join(names, ", ")+" as \"re-plan; thresholds\"", "--between %q does not name two policies", between)
	}
	return a, b, nil
}

// tellApart lists the weathers that tell two policies apart, when they are named
// as "a; b".
func (res *trialResult) tellApart(between string) error {
	a, b, err := res.note.pair(between)
	if err != nil || a == b {
		return err
	}
	z := res.note.summarizer()
	for i := range res.sum.Boats {
		res.sum.Boats[i].Split = z.Separate(res.records, i, a, b)
	}
	return nil
}

func (n *trialNote) summarizer() *trial.Summarizer {
	z := &trial.Summarizer{Policies: n.Policies, Weathers: len(n.Weathers), Ceiling: true, Bootstrap: trial.Bootstrap{Seed: n.Seed},
		BlockFor: func(passageS float64) int { return trial.BlockFor(n.EveryS, passageS, len(n.Weathers)) }}
	for _, b := range n.Boats {
		z.Boats = append(z.Boats, b.Name)
	}
	if n.Search {
		z.Search = trial.Candidates()
		block := 1
		if n.EveryS > 0 {
			block = 2
		}
		z.Train = trial.TrainingSet(len(n.Weathers), n.Train, block, n.Seed)
	}
	return z
}

// failed reports whether a boat has no weather that all its policies finish.
func (res *trialResult) failed() bool {
	for _, b := range res.sum.Boats {
		if b.Best < 0 {
			return true
		}
	}
	return false
}

func (res *trialResult) failures() string {
	for _, b := range res.sum.Boats {
		if b.Best < 0 {
			p := b.Policies[0]
			return fmt.Sprintf("%s, %q arrives in %d of %d, finds no way in %d, and in %d the weather ends or does not reach", b.Boat, p.Name, p.Arrived, res.sum.Weathers, p.NoWay, p.Uncovered)
		}
	}
	return ""
}

// trialError gives the errors of trials their codes and hints.
func trialError(err error) error {
	var je *trial.JournalError
	var re *trial.RuleError
	var se *trial.SetError
	switch {
	case errors.As(err, &je) && je.Missing > 0:
		return &commandError{code: exitFailed, hint: "run the missing parts, or give their folders too", err: err}
	case errors.As(err, &je):
		return &commandError{code: exitFailed, hint: "remove the file to begin again, or choose another --out", err: err}
	case errors.As(err, &re):
		return &commandError{code: exitUsage, hint: "testdata/policies/fresh-reach.toml shows the keys", err: err}
	case errors.As(err, &se):
		return &commandError{code: exitUsage, hint: se.Hint, err: err}
	}
	return err
}

func baseName(path string) string { return filepath.Base(path) }

// alongOf says which weather is kept for a track.
func alongOf(track *route.Track, o *trialOptions) weather.Options {
	var last time.Time
	if !o.end.IsZero() {
		last = o.end.Add(lyingStill + time.Duration(track.LengthM()/slowestMS*float64(time.Second)))
	}
	return weather.Along(alongTrack(track), max(o.corridor, leastCorridorNM), o.departure, last)
}

// buildTable makes or finds the speed table of a boat.
func buildTable(ctx context.Context, boat *vpp.Boat, cache string, pr *progress) (*vpp.Table, error) {
	defer pr.start("speeds of " + boat.Name)()
	return speedTable(ctx, boat, vpp.NoFactors(), vpp.DefaultGrid(), cache, pr.set)
}
