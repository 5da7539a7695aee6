package strategy

import (
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/testdata/validation"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// constantBoat sails at one speed on every course outside a no-go angle round
// the wind.
type constantBoat struct {
	*fakeBoat
	speedMS float64
	noGo    float64
}

func (b constantBoat) Speed(_, _ int, c vpp.Condition) (float64, bool) {
	if c.TWARad < b.noGo-1e-9 {
		return 0, true
	}
	return b.speedMS, true
}

func (b constantBoat) BestVMG(_, _ int, _, _ float64, upwind bool) (float64, float64) {
	if upwind {
		return b.noGo, b.speedMS * math.Cos(b.noGo)
	}
	return math.Pi, b.speedMS
}

func (b constantBoat) At(int, int, vpp.Condition) vpp.Steady {
	return vpp.Steady{BSPMS: b.speedMS, OK: true, HullLoad: 1}
}

func (b constantBoat) Accel(_, _ int, _ vpp.Power, _ vpp.Condition, v float64) float64 {
	return 10 * (b.speedMS - v) // at once
}

func analyticSearch(t *testing.T, perf Performer, h vpp.Handling, wx fakeWind, to orb.Point, never bool) (*route.Result, float64) {
	t.Helper()
	sl, err := NewSailor(context.Background(), perf, h, wx, Options{})
	if err != nil {
		t.Fatal(err)
	}
	m := sl.NewFreeCourse(FreeOptions{FoilsNever: never})
	from := orb.Point{0, 0}
	r, err := route.Search(context.Background(), m, []route.Mark{{Point: from}, {Point: to}}, m.Departures(0), route.Options{Stages: 12, Lateral: 21})
	if err != nil || r.Status != route.Found {
		t.Fatal(err, r)
	}
	d, _, _ := route.Inverse(from, to)
	return r, d
}

// TestFreeCourseInUniformCurrent: the boat of constant speed in a uniform
// current takes Zermelo's time.
func TestFreeCourseInUniformCurrent(t *testing.T) {
	const v, u, w = 8.0, -1.2, 0.7
	boat := constantBoat{newFakeBoat(1, 0), v, 0}
	to, _ := route.Direct(orb.Point{0, 0}, math.Pi/2, 60*units.MPerNM)
	r, d := analyticSearch(t, boat, fakeHandling(), fakeWind{mean: 8, fromDeg: 0, periodH: 1e9, curU: u, curV: w}, to, true)
	s2 := u*u + w*w
	want := (-d*u + math.Sqrt(d*d*u*u+d*d*(v*v-s2))) / (v*v - s2)
	validation.Check(t, validation.Row{Package: "strategy", ID: "course-uniform-current", Quantity: "best course of a boat of constant speed in a uniform current, 60 nm east at the equator",
		Got: r.ArrivalS, Want: want, Tol: 2e-4 * want, Unit: "s", Source: "E. Zermelo, Z. angew. Math. Mech. 11 (1931) 114-124: T = (-d.w + sqrt((d.w)^2 + d^2 (V^2 - w^2)))/(V^2 - w^2)", Kind: validation.Analytic})
}

// TestFreeCourseDeadUpwind: with a no-go angle of 45° and free turns the way to
// windward is √2 as long.
func TestFreeCourseDeadUpwind(t *testing.T) {
	const v = 8.0
	h := fakeHandling()
	h.TackS, h.GybeS = 0, 0
	boat := constantBoat{newFakeBoat(1, 0), v, math.Pi / 4}
	to, _ := route.Direct(orb.Point{0, 0}, 0, 60*units.MPerNM)
	r, d := analyticSearch(t, boat, h, fakeWind{mean: 8, fromDeg: 0, periodH: 1e9}, to, true)
	validation.Check(t, validation.Row{Package: "strategy", ID: "course-dead-upwind", Quantity: "60 nm dead upwind with a no-go angle of 45° and free tacks, over the direct way",
		Got: r.ArrivalS * v / d, Want: math.Sqrt2, Tol: 2e-3, Source: "two boards at 45°", Kind: validation.Analytic})
}

// TestFreeCourseGreatCircle: in uniform weather a boat of constant speed sails
// the geodesic.
func TestFreeCourseGreatCircle(t *testing.T) {
	const v = 9.0
	boat := constantBoat{newFakeBoat(1, 0), v, 0}
	to := orb.Point{38, 41}
	r, d := analyticSearch(t, boat, fakeHandling(), fakeWind{mean: 8, fromDeg: 90, periodH: 1e9}, to, false)
	validation.Check(t, validation.Row{Package: "strategy", ID: "course-great-circle", Quantity: "time on the best course in uniform weather, over that of the geodesic",
		Got: r.ArrivalS * v / d, Want: 1, Tol: 1e-6, Source: "the geodesic is the shortest line", Kind: validation.Analytic})
}
