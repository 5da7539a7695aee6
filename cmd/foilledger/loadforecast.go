package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// The weather that is kept for a passage: that of the corridor round the track
// and of the time until even a very slow boat has arrived. Both are so wide that
// no plan can tell them from the whole forecast.
const (
	leastCorridorNM = 60.0
	slowestMS       = units.MSPerKnot
	lyingStill      = 96 * time.Hour
	pointEveryM     = 60 * units.MPerNM
)

// loadAlong reads what a passage along a track needs of a forecast: with an
// unknown departure (zero) all its times. The corridor is in nautical miles to
// either side of the track. member is a pattern of files that are one ensemble
// member each, or empty.
func loadAlong(ctx context.Context, paths []string, member string, track *route.Track, corridorNM float64, depart time.Time) (*weather.Forecast, error) {
	return loadRound(ctx, paths, member, alongTrack(track), corridorNM, track.LengthM(), depart)
}

// alongTrack are points of a track, close enough together for any map or box.
func alongTrack(track *route.Track) []orb.Point {
	n := 1 + int(track.LengthM()/pointEveryM)
	var points []orb.Point
	for i := range n + 1 {
		p, _ := track.At(track.LengthM() * float64(i) / float64(n))
		points = append(points, p)
	}
	return points
}

// loadRound is loadAlong for a boat that finds its own course between the
// points, at most lengthM long.
func loadRound(ctx context.Context, paths []string, member string, points []orb.Point, corridorNM, lengthM float64, depart time.Time) (*weather.Forecast, error) {
	var latest time.Time
	if !depart.IsZero() {
		latest = depart.Add(lyingStill + time.Duration(lengthM/slowestMS*float64(time.Second)))
	}
	opt := weather.Along(points, max(corridorNM, leastCorridorNM), depart, latest)
	opt.MemberFiles = member
	fc, err := weather.Load(ctx, paths, opt)
	var c *weather.CoverageError
	if errors.As(err, &c) && !depart.IsZero() {
		switch c.Kind {
		case weather.BeforeFirst:
			return nil, departsEarly(depart, c.First)
		case weather.AfterLast:
			return nil, departsLate(depart, c.Last)
		}
	}
	return fc, err
}

// covers answers before anything is computed whether the forecast reaches the
// places of a passage. A place that is masked at the departure may be known later, and
// is left to the plan.
func covers(fc *weather.Forecast, places []orb.Point, depart time.Time) error {
	f := fc.Main()
	first, last := f.SpanS()
	at := first
	if !depart.IsZero() {
		at = min(max(depart.Sub(f.Reference()).Seconds(), first), last)
	}
	err := f.Covers(places, at, at)
	var c *weather.CoverageError
	if errors.As(err, &c) && c.Kind == weather.OutsideArea {
		return err
	}
	return nil
}

// departsEarly and departsLate say that the forecast does not hold the
// departure.
func departsEarly(depart, first time.Time) error {
	return &commandError{code: exitNoPassage, hint: "depart at or after " + first.UTC().Format(time.RFC3339),
		err: fmt.Errorf("departure %s is %.1f h before the forecast's first step %s", depart.UTC().Format(time.RFC3339), first.Sub(depart).Hours(), first.UTC().Format(time.RFC3339))}
}

func departsLate(depart, last time.Time) error {
	return &commandError{code: exitNoPassage, hint: "use a later forecast, or depart before " + last.UTC().Format(time.RFC3339),
		err: fmt.Errorf("departure %s is %.1f h after the forecast's last step %s", depart.UTC().Format(time.RFC3339), depart.Sub(last).Hours(), last.UTC().Format(time.RFC3339))}
}
