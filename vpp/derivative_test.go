package vpp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/vpp/units"
)

// evalAt is one place at which the balances are looked at, away from any
// solution: derivatives must hold everywhere.
type evalAt struct {
	name string
	t    *task
	x    [nUnknown]float64
}

// randomEvaluations draws n evaluations over boats, speeds, winds, seas, foil
// settings, sails, keel, ballast and unknowns. The speeds' states are kept per
// evaluation, so that they can be looked at one by one.
func randomEvaluations(t testing.TB, n int, seed uint64) []evalAt {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 1))
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	var l []evalAt
	for _, name := range []string{"none", "small", "big"} {
		m := exampleBoat(t, name)
		settings := m.Boat().Settings()
		for range n {
			lee, win := settings[r.IntN(len(settings))], FoilSetting{}
			if name != "none" && r.IntN(3) == 0 {
				win = settings[r.IntN(len(settings))]
			}
			c := cond(in(3, 35), in(25, 180), 0)
			if r.IntN(2) == 0 {
				c.HsM = in(0.2, 5)
				c.WaveFromBowRad = in(0.01, math.Pi)
			}
			v := units.MS(in(1.5, 38))
			s := m.NewSolver()
			s.set(c, lee, win)
			m.prepare(&s.one, s.st, &s.cond, v)
			at := choice{int16(r.IntN(len(m.sails))), int16(r.IntN(len(m.righting)))}
			tk := s.task(&s.one, at, []float64{1, 1, 0.5, 0}[r.IntN(4)])
			if r.IntN(2) == 0 {
				tk.side = -1
			}
			l = append(l, evalAt{
				name: fmt.Sprintf("%s %.1f kn, %.1f kn at %.0f°, sea %.1f m, foils %v %v, choice %v", name, units.Knots(v), units.Knots(c.TWSMS), units.Deg(c.TWARad), c.HsM, lee, win, at),
				t:    &tk, x: [nUnknown]float64{in(-0.1, 0.6), in(-0.02, 0.25), in(-0.05, 0.07), in(0.02, 1.1)},
			})
		}
	}
	return l
}

// slope estimates a derivative by Richardson's extrapolation of central
// differences at h and h/2, and how far the two differ.
func slope(f func(d float64) float64, h float64) (est, spread float64) {
	a := (f(h) - f(-h)) / (2 * h)
	b := (f(h/2) - f(-h/2)) / h
	return (4*b - a) / 3, math.Abs(a - b)
}

// TestDerivatives holds the derivatives of all four balances and of the net
// force to central differences at random points of the whole space of boats,
// winds, seas, settings and unknowns.
func TestDerivatives(t *testing.T) {
	n := 60
	if testing.Short() {
		n = 10
	}
	step := [nUnknown]float64{3e-5, 3e-5, 1e-5, 1e-5}
	compared, kinks, worst := 0, 0, 0.0
	for _, e := range randomEvaluations(t, n, 11) {
		var b, try balance
		e.t.evaluate(&e.x, &b, nil)
		w := e.t.weight()
		for j := range nUnknown {
			for i := range nUnknown + 1 {
				value := func(d float64) float64 {
					x := e.x
					x[j] += d
					e.t.evaluate(&x, &try, nil)
					if i < nUnknown {
						return try.res[i]
					}
					return try.net / w
				}
				got := b.dnt[j] / w
				if i < nUnknown {
					got = b.jac[i][j]
				}
				want, spread := slope(value, step[j])
				// The pieces of interpolated curves meet with a jump of the second
				// derivative: a difference across one says how far it can be trusted.
				tol := 2e-6*(1+math.Abs(want)) + 3*spread
				if spread > 2e-3*(1+math.Abs(want)) {
					kinks++
					continue
				}
				compared++
				d := math.Abs(got - want)
				worst = math.Max(worst, d/(1+math.Abs(want)))
				if !(d <= tol) {
					t.Errorf("%s at %v: ∂%d/∂%d = %.9g, by differences %.9g ± %.2g", e.name, e.x, i, j, got, want, tol)
				}
			}
		}
	}
	if compared < 19*kinks || compared < 20*3*n*9/10 {
		t.Errorf("only %d derivatives compared, %d left out", compared, kinks)
	}
	t.Logf("%d derivatives compared, %d left out at kinks; greatest relative difference %.2g", compared, kinks, worst)
}

// TestDualNumbers holds each operation on dual numbers to differences.
func TestDualNumbers(t *testing.T) {
	ops := []struct {
		name string
		f    func(a, b d3) d3
	}{
		{"add", d3.add}, {"sub", d3.sub}, {"mul", d3.mul}, {"div", d3.div},
		{"sq", func(a, _ d3) d3 { return a.sq() }},
		{"sqrt", func(a, _ d3) d3 { return a.sqrt() }},
		{"pow", func(a, _ d3) d3 { return a.pow(1.7) }},
		{"exp", func(a, _ d3) d3 { return a.exp() }},
		{"sin", func(a, _ d3) d3 { s, _ := a.sincos(); return s }},
		{"cos", func(a, _ d3) d3 { _, c := a.sincos(); return c }},
		{"positive", func(a, _ d3) d3 { return a.addc(-1).positive(0.1) }},
		{"smoothMax", func(a, _ d3) d3 { return a.smoothMax(1.2, 0.3) }},
		{"softCap", func(a, b d3) d3 { return a.softCap(b) }},
		{"neg and scale", func(a, _ d3) d3 { return a.neg().scale(3) }},
	}
	r := rand.New(rand.NewPCG(12, 1))
	for _, op := range ops {
		for range 50 {
			a := d3{0.2 + 2*r.Float64(), r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
			b := d3{0.2 + 2*r.Float64(), r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
			got := op.f(a, b)
			for k, p := range []struct{ got, a, b float64 }{{got.x, a.x, b.x}, {got.y, a.y, b.y}, {got.z, a.z, b.z}} {
				want, spread := slope(func(d float64) float64 { return op.f(con(a.v+d*p.a), con(b.v+d*p.b)).v }, 1e-4)
				if !(math.Abs(p.got-want) <= 1e-8*(1+math.Abs(want))+spread*1e-2) {
					t.Errorf("%s(%v, %v): derivative %d = %.12g, by differences %.12g", op.name, a, b, k, p.got, want)
				}
			}
		}
	}
}
