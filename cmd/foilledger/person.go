package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"foilledger/strategy"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// personOptions are the rules that a schedule must keep for the person who
// follows it.
type personOptions struct {
	rests      []string // as given
	sleepH     float64
	asked      bool // a rule was asked for, so that it must be kept
	napMin     float64
	spacingMin float64
	effortKJ   float64
	changes    int
	night      float64
	powerW     float64
	gust       float64
	share      float64

	spans []restSpan // of rests
}

// restSpan is a given rest.
type restSpan struct{ from, to time.Time }

// defaultSleepH and defaultNapMin are what a plan leaves to a lone sailor when
// nothing is said: a sum of naps of half an hour or more (common practice).
const (
	defaultSleepH = 5
	defaultNapMin = 30
	defaultNight  = 1.25
	// defaultGust is what a gust of about a minute adds to the mean wind at sea:
	// between 1.05 and 1.14 (B. A. Harper, J. D. Kepert and J. D. Ginger, 2010,
	// Guidelines for converting between various wind averaging periods in
	// tropical cyclone conditions, WMO/TD-No. 1555; from memory). For shorter
	// ones the boat file has its own allowance.
	defaultGust  = 1.1
	defaultShare = 0.9
)

func personFlags(o *personOptions) []cli.Flag {
	return []cli.Flag{
		&cli.StringSliceFlag{Name: "rest", Usage: "span in which nothing is changed, \"FROM/TO\" in UTC as 2026-03-02T01:00Z/2026-03-02T05:00Z, or a CSV file with columns from_utc,to_utc; may be repeated"},
		&cli.Float64Flag{Name: "sleep", Usage: "rest to leave in every 24 hours, whenever they begin, hours; the plan finds where; 0 asks for none", Value: defaultSleepH, Destination: &o.sleepH},
		&cli.Float64Flag{Name: "nap", Usage: "shortest unbroken rest that counts, minutes", Value: defaultNapMin, Destination: &o.napMin},
		&cli.Float64Flag{Name: "spacing", Usage: "least time between two changes, minutes", Destination: &o.spacingMin},
		&cli.Float64Flag{Name: "effort", Usage: "work at winch and pump in 24 hours, at most, kJ; 0 sets no limit", Destination: &o.effortKJ},
		&cli.IntFlag{Name: "changes", Usage: "changes on the passage, at most; 0 sets no limit", Destination: &o.changes},
		&cli.Float64Flag{Name: "night-factor", Usage: "how much longer an action takes in the dark", Value: defaultNight, Destination: &o.night},
		&cli.Float64Flag{Name: "power", Usage: "what the sailor sustains at winch and pump, W", DefaultText: "the boat file's", Destination: &o.powerW},
		&cli.Float64Flag{Name: "gust-factor", Usage: "gusts over the mean wind in which foils left alone must hold, where the forecast has no gusts", Value: defaultGust, Destination: &o.gust},
		&cli.Float64Flag{Name: "hold-share", Usage: "share of the ensemble members in which foils left alone must hold from the beginning of a rest to its end, from 0.5 to 1", Value: defaultShare, Destination: &o.share},
	}
}

// read takes what flags with destinations cannot hold, and checks the options.
func (o *personOptions) read(c *cli.Context) error {
	o.rests = c.StringSlice("rest")
	for _, rule := range []string{"rest", "sleep", "nap", "spacing", "effort", "changes"} {
		o.asked = o.asked || c.IsSet(rule)
	}
	return o.validate()
}

func (o *personOptions) validate() error {
	for _, x := range []struct {
		name       string
		v, lo, hi  float64
		unit, hint string
	}{
		{"sleep", o.sleepH, 0, 20, " hours", "rest of more than 20 hours a day leaves no time to sail"},
		{"nap", o.napMin, 5, 600, " minutes", ""},
		{"spacing", o.spacingMin, 0, 1440, " minutes", ""},
		{"effort", o.effortKJ, 0, 20000, " kJ", ""},
		{"changes", float64(o.changes), 0, 1000, "", ""},
		{"night-factor", o.night, 1, 5, "", ""},
		{"gust-factor", o.gust, 1, 2, "", ""},
		{"hold-share", o.share, 0.5, 1, "", ""},
	} {
		if !(x.v >= x.lo && x.v <= x.hi) {
			return usage(x.hint, "--%s %g: must be from %g to %g%s", x.name, x.v, x.lo, x.hi, x.unit)
		}
	}
	if o.powerW != 0 && !(o.powerW >= 5 && o.powerW <= 2000) {
		return usage("a fit person sustains 75 to 200 W for minutes", "--power %g: must be from 5 to 2000 W", o.powerW)
	}
	o.spans = nil
	for _, r := range o.rests {
		spans, err := readRests(r)
		if err != nil {
			return err
		}
		o.spans = append(o.spans, spans...)
	}
	return nil
}

// readRests reads a rest given as two times, or a file of them.
func readRests(r string) ([]restSpan, error) {
	const hint = "write --rest 2026-03-02T01:00Z/2026-03-02T05:00Z, or name a CSV file with the columns from_utc,to_utc"
	if from, to, two := strings.Cut(r, "/"); two {
		if _, err := parseMoment(from); err == nil {
			return restOf(from, to, "--rest", hint)
		}
	}
	f, err := os.Open(r)
	if err != nil {
		return nil, usage(hint, "--rest %q is neither two times nor a file that can be read", r)
	}
	defer f.Close()
	rd := csv.NewReader(f)
	rd.FieldsPerRecord = 2
	rd.TrimLeadingSpace = true
	head, err := rd.Read()
	if err != nil || strings.TrimSpace(strings.TrimPrefix(head[0], "\ufeff")) != "from_utc" || strings.TrimSpace(head[1]) != "to_utc" {
		return nil, usage(hint, "%s:1: the header must be from_utc,to_utc", r)
	}
	var out []restSpan
	for {
		row, err := rd.Read()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, usage(hint, "%s: %w", r, err)
		}
		line, _ := rd.FieldPos(0)
		s, err := restOf(row[0], row[1], fmt.Sprintf("%s:%d", r, line), hint)
		if err != nil {
			return nil, err
		}
		out = append(out, s...)
	}
}

func restOf(from, to, where, hint string) ([]restSpan, error) {
	a, err := parseMoment(from)
	if err != nil {
		return nil, usage(hint, "%s: %q is not a time", where, from)
	}
	b, err := parseMoment(to)
	if err != nil {
		return nil, usage(hint, "%s: %q is not a time", where, to)
	}
	if !b.After(a) {
		return nil, usage(hint, "%s: the rest ends %s, not after it begins", where, to)
	}
	return []restSpan{{a, b}}, nil
}

// parseMoment reads RFC 3339, seconds left out or not.
func parseMoment(s string) (time.Time, error) {
	s = strings.TrimSpace(s)
	t, err := time.Parse("2006-01-02T15:04Z07:00", s)
	if err != nil {
		t, err = time.Parse(time.RFC3339, s)
	}
	return t.UTC(), err
}

// person turns the options into the planner's rules.
func (o *personOptions) person(ref time.Time) strategy.Person {
	p := strategy.Person{
		RestS: o.sleepH * units.SPerHour, NapS: o.napMin * 60, SpacingS: o.spacingMin * 60,
		EffortJ: o.effortKJ * 1000, Changes: o.changes,
	}
	for _, s := range o.spans {
		p.Rests = append(p.Rests, strategy.Window{FromS: s.from.Sub(ref).Seconds(), ToS: s.to.Sub(ref).Seconds()})
	}
	return p
}

// wantsRest reports whether a plan must leave rest.
func (o *personOptions) wantsRest() bool { return o.sleepH > 0 || len(o.spans) > 0 }

// setOptions adds what the options say of prices and of foils left alone.
func (o *personOptions) setOptions(opt *strategy.Options, f *weather.Forecast, hold bool) {
	opt.PowerW = o.powerW
	opt.NightFactor = o.night
	opt.RestLimits.GustFactor = o.gust
	if len(f.Members) > 1 {
		for _, m := range f.Members {
			opt.Members = append(opt.Members, memberSource(m, hold))
		}
		opt.Probability = o.share
	}
}

// memberSource is a member, kept at its last weather where it ends early.
func memberSource(m *weather.Field, hold bool) weather.Source {
	if hold {
		return m.HoldLast()
	}
	return m
}

// constraint is one rule of the person and what it costs.
type constraint struct {
	name string
	// costS is the passage time with all rules minus that without this one; NaN
	// when that plan could not be found.
	costS float64
}

// ruleWords says a rule of the person with its numbers.
func (o *personOptions) ruleWords(r strategy.Rule) string {
	switch r {
	case strategy.RuleGivenRests:
		if len(o.spans) == 1 {
			return "the given rest"
		}
		return fmt.Sprintf("the %d given rests", len(o.spans))
	case strategy.RuleRestQuota:
		return fmt.Sprintf("rest of %g h in every 24, in naps of %g min or more", o.sleepH, o.napMin)
	case strategy.RuleRestState:
		return fmt.Sprintf("foils that may be left alone in gusts of %g times the wind", o.gust)
	case strategy.RuleSpacing:
		return fmt.Sprintf("%g min or more between changes", o.spacingMin)
	case strategy.RuleEffort:
		return fmt.Sprintf("work of at most %g kJ a day", o.effortKJ)
	case strategy.RuleChanges:
		return fmt.Sprintf("at most %d changes", o.changes)
	case strategy.RuleNight:
		return fmt.Sprintf("actions that take %g times as long in the dark", o.night)
	case strategy.RuleAll:
		return "all of these together"
	}
	return r.String()
}

// priceRules finds what each rule costs: the best plan with all rules minus
// the best without that one.
func priceRules(ctx context.Context, p *strategy.Problem, o *personOptions, best *strategy.Voyage, pr *progress) ([]constraint, error) {
	defer pr.start("what the rules cost")()
	costs, err := p.RuleCosts(ctx, best, pr.set)
	if err != nil {
		return nil, err
	}
	var out []constraint
	for _, c := range costs {
		out = append(out, constraint{o.ruleWords(c.Rule), c.CostS})
	}
	return out, nil
}

// refuseRules says which rule no schedule can keep.
func refuseRules(ctx context.Context, p *strategy.Problem, o *personOptions, v, fastest *strategy.Voyage) error {
	costs, err := p.RuleCosts(ctx, v, nil)
	if err != nil {
		return err
	}
	text := "no schedule keeps the rules for the person"
	for _, c := range costs {
		if math.IsInf(c.CostS, 1) && c.Rule != strategy.RuleAll {
			text += fmt.Sprintf("; without \"%s\" the passage takes %s", o.ruleWords(c.Rule), hoursMinutes(c.Without.TimeS()))
		}
	}
	return &commandError{code: exitNoPassage, hint: "ask for less: see --rest, --sleep, --nap, --spacing, --effort, --changes and --gust-factor",
		err: fmt.Errorf("%s; the fastest plan without rules takes %s", text, hoursMinutes(fastest.TimeS()))}
}

// restInputs names the files that rests were read from.
func (o *personOptions) restInputs() ([]input, error) {
	var out []input
	for _, r := range o.rests {
		b, err := os.ReadFile(r)
		if err != nil {
			continue // given as times
		}
		out = append(out, input{filepath.Base(r), sha256Hex(b)})
	}
	return out, nil
}
