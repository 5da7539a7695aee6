package strategy

import (
	"bytes"
	"context"
	"math"
	"sync"
	"testing"

	"github.com/paulmach/orb"

	"foilledger/testdata"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// exampleBoats are the example boats with speed tables on a coarse grid; the
// big foils with fewer steps.
var exampleBoats = sync.OnceValues(func() (map[string]*vpp.Table, error) {
	out := map[string]*vpp.Table{}
	for _, name := range []string{"small.toml", "big.toml"} {
		b, err := testdata.Files.ReadFile("boats/" + name)
		if err != nil {
			return nil, err
		}
		b = bytes.ReplaceAll(b, []byte("extension_steps = [0.5, 0.75, 1.0]"), []byte("extension_steps = [1.0]"))
		b = bytes.ReplaceAll(b, []byte("rake_grid_deg = [0, 1, 2, 3, 4, 5]"), []byte("rake_grid_deg = [0, 3]"))
		boat, err := vpp.LoadBoat(b, name)
		if err != nil {
			return nil, err
		}
		m, err := vpp.NewModel(boat, vpp.Factors{})
		if err != nil {
			return nil, err
		}
		g := vpp.Grid{HsM: []float64{0}}
		for _, kn := range []float64{10, 16, 22} {
			g.TWSMS = append(g.TWSMS, units.MS(kn))
		}
		for _, deg := range []float64{0, 60, 90, 110, 130, 150, 180} {
			g.TWARad = append(g.TWARad, units.Rad(deg))
		}
		for v := 1.0; v <= 37; v += 2 {
			g.VMS = append(g.VMS, units.MS(v))
		}
		if out[name], err = vpp.BuildTable(context.Background(), m, g, nil); err != nil {
			return nil, err
		}
	}
	return out, nil
})

// exampleSailor is an example boat in a wind, with its handling changed.
func exampleSailor(t *testing.T, name string, wx fakeWind, change func(*vpp.Handling)) *Sailor {
	t.Helper()
	tabs, err := exampleBoats()
	if err != nil {
		t.Fatal(err)
	}
	h := tabs[name].Boat().Handling
	if change != nil {
		change(&h)
	}
	sl, err := NewSailor(context.Background(), tabs[name], h, wx, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return sl
}

// Adding rake by hand: the work grows with the load on the foil, up to what a
// person can push; above that the boat slows down. The windward foil is almost
// free. The way to the pump and back is part of it.
func TestRakeOnExampleBoats(t *testing.T) {
	const lo, hi = 1, 2 // the settings out at rakes of 0 and 3°
	twa := units.Rad(110)
	add := Action{Kind: AddRake, From: lo, To: hi}
	for _, name := range []string{"small.toml", "big.toml"} {
		sl := exampleSailor(t, name, fakeWind{}, nil)
		h := sl.prices.h
		part := func(b BreakEven) Part {
			t.Helper()
			if n := len(b.Price.Parts()); n != 1 || b.Price.Parts()[0].Kind != AddRake {
				t.Fatalf("%s: %d parts, want one: add rake", name, n)
			}
			return b.Price.Parts()[0]
		}
		light, strong := sl.BreakEvenOf(add, units.MS(10), twa, 0), sl.BreakEvenOf(add, units.MS(22), twa, 0)
		unloaded := h.RakeWorkJPerRad * units.Rad(3)
		if l, s := part(light).EffortJ, part(strong).EffortJ; !(unloaded < l && l < s) {
			t.Errorf("%s: adding rake takes %.1f kJ unloaded, %.1f in 10 kn of wind and %.1f in 22 kn: want it to grow with the load", name, unloaded/1e3, l/1e3, s/1e3)
		}
		// No more load than a person can push at the speed at which it is done.
		load := func(sl *Sailor, b BreakEven) float64 {
			perV2 := 0.0
			sc := sl.prices.scene(vpp.Condition{TWSMS: b.TWSMS, TWARad: b.TWARad}, true)
			for _, s := range []State{{Port: lo}, {Port: hi}} {
				perV2 = math.Max(perV2, float64(sc.flat(sc.role(s))[profLoad]))
			}
			return perV2 * square(math.Min(part(b).CeilingMS, b.OldMS))
		}
		for _, b := range []BreakEven{light, strong} {
			if !(load(sl, b) <= h.MaxPumpLoadN*(1+1e-6)) || !(part(b).CeilingMS <= h.AddRakeCeilingMS*(1+1e-9)) {
				t.Errorf("%s: rake is added against %.0f N at up to %.1f kn; a person can push %.0f N, and the ceiling is %.1f kn", name, load(sl, b),
					units.Knots(part(b).CeilingMS), h.MaxPumpLoadN, units.Knots(h.AddRakeCeilingMS))
			}
		}
		weakest := exampleSailor(t, name, fakeWind{}, func(h *vpp.Handling) { h.MaxPumpLoadN /= 4 })
		weak := weakest.BreakEvenOf(add, units.MS(22), twa, 0)
		if !(part(weak).CeilingMS < part(strong).CeilingMS) || !(weak.Price.SlowMS < strong.OldMS) || !(weak.Price.LostS > strong.Price.LostS) {
			t.Errorf("%s: a person who can push a quarter works below %.1f kn and loses %.0f s, the other %.1f kn and %.0f s: want a slow-down that costs", name,
				units.Knots(part(weak).CeilingMS), weak.Price.LostS, units.Knots(part(strong).CeilingMS), strong.Price.LostS)
		}
		// The place of the pump.
		far := exampleSailor(t, name, fakeWind{}, func(h *vpp.Handling) { h.ReachPumpS += 100 }).BreakEvenOf(add, units.MS(22), twa, 0)
		if d := part(far).WorkS - part(strong).WorkS; !(math.Abs(d-200) <= 1e-6) {
			t.Errorf("%s: a pump 100 s further away each way takes %.1f s more, want 200", name, d)
		}
		add := add
		add.Windward = true
		wind := sl.BreakEvenOf(add, units.MS(22), twa, 0)
		if q := part(wind); !math.IsInf(q.CeilingMS, 1) || !(math.Abs(q.EffortJ-unloaded) <= 1e-6) || !(wind.Price.LostS < 10) || !(wind.Price.LostS < strong.Price.LostS/3) {
			t.Errorf("%s: the windward foil's rake has a ceiling of %.1f kn, takes %.1f kJ and loses %.1f s (leeward %.1f s): want it almost free", name,
				units.Knots(q.CeilingMS), q.EffortJ/1e3, wind.Price.LostS, strong.Price.LostS)
		}
	}
}

// On an example boat too the foils are swapped at a gybe, each while it is the
// windward one.
func TestPresettingOnExampleBoats(t *testing.T) {
	for _, name := range []string{"small.toml", "big.toml"} {
		sl := exampleSailor(t, name, fakeWind{mean: units.MS(17), periodH: 24}, nil)
		// Wind from the north: 115° on one side, then on the other.
		p := sl.NewProblem(mustTrack(orb.Point{-30, 40}, orb.Point{-28.9, 39.6}, orb.Point{-30, 39.2}), 0)
		v, err := p.Best(context.Background(), nil, false, nil)
		if err != nil || v.Status != Found {
			t.Fatal(v.Status, err)
		}
		gybe := p.Stages() / 2
		if v.Schedule[gybe].Port == 0 || v.Schedule[gybe-1].Starboard == 0 {
			t.Fatalf("%s: schedule %v: want the leeward foil out on both boards", name, v.Schedule)
		}
		late := append(Schedule(nil), v.Schedule...)
		late[gybe] = v.Schedule[gybe-1]
		for late[gybe].Port != 0 { // the new leeward foil goes out after the gybe
			for k := range gybe + 1 {
				late[k].Port = 0
			}
		}
		w, err := p.Sail(late, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range v.Stages[gybe].Change.Parts() {
			if !math.IsInf(q.CeilingMS, 1) {
				t.Errorf("%s: at the gybe %v of the %v foil has a ceiling of %.1f kn", name, q.Kind, q.Side, units.Knots(q.CeilingMS))
			}
		}
		slow := false
		for _, q := range w.Stages[gybe+1].Change.Parts() {
			slow = slow || (q.Kind == Deploy && q.Side == Port && w.Stages[gybe+1].Change.SlowMS <= q.CeilingMS*(1+1e-9))
		}
		if !slow || !(w.ArriveS > v.ArriveS+10) {
			t.Errorf("%s: putting the foil out after the gybe arrives %.1f s later, slowed down for it: %v; want a slow-down that costs", name, w.ArriveS-v.ArriveS, slow)
		}
	}
}
