package main

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"

	"foilledger/plots"
	"foilledger/route"
)

func TestParseMark(t *testing.T) {
	for _, c := range []struct {
		text string
		want route.Mark
		ok   bool
	}{
		{"43.5,-9.5", route.Mark{Point: orb.Point{-9.5, 43.5}}, true},
		{" 43.5 , 350.5 ", route.Mark{Point: orb.Point{-9.5, 43.5}}, true},
		{"43.5,-9.5,port", route.Mark{Point: orb.Point{-9.5, 43.5}, Passing: route.ToPort}, true},
		{"43.5,-9.5,starboard,2", route.Mark{Point: orb.Point{-9.5, 43.5}, Passing: route.ToStarboard, ClearM: 3704, ReachM: 53704}, true},
		{"43,-10; 44,-10", route.Mark{Point: orb.Point{-10, 43}, Other: orb.Point{-10, 44}, Passing: route.Between}, true},
		{"43,-10; 44,-10; 45,-10", route.Mark{}, false},
		{"43", route.Mark{}, false},
		{"NaN,3", route.Mark{}, false},
		{"43,-10,left", route.Mark{}, false},
		{"43,-10,port,-1", route.Mark{}, false},
		{"43,-10,port,NaN", route.Mark{}, false},
	} {
		got, err := parseMark(c.text, true)
		if (err == nil) != c.ok {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		if c.ok && (got.Point != c.want.Point || got.Other != c.want.Other || got.Passing != c.want.Passing || got.ClearM != c.want.ClearM || got.ReachM != c.want.ReachM) {
			t.Errorf("%q: %+v, want %+v", c.text, got, c.want)
		}
	}
	if _, err := parseMark("43,-10,port", false); err == nil {
		t.Error("a start with a side")
	}
}

// TestEqualTime: arrivals that grow evenly with latitude give lines along the
// parallels, cut where nobody gets.
func TestEqualTime(t *testing.T) {
	var columns []route.Arrivals
	for k := range 5 {
		var c route.Arrivals
		for j := range 4 {
			c.Points = append(c.Points, orb.Point{float64(j), float64(k)})
			at := float64(k) * 3600
			if j == 1 && k > 0 {
				at = math.Inf(1)
			}
			c.TimeS = append(c.TimeS, at)
		}
		columns = append(columns, c)
	}
	got := equalTime(columns, 5400)
	if len(got) != 1 || len(got[0]) != 2 {
		t.Fatalf("%v: want one piece of two places", got)
	}
	for i, lon := range []float64{2, 3} {
		// Half the way along the meridian is half a degree but for the
		// flattening.
		if d := cmp.Diff(plots.Place{LonDeg: lon, LatDeg: 1.5}, got[0][i]); d != "" {
			t.Error(d)
		}
	}
}

func TestPathsMatch(t *testing.T) {
	step := func(lon, lat float64) route.Step { return route.Step{Point: orb.Point{lon, lat}} }
	a, err := newPath("a", []route.Step{step(0, 0), step(1, 0), step(2, 0), step(2, 0)})
	if err != nil {
		t.Fatal(err)
	}
	b, err := newPath("b", []route.Step{step(0, 0), step(1, 1), step(2, 0), step(2, 0)})
	if err != nil {
		t.Fatal(err)
	}
	if got := a.match(b, a.stations[1]); !(math.Abs(got-b.stations[1]) <= 1e-6) {
		t.Errorf("the column at %v m matches %v m, want %v", a.stations[1], got, b.stations[1])
	}
	if got, want := a.match(b, a.track.LengthM()), b.track.LengthM(); !(math.Abs(got-want) <= 1e-6) {
		t.Errorf("the end matches %v m of %v", got, want)
	}
	if got := a.match(&path{track: b.track}, a.track.LengthM()/2); !(math.Abs(got-b.track.LengthM()/2) <= 1e-6) {
		t.Errorf("without columns half the way matches %v", got)
	}
}
