package route

import (
	"context"
	"fmt"
	"math"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// The problems with closed solutions are posed on a Plane, where positions are
// metres and the numbers of the sources can be used as they are: there is no
// curvature to excuse a tolerance. What remains is the mesh: a course of
// straight chords through a column's points, refined around the best.

func search(t testing.TB, mover Mover, marks []Mark, o Options) *Result {
	t.Helper()
	r, err := Search(context.Background(), mover, marks, []Departure{{0, 0}}, o)
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != Found {
		t.Fatalf("%v: %s", r.Status, r.Reason)
	}
	if r.Course[0].TimeS != 0 || r.Course[len(r.Course)-1].TimeS != r.ArrivalS {
		t.Fatalf("course runs from %v to %v, arrival %v", r.Course[0].TimeS, r.Course[len(r.Course)-1].TimeS, r.ArrivalS)
	}
	if !(r.LowerBoundS <= r.ArrivalS*(1+1e-12)) {
		t.Fatalf("arrival %v beats the bound %v", r.ArrivalS, r.LowerBoundS)
	}
	return r
}

func TestConstantCurrent(t *testing.T) {
	const src = "E. Zermelo, Z. angew. Math. Mech. 11 (1931) 114-124: T = (−d·w + √((d·w)² + d²(V²−w²)))/(V²−w²)"
	for i, c := range []struct{ dx, dy, u, w, want float64 }{
		{0, 60, 3, 0, 6.289709},
		{100, 0, -4, 2, 17.247449},
		{30, 40, 3, 4, 3.333333},
	} {
		m := testMover{states: 1, steps: 1, maxMS: 10 + math.Hypot(c.u, c.w), speed: func(_ orb.Point, az, _ float64, _ int) float64 { return drift(10, c.u, c.w, az) }}
		r := search(t, m, []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{c.dx, c.dy}}}, Options{Surface: Plane{}, Stages: 20, Lateral: 21, MinGainS: 1e-6})
		check(t, fmt.Sprintf("constant-current-%d", i+1), "time across a constant current", r.ArrivalS, c.want, 1e-6, "s", src, validation.Analytic)
	}
}

// shear is the linear shear flow of Bryson and Ho with V = h = 1.
func shear() testMover {
	return testMover{states: 1, steps: 6, speed: func(p orb.Point, az, _ float64, _ int) float64 { return drift(1, -p[1], 0, az) }}
}

// The boat is first swept away from the goal, so that the course makes no
// steady progress along the straight line. Two gates across it, on the line
// where the current turns and square to the current beyond, make legs on which
// it does. They do not bind: they are wide enough.
var shearMarks = []Mark{
	{Point: orb.Point{3.5, -1.8}},
	{Point: orb.Point{3, 0}, Passing: Between, Other: orb.Point{6, 0}},
	{Point: orb.Point{2.25, 0}, Passing: Between, Other: orb.Point{2.25, 2}},
	{Point: orb.Point{0, 0}},
}

func TestLinearShear(t *testing.T) {
	const want, src = 5.26493205, "A. E. Bryson and Y.-C. Ho, Applied Optimal Control, sec. 2.7; J. T. Betts, Practical Methods for Optimal Control, 3rd ed., ex. 10.148"
	var last float64
	for i, n := range []int{6, 12, 24, 48} {
		r := search(t, shear(), shearMarks, Options{Surface: Plane{}, Stages: n, Lateral: 31, HalfWidthM: 1, MaxAngleRad: 1.5, MinGainS: 1e-5})
		err := r.ArrivalS - want
		t.Logf("%d stages: %.6f, error %.5f %%", n, r.ArrivalS, err/want*100)
		if i > 0 && !(err < last) {
			t.Errorf("%d stages: error %v is not below %v", n, err, last)
		}
		// Chords of a smooth course cost more than the course itself, apart
		// from the quadrature along them (below 1e-4).
		if !(err > -1e-4) {
			t.Errorf("%d stages: %v s faster than the optimum", n, -err)
		}
		last = err
		if n == 48 {
			check(t, "zermelo-shear", "time of the search in a linear shear flow from (3.5, −1.8)", r.ArrivalS, want, 0.005*want, "s", src, validation.Published)
		}
	}
}

func TestSpeedLinearInY(t *testing.T) {
	const want = 14.505745
	const src = "speed k·y: courses are circular arcs, T = acosh(1 + k²d²/(2V₁V₂))/k"
	var last float64
	for i, n := range []int{4, 8, 16, 32} {
		m := testMover{states: 1, steps: 8, maxMS: 40, speed: func(p orb.Point, _, _ float64, _ int) float64 { return 0.1 * p[1] }}
		r := search(t, m, []Mark{{Point: orb.Point{0, 50}}, {Point: orb.Point{100, 100}}}, Options{Surface: Plane{}, Stages: n, Lateral: 31, MinGainS: 1e-5})
		err := r.ArrivalS - want
		t.Logf("%d stages: %.6f", n, r.ArrivalS)
		if i > 0 && !(err < last) {
			t.Errorf("%d stages: error %v is not below %v", n, err, last)
		}
		last = err
		if n == 32 {
			check(t, "linear-speed", "time of the search with speed linear in y", r.ArrivalS, want, 0.003, "s", src, validation.Analytic)
			// The arc's centre lies on y = 0, as far from both ends.
			cx := (100*100 + 100*100 - 50*50) / 200.0
			radius := math.Hypot(cx, 50)
			for _, s := range r.Course {
				if d := math.Hypot(s.Point[0]-cx, s.Point[1]) - radius; !(math.Abs(d) < 0.5) {
					t.Errorf("%v is %v off the arc", s.Point, d)
				}
			}
		}
	}
}

// lattice is a mesh of points one apart, n stages long and half to either side.
func lattice(n, half int) *mesh {
	o, _ := Options{Surface: Plane{}, Stages: n, Lateral: 2*half + 1, MaxAngleRad: 1.5, Workers: 2}.withDefaults()
	m := newMesh(o, []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{0, float64(n)}}})
	for i := range m.columns[1 : len(m.columns)-1] {
		c := &m.columns[i+1]
		c.lo, c.hi = -float64(half), float64(half)
	}
	m.spread(1)
	return m
}

// zigzag sails at speed 1 no closer than 45° to a wind from the north; the
// state is the board and a tack costs a price.
func zigzag(tackS float64) testMover {
	return testMover{states: 2, steps: 1, maxMS: 1,
		speed: func(_ orb.Point, az, _ float64, board int) float64 {
			twa := math.Remainder(az, 2*math.Pi)
			if board == 1 {
				twa = -twa
			}
			if !(twa >= math.Pi/4-1e-9) {
				return 0
			}
			return 1
		},
		price: func(from, to int) float64 {
			if from != to {
				return tackS
			}
			return 0
		}}
}

func TestNoGoZoneAndTacks(t *testing.T) {
	const src = "no-go zone of 45°: dead upwind takes √2 D/V whatever the number of tacks; with a price c each the least feasible number n adds n c"
	const d = 24
	for _, c := range []struct {
		half, tacks int
		tackS       float64
	}{
		// A corridor of half width w makes the first and last board at most w
		// off the axis, those between 2w.
		{12, 0, 0}, {12, 1, 0.5}, {6, 2, 0.5}, {4, 3, 0.5}, {3, 4, 0.5}, {2, 6, 0.5},
	} {
		m := lattice(d, c.half)
		sw := newSweep(m.o, m, zigzag(c.tackS))
		course, stats, err := sw.run(context.Background(), 0, []Departure{{0, 0}, {1, 0}}, math.Inf(1))
		if err != nil || course == nil {
			t.Fatalf("half width %d: %v %v", c.half, course, err)
		}
		check(t, fmt.Sprintf("upwind-%d-%g", c.half, c.tackS), fmt.Sprintf("dead upwind in a corridor of half width %d, tacks at %g s", c.half, c.tackS),
			stats.ArrivalS, math.Sqrt2*d+float64(c.tacks)*c.tackS, 1e-9, "s", src, validation.Analytic)
		if c.tackS == 0 {
			continue
		}
		n := 0
		for k := 2; k < len(course); k++ {
			if course[k].State != course[k-1].State {
				n++
			}
		}
		if n != c.tacks {
			t.Errorf("half width %d: %d tacks, want %d", c.half, n, c.tacks)
		}
	}
	// The free mesh has to find the 45° by itself; columns are not a lattice,
	// so boards are a little longer than need be.
	r := search(t, zigzag(0), []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{0, 24}}}, Options{Surface: Plane{}, Stages: 24, Lateral: 61, HalfWidthM: 12, MinGainS: 1e-3})
	validation.Band(t, validation.Row{Package: "route", ID: "upwind-free-mesh", Quantity: "dead upwind over the free mesh", Got: r.ArrivalS, Unit: "s", Source: src, Kind: validation.Analytic}, math.Sqrt2*24-1e-9, math.Sqrt2*24*1.01)
}

func TestGreatCircleAtConstantSpeed(t *testing.T) {
	for _, c := range []struct{ a, b orb.Point }{
		{orb.Point{-10, 50}, orb.Point{-60, 44}},
		{orb.Point{170, -50}, orb.Point{-140, -55}}, // across the antimeridian
		{orb.Point{10, 80}, orb.Point{150, 75}},     // past the pole
	} {
		m := testMover{states: 1, steps: 1, maxMS: 10, speed: func(orb.Point, float64, float64, int) float64 { return 10 }}
		r, err := Search(context.Background(), m, []Mark{{Point: c.a}, {Point: c.b}}, []Departure{{0, 0}}, Options{Stages: 30, Lateral: 21})
		if err != nil || r.Status != Found {
			t.Fatal(err, r)
		}
		d, _, _ := Inverse(c.a, c.b)
		check(t, fmt.Sprintf("great-circle-course-%g", c.a[0]), "uniform weather, constant speed: time over that of the geodesic", r.ArrivalS-d/10, 0, 1e-6, "s", "the geodesic is the shortest line", validation.Analytic)
		l := LineBetween(c.a, c.b)
		for k, s := range r.Course {
			p, _ := l.At(d * float64(k) / 30)
			if off, _, _ := Inverse(p, s.Point); !(off < 1e-6) {
				t.Errorf("course point %d is %v m off the geodesic", k, off)
			}
		}
	}
}

// TestNoOvertaking is the trap of a speed frozen at departure: leg of 10,
// speed 1 before t = 5 and 5 after.
func TestNoOvertaking(t *testing.T) {
	const src = "D. E. Kaufman and R. L. Smith, IVHS J. 1 (1993) 1-11: leg 10, speed 1 before t = 5, then 5"
	integrated := piecewise{}
	e := new(Edge)
	e.set(Plane{}, orb.Point{0, 0}, orb.Point{0, 10})
	for _, c := range []struct{ leave, want float64 }{{4, 6.8}, {5, 7}} {
		out, from := []float64{math.Inf(1)}, []int32{-1}
		if err := integrated.Sail(e, []float64{c.leave}, out, from); err != nil {
			t.Fatal(err)
		}
		check(t, fmt.Sprintf("overtaking-%g", c.leave), fmt.Sprintf("arrival leaving at %g, speed integrated", c.leave), out[0], c.want, 1e-12, "s", src, validation.Analytic)
	}
	if err := CheckNoOvertaking(integrated, e, 0, 8, 0.25, 1e-9, 0); err != nil {
		t.Error(err)
	}
	if err := CheckNoOvertaking(piecewise{frozen: true}, e, 0, 8, 0.25, 1e-9, 0); err == nil {
		t.Error("a speed frozen at departure passed for one that never overtakes")
	}
}

// piecewise sails at 1 before t = 5 and 5 after.
type piecewise struct{ frozen bool }

func (piecewise) States() int         { return 1 }
func (piecewise) MaxSpeedMS() float64 { return 5 }
func (p piecewise) Sailor() Sailor    { return p }
func (p piecewise) Sail(e *Edge, depart, arrive []float64, from []int32) error {
	t, d := depart[0], e.LengthM
	from[0] = 0
	if t < 5 {
		if p.frozen || d <= 5-t {
			arrive[0] = t + d
			return nil
		}
		d -= 5 - t
		t = 5
	}
	arrive[0] = t + d/5
	return nil
}

func TestMarksToRound(t *testing.T) {
	m := testMover{states: 1, steps: 1, maxMS: 10, speed: func(orb.Point, float64, float64, int) float64 { return 10 }}
	a, b := orb.Point{-20, 40}, orb.Point{-10, 40}
	north, _ := Direct(orb.Point{-15, 40}, 0, 30e3)
	mid := func(p Passing) orb.Point {
		r, err := Search(context.Background(), m, []Mark{{Point: a}, {Point: north, Passing: p, ClearM: 1000, ReachM: 60e3}, {Point: b}}, []Departure{{0, 0}}, Options{Stages: 20, Lateral: 41, MinGainS: 1e-3, MaxRounds: 30})
		if err != nil || r.Status != Found {
			t.Fatal(err, r)
		}
		for _, s := range r.Course {
			if s.Leg == 0 {
				continue
			}
			return r.Course[10].Point
		}
		return orb.Point{}
	}
	// Going east with the mark north of the straight way: left to port it does
	// not bind, for it is passed to the south anyway; left to starboard the
	// boat must go round north of it, as close as allowed.
	free, _, _ := Inverse(a, b)
	l := LineBetween(a, b)
	straight, _ := l.At(free / 2)
	if p := mid(ToPort); true {
		if d, _, _ := Inverse(p, straight); !(math.Abs(p[1]-straight[1]) < 0.01) {
			t.Errorf("left to port: passes at %v, %v m from the straight way's middle", p, d)
		}
	}
	p := mid(ToStarboard)
	d, az, _ := Inverse(north, p)
	if !(math.Abs(d-1000) < 1) || !(math.Cos(az) > 0.9) {
		t.Errorf("left to starboard: passes %v m from the mark in direction %v°", d, units.Deg(az))
	}
	// A gate is crossed where the straight way crosses it.
	g := Mark{Point: orb.Point{-15, 39}, Passing: Between, Other: orb.Point{-15, 42}}
	r, err := Search(context.Background(), m, []Mark{{Point: a}, g, {Point: b}}, []Departure{{0, 0}}, Options{Stages: 20, Lateral: 41, MinGainS: 1e-3, MaxRounds: 30})
	if err != nil || r.Status != Found {
		t.Fatal(err, r)
	}
	if !(math.Abs(r.ArrivalS*10-free) < 20) {
		t.Errorf("through a gate: %v m, straight %v m", r.ArrivalS*10, free)
	}
}
