package strategy

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"foilledger/testdata/validation"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

func TestKrendelPower(t *testing.T) {
	for _, c := range []struct {
		id        string
		minutes   float64
		want, tol float64
		unit      string
		source    string
	}{
		{"krendel-4h", 240, 0.125 * wattsPerHP, 5, "W", "E. S. Krendel, The mechanical power output of men, 1958: 1/8 hp over four hours"},
		{"krendel-12min", 12, 0.25 * wattsPerHP, 5, "W", "E. S. Krendel, The mechanical power output of men, 1958: 1/4 hp for about 12 minutes"},
	} {
		got := KrendelPowerW(time.Duration(c.minutes * float64(time.Minute)))
		validation.Check(t, validation.Row{Package: "strategy", ID: c.id, Quantity: "power sustained by a labourer", Got: got, Want: c.want, Tol: c.tol, Unit: c.unit, Source: c.source, Kind: validation.Published})
	}
}

// Meeus, Astronomical Algorithms, example 25.a: the sun on 1992 October 13,
// 0 h TD.
func TestSunPosition(t *testing.T) {
	d := time.Date(1992, 10, 13, 0, 0, 0, 0, time.UTC).Sub(time.Date(2000, 1, 1, 12, 0, 0, 0, time.UTC)).Hours() / 24
	ra, dec := sunPosition(d)
	const src = "J. Meeus, Astronomical Algorithms, 2nd ed., example 25.a (from memory)"
	validation.Check(t, validation.Row{Package: "strategy", ID: "sun-ra", Quantity: "right ascension of the sun", Got: units.Deg(units.Wrap2Pi(ra)), Want: 198.38083, Tol: 0.02, Unit: "°", Source: src, Kind: validation.Published})
	validation.Check(t, validation.Row{Package: "strategy", ID: "sun-dec", Quantity: "declination of the sun", Got: units.Deg(dec), Want: -7.78507, Tol: 0.02, Unit: "°", Source: src, Kind: validation.Published})
	noon := time.Date(2026, 3, 20, 12, 7, 30, 0, time.UTC)
	if !(sunAltitude(orb.Point{0, 0}, float64(noon.Unix())) > units.Rad(89)) || !dark(orb.Point{180, 0}, noon, 0) {
		t.Errorf("at the equinox's noon the sun stands at %.2f° on the equator", units.Deg(sunAltitude(orb.Point{0, 0}, float64(noon.Unix()))))
	}
}

// squareBoat sails at 8 m/s with the foils in and g faster or slower with the
// leeward foil out, as the wind is strong or light.
type squareBoat struct {
	*fakeBoat
	g float64
}

func (b squareBoat) Speed(l, w int, c vpp.Condition) (float64, bool) {
	switch {
	case l == 0:
		return 8, true
	case c.TWSMS > 10:
		return 8 + b.g, true
	}
	return 8 - b.g, true
}
func (b squareBoat) Accel(l, w int, p vpp.Power, c vpp.Condition, v float64) float64 {
	eq, _ := b.Speed(l, w, c)
	return 0.05 * (eq*float64(p)/2 - v)
}
func (b squareBoat) At(l, w int, c vpp.Condition) vpp.Steady {
	v, ok := b.Speed(l, w, c)
	return vpp.Steady{BSPMS: v, OK: ok}
}
func (b squareBoat) Grid() vpp.Grid {
	return vpp.Grid{TWSMS: []float64{0, 9.9, 10.1, 24}, TWARad: []float64{0, math.Pi}, HsM: []float64{0, 2}}
}

type squareWind struct{ halfS float64 }

func (s squareWind) At(_, _, t float64) (weather.Sample, error) {
	v := 6.0
	if int(math.Floor(t/s.halfS))%2 == 0 {
		v = 14
	}
	return weather.Sample{V: -v}, nil
}
func (s squareWind) Reference() time.Time      { return fakeReference }
func (s squareWind) SpanS() (float64, float64) { return 0, math.Inf(1) }

// Between two modes whose rates differ by ±G in turn for a span P each,
// following pays from G·P > 2K on.
func TestSquareWave(t *testing.T) {
	boat := squareBoat{newFakeBoat(1, 0), 1}
	opt := Options{StageM: 300, pieceM: 300, intervalS: 30}
	sl, err := NewSailor(context.Background(), boat, fakeHandling(), squareWind{1e9}, opt)
	if err != nil {
		t.Fatal(err)
	}
	// The distance that the two changes of a cycle lose against being in the
	// better state all the while; each can be made on either side of the jump.
	k := 0.0
	for _, c := range [2][2]uint8{{0, 1}, {1, 0}} {
		strong, light := sl.BreakEven(c[0], c[1], 14, math.Pi/2, 0), sl.BreakEven(c[0], c[1], 6, math.Pi/2, 0)
		k += math.Min((8+boat.g)*strong.Price.TimeS-strong.Price.DistanceM, 8*light.Price.TimeS-light.Price.DistanceM)
	}
	even := k / boat.g
	threshold := math.NaN()
	for _, ratio := range []float64{0.7, 0.8, 0.85, 0.9, 0.95, 1, 1.05, 1.1, 1.2, 1.3, 1.5} {
		half := math.Round(even*ratio/30) * 30
		s := sl.In(squareWind{half})
		// Two full cycles at the speed with the foils in.
		tr := mustTrack(orb.Point{0, 0}, orb.Point{4 * half * 8 / 111319.49, 0})
		v, err := s.NewProblem(tr, 0).Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(v.changes(State{})); n > 0 {
			threshold = half / even
			break
		}
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "square-wave", Quantity: "half-period of a square wave of speed difference ±G from which the plan follows it, over 2K/G",
		Got: threshold, Want: 1, Tol: 0.12, Source: "exact for the deterministic square wave: following gains G·P per cycle and pays 2K", Kind: validation.Analytic})
}

func TestPolicies(t *testing.T) {
	r := rand.New(rand.NewPCG(53, 59))
	changes := 0
	for range 10 {
		wx := randomWind(r)
		p := newFakeProblem(t, 2, 14, wx, 4, 10, 1, 0.4)
		best, err := p.Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		never, err := p.Best(context.Background(), FoilsIn, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, pol := range []Policy{NeverOut{}, AlwaysOut{1}, &Threshold{Setting: 1, OutTWSMS: 8, InTWSMS: 7, MinTWARad: units.Rad(60), MaxTWARad: units.Rad(140), MarginRad: units.Rad(10), DwellS: 5400}} {
			v, err := p.Follow(context.Background(), pol)
			if err != nil {
				t.Fatal(err)
			}
			if v.Status != Found {
				continue
			}
			if v.ArriveS < best.ArriveS-1e-6 {
				t.Errorf("%s arrives %.1f s before the optimum", pol.Name(), best.ArriveS-v.ArriveS)
			}
			if _, ok := pol.(NeverOut); ok && math.Abs(v.ArriveS-never.ArriveS) > 1e-6 {
				t.Errorf("never out arrives at %v, the baseline at %v", v.ArriveS, never.ArriveS)
			}
			if h, ok := pol.(*Threshold); ok {
				last := math.Inf(-1)
				for i, k := range v.changes(p.Start) {
					at := v.Stages[k].DepartS
					if i > 0 && at-last < h.DwellS-1e-6 && v.Schedule[k].Out() {
						t.Errorf("thresholds change again after %.0f s", at-last)
					}
					last = at + v.Stages[k].Change.TimeS
					changes++
				}
			}
		}
	}
	if changes < 10 {
		t.Errorf("only %d changes by thresholds: the test shows too little", changes)
	}
}

// spy records the times at which the weather is asked for.
type spy struct {
	weather.Source
	latest *float64
}

func (s spy) At(lon, lat, t float64) (weather.Sample, error) {
	*s.latest = math.Max(*s.latest, t)
	return s.Source.At(lon, lat, t)
}

type looker struct {
	NeverOut
	latest *float64
	worst  float64
}

func (l *looker) Decide(v *View) State {
	l.worst = math.Max(l.worst, *l.latest-v.TimeS)
	return State{}
}

// Until a policy decides, nothing beyond the present interval of the weather
// was looked at.
func TestPolicySeesNothingAhead(t *testing.T) {
	latest := math.Inf(-1)
	p := newFakeProblem(t, 1, 0, spy{fakeWind{mean: 9, swing: 3, periodH: 12}, &latest}, 4, 10, 1, 0.4)
	l := &looker{latest: &latest}
	if _, err := p.Follow(context.Background(), l); err != nil {
		t.Fatal(err)
	}
	if !(l.worst <= binS) {
		t.Errorf("the weather was looked at %.0f s ahead of a decision", l.worst)
	}
}

func TestReadHandSchedule(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"good", "distance_nm,side,extension,rake_deg\n12,port,1,2.5\n", ""},
		{"unknown column", "distance_nm,side,extension,rake\n", "h.csv:1: column rake: unknown column"},
		{"no side", "distance_nm,extension\n", "h.csv:1: column side: missing"},
		{"side", "distance_nm,side,extension,rake_deg\n12,left,1,2.5\n", "h.csv:2: column side: \"left\""},
		{"number", "distance_nm,side,extension,rake_deg\n12,port,1,2.5\nx,port,1,2\n", "h.csv:3: column distance_nm: \"x\" is not a number"},
		{"NaN", "distance_nm,side,extension,rake_deg\nNaN,port,1,2.5\n", "h.csv:2: column distance_nm"},
		{"range", "distance_nm,side,extension,rake_deg\n1,port,1.5,2.5\n", "h.csv:2: column extension: 1.5: must be from 0 to 1"},
		{"time", "time_utc,side,extension,rake_deg\nnoon,port,1,2\n", "h.csv:2: column time_utc"},
		{"two ways", "time_utc,distance_nm,side,extension,rake_deg\n2026-01-01T00:00:00Z,3,port,1,2\n", "h.csv:2: give one of"},
		{"rake", "distance_nm,side,extension\n1,port,1\n", "h.csv:2: column rake_deg: missing"},
		{"fields", "distance_nm,side,extension,rake_deg\n1,port\n", "h.csv:2: "},
		{"empty", "", "h.csv:1: no header row"},
	} {
		_, err := ReadHandSchedule(strings.NewReader(c.in), "h.csv")
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: error %v, want %q", c.name, err, c.want)
		}
	}
}

func TestByHand(t *testing.T) {
	p := newFakeProblem(t, 2, 14, fakeWind{mean: 11, fromDeg: 0, periodH: 24}, 2, 10, 2, 0)
	acts, err := ReadHandSchedule(strings.NewReader("time_utc,distance_nm,lat_deg,lon_deg,side,extension,rake_deg,slow_down\n"+
		",14.2,,,starboard,1,2.5,\n2026-01-01T05:00:00Z,,,,starboard,1,0,\n,,40.02,-27,starboard,0,,\n"), "h.csv")
	if err != nil {
		t.Fatal(err)
	}
	q, v, lg, err := p.ByHand(acts)
	if err != nil {
		t.Fatal(err)
	}
	if len(lg.Changes) != 3 || v.Status != Found {
		t.Fatalf("%d changes, want 3", len(lg.Changes))
	}
	if d := lg.Changes[0].DistanceM / units.MPerNM; !(math.Abs(d-14.2) <= 0.01) {
		t.Errorf("first change at %.3f nm, want 14.2", d)
	}
	if d := lg.Changes[1].TimeS - 5*3600; !(math.Abs(d) <= 30) {
		t.Errorf("second change %.1f s off the time asked for", d)
	}
	best, err := q.Best(context.Background(), nil, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	if v.ArriveS < best.ArriveS-1e-6 {
		t.Errorf("by hand arrives %.1f s before the optimum of the same stages", best.ArriveS-v.ArriveS)
	}
	for _, c := range []struct{ name, row, want string }{
		{"speed", "14,starboard,1,0,no", "ceiling of 10.0 kn"},
		{"no setting", "14,starboard,0.5,0,yes", "no setting"},
		{"end", "5000,starboard,1,0,yes", "beyond the end"},
	} {
		acts, err := ReadHandSchedule(strings.NewReader("distance_nm,side,extension,rake_deg,slow_down\n"+c.row+"\n"), "h.csv")
		if err != nil {
			t.Fatal(err)
		}
		_, _, _, err = p.ByHand(acts)
		var re *RefusedError
		if !errors.As(err, &re) || re.Line != 2 || !strings.Contains(re.Reason, c.want) {
			t.Errorf("%s: %v, want a refusal of line 2 with %q", c.name, err, c.want)
		}
	}
	windy := newFakeProblem(t, 2, 11.5, fakeWind{mean: 11, swing: 2, fromDeg: 0, periodH: 8, phase: 6}, 2, 10, 2, 0)
	refused := false
	for nm := 10; nm < 100; nm += 10 {
		acts, _ = ReadHandSchedule(strings.NewReader(fmt.Sprintf("distance_nm,side,extension,rake_deg\n%d,starboard,1,0\n%d,starboard,0,0\n", nm, nm+40)), "h.csv")
		if _, _, _, err := windy.ByHand(acts); err != nil {
			refused = refused || strings.Contains(err.Error(), "forbids the setting")
		}
	}
	if !refused {
		t.Errorf("no action was refused above the wind limit")
	}
}

func TestBreakEvenMap(t *testing.T) {
	p := newFakeProblem(t, 3, 0, fakeWind{mean: 9, periodH: 12}, 1, 10, 1, 0)
	acts := p.LeewardActions()
	count := map[Kind]int{}
	for _, a := range acts {
		count[a.Kind]++
	}
	if count[Deploy] != 1 || count[Retract] != 3 || count[AddRake] != 2 || count[TakeOffRake] != 2 {
		t.Errorf("actions %v", count)
	}
	// A foil that goes out by steps: every kind of action, on both foils.
	stepped, err := NewSailor(context.Background(), newSteppedBoat(), fakeHandling(), fakeWind{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	type of struct {
		kind     Kind
		windward bool
	}
	both := map[of]int{}
	for _, a := range stepped.Actions() {
		both[of{a.Kind, a.Windward}]++
		from, to := stepped.States().Setting(a.From), stepped.States().Setting(a.To)
		b := stepped.BreakEvenOf(a, 9, units.Rad(100), 1)
		if n := len(b.Price.Parts()); n != 1 || b.Price.Parts()[0].Kind != a.Kind || (b.Price.Parts()[0].Side == Starboard) != a.Windward {
			t.Errorf("%v of the %s foil from %v to %v has the parts %v", a.Kind, a.foil(), from, to, b.Price.Parts())
		}
		if a.Windward && (b.OldMS != b.NewMS) != (from.Extension != to.Extension && (from.Extension == 0 || to.Extension == 0)) {
			t.Errorf("%v of the windward foil changes the speed from %v to %v", a.Kind, b.OldMS, b.NewMS)
		}
	}
	for _, windward := range []bool{false, true} {
		for kind, want := range map[Kind]int{Deploy: 3, Retract: 18, Extend: 12, Shorten: 12, AddRake: 15, TakeOffRake: 15} {
			if got := both[of{kind, windward}]; got != want {
				t.Errorf("%d actions %v, windward %v; want %d", got, kind, windward, want)
			}
		}
	}
	tws, twa := []float64{5, 8, 11}, []float64{units.Rad(60), units.Rad(100)}
	m := p.BreakEvenMap(acts[0], tws, twa, nil)
	for j, row := range m.Minutes() {
		for i, even := range row {
			e := m.Cells[j][i]
			// Sailing on in the old state for the break-even time covers as much
			// as changing and sailing the rest of it in the new one.
			if !math.IsInf(even, 1) {
				old := e.OldMS * even * 60
				now := e.Price.DistanceM + e.NewMS*(even*60-e.Price.TimeS)
				if !(math.Abs(old-now) <= 1e-6*old+1e-6) {
					t.Errorf("break-even of %.1f min: %.1f m against %.1f m", even, old, now)
				}
			} else if e.NewMS > e.OldMS {
				t.Errorf("no break-even although the new state is faster")
			}
		}
	}
	var b strings.Builder
	if err := m.WriteCSV(&b, p.States()); err != nil || strings.Count(b.String(), "\n") != 6 {
		t.Errorf("CSV %q, %v", b.String(), err)
	}
}

// Sailing high or low is chosen where it is cheaper, and every way is priced.
func TestSlowDownWays(t *testing.T) {
	p := newFakeProblem(t, 2, 0, fakeWind{mean: 9, periodH: 12}, 1, 10, 1, 0)
	seen := map[SlowWay]int{}
	for tws := 6.0; tws <= 18; tws++ {
		for deg := 50.0; deg <= 150; deg += 10 {
			sc := p.prices.scene(vpp.Condition{TWSMS: tws, TWARad: units.Rad(deg)}, true)
			for _, to := range []State{{Port: 1}, {Port: 2}} {
				var pr Price
				sc.change(&pr, State{}, to, false)
				seen[pr.Slow.Way]++
				f0, f1 := sc.flat(sc.role(State{})), sc.flat(sc.role(to))
				if v := f0.steady(); v > units.MS(10) {
					te, de := f0.slowDown(profEasedTime, profEasedDist, v, units.MS(10))
					tl, dl := f0.slowDown(profLooseTime, profLooseDist, v, units.MS(10))
					slow := pr.parts[0].SlowingS + pr.parts[0].WorkingS
					worst := math.Min(te-de/f1.steady(), tl-dl/f1.steady()) + pr.parts[0].WorkS*(1-units.MS(10)/f1.steady())
					if slow > worst+1e-6 {
						t.Errorf("tws %v twa %v: %v costs %.2f s, easing or letting go %.2f s", tws, deg, pr.Slow.Describe(), slow, worst)
					}
				}
				if lb := sc.leastLost(State{}, to, false); lb > pr.LostS+1e-6 {
					t.Errorf("lower bound %.2f s above the price %.2f s", lb, pr.LostS)
				}
			}
		}
	}
	if seen[NoSlowing] == 0 || seen[LetGoSails]+seen[EaseSails] == 0 {
		t.Errorf("ways chosen: %v", seen)
	}
	t.Logf("ways chosen: %v", seen)
}

func TestNightCosts(t *testing.T) {
	p := newFakeProblem(t, 2, 0, fakeWind{mean: 11, swing: 5, fromDeg: 20, turnDeg: 60, periodH: 9}, 4, 10, 1, 0.4)
	day, err := p.Best(context.Background(), nil, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	sl := *p.Sailor
	sl.opt.NightFactor = 2
	night, err := sl.newProblem(p.track, p.DepartS, nil).Best(context.Background(), nil, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	dark := 0
	for _, s := range night.Stages {
		if s.Change.Night {
			dark++
		}
	}
	if night.ArriveS < day.ArriveS-1e-6 || (dark > 0) != (night.ArriveS > day.ArriveS) {
		t.Errorf("twice the time in the dark: %.1f s later with %d changes at night", night.ArriveS-day.ArriveS, dark)
	}
}

func TestDiscretisation(t *testing.T) {
	wx := fakeWind{mean: 11, swing: 4, fromDeg: 20, turnDeg: 40, periodH: 18}
	sl, err := NewSailor(context.Background(), newSteppedBoat(), fakeHandling(), wx, Options{StageM: 20 * units.MPerNM})
	if err != nil {
		t.Fatal(err)
	}
	p := sl.NewProblem(mustTrack(orb.Point{-30, 40}, orb.Point{-28, 40.4}, orb.Point{-26, 40}), 3600)
	v, err := p.Best(context.Background(), nil, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	fine := newSteppedBoat()
	fine.settings = append(fine.settings, vpp.FoilSetting{Extension: 1, RakeRad: units.Rad(2.5)})
	finer, err := NewSailor(context.Background(), fine, fakeHandling(), p.wx, p.opt)
	if err != nil {
		t.Fatal(err)
	}
	rs, err := p.Discretisation(context.Background(), v, finer)
	if err != nil {
		t.Fatal(err)
	}
	states := map[string]int{"every other rake only": 100, "every other extension only": 169, "finer grid of extensions and rakes": 400}
	if len(rs) != 5 {
		t.Errorf("%d refinements, want 5", len(rs))
	}
	for _, r := range rs {
		t.Logf("%s: %+.2f min of %.0f min", r.What, r.ChangeMin(), v.TimeS()/60)
		if !(math.Abs(r.ChangeS) <= 0.02*v.TimeS()) {
			t.Errorf("%s changes the arrival by %.1f s of %.0f s", r.What, r.ChangeS, v.TimeS())
		}
		if n, ok := states[r.What]; ok && n != r.States {
			t.Errorf("%s: %d states, want %d", r.What, r.States, n)
		}
		if r.Coarser && r.ChangeS < 0 || strings.HasPrefix(r.What, "finer") && r.ChangeS > 0 {
			t.Errorf("%s arrives %.3f s later: the wrong way round", r.What, r.ChangeS)
		}
	}
	if !(rs[2].ChangeS > 0) {
		t.Errorf("half the rakes cost nothing: the test shows nothing")
	}
}
