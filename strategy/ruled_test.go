package strategy

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// restedProblem is a passage of two days with 25 foil states and a rest quota
// that some of them break.
func restedProblem(t *testing.T, r *rand.Rand, stageNM float64) (free, rested *Problem) {
	t.Helper()
	wx := fakeWind{mean: 8 + 4*r.Float64(), swing: 4, fromDeg: 360 * r.Float64(), turnDeg: 40 * r.Float64(), periodH: 10 + 20*r.Float64(), phase: 6 * r.Float64()}
	sl, err := NewSailor(context.Background(), newFakeBoat(4, 0), fakeHandling(), wx, Options{StageM: stageNM * units.MPerNM,
		RestLimits: RestLimits{MaxFoilLoadN: 6e3 + 6e3*r.Float64(), GustFactor: 1.2}})
	if err != nil {
		t.Fatal(err)
	}
	free = sl.NewProblem(mustTrack(orb.Point{-30, 40}, orb.Point{-19, 40.4}), 0)
	return free, free.For(Person{RestS: 3600 * (6 + 8*r.Float64()), NapS: 1800})
}

// Under a rest quota the plan is never better than the search that leaves
// nothing out, and no further from it than it says itself.
func TestRestedPlanSaysWhatIsOpen(t *testing.T) {
	r := rand.New(rand.NewPCG(71, 73))
	worst, proven, cost := 0.0, 0, 0
	const cases = 8
	for i := range cases {
		free, p := restedProblem(t, r, 45)
		v, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		person := p.person
		person.ToleranceS = -1
		best, err := free.For(person).BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.Status != Found || best.Status != Found {
			t.Fatalf("case %d: %v, exact %v", i, v.Status, best.Status)
		}
		d := v.ArriveS - best.ArriveS
		worst = math.Max(worst, d)
		if !(d >= -1e-6) || !(d <= v.OpenS+1e-6) {
			t.Errorf("case %d: arrives %.1f s after the optimum and says %.1f s are open", i, d, v.OpenS)
		}
		if v.OpenS == 0 {
			proven++
		}
		plain, err := free.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if best.ArriveS > plain.ArriveS+60 {
			cost++
		}
	}
	t.Logf("worst %.1f min, %d of %d proven, the quota costs more than a minute in %d", worst/60, proven, cases, cost)
	if proven < cases/3 || cost < cases/3 {
		t.Errorf("%d of %d proven to be the best, the quota costs more than a minute in %d: the test shows too little", proven, cases, cost)
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "rest-quota-tolerance", Quantity: "greatest delay of the plan under a rest quota against the search that leaves nothing out, 8 random passages of two days",
		Got: worst / 60, Want: 0, Tol: 5, Unit: "min", Source: "the same search without its short cuts", Kind: validation.Independent})
}

// With many states too the search up to a known cost finds what the search
// finds that keeps every label that no other dominates.
func TestRulesKeepTheOptimum(t *testing.T) {
	r := rand.New(rand.NewPCG(83, 89))
	worst, binds := 0.0, 0
	for i := range 24 {
		wx := randomWind(r)
		limit := 0.0
		if r.IntN(3) == 0 {
			limit = wx.mean + wx.swing*0.5
		}
		q := newFakeProblem(t, 4, limit, wx, 6, 30, 0.9, 0.4)
		a := 3600 * (1 + 12*r.Float64())
		p := q.For([]Person{
			{SpacingS: 3600 * (0.5 + 5*r.Float64())},
			{EffortJ: 1e3 * (18 + 60*r.Float64())},
			{Changes: 1 + r.IntN(3)},
			{LeastGainS: 300 * r.Float64()},
			{Rests: []Window{{a, a + 5400}, {a + 5*3600, a + 7*3600}}, SpacingS: 3600 * r.Float64()},
			{SpacingS: 3600 * 2 * r.Float64(), EffortJ: 1e3 * (18 + 60*r.Float64()), LeastGainS: 200 * r.Float64()},
		}[i%6])
		all, st, err := p.frontier(context.Background(), nil, nil, nil)
		if err != nil || st != Found {
			t.Fatal(st, err)
		}
		want := math.Inf(1)
		for _, x := range all {
			want = math.Min(want, x.t+p.person.LeastGainS*float64(x.changes))
		}
		v, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		d := math.Abs(p.cost(v) - want)
		worst = math.Max(worst, d)
		if !(d <= 1e-6) || v.OpenS != 0 {
			t.Errorf("case %d: costs %.6f s more than the search that keeps all labels, %.0f s open, %+v", i, p.cost(v)-want, v.OpenS, p.person)
		}
		free, err := q.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.ArriveS > free.ArriveS+1 {
			binds++
		}
	}
	if binds < 8 {
		t.Errorf("the rules bound in %d cases: the test shows too little", binds)
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "rules-known-cost", Quantity: "greatest difference in cost under rules between the search up to a known cost and the one that keeps all labels, 24 random cases of 25 states",
		Got: worst, Want: 0, Tol: 1e-6, Unit: "s", Source: "the same search without deadlines", Kind: validation.Independent})
}

// A boat with more states than the search under rules can take is planned with
// some of them, and the plan says what the others could still gain.
func TestManyStatesUnderRules(t *testing.T) {
	r := rand.New(rand.NewPCG(97, 103))
	for i := range 2 {
		sl, err := NewSailor(context.Background(), newSteppedBoat(), fakeHandling(), randomWind(r), Options{StageM: 30 * units.MPerNM})
		if err != nil {
			t.Fatal(err)
		}
		p := sl.NewProblem(mustTrack(orb.Point{-30, 40}, orb.Point{-27.5, 40.4}), 3600).For(Person{EffortJ: 1e3 * (18 + 30*r.Float64()), SpacingS: 3600})
		all, st, err := p.frontier(context.Background(), nil, nil, nil)
		if err != nil || st != Found {
			t.Fatal(st, err)
		}
		v, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		d := v.ArriveS - all[0].t
		t.Logf("case %d: %.1f s after the optimum, %.1f s open", i, d, v.OpenS)
		if !(d >= -1e-6) || !(d <= v.OpenS+1e-6) || !(d <= 120) {
			t.Errorf("case %d: %.1f s after the optimum of all states, and says %.1f s are open", i, d, v.OpenS)
		}
	}
}
