package strategy

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
	"foilledger/weather"
)

func randomWind(r *rand.Rand) fakeWind {
	return fakeWind{mean: 6 + 8*r.Float64(), swing: 5 * r.Float64(), fromDeg: 360 * r.Float64(), turnDeg: 60 * r.Float64(),
		periodH: 4 + 20*r.Float64(), phase: 6 * r.Float64(), hs: 2 * r.Float64(), curU: 0.6 * (r.Float64() - 0.5), curV: 0.6 * (r.Float64() - 0.5)}
}

// exhaustiveFor sails every schedule under the problem's rules, each change as
// early as they permit, and returns the least cost.
func exhaustiveFor(t *testing.T, p *Problem) float64 {
	t.Helper()
	all := p.states.All()
	best := math.Inf(1)
	sch := make(Schedule, p.Stages())
	var rec func(k int)
	rec = func(k int) {
		if k < len(sch) {
			for _, s := range all {
				sch[k] = s
				rec(k + 1)
			}
			return
		}
		v, broken, err := p.sailFor(sch, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !broken && v.Status == Found {
			best = math.Min(best, v.ArriveS+p.person.LeastGainS*float64(len(v.changes(p.Start))))
		}
	}
	rec(0)
	return best
}

// Under every rule alone and under several at once, the label search equals
// exhaustive enumeration.
func TestPersonEqualsExhaustive(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 37))
	rules := []struct {
		name string
		make func() Person
	}{
		{"spacing", func() Person { return Person{SpacingS: 3600 * (0.5 + 5*r.Float64())} }},
		{"effort", func() Person { return Person{EffortJ: 1e3 * (18 + 60*r.Float64())} }},
		{"changes", func() Person { return Person{Changes: 1 + r.IntN(2)} }},
		{"least gain", func() Person { return Person{LeastGainS: 600 * r.Float64()} }},
		{"rests", func() Person {
			a := 3600 * (1 + 6*r.Float64())
			return Person{Rests: []Window{{a, a + 5400}, {a + 4*3600, a + 6*3600}}}
		}},
		{"several", func() Person {
			a := 3600 * (1 + 6*r.Float64())
			return Person{Rests: []Window{{a, a + 5400}}, SpacingS: 3600 * 3 * r.Float64(), EffortJ: 1e3 * (20 + 80*r.Float64()), LeastGainS: 200 * r.Float64()}
		}},
	}
	worst := 0.0
	for _, rule := range rules {
		binds := 0
		const cases = 12
		for range cases {
			wx := randomWind(r)
			limit := 0.0
			if r.IntN(3) == 0 {
				limit = wx.mean + wx.swing*0.5
			}
			q := newFakeProblem(t, 2, limit, wx, 2, 30, 1.2*(r.Float64()-0.5)*2+0.1, 0.4)
			p := q.For(rule.make())
			p.opt = q.opt
			for _, x := range []*Problem{p, q} {
				if len(x.course.legs) > 4 {
					x.course.legs = x.course.legs[:4]
				}
			}
			want := exhaustiveFor(t, p)
			v, err := p.BestFor(context.Background(), nil, nil)
			if err != nil {
				t.Fatal(err)
			}
			if v.Status != Found {
				if !math.IsInf(want, 1) {
					t.Errorf("%s: no schedule found, exhaustive has one", rule.name)
				}
				continue
			}
			cost := v.ArriveS + p.person.LeastGainS*float64(len(v.changes(p.Start)))
			worst = math.Max(worst, math.Abs(cost-want))
			if !(math.Abs(cost-want) <= 1e-6) {
				t.Errorf("%s: search %.6f s after the exhaustive optimum, %v, %+v", rule.name, cost-want, v.Schedule, p.person)
			}
			free, err := q.Best(context.Background(), nil, false, nil)
			if err != nil {
				t.Fatal(err)
			}
			if v.ArriveS < free.ArriveS-1e-6 {
				t.Errorf("%s: arrives %.1f s before the plan without the rule", rule.name, free.ArriveS-v.ArriveS)
			}
			if v.ArriveS > free.ArriveS+1 {
				binds++
			}
		}
		if binds == 0 {
			t.Errorf("%s: the rule never cost anything: the test shows nothing", rule.name)
		}
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "rules-exhaustive", Quantity: "greatest difference in cost between the plan under rules and exhaustive enumeration, 72 random cases of up to 6561 schedules",
		Got: worst, Want: 0, Tol: 1e-6, Unit: "s", Source: "exhaustive enumeration with the same simulator", Kind: validation.Independent})
}

// Rest by quota: the plan is never later than the best schedule without extra
// waits, and a count of its log's spans agrees that it leaves the rest.
func TestRestQuota(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 43))
	binds := 0
	for range 12 {
		wx := fakeWind{mean: 8 + 4*r.Float64(), swing: 4, fromDeg: 360 * r.Float64(), turnDeg: 40 * r.Float64(), periodH: 10 + 10*r.Float64(), phase: 6 * r.Float64()}
		q := newFakeProblem(t, 1, 0, wx, 2, 250, 9, 0.4)
		q.Sailor.opt.RestLimits = RestLimits{MaxFoilLoadN: 6e3 + 8e3*r.Float64(), GustFactor: 1.2}
		p := q.For(Person{RestS: 3600 * (4 + 12*r.Float64()), NapS: 3600 * (0.5 + r.Float64()), ToleranceS: -1})
		want := exhaustiveFor(t, p)
		v, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.Status != Found {
			if !math.IsInf(want, 1) {
				t.Errorf("no schedule found, exhaustive has one arriving at %v", want)
			}
			continue
		}
		if v.ArriveS > want+1e-6 {
			t.Errorf("search arrives %.3f s after the exhaustive optimum", v.ArriveS-want)
		}
		_, lg, err := p.RecordVoyage(v)
		if err != nil {
			t.Fatal(err)
		}
		if end := lg.Entries[len(lg.Entries)-1].EndS; !(math.Abs(end-v.ArriveS) <= 1e-6) {
			t.Errorf("the log ends at %v, the voyage at %v", end, v.ArriveS)
		}
		rep := p.RestReport(lg)
		if w := rep.Least; !(w.RestS >= p.person.RestS-1) {
			t.Errorf("rest of %.0f s in the 24 h from %.0f s, want %.0f s", w.RestS, w.FromS-p.DepartS, p.person.RestS)
		}
		free, err := q.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.ArriveS > free.ArriveS+1 {
			binds++
		}
	}
	if binds < 3 {
		t.Errorf("the rule bound in %d cases: the test shows too little", binds)
	}
}

// Members: a state is left on only where enough members allow it.
func TestRestOverMembers(t *testing.T) {
	calm, strong := fakeWind{mean: 9, fromDeg: 0, periodH: 24}, fakeWind{mean: 15, fromDeg: 0, periodH: 24}
	q := newFakeProblem(t, 1, 0, calm, 1, 100, 3, 0)
	safe := func(members []weather.Source, prob float64) bool {
		sl := *q.Sailor
		sl.opt.RestLimits = RestLimits{MaxFoilLoadN: 22e3}
		sl.opt.Members, sl.opt.Probability = members, prob
		p := sl.newProblem(q.track, 0, nil)
		s := &p.course.legs[0].steps[0]
		i := p.states.Index(State{Port: 1, Starboard: 1})
		pc, b := p.paceIn(s, 0, i)
		return p.safeIn(s, 0, b, i, pc)
	}
	mix := []weather.Source{calm, calm, calm, strong}
	for _, c := range []struct {
		name    string
		members []weather.Source
		prob    float64
		want    bool
	}{{"own forecast", nil, 0, true}, {"all must hold", mix, 0, false}, {"three of four", mix, 0.75, true}, {"nine of ten", mix, 0.9, false}} {
		if got := safe(c.members, c.prob); got != c.want {
			t.Errorf("%s: safe %v, want %v", c.name, got, c.want)
		}
	}
}

func TestFrontierAndLeastGain(t *testing.T) {
	wx := fakeWind{mean: 11, swing: 5, fromDeg: 20, turnDeg: 60, periodH: 9}
	p := newFakeProblem(t, 2, 0, wx, 4, 10, 1, 0.4)
	free, err := p.Best(context.Background(), nil, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	front, err := p.Frontier(context.Background(), 20, nil)
	if err != nil {
		t.Fatal(err)
	}
	last := front[len(front)-1]
	if len(front) < 3 || !(math.Abs(last.ArriveS-free.ArriveS) <= 1e-6) {
		t.Errorf("%d voyages, the last arrives %.3f s after the plan", len(front), last.ArriveS-free.ArriveS)
	}
	const least = 120
	exact, err := p.For(Person{LeastGainS: least}).BestFor(context.Background(), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	greedy, err := p.Thin(context.Background(), free, least)
	if err != nil {
		t.Fatal(err)
	}
	cost := func(v *Voyage) float64 { return v.ArriveS + least*float64(len(v.changes(p.Start))) }
	want := math.Inf(1)
	for _, v := range front {
		want = math.Min(want, cost(v))
	}
	// Settling after a change makes the exact one's rules a little stricter.
	if !(cost(exact) <= cost(greedy)+1e-6) || !(math.Abs(cost(exact)-want) <= 1e-6) {
		t.Errorf("exact costs %.1f s, greedy %.1f s, the frontier's best %.1f s", cost(exact), cost(greedy), want)
	}
}

func BenchmarkPlanRested(b *testing.B) {
	wx := fakeWind{mean: 9, swing: 4, fromDeg: 200, turnDeg: 70, periodH: 40, hs: 1.5}
	for _, c := range []struct {
		name string
		p    Person
	}{
		{"spacing", Person{SpacingS: 2 * 3600}},
		{"effort", Person{EffortJ: 60e3}},
		{"rest", Person{RestS: 8 * 3600, NapS: 1800}},
		{"rest binding", Person{RestS: 14 * 3600, NapS: 1800}},
		{"rest+spacing+effort", Person{RestS: 8 * 3600, NapS: 1800, SpacingS: 3600, EffortJ: 80e3}},
		{"least gain", Person{LeastGainS: 120}},
	} {
		b.Run(c.name, func(b *testing.B) {
			sl, err := NewSailor(context.Background(), newFakeBoat(6, 0), fakeHandling(), wx, Options{StageM: 10 * units.MPerNM,
				RestLimits: RestLimits{MaxFoilLoadN: 9e3, GustFactor: 1.2}})
			if err != nil {
				b.Fatal(err)
			}
			p := sl.NewProblem(longTrack(), 0)
			for b.Loop() {
				if _, err := p.For(c.p).BestFor(context.Background(), nil, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
