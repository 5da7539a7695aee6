package refit

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"

	"foilledger/strategy"
	"foilledger/vpp"
	"foilledger/weather"
)

// Study is a list of variants, the base boat first, to be sailed over the same
// passages.
type Study struct {
	Names []string
	Boats []*vpp.Boat // the base boat first
	// Passages is their number, and Problem gives one of them to a boat.
	Passages int
	Problem  func(ctx context.Context, passage int, sl *strategy.Sailor) (*strategy.Problem, error)
	Options  strategy.Options
	// Samples of the model's factors, beyond the model as published. They are
	// sailed over the first SamplePassages passages, with coarse tables unless
	// FineSamples is set.
	Samples        []vpp.Factors
	SamplePassages int
	FineSamples    bool
	// Table makes a speed table.
	Table   func(ctx context.Context, boat *vpp.Boat, f vpp.Factors, g vpp.Grid) (*vpp.Table, error)
	Workers int // 0: one for each core

	mu     sync.Mutex
	ashore map[int]*strategy.Sailor // base boat without foils, by round
}

// Rounds is the number of times that every variant is sailed: with the full
// tables, and, when there are samples, with their tables without and with
// factors.
func (s *Study) Rounds() int {
	if len(s.Samples) == 0 {
		return 1
	}
	return 2 + len(s.Samples)
}

// Jobs is the number of jobs: every variant in every round.
func (s *Study) Jobs() int { return s.Rounds() * len(s.Boats) }

// Item is one cause of time gained over the base boat without foils.
type Item struct {
	Cause string  `json:"cause"`
	GainS float64 `json:"gain_s"`
}

// Outcome is one variant on one passage.
type Outcome struct {
	Arrived bool    `json:"arrived"`
	TimeS   float64 `json:"time_s"`   // of the exact plan
	NeverS  float64 `json:"never_s"`  // the same boat, foils never out
	AshoreS float64 `json:"ashore_s"` // the base boat without foils
	Ledger  []Item  `json:"ledger,omitempty"`
	Changes int     `json:"changes"`
	EffortJ float64 `json:"effort_j"`
	LoadN   float64 `json:"load_n"` // greatest mean force on a foil
	OutS    float64 `json:"out_s"`  // a foil out
	// LimitedS is how long, with a foil out, the limit of the foil's load ruled
	// the speed.
	LimitedS float64 `json:"limited_s"`
}

// Record is the result of one job.
type Record struct {
	Round   int       `json:"round"`
	Variant int       `json:"variant"`
	Out     []Outcome `json:"passages"`
}

// Job does one job.
func (s *Study) Job(ctx context.Context, job int) (Record, error) {
	rec := Record{Round: job / len(s.Boats), Variant: job % len(s.Boats)}
	factors, grid, n := vpp.NoFactors(), vpp.DefaultGrid(), s.Passages
	if rec.Round > 0 {
		n = s.samplePassages()
		if !s.FineSamples {
			grid = CoarseGrid()
		}
	}
	if rec.Round > 1 {
		factors = s.Samples[rec.Round-2]
	}
	boat := s.Boats[rec.Variant]
	sl, err := s.sailor(ctx, boat, factors, grid)
	if err != nil {
		return rec, err
	}
	bare, err := s.bare(ctx, rec.Round, factors, grid)
	if err != nil {
		return rec, err
	}
	rec.Out = make([]Outcome, n)
	eg, ctx := errgroup.WithContext(ctx)
	workers := s.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	eg.SetLimit(workers)
	for i := range n {
		eg.Go(func() (err error) {
			rec.Out[i], err = s.sail(ctx, i, sl, bare, rec.Round == 0)
			return err
		})
	}
	return rec, eg.Wait()
}

func (s *Study) samplePassages() int {
	if s.SamplePassages <= 0 {
		return s.Passages
	}
	return min(s.SamplePassages, s.Passages)
}

func (s *Study) sailor(ctx context.Context, boat *vpp.Boat, f vpp.Factors, g vpp.Grid) (*strategy.Sailor, error) {
	t, err := s.Table(ctx, boat, f, g)
	if err != nil {
		return nil, err
	}
	return strategy.NewSailor(ctx, t, boat.Handling, nil, s.Options)
}

// bare is the base boat without foils in a round: what all variants are
// measured against, so that their ledgers can be compared line by line.
func (s *Study) bare(ctx context.Context, round int, f vpp.Factors, g vpp.Grid) (*strategy.Sailor, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if sl := s.ashore[round]; sl != nil {
		return sl, nil
	}
	sl, err := s.sailor(ctx, s.Boats[0].WithoutFoils(), f, g)
	if err != nil {
		return nil, err
	}
	s.ashore = map[int]*strategy.Sailor{round: sl} // one round at a time
	return sl, nil
}

// sail plans one passage with one boat. A passage that the weather does not
// cover, or on which a boat is stopped, is one that does not arrive.
func (s *Study) sail(ctx context.Context, i int, sl, bare *strategy.Sailor, detail bool) (Outcome, error) {
	var out Outcome
	p, err := s.Problem(ctx, i, sl)
	if err != nil {
		return out, err
	}
	q, err := s.Problem(ctx, i, bare)
	if err != nil {
		return out, err
	}
	best, err := p.Best(ctx, nil, false, nil)
	if err != nil {
		return out, notCovered(err)
	}
	never, err := p.Best(ctx, strategy.FoilsIn, false, nil)
	if err != nil {
		return out, notCovered(err)
	}
	ashore, err := q.Best(ctx, strategy.FoilsIn, false, nil)
	if err != nil {
		return out, notCovered(err)
	}
	if best.Status != strategy.Found || never.Status != strategy.Found || ashore.Status != strategy.Found {
		return out, nil
	}
	out = Outcome{Arrived: true, TimeS: best.TimeS(), NeverS: never.TimeS(), AshoreS: ashore.TimeS()}
	for k := range best.Stages {
		g := &best.Stages[k]
		if len(g.Change.Parts()) > 0 {
			out.Changes++
			out.EffortJ += g.Change.EffortJ
		}
		if g.State.Out() {
			out.OutS += g.ArriveS - g.DepartS
		}
	}
	if !detail {
		return out, nil
	}
	lg, err := p.NewLedger(best, q, ashore)
	if err != nil {
		return out, fmt.Errorf("passage %d: %w", i+1, err)
	}
	for _, it := range lg.Items {
		out.Ledger = append(out.Ledger, Item{it.Cause, it.GainS})
	}
	_, log, err := p.Record(best.Schedule)
	if err != nil {
		return out, err
	}
	for k := range log.Entries {
		if e := &log.Entries[k]; e.State.Out() {
			st := log.Steady(e)
			out.LoadN = math.Max(out.LoadN, math.Abs(st.FoilLoadN))
			if st.RuledBy == vpp.RuleFoilLoad {
				out.LimitedS += e.EndS - e.StartS
			}
		}
	}
	return out, nil
}

func notCovered(err error) error {
	var ce *weather.CoverageError
	if errors.As(err, &ce) {
		return nil
	}
	return err
}
