package trial

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"testing"
	"time"

	"foilledger/strategy"
	"foilledger/strategy/internal/plainboat"
	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

const (
	shortTrack = "45.0,-30.0; 45.0,-20.0"
	highMS     = 10.0
	lowMS      = 6.0
)

// TestSquareWave: two ways of sailing whose speeds differ by ±g in halves of a
// square wave. Going along gains g·P in each half P and pays for going there
// and back, so that it pays exactly when the one exceeds the other.
func TestSquareWave(t *testing.T) {
	for _, halfS := range []float64{2 * 3600, 3 * 3600, 6 * 3600} {
		wave := plainboat.Northerly(func(t float64) float64 {
			if math.Mod(math.Floor(t/halfS), 2) == 1 {
				return highMS
			}
			return lowMS
		})
		prices := func(g float64) (sl *strategy.Sailor, need float64) {
			b := plainBoat{speedMS: 8, gain: func(tws float64) float64 {
				if tws >= highMS {
					return g
				}
				return -g
			}}
			sl = sailor(t, b, strategy.Options{StageM: 0.25 * units.MPerNM})
			// All in metres over the speed with foils in. Foils that go out at the
			// start of a high half forgo its gain meanwhile; at the end of the low
			// half before they do not.
			late := sl.BreakEven(0, 1, highMS, units.Rad(90), 0).Price.LostS * (1 + g)
			soon := sl.BreakEven(0, 1, lowMS, units.Rad(90), 0).Price
			early := soon.TimeS - (soon.TimeS-soon.LostS)*(1-g)
			in := sl.BreakEven(1, 0, lowMS, units.Rad(90), 0).Price.LostS
			return sl, math.Min(early, late) + in
		}
		// The gain at which g·P meets both prices.
		lo, hi := 1e-4, 0.5
		for range 60 {
			g := (lo + hi) / 2
			if _, need := prices(g); g*halfS > need {
				hi = g
			} else {
				lo = g
			}
		}
		critical := (lo + hi) / 2
		t.Logf("in halves of %g h switching should pay above a gain of %.3f %%", halfS/3600, 100*critical)
		if !(critical > 0.005 && critical < 0.2) {
			t.Fatalf("critical gain %g", critical)
		}
		// The passage begins and ends in a low half, with three high ones
		// between. A stage of a minute blurs the ends of the halves.
		for _, tc := range []struct {
			name   string
			factor float64
			want   float64
		}{{"far-below", 0.5, 0}, {"below", 0.97, 0}, {"above", 1.03, 6}, {"far-above", 2, 6}} {
			sl, _ := prices(critical * tc.factor)
			st := &Study{Track: track(t, fmt.Sprintf("45.0,-30.0; 45.0,%.4f", -30+7*halfS*8*0.99/78850)), Set: setOf(1, func(int) *Weather { return &Weather{Truth: wave} }),
				Boats: []Boat{{"b", sl}}, Ceiling: true}
			r, err := st.Job(t.Context(), 0)
			if err != nil {
				t.Fatal(err)
			}
			validation.Check(t, validation.Row{Package: "strategy/trial", ID: fmt.Sprintf("square-wave-%gh-%s", halfS/3600, tc.name),
				Quantity: fmt.Sprintf("changes of the best plan over three high halves of %g h when gain × half period is %.2f of the two prices", halfS/3600, tc.factor),
				Got:      float64(r.Ceiling.Changes), Want: tc.want, Source: "closed form: follow a square wave if and only if gain × half period > both prices", Kind: validation.Analytic})
		}
	}
}

// swingStudy is a study in made winds with a forecast of them that is wrong and
// gets better with each issue.
func swingStudy(t testing.TB, n int, every time.Duration) *Study {
	b := plainBoat{speedMS: 8, rakes: 2, limitMS: 13, gain: func(tws float64) float64 { return 0.03 * (tws - 7) }}
	sl := sailor(t, b, strategy.Options{})
	set := setOf(n, func(i int) *Weather {
		truth, guess := swinging(uint64(i), 8), swinging(uint64(i)+1000, 8)
		return &Weather{Truth: truth, Issues: reissue(truth, guess, 0, every)}
	})
	return &Study{Track: track(t, shortTrack), Set: set, Boats: []Boat{{"a", sl}}, Policies: Standard(), Ceiling: true}
}

func runAll(t testing.TB, st *Study, o RunOptions) []Record {
	t.Helper()
	rs, err := Run(t.Context(), st.Jobs(), st.Job, o)
	if err != nil {
		t.Fatal(err)
	}
	return rs
}

func summaryOf(st *Study, rs []Record) *Summary {
	z := &Summarizer{Weathers: st.Set.Len(), Ceiling: st.Ceiling}
	for _, b := range st.Boats {
		z.Boats = append(z.Boats, b.Name)
	}
	for _, p := range st.Policies {
		z.Policies = append(z.Policies, p.Name)
	}
	return z.Summarize(rs)
}

// TestCeilingIsTheBestPlan: the ceiling of a study, whose search starts from the
// policies' states, is the plan that Best finds.
func TestCeilingIsTheBestPlan(t *testing.T) {
	st := swingStudy(t, 6, 12*time.Hour)
	st.Boats[0].Sailor = sailor(t, plainBoat{speedMS: 8, rakes: 6, limitMS: 13, gain: func(tws float64) float64 { return 0.03 * (tws - 7) }}, strategy.Options{})
	for _, r := range runAll(t, st, RunOptions{}) {
		w, err := st.Set.Open(t.Context(), r.Weather)
		if err != nil {
			t.Fatal(err)
		}
		best, err := st.Boats[0].Sailor.In(w.Truth).NewProblem(st.Track, w.DepartS).Best(t.Context(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(best.TimeS()-r.Ceiling.TimeS) <= 1e-6) {
			t.Errorf("weather %d: the ceiling takes %.6f s, the best plan %.6f s", r.Weather, r.Ceiling.TimeS, best.TimeS())
		}
	}
}

func TestCeilingAndEqualPolicies(t *testing.T) {
	st := swingStudy(t, 40, 12*time.Hour)
	again := Standard()[2]
	again.Name = "thresholds again"
	st.Policies = append(st.Policies, again)
	rs := runAll(t, st, RunOptions{})
	least, moved := math.Inf(1), 0
	for _, r := range rs {
		for i, run := range r.Runs {
			if run.Outcome != Arrived {
				t.Fatalf("%s in weather %d: %s", st.Policies[i].Name, r.Weather, run.Outcome)
			}
			least = math.Min(least, run.TimeS-r.Ceiling.TimeS)
			moved += run.Changes
		}
	}
	if moved < 100 {
		t.Errorf("%d changes in all: the case tests little", moved)
	}
	validation.Band(t, validation.Row{Package: "strategy/trial", ID: "ceiling", Quantity: "least regret of six policies in 40 made weathers", Unit: "s",
		Got: least, Source: "identity: the plan with full knowledge is the optimum of the same discretised problem", Kind: validation.Analytic}, -1e-6, 3600)
	s := summaryOf(st, rs)
	for _, p := range s.Boats[0].Pairs {
		if p.A == "thresholds" && p.B == again.Name {
			worst := 0.0
			for _, x := range []float64{p.Mean.Lo, p.Mean.Hi, p.Joint.Lo, p.Joint.Hi, p.SavedBy.P10, p.SavedBy.Median, p.SavedBy.P90, p.SavedBy.Mean} {
				worst = math.Max(worst, math.Abs(x))
			}
			validation.Check(t, validation.Row{Package: "strategy/trial", ID: "equal-policies", Quantity: "largest figure of the difference between a policy and itself", Unit: "min",
				Got: worst, Source: "identity", Kind: validation.Symmetry})
			if p.AWins != 0.5 || p.Certain || p.Clear {
				t.Errorf("a policy beats itself in %g of cases", p.AWins)
			}
		}
	}
	won := 0.0
	for _, p := range s.Boats[0].Policies {
		won += p.WonShare
	}
	validation.Check(t, validation.Row{Package: "strategy/trial", ID: "won-shares", Quantity: "sum of the shares of weathers won", Got: won, Want: 1, Tol: 1e-9, Source: "identity", Kind: validation.Analytic})
}

// TestInformation: the re-planner with more forecasts is not slower on average
// beyond noise, and with the truth it is within a hair of the ceiling.
func TestInformation(t *testing.T) {
	const n = 60
	var times [3][]float64
	var ceiling []float64
	for i, every := range []time.Duration{0, 12 * time.Hour, 3 * time.Hour} {
		st := swingStudy(t, n, every)
		st.Policies, st.Ceiling = Standard()[4:], i == 0
		for _, r := range runAll(t, st, RunOptions{}) {
			times[i] = append(times[i], r.Runs[0].TimeS)
			if i == 0 {
				ceiling = append(ceiling, r.Ceiling.TimeS)
			}
		}
	}
	for i, name := range []string{"12 h for one", "3 h for 12 h"} {
		m, iv := Bootstrap{Seed: 1}.Mean(Differences(times[i], times[i+1]))
		t.Logf("%s: saves %.0f s, %.0f to %.0f", name, m, iv.Lo, iv.Hi)
		if i == 0 && !(m > 0) {
			t.Errorf("forecasts every 12 h save %.0f s over a single one", m)
		}
		validation.Band(t, validation.Row{Package: "strategy/trial", ID: "information-" + fmt.Sprint(i), Quantity: "upper end of the interval of the time saved by more forecasts, " + name,
			Got: iv.Hi, Unit: "s", Source: "theory of decisions: information cannot hurt an optimal planner on average", Kind: validation.Analytic}, 0, 1e5)
	}
	st := swingStudy(t, n, 0)
	st.Policies, st.Ceiling = Standard()[4:], false
	for i := range n {
		e := &st.Set.list[i]
		truth, _, err := e.open(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		e.issues = setOf(1, func(int) *Weather {
			return &Weather{Truth: truth, Issues: []strategy.Issue{{IssuedS: math.Inf(-1), Source: truth}}}
		}).list[0].issues
	}
	var regret float64
	for i, r := range runAll(t, st, RunOptions{}) {
		regret += (r.Runs[0].TimeS - ceiling[i]) / n
	}
	validation.Band(t, validation.Row{Package: "strategy/trial", ID: "replan-truth", Quantity: "mean regret of the re-planner that is told the truth (its steps are coarser)", Unit: "s",
		Got: regret, Source: "identity but for the coarser steps", Kind: validation.Analytic}, -1e-6, 240)
}

// TestReplanHorizon: a re-planner that always plans to the end of the track
// sails as one does that plans as far as usual, and not as one that plans for a
// few hours.
func TestReplanHorizon(t *testing.T) {
	st := demoStudy(t, longVia, 3)
	st.Ceiling = false
	st.Policies = Standard()[4:]
	for name, farM := range map[string]float64{"to the end": math.Inf(1), "a few hours": 60 * units.MPerNM} {
		st.Policies = append(st.Policies, Contender{name, func(ctx context.Context, _ *strategy.Sailor) strategy.Policy {
			r := NewReplan(ctx)
			r.farM = farM
			return r
		}})
	}
	differ := map[string]float64{}
	for job := range st.Jobs() {
		r, err := st.Job(t.Context(), job)
		if err != nil {
			t.Fatal(err)
		}
		for i, x := range r.Runs {
			differ[st.Policies[i].Name] += math.Abs(r.Runs[0].TimeS - x.TimeS)
		}
	}
	if !(differ["to the end"] <= 1) || !(differ["a few hours"] > 60) {
		t.Errorf("passage times differ from the usual by %v s", differ)
	}
}

func TestStudyIsTheSameHowever(t *testing.T) {
	st := swingStudy(t, 8, 12*time.Hour)
	st.Boats = append(st.Boats, Boat{"b", sailor(t, plainBoat{speedMS: 7, gain: func(tws float64) float64 { return 0.02 * (tws - 6) }}, strategy.Options{})})
	bytesOf := func(rs []Record) string {
		b, err := json.Marshal(summaryOf(st, rs))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	want := bytesOf(runAll(t, st, RunOptions{Workers: 1}))
	if got := bytesOf(runAll(t, st, RunOptions{Workers: 5})); got != want {
		t.Error("five workers give other bytes than one")
	}
	dir := t.TempDir()
	var paths []string
	for k := 1; k <= 3; k++ {
		p := fmt.Sprintf("%s/%d", dir, k)
		runAll(t, st, RunOptions{Part: Part{k, 3}, Journal: p})
		paths = append(paths, p)
	}
	rs, _, err := MergeRuns[Record]([]string{paths[2], paths[0], paths[1]}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := bytesOf(rs); got != want {
		t.Error("three merged parts give other bytes than one run")
	}
}
