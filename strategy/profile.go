package strategy

import (
	"context"
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"

	"foilledger/vpp"
)

// The speed axis of the profiles, m/s, and the number of integration steps in
// each of its cells.
const (
	profileStepMS = 1.0
	profileCount  = 24 // 0 … 23 m/s
	profileSub    = 4
)

// accelFloor keeps the integrals finite where thrust and resistance balance,
// m/s². A boat that gains less than this needs more than four minutes for one
// knot, longer than any manoeuvre waits.
const accelFloor = 0.002

// The integrals of a profile, each tabulated against boat speed.
const (
	accelTime = iota // s from this speed to 98 % of the steady speed, full power
	accelLost        // s lost against sailing at the steady speed all the while
	easedTime        // s from the top of the axis down to this speed, sails eased
	easedDist        // m covered meanwhile
	looseTime        // the same with the sails let go
	looseDist        //
	integrals        // count
)

// profiles tabulates how the boat speeds up and slows down: for each foil
// state and each condition of the boat's grid the integrals of its surge
// curve, so that a manoeuvre's price is a few look-ups.
type profiles struct {
	grid    vpp.Grid
	exts    int
	nodes   int
	values  []float32 // [(l·exts+w)·nodes + node][integral][speed]
	steady  []float32 // [(l·exts+w)·nodes + node] steady speed, m/s
	loadPer []float32 // leeward foil's normal load over the square of speed, N/(m/s)²
}

func newProfiles(ctx context.Context, perf Performer) (*profiles, error) {
	g := perf.Grid()
	nl, nw := len(perf.Settings()), len(perf.Extensions())
	p := &profiles{grid: g, exts: nw, nodes: len(g.TWSMS) * len(g.TWARad) * len(g.HsM)}
	n := nl * nw * p.nodes
	p.values = make([]float32, n*integrals*profileCount)
	p.steady = make([]float32, n)
	p.loadPer = make([]float32, n)
	eg, ctx := errgroup.WithContext(ctx)
	eg.SetLimit(runtime.GOMAXPROCS(0))
	for lw := range nl * nw {
		eg.Go(func() error {
			l, w := lw/nw, lw%nw
			node := 0
			for _, tws := range g.TWSMS {
				if err := ctx.Err(); err != nil {
					return err
				}
				for _, twa := range g.TWARad {
					for _, hs := range g.HsM {
						p.fill(perf, l, w, lw*p.nodes+node, vpp.Condition{TWSMS: tws, TWARad: twa, HsM: hs})
						node++
					}
				}
			}
			return nil
		})
	}
	if err := eg.Wait(); err != nil {
		return nil, err
	}
	return p, nil
}

func (p *profiles) fill(perf Performer, l, w, at int, c vpp.Condition) {
	steady := perf.At(l, w, c)
	v1 := steady.BSPMS
	p.steady[at] = float32(v1)
	if v1 > 1 {
		p.loadPer[at] = float32(math.Abs(steady.FoilLoadN) / (v1 * v1))
	}
	vals := p.values[at*integrals*profileCount : (at+1)*integrals*profileCount]
	top := float64(profileCount-1) * profileStepMS
	const h = profileStepMS / profileSub

	// Speeding up: from the steady speed down to rest, accumulating.
	var t, lost float64
	for i := profileCount - 1; i >= 0; i-- {
		lo := float64(i) * profileStepMS
		if lo < v1 {
			// Sub-steps between lo and min(lo+step, v1).
			hi := math.Min(lo+profileStepMS, v1)
			dv := (hi - lo) / profileSub
			for k := range profileSub {
				u := hi - (float64(k)+0.5)*dv
				a := math.Max(perf.Accel(l, w, vpp.PowerFull, c, u), accelFloor)
				lost += dv / a * (1 - u/v1)
				if u < 0.98*v1 {
					t += dv / a
				}
			}
		}
		vals[accelTime*profileCount+i] = float32(t)
		vals[accelLost*profileCount+i] = float32(lost)
	}
	// Slowing down from the top of the axis.
	for _, s := range [...]struct {
		power      vpp.Power
		time, dist int
	}{{vpp.PowerEased, easedTime, easedDist}, {vpp.PowerNone, looseTime, looseDist}} {
		var t, d float64
		for i := profileCount - 1; i >= 0; i-- {
			if lo := float64(i) * profileStepMS; lo < top {
				for k := range profileSub {
					u := lo + profileStepMS - (float64(k)+0.5)*h
					a := math.Max(-perf.Accel(l, w, s.power, c, u), accelFloor)
					t += h / a
					d += h / a * u
				}
			}
			vals[s.time*profileCount+i] = float32(t)
			vals[s.dist*profileCount+i] = float32(d)
		}
	}
}

// cell is a place in the grid of conditions: eight corners and their weights.
type cell struct {
	node   [8]int32
	weight [8]float32
}

// bracket finds x on the ascending axis a; x is clamped to its ends.
func bracket(a []float64, x float64) (i int, f float64) {
	n := len(a)
	if n == 1 || x <= a[0] {
		return 0, 0
	}
	if x >= a[n-1] {
		return n - 2, 1
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		m := (lo + hi) / 2
		if a[m] <= x {
			lo = m
		} else {
			hi = m
		}
	}
	return lo, (x - a[lo]) / (a[lo+1] - a[lo])
}

// locate returns the cell of a condition, clamped to the grid.
func (p *profiles) locate(twsMS, twaRad, hsM float64) cell {
	i, fi := bracket(p.grid.TWSMS, twsMS)
	j, fj := bracket(p.grid.TWARad, twaRad)
	k, fk := bracket(p.grid.HsM, hsM)
	nj, nk := len(p.grid.TWARad), len(p.grid.HsM)
	var c cell
	for b := range 8 {
		di, dj, dk := b>>2, b>>1&1, b&1
		wt := 1.0
		ii, jj, kk := i, j, k
		for _, ax := range [...]struct {
			d int
			f float64
			x *int
			n int
		}{{di, fi, &ii, len(p.grid.TWSMS)}, {dj, fj, &jj, nj}, {dk, fk, &kk, nk}} {
			if ax.d == 1 {
				wt *= ax.f
				if *ax.x+1 < ax.n {
					*ax.x++
				}
			} else {
				wt *= 1 - ax.f
			}
		}
		c.node[b] = int32((ii*nj+jj)*nk + kk)
		c.weight[b] = float32(wt)
	}
	return c
}

// at interpolates one integral of the state (l, w) at boat speed vMS.
func (p *profiles) at(l, w int, c *cell, integral int, vMS float64) float64 {
	x := vMS / profileStepMS
	i := int(x)
	if i < 0 {
		i, x = 0, 0
	} else if i >= profileCount-1 {
		i, x = profileCount-2, profileCount-1
	}
	f := float32(x - float64(i))
	base := (l*p.exts + w) * p.nodes
	var sum float32
	for b := range 8 {
		if c.weight[b] == 0 {
			continue
		}
		o := ((base+int(c.node[b]))*integrals+integral)*profileCount + i
		sum += c.weight[b] * (p.values[o] + f*(p.values[o+1]-p.values[o]))
	}
	return float64(sum)
}

// mix interpolates a per-node value of the state (l, w).
func (p *profiles) mix(values []float32, l, w int, c *cell) float64 {
	base := (l*p.exts + w) * p.nodes
	var sum float32
	for b := range 8 {
		sum += c.weight[b] * values[base+int(c.node[b])]
	}
	return float64(sum)
}
