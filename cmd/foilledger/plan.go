package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"foilledger/strategy"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// result is a planned passage with everything that the outputs show.
type result struct {
	problem  *strategy.Problem
	source   weather.Source
	voyage   *strategy.Voyage
	log      *strategy.Log
	bound    *strategy.Voyage
	thinnedS float64  // cost of the changes left out
	reasons  []string // by change
	bases    []base
	ledger   *strategy.Ledger // against bases[0]
	evens    []strategy.BreakEven
	warnings []string
	assume   []string
}

// base is a baseline's passage.
type base struct {
	name   string
	voyage *strategy.Voyage
	log    *strategy.Log
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

// plan finds the passage, its bound and its baselines.
func plan(ctx context.Context, q *question, f *fleet, pr *progress) (*result, error) {
	field := q.forecast.Main()
	res := &result{source: field, warnings: append([]string(nil), q.forecast.Warnings...)}
	if n := len(q.forecast.Members); n > 1 {
		res.warnings = append(res.warnings, fmt.Sprintf("the forecast has %d ensemble members; the plan uses the first", n))
	}
	departS, err := q.departS(field)
	if err != nil {
		return nil, err
	}
	if q.options.afterEnd == "hold" {
		res.source = field.HoldLast()
	}
	opt := q.strategyOptions(field)
	sailor, err := strategy.NewSailor(ctx, f.table, q.boat.Handling, res.source, opt)
	if err != nil {
		return nil, err
	}
	p := sailor.NewProblem(q.track, departS)
	res.problem = p

	done := pr.start("plan")
	res.voyage, err = p.Best(ctx, nil, false, pr.set)
	done()
	if err != nil {
		return nil, endsTooEarly(ctx, err, q, sailor, field, departS)
	}
	if res.voyage.Status != strategy.Found {
		return nil, &commandError{code: exitNoPassage, hint: "depart at another time or choose another track",
			err: errors.New("no feasible passage: in every foil state the boat is stopped for two days by calm, current or a limit")}
	}
	optimum := res.voyage
	if res.voyage, err = p.Thin(ctx, optimum, q.options.leastMin*60); err != nil {
		return nil, err
	}
	res.thinnedS = res.voyage.ArriveS - optimum.ArriveS
	if _, res.log, err = p.Record(res.voyage.Schedule); err != nil {
		return nil, err
	}
	if res.bound, err = p.Best(ctx, nil, true, nil); err != nil {
		return nil, err
	}

	// Baselines may outlast the forecast although the plan does not: they then
	// keep the last step's weather, and the result says so.
	_, lastS := field.SpanS()
	hold := sailor.In(field.HoldLast())
	never := hold.NewProblem(q.track, departS)
	if err := res.addBase(ctx, baseNeverUsed, never); err != nil {
		return nil, err
	}
	if f.without != nil {
		bare, err := strategy.NewSailor(ctx, f.without, q.boat.Handling, field.HoldLast(), opt)
		if err != nil {
			return nil, err
		}
		if err := res.addBase(ctx, baseNotAboard, bare.NewProblem(q.track, departS)); err != nil {
			return nil, err
		}
	}
	for _, b := range res.bases {
		if over := b.voyage.ArriveS - lastS; over > 0 {
			res.warnings = append(res.warnings, fmt.Sprintf("the baseline %q arrives %.1f h after the forecast's end; it keeps the last step's weather until then", b.name, over/units.SPerHour))
		}
	}
	if over := res.voyage.ArriveS - lastS; over > 0 {
		res.warnings = append(res.warnings, fmt.Sprintf("the plan arrives %.1f h after the forecast's end; as asked with --after-end hold, the last step's weather is kept until then", over/units.SPerHour))
	}
	if res.ledger, err = p.NewLedger(res.voyage, never, res.bases[0].voyage); err != nil {
		return nil, err
	}
	for i := range res.log.Changes {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		a, err := p.Alternatives(res.voyage, res.log.Changes, i)
		if err != nil {
			return nil, err
		}
		res.reasons = append(res.reasons, a.Reason())
	}
	res.evens = breakEvens(sailor)
	res.note(q, field)
	return res, nil
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
	res.bases = append(res.bases, base{name: name, voyage: v, log: lg})
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
	return src.Reference().Add(time.Duration(s * float64(time.Second))).UTC()
}

// note lists what the result takes for granted.
func (res *result) note(q *question, field *weather.Field) {
	res.assume = append(res.assume,
		"The boat departs with both foils in and sails the given track; on courses too close to the wind or too far off it she beats or gybes inside the corridor.",
		fmt.Sprintf("Foils change only at the ends of stages of at most %g nautical miles.", q.options.stageNM),
		fmt.Sprintf("Changes that gain less than %g min are left out; together they would have gained %.1f min more.", q.options.leastMin, res.thinnedS/60),
		"After a change the speed reached by accelerating is used, never the higher one that a boat already flying might keep.",
	)
	if field.WavesDerived() {
		res.assume = append(res.assume, "The forecast has no waves: they are derived from its wind.")
	}
	if !field.Variables().Has(weather.HasWaveDirection) {
		res.assume = append(res.assume, "The waves run with the wind.")
	}
	if !field.Variables().Has(weather.HasCurrent) {
		res.assume = append(res.assume, "No current.")
	}
	var held, calm float64
	for _, s := range res.voyage.Stages {
		held += s.HeldS
		calm += s.CalmS
	}
	if held > 0 {
		res.warnings = append(res.warnings, fmt.Sprintf("a limit of the foils stops the plan for %.0f min in all", held/60))
	}
	if calm > 0 {
		res.warnings = append(res.warnings, fmt.Sprintf("the boat is becalmed or stopped by the current for %.1f h in all", calm/units.SPerHour))
	}
	g := res.problem.Grid()
	top := g.TWSMS[len(g.TWSMS)-1]
	var beyond float64
	for i := range res.log.Entries {
		if e := &res.log.Entries[i]; e.Pace.TWSMS > top {
			beyond += e.EndS - e.StartS
		}
	}
	if beyond > 0 {
		res.warnings = append(res.warnings, fmt.Sprintf("the wind is above the %.0f kn of the speed table for %.1f h; the table's last speeds are used", units.Knots(top), beyond/units.SPerHour))
	}
}

// breakEvens is the table of break-even times printed with a passage: putting
// the leeward foil out to its best setting, over wind speed and angle.
func breakEvens(s *strategy.Sailor) []strategy.BreakEven {
	if len(s.States().All()) == 1 {
		return nil
	}
	var out []strategy.BreakEven
	for _, kn := range []float64{8, 12, 16, 20, 25} {
		for _, deg := range []float64{50, 75, 100, 125, 150} {
			hs := typicalSea(units.MS(kn))
			best, _ := s.BestSetting(units.MS(kn), units.Rad(deg), hs)
			if best == 0 {
				best = 1
			}
			out = append(out, s.BreakEven(0, best, units.MS(kn), units.Rad(deg), hs))
		}
	}
	return out
}
