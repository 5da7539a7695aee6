package route

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sync/atomic"
	"testing"

	"foilledger/route/coast"
	"foilledger/testdata/validation"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/paulmach/orb"
	"gonum.org/v1/gonum/graph"
	"gonum.org/v1/gonum/graph/path"
	"gonum.org/v1/gonum/graph/simple"
	"pgregory.net/rapid"
)

// restless is a mover whose speed changes smoothly with place, time, direction
// and state, at random by its seed, and which pays for changes of state.
func restless(states int, seed uint64, moving bool) testMover {
	rng := rand.New(rand.NewPCG(seed, 99))
	type wave struct{ kx, ky, kt, ka, ph, amp float64 }
	waves := make([][]wave, states)
	prices := make([]float64, states*states)
	for q := range waves {
		for range 3 {
			w := wave{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64() * 0.2, float64(rng.IntN(3)), rng.Float64() * 6, rng.Float64()}
			if !moving {
				w.kt = 0
			}
			waves[q] = append(waves[q], w)
		}
	}
	for i := range prices {
		if i/states != i%states {
			prices[i] = rng.Float64() * 0.5
		}
	}
	return testMover{states: states, steps: 4, maxMS: 1 + 0.45*3,
		speed: func(p orb.Point, az, t float64, q int) float64 {
			v := 1.0
			for _, w := range waves[q] {
				v += 0.3 * w.amp * math.Sin(w.kx*p[0]+w.ky*p[1]+w.kt*t+w.ka*az+w.ph)
			}
			return math.Max(v, 0.05)
		},
		price: func(from, to int) float64 { return prices[from*states+to] },
	}
}

// exhaustive tries every sequence of points and states over the mesh.
func exhaustive(m *mesh, mover testMover, dep []Departure, tried *int) float64 {
	best := math.Inf(1)
	last := len(m.columns) - 1
	var walk func(k, i, q int, t float64)
	walk = func(k, i, q int, t float64) {
		if k == last {
			*tried++
			best = math.Min(best, t)
			return
		}
		a, b := &m.columns[k], &m.columns[k+1]
		for j := range b.points {
			if !a.mark && !b.mark && math.Abs(b.offsets[j]-a.offsets[i]) > m.tanMax*(b.alongM-a.alongM) {
				continue
			}
			var e Edge
			e.set(m.o.Surface, a.points[i], b.points[j])
			for r := range mover.states {
				if at := mover.leg(&e, t+mover.price(q, r), r); !math.IsInf(at, 1) {
					walk(k+1, j, r, at)
				}
			}
		}
	}
	for i := range m.columns[0].points {
		for _, d := range dep {
			walk(0, i, d.State, d.TimeS)
		}
	}
	return best
}

func TestEqualsExhaustiveSearch(t *testing.T) {
	worst, tried := 0.0, 0
	rapid.Check(t, func(t *rapid.T) {
		states := rapid.IntRange(1, 3).Draw(t, "states")
		o, _ := Options{Surface: Plane{}, Stages: rapid.IntRange(2, 4).Draw(t, "stages"), Lateral: 3, Workers: 2}.withDefaults()
		mover := restless(states, rapid.Uint64().Draw(t, "seed"), true)
		m := newMesh(o, []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{3, 4}}})
		m.spread(1)
		dep := []Departure{{0, rapid.Float64Range(-5, 5).Draw(t, "depart")}}
		if rapid.Bool().Draw(t, "second") {
			dep = append(dep, Departure{states - 1, dep[0].TimeS + 0.1})
		}
		want := exhaustive(m, mover, dep, &tried)
		sw := newSweep(o, m, mover)
		course, stats, err := sw.run(context.Background(), 0, dep, math.Inf(1))
		if err != nil || course == nil {
			t.Fatalf("no course: %v", err)
		}
		worst = math.Max(worst, math.Abs(stats.ArrivalS-want))
		if !(math.Abs(stats.ArrivalS-want) <= 1e-12*(1+math.Abs(want))) {
			t.Fatalf("search %v, exhaustive %v", stats.ArrivalS, want)
		}
	})
	if tried < 1000 {
		t.Errorf("only %d courses tried", tried)
	}
	check(t, "exhaustive", "largest difference from trying every course, small meshes in moving weather with priced states", worst, 0, 1e-9, "s", "enumeration of all courses", validation.Independent)
}

// asGraph builds gonum's graph of the same mesh for a mover at rest in time.
func asGraph(m *mesh, mover testMover) (*simple.WeightedDirectedGraph, graph.Node, []graph.Node) {
	g := simple.NewWeightedDirectedGraph(0, math.Inf(1))
	S := mover.states
	id := func(k, i, q int) graph.Node { return simple.Node((k*1000+i)*S + q) }
	var e Edge
	last := len(m.columns) - 1
	for k := range last {
		a, b := &m.columns[k], &m.columns[k+1]
		for i := range a.points {
			for j := range b.points {
				if !a.mark && !b.mark && math.Abs(b.offsets[j]-a.offsets[i]) > m.tanMax*(b.alongM-a.alongM) {
					continue
				}
				e.set(m.o.Surface, a.points[i], b.points[j])
				for r := range S {
					d := mover.leg(&e, 0, r)
					if math.IsInf(d, 1) {
						continue
					}
					for q := range S {
						g.SetWeightedEdge(g.NewWeightedEdge(id(k, i, q), id(k+1, j, r), d+mover.price(q, r)))
					}
				}
			}
		}
	}
	var ends []graph.Node
	for q := range S {
		ends = append(ends, id(last, 0, q))
	}
	return g, id(0, 0, 0), ends
}

func graphCase() (*mesh, testMover) {
	o, _ := Options{Surface: Plane{}, Stages: 24, Lateral: 31, Workers: 2}.withDefaults()
	m := newMesh(o, []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{6, 8}}})
	m.spread(1)
	return m, restless(4, 7, false)
}

func shortest(g *simple.WeightedDirectedGraph, from graph.Node, ends []graph.Node) float64 {
	tree := path.DijkstraFrom(from, g)
	best := math.Inf(1)
	for _, n := range ends {
		best = math.Min(best, tree.WeightTo(n.ID()))
	}
	return best
}

func TestEqualsGeneralShortestPath(t *testing.T) {
	m, mover := graphCase()
	g, from, ends := asGraph(m, mover)
	want := shortest(g, from, ends)
	sw := newSweep(m.o, m, mover)
	_, stats, err := sw.run(context.Background(), 0, []Departure{{0, 0}}, math.Inf(1))
	if err != nil {
		t.Fatal(err)
	}
	_, table, err := newSweep(m.o, m, newTabled(m, mover)).run(context.Background(), 0, []Departure{{0, 0}}, math.Inf(1))
	if err != nil || !(math.Abs(table.ArrivalS-want) < 1e-9) {
		t.Errorf("looked-up durations: %v, want %v (%v)", table.ArrivalS, want, err)
	}
	check(t, "gonum-dijkstra", "search against a general shortest-path algorithm on the same graph", stats.ArrivalS, want, 1e-9, "s", "gonum graph/path DijkstraFrom", validation.Independent)
}

func TestWorkersDoNotMatter(t *testing.T) {
	for seed := range uint64(3) {
		var first *Result
		for _, n := range []int{1, 2, 7} {
			r := search(t, restless(3, seed, true), []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{5, 5}}, {Point: orb.Point{9, 1}}}, Options{Surface: Plane{}, Stages: 12, Lateral: 11, MinGainS: 1e-3, MaxRounds: 4, Workers: n})
			if first == nil {
				first = r
			} else if d := cmp.Diff(first, r, cmpopts.EquateNaNs()); d != "" {
				t.Errorf("seed %d, %d workers: %s", seed, n, d)
			}
		}
	}
}

// TestFreedomNeverHurts: more states, another round, a denser mesh that holds
// the coarser one, free changes: never later.
func TestFreedomNeverHurts(t *testing.T) {
	marks := []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{6, 8}}}
	gained := 0
	for seed := range uint64(6) {
		full := restless(3, seed, true)
		o := Options{Surface: Plane{}, Stages: 12, Lateral: 13, MinGainS: 1e-3, MaxRounds: 1}
		free := full
		free.price = func(int, int) float64 { return 0 }
		o.Relaxed = free
		base := search(t, full, marks, o)
		if !(base.RelaxedS <= base.ArrivalS) {
			t.Errorf("seed %d: free changes arrive at %v, priced ones at %v", seed, base.RelaxedS, base.ArrivalS)
		}
		o.Relaxed = nil
		fewer := full
		fewer.states = 2
		if r := search(t, fewer, marks, o); !(base.ArrivalS <= r.ArrivalS) {
			t.Errorf("seed %d: three states arrive at %v, two at %v", seed, base.ArrivalS, r.ArrivalS)
		}
		dense := o
		dense.Lateral = 25
		if r := search(t, full, marks, dense); !(r.ArrivalS <= base.ArrivalS+1e-12) {
			t.Errorf("seed %d: denser mesh arrives at %v, its part at %v", seed, r.ArrivalS, base.ArrivalS)
		}
		rounds := o
		rounds.MaxRounds = 6
		r := search(t, full, marks, rounds)
		for i := 1; i < len(r.Rounds); i++ {
			if !(r.Rounds[i].ArrivalS <= r.Rounds[i-1].ArrivalS+1e-12) {
				t.Errorf("seed %d: round %d arrives at %v, the one before at %v", seed, i, r.Rounds[i].ArrivalS, r.Rounds[i-1].ArrivalS)
			}
		}
		if r.ArrivalS < base.ArrivalS-1e-6 {
			gained++
		}
	}
	if gained < 4 {
		t.Errorf("refinement gained in %d of 6 cases only", gained)
	}
}

// TestShifts: weather and departure moved together arrive as much later.
func TestShifts(t *testing.T) {
	marks := []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{6, 8}}}
	o := Options{Surface: Plane{}, Stages: 12, Lateral: 11, MinGainS: 1e-3, MaxRounds: 3}
	m := restless(2, 3, true)
	shifted := m
	shifted.speed = func(p orb.Point, az, t float64, q int) float64 { return m.speed(p, az, t-1000, q) }
	a := search(t, m, marks, o)
	b, err := Search(context.Background(), shifted, marks, []Departure{{0, 1000}}, o)
	if err != nil {
		t.Fatal(err)
	}
	check(t, "time-shift", "arrival with weather and departure 1000 s later, less 1000", b.ArrivalS-1000, a.ArrivalS, 1e-9, "s", "shift of the time origin", validation.Symmetry)
}

func steady(v float64) testMover {
	return testMover{states: 1, steps: 1, maxMS: v, speed: func(orb.Point, float64, float64, int) float64 { return v }}
}

// TestCancel: after the context is cancelled no worker begins another edge.
func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	m := steady(10)
	var sails, after atomic.Int64
	m.speed = func(orb.Point, float64, float64, int) float64 {
		if ctx.Err() != nil {
			after.Add(1)
		} else if sails.Add(1) == 5000 {
			cancel()
		}
		return 10
	}
	_, err := Search(ctx, m, []Mark{{Point: orb.Point{0, 0}}, {Point: orb.Point{30, 10}}}, []Departure{{0, 0}}, Options{Workers: 2})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	// steady asks for the speed twice per edge; each of two workers may finish
	// the edge it is on.
	if n := after.Load(); n > 4 {
		t.Errorf("%d speeds asked for after cancelling", n)
	}
}

type failing struct{ testMover }

var errMover = errors.New("no weather there")

func (f failing) Sailor() Sailor { return f }
func (f failing) Sail(*Edge, []float64, []float64, []int32) error {
	return errMover
}

type early struct{ testMover }

func (f early) Sailor() Sailor { return f }
func (f early) Sail(e *Edge, depart, arrive []float64, from []int32) error {
	arrive[0], from[0] = depart[0]-1, 0
	return nil
}

func TestAnswersThatAreNotCourses(t *testing.T) {
	ctx := context.Background()
	ab := []Mark{{Point: orb.Point{-20, 40}}, {Point: orb.Point{-30, 42}}}
	dep := []Departure{{0, 0}}
	if _, err := Search(ctx, failing{steady(10)}, ab, dep, Options{}); !errors.Is(err, errMover) {
		t.Errorf("mover's error came back as %v", err)
	}
	if _, err := Search(ctx, early{steady(10)}, ab, dep, Options{}); err == nil {
		t.Error("a mover that arrives before it left was believed")
	}
	if _, err := Chain(ctx, early{steady(10)}, []Stage{{To: orb.Point{1, 1}, LengthM: 1}}, dep); err == nil {
		t.Error("chain: a mover that arrives before it left was believed")
	}
	r, err := Search(ctx, steady(0), ab, dep, Options{})
	if err != nil || r.Status != NoCourse || r.Reason == "" {
		t.Errorf("becalmed: %+v %v", r, err)
	}
	r, err = Search(ctx, steady(10), ab, dep, Options{LatestS: 3600})
	if err != nil || r.Status != TooLate || r.Reason == "" {
		t.Errorf("too late: %+v %v", r, err)
	}
	d, _, _ := Inverse(ab[0].Point, ab[1].Point)
	if r, err = Search(ctx, steady(10), ab, dep, Options{LatestS: d/10 + 1}); err != nil || r.Status != Found {
		t.Errorf("just in time: %+v %v", r, err)
	}
	for name, c := range map[string]struct {
		marks []Mark
		dep   []Departure
		o     Options
	}{
		"one mark":    {ab[:1], dep, Options{}},
		"same marks":  {[]Mark{ab[0], ab[0]}, dep, Options{}},
		"NaN mark":    {[]Mark{ab[0], {Point: orb.Point{math.NaN(), 0}}}, dep, Options{}},
		"swapped":     {[]Mark{ab[0], {Point: orb.Point{50, 100}}}, dep, Options{}},
		"no state":    {ab, []Departure{{7, 0}}, Options{}},
		"no time":     {ab, []Departure{{0, math.NaN()}}, Options{}},
		"no dep":      {ab, nil, Options{}},
		"NaN option":  {ab, dep, Options{MinGainS: math.NaN()}},
		"clear below": {[]Mark{ab[0], {Point: orb.Point{-25, 40}, Passing: ToPort, ClearM: -1}, ab[1]}, dep, Options{}},
	} {
		if _, err := Search(ctx, steady(10), c.marks, c.dep, c.o); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestChain(t *testing.T) {
	tr, err := NewTrack([]orb.Point{{179, 10}, {-179, 11}, {-175, 12}})
	if err != nil {
		t.Fatal(err)
	}
	stages := tr.Stages(50e3)
	r, err := Chain(context.Background(), steady(8), stages, []Departure{{0, 100}})
	if err != nil || r.Status != Found {
		t.Fatal(err, r)
	}
	check(t, "chain-steady", "arrival along a track at constant speed", r.ArrivalS, 100+tr.LengthM()/8, 1e-6, "s", "distance over speed", validation.Analytic)
	if len(r.Course) != len(stages)+1 || r.Course[0].TimeS != 100 || r.Course[len(stages)].Point != stages[len(stages)-1].To {
		t.Errorf("course %v", r.Course)
	}
	// The chain is the search on a mesh one point wide: same optimum as trying
	// all state sequences.
	m := restless(3, 5, true)
	scaled := m
	scaled.speed = func(p orb.Point, az, t float64, q int) float64 { return 1e4 * m.speed(p, az, t, q) }
	stages = tr.Stages(100e3)[:6]
	r, err = Chain(context.Background(), scaled, stages, []Departure{{1, 0}})
	if err != nil {
		t.Fatal(err)
	}
	best := math.Inf(1)
	var walk func(k, q int, at float64)
	walk = func(k, q int, at float64) {
		if k == len(stages) {
			best = math.Min(best, at)
			return
		}
		e := NewEdge(stages[k].From, stages[k].To)
		e.LengthM, e.BearingRad = stages[k].LengthM, stages[k].BearingRad
		for s := range 3 {
			walk(k+1, s, scaled.leg(e, at+scaled.price(q, s), s))
		}
	}
	walk(0, 1, 0)
	check(t, "chain-exhaustive", "chain of stages against all state sequences", r.ArrivalS, best, 1e-9, "s", "enumeration", validation.Independent)

	stop := steady(8)
	stop.speed = func(p orb.Point, _, _ float64, _ int) float64 {
		if p[0] < 0 {
			return 0
		}
		return 8
	}
	r, err = Chain(context.Background(), stop, tr.Stages(50e3), []Departure{{0, 0}})
	if err != nil || r.Status != NoCourse || len(r.Course) < 2 || r.Reason == "" {
		t.Errorf("a track that ends in a calm: %+v %v", r, err)
	}
}

func benchmarkCase(stages, lateral, states int) (*mesh, Mover) {
	o, _ := Options{Stages: stages, Lateral: lateral}.withDefaults()
	m := newMesh(o, []Mark{{Point: orb.Point{-10, 48}}, {Point: orb.Point{-75, 35}}})
	m.spread(1)
	return m, flatCost{states}
}

// flatCost is a mover as cheap as one can be, so that the benchmark shows what
// the search itself costs.
type flatCost struct{ n int }

func (f flatCost) States() int         { return f.n }
func (f flatCost) MaxSpeedMS() float64 { return 0 }
func (f flatCost) Sailor() Sailor      { return f }
func (f flatCost) Sail(e *Edge, depart, arrive []float64, from []int32) error {
	for q, t := range depart {
		arrive[q] = t + e.LengthM/(8+math.Abs(e.BearingRad-4.4)*float64(q&3))
		from[q] = int32(q)
	}
	return nil
}

func BenchmarkSweep(b *testing.B) {
	for _, c := range []struct{ stages, lateral, states int }{
		{100, 61, 16}, {50, 61, 16}, {200, 61, 16}, {100, 31, 16}, {100, 121, 16}, {100, 61, 8}, {100, 61, 32},
	} {
		b.Run(fmt.Sprintf("stages=%d/lateral=%d/states=%d", c.stages, c.lateral, c.states), func(b *testing.B) {
			m, mover := benchmarkCase(c.stages, c.lateral, c.states)
			b.ReportAllocs()
			for range b.N {
				sw := newSweep(m.o, m, mover)
				if _, _, err := sw.run(context.Background(), 0, []Departure{{0, 0}}, math.Inf(1)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// tabled is a mover that looks durations up, so that the benchmark compares
// searches and not movers.
type tabled struct {
	n     int
	took  []float64 // stage × tail × head × state
	price []float64
}

const tabledAcross = 31

func newTabled(m *mesh, mover testMover) *tabled {
	t := &tabled{n: mover.states, took: make([]float64, (len(m.columns)-1)*tabledAcross*tabledAcross*mover.states)}
	var e Edge
	for k := range len(m.columns) - 1 {
		for i, a := range m.columns[k].points {
			for j, b := range m.columns[k+1].points {
				e.set(m.o.Surface, a, b)
				for q := range t.n {
					t.took[((k*tabledAcross+i)*tabledAcross+j)*t.n+q] = mover.leg(&e, 0, q)
				}
			}
		}
	}
	for f := range t.n {
		for q := range t.n {
			t.price = append(t.price, mover.price(f, q))
		}
	}
	return t
}

func (t *tabled) States() int         { return t.n }
func (t *tabled) MaxSpeedMS() float64 { return 0 }
func (t *tabled) Sailor() Sailor      { return t }
func (t *tabled) Sail(e *Edge, depart, arrive []float64, from []int32) error {
	took := t.took[((e.Stage*tabledAcross+e.Tail)*tabledAcross+e.Head)*t.n:][:t.n]
	for f, d := range depart {
		price := t.price[f*t.n:][:t.n]
		for q, c := range took {
			if a := d + price[q] + c; a < arrive[q] {
				arrive[q], from[q] = a, int32(f)
			}
		}
	}
	return nil
}

// The three below find the same way through the same small graph.
func BenchmarkSmallGraphSweep(b *testing.B) {
	m, mover := graphCase()
	sw := newSweep(m.o, m, newTabled(m, mover))
	b.ResetTimer()
	for range b.N {
		_, stats, err := sw.run(context.Background(), 0, []Departure{{0, 0}}, math.Inf(1))
		if err != nil {
			b.Fatal(err)
		}
		sink += stats.ArrivalS
	}
}

func BenchmarkSmallGraphGonum(b *testing.B) {
	m, mover := graphCase()
	g, from, ends := asGraph(m, mover)
	b.ResetTimer()
	for range b.N {
		sink += shortest(g, from, ends)
	}
}

func BenchmarkSmallGraphGonumAStar(b *testing.B) {
	m, mover := graphCase()
	g, from, ends := asGraph(m, mover)
	b.ResetTimer()
	for range b.N {
		best := math.Inf(1)
		for _, n := range ends {
			tree, _ := path.AStar(from, n, g, nil)
			best = math.Min(best, tree.WeightTo(n.ID()))
		}
		sink += best
	}
}

// BenchmarkSearchOcean is a whole search over 3 000 nm with land, all rounds.
// The mover takes about 100 ns per state, as reading a speed table does.
func BenchmarkSearchOcean(b *testing.B) {
	w := &Waters{Land: coast.Fine(), KeepOffM: 5000}
	b.ResetTimer()
	for range b.N {
		r, err := Search(context.Background(), flatCost{16}, []Mark{{Point: orb.Point{-10, 48}}, {Point: orb.Point{-74, 35}}}, []Departure{{0, 0}}, Options{Stages: 100, Lateral: 61, Waters: w})
		if err != nil || r.Status != Found {
			b.Fatal(err, r)
		}
		n := 0
		for _, x := range r.Rounds {
			n += x.Edges
		}
		b.ReportMetric(float64(n), "edges")
		b.ReportMetric(float64(len(r.Rounds)), "rounds")
	}
}
