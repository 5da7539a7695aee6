package vpp

import (
	"fmt"
	"os"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// exampleBoat is one of the invented boats below testdata/boats.
func exampleBoat(t testing.TB, name string) *Model {
	t.Helper()
	path := "../testdata/boats/" + name + ".toml"
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	b, err := LoadBoat(data, path)
	if err != nil {
		t.Fatal(err)
	}
	m, err := NewModel(b, NoFactors())
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// fleet solves the three boats at one condition: without foils, and with the
// best allowed foil setting of the small and the big foils.
type fleet struct {
	none, small, big *Model
	s                [3]*Solver
}

func newFleet(t testing.TB) *fleet {
	f := &fleet{none: exampleBoat(t, "none"), small: exampleBoat(t, "small"), big: exampleBoat(t, "big")}
	for i, m := range [...]*Model{f.none, f.small, f.big} {
		f.s[i] = m.NewSolver()
	}
	return f
}

func cond(twsKn, twaDeg, hsM float64) Condition {
	return Condition{TWSMS: units.MS(twsKn), TWARad: units.Rad(twaDeg), HsM: hsM}
}

// best is the fastest state with the leeward foil out.
func (f *fleet) best(i int, c Condition) (Point, FoilSetting) {
	m := [...]*Model{f.none, f.small, f.big}[i]
	var best Point
	var at FoilSetting
	for _, s := range m.Boat().Settings()[1:] {
		if p, st := f.s[i].Solve(c, s, FoilSetting{}); st == Solved && p.BSPMS > best.BSPMS {
			best, at = p, s
		}
	}
	return best, at
}

func (f *fleet) in(i int, c Condition) Point {
	p, _ := f.s[i].Solve(c, FoilSetting{}, FoilSetting{})
	return p
}

// TestBehaviour holds the model to what sailors know: bands, not points.
func TestBehaviour(t *testing.T) {
	f := newFleet(t)
	band := func(id, quantity string, got, lo, hi float64, unit string) {
		t.Helper()
		validation.Band(t, validation.Row{Package: "vpp", ID: id, Quantity: quantity, Got: got, Unit: unit, Source: "common practice", Kind: validation.Behaviour}, lo, hi)
	}
	kn := units.Knots
	for _, a := range []float64{100, 110, 120} {
		c := cond(14, a, 0)
		v := kn(f.in(0, c).BSPMS)
		s, _ := f.best(1, c)
		b, _ := f.best(2, c)
		band(fmt.Sprintf("tws14-%.0f-none", a), fmt.Sprintf("14 kn of wind at %.0f°, no foil", a), v, 14, 18, "kn")
		band(fmt.Sprintf("tws14-%.0f-small", a), fmt.Sprintf("14 kn of wind at %.0f°, gain of the small foil", a), kn(s.BSPMS)-v, 1.5, 3.5, "kn")
		band(fmt.Sprintf("tws14-%.0f-big", a), fmt.Sprintf("14 kn of wind at %.0f°, gain of the big foil", a), kn(b.BSPMS)-v, 5, 9, "kn")
	}
	c := cond(22, 120, 0)
	s, _ := f.best(1, c)
	b, _ := f.best(2, c)
	band("tws22-none", "22 kn of wind at 120°, no foil", kn(f.in(0, c).BSPMS), 19, 23, "kn")
	band("tws22-small", "22 kn of wind at 120°, small foil", kn(s.BSPMS), 22, 27, "kn")
	band("tws22-big", "22 kn of wind at 120°, big foil", kn(b.BSPMS), 26, 33, "kn")
	for _, w := range []float64{14, 16, 18} {
		c := cond(w, 50, 0)
		v := kn(f.in(0, c).BSPMS)
		s, _ := f.best(1, c)
		band(fmt.Sprintf("upwind-%.0f-none", w), fmt.Sprintf("%.0f kn of wind at 50°, no foil", w), v, 9, 11.5, "kn")
		band(fmt.Sprintf("upwind-%.0f-small", w), fmt.Sprintf("%.0f kn of wind at 50°, gain of the small foil", w), kn(s.BSPMS)-v, -1, 1, "kn")
	}
	for _, w := range []float64{3, 4, 5} { // light air: under about 7 kn of boat speed
		for _, a := range []float64{60, 110, 150} {
			c := cond(w, a, 0)
			v := f.in(1, c)
			if kn(v.BSPMS) > 7 {
				continue
			}
			s, _ := f.best(1, c)
			band(fmt.Sprintf("light-%.0f-%.0f", w, a), fmt.Sprintf("%.0f kn of wind at %.0f°, what the small foil adds", w, a), kn(s.BSPMS-v.BSPMS), -0.5, 0.1, "kn")
		}
	}
	v := kn(f.in(1, cond(16, 155, 0)).BSPMS)
	s, _ = f.best(1, cond(16, 155, 0))
	band("running", "16 kn of wind at 155°, what the small foil adds", kn(s.BSPMS)-v, -0.5, 0.5, "kn")
}

// TestBehaviourOfLift looks at the foils at given boat speeds.
func TestBehaviourOfLift(t *testing.T) {
	f := newFleet(t)
	band := func(id, quantity string, got, lo, hi float64, unit string) {
		t.Helper()
		validation.Band(t, validation.Row{Package: "vpp", ID: id, Quantity: quantity, Got: got, Unit: unit, Source: "common practice", Kind: validation.Behaviour}, lo, hi)
	}
	// The small foil where its best setting sails at 20 to 22 kn.
	found := 0
	for w := 14.0; w <= 24; w += 0.5 {
		p, _ := f.best(1, cond(w, 115, 0))
		if v := units.Knots(p.BSPMS); v >= 20 && v <= 22 {
			band("small-lift", "vertical lift of the small foil at 20 to 22 kn of boat speed", units.TonnesForce(p.FoilLiftN), 3, 5, "tf")
			band("small-rise", "rise of the hull there", p.RiseM, 0.03, 0.6, "m")
			found++
			break
		}
	}
	for w := 10.0; w <= 24; w += 0.5 {
		p, _ := f.best(2, cond(w, 110, 0))
		if v := units.Knots(p.BSPMS); v >= 20 && v <= 25 {
			band("big-lift", "vertical lift of the big foil at 20 to 25 kn of boat speed", units.TonnesForce(p.FoilLiftN), 6, 9, "tf")
			band("big-load", "share of the weight that the hull carries there", p.HullLoad, 0, 0.5, "")
			found++
			break
		}
	}
	if found != 2 {
		t.Errorf("boat speeds of 20 to 25 kn found for %d of 2 boats", found)
	}
}

// TestBehaviourOfRake sweeps rake: with big foils in fast, flat conditions the
// speed has its best inside the range, past it the bow is high and the speed
// falls; with small foils the last degree gains little.
func TestBehaviourOfRake(t *testing.T) {
	f := newFleet(t)
	sweep := func(i int, c Condition, ext float64) (kn, trim []float64) {
		for r := 0.0; r <= 5; r += 0.5 {
			p, _ := f.s[i].Solve(c, FoilSetting{Extension: ext, RakeRad: units.Rad(r)}, FoilSetting{})
			kn, trim = append(kn, units.Knots(p.BSPMS)), append(trim, units.Deg(p.TrimRad))
		}
		return kn, trim
	}
	kn, trim := sweep(2, cond(22, 115, 0), 1)
	best := 0
	for i := range kn {
		if kn[i] > kn[best] {
			best = i
		}
	}
	last := len(kn) - 1
	validation.Band(t, validation.Row{Package: "vpp", ID: "big-rake-best", Quantity: "fastest rake of the big foil, 22 kn of wind at 115°, flat water", Got: 0.5 * float64(best), Unit: "°", Source: "common practice", Kind: validation.Behaviour}, 0.5, 4.5)
	if !(kn[last] < kn[best]) || !(trim[last] > trim[best]) {
		t.Errorf("past the best rake: speed %.2f after %.2f kn, trim %.2f after %.2f°; want slower with a higher bow", kn[last], kn[best], trim[last], trim[best])
	}
	kn, _ = sweep(1, cond(22, 115, 0), 1)
	validation.Band(t, validation.Row{Package: "vpp", ID: "small-rake-last", Quantity: "what the last degree of rake adds with the small foil, 22 kn of wind at 115°", Got: kn[10] - kn[8], Unit: "kn", Source: "common practice", Kind: validation.Behaviour}, -3, 0.5)
}

// TestRakeInABowSea: with waves on the bow the best rake is not lower than in
// flat water, because the bow immerses less.
func TestRakeInABowSea(t *testing.T) {
	f := newFleet(t)
	best := func(c Condition) (rake, immersions0, immersions5 float64) {
		top := 0.0
		for r := 0.0; r <= 5; r += 0.25 {
			p, st := f.s[2].Solve(c, FoilSetting{Extension: 1, RakeRad: units.Rad(r)}, FoilSetting{})
			if st == Solved && p.BSPMS > top {
				top, rake = p.BSPMS, r
			}
			switch r {
			case 0:
				immersions0 = p.BowImmersionsPerHour
			case 5:
				immersions5 = p.BowImmersionsPerHour
			}
		}
		return rake, immersions0, immersions5
	}
	flat, _, _ := best(cond(18, 75, 0))
	bow := cond(18, 75, 3)
	bow.WaveFromBowRad = units.Rad(20)
	sea, low, high := best(bow)
	if !(sea > flat) {
		t.Errorf("best rake %.2f° in a bow sea, %.2f° in flat water", sea, flat)
	}
	if !(high <= low) {
		t.Errorf("bow immersions per hour: %.1f at 5° of rake, %.1f at 0°; want no more", high, low)
	}
	t.Logf("best rake %.2f° in flat water, %.2f° in a bow sea; immersions %.1f/h at 0°, %.1f/h at 5°", flat, sea, low, high)
}
