package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// courseResult is a course found, with the passage planned exactly on it.
type courseResult struct {
	*result
	search     *route.Result // with foils
	never      *route.Result // foils aboard, never used
	track      *path         // that the plan sails
	basePath   *path         // that the first baseline sails
	searchS    float64       // passage time that the search itself found
	freeS      float64       // passage time of the exact plan without rules for the person
	variants   []variant
	elsewhereS float64 // gained by sailing another course than the baseline
	departures []departureRow
}

// variant is a way to sail from start to finish, planned exactly on its track
// with every change that gains anything and without rules for the person.
type variant struct {
	name       string
	course     string
	timeS      float64
	distanceNM float64
}

const causeElsewhere = "sailing another course than the baseline"

// path is a track with the places along it, in metres, that match between the
// courses: the columns of the mesh.
type path struct {
	name     string
	track    *route.Track
	stations []float64
}

func newPath(name string, steps []route.Step) (*path, error) {
	p := &path{name: name}
	var points []orb.Point
	m := 0.0
	for i, s := range steps {
		if i > 0 {
			d, _, _ := route.Inverse(points[len(points)-1], s.Point)
			if m += d; d == 0 {
				p.stations = append(p.stations, m)
				continue
			}
		}
		points = append(points, s.Point)
		p.stations = append(p.stations, m)
	}
	var err error
	p.track, err = route.NewTrack(points)
	return p, err
}

// match returns the distance along to that matches m metres along p.
func (p *path) match(to *path, m float64) float64 {
	a, b := p.stations, to.stations
	if len(a) != len(b) || len(a) < 2 {
		return m * to.track.LengthM() / p.track.LengthM()
	}
	i := 1
	for i < len(a)-1 && a[i] < m {
		i++
	}
	f := 1.0
	if a[i] > a[i-1] {
		f = math.Min(math.Max((m-a[i-1])/(a[i]-a[i-1]), 0), 1)
	}
	return b[i-1] + f*(b[i]-b[i-1])
}

// finder holds what the searches of one question share.
type finder struct {
	o       *courseOptions
	q       *question
	waters  *route.Waters
	field   *weather.Field
	source  weather.Source
	sailor  *strategy.Sailor // in source
	held    *strategy.Sailor // in the field with its last weather held
	bare    *strategy.Sailor // foils not aboard, held; nil when the boat has none
	limited bool             // by wind or sea
	pr      *progress
}

// findCourse searches the course with foils and the baselines' own courses,
// plans each exactly on its track, and accounts for the difference.
func findCourse(ctx context.Context, o *courseOptions, q *question, f *fleet, waters *route.Waters, pr *progress) (*courseResult, error) {
	fi := &finder{o: o, q: q, waters: waters, field: q.forecast.Main(), pr: pr}
	fi.source = fi.field
	if o.afterEnd == "hold" {
		fi.source = fi.field.HoldLast()
	}
	fi.limited = o.maxWindKn > 0 || o.maxGustKn > 0 || o.maxWaveM > 0
	for _, a := range waters.Areas {
		fi.limited = fi.limited || !a.Forbidden
	}
	departS, err := q.departS(fi.field)
	if err != nil {
		return nil, err
	}
	if _, err := fi.departureCount(departS); err != nil { // refused before the long work
		return nil, err
	}
	opt := q.strategyOptions(fi.field)
	if fi.sailor, err = strategy.NewSailor(ctx, f.table, q.boat.Handling, fi.source, opt); err != nil {
		return nil, err
	}
	fi.held = fi.sailor.In(fi.field.HoldLast())
	if f.without != nil {
		if fi.bare, err = strategy.NewSailor(ctx, f.without, q.boat.Handling, fi.field.HoldLast(), opt); err != nil {
			return nil, err
		}
	}

	res := &courseResult{}
	withFoils := fi.sailor.NewFreeCourse(fi.free(false))
	if res.search, err = fi.search(ctx, "course with foils", withFoils, departS, withFoils.Relaxed()); err != nil {
		return nil, err
	}
	if res.search.Status != route.Found {
		return nil, fi.noCourse(ctx, res.search, withFoils, departS)
	}
	never := fi.held.NewFreeCourse(fi.free(true))
	if res.never, err = fi.baseline(ctx, baseNeverUsed, never, departS); err != nil {
		return nil, err
	}
	paths, err := fi.paths(res)
	if err != nil {
		return nil, err
	}
	if err := fi.planBest(ctx, f, res, paths, departS); err != nil {
		return nil, err
	}
	if fi.bare != nil {
		if err := fi.addBare(ctx, res, departS); err != nil {
			return nil, err
		}
	}
	fi.noteCourse(res)
	if !o.untilTime.IsZero() {
		if res.departures, err = fi.departures(ctx, departS); err != nil {
			return nil, err
		}
	}
	return res, nil
}

// free turns the command's limits into the mover's.
func (fi *finder) free(never bool) strategy.FreeOptions {
	return strategy.FreeOptions{FoilsNever: never, MaxWindMS: units.MS(fi.o.maxWindKn), MaxGustMS: units.MS(fi.o.maxGustKn), MaxWaveM: fi.o.maxWaveM}
}

// searchFan is how many places across an edge may go to either side of the best
// course so far: wide at the first rounds' spacing, and refined with it.
const searchFan = 10

// search runs one search for a course.
func (fi *finder) search(ctx context.Context, what string, m route.Mover, departS float64, relaxed route.Mover) (*route.Result, error) {
	o := fi.o
	done := fi.pr.start(what)
	defer done()
	opt := route.Options{
		Stages: o.stages, Lateral: o.across, HalfWidthM: o.widthNM * units.MPerNM, MinGainS: o.refineMin * 60, Workers: o.workers,
		Waters: fi.waters, KeepArrivals: true, Fan: searchFan, MaxRounds: o.rounds,
		Progress: func(_, done, total int) { fi.pr.set(done, total) },
	}
	if relaxed != nil {
		opt.Relaxed = relaxed
	}
	if !o.latestTime.IsZero() && relaxed != nil { // baselines may arrive later
		opt.LatestS = o.latestTime.Sub(fi.field.Reference()).Seconds()
	}
	dep := m.(interface {
		Departures(float64) []route.Departure
	}).Departures(departS)
	r, err := route.Search(ctx, m, o.points, dep, opt)
	var pe *route.PlaceError
	var te *route.TrackError
	switch {
	case errors.As(err, &pe):
		return nil, &commandError{code: exitUsage, hint: "move it to the water that is named", err: err}
	case errors.As(err, &te):
		return nil, usage("start, marks and finish must differ", "%w", err)
	}
	return r, err
}

func (fi *finder) baseline(ctx context.Context, name string, m *strategy.FreeCourse, departS float64) (*route.Result, error) {
	r, err := fi.search(ctx, "course of the baseline", m, departS, nil)
	if err != nil {
		return nil, err
	}
	if r.Status != route.Found {
		return nil, &commandError{code: exitNoPassage, hint: "depart at another time or loosen the limits", err: fmt.Errorf("baseline %q finds no course: %s", name, r.Reason)}
	}
	return r, nil
}

// noCourse explains a search without a course.
func (fi *finder) noCourse(ctx context.Context, r *route.Result, m *strategy.FreeCourse, departS float64) error {
	if r.Status == route.TooLate {
		return &commandError{code: exitNoPassage, hint: "allow a later --latest-arrival or depart earlier", err: errors.New("no feasible passage: " + r.Reason)}
	}
	if m.Uncovered(weather.AfterLast) {
		_, lastS := fi.field.SpanS()
		h, err := fi.search(ctx, "course beyond the forecast", fi.held.NewFreeCourse(fi.free(false)), departS, nil)
		if err == nil && h.Status == route.Found {
			return &commandError{code: exitNoPassage,
				hint: "use a longer forecast, depart earlier, or add --after-end hold to keep the last step's weather after its end",
				err: fmt.Errorf("the forecast ends %s, about %.0f h before the arrival (%s if its last weather held)",
					timeAt(fi.field, lastS).Format(time.RFC3339), (h.ArrivalS-lastS)/units.SPerHour, timeAt(fi.field, h.ArrivalS).Format("2006-01-02 15:04Z"))}
		}
	}
	hint := "depart at another time, loosen the limits, or move the marks"
	if m.Uncovered(weather.OutsideArea) {
		hint = "the search met the border of the forecast's area: use one that covers the passage with room on both sides; or " + hint
	}
	return &commandError{code: exitNoPassage, hint: hint, err: errors.New("no feasible passage: " + r.Reason)}
}

// paths lists the tracks on which the passage may be planned: the two courses
// found and, where it is open, the shortest way.
func (fi *finder) paths(res *courseResult) ([]*path, error) {
	a, err := newPath("the course found for the foils", res.search.Course)
	if err != nil {
		return nil, err
	}
	b, err := newPath("the baseline's course", res.never.Course)
	if err != nil {
		return nil, err
	}
	out := []*path{a, b}
	if fi.limited {
		return out, nil
	}
	var points []orb.Point
	for i, m := range fi.o.points {
		if m.Passing != route.AtPoint || (i > 0 && fi.waters.Blocked(points[i-1], m.Point)) {
			return out, nil
		}
		points = append(points, m.Point)
	}
	track, err := route.NewTrack(points)
	if err != nil {
		return nil, err
	}
	return append(out, &path{name: "the shortest course", track: track}), nil
}

// planBest plans exactly on all paths, takes the best for the plan and for the
// baseline, and writes the ledger.
func (fi *finder) planBest(ctx context.Context, f *fleet, res *courseResult, paths []*path, departS float64) error {
	type sailed struct {
		problem     *strategy.Problem
		free, never *strategy.Voyage
	}
	done := fi.pr.start("plans on the courses")
	defer done()
	all := make([]sailed, len(paths))
	best, own := 0, 1 // for the plan and for the baseline
	for i, p := range paths {
		s := &all[i]
		s.problem = fi.held.NewProblem(p.track, departS)
		var err error
		if s.free, err = s.problem.Best(ctx, nil, false, fi.pr.set); err != nil {
			return err
		}
		if s.never, err = s.problem.Best(ctx, strategy.FoilsIn, false, nil); err != nil {
			return err
		}
	}
	ok := func(v *strategy.Voyage) bool { return v.Status == strategy.Found }
	if !fi.limited { // where wind and sea are limited, a course is open at its own times only
		for i := range all {
			if ok(all[i].free) && (!ok(all[best].free) || all[i].free.ArriveS < all[best].free.ArriveS) {
				best = i
			}
			if ok(all[i].never) && (!ok(all[own].never) || all[i].never.ArriveS < all[own].never.ArriveS) {
				own = i
			}
		}
	}
	for _, v := range []*strategy.Voyage{all[best].free, all[own].never, all[own].free} {
		if v.Status != strategy.Found {
			return &commandError{code: exitNoPassage, hint: "depart at another time", err: errors.New("no feasible passage on the course found: the boat is stopped for two days by calm, current or a limit")}
		}
	}
	res.track, res.basePath = paths[best], paths[own]
	res.searchS, res.freeS = res.search.ArrivalS-departS, all[best].free.TimeS()

	fi.q.track = res.track.track
	var err error
	if res.result, err = plan(ctx, fi.q, f, fi.pr); err != nil {
		return err
	}
	// The baseline on its own course, and what the foils gain there.
	first, err := fi.baseOn(ctx, res, baseNeverUsed, res.basePath, all[own].problem, all[own].never)
	if err != nil {
		return err
	}
	res.bases = []base{*first}
	res.ledger = first.ledger
	for _, i := range first.ledger.Items {
		if i.Cause == causeElsewhere {
			res.elsewhereS = i.GainS
		}
	}
	res.variants = []variant{
		{"foils and course free", res.track.name, all[best].free.TimeS(), all[best].free.TotalM / units.MPerNM},
		{"course free, foils never", res.basePath.name, all[own].never.TimeS(), all[own].never.TotalM / units.MPerNM},
	}
	for i, p := range paths {
		if v := all[i].free; ok(v) && i != best {
			res.variants = append(res.variants, variant{"foils free, course fixed", p.name, v.TimeS(), v.TotalM / units.MPerNM})
		}
		if v := all[i].never; ok(v) && i != own {
			res.variants = append(res.variants, variant{"foils never, course fixed", p.name, v.TimeS(), v.TotalM / units.MPerNM})
		}
	}
	return nil
}

// baseOn makes a baseline of a voyage on its own path. Its ledger compares it
// with the foils on the same path, planned under the plan's rules; what the plan
// gains beyond that comes from sailing another course.
func (fi *finder) baseOn(ctx context.Context, res *courseResult, name string, at *path, problem *strategy.Problem, v *strategy.Voyage) (*base, error) {
	_, lg, err := problem.Record(v.Schedule)
	if err != nil {
		return nil, err
	}
	b := &base{name: name, problem: problem, voyage: v, log: lg, at: func(m float64) float64 { return res.track.match(at, m) }}
	foils := fi.held.NewProblem(at.track, v.DepartS).For(res.problem.Person())
	with, err := foils.BestFor(ctx, nil, nil)
	if err != nil {
		return nil, err
	}
	if with.Status != strategy.Found { // the rules cannot be kept there
		foils = fi.held.NewProblem(at.track, v.DepartS)
		if with, err = foils.Best(ctx, nil, false, nil); err != nil {
			return nil, err
		}
	}
	if with, err = foils.Thin(ctx, with, fi.o.leastMin*60); err != nil {
		return nil, err
	}
	l, err := foils.NewLedger(with, problem, v)
	if err != nil {
		return nil, err
	}
	plan := res.voyage
	if d := with.ArriveS - plan.ArriveS; d != 0 {
		l.Items = append(l.Items, strategy.Item{Cause: causeElsewhere, GainS: d})
		l.TotalS += d
	}
	l.Running = l.Running[:0]
	for k := range plan.Stages {
		l.Running = append(l.Running, b.timeAt(res.problem.StageEndM(k))-plan.Stages[k].ArriveS)
	}
	if n := len(l.Running); n > 0 {
		l.Running[n-1] = v.ArriveS - plan.ArriveS
	}
	b.ledger = l
	return b, nil
}

// addBare adds the baseline without foils aboard, on its own course.
func (fi *finder) addBare(ctx context.Context, res *courseResult, departS float64) error {
	r, err := fi.baseline(ctx, baseNotAboard, fi.bare.NewFreeCourse(fi.free(true)), departS)
	if err != nil {
		return err
	}
	p, err := newPath(baseNotAboard, r.Course)
	if err != nil {
		return err
	}
	tracks := []*path{p}
	if !fi.limited {
		tracks = append(tracks, res.basePath)
	}
	var best *strategy.Voyage
	var problem *strategy.Problem
	for _, t := range tracks {
		q := fi.bare.NewProblem(t.track, departS)
		v, err := q.Best(ctx, strategy.FoilsIn, false, nil)
		if err != nil {
			return err
		}
		if v.Status == strategy.Found && (best == nil || v.ArriveS < best.ArriveS) {
			best, problem, p = v, q, t
		}
	}
	if best == nil {
		return nil
	}
	b, err := fi.baseOn(ctx, res, baseNotAboard, p, problem, best)
	if err != nil {
		return err
	}
	res.bases = append(res.bases, *b)
	return nil
}
