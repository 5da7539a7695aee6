package strategy

import (
	"math"
	"sync/atomic"

	"foilledger/vpp"
)

// The axes of the profiles. Speeding up is tabulated against the fraction of
// the steady speed, so that profiles of neighbouring conditions mix without
// smearing their end; slowing down against the speed itself.
const (
	accelCells   = 16
	slowStepMS   = 1.0
	slowCells    = 23 // up to 23 m/s
	nearlySteady = 0.98
)

// slowFloor keeps the integrals finite where the boat does not slow down any
// more, m/s². A boat that loses less than this needs eight minutes for a metre
// per second: such a way to slow down is never chosen.
const slowFloor = 0.002

// slowestRise bounds how long the boat needs for the last bit of its steady
// speed: it closes in on it at least with this time constant, s. It keeps the
// integrals finite where the interpolated curves of speed and acceleration
// disagree about the place of the zero.
const slowestRise = 600

// The parts of a profile.
const (
	profSteady    = iota                           // steady speed, m/s
	profLoad                                       // leeward foil's normal load over the square of speed, N/(m/s)²
	profAccelTime                                  // s from a fraction of the steady speed to 98 % of it, full power
	profAccelLost = profAccelTime + accelCells + 1 // s lost against sailing at the steady speed all the while
	profEasedTime = profAccelLost + accelCells + 1 // s from the top of the axis down to this speed, sails eased
	profEasedDist = profEasedTime + slowCells + 1  // m covered meanwhile
	profLooseTime = profEasedDist + slowCells + 1  // the same with the sails let go
	profLooseDist = profLooseTime + slowCells + 1
	profLen       = profLooseDist + slowCells + 1
)

// profile holds the integrals of the surge curve of one foil state in one
// condition, so that the price of a manoeuvre is a few look-ups.
type profile [profLen]float32

// profiles makes profiles on the grid of conditions as they are asked for. It
// may be used by several goroutines.
type profiles struct {
	perf   Performer
	grid   vpp.Grid
	exts   int
	nodes  int
	filled []atomic.Pointer[profile] // [role·nodes + node]
}

func newProfiles(perf Performer) *profiles {
	g := perf.Grid()
	p := &profiles{perf: perf, grid: g, exts: len(perf.Extensions()), nodes: len(g.TWSMS) * len(g.TWARad) * len(g.HsM)}
	p.filled = make([]atomic.Pointer[profile], len(perf.Settings())*p.exts*p.nodes)
	return p
}

// node returns the profile of a role (leeward setting · extensions + windward
// extension) at a node of the grid.
func (p *profiles) node(role int, node int32) *profile {
	at := &p.filled[role*p.nodes+int(node)]
	if f := at.Load(); f != nil {
		return f
	}
	nj, nk := len(p.grid.TWARad), len(p.grid.HsM)
	n := int(node)
	f := fillProfile(p.perf, role/p.exts, role%p.exts, vpp.Condition{
		TWSMS: p.grid.TWSMS[n/(nj*nk)], TWARad: p.grid.TWARad[n/nk%nj], HsM: p.grid.HsM[n%nk],
	})
	at.Store(f) // whoever else made it made the same
	return f
}

// gauss holds the places of the two-point Gauss rule on [0, 1]; both weigh ½.
var gauss = [2]float64{0.5 - 0.5/math.Sqrt(3), 0.5 + 0.5/math.Sqrt(3)}

func fillProfile(perf Performer, l, w int, c vpp.Condition) *profile {
	f := new(profile)
	steady := perf.At(l, w, c)
	v1 := steady.BSPMS
	f[profSteady] = float32(v1)
	if v1 > 1 {
		f[profLoad] = float32(math.Abs(steady.FoilLoadN) / (v1 * v1))
	}
	if v1 > stoppedMS {
		accel := func(u float64) float64 {
			return math.Max(perf.Accel(l, w, vpp.PowerFull, c, u), (v1-u)/slowestRise)
		}
		var t, lost float64
		for i := accelCells - 1; i >= 0; i-- {
			lo, hi := float64(i)/accelCells*v1, float64(i+1)/accelCells*v1
			for _, g := range gauss {
				u := lo + g*(hi-lo)
				lost += (hi - lo) / 2 / accel(u) * (1 - u/v1)
			}
			if hi > nearlySteady*v1 {
				hi = nearlySteady * v1
			}
			for _, g := range gauss {
				t += (hi - lo) / 2 / accel(lo+g*(hi-lo))
			}
			f[profAccelTime+i] = float32(t)
			f[profAccelLost+i] = float32(lost)
		}
	}
	for _, s := range [...]struct {
		power      vpp.Power
		time, dist int
	}{{vpp.PowerEased, profEasedTime, profEasedDist}, {vpp.PowerNone, profLooseTime, profLooseDist}} {
		var t, d float64
		for i := slowCells - 1; i >= 0; i-- {
			for _, g := range gauss {
				u := (float64(i) + g) * slowStepMS
				a := math.Max(-perf.Accel(l, w, s.power, c, u), slowFloor)
				t += slowStepMS / 2 / a
				d += slowStepMS / 2 / a * u
			}
			f[s.time+i] = float32(t)
			f[s.dist+i] = float32(d)
		}
	}
	return f
}

// steady returns the steady speed, m/s.
func (f *profile) steady() float64 { return float64(f[profSteady]) }

// accelPlace is where an integral of speeding up is interpolated: between two
// neighbouring parts. ok is false at the steady speed and above, where it is 0.
func accelPlace(v1, vMS float64) (i int, r float32, ok bool) {
	if vMS >= v1 || v1 <= 0 {
		return 0, 0, false
	}
	x := math.Max(vMS/v1, 0) * accelCells
	i = min(int(x), accelCells-1)
	return i, float32(x - float64(i)), true
}

// slowPlace is where an integral of slowing down is interpolated.
func slowPlace(vMS float64) (i int, r float32) {
	x := math.Min(math.Max(vMS/slowStepMS, 0), slowCells)
	i = min(int(x), slowCells-1)
	return i, float32(x - float64(i))
}

// accel interpolates an integral of speeding up at boat speed vMS.
func (f *profile) accel(part int, vMS float64) float64 {
	i, r, ok := accelPlace(f.steady(), vMS)
	if !ok {
		return 0
	}
	return float64(f[part+i] + r*(f[part+i+1]-f[part+i]))
}

// slow interpolates an integral of slowing down at boat speed vMS.
func (f *profile) slow(part int, vMS float64) float64 {
	i, r := slowPlace(vMS)
	return float64(f[part+i] + r*(f[part+i+1]-f[part+i]))
}

// slowDown returns time and distance from speed v down to target.
func (f *profile) slowDown(time, dist int, v, target float64) (t, d float64) {
	t = f.slow(time, target) - f.slow(time, v)
	d = f.slow(dist, target) - f.slow(dist, v)
	return math.Max(t, 0), math.Max(d, 0)
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
		wt := 1.0
		at := [3]int{i, j, k}
		f := [3]float64{fi, fj, fk}
		n := [3]int{len(p.grid.TWSMS), nj, nk}
		for ax := range 3 {
			if b>>(2-ax)&1 == 1 {
				wt *= f[ax]
				at[ax] = min(at[ax]+1, n[ax]-1)
			} else {
				wt *= 1 - f[ax]
			}
		}
		c.node[b] = int32((at[0]*nj+at[1])*nk + at[2])
		c.weight[b] = float32(wt)
	}
	return c
}

// mixture is the profile of a role in a cell of which only a few parts are
// needed.
type mixture struct {
	corner [8]*profile
	weight [8]float32
	n      int
}

func (p *profiles) mixture(role int, c *cell) (m mixture) {
	for b, w := range c.weight {
		if w != 0 {
			m.corner[m.n], m.weight[m.n] = p.node(role, c.node[b]), w
			m.n++
		}
	}
	return m
}

// part interpolates one part.
func (m *mixture) part(i int) (sum float32) {
	for b, f := range m.corner[:m.n] {
		sum += m.weight[b] * f[i]
	}
	return sum
}

func (m *mixture) steady() float64 { return float64(m.part(profSteady)) }

// slow is profile.slow.
func (m *mixture) slow(part int, vMS float64) float64 {
	i, r := slowPlace(vMS)
	a := m.part(part + i)
	return float64(a + r*(m.part(part+i+1)-a))
}

// mix interpolates the whole profile of a role in a cell.
func (p *profiles) mix(role int, c *cell, out *profile) {
	*out = profile{}
	for b, w := range c.weight {
		if w == 0 {
			continue
		}
		f := p.node(role, c.node[b])
		for i := range out {
			out[i] += w * f[i]
		}
	}
}
