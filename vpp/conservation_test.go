package vpp

import (
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// TestBalancesAtEveryPoint: at the steady states that Solve, SolveAbove,
// Equilibria and the speed table give, forces and moments balance to a millionth
// of the weight, the named parts add up to them, and nothing is out of its range.
func TestBalancesAtEveryPoint(t *testing.T) {
	n := 40
	if testing.Short() {
		n = 10
	}
	r := rand.New(rand.NewPCG(51, 1))
	worst, points, sums := 0.0, 0, 0.0
	check := func(what string, m *Model, p *Point) {
		t.Helper()
		w := m.hull.w0
		points++
		worst = math.Max(worst, p.ResidualN/w)
		if !(p.ResidualN <= 1e-6*w) {
			t.Errorf("%s: %.3g N of %.0f N are not balanced", what, p.ResidualN, w)
		}
		f := &p.Forces
		drive, side, up := 0.0, 0.0, 0.0
		for i := PartSails; i <= PartBowImmersion; i++ {
			drive += f[i]
		}
		for i := PartSideSails; i <= PartSideFoil; i++ {
			side += f[i]
		}
		for i := PartVerticalSails; i <= PartWeight; i++ {
			up += f[i]
		}
		for _, s := range []float64{drive, side, up} {
			sums = math.Max(sums, math.Abs(s)/w)
			if !(math.Abs(s) <= 1e-6*w) {
				t.Errorf("%s: the parts of a force sum to %.3g N", what, s)
			}
		}
		if !(p.BSPMS > 0 && p.BSPMS < 25 && math.Abs(p.HeelRad) < 0.8 && p.Depower >= 0 && p.Depower <= 1+1e-9 && p.HullLoad > -0.2 && p.HullLoad < 1.3) || p.Sail == "" {
			t.Errorf("%s: %+v", what, p)
		}
	}
	for _, name := range []string{"none", "small", "big"} {
		m := exampleBoat(t, name)
		s := m.NewSolver()
		settings := m.Boat().Settings()
		for range n {
			c := cond(4+31*r.Float64(), 35+145*r.Float64(), 0)
			if r.IntN(2) == 0 {
				c.HsM = 5 * r.Float64()
				c.WaveFromBowRad = math.Pi * r.Float64()
			}
			f, w := settings[r.IntN(len(settings))], FoilSetting{}
			if r.IntN(3) == 0 {
				w = settings[r.IntN(len(settings))]
			}
			if p, st := s.Solve(c, f, w); st == Solved {
				check(name+" solved", m, &p)
			}
			if p, st := s.SolveAbove(c, f, w); st == Solved {
				check(name+" from above", m, &p)
			}
		}
		// Points of a speed table go through the same solver, with the curves at
		// eased and no power solved between them.
		g := DefaultGrid()
		for range n {
			c := Condition{TWSMS: g.TWSMS[1+r.IntN(10)], TWARad: g.TWARad[2+r.IntN(17)], HsM: g.HsM[r.IntN(4)]}
			s.set(c, settings[r.IntN(len(settings))], FoilSetting{})
			s.march(true)
			var out steadyState
			if st := s.steady(&out, false); st == Solved {
				p := s.point(&out.node, out.share)
				check(name+" in the table", m, &p)
			}
		}
	}
	if points < 5*n {
		t.Errorf("only %d points were checked", points)
	}
	validation.Check(t, validation.Row{Package: "vpp", ID: "balance", Quantity: "greatest unbalanced force or moment over the weight, random points of three boats", Got: worst, Want: 0, Tol: 1e-6, Source: "Newton's laws", Kind: validation.Analytic})
	validation.Check(t, validation.Row{Package: "vpp", ID: "parts-sum", Quantity: "greatest sum of the named parts along, across and up, over the weight, at the same points", Got: sums, Want: 0, Tol: 1e-6, Source: "Newton's laws", Kind: validation.Analytic})
}

// TestMirror: a boat on the other tack is its mirror image, to the last bit; and
// it does not matter from which side the same sea comes.
func TestMirror(t *testing.T) {
	differ, compared := 0, 0
	for _, e := range randomEvaluations(t, 40, 13) {
		var a, b balance
		one, other := *e.t, *e.t
		one.side, other.side = 1, -1
		one.evaluate(&e.x, &a, nil)
		other.evaluate(&e.x, &b, nil)
		compared++
		if a.res != b.res || a.jac != b.jac || a.net != b.net || a.dnt != b.dnt || a.rise != b.rise || a.foilN != b.foilN || a.foilZ != b.foilZ {
			differ++
			t.Errorf("%s: on the other tack\n%+v\n%+v", e.name, a, b)
		}
	}
	m := exampleBoat(t, "small")
	for _, wave := range []float64{10, 60, 130} {
		c := cond(16, 95, 2)
		c.WaveFromBowRad = units.Rad(wave)
		p, _ := m.Solve(c, FoilSetting{1, units.Rad(2)}, FoilSetting{})
		c.WaveFromBowRad = -c.WaveFromBowRad
		q, _ := m.Solve(c, FoilSetting{1, units.Rad(2)}, FoilSetting{})
		compared++
		if p.BSPMS != q.BSPMS || p.HeelRad != q.HeelRad || p.Forces != q.Forces {
			differ++
			t.Errorf("sea from %v° to one side %v, to the other %v", wave, p, q)
		}
	}
	validation.Check(t, validation.Row{Package: "vpp", ID: "mirror", Quantity: "balances, derivatives and loads that differ between port and starboard, of 123 compared", Got: float64(differ), Want: 0, Tol: 0, Source: "symmetry of the boat", Kind: validation.Symmetry})
	if compared != 123 {
		t.Errorf("%d compared", compared)
	}
}

// leap is a place where the solved speed changes by more than a twentieth of a
// knot over a ten-thousandth of a step.
type leap struct{ at, fromKn, toKn float64 }

// leaps sweeps a parameter and bisects each steep step down to a leap, if it is
// one.
func leaps(at func(u float64) (Point, int), lo, hi float64, n int) (l []leap, declared func(k leap) bool) {
	v := func(u float64) float64 { p, _ := at(u); return units.Knots(p.BSPMS) }
	du := (hi - lo) / float64(n)
	last := v(lo)
	for i := 1; i <= n; i++ {
		u := lo + du*float64(i)
		next := v(u)
		if math.Abs(next-last) > 0.5 {
			a, b, va, vb := u-du, u, last, next
			for range 14 {
				mid := 0.5 * (a + b)
				if vm := v(mid); math.Abs(vm-va) > math.Abs(vb-vm) {
					b, vb = mid, vm
				} else {
					a, va = mid, vm
				}
			}
			if math.Abs(vb-va) > 0.05 {
				l = append(l, leap{0.5 * (a + b), va, vb})
			}
		}
		last = next
	}
	// A declared branch change is one that can be read off the points: on one side or
	// the other there are more steady states than one (Equilibria lists them), the
	// flight is unsteady or a limit rules on one side only (RuledBy says so), or the
	// crew takes other sails, cant or ballast with which the boat gets over a hump of
	// its surge curve (Sail, CantRad, BallastKg say so).
	declared = func(k leap) bool {
		for _, eps := range []float64{2 * du, 1e-3 * du} {
			p, np := at(k.at - eps)
			q, nq := at(k.at + eps)
			if np != 1 || nq != 1 || p.RuledBy == RuleUnsteady || q.RuledBy == RuleUnsteady || limiting(p.RuledBy) != limiting(q.RuledBy) ||
				eps < du && (p.Sail != q.Sail || p.CantRad != q.CantRad || p.BallastKg != q.BallastKg) {
				return true
			}
		}
		return false
	}
	return l, declared
}

// limiting reports whether a rule slows the boat.
func limiting(rule string) bool {
	switch rule {
	case RuleFoilLoad, RuleBowImmersion, RuleGrid, RuleNoGo, RuleOverpowered:
		return true
	}
	return false
}

// TestContinuity: the speed solved has no jumps in wind, angle and rake, other
// than declared branch changes.
func TestContinuity(t *testing.T) {
	if testing.Short() {
		t.Skip("many solves: skipped in short mode")
	}
	jumps, undeclared, steps := 0, 0, 0
	sweep := func(what string, m *Model, lo, hi float64, n int, at func(u float64) (Condition, FoilSetting)) {
		t.Helper()
		s := m.NewSolver()
		steps += n
		l, declared := leaps(func(u float64) (Point, int) {
			c, f := at(u)
			p, _ := s.Solve(c, f, FoilSetting{})
			return p, s.equilibria(s.eq[:])
		}, lo, hi, n)
		for _, k := range l {
			jumps++
			d := declared(k)
			t.Logf("%s %.4f: %.2f to %.2f kn, declared %v", what, k.at, k.fromKn, k.toKn, d)
			if !d {
				undeclared++
				t.Errorf("%s %.4f: the speed jumps from %.2f to %.2f kn, and no branch change is declared", what, k.at, k.fromKn, k.toKn)
			}
		}
	}
	none, small, big := exampleBoat(t, "none"), exampleBoat(t, "small"), exampleBoat(t, "big")
	mid := FoilSetting{1, units.Rad(2)}
	sweep("no foils, wind at 110°", none, 4, 30, 40, func(u float64) (Condition, FoilSetting) { return cond(u, 110, 0), FoilSetting{} })
	sweep("no foils, angle at 12 kn", none, 36, 178, 48, func(u float64) (Condition, FoilSetting) { return cond(12, u, 1), FoilSetting{} })
	sweep("small foils, wind at 100°", small, 4, 28, 36, func(u float64) (Condition, FoilSetting) { return cond(u, 100, 0), mid })
	sweep("small foils, angle at 14 kn", small, 36, 178, 48, func(u float64) (Condition, FoilSetting) { return cond(14, u, 0.5), mid })
	sweep("small foils, rake at 16 kn, 110°", small, 0, 5, 20, func(u float64) (Condition, FoilSetting) {
		return cond(16, 110, 0), FoilSetting{1, units.Rad(u)}
	})
	sweep("big foils, wind at 100°", big, 12, 18, 15, func(u float64) (Condition, FoilSetting) { return cond(u, 100, 0), mid })
	sweep("big foils, rake at 18 kn, 110°", big, 2, 4, 16, func(u float64) (Condition, FoilSetting) {
		return cond(18, 110, 0), FoilSetting{0.75, units.Rad(u)}
	})
	validation.Check(t, validation.Row{Package: "vpp", ID: "continuity", Quantity: "jumps of speed in wind, angle and rake other than declared branch changes, seven sweeps of 15 to 48 steps", Got: float64(undeclared), Want: 0, Tol: 0, Source: "continuity of the balances", Kind: validation.Analytic})
	t.Logf("%d jumps in %d steps", jumps, steps)
}

// TestHysteresis: where a foiling boat has two steady states Solve gives the one
// reached from below and SolveAbove the one kept from above, both are listed, and
// the wind that takes off is not less than the wind that comes down.
func TestHysteresis(t *testing.T) {
	m := exampleBoat(t, "big")
	s := m.NewSolver()
	found, above := 0, 0
	for _, ext := range []float64{1} {
		for _, rake := range []float64{1, 3} {
			f := FoilSetting{ext, units.Rad(rake)}
			for _, twa := range []float64{115, 130, 140} {
				for w := 11.0; w <= 26; w += 2.5 {
					c := cond(w, twa, 0)
					p, st := s.Solve(c, f, FoilSetting{})
					if st != Solved {
						continue
					}
					list := m.Equilibria(c, f, FoilSetting{})
					n := len(list)
					q, st := s.SolveAbove(c, f, FoilSetting{})
					if st != Solved {
						t.Errorf("%.0f kn at %.0f°: from above %v", w, twa, st)
						continue
					}
					if limiting(p.RuledBy) || limiting(q.RuledBy) || p.RuledBy == RuleUnsteady || q.RuledBy == RuleUnsteady {
						continue
					}
					if q.BSPMS < p.BSPMS-units.MS(0.02) {
						t.Errorf("%.0f kn at %.0f°: %.2f kn from above, %.2f kn from below", w, twa, units.Knots(q.BSPMS), units.Knots(p.BSPMS))
					}
					if n < 2 {
						if math.Abs(q.BSPMS-p.BSPMS) > units.MS(0.05) {
							t.Errorf("%.0f kn at %.0f°: one steady state, but %.2f and %.2f kn", w, twa, units.Knots(p.BSPMS), units.Knots(q.BSPMS))
						}
						continue
					}
					found++
					if math.Abs(list[0].BSPMS-p.BSPMS) > 1e-3 || math.Abs(list[n-1].BSPMS-q.BSPMS) > 1e-3 {
						t.Errorf("%.0f kn at %.0f°: %d states listed, want %d from %.2f to %.2f kn", w, twa, len(list), n, units.Knots(p.BSPMS), units.Knots(q.BSPMS))
					}
					for i := range list {
						if !(list[i].ResidualN <= 1e-6*m.hull.w0) || i > 0 && !(list[i].BSPMS > list[i-1].BSPMS) {
							t.Errorf("%.0f kn at %.0f°: state %d: %.2f kn, %.2g N unbalanced", w, twa, i, units.Knots(list[i].BSPMS), list[i].ResidualN)
						}
					}
					if q.HullLoad < p.HullLoad {
						above++
					}
				}
			}
		}
	}
	if found == 0 {
		t.Fatal("no condition with two steady states found: nothing was compared")
	}
	if above != found {
		t.Errorf("the faster state carries more on its foil at %d of %d points", above, found)
	}
	fl := m.Flight(cond(0, 120, 0), FoilSetting{1, units.Rad(3)}, FoilSetting{})
	if !fl.TakesOff || !fl.Flies || !(fl.TouchDownTWSMS <= fl.TakeOffTWSMS+units.MS(0.02)) || !(fl.TakeOffBSPMS > 0) {
		t.Errorf("flight %+v", fl)
	}
	t.Logf("%d conditions with two steady states; big foils at 120° take off at %.1f kn and come down at %.1f kn of wind", found, units.Knots(fl.TakeOffTWSMS), units.Knots(fl.TouchDownTWSMS))
}
