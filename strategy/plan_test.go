package strategy

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
	"foilledger/weather"
)

func newFakeProblem(t testing.TB, rakes int, limit float64, wx weather.Source, legs int, stageNM float64, dLon, dLat float64) *Problem {
	t.Helper()
	sl, err := NewSailor(context.Background(), newFakeBoat(rakes, limit), fakeHandling(), wx, Options{StageM: stageNM * units.MPerNM})
	if err != nil {
		t.Fatal(err)
	}
	pts := []orb.Point{{-30, 40}}
	for range legs {
		p := pts[len(pts)-1]
		pts = append(pts, orb.Point{p[0] + dLon, p[1] + dLat})
		dLat = -dLat
	}
	return sl.NewProblem(mustTrack(pts...), 3600)
}

// exhaustive sails every schedule and returns the best arrival.
func exhaustive(t *testing.T, p *Problem) (float64, Schedule) {
	t.Helper()
	all := p.states.All()
	n := p.Stages()
	best, at := math.Inf(1), Schedule(nil)
	sch := make(Schedule, n)
	var rec func(k int)
	rec = func(k int) {
		if k == n {
			v, err := p.Sail(sch, false, nil)
			if err != nil {
				t.Fatal(err)
			}
			if v.Status == Found && v.ArriveS < best {
				best, at = v.ArriveS, append(Schedule(nil), sch...)
			}
			return
		}
		for _, s := range all {
			sch[k] = s
			rec(k + 1)
		}
	}
	rec(0)
	return best, at
}

func TestPlanEqualsExhaustive(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	changed, worst := 0, 0.0
	const cases = 60
	for range cases {
		wx := fakeWind{mean: 6 + 8*r.Float64(), swing: 5 * r.Float64(), fromDeg: 360 * r.Float64(), turnDeg: 60 * r.Float64(),
			periodH: 6 + 20*r.Float64(), phase: 6 * r.Float64(), hs: 2 * r.Float64()}
		limit := 0.0
		if r.IntN(3) == 0 {
			limit = wx.mean + wx.swing*0.5
		}
		// 3 settings a side: 9 states, 4 stages: 6561 schedules.
		p := newFakeProblem(t, 2, limit, wx, 2, 30, 1.2*(r.Float64()-0.5)*2+0.1, 0.4)
		if p.Stages() > 4 {
			p.course.legs = p.course.legs[:4]
		}
		want, sch := exhaustive(t, p)
		v, err := p.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		d := v.ArriveS - want
		worst = math.Max(worst, math.Abs(d))
		if !(math.Abs(d) <= 1e-6) {
			t.Errorf("plan arrives %.6f s after the exhaustive optimum %v (plan %v), wind %+v", d, sch, v.Schedule, wx)
		}
		if v.Schedule[len(v.Schedule)-1].Out() {
			changed++
		}
	}
	if changed < cases/4 {
		t.Errorf("foils went out in only %d of %d cases: the test shows too little", changed, cases)
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "plan-exhaustive", Quantity: "greatest difference in arrival between the plan and exhaustive enumeration, 60 random cases of up to 6561 schedules",
		Got: worst, Want: 0, Tol: 1e-6, Unit: "s", Source: "exhaustive enumeration with the same simulator", Kind: validation.Independent})
}

// A gybe on the way: setting the windward foil before it, while it is
// unloaded, beats slowing down after it.
func TestPresettingBeforeGybe(t *testing.T) {
	wx := fakeWind{mean: 11, fromDeg: 0, periodH: 24}
	sl, err := NewSailor(context.Background(), newFakeBoat(2, 0), fakeHandling(), wx, Options{StageM: 30 * units.MPerNM})
	if err != nil {
		t.Fatal(err)
	}
	// East-south-east, then west-south-west: wind from the north, port side
	// first and starboard side after.
	p := sl.NewProblem(mustTrack(orb.Point{-30, 40}, orb.Point{-28.9, 39.5}, orb.Point{-30, 39}), 0)
	v, err := p.Best(context.Background(), nil, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	want, sch := exhaustive(t, p)
	if !(math.Abs(v.ArriveS-want) <= 1e-6) {
		t.Errorf("plan %v arrives %.3f s after the optimum %v", v.Schedule, v.ArriveS-want, sch)
	}
	if v.Stages[p.Stages()-1].Boards+v.Stages[p.Stages()/2].Boards == 0 {
		t.Fatal("no gybe on this track: the test shows nothing")
	}
	// The foils swap at the gybe, while each is the windward one: no slow-down.
	// The same swap a stage later, with the new leeward foil loaded, costs one.
	half := p.Stages() / 2
	if v.Schedule[half].Port == 0 || v.Schedule[half-1].Starboard == 0 {
		t.Fatalf("schedule %v: want the starboard foil out before and the port foil after the gybe at stage %d", v.Schedule, half)
	}
	price := v.Stages[half].Change
	for _, q := range price.Parts() {
		if !math.IsInf(q.CeilingMS, 1) {
			t.Errorf("%v of the %v foil at the gybe has a ceiling of %.1f m/s; it can be done unloaded", q.Kind, q.Side, q.CeilingMS)
		}
	}
	late := append(Schedule(nil), v.Schedule...)
	late[half] = v.Schedule[half-1]
	w, err := p.Sail(late, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	if after := w.Stages[half+1].Change; !(after.LostS > price.LostS) || !(after.SlowMS < units.MS(10.1)) {
		t.Errorf("swapping after the gybe loses %.0f s at a slowest %.1f m/s, at the gybe %.0f s: want a slow-down that costs more", after.LostS, after.SlowMS, price.LostS)
	}
}

func TestThin(t *testing.T) {
	wx := fakeWind{mean: 11, swing: 5, fromDeg: 20, turnDeg: 60, periodH: 9}
	p := newFakeProblem(t, 3, 0, wx, 6, 10, 1, 0.4)
	v, err := p.Best(context.Background(), nil, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	last := v
	for _, least := range []float64{0, 60, 300, 1e9} {
		w, err := p.Thin(context.Background(), v, least)
		if err != nil {
			t.Fatal(err)
		}
		a, b := len(last.changes(p.Start)), len(w.changes(p.Start))
		if b > a || w.ArriveS < last.ArriveS-1e-6 {
			t.Errorf("least gain %v s: %d changes after %d, arrival %.1f after %.1f", least, b, a, w.ArriveS, last.ArriveS)
		}
		last = w
	}
	if n := len(v.changes(p.Start)); n < 3 || len(last.changes(p.Start)) != 0 {
		t.Errorf("%d changes at first and %d at last: want several and none", n, len(last.changes(p.Start)))
	}
}

// The bound is never later than the plan, and the plan never later than any
// schedule.
func TestBoundAndBaselines(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	worst := math.Inf(-1)
	for range 20 {
		wx := fakeWind{mean: 6 + 8*r.Float64(), swing: 5 * r.Float64(), fromDeg: 360 * r.Float64(), turnDeg: 60 * r.Float64(), periodH: 6 + 20*r.Float64()}
		p := newFakeProblem(t, 3, 0, wx, 4, 10, 1, 0.4)
		v, err := p.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		b, err := p.Best(context.Background(), nil, true, nil)
		if err != nil {
			t.Fatal(err)
		}
		never, err := p.Best(context.Background(), FoilsIn, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		worst = math.Max(worst, math.Max(b.ArriveS-v.ArriveS, v.ArriveS-never.ArriveS))
		if b.ArriveS > v.ArriveS+1e-6 || v.ArriveS > never.ArriveS+1e-6 {
			t.Errorf("bound %.1f, plan %.1f, foils in %.1f: out of order", b.ArriveS, v.ArriveS, never.ArriveS)
		}
		again, lg, err := p.Record(v.Schedule)
		if err != nil {
			t.Fatal(err)
		}
		if again.ArriveS != v.ArriveS {
			t.Errorf("the recorded voyage arrives at %v, the plan at %v", again.ArriveS, v.ArriveS)
		}
		end := lg.Entries[len(lg.Entries)-1]
		if !(math.Abs(end.EndS-v.ArriveS) <= 1e-6) || !(math.Abs(end.StartM+end.LengthM-p.TotalM()) <= 1e-3) {
			t.Errorf("the log ends at %.1f s and %.1f m, the voyage at %.1f s and %.1f m", end.EndS, end.StartM+end.LengthM, v.ArriveS, p.TotalM())
		}
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "bound-order", Quantity: "greatest amount by which bound, plan and foils-in baseline are out of order, 20 random passages",
		Got: math.Max(worst, 0), Want: 0, Tol: 1e-6, Unit: "s", Source: "each search allows what the next does and more", Kind: validation.Analytic})
}

func TestLedgerSumsToTotal(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 19))
	worst := 0.0
	for range 40 {
		wx := fakeWind{mean: 5 + 9*r.Float64(), swing: 5 * r.Float64(), fromDeg: 360 * r.Float64(), turnDeg: 60 * r.Float64(),
			periodH: 6 + 20*r.Float64(), curU: r.Float64() - 0.5, curV: r.Float64() - 0.5}
		p := newFakeProblem(t, 3, 12*float64(r.IntN(2)), wx, 4, 10, 1, 0.4)
		v, err := p.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		never, err := p.Best(context.Background(), FoilsIn, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		lg, err := p.NewLedger(v, p, never)
		if err != nil {
			t.Fatal(err)
		}
		d := math.Abs(lg.TotalS - (never.TimeS() - v.TimeS()))
		worst = math.Max(worst, d)
		phases, changing := 0.0, 0.0
		for _, ph := range lg.Phases {
			phases += ph.SlowingS + ph.WorkingS + ph.RegainS + ph.WaitingS
		}
		for _, it := range lg.Items {
			if strings.HasPrefix(it.Cause, causeSlowdown) {
				changing += it.GainS
			}
		}
		if !(math.Abs(phases-changing) <= 1e-6) {
			t.Errorf("phases of the changes sum to %v s, the changes to %v s", phases, changing)
		}
		if last := lg.Running[len(lg.Running)-1]; !(math.Abs(last-lg.TotalS) <= 1e-6) {
			t.Errorf("running total ends at %v, the ledger at %v", last, lg.TotalS)
		}
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "ledger-identity", Quantity: "greatest difference between the ledger's sum and the difference of passage times, 40 random passages",
		Got: worst, Want: 0, Tol: 1e-6, Unit: "s", Source: "identity", Kind: validation.Analytic})
}

// A later start never arrives earlier, although every change of wind is met on
// the way (references: Kaufman & Smith, IVHS J. 1(1), 1993).
func TestNoOvertaking(t *testing.T) {
	r := rand.New(rand.NewPCG(23, 29))
	for range 30 {
		wx := fakeWind{mean: 4 + 9*r.Float64(), swing: 6 * r.Float64(), fromDeg: 360 * r.Float64(), turnDeg: 90 * r.Float64(), periodH: 3 + 10*r.Float64()}
		p := newFakeProblem(t, 1, 9, wx, 2, 40, 1.5, 0.4)
		st := State{Port: uint8(r.IntN(2)), Starboard: uint8(r.IntN(2))}
		last := 0.0
		for d := 0.0; d < 48*3600; d += 300 {
			run, err := p.sail(&p.course.legs[0], p.states.Index(st), d, 0, nil)
			if err != nil {
				t.Fatal(err)
			}
			if !run.feasible {
				continue
			}
			if run.arriveS < last-1e-6 {
				t.Fatalf("leaving at %.0f s arrives %.1f s before a boat that left earlier (wind %+v)", d, last-run.arriveS, wx)
			}
			last = run.arriveS
		}
	}
}

// Nor does one that changes her foils at the start, whatever the price of the
// change is as the wind shifts: she may wait for it to fall.
func TestNoOvertakingInChanges(t *testing.T) {
	r := rand.New(rand.NewPCG(137, 139))
	waits := 0
	for range 25 {
		wx := fakeWind{mean: 4 + 9*r.Float64(), swing: 6 * r.Float64(), fromDeg: 360 * r.Float64(), turnDeg: 120 * r.Float64(), periodH: 3 + 10*r.Float64()}
		p := newFakeProblem(t, 2, 9*float64(r.IntN(2)), wx, 2, 40, 1.5, 0.4)
		n := p.Stages() / 2 // with a tack or gybe on entering it, at times
		s0, s1 := r.IntN(len(p.states.all)), r.IntN(len(p.states.all))
		last := math.Inf(-1)
		for d := 0.0; d < 24*3600; d += 150 {
			st, err := p.sailStage(n, s0, s1, d, false, nil)
			if err != nil {
				t.Fatal(err)
			}
			if math.IsInf(st.ArriveS, 1) {
				continue
			}
			if st.Change.WaitS > 0 {
				waits++
			}
			if st.ArriveS < last-1e-6 {
				t.Errorf("changing from %v to %v at %.0f s arrives %.3f s before a boat that did so earlier (wind %+v)", p.states.all[s0], p.states.all[s1], d, last-st.ArriveS, wx)
				break
			}
			last = math.Max(last, st.ArriveS)
		}
	}
	if waits == 0 {
		t.Errorf("no change waited: the test shows too little")
	}
}

// The published trap for speeds frozen at departure: a leg of 10 units at
// speed 1 before time 5 and 5 after. Leaving at 4 arrives at 6.8, leaving at 5
// at 7.0.
func TestFrozenSpeedTrap(t *testing.T) {
	at := func(depart float64) float64 {
		x, tm := 0.0, depart
		const h = 1e-4
		for x < 10 {
			v := 5.0
			if tm < 5 {
				v = 1
			}
			x += v * h
			tm += h
		}
		return tm
	}
	if a, b := at(4), at(5); !(math.Abs(a-6.8) <= 1e-3 && math.Abs(b-7) <= 1e-3) {
		t.Fatalf("the trap itself: %v, %v", a, b)
	}
	// The same with the simulator: wind that jumps from 2 to 10 m/s after 5 h.
	wx := jump{at: 5 * 3600, before: 2, after: 10}
	sl, err := NewSailor(context.Background(), newFakeBoat(1, 0), fakeHandling(), wx, Options{StageM: 60 * units.MPerNM})
	if err != nil {
		t.Fatal(err)
	}
	p := sl.NewProblem(mustTrack(orb.Point{0, 0}, orb.Point{1, 0}), 0)
	early, _ := p.sail(&p.course.legs[0], 0, 4*3600, 0, nil)
	late, _ := p.sail(&p.course.legs[0], 0, 5*3600, 0, nil)
	if early.arriveS > late.arriveS {
		t.Errorf("the boat that left at 4 h arrives %.0f s after the one that left at 5 h", early.arriveS-late.arriveS)
	}
	v0, _ := newFakeBoat(1, 0).Speed(0, 0, seaState{twsMS: 2}.condition(math.Pi/2, 0))
	if frozen := p.TotalM() / v0; early.arriveS-4*3600 > 0.5*frozen {
		t.Errorf("the boat that left at 4 h takes %.0f s, as if its speed at departure had lasted (%.0f s)", early.arriveS-4*3600, frozen)
	}
}

type jump struct{ at, before, after float64 }

func (j jump) At(_, _, t float64) (weather.Sample, error) {
	v := j.after
	if t < j.at {
		v = j.before
	}
	return weather.Sample{V: -v}, nil
}
func (j jump) Reference() time.Time      { return fakeReference }
func (j jump) SpanS() (float64, float64) { return 0, math.Inf(1) }

func TestForecastEndNamesThePlace(t *testing.T) {
	wx := fakeWind{mean: 8, fromDeg: 0, periodH: 24, endS: 12 * 3600}
	p := newFakeProblem(t, 1, 0, wx, 6, 10, 1, 0.4)
	_, err := p.Best(context.Background(), nil, false, nil)
	var pe *PassageError
	var ce *weather.CoverageError
	if !errors.As(err, &pe) || !errors.As(err, &ce) || ce.Kind != weather.AfterLast || !(pe.DistanceNM > 20) {
		t.Errorf("error %v, want a *PassageError far along the track around an AfterLast coverage error", err)
	}
}

func TestCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	p := newFakeProblem(t, 1, 0, fakeWind{mean: 8, periodH: 24}, 3, 10, 1, 0.4)
	if v, err := p.Best(ctx, nil, false, nil); !errors.Is(err, context.Canceled) || v.Status != Canceled {
		t.Errorf("cancelled plan: %v, %v", v.Status, err)
	}
}
