package vpp

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// BuildTable solves every point of a speed table, on all processors. The result
// does not depend on how many there are. progress, when not nil, is called with
// the number of points done and in all, from one goroutine at a time. When ctx
// is cancelled it returns its error within a few milliseconds.
func BuildTable(ctx context.Context, m *Model, g Grid, progress func(done, total int)) (*Table, error) {
	return buildTable(ctx, m, g, progress, runtime.GOMAXPROCS(0))
}

// row is one job: all seas and angles at one wind speed and foil state.
type row struct {
	l, w, iw int // w > 0: a row of the coarse correction, l its leeward group
}

func buildTable(ctx context.Context, m *Model, g Grid, progress func(done, total int), workers int) (*Table, error) {
	if err := g.check(); err != nil {
		return nil, err
	}
	t := &Table{boat: m.boat, factors: m.factors, settings: m.boat.Settings(), exts: m.boat.Extensions()}
	d := &t.data
	d.Grid = g
	for _, s := range m.sails {
		d.Sails = append(d.Sails, s.name)
	}
	c := g.coarse()
	n := len(g.HsM) * len(g.TWSMS) * len(g.TWARad)
	ns := n * len(t.settings)
	d.BSP, d.Cells, d.Acc, t.seeds = make([]float64, ns), make([]cell, ns), make([]float32, ns*numPowers*len(g.VMS)), make([]seed, ns)
	fine := g.fine()
	d.Fine = make([]float64, len(fine.HsM)*len(fine.TWSMS)*len(fine.TWARad)*len(t.settings))
	var refine []*refinement // by leeward setting, once the speeds at the grid points are known
	ne := len(t.exts)
	d.Less = make([]float64, (ne-1)*ne*len(c.HsM)*len(c.TWSMS)*len(c.TWARad))

	var rows []row
	for l := range t.settings {
		for iw := range g.TWSMS {
			rows = append(rows, row{l, 0, iw})
		}
	}
	full := len(rows)
	for w := 1; w < ne; w++ {
		for k := range ne {
			for iw := range c.TWSMS {
				rows = append(rows, row{k, w, iw})
			}
		}
	}
	total := full*len(g.HsM)*len(g.TWARad) + (len(rows)-full)*len(c.HsM)*len(c.TWARad) +
		2*len(t.settings)*(len(g.TWSMS)-1)*(len(g.TWARad)-1)*max(len(g.HsM)-1, 1)
	cells := len(t.settings) * (len(g.TWSMS) - 1) // rows of cells of the finer grid

	var next, failed atomic.Int64
	var mu sync.Mutex
	done := 0
	report := func(k int) {
		mu.Lock()
		defer mu.Unlock()
		done += k
		if progress != nil {
			progress(done, total)
		}
	}
	// The corrections need the speeds with the windward foil in: two phases.
	run := func(from, to int) error {
		next.Store(int64(from))
		var wg sync.WaitGroup
		for range max(1, min(workers, to-from)) {
			wg.Go(func() {
				s := m.newSolver(g.VMS)
				for {
					i := int(next.Add(1)) - 1
					if i >= to || ctx.Err() != nil {
						return
					}
					var k, f int
					switch {
					case i >= len(rows):
						j := i - len(rows)
						quarters := j >= cells
						j %= cells
						l := j / (len(g.TWSMS) - 1)
						k = t.fillFine(ctx, s, refine[l], quarters, l, j%(len(g.TWSMS)-1))
					case rows[i].w == 0:
						k, f = t.fillRow(ctx, s, rows[i])
					default:
						k, f = t.fillLess(ctx, s, &c, rows[i])
					}
					failed.Add(int64(f))
					report(k)
				}
			})
		}
		wg.Wait()
		return ctx.Err()
	}
	if err := run(0, full); err != nil {
		return nil, err
	}
	if err := run(full, len(rows)); err != nil {
		return nil, err
	}
	for l := range t.settings {
		refine = append(refine, t.newRefinement(l))
	}
	if err := run(len(rows), len(rows)+cells); err != nil {
		return nil, err
	}
	for l, r := range refine {
		t.halfway(r, l)
	}
	if err := run(len(rows)+cells, len(rows)+2*cells); err != nil {
		return nil, err
	}
	t.seeds = nil
	d.Failed = int(failed.Load())
	slices.SortFunc(d.Upper, func(a, b upperCell) int { return cmp.Compare(a.At, b.At) })
	t.finish()
	return t, nil
}

// fillRow solves one row of the full table. It returns how many points it did,
// and how many of them failed.
func (t *Table) fillRow(ctx context.Context, s *Solver, r row) (done, failed int) {
	g := &t.data.Grid
	na, nv := len(g.TWARad), len(g.VMS)
	for ih, hs := range g.HsM {
		last := -1
		for ia, twa := range g.TWARad {
			if ctx.Err() != nil {
				return done, failed
			}
			i := ((r.l*len(g.HsM)+ih)*len(g.TWSMS)+r.iw)*na + ia
			acc := t.data.Acc[i*numPowers*nv : (i+1)*numPowers*nv]
			s.set(Condition{TWSMS: g.TWSMS[r.iw], TWARad: twa, HsM: hs}, t.settings[r.l], FoilSetting{})
			if !t.fillPoint(s, i, acc) {
				failed++
				if last >= 0 {
					t.data.BSP[i], t.data.Cells[i] = t.data.BSP[last], t.data.Cells[last]
					copy(acc, t.data.Acc[last*numPowers*nv:(last+1)*numPowers*nv])
				}
			}
			last = i
			done++
		}
	}
	return done, failed
}

func (t *Table) fillPoint(s *Solver, i int, acc []float32) bool {
	g := &t.data.Grid
	nv := len(g.VMS)
	s.march(true)
	var st steadyState
	status := s.steady(&st, false)
	if status == Unsolved {
		return false
	}
	mass := s.m.hull.w0 / gravity
	for j := range s.nodes {
		nd := &s.nodes[j]
		if !nd.ok { // a gap in the curve: carry on as drag grows, with V²
			k := max(j-1, 0)
			for p := range numPowers {
				a := acc[p*nv+k]
				if a < 0 {
					a *= float32(g.VMS[j] * g.VMS[j] / (g.VMS[k] * g.VMS[k]))
				}
				acc[p*nv+j] = a
			}
			continue
		}
		rs := &s.m.righting[nd.at.rung]
		inv := 1 / (mass + rs.ballastKg + rs.trimKg + mass*s.m.boat.Hull.AddedMassFraction)
		for p := range numPowers {
			acc[p*nv+j] = float32(nd.net[p] * inv)
		}
	}
	c := &t.data.Cells[i]
	c.Rule = uint8(st.rule)
	if status == NoGo {
		c.Load = 1
		return true
	}
	nd := &st.node
	t.data.BSP[i] = nd.v
	t.seeds[i] = s.seedOf(&st)
	*c = t.cellOf(s, &st)
	c.Zero = float32(zeroOf(g.VMS, acc[int(PowerFull)*nv:], st.free))
	if c.Above > branchGapMS {
		var up steadyState
		if status := s.steady(&up, true); (status == Solved || status == Refused) && up.node.v > nd.v+branchGapMS {
			c.Above = float32(up.node.v - nd.v)
			t.keepUpper(i, up.node.v, t.cellOf(s, &up))
			return true
		}
	}
	c.Above = 0
	return true
}

// branchGapMS is how far apart two steady states lie that count as different.
const branchGapMS = 0.02

// keepUpper notes the state kept from above at point i; workers share the list.
func (t *Table) keepUpper(i int, v float64, c cell) {
	t.upperMu.Lock()
	defer t.upperMu.Unlock()
	t.data.Upper = append(t.data.Upper, upperCell{i, v, c})
}

// cellOf describes a steady state; Zero is left out.
func (t *Table) cellOf(s *Solver, st *steadyState) cell {
	nd := &st.node
	return cell{
		Heel: float32(nd.bal.phi), Leeway: float32(math.Atan(nd.x[iLeeway])), Trim: float32(nd.x[iTrim]),
		Load: float32(nd.x[iLoad]), FoilZ: float32(nd.bal.foilZ), FoilN: float32(nd.bal.foilN),
		Rate: float32(s.immersionsPerHour(&nd.bal, nd.v)), Depower: float32(nd.bal.depower * st.share),
		Above: float32(max(0, st.above-nd.v)), Rise: float32(nd.bal.rise),
		Lean: s.m.lean(&s.cond, s.st, nd), Sail: uint8(nd.at.sail), Rule: uint8(st.rule),
	}
}

// zeroOf finds the zero of the sampled curve y nearest to v, going down through it.
func zeroOf(x []float64, y []float32, v float64) float64 {
	best := v
	dist := math.Inf(1)
	for i := 0; i+1 < len(x); i++ {
		if !(y[i] > 0 && y[i+1] <= 0) {
			continue
		}
		lo, hi := x[i], x[i+1]
		for range 50 {
			mid := 0.5 * (lo + hi)
			if sampled(x, y[:len(x)], mid) > 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		if d := math.Abs(lo - v); d < dist {
			best, dist = lo, d
		}
	}
	return best
}

// fillLess solves one row of the correction for a windward foil that is out.
func (t *Table) fillLess(ctx context.Context, s *Solver, c *Grid, r row) (done, failed int) {
	g := &t.data.Grid
	l := t.groupSetting(r.l)
	ww := t.boat.idleSetting(t.exts[r.w])
	iw := indexOf(g.TWSMS, c.TWSMS[r.iw])
	for ih, hs := range c.HsM {
		for ia, twa := range c.TWARad {
			if ctx.Err() != nil {
				return done, failed
			}
			done++
			i := (((r.w-1)*len(t.exts)+r.l)*len(c.HsM)+ih)*len(c.TWSMS) + r.iw
			s.set(Condition{TWSMS: c.TWSMS[r.iw], TWARad: twa, HsM: hs}, t.settings[l], ww)
			s.march(false)
			var st steadyState
			status := s.steady(&st, false)
			if status == Unsolved {
				failed++
				continue
			}
			in := t.data.BSP[((l*len(g.HsM)+indexOf(g.HsM, hs))*len(g.TWSMS)+iw)*len(g.TWARad)+indexOf(g.TWARad, twa)]
			v := st.node.v
			if status == NoGo {
				v = 0
			}
			t.data.Less[i*len(c.TWARad)+ia] = in - v
		}
	}
	return done, failed
}

// groupSetting is the leeward setting that stands for a group: in, or the middle
// rake of an extension.
func (t *Table) groupSetting(k int) int {
	if k == 0 {
		return 0
	}
	nr := len(t.boat.Foils.RakesRad)
	return 1 + (k-1)*nr + nr/2
}

func indexOf(x []float64, v float64) int {
	for i := range x {
		if x[i] == v {
			return i
		}
	}
	panic("vpp: not on the grid")
}
