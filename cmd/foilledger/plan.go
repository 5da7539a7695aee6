package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"foilledger/strategy"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// result is a planned passage with everything that the outputs show.
type result struct {
	problem  *strategy.Problem // under the rules of the person
	source   weather.Source
	field    *weather.Field
	voyage   *strategy.Voyage
	log      *strategy.Log
	bound    *strategy.Voyage
	best     *strategy.Voyage // before it was thinned
	thinnedS float64          // cost of the changes left out
	reasons  []string         // by change
	bases    []base
	ledger   *strategy.Ledger // against bases[0]
	rest     strategy.RestReport
	costs    []constraint
	spread   *spread // over ensemble members; nil for a single forecast
	hand     *byHand // a schedule given by hand; nil without
	refined  []strategy.Refinement
	evens    []strategy.BreakEven
	maps     []evenMap
	limits   []string
	warnings []string
	assume   []string
}

// base is a baseline's passage.
type base struct {
	name    string
	problem *strategy.Problem
	voyage  *strategy.Voyage
	log     *strategy.Log
	ledger  *strategy.Ledger // of the plan against this baseline; nil: res.ledger, or none
	// at turns a distance along the plan's track into the one that matches it
	// along this baseline's; nil when they sail the same track.
	at func(m float64) float64
}

// timeAt is when the baseline passes the place that matches m metres along the
// plan's track.
func (b *base) timeAt(m float64) float64 {
	if b.at != nil {
		m = b.at(m)
	}
	return b.log.TimeAt(m)
}

const (
	baseNeverUsed = "foils aboard, never used"
	baseNotAboard = "foils not aboard"
)

// plan finds the passage under the rules of the person, its bound and its
// baselines, and what else the outputs show.
func plan(ctx context.Context, q *question, f *fleet, pr *progress) (*result, error) {
	field := q.forecast.Main()
	res := &result{source: field, field: field, warnings: append([]string(nil), q.forecast.Warnings...)}
	departS, err := q.departS(field)
	if err != nil {
		return nil, err
	}
	if q.options.afterEnd == "hold" {
		res.source = field.HoldLast()
	}
	sailor, err := strategy.NewSailor(ctx, f.table, q.boat.Handling, res.source, q.strategyOptions(field))
	if err != nil {
		return nil, err
	}
	free := sailor.NewProblem(q.track, departS)
	if err := res.search(ctx, q, free, pr); err != nil {
		return nil, endsTooEarly(ctx, err, q, sailor, field, departS)
	}
	if res.bound, err = free.Best(ctx, nil, true, nil); err != nil {
		return nil, err
	}
	if err := res.baselines(ctx, q, f, sailor, departS); err != nil {
		return nil, err
	}
	if err := res.complete(ctx, q, f, sailor, pr); err != nil {
		return nil, err
	}
	return res, nil
}

// search finds the plan, thins it, and prices the rules.
func (res *result) search(ctx context.Context, q *question, free *strategy.Problem, pr *progress) error {
	o := &q.options.person
	person := o.person(res.source.Reference())
	done := pr.start("plan")
	fastest, err := free.Best(ctx, nil, false, pr.set)
	done()
	if err != nil {
		return err
	}
	if fastest.Status != strategy.Found {
		return &commandError{code: exitNoPassage, hint: "depart at another time or choose another track",
			err: errors.New("no feasible passage: in every foil state the boat is stopped for two days by calm, current or a limit")}
	}
	res.problem = free.For(person)
	if res.hand, err = sailByHand(q, res); err != nil { // refused before the long work
		return err
	}
	quick := !o.asked && len(free.States().All()) > manyStates
	bestFor := func() (*strategy.Voyage, error) {
		res.problem = free.For(person)
		defer pr.start("plan for a person")()
		if quick && person.RestS > 0 {
			return restAmongFew(ctx, res.problem, fastest, pr.set)
		}
		return res.problem.BestFor(ctx, nil, pr.set)
	}
	best, err := bestFor()
	if err != nil {
		return err
	}
	if best.Status != strategy.Found && person.RestS > 0 && !o.asked {
		// Nobody asked for the rest; the plan is made without and says so.
		person.RestS = 0
		res.warnings = append(res.warnings, fmt.Sprintf("no schedule was found that leaves %g h of rest in every 24 in naps of %g min or more: this one does not, and is not for one person; --sleep %g searches for all", o.sleepH, o.napMin, o.sleepH))
		if best, err = bestFor(); err != nil {
			return err
		}
	}
	if best.Status != strategy.Found {
		return refuseRules(ctx, res.problem, o, best, fastest)
	}
	if best.OpenS > 0 { // what the search left open, moves can gain
		better, err := res.problem.Simplify(ctx, best, 1e-3)
		if err != nil {
			return err
		}
		better.OpenS = max(best.OpenS-(best.ArriveS-better.ArriveS), 0)
		best = better
	}
	if o.asked {
		res.costs, err = priceRules(ctx, res.problem, o, best, pr)
	} else if person.RestS > 0 { // the only rule: its cost is known
		res.costs = []constraint{{o.ruleWords(strategy.RuleRestQuota), best.ArriveS - fastest.ArriveS}}
		if quick && best.ArriveS > fastest.ArriveS {
			res.assume = append(res.assume, fmt.Sprintf("Of the boat's %d foil states, the time to rest was looked for in those of the fastest plan and those alike on both sides; --sleep %g looks in all, which takes minutes.", len(free.States().All()), o.sleepH))
		}
	}
	if err != nil {
		return err
	}
	res.best = best
	if res.voyage, err = res.problem.Simplify(ctx, best, q.options.leastMin*60); err != nil {
		return err
	}
	res.thinnedS = res.voyage.ArriveS - best.ArriveS
	if _, res.log, err = res.problem.RecordVoyage(res.voyage); err != nil {
		return err
	}
	res.rest = res.problem.RestReport(res.log)
	return nil
}

// manyStates is the number of foil states above which a rest that nobody asked
// for is looked for in a few of them only: the search for all takes minutes.
const manyStates = 64

// restAmongFew plans under the rules with the foil states of the fastest plan
// and those that are alike on both sides.
func restAmongFew(ctx context.Context, p *strategy.Problem, fastest *strategy.Voyage, progress func(done, total int)) (*strategy.Voyage, error) {
	few := map[strategy.State]bool{}
	for _, s := range fastest.Schedule {
		few[s] = true
	}
	return p.BestFor(ctx, func(_ int, s strategy.State) bool { return few[s] || s.Port == s.Starboard }, progress)
}

// baselines sails the passage without the foils, and splits the gain over
// each. Baselines may outlast the forecast although the plan does not: they
// then keep the last step's weather, and the result says so.
func (res *result) baselines(ctx context.Context, q *question, f *fleet, sailor *strategy.Sailor, departS float64) error {
	hold := sailor.In(res.field.HoldLast())
	if err := res.addBase(ctx, baseNeverUsed, hold.NewProblem(q.track, departS)); err != nil {
		return err
	}
	if f.without != nil {
		bare, err := strategy.NewSailor(ctx, f.without, q.boat.Handling, res.field.HoldLast(), q.strategyOptions(res.field))
		if err != nil {
			return err
		}
		if err := res.addBase(ctx, baseNotAboard, bare.NewProblem(q.track, departS)); err != nil {
			return err
		}
	}
	for i := range res.bases {
		b := &res.bases[i]
		var err error
		if b.ledger, err = res.problem.NewLedger(res.voyage, b.problem, b.voyage); err != nil {
			return err
		}
	}
	res.ledger = res.bases[0].ledger
	return nil
}

func (res *result) addBase(ctx context.Context, name string, p *strategy.Problem) error {
	v, err := p.Best(ctx, strategy.FoilsIn, false, nil)
	if err != nil {
		return fmt.Errorf("baseline %q: %w", name, err)
	}
	if v.Status != strategy.Found {
		return &commandError{code: exitNoPassage, hint: "depart at another time or choose another track",
			err: fmt.Errorf("baseline %q does not arrive: %v", name, v.Status)}
	}
	_, lg, err := p.Record(v.Schedule)
	if err != nil {
		return err
	}
	res.bases = append(res.bases, base{name: name, problem: p, voyage: v, log: lg})
	return nil
}

// complete adds what explains a voyage that has been found: why each change is
// made, the spread over members, the schedule by hand, break-even times, the
// error of the steps, limits and assumptions.
func (res *result) complete(ctx context.Context, q *question, f *fleet, sailor *strategy.Sailor, pr *progress) error {
	if err := res.explainChanges(ctx); err != nil {
		return err
	}
	var err error
	if res.spread, err = overMembers(ctx, q, sailor, res, pr); err != nil {
		return err
	}
	if res.hand != nil {
		if err := res.hand.account(ctx); err != nil {
			return err
		}
	}
	if q.options.refine {
		if err := res.refine(ctx, q, pr); err != nil {
			return err
		}
	}
	res.evens = breakEvens(sailor)
	if q.options.out != "" {
		if res.maps, err = breakEvenMaps(ctx, sailor, pr); err != nil {
			return err
		}
	}
	res.note(q)
	return nil
}

// refine measures the error of the plan's steps, rakes at half their steps
// included where the boat has several.
func (res *result) refine(ctx context.Context, q *question, pr *progress) error {
	var finer *strategy.Sailor
	if boat := q.boat.WithFinerRakes(); len(boat.Settings()) > len(q.boat.Settings()) {
		done := pr.start("speeds with rakes at half the steps")
		table, err := speedTable(ctx, boat, vpp.NoFactors(), vpp.DefaultGrid(), q.options.cache, pr.set)
		done()
		if err != nil {
			return err
		}
		if finer, err = strategy.NewSailor(ctx, table, boat.Handling, res.source, q.strategyOptions(res.field)); err != nil {
			return err
		}
	}
	defer pr.start("other steps")()
	var err error
	res.refined, err = res.problem.Discretisation(ctx, res.best, finer)
	return err
}

func (res *result) explainChanges(ctx context.Context) error {
	res.reasons = nil
	for i := range res.log.Changes {
		if err := ctx.Err(); err != nil {
			return err
		}
		a, err := res.problem.Alternatives(res.voyage, res.log.Changes, i)
		if err != nil {
			return err
		}
		res.reasons = append(res.reasons, a.Reason())
	}
	return nil
}

// endsTooEarly turns the error of a forecast that ends before the arrival into
// one that says by how much, from a plan in the last step's weather.
func endsTooEarly(ctx context.Context, err error, q *question, s *strategy.Sailor, field *weather.Field, departS float64) error {
	var ce *weather.CoverageError
	if !errors.As(err, &ce) || ce.Kind != weather.AfterLast {
		return err
	}
	v, err2 := s.In(field.HoldLast()).NewProblem(q.track, departS).Best(ctx, nil, false, nil)
	if err2 != nil || v.Status != strategy.Found {
		return err
	}
	_, lastS := field.SpanS()
	return &commandError{code: exitNoPassage,
		hint: "use a longer forecast, depart earlier, or add --after-end hold to keep the last step's weather after its end",
		err: fmt.Errorf("the forecast ends %s, about %.0f h before the arrival (%s if its last weather held): %w",
			timeAt(field, lastS).Format(time.RFC3339), (v.ArriveS-lastS)/units.SPerHour, timeAt(field, v.ArriveS).Format("2006-01-02 15:04Z"), ce)}
}

// timeAt turns seconds after the reference into a time.
func timeAt(src weather.Source, s float64) time.Time {
	return src.Reference().Add(time.Duration(math.Round(s)) * time.Second).UTC()
}
