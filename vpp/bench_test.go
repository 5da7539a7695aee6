package vpp

import (
	"context"
	"testing"

	"foilledger/vpp/units"
)

func benchSolver(b *testing.B) (*Solver, Condition, FoilSetting) {
	m := exampleBoat(b, "small")
	return m.NewSolver(), cond(15, 100, 1), FoilSetting{1, units.Rad(3)}
}

// BenchmarkEvaluate is one evaluation of the four balances with derivatives.
func BenchmarkEvaluate(b *testing.B) {
	s, c, f := benchSolver(b)
	s.set(c, f, FoilSetting{})
	s.m.prepare(&s.one, s.st, &s.cond, 8)
	t := s.task(&s.one, choice{3, 3}, 1)
	x := starts[0]
	var o balance
	t.solve(&x, &o)
	b.ReportAllocs()
	for b.Loop() {
		t.evaluate(&x, &o, nil)
	}
}

// BenchmarkPrepare is what is done once per boat speed.
func BenchmarkPrepare(b *testing.B) {
	s, c, f := benchSolver(b)
	s.set(c, f, FoilSetting{})
	b.ReportAllocs()
	for b.Loop() {
		s.m.prepare(&s.one, s.st, &s.cond, 8)
	}
}

// BenchmarkSolveWarm is a steady state near the last one.
func BenchmarkSolveWarm(b *testing.B) {
	s, c, f := benchSolver(b)
	s.Solve(c, f, FoilSetting{})
	i := 0
	for b.Loop() {
		i++
		c.TWSMS = units.MS(15 + 0.1*float64(i%2))
		s.Continue(c, f, FoilSetting{})
	}
}

// BenchmarkSolveCold is a steady state with nothing known: the whole surge curve.
func BenchmarkSolveCold(b *testing.B) {
	s, c, f := benchSolver(b)
	for b.Loop() {
		s.Solve(c, f, FoilSetting{})
	}
}

// BenchmarkTablePoint is one point of a speed table: surge curves at three
// powers and the steady state.
func BenchmarkTablePoint(b *testing.B) {
	s, _, f := benchSolver(b)
	g := DefaultGrid()
	n, e0 := 0, s.Evaluations
	for b.Loop() {
		n++
		c := Condition{TWSMS: g.TWSMS[1+n%12], TWARad: g.TWARad[1+n/12%18], HsM: g.HsM[n/5%4]}
		s.set(c, f, FoilSetting{})
		s.march(true)
		var st steadyState
		s.steady(&st, false)
	}
	b.ReportMetric(float64(s.Evaluations-e0)/float64(n), "evaluations/point")
}

// BenchmarkTable is the whole table of the small boat, cold, on all processors:
// 7 leeward and 2 windward settings, 12 winds and calm, 19 angles, 4 seas.
func BenchmarkTable(b *testing.B) {
	m := exampleBoat(b, "small")
	for b.Loop() {
		if _, err := BuildTable(context.Background(), m, DefaultGrid(), nil); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTable20 is the table of the big boat: 19 leeward and 4 windward settings.
func BenchmarkTable20(b *testing.B) {
	m := exampleBoat(b, "big")
	for b.Loop() {
		if _, err := BuildTable(context.Background(), m, DefaultGrid(), nil); err != nil {
			b.Fatal(err)
		}
	}
}
