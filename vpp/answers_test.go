package vpp

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// TestOrbitalVelocity: with all waves counted at the surface, height and vertical
// velocity give back the mean period of the spectrum.
func TestOrbitalVelocity(t *testing.T) {
	for _, hs := range []float64{0.5, 2, 5} {
		tz := 2 * math.Pi * (hs / 4) / orbitalVelocity(hs, 1e7, 0)
		tp := 2 * math.Pi / peakFrequency(hs)
		published(t, "orbital-period-"+map[float64]string{0.5: "05", 2: "2", 5: "5"}[hs], "mean over peak period from the vertical velocity of the surface", tz/tp, 0.710, 2e-3, "",
			"Pierson & Moskowitz 1964: Tz = 0.710 Tp by integration", validation.Analytic)
	}
	if a, b := orbitalVelocity(2, 88, 0.5), orbitalVelocity(2, 88, 1.5); !(a > b && b > 0) {
		t.Errorf("vertical velocity %.3f m/s at 0.5 m, %.3f m/s at 1.5 m; want less with depth", a, b)
	}
}

// TestWavesOnTheFoil: waves take lift from a foil near its caps, add drag, and
// load it unevenly; in flat water there is nothing of that.
func TestWavesOnTheFoil(t *testing.T) {
	m := exampleBoat(t, "big")
	f := FoilSetting{1, units.Rad(2)}
	flat := m.SurgeParts(cond(18, 110, 0), f, FoilSetting{}, []float64{6, 8, 10, 12})
	sea := m.SurgeParts(cond(18, 110, 1.5), f, FoilSetting{}, []float64{6, 8, 10, 12})
	for i := range flat {
		if !flat[i].OK || !sea[i].OK {
			t.Fatalf("no balance at %.0f m/s", flat[i].BSPMS)
		}
		if d := flat[i].Drag[DragFoilUnsteady]; d != 0 {
			t.Errorf("unsteady drag %.1f N in flat water", d)
		}
		if d := sea[i].Drag[DragFoilUnsteady]; !(d > 0) {
			t.Errorf("unsteady drag %.1f N in waves at %.0f m/s", d, sea[i].BSPMS)
		}
	}
}

// TestLoadLimitHolds: no solved state breaks the foil's load limit, gusts and
// waves counted, whichever sails the slower speed wants.
func TestLoadLimitHolds(t *testing.T) {
	for _, name := range []string{"small", "big"} {
		m := exampleBoat(t, name)
		s := m.NewSolver()
		lim := m.Boat().Limits
		slowed := 0
		for _, c := range []Condition{cond(28, 131, 0), cond(28, 110, 2), cond(24, 100, 1.5), cond(22, 120, 1.5)} {
			for _, rake := range []float64{0, 2, 5} {
				p, st := s.Solve(c, FoilSetting{1, units.Rad(rake)}, FoilSetting{})
				if st != Solved {
					t.Errorf("%s, %.0f° of rake: %v", name, rake, st)
					continue
				}
				if p.RuledBy == RuleFoilLoad {
					slowed++
				}
				if !(p.FoilLoadN <= lim.MaxFoilLoadN*1.001) {
					t.Errorf("%s at %.0f° of rake, %.1f kn: %.2f tf on the foil, limit %.2f tf", name, rake, units.Knots(p.BSPMS),
						units.TonnesForce(p.FoilLoadN), units.TonnesForce(lim.MaxFoilLoadN))
				}
			}
		}
		if slowed == 0 {
			t.Errorf("%s: the load limit never ruled; the test looks at nothing", name)
		}
	}
}

// TestLoadLimitHoldsAnywhere: at random points, reached from below and kept from
// above, with all sails or one set aboard, a gust keeps within the load limit: the
// balances solved anew at the gust's boat speed, with the sails in use at full
// power.
func TestLoadLimitHoldsAnywhere(t *testing.T) {
	n := 60
	if testing.Short() {
		n = 10
	}
	r := rand.New(rand.NewPCG(5, 3))
	worst := map[string]float64{}
	for _, name := range []string{"small", "big"} {
		whole := exampleBoat(t, name).Boat()
		boats := []*Boat{whole}
		for _, set := range whole.Rig.SailSets {
			b, err := whole.WithSails(set.Name)
			if err != nil {
				t.Fatal(err)
			}
			boats = append(boats, b)
		}
		settings := whole.Settings()[1:]
		slowed := 0
		for _, b := range boats {
			m, err := NewModel(b, NoFactors())
			if err != nil {
				t.Fatal(err)
			}
			s := m.NewSolver()
			for range n {
				c := cond(14+24*r.Float64(), 40+140*r.Float64(), 0)
				if r.IntN(2) == 0 {
					c.HsM = 5 * r.Float64()
				}
				s.set(c, settings[r.IntN(len(settings))], FoilSetting{})
				s.march(false)
				for _, above := range []bool{false, true} {
					var out steadyState
					if s.steady(&out, above) != Solved {
						continue
					}
					if out.rule == ruleFoilLoad {
						slowed++
					}
					x := out.node.x
					var gust balance
					if _, ok := s.netAt(out.node.v*b.Limits.GustFactor, out.node.at, 1, &x, &gust); ok {
						worst[name] = max(worst[name], s.foilPeak(&gust)/b.Limits.MaxFoilLoadN)
					}
				}
			}
		}
		if slowed < n/2 {
			t.Errorf("%s: the load limit ruled %d times only; the test looks at little", name, slowed)
		}
		validation.Band(t, validation.Row{
			Package: "vpp", ID: "load-limit-" + name, Quantity: "greatest foil load in a gust over the limit, states that are allowed, boat file " + name, Got: worst[name],
			Source: "balances solved anew at the gust's boat speed", Kind: validation.Symmetry,
		}, 0.9, 1+1.5*gustTol)
	}
}

// TestFlight: a boat that flies comes down no later than it took off, and flies
// on both sides as said.
func TestFlight(t *testing.T) {
	m := exampleBoat(t, "big")
	f := FoilSetting{1, units.Rad(4)}
	c := cond(0, 110, 1)
	fl := m.Flight(c, f, FoilSetting{})
	if !fl.TakesOff || !fl.Flies || !(fl.TouchDownTWSMS <= fl.TakeOffTWSMS) {
		t.Fatalf("%+v", fl)
	}
	for _, k := range []struct {
		tws  float64
		flew bool
	}{{fl.TakeOffTWSMS + units.MS(0.1), true}, {fl.TakeOffTWSMS - units.MS(0.1), false}} {
		c.TWSMS = k.tws
		p, st := m.Solve(c, f, FoilSetting{})
		if st != Solved || (p.HullLoad < FlyingLoad) != k.flew {
			t.Errorf("%.2f kn of wind: %v, hull carries %.2f; flying %v wanted", units.Knots(k.tws), st, p.HullLoad, k.flew)
		}
	}
}

// TestSensitivity: each factor moves the speed the way it must.
func TestSensitivity(t *testing.T) {
	m := exampleBoat(t, "none")
	mid, st, effects := m.Sensitivity(cond(16, 110, 1.5), FoilSetting{}, FoilSetting{})
	if st != Solved || len(effects) != len(FactorRanges()) {
		t.Fatalf("%v, %d effects", st, len(effects))
	}
	sign := map[string]float64{"sail_power": 1, "hull_drag": -1, "wave_drag": -1, "righting_moment": 1}
	for _, e := range effects {
		want, moves := sign[e.Range.Key]
		if d := e.HighMS - e.LowMS; moves && !(d*want > 0) || !moves && math.Abs(d) > 1e-6 {
			t.Errorf("%s: %.2f kn low, %.2f kn as it is, %.2f kn high", e.Range.Name, units.Knots(e.LowMS), units.Knots(mid.BSPMS), units.Knots(e.HighMS))
		}
	}
}

func TestWithSails(t *testing.T) {
	b := exampleBoat(t, "none").Boat()
	c, err := b.WithSails(" 1 REEF + jib ")
	if err != nil || len(c.Rig.SailSets) != 1 || c.Rig.SailSets[0].Name != "1 reef + jib" || len(b.Rig.SailSets) < 5 {
		t.Fatalf("%v, %v", c, err)
	}
	if _, err := b.WithSails("balloon"); err == nil || !strings.Contains(err.Error(), "full main + spinnaker") {
		t.Errorf("unknown sails: %v", err)
	}
}
