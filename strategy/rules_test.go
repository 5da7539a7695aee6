package strategy

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// randomPerson is some rules at once.
func randomPerson(r *rand.Rand) Person {
	p := Person{SpacingS: 3600 * 2 * r.Float64()}
	if r.IntN(2) == 0 {
		a := 3600 * (2 + 6*r.Float64())
		p.Rests = []Window{{a, a + 5400}, {a + 5*3600, a + 7*3600}}
	}
	if r.IntN(2) == 0 {
		p.EffortJ = 1e3 * (25 + 60*r.Float64())
	}
	if r.IntN(3) == 0 {
		p.RestS, p.NapS = 3600*(3+5*r.Float64()), 1800
	}
	return p
}

// Under rules too the ledger's parts sum to the total against both baselines,
// the running total ends there, and every cause is one that the ledger names.
func TestLedgerUnderRules(t *testing.T) {
	r := rand.New(rand.NewPCG(103, 107))
	known := map[string]bool{}
	for _, c := range causes() {
		known[c] = true
	}
	worst, binds := 0.0, 0
	seen := map[string]bool{}
	const cases = 30
	for i := range cases {
		wx := fakeWind{mean: 6 + 8*r.Float64(), swing: 5 * r.Float64(), fromDeg: 360 * r.Float64(), turnDeg: 60 * r.Float64(), periodH: 6 + 20*r.Float64(),
			curU: 0.6 * (r.Float64() - 0.5), curV: 0.6 * (r.Float64() - 0.5)}
		q := newFakeProblem(t, 3, 13*float64(r.IntN(2)), wx, 6, 30, 1, 0.4)
		q.Sailor.opt.NightFactor = 1 + r.Float64()
		p := q.For(randomPerson(r))
		v, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.Status != Found {
			continue
		}
		plain, err := q.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.ArriveS > plain.ArriveS+1 {
			binds++
		}
		// The second baseline is a boat of her own, without foils and lighter.
		bare, err := NewSailor(context.Background(), lighter{newFakeBoat(0, 0)}, fakeHandling(), wx, q.Sailor.opt)
		if err != nil {
			t.Fatal(err)
		}
		for name, base := range map[string]*Problem{"never used": q, "not aboard": bare.NewProblem(q.track, q.DepartS)} {
			b, err := base.Best(context.Background(), FoilsIn, false, nil)
			if err != nil {
				t.Fatal(err)
			}
			lg, err := p.NewLedger(v, base, b)
			if err != nil {
				t.Fatal(err)
			}
			sum := 0.0
			for _, it := range lg.Items {
				sum += it.GainS
				seen[it.Cause] = true
				if !known[it.Cause] {
					t.Errorf("unknown cause %q", it.Cause)
				}
			}
			d := math.Abs(sum - (b.TimeS() - v.TimeS()))
			worst = math.Max(worst, d)
			if !(d <= 1e-6) || !(math.Abs(lg.Running[len(lg.Running)-1]-sum) <= 1e-6) || len(lg.Running) != p.Stages() {
				t.Errorf("case %d, %s: the parts sum to %.6f s, the difference of passage times is %.6f s, the running total ends at %.6f s", i, name, sum, b.TimeS()-v.TimeS(), lg.Running[len(lg.Running)-1])
			}
		}
	}
	for _, c := range []string{CausePays, CauseBoards, CauseWeather, causeSlowdown + "deploy", causeSlowdown + "retract", causeSlowdown + "add rake", CauseHull} {
		if !seen[c] {
			t.Errorf("no ledger names %q: the test shows too little", c)
		}
	}
	if binds < 8 {
		t.Errorf("the rules bound in %d cases: the test shows too little", binds)
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "ledger-rules", Quantity: "greatest difference between the ledger's sum and the difference of passage times under rules, 30 random passages, two baselines",
		Got: worst, Want: 0, Tol: 1e-6, Unit: "s", Source: "identity", Kind: validation.Analytic})
}

// lighter is a boat one per cent faster.
type lighter struct{ *fakeBoat }

func (b lighter) Speed(l, w int, c vpp.Condition) (float64, bool) {
	v, ok := b.fakeBoat.Speed(l, w, c)
	return 1.01 * v, ok
}

// What a rule costs is the plan without it against the plan with it, and never
// negative; without all of them it is the plan without rules.
func TestRuleCosts(t *testing.T) {
	r := rand.New(rand.NewPCG(109, 113))
	found := map[Rule]int{}
	for i := range 8 {
		q := newFakeProblem(t, 2, 0, randomWind(r), 6, 30, 1, 0.4)
		q.Sailor.opt.NightFactor = 2
		q.Sailor.opt.RestLimits = RestLimits{MaxFoilLoadN: 9e3, GustFactor: 1.3}
		a := 3600 * (2 + 6*r.Float64())
		effort := 0.0
		if i%2 == 0 {
			effort = 1e3 * (25 + 40*r.Float64())
		}
		p := q.For(Person{Rests: []Window{{a, a + 3*3600}}, RestS: 3600 * 4, NapS: 1800, SpacingS: 3600 * (4 + 5*r.Float64()), EffortJ: effort, ToleranceS: -1})
		v, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.Status != Found {
			continue
		}
		costs, err := p.RuleCosts(context.Background(), v, nil)
		if err != nil {
			t.Fatal(err)
		}
		most := 0.0
		for _, c := range costs {
			if !(c.CostS >= -1e-6) || math.Abs(c.CostS-(v.ArriveS-c.Without.ArriveS)) > 1e-9 {
				t.Errorf("case %d: %v costs %.3f s", i, c.Rule, c.CostS)
			}
			if c.CostS > 1 {
				found[c.Rule]++
			}
			if c.Rule != RuleAll {
				most = math.Max(most, c.CostS)
			} else if c.CostS < most-1e-6 {
				t.Errorf("case %d: all rules cost %.1f s, one alone %.1f s", i, c.CostS, most)
			}
		}
		var names []string
		for _, c := range costs {
			names = append(names, c.Rule.String())
		}
		if got := strings.Join(names, ", "); i%2 == 0 && got != "given rests, rest quota, state to rest in, spacing, effort per day, night factor, all rules" {
			t.Errorf("rules %s", got)
		}
		free := p.Lift(RuleAll)
		w, err := free.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if d := w.ArriveS - costs[len(costs)-1].Without.ArriveS; math.Abs(d) > 1e-6 {
			t.Errorf("case %d: without all rules the plan arrives %.3f s off the plan without rules", i, d)
		}
	}
	for _, r := range []Rule{RuleGivenRests, RuleRestState, RuleSpacing, RuleEffort, RuleNight, RuleAll} {
		if found[r] == 0 {
			t.Errorf("%v never cost anything: the test shows too little", r)
		}
	}
}

// A rival that the rules do not permit says so.
func TestRivalsUnderRules(t *testing.T) {
	r := rand.New(rand.NewPCG(127, 131))
	bars := map[Bar]int{}
	shown := 0
	for range 12 {
		q := newFakeProblem(t, 2, 0, randomWind(r), 6, 20, 1, 0.4)
		q.Sailor.opt.RestLimits = RestLimits{MaxFoilLoadN: 9e3, GustFactor: 1.2}
		p := q.For(Person{EffortJ: 1e3 * (20 + 30*r.Float64()), SpacingS: 1800})
		if r.IntN(2) == 0 {
			p = q.For(Person{Changes: 2, RestS: 5 * 3600, NapS: 1800})
		}
		v, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.Status != Found {
			continue
		}
		_, lg, err := p.RecordVoyage(v)
		if err != nil {
			t.Fatal(err)
		}
		for i := range lg.Changes {
			a, err := p.Alternatives(v, lg.Changes, i)
			if err != nil {
				t.Fatal(err)
			}
			for _, rv := range []struct {
				s   float64
				bar Bar
			}{{a.WithoutS, a.WithoutBar}, {a.EarlierS, a.EarlierBar}, {a.LaterS, a.LaterBar}} {
				bars[rv.bar]++
				if math.IsNaN(rv.s) != (rv.bar != BarNone) {
					t.Errorf("a rival of %v s is barred by %q", rv.s, rv.bar)
				}
				if rv.bar != BarNone && rv.bar != BarNoMoment && !a.WithoutHeld && strings.Contains(a.Reason(), rv.bar.String()) {
					shown++
				}
				// Nothing that keeps the rules beats the plan, as far as that is proven.
				if rv.s < -v.OpenS-1e-6 {
					t.Errorf("a rival arrives %.3f s before the plan, of which %.3f s are open", -rv.s, v.OpenS)
				}
			}
		}
	}
	t.Logf("bars %v", bars)
	if bars[BarNone] < 20 || bars[BarEffort]+bars[BarChanges]+bars[BarRest] == 0 || shown == 0 {
		t.Errorf("bars %v, %d of them in the reasons: the test shows too little", bars, shown)
	}
}

// Schedules by hand are refused with the reason, and what breaks a rule is
// listed.
func TestByHandReasons(t *testing.T) {
	p := newFakeProblem(t, 2, 0, fakeWind{mean: 11, fromDeg: 0, periodH: 24}, 2, 10, 2, 0)
	const head = "distance_nm,time_utc,side,extension,rake_deg,slow_down\n"
	for _, c := range []struct {
		name, rows string
		want       []string
	}{
		{"ceiling and speed", "20,,starboard,1,0,no\n", []string{"line 2", "deploy of the starboard foil", "ceiling of 10.0 kn", "the boat sails at"}},
		{"before departure", ",2026-01-01T00:30:00Z,starboard,1,0,\n", []string{"before the departure"}},
		{"after arrival", ",2026-02-01T00:30:00Z,starboard,1,0,\n", []string{"after the arrival"}},
		{"too soon", "20,,starboard,1,0,\n20.3,,starboard,0,,\n", []string{"line 3", "not done yet"}},
	} {
		acts, err := ReadHandSchedule(strings.NewReader(head+c.rows), "h.csv")
		if err != nil {
			t.Fatal(err)
		}
		_, _, _, err = p.ByHand(acts)
		var re *RefusedError
		if !errors.As(err, &re) {
			t.Errorf("%s: %v, want a refusal", c.name, err)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %q does not say %q", c.name, err, w)
			}
		}
	}
	acts, err := ReadHandSchedule(strings.NewReader(head+"20,,starboard,1,0,\n40,,starboard,1,2.5,\n60,,starboard,0,,\n"), "h.csv")
	if err != nil {
		t.Fatal(err)
	}
	q, _, lg, err := p.ByHand(acts)
	if err != nil {
		t.Fatal(err)
	}
	at := lg.Changes[1].TimeS
	got := map[Rule]int{}
	for _, b := range q.For(Person{SpacingS: 4 * 3600, EffortJ: 25e3, Changes: 2, Rests: []Window{{at - 60, at + 60}}, RestS: 24 * 3600, NapS: 1800}).Breaches(lg) {
		got[b.Rule]++
		if b.Words == "" || !(b.TimeS >= p.DepartS) {
			t.Errorf("breach %+v", b)
		}
	}
	if got[RuleSpacing] != 2 || got[RuleChanges] != 1 || got[RuleGivenRests] != 1 || got[RuleEffort] == 0 {
		t.Errorf("breaches %v", got)
	}
	if none := q.For(Person{SpacingS: 60, EffortJ: 1e6, Changes: 3}).Breaches(lg); len(none) != 0 {
		t.Errorf("breaches of rules that are kept: %v", none)
	}
}

// dull is a boat that hardly slows down when the sails are eased or let go.
type dull struct {
	*fakeBoat
	eased, loose float64
}

func (b dull) Accel(l, w int, p vpp.Power, c vpp.Condition, v float64) float64 {
	eq, _ := b.Speed(l, w, c)
	switch p {
	case vpp.PowerEased:
		eq *= b.eased
	case vpp.PowerNone:
		eq *= b.loose
	}
	return 0.05 * (eq - v)
}

// Of easing the sails, letting them go, bearing away and luffing the cheapest
// is taken, and each is taken on some boat.
func TestCheapestSlowDown(t *testing.T) {
	seen := map[SlowWay]int{}
	for _, b := range []dull{{newFakeBoat(2, 0), 0.5, 0}, {newFakeBoat(2, 0), 0.5, 0.99}, {newFakeBoat(2, 0), 0.99, 0.99}, {newFakeBoat(2, 0), 0.99, 0.2}} {
		sl, err := NewSailor(context.Background(), b, fakeHandling(), fakeWind{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for tws := 8.0; tws <= 18; tws += 2 {
			for deg := 50.0; deg <= 150; deg += 20 {
				sc := sl.prices.scene(vpp.Condition{TWSMS: tws, TWARad: units.Rad(deg)}, true)
				f0, f1 := sc.flat(sc.role(State{})), sc.flat(sc.role(State{Port: 1}))
				v, v1 := f0.steady(), f1.steady()
				ceiling := units.MS(10)
				if v <= ceiling {
					continue
				}
				const work = 240.0
				got := sc.slowTo(State{}, f0, v, ceiling, v1, work)
				cost := func(timeS, alongM, holdMS, made float64) float64 { return timeS - alongM/v1 + work*(1-holdMS*made/v1) }
				best := math.Inf(1)
				for _, ways := range [][2]int{{profEasedTime, profEasedDist}, {profLooseTime, profLooseDist}} {
					tt, d := f0.slowDown(ways[0], ways[1], v, ceiling)
					best = math.Min(best, cost(tt, d, ceiling, 1))
				}
				a := sc.angle(State{}, v, ceiling)
				for i, w := range a.ways {
					if a.ok[i] {
						best = math.Min(best, cost(w.timeS, w.alongM, w.holdMS, w.made))
					}
				}
				c := cost(got.timeS, got.alongM, got.holdMS, got.made)
				if !(c <= best+1e-6) || !(c >= best-1e-6) {
					t.Errorf("tws %v twa %v: %s costs %.2f s, the cheapest way %.2f s", tws, deg, got.Describe(), c, best)
				}
				if w := got.Way; (w == BearAway) != (got.AngleRad > units.Rad(deg)+1e-9) || (w == Luff) != (got.AngleRad > 0 && got.AngleRad < units.Rad(deg)-1e-9) {
					t.Errorf("tws %v twa %v: %s", tws, deg, got.Describe())
				}
				seen[got.Way]++
			}
		}
	}
	t.Logf("ways taken: %v", seen)
	for _, w := range []SlowWay{EaseSails, LetGoSails, BearAway, Luff} {
		if seen[w] == 0 {
			t.Errorf("%v is never taken", w)
		}
	}
}
