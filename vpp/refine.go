package vpp

import (
	"context"
	"math"
)

// The speeds of a table stand on a finer grid than its surge curves: between the
// grid points only the steady speed is solved, which takes a fiftieth of the time
// of a curve, starting from the points around and with the sails, keel and ballast
// in use there. Where a limit rules one of them, or one has no steady state, the
// speed is interpolated between them. It goes in two steps: first the middles of
// the intervals, then the quarters, these only where the middles were not
// foreseen by the points of the grid: elsewhere the surface through the middles
// is as good.

// How many parts each interval of the grid is cut into. Those of wind speed and
// angle are cut in half twice.
const (
	fineHs  = 2
	fineTWS = 4
	fineTWA = 4
)

// smoothMS is by how much a speed in the middle may differ from that interpolated
// between the grid points for the quarters beside it to be interpolated, m/s. The
// error of these is then some four to eight times smaller.
const smoothMS = 0.02

// fine is the grid of the speeds: each interval cut into parts.
func (g *Grid) fine() Grid {
	cut := func(x []float64, parts int) []float64 {
		var y []float64
		for i := range x {
			for k := 0; k < parts && (i+1 < len(x) || k == 0); k++ {
				v := x[i]
				if k > 0 {
					v += (x[i+1] - x[i]) * float64(k) / float64(parts)
				}
				y = append(y, v)
			}
		}
		return y
	}
	return Grid{TWSMS: cut(g.TWSMS, fineTWS), TWARad: cut(g.TWARad, fineTWA), HsM: cut(g.HsM, fineHs), VMS: g.VMS}
}

// seed is the steady state at a grid point before the limits that slow a boat
// down, as a start for those between.
type seed struct {
	v  float64
	x  [nUnknown]float64
	at choice
	ok bool // false also where the boat makes no way (v = 0)

	load bool // the foil's load holds the boat below v, at slow
	slow float64
	hold choice
	with [nUnknown]float64
}

// seedOf keeps the steady state just found, of which st is what limits leave.
func (s *Solver) seedOf(st *steadyState) seed {
	nd := &s.eq[0]
	plain := !st.slowed || st.rule == ruleFoilLoad || st.rule == ruleBowImmersion
	return seed{
		v: nd.v, x: nd.x, at: nd.at, ok: plain && !nd.jump,
		load: st.slowed && st.rule == ruleFoilLoad, slow: st.node.v, hold: st.node.at, with: st.node.x,
	}
}

// refinement is the work on the finer grid for one leeward setting.
type refinement struct {
	fine   Grid
	axes   [3]axis // of the grid itself: sea, wind speed, angle
	coarse *surface3
	// After the first step: surfaces on the finer seas, through the winds and angles
	// of the grid and through the middles as well.
	grid, middle *surface3
}

// newRefinement starts with the speeds at the grid points.
func (t *Table) newRefinement(l int) *refinement {
	g := &t.data.Grid
	n := len(g.HsM) * len(g.TWSMS) * len(g.TWARad)
	r := &refinement{fine: g.fine(), axes: [3]axis{newAxis(g.HsM), newAxis(g.TWSMS), newAxis(g.TWARad)}}
	r.coarse = newSurface3(&r.axes[0], &r.axes[1], &r.axes[2], t.data.BSP[l*n:(l+1)*n])
	return r
}

// halfway makes the surfaces that the quarters are judged by.
func (t *Table) halfway(r *refinement, l int) {
	f := &r.fine
	nh, nw, na := len(f.HsM), len(f.TWSMS), len(f.TWARad)
	v := t.data.Fine[l*nh*nw*na : (l+1)*nh*nw*na]
	every := func(sw, sa int) *surface3 {
		thin := func(x []float64, step int) *axis {
			var y []float64
			for i := 0; i < len(x); i += step {
				y = append(y, x[i])
			}
			a := newAxis(y)
			return &a
		}
		var y []float64
		for h := range nh {
			for w := 0; w < nw; w += sw {
				for a := 0; a < na; a += sa {
					y = append(y, v[(h*nw+w)*na+a])
				}
			}
		}
		return newSurface3(thin(f.HsM, 1), thin(f.TWSMS, sw), thin(f.TWARad, sa), y)
	}
	r.grid, r.middle = every(fineTWS, fineTWA), every(fineTWS/2, fineTWA/2)
}

// foreseen reports whether the middles around a quarter, jh, jw, ja on the finer
// grid, are where the grid points had them.
func (r *refinement) foreseen(jh, jw, ja int) bool {
	const mw, ma = fineTWS / 2, fineTWA / 2
	for w := jw / mw; w*mw < jw+mw && w < len(r.middle.tws.x); w++ {
		for a := ja / ma; a*ma < ja+ma && a < len(r.middle.twa.x); a++ {
			sp := r.grid.spot(r.fine.HsM[jh], r.middle.tws.x[w], r.middle.twa.x[a])
			if d := r.middle.c[r.middle.index(jh, w, a)].f - r.grid.at(&sp); !(math.Abs(d) <= smoothMS) {
				return false
			}
		}
	}
	return true
}

// fillFine solves the speeds between the grid points for one leeward setting,
// along the iw-th interval of wind speed: the middles, or then the quarters. It
// returns how many cells it did.
func (t *Table) fillFine(ctx context.Context, s *Solver, r *refinement, quarters bool, l, iw int) (done int) {
	g, fine := &t.data.Grid, &r.fine
	nh, nw, na := len(g.HsM), len(g.TWSMS), len(g.TWARad)
	fw, fa := len(fine.TWSMS), len(fine.TWARad)
	out := t.data.Fine[l*len(fine.HsM)*fw*fa:]
	seeds := t.seeds[l*nh*nw*na:]
	last := func(i, n, parts int) int { // the last interval has its end, too
		if i+1 >= n-1 {
			return parts
		}
		return parts - 1
	}
	var buf [8]corner
	for ih := range max(nh-1, 1) {
		for ia := range na - 1 {
			if ctx.Err() != nil {
				return done
			}
			done++
			known, sails := true, false
			around := buf[:0]
			for dh := range min(nh, 2) {
				for dw := range 2 {
					for da := range 2 {
						c := &seeds[((ih+dh)*nw+iw+dw)*na+ia+da]
						around = append(around, corner{seed: c})
						known = known && (c.ok || c.v == 0)
						sails = sails || c.ok
					}
				}
			}
			lh := 0
			if nh > 1 {
				lh = last(ih, nh, fineHs)
			}
			for kh := 0; kh <= lh; kh++ {
				for kw := 0; kw <= last(iw, nw, fineTWS); kw++ {
					for ka := 0; ka <= last(ia, na, fineTWA); ka++ {
						if quarters == (kw%(fineTWS/2) == 0 && ka%(fineTWA/2) == 0) {
							continue
						}
						jh, jw, ja := ih*fineHs+kh, iw*fineTWS+kw, ia*fineTWA+ka
						c := Condition{TWSMS: fine.TWSMS[jw], TWARad: fine.TWARad[ja], HsM: fine.HsM[jh]}
						u := r.coarse
						if quarters {
							u = r.middle
						}
						sp := u.spot(c.HsM, c.TWSMS, c.TWARad)
						v := u.at(&sp)
						on := kh%fineHs == 0 && kw%fineTWS == 0 && ka%fineTWA == 0
						if !on && known && sails && !(quarters && r.foreseen(jh, jw, ja)) {
							weigh(around, nh > 1, float64(kh)/fineHs, float64(kw)/fineTWS, float64(ka)/fineTWA)
							v = s.between(c, t.settings[l], around, v)
						}
						out[(jh*fw+jw)*fa+ja] = max(v, 0)
					}
				}
			}
		}
	}
	return done
}
