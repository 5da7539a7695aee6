package strategy

import (
	"context"
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"foilledger/route"
	"foilledger/testdata/validation"
	"foilledger/vpp/units"
	"foilledger/weather"
)

func freeSailorOf(t testing.TB, b *fakeBoat, wx weather.Source, opt Options) *Sailor {
	t.Helper()
	sl, err := NewSailor(context.Background(), b, fakeHandling(), wx, opt)
	if err != nil {
		t.Fatal(err)
	}
	return sl
}

// TestFreeCourseNoOvertaking: leaving later in a state never means arriving
// earlier in any, through shifts from one board to the other, zigzags, currents
// and limits of the foils.
func TestFreeCourseNoOvertaking(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		wx := fakeWind{
			mean: rapid.Float64Range(3, 16).Draw(t, "mean"), swing: rapid.Float64Range(0, 6).Draw(t, "swing"),
			fromDeg: rapid.Float64Range(0, 360).Draw(t, "from"), turnDeg: rapid.Float64Range(0, 120).Draw(t, "turn"),
			periodH: rapid.Float64Range(6, 60).Draw(t, "period"), hs: 1,
			curU: rapid.Float64Range(-0.8, 0.8).Draw(t, "u"), curV: rapid.Float64Range(-0.8, 0.8).Draw(t, "v"),
		}
		if rapid.Bool().Draw(t, "still water") {
			wx.curU, wx.curV = 0, 0
		}
		sl, err := NewSailor(context.Background(), newFakeBoat(3, rapid.SampledFrom([]float64{0, 11}).Draw(t, "limit")), fakeHandling(), wx, Options{})
		if err != nil {
			t.Fatal(err)
		}
		m := sl.NewFreeCourse(FreeOptions{})
		a := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon"), rapid.Float64Range(-60, 60).Draw(t, "lat")}
		b, _ := route.Direct(a, rapid.Float64Range(0, 6.28).Draw(t, "course"), rapid.Float64Range(3, 40).Draw(t, "nm")*units.MPerNM)
		e := route.NewEdge(a, b)
		if err := route.CheckNoOvertaking(m, e, 1000, 1000+6*3600, 97, 1e-6, freePatienceS(e.LengthM)); err != nil {
			t.Fatal(err)
		}
	})
}

// TestFreeCourseGivesUpTogether: boats that a limit holds for days are given up
// at a moment that does not depend on when each left: the later of two does not
// get through where the earlier is lost.
func TestFreeCourseGivesUpTogether(t *testing.T) {
	a := orb.Point{-20.6137, -4.4297}
	b, _ := route.Direct(a, 0, 36.5*units.MPerNM)
	e := route.NewEdge(a, b)
	patienceS := freePatienceS(e.LengthM)
	for _, c := range []struct {
		name             string
		periodH          float64
		spanS, stepS     float64
		through, givenUp bool // some are
	}{
		{"lulls soon enough for all", 22.1875, 6 * 3600, 97, true, false},
		{"lulls too rare for some", 130, 140 * 3600, 1800, true, true},
	} {
		wx := fakeWind{mean: 16, swing: 5.15625, fromDeg: 0.354, turnDeg: 1.524, periodH: c.periodH, hs: 1}
		m := freeSailorOf(t, newFakeBoat(3, 11), wx, Options{}).NewFreeCourse(FreeOptions{})
		if err := route.CheckNoOvertaking(m, e, 1000, 1000+c.spanS, c.stepS, 1e-6, patienceS); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		S := m.States()
		through, givenUp := 0, 0
		for at := 1000.0; at <= 1000+c.spanS; at += 10 * c.stepS {
			depart, arrive, from := make([]float64, S), make([]float64, S), make([]int32, S)
			for q := range S {
				depart[q], arrive[q] = at, math.Inf(1)
			}
			if err := m.Sailor().Sail(e, depart, arrive, from); err != nil {
				t.Fatal(err)
			}
			for _, x := range arrive {
				if math.IsInf(x, 1) {
					givenUp++
				} else {
					through++
				}
			}
		}
		if (through > 0) != c.through || (givenUp > 0) != c.givenUp {
			t.Errorf("%s: %d boats get through, %d are given up", c.name, through, givenUp)
		}
	}
}

// TestFreeCourseEqualsExhaustiveSearch: on a small mesh the search finds what
// trying every course with every sequence of states finds.
func TestFreeCourseEqualsExhaustiveSearch(t *testing.T) {
	wx := fakeWind{mean: 9, swing: 5, fromDeg: 200, turnDeg: 80, periodH: 9, hs: 1}
	m := freeSailorOf(t, newFakeBoat(2, 0), wx, Options{}).NewFreeCourse(FreeOptions{})
	marks := []route.Mark{{Point: orb.Point{-30, 45}}, {Point: orb.Point{-28, 45.5}}}
	const stages, lateral = 4, 3
	r, err := route.Search(context.Background(), m, marks, m.Departures(0), route.Options{Stages: stages, Lateral: lateral, MaxRounds: 1, KeepArrivals: true, MaxAngleRad: units.Rad(89)})
	if err != nil || r.Status != route.Found {
		t.Fatal(err, r)
	}
	var points [][]orb.Point
	for _, c := range r.Arrivals {
		points = append(points, c.Points)
	}
	n := m.States()
	sailor := m.Sailor()
	best, tried := math.Inf(1), 0
	var dive func(k, i int, depart []float64)
	dive = func(k, i int, depart []float64) {
		if k == len(points)-1 {
			for _, t := range depart {
				best = math.Min(best, t)
			}
			return
		}
		for j := range points[k+1] {
			// Every state of departure on its own: no label is dropped for
			// another one.
			for q, t := range depart {
				if math.IsInf(t, 1) {
					continue
				}
				one, out, from := make([]float64, n), make([]float64, n), make([]int32, n)
				for s := range one {
					one[s], out[s], from[s] = math.Inf(1), math.Inf(1), -1
				}
				one[q] = t
				if err := sailor.Sail(route.NewEdge(points[k][i], points[k+1][j]), one, out, from); err != nil {
					panic(err)
				}
				tried++
				if k < len(points)-2 {
					// And every state of arrival on its own.
					for s, at := range out {
						if !math.IsInf(at, 1) {
							alone := make([]float64, n)
							for z := range alone {
								alone[z] = math.Inf(1)
							}
							alone[s] = at
							dive(k+1, j, alone)
						}
					}
				} else {
					dive(k+1, j, out)
				}
			}
		}
	}
	dep := make([]float64, n)
	for s := range dep {
		dep[s] = math.Inf(1)
	}
	for _, d := range m.Departures(0) {
		dep[d.State] = d.TimeS
	}
	dive(0, 0, dep)
	if tried < 1000 {
		t.Fatalf("only %d edges tried", tried)
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "course-exhaustive", Quantity: "search for a course with foil states against every course and sequence of states on a small mesh",
		Got: r.ArrivalS, Want: best, Tol: 1e-6, Unit: "s", Source: "enumeration", Kind: validation.Independent})
}

// freeCase is a passage with reasons to leave the shortest line and to foil.
func freeCase(t testing.TB, wx weather.Source) *Sailor {
	return freeSailorOf(t, newFakeBoat(3, 0), wx, Options{})
}

var freeMarks = []route.Mark{{Point: orb.Point{-40, 42}}, {Point: orb.Point{-25, 46}}}

// TestFreeCourseNeverLaterThanTracks: no track through the mesh's points is
// sailed faster than the course found, by the same mover in every state; and
// the exact plan on the course found is near the search's own time.
func TestFreeCourseNeverLaterThanTracks(t *testing.T) {
	wx := fakeWind{mean: 9, swing: 4, fromDeg: 180, turnDeg: 60, periodH: 50, hs: 1}
	sl := freeCase(t, wx)
	m := sl.NewFreeCourse(FreeOptions{})
	r, err := route.Search(context.Background(), m, freeMarks, m.Departures(0), route.Options{Stages: 20, Lateral: 15, MaxRounds: 1, KeepArrivals: true, MaxAngleRad: units.Rad(89)})
	if err != nil || r.Status != route.Found {
		t.Fatal(err, r)
	}
	plans := 0
	rapid.Check(t, func(t *rapid.T) {
		points := []orb.Point{freeMarks[0].Point}
		for k := 1; k < len(r.Arrivals); k++ {
			c := r.Arrivals[k].Points
			points = append(points, c[rapid.IntRange(0, len(c)-1).Draw(t, "place")])
		}
		track, err := route.NewTrack(points)
		if err != nil {
			t.Fatal(err)
		}
		c, err := route.Chain(context.Background(), m, track.Stages(1e9), m.Departures(0))
		if err != nil {
			t.Fatal(err)
		}
		if c.Status == route.Found && !(c.ArrivalS >= r.ArrivalS-1e-6) {
			t.Errorf("a track in the mesh arrives at %.3f s, before the course found at %.3f s", c.ArrivalS, r.ArrivalS)
		}
		if plans++; plans > 10 {
			return
		}
		// The exact plan has finer steps and more states: half a per cent.
		v, err := sl.NewProblem(track, 0).Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.Status == Found && !(v.ArriveS >= r.ArrivalS*0.995) {
			t.Errorf("the plan on a track in the mesh arrives at %.1f s, before the course found at %.1f s", v.ArriveS, r.ArrivalS)
		}
	})
}

// TestFreeCourseAgreesWithPlan: the exact plan on the course found takes the
// search's own time to half a per cent, for a beat, a reach and a run.
func TestFreeCourseAgreesWithPlan(t *testing.T) {
	for _, from := range []float64{70, 160, 250} { // a beat, a reach and a run
		t.Run(fmt.Sprint(from), func(t *testing.T) {
			wx := fakeWind{mean: 10, swing: 3, fromDeg: from, turnDeg: 30, periodH: 50, hs: 1}
			sl := freeCase(t, wx)
			m := sl.NewFreeCourse(FreeOptions{})
			r, err := route.Search(context.Background(), m, freeMarks, m.Departures(0), route.Options{Stages: 24, Lateral: 21, Fan: 8})
			if err != nil || r.Status != route.Found {
				t.Fatal(err, r)
			}
			var points []orb.Point
			for _, s := range r.Course {
				points = append(points, s.Point)
			}
			track, err := route.NewTrack(points)
			if err != nil {
				t.Fatal(err)
			}
			v, err := sl.NewProblem(track, 0).Best(context.Background(), nil, false, nil)
			if err != nil || v.Status != Found {
				t.Fatal(err, v)
			}
			validation.Check(t, validation.Row{Package: "strategy", ID: fmt.Sprintf("course-against-plan-%g", from), Quantity: fmt.Sprintf("search for a course against the exact plan on the course found, wind from %g°", from),
				Got: r.ArrivalS / v.ArriveS, Want: 1, Tol: 0.005, Source: "plan on a given track: finer steps, all states of both foils", Kind: validation.Independent})
		})
	}
}

// TestFreeCourseMoreFreedom: more settings, no foils forbidden, free changes and
// looser limits never arrive later on the same mesh.
func TestFreeCourseMoreFreedom(t *testing.T) {
	wx := fakeWind{mean: 9, swing: 5, fromDeg: 200, turnDeg: 60, periodH: 40, hs: 1}
	sl := freeCase(t, wx)
	arrival := func(o FreeOptions) float64 {
		m := sl.NewFreeCourse(o)
		r, err := route.Search(context.Background(), m, freeMarks, m.Departures(0), route.Options{Stages: 20, Lateral: 15, MaxRounds: 1})
		if err != nil {
			t.Fatal(err)
		}
		return r.ArrivalS
	}
	ladder := []struct {
		name string
		at   float64
	}{
		{"free changes", arrival(FreeOptions{Instant: true})},
		{"all settings", arrival(FreeOptions{})},
		{"one setting out", arrival(FreeOptions{Leeward: []uint8{2}})},
		{"foils never", arrival(FreeOptions{FoilsNever: true})},
		{"wind limited to 13 m/s", arrival(FreeOptions{FoilsNever: true, MaxWindMS: 13})},
	}
	for i, x := range ladder[1:] {
		if !(x.at >= ladder[i].at-1e-6) {
			t.Errorf("%s arrives at %.1f s, %s at %.1f s", x.name, x.at, ladder[i].name, ladder[i].at)
		}
	}
	if ladder[0].at == ladder[1].at || ladder[1].at == ladder[3].at || math.IsInf(ladder[3].at, 1) {
		t.Errorf("the ladder has no rungs: %v", ladder)
	}
}

// TestFreeCourseKeepsLimits: the wind met on a course found under a limit stays
// below it where it is sampled, and the course is later for it.
func TestFreeCourseKeepsLimits(t *testing.T) {
	// A gale on the shortest line, moving along it.
	wx := gale{fakeWind{mean: 9, fromDeg: 180, periodH: 50, hs: 1}, orb.Point{-33, 44}, 12}
	sl := freeCase(t, wx)
	o := route.Options{Stages: 24, Lateral: 21, Fan: 8, MaxRounds: 4}
	free := sl.NewFreeCourse(FreeOptions{FoilsNever: true})
	r0, err := route.Search(context.Background(), free, freeMarks, free.Departures(0), o)
	if err != nil || r0.Status != route.Found {
		t.Fatal(err, r0)
	}
	const limit = 14
	m := sl.NewFreeCourse(FreeOptions{FoilsNever: true, MaxWindMS: limit})
	r, err := route.Search(context.Background(), m, freeMarks, m.Departures(0), o)
	if err != nil || r.Status != route.Found {
		t.Fatal(err, r)
	}
	worst := func(r *route.Result) (ms float64) {
		for i := 1; i < len(r.Course); i++ {
			a, b := r.Course[i-1], r.Course[i]
			for f := 0.0; f <= 1; f += 0.25 {
				e := route.NewEdge(a.Point, b.Point)
				p := e.At(f)
				s, _ := wx.At(p[0], p[1], a.TimeS+f*(b.TimeS-a.TimeS))
				ms = math.Max(ms, s.TWSMS())
			}
		}
		return ms
	}
	if w := worst(r0); w < limit+2 {
		t.Fatalf("the course without a limit meets only %.1f m/s", w)
	}
	// Between the samples, 10 nautical miles and half an hour apart, the wind
	// may be above by its gradient.
	if w := worst(r); !(w <= limit+1) {
		t.Errorf("the course meets %.2f m/s, the limit is %d", w, limit)
	}
	if !(r.ArrivalS > r0.ArrivalS) {
		t.Errorf("with the limit %.0f s, without %.0f s", r.ArrivalS, r0.ArrivalS)
	}
}

// gale adds more wind round a place.
type gale struct {
	fakeWind
	at    orb.Point
	moreM float64
}

func (g gale) At(lon, lat, t float64) (weather.Sample, error) {
	s, err := g.fakeWind.At(lon, lat, t)
	dx, dy := (lon-g.at[0])*math.Cos(units.Rad(g.at[1])), lat-g.at[1]
	k := 1 + g.moreM/9*math.Exp(-(dx*dx+dy*dy)/(2*1.35*1.35)) // 150 km
	s.U, s.V = s.U*k, s.V*k
	return s, err
}

// TestFreeCourseWorkers: the result is the same, bit for bit, on any number of
// workers.
func TestFreeCourseWorkers(t *testing.T) {
	wx := fakeWind{mean: 9, swing: 5, fromDeg: 200, turnDeg: 60, periodH: 40, hs: 1}
	var first *route.Result
	for _, w := range []int{1, 2, 5} {
		m := freeCase(t, wx).NewFreeCourse(FreeOptions{}) // tables filled afresh each time
		r, err := route.Search(context.Background(), m, freeMarks, m.Departures(0), route.Options{Stages: 20, Lateral: 15, Fan: 6, Workers: w})
		if err != nil || r.Status != route.Found {
			t.Fatal(err, r)
		}
		if first == nil {
			first = r
			continue
		}
		if len(r.Course) != len(first.Course) || r.ArrivalS != first.ArrivalS {
			t.Fatalf("%d workers: arrival %v, with one %v", w, r.ArrivalS, first.ArrivalS)
		}
		for i := range r.Course {
			if r.Course[i] != first.Course[i] {
				t.Fatalf("%d workers: step %d is %v, with one %v", w, i, r.Course[i], first.Course[i])
			}
		}
	}
}

// TestFreePacesAgree: the table of paces against the boat herself, and on the
// two sides of the wind.
func TestFreePacesAgree(t *testing.T) {
	sl := freeSailorOf(t, newFakeBoat(3, 0), fakeWind{mean: 9}, Options{})
	m := sl.NewFreeCourse(FreeOptions{})
	n := 0
	var spot freeSpot
	for tws := 3.1; tws < 20; tws += 1.37 {
		for deg := 1.0; deg < 180; deg += 3.3 {
			for l, set := range m.leeward {
				sea := seaState{twsMS: tws, hsM: 1.3}
				want := sl.freeThroughWater(-units.Rad(deg), sea, State{Port: set, Starboard: set})
				mirror := sl.freeThroughWater(units.Rad(deg), sea, State{Port: set, Starboard: set})
				m.paces.locate(&spot, tws, units.Rad(deg), 1.3)
				got, _ := spot.along(l, true)
				if !(math.Abs(got-want.AlongMS) <= 0.01*want.AlongMS+0.02) {
					t.Errorf("setting %d at %.2f m/s, %.1f°: %.3f m/s by the table, %.3f by the boat", set, tws, deg, got, want.AlongMS)
				}
				if !(math.Abs(mirror.AlongMS-want.AlongMS) <= 1e-9) {
					t.Errorf("setting %d at %.2f m/s, %.1f°: %.6f with the wind from starboard, %.6f from port", set, tws, deg, want.AlongMS, mirror.AlongMS)
				}
				n++
			}
		}
	}
	if n < 1000 {
		t.Fatal("compared too little")
	}
}

// TestLeeward: the settings picked hold in, are in order, and give up less than
// those of any one swap would gain.
func TestLeeward(t *testing.T) {
	sl := freeSailorOf(t, newSteppedBoat(), fakeWind{mean: 9}, Options{})
	for _, most := range []int{1, 2, 8, 30} {
		got := sl.Leeward(most)
		if len(got) > most || got[0] != 0 {
			t.Fatalf("%d: %v", most, got)
		}
		for i := 1; i < len(got); i++ {
			if got[i] <= got[i-1] {
				t.Fatalf("%d: %v does not ascend", most, got)
			}
		}
	}
	if n := len(sl.Leeward(30)); n != 19 {
		t.Fatalf("all of 19 settings: %d", n)
	}
}
