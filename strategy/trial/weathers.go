package trial

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"sort"
	"sync"
	"time"

	"foilledger/strategy"
	"foilledger/vpp/units"
	"foilledger/weather"
	"foilledger/weather/synth"
)

// Weather is one weather that a passage is sailed in, with what was forecast.
// All times are seconds after the reference of Truth.
type Weather struct {
	Name    string
	DepartS float64
	Truth   weather.Source
	Field   *weather.Field   // that Truth is, or holds the last step of; nil in tests
	Issues  []strategy.Issue // by rising time
}

// Departure returns the time of departure, UTC.
func (w *Weather) Departure() time.Time {
	return w.Truth.Reference().Add(time.Duration(w.DepartS * float64(time.Second))).UTC()
}

// See says which forecast the policies of a set see.
type See string

// What may be seen.
const (
	// SeeAuto sees the forecasts of SetOptions.Issued if there are any, else an
	// ensemble's mean, the recipe's base in made weather, and the truth where
	// there is nothing else.
	SeeAuto See = ""
	// SeeNothing leaves the policies without a forecast.
	SeeNothing See = "nothing"
	// SeeTruth lets them see what will come.
	SeeTruth See = "truth"
	// SeeMean lets them see the mean of the ensemble.
	SeeMean See = "mean"
	// SeeControl lets them see the ensemble's control run.
	SeeControl See = "control"
	// SeeIssued lets them see the forecasts of SetOptions.Issued.
	SeeIssued See = "issued"
)

// SetOptions say which weathers make up a set. Exactly one of Files and Recipe
// is given. Every member (or file, with Each) is sailed at every departure.
type SetOptions struct {
	// Files are forecasts or a reanalysis: files, folders or patterns. An
	// ensemble gives one weather for each member.
	Files []string
	// Each takes every file as a weather of its own, with its own departure.
	Each bool
	// Issued are forecasts that can be known from their own reference time on.
	Issued []string
	// Load is passed on to the reader of files.
	Load weather.Options

	// Recipe makes the weathers: Members of them, drawn with Seed from the
	// recipe's ensemble errors.
	Recipe  *synth.Recipe
	Members int
	Seed    uint64

	// Depart is the first departure; zero means the first step of the weather.
	// With Every > 0 there is one departure after another until Until.
	Depart, Until time.Time
	Every         time.Duration

	See See
	// Reissue makes a new forecast every so long, whose error starts from
	// nothing and grows as the first forecast's (see Fading); 0 makes none, and
	// 12 h in made weather; negative makes none there either.
	Reissue time.Duration
	// Hold keeps the last step's weather after the end of the truth.
	Hold bool
}

// Set is a set of weathers, numbered from 0. It may be used by several
// goroutines.
type Set struct {
	Warnings []string
	Inputs   []weather.Input
	// WaveDirections says that the truth knows where waves come from.
	WaveDirections bool
	// Every is the spacing of departures in the same weather; 0: one each.
	Every time.Duration
	// Forecast says in words what the policies see.
	Forecast string

	list []entry

	mu     sync.Mutex
	opened map[int]*opened // by truth
	order  []int
}

// entry is one weather of a set, not opened yet.
type entry struct {
	name   string
	truth  int // number of the truth, for sharing
	depart time.Time
	open   opener
	issues func(truth *weather.Field, departS float64) []strategy.Issue
}

// opener makes a truth.
type opener func(ctx context.Context) (weather.Source, *weather.Field, error)

type opened struct {
	once  sync.Once
	truth weather.Source
	field *weather.Field
	err   error
}

// keepOpen is how many truths of made weather are kept for the jobs that share
// them.
const keepOpen = 8

// OpenSet reads the files of a set, or checks its recipe.
func OpenSet(ctx context.Context, o SetOptions) (*Set, error) {
	s := &Set{opened: map[int]*opened{}}
	if o.Every > 0 {
		s.Every = o.Every
	}
	if (o.Recipe != nil) == (len(o.Files) > 0) {
		return nil, wrong("", "give either weather files or a recipe")
	}
	var issued []*weather.Forecast
	for _, name := range o.Issued {
		f, err := weather.Load(ctx, []string{name}, o.Load)
		if err != nil {
			return nil, err
		}
		issued = append(issued, f)
		s.Inputs = append(s.Inputs, f.Inputs...)
	}
	sort.SliceStable(issued, func(i, j int) bool { return issued[i].Reference.Before(issued[j].Reference) })
	if o.Recipe != nil {
		return s, s.made(ctx, o, issued)
	}
	groups := [][]string{o.Files}
	if o.Each {
		groups = nil
		for _, f := range o.Files {
			groups = append(groups, []string{f})
		}
	}
	for _, g := range groups {
		f, err := weather.Load(ctx, g, o.Load)
		if err != nil {
			return nil, err
		}
		s.Inputs = append(s.Inputs, f.Inputs...)
		for _, w := range f.Warnings {
			s.warn("%s", w)
		}
		label := ""
		if o.Each && len(groups) > 1 {
			label = filepath.Base(g[0])
		}
		if err := s.files(f, o, issued, label); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func (s *Set) warn(format string, a ...any) {
	w := fmt.Sprintf(format, a...)
	for _, have := range s.Warnings {
		if have == w {
			return
		}
	}
	s.Warnings = append(s.Warnings, w)
}

// files adds the weathers of one forecast.
func (s *Set) files(f *weather.Forecast, o SetOptions, issued []*weather.Forecast, label string) error {
	see := o.See
	if see == SeeAuto {
		switch {
		case len(issued) > 0:
			see = SeeIssued
		case len(f.Members) > 1:
			see = SeeMean
		default:
			see = SeeTruth
			s.warn("no other forecast is given: policies that look ahead see the weather that will come (give --issued, or --see nothing)")
		}
	}
	members := f.Members
	var first weather.Source
	switch see {
	case SeeMean:
		switch {
		case f.Mean != nil:
			first = f.Mean.HoldLast()
		case len(members) > 1:
			m := Mean{}
			for _, x := range members {
				m = append(m, x.HoldLast())
			}
			first = m
		default:
			return wrong("give an ensemble", "no ensemble mean to see: the files hold one forecast")
		}
	case SeeControl:
		if len(members) < 2 || members[0].Member() != 0 {
			return wrong("see the mean", "no control run to see in the files")
		}
		first = members[0].HoldLast()
		members = members[1:] // the control run would be known
	case SeeIssued:
		if len(issued) == 0 {
			return wrong("give them with --issued", "no issued forecasts are given")
		}
	case SeeNothing, SeeTruth:
	default:
		return wrong("", "what to see %q: must be nothing, truth, mean, control or issued", see)
	}
	s.Forecast = map[See]string{SeeMean: "the mean of the ensemble", SeeControl: "the ensemble's control run", SeeIssued: "the forecasts issued by then",
		SeeNothing: "no forecast", SeeTruth: "the weather that will come"}[see]
	for i, m := range members {
		name := label
		if len(f.Members) > 1 {
			name = join(label, fmt.Sprintf("member %d", m.Member()))
		}
		if i == 0 && len(s.list) == 0 {
			s.WaveDirections = m.Variables().Has(weather.HasWaveDirection)
		} else if s.WaveDirections != m.Variables().Has(weather.HasWaveDirection) {
			return wrong("use files of one kind", "some weathers give the direction of the waves and some do not")
		}
		var truth weather.Source = m
		if o.Hold {
			truth = m.HoldLast()
		}
		firstS, lastS := m.SpanS()
		at := func(t float64) time.Time {
			return m.Reference().Add(time.Duration(t * float64(time.Second))).UTC()
		}
		departures, err := o.departures(at(firstS), at(lastS))
		if err != nil {
			return err
		}
		issues := func(_ *weather.Field, departS float64) []strategy.Issue {
			switch see {
			case SeeTruth:
				return []strategy.Issue{{IssuedS: math.Inf(-1), Source: m.HoldLast()}}
			case SeeMean, SeeControl:
				return reissue(m.HoldLast(), shift(first, m.Reference()), departS, o.Reissue)
			case SeeIssued:
				var out []strategy.Issue
				for _, f := range issued {
					out = append(out, issue(f.Main().HoldLast(), m.Reference(), f.Reference))
				}
				return out
			}
			return nil
		}
		s.add(name, departures, func(context.Context) (weather.Source, *weather.Field, error) { return truth, m, nil }, issues)
	}
	return nil
}

// made adds the weathers of a recipe.
func (s *Set) made(ctx context.Context, o SetOptions, issued []*weather.Forecast) error {
	if o.Members < 1 {
		return wrong("", "made weather: %d weathers asked for, want at least 1", o.Members)
	}
	if len(issued) > 0 || (o.See != SeeAuto && o.See != SeeNothing && o.See != SeeTruth) {
		return wrong("", "in made weather the policies see the recipe without errors, nothing or the truth")
	}
	r := *o.Recipe
	r.Ensemble.Seed = o.Seed
	r.Ensemble.Members = o.Members
	field := func(ctx context.Context, member int) (*weather.Field, error) {
		sc, err := r.Scene(member)
		if err != nil {
			return nil, err
		}
		fs, err := sc.Fields(r.Shape(), r.TimesS(), -1)
		if err != nil {
			return nil, err
		}
		f, err := weather.NewForecast(ctx, fs, o.Load)
		if err != nil {
			return nil, err
		}
		return f.Main(), nil
	}
	base, err := field(ctx, -1)
	if err != nil {
		return err
	}
	first := base.HoldLast()
	s.WaveDirections = base.Variables().Has(weather.HasWaveDirection)
	if base.WavesDerived() {
		s.warn("no waves in the recipe: derived from the wind")
	}
	s.Forecast = "the recipe without errors, new every so often with less of them"
	every := o.Reissue
	if every == 0 {
		every = 12 * time.Hour
	}
	firstS, lastS := base.SpanS()
	at := func(t float64) time.Time {
		return base.Reference().Add(time.Duration(t * float64(time.Second))).UTC()
	}
	departures, err := o.departures(at(firstS), at(lastS))
	if err != nil {
		return err
	}
	for m := 1; m <= o.Members; m++ {
		open := func(ctx context.Context) (weather.Source, *weather.Field, error) {
			f, err := field(ctx, m)
			if err != nil {
				return nil, nil, err
			}
			if o.Hold {
				return f.HoldLast(), f, nil
			}
			return f, f, nil
		}
		issues := func(f *weather.Field, departS float64) []strategy.Issue {
			switch o.See {
			case SeeNothing:
				return nil
			case SeeTruth:
				return []strategy.Issue{{IssuedS: math.Inf(-1), Source: f.HoldLast()}}
			}
			return reissue(f.HoldLast(), first, departS, every)
		}
		s.add(fmt.Sprintf("weather %d", m), departures, open, issues)
	}
	switch o.See {
	case SeeNothing:
		s.Forecast = "no forecast"
	case SeeTruth:
		s.Forecast = "the weather that will come"
	}
	return nil
}

// longestPassageS is for how long after a departure forecasts are made.
const longestPassageS = 40 * 24 * units.SPerHour

// reissue lists a first forecast, from the reference time on, and, every so
// often, new ones with less error.
func reissue(truth, first weather.Source, departS float64, every time.Duration) []strategy.Issue {
	out := []strategy.Issue{{IssuedS: math.Inf(-1), Source: first}}
	if every <= 0 {
		return out
	}
	step := every.Seconds()
	for k := 1; float64(k)*step <= departS+longestPassageS; k++ {
		at := float64(k) * step
		if next := at + step; next <= departS {
			continue // superseded before the departure
		}
		out = append(out, strategy.Issue{IssuedS: at, Source: &Fading{Truth: truth, First: first, IssuedS: at}})
	}
	return out
}

// departures lists the departures within the span of a weather.
func (o SetOptions) departures(first, last time.Time) ([]time.Time, error) {
	d := o.Depart
	if d.IsZero() {
		d = first
	}
	if d.Before(first) || !d.Before(last) {
		return nil, wrong("depart within that time", "departure %s: the weather runs from %s to %s", d.Format(time.RFC3339), first.Format(time.RFC3339), last.Format(time.RFC3339))
	}
	if o.Every <= 0 {
		return []time.Time{d}, nil
	}
	var out []time.Time
	for ; d.Before(last) && (o.Until.IsZero() || !d.After(o.Until)); d = d.Add(o.Every) {
		out = append(out, d)
	}
	return out, nil
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + ", " + b
}

// add adds one weather for each departure in a truth.
func (s *Set) add(name string, departures []time.Time, open opener, issues func(*weather.Field, float64) []strategy.Issue) {
	truth := 0
	if n := len(s.list); n > 0 {
		truth = s.list[n-1].truth + 1
	}
	for _, d := range departures {
		full := name
		if len(departures) > 1 || full == "" {
			full = join(name, "departing "+d.Format("2006-01-02T15:04Z"))
		}
		s.list = append(s.list, entry{name: full, truth: truth, depart: d, open: open, issues: issues})
	}
}
