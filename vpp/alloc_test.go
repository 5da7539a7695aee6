package vpp

import (
	"context"
	"testing"

	"foilledger/vpp/units"
)

// TestNoAllocation: nothing in the inner solve and in the queries of a table
// allocates.
func TestNoAllocation(t *testing.T) {
	m := oneSetting(t, "small")
	s := m.NewSolver()
	f := m.Boat().Settings()[1]
	c := cond(15, 100, 1)
	s.set(c, f, FoilSetting{})
	s.march(false)
	tk := s.task(&s.sps[12], s.nodes[12].at, 1)
	x := s.nodes[12].x
	var b balance
	var st steadyState
	tb, err := BuildTable(context.Background(), m, tinyGrid(), nil)
	if err != nil {
		t.Fatal(err)
	}
	c2 := cond(12, 85, 0)
	sink := 0.0
	for _, k := range []struct {
		name string
		f    func()
	}{
		{"evaluating the balances", func() { tk.evaluate(&x, &b, nil) }},
		{"solving the balances", func() { y := x; y[iTrim] += 0.01; tk.solve(&y, &b) }},
		{"preparing a speed", func() { m.prepare(&s.one, s.st, &s.cond, 8) }},
		{"marching up the surge curve", func() { s.march(true) }},
		{"a steady state", func() { s.steady(&st, false) }},
		{"a speed between grid points", func() { nd := node{v: 7.5, x: x, at: s.nodes[12].at}; s.settle(&nd) }},
		{"Table.Speed", func() { v, _ := tb.Speed(1, 1, c2); sink += v }},
		{"Table.Accel", func() { sink += tb.Accel(1, 1, PowerFull, c2, 5) }},
	} {
		if n := testing.AllocsPerRun(20, k.f); n != 0 {
			t.Errorf("%s allocates %v times", k.name, n)
		}
	}
	if sink == 0 {
		t.Error("the table said nothing")
	}
}

// BenchmarkSpeed is one speed read from a table.
func BenchmarkSpeed(b *testing.B) {
	m := oneSetting(b, "small")
	tb, err := BuildTable(context.Background(), m, smallGrid(), nil)
	if err != nil {
		b.Fatal(err)
	}
	for _, k := range []struct {
		name string
		l, w int
		c    Condition
	}{
		{"flat", 1, 0, cond(13, 101, 0)},
		{"sea", 1, 0, cond(13, 101, 0.7)},
		{"windward-out", 1, 1, cond(13, 101, 0.7)},
	} {
		b.Run(k.name, func(b *testing.B) {
			b.ReportAllocs()
			sink, i := 0.0, 0
			for b.Loop() {
				i++
				c := k.c
				c.TWSMS += 0.001 * float64(i%64)
				c.TWARad += units.Rad(0.1) * float64(i%16)
				v, _ := tb.Speed(k.l, k.w, c)
				sink += v
			}
			if !(sink > 0) {
				b.Error("no speed")
			}
		})
	}
}
