package strategy

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/weather"
)

// squalls is a steady wind with one squall.
type squalls struct {
	fakeWind
	fromS, toS, by float64
}

func (s squalls) At(lon, lat, t float64) (weather.Sample, error) {
	x, err := s.fakeWind.At(lon, lat, t)
	if t >= s.fromS && t < s.toS {
		x.U, x.V = x.U*s.by, x.V*s.by
	}
	return x, err
}

// Members that break one after the other leave enough at every moment and too
// few for the whole of a rest: the nap ends there.
func TestMembersBreakInTurn(t *testing.T) {
	steady := fakeWind{mean: 9, fromDeg: 0, periodH: 24}
	const squallS = 3600
	var ens []weather.Source
	for i := range 4 {
		ens = append(ens, squalls{steady, float64(2+3*i) * squallS, float64(3+3*i) * squallS, 1.8})
	}
	q := newFakeProblem(t, 1, 0, steady, 1, 250, 4, 0)
	q.Sailor.opt.RestLimits = RestLimits{MaxFoilLoadN: 22e3}
	q.Sailor.opt.Members, q.Sailor.opt.Probability = ens, 0.75
	out := make(Schedule, q.Stages())
	for k := range out {
		out[k] = State{Port: 1, Starboard: 1}
	}
	p := q.For(Person{RestS: 1, NapS: 1800})
	v, lg, err := p.Record(out)
	if err != nil || v.TimeS() < 13*3600 {
		t.Fatalf("passage of %.0f s, %v", v.TimeS(), err)
	}
	pointwise := true
	for i := range lg.Entries {
		if e := &lg.Entries[i]; !e.Changing && e.BoardS == 0 {
			ok, _ := e.alone()
			pointwise = pointwise && ok
		}
	}
	if !pointwise {
		t.Errorf("the foils do not hold in three of four members at every moment: the test shows nothing")
	}
	naps := p.RestReport(lg).Naps
	if len(naps) < 4 {
		t.Fatalf("naps %+v, want an end at the second, third and fourth squall", naps)
	}
	for i, want := range []float64{5, 8, 11} {
		if d := naps[i].ToS - want*squallS; !(math.Abs(d) <= binS+1) || naps[i+1].FromS != naps[i].ToS {
			t.Errorf("nap %d ends at %.2f h, want %.0f h", i, naps[i].ToS/3600, want)
		}
	}
	for _, n := range naps {
		if !(n.Share >= 0.75) {
			t.Errorf("through the nap from %.0f s the foils hold in %.2f of the members", n.FromS, n.Share)
		}
	}
	// A rest given over two squalls is broken, over one it is not.
	for _, c := range []struct {
		fromH, toH float64
		broken     bool
	}{{1.5, 4, false}, {1.5, 7, true}, {4, 7, false}} {
		_, broken, err := q.For(Person{Rests: []Window{{c.fromH * 3600, c.toH * 3600}}}).sailFor(out, nil, nil)
		if err != nil || broken != c.broken {
			t.Errorf("rest from %v h to %v h: broken %v, want %v, %v", c.fromH, c.toH, broken, c.broken, err)
		}
	}
}

// randomMembers is an ensemble round a wind.
func randomMembers(r *rand.Rand, wx fakeWind, n int) (out []weather.Source) {
	for range n {
		m := wx
		m.mean += 2 * (r.Float64() - 0.5)
		m.phase += 1.5 * (r.Float64() - 0.5)
		out = append(out, squalls{m, 3600 * 12 * r.Float64(), 3600 * 20 * r.Float64(), 1.1 + 0.4*r.Float64()})
	}
	return out
}

// Over members the label search equals exhaustive enumeration with given rests,
// and with a quota of rest it is no further from it than it says; what it finds
// holds through every rest.
func TestJointEqualsExhaustive(t *testing.T) {
	r := rand.New(rand.NewPCG(151, 157))
	worst := 0.0
	for _, quota := range []bool{false, true} {
		binds, differ, equal := 0, 0, 0
		for i := range 12 {
			wx := fakeWind{mean: 8 + 4*r.Float64(), swing: 3, fromDeg: 360 * r.Float64(), turnDeg: 40 * r.Float64(), periodH: 10 + 10*r.Float64(), phase: 6 * r.Float64()}
			nm, lonDeg := 30.0, 1.5
			if quota {
				nm, lonDeg = 250, 9
			}
			q := newFakeProblem(t, 1+i%2, 0, wx, 2, nm, lonDeg, 0.4)
			q.Sailor.opt.RestLimits = RestLimits{MaxFoilLoadN: 8e3 + 8e3*r.Float64()}
			q.Sailor.opt.Members, q.Sailor.opt.Probability = randomMembers(r, wx, 5), 0.6
			q.course.legs = q.course.legs[:min(len(q.course.legs), 4)]
			person := Person{RestS: 3600 * (6 + 10*r.Float64()), NapS: 3600 * (0.5 + r.Float64()), ToleranceS: -1}
			if !quota {
				a := 3600 * (1 + 3*r.Float64())
				person = Person{Rests: []Window{{a, a + 3600*(2+4*r.Float64())}}}
			}
			p := q.For(person)
			p.course.legs = p.course.legs[:min(len(p.course.legs), 4)]
			want := exhaustiveFor(t, p)
			v, err := p.BestFor(context.Background(), nil, nil)
			if err != nil {
				t.Fatal(err)
			}
			if v.Status != Found {
				if !math.IsInf(want, 1) {
					t.Errorf("quota %v, case %d: no schedule found, exhaustive has one", quota, i)
				}
				continue
			}
			d := v.ArriveS - want
			worst = math.Max(worst, d-v.OpenS)
			if !(d <= v.OpenS+1e-6) || !quota && !(math.Abs(d) <= 1e-6) {
				t.Errorf("quota %v, case %d: search arrives %.3f s after the exhaustive optimum and says %.1f s are open", quota, i, d, v.OpenS)
			}
			if d <= 1e-6 {
				equal++
			}
			_, lg, err := p.RecordVoyage(v)
			if err != nil {
				t.Fatal(err)
			}
			rep := p.RestReport(lg)
			for _, n := range append(rep.Naps, rep.Given...) {
				if !(n.Share >= 0.6-1e-9) {
					t.Errorf("quota %v, case %d: through the rest from %.0f s the foils hold in %.2f of the members", quota, i, n.FromS, n.Share)
				}
			}
			if quota && !(rep.Least.RestS >= person.RestS-1) {
				t.Errorf("case %d: %.0f s of rest, want %.0f s", i, rep.Least.RestS, person.RestS)
			}
			free, err := q.Best(context.Background(), nil, false, nil)
			if err != nil {
				t.Fatal(err)
			}
			if v.ArriveS > free.ArriveS+1 {
				binds++
			}
			if p.jointCosts(t, v) {
				differ++
			}
		}
		t.Logf("quota %v: the rest binds in %d, jointly it costs more than moment by moment in %d; no later than exhaustive in %d", quota, binds, differ, equal)
		if binds < 3 || equal < 11 || differ < 1 {
			t.Errorf("quota %v: the rest binds in %d cases, jointly it costs more in %d: the test shows too little", quota, binds, differ)
		}
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "joint-hold-exhaustive", Quantity: "greatest delay, beyond what the plan says is open, of the plan whose foils hold through whole rests in three of five members against exhaustive enumeration, 24 random cases",
		Got: math.Max(worst, 0), Want: 0, Tol: 1e-6, Unit: "s", Source: "exhaustive enumeration with the same simulator", Kind: validation.Independent})
}

// jointCosts reports whether a plan that asks the members anew at every moment
// would arrive earlier.
func (p *Problem) jointCosts(t *testing.T, v *Voyage) bool {
	t.Helper()
	q := *p
	q.momentary = true
	w, err := q.BestFor(context.Background(), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	if w.ArriveS > v.ArriveS+1e-6 {
		t.Errorf("asking anew at every moment arrives %.3f s later", w.ArriveS-v.ArriveS)
	}
	return w.ArriveS < v.ArriveS-1
}
