package vpp

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// interpolationErrors compares a table with direct solves at n random points of
// one setting. Points near a branch change are counted apart: there are two steady
// states, the flight is unsteady, the speed climbs by more than 1.5 kn within one
// cell of the table (a take-off front), or the solved speed itself leaps: the speeds
// half a cell of wind or angle to both sides are more than 0.6 kn out of line.
func interpolationErrors(t *testing.T, m *Model, tb *Table, l, n int, seed uint64) (plain, limited []float64, near int) {
	s := m.NewSolver()
	r := rand.New(rand.NewPCG(seed, 7))
	set := m.Boat().Settings()[l]
	cells, fine := len(tb.data.Cells)/len(tb.settings), len(tb.data.Fine)/len(tb.settings)
	for range n {
		c := cond(8+16*r.Float64(), 34+146*r.Float64(), r.Float64()*float64(r.IntN(2)))
		p, st := s.Solve(c, set, FoilSetting{})
		if st != Solved {
			continue
		}
		v, ok := tb.Speed(l, 0, c)
		if !ok {
			v = math.NaN()
		}
		branch := p.RuledBy == RuleUnsteady || s.equilibria(s.eq[:]) != 1
		limit := p.RuledBy == RuleFoilLoad || p.RuledBy == RuleBowImmersion || p.RuledBy == RuleOverpowered
		sp := tb.points.spot(c.HsM, c.TWSMS, c.TWARad)
		tb.points.corners(&sp, func(i int, _ float64) {
			k := &tb.data.Cells[l*cells+i]
			branch = branch || k.Above > 0 || k.Rule == ruleUnsteady || k.Rule == ruleGrid
			limit = limit || k.Rule == ruleFoilLoad || k.Rule == ruleBowImmersion || k.Rule == ruleOverpowered
		})
		lo, hi := math.Inf(1), 0.0
		sp = tb.speed[l].spot(c.HsM, c.TWSMS, c.TWARad)
		tb.speed[l].corners(&sp, func(i int, _ float64) {
			v := tb.data.Fine[l*fine+i]
			lo, hi = min(lo, v), max(hi, v)
		})
		e := units.Knots(math.Abs(v - p.BSPMS))
		if e > 0.1 { // does the solved speed itself leap within half a cell?
			for _, d := range [][2]float64{{0.4, 0}, {0, 1.3}} {
				var v [2]float64
				for i, sign := range [2]float64{-1, 1} {
					k := c
					k.TWSMS, k.TWARad = c.TWSMS+sign*units.MS(d[0]), min(c.TWARad+sign*units.Rad(d[1]), math.Pi)
					q, _ := s.Solve(k, set, FoilSetting{})
					v[i] = q.BSPMS
				}
				branch = branch || math.Abs(v[0]+v[1]-2*p.BSPMS) > units.MS(0.6)
			}
		}
		switch {
		case branch || hi-lo > units.MS(1.5):
			near++
		case limit:
			limited = append(limited, e)
		default:
			plain = append(plain, e)
			if e > 0.3 {
				t.Logf("setting %d, %.1f kn at %.0f°, %.1f m: table %.2f kn, solved %.2f kn (%s, %q)", l, units.Knots(c.TWSMS), units.Deg(c.TWARad), c.HsM, units.Knots(v), units.Knots(p.BSPMS), p.Sail, p.RuledBy)
			}
		}
	}
	return plain, limited, near
}

// windwardErrors compares a table with direct solves at n random points of one
// leeward setting, with the windward foil at a random extension. lost are errors of
// what that foil costs, out those of the speed itself.
func windwardErrors(m *Model, tb *Table, l, n int, seed uint64) (lost, out []float64) {
	s := m.NewSolver()
	r := rand.New(rand.NewPCG(seed, 11))
	set := m.Boat().Settings()[l]
	exts := m.Boat().Extensions()
	for range n {
		c := cond(8+16*r.Float64(), 34+146*r.Float64(), r.Float64()*float64(r.IntN(2)))
		w := 1 + r.IntN(len(exts)-1)
		var solved [2]float64
		one := true // a single branch, as in interpolationErrors
		for i, windward := range []FoilSetting{{}, m.Boat().idleSetting(exts[w])} {
			p, st := s.Solve(c, set, windward)
			one = one && st == Solved && p.RuledBy != RuleUnsteady && s.equilibria(s.eq[:]) == 1
			solved[i] = units.Knots(p.BSPMS)
		}
		if !one {
			continue
		}
		in, _ := tb.Speed(l, 0, c)
		v, _ := tb.Speed(l, w, c)
		lost = append(lost, math.Abs(units.Knots(in-v)-(solved[0]-solved[1])))
		out = append(out, math.Abs(units.Knots(v)-solved[1]))
	}
	return lost, out
}

// TestInterpolation measures what interpolation costs: speeds read from the table
// against direct solves at random points.
func TestInterpolation(t *testing.T) {
	if testing.Short() {
		t.Skip("builds two tables: skipped in short mode")
	}
	const source = "direct solves at random points, 8 to 24 kn, 34° to 180°, seas to 1 m"
	var all []float64
	var limited []float64
	var lost, out []float64
	near, total := 0, 0
	g := DefaultGrid()
	g.HsM, g.TWSMS = g.HsM[:2], g.TWSMS[3:10]
	for _, name := range []string{"small", "big"} {
		m := oneSetting(t, name)
		tb, err := BuildTable(context.Background(), m, g, nil)
		if err != nil {
			t.Fatal(err)
		}
		if tb.Failed() != 0 {
			t.Errorf("%s: %d points of the table failed", name, tb.Failed())
		}
		for l := range m.Boat().Settings() {
			p, q, k := interpolationErrors(t, m, tb, l, 150, 31+uint64(l))
			all, limited, near, total = append(all, p...), append(limited, q...), near+k, total+len(p)+len(q)+k
			a, b := windwardErrors(m, tb, l, 60, 51+uint64(l))
			lost, out = append(lost, a...), append(out, b...)
			slices.Sort(p)
			t.Logf("%s, setting %d: %d points, 95 %% within %.3f kn, worst %.3f kn; %d where a limit rules, %d near branch changes", name, l, len(p), p[len(p)*95/100], p[len(p)-1], len(q), k)
		}
	}
	slices.Sort(all)
	slices.Sort(limited)
	slices.Sort(lost)
	slices.Sort(out)
	share := 0.0
	for _, e := range all {
		if e <= 0.1 {
			share++
		}
	}
	share *= 100 / float64(len(all))
	band := func(id, quantity string, got, lo, hi float64, unit string) {
		t.Helper()
		validation.Band(t, validation.Row{Package: "vpp", ID: id, Quantity: quantity, Got: got, Unit: unit, Source: source, Kind: validation.Symmetry}, lo, hi)
	}
	band("table-share", fmt.Sprintf("speeds of the table within 0.1 kn of direct solves, away from branch changes and limits (%d of %d points)", len(all), total), share, 95, 100, "%")
	band("table-worst", "greatest error of the table there", all[len(all)-1], 0, 0.4, "kn")
	band("table-limited", "error of the table that 95 % keep where a limit on load, bow or sails rules or begins to", limited[len(limited)*95/100], 0, 1, "kn")
	band("table-windward", fmt.Sprintf("error of what the windward foil costs when it is out, that 95 %% of %d points keep, one branch", len(lost)), lost[len(lost)*95/100], 0, 0.2, "kn")
	band("table-windward-worst", "greatest such error", lost[len(lost)-1], 0, 2, "kn")
	band("table-windward-speed", "error of the speed with the windward foil out, that 95 % of those points keep, limits and take-off fronts included", out[len(out)*95/100], 0, 0.4, "kn")
	band("table-near", "share of the points near branch changes and take-off fronts", 100*float64(near)/float64(total), 0, 35, "%")
}

// TestSurfaceMonotone: along every grid line the interpolated speed stays between
// its two neighbours, and its slope is continuous.
func TestSurfaceMonotone(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 1))
	rising := func(n int, lo, step float64) []float64 {
		x := []float64{lo}
		for range n - 1 {
			x = append(x, x[len(x)-1]+step*(0.2+r.Float64()))
		}
		return x
	}
	for range 20 {
		hs, tws, twa := newAxis(rising(3, 0, 1)), newAxis(rising(6, 0, 2)), newAxis(rising(7, 0, 0.3))
		v := make([]float64, 3*6*7)
		for i := range v {
			v[i] = 10 * r.Float64()
			if r.IntN(4) == 0 && i > 0 {
				v[i] = v[i-1] // flats
			}
		}
		u := newSurface3(&hs, &tws, &twa, v)
		at := func(h, w, a float64) float64 { s := u.spot(h, w, a); return u.at(&s) }
		axes := [3]*axis{&hs, &tws, &twa}
		for range 300 {
			var i [3]int
			for k := range i {
				i[k] = r.IntN(len(axes[k].x))
			}
			along := r.IntN(3)
			if i[along] == len(axes[along].x)-1 {
				i[along]--
			}
			x := [3]float64{hs.x[i[0]], tws.x[i[1]], twa.x[i[2]]}
			a := at(x[0], x[1], x[2])
			if want := v[u.index(i[0], i[1], i[2])]; !(math.Abs(a-want) <= 1e-12) {
				t.Fatalf("the surface does not pass through its point %v: %v, want %v", i, a, want)
			}
			x0, x1 := axes[along].x[i[along]], axes[along].x[i[along]+1]
			x[along] = x1
			b := at(x[0], x[1], x[2])
			last := a
			for k := 1; k <= 20; k++ {
				x[along] = x0 + (x1-x0)*float64(k)/20
				f := at(x[0], x[1], x[2])
				if (b-a)*(f-last) < -1e-9 || f < min(a, b)-1e-9 || f > max(a, b)+1e-9 {
					t.Fatalf("not monotone along axis %d from %v to %v: %v after %v", along, a, b, f, last)
				}
				last = f
			}
		}
		// Slopes from both sides of a plane of the grid, anywhere on it.
		for range 100 {
			along := r.IntN(3)
			x := [3]float64{hs.x[2] * r.Float64(), tws.x[5] * r.Float64(), twa.x[6] * r.Float64()}
			k := 1 + r.IntN(len(axes[along].x)-2)
			x[along] = axes[along].x[k]
			const d = 1e-6
			y := x
			f := func(o float64) float64 { y[along] = x[along] + o; return at(y[0], y[1], y[2]) }
			left, right := (3*f(0)-4*f(-d)+f(-2*d))/(2*d), (4*f(d)-3*f(0)-f(2*d))/(2*d)
			if !(math.Abs(left-right) <= 1e-5*(1+math.Abs(left))) {
				t.Errorf("slope along axis %d jumps from %v to %v at grid plane %d", along, left, right, k)
			}
		}
	}
}
