package vpp

import (
	"math"
	"sync"
)

// Table is the speed of one boat over foil settings, wind and sea, and its surge
// acceleration. It is immutable and safe for concurrent use.
//
// The leeward foil has every setting of the boat file on the full grid, the
// windward foil being in. A windward foil that is out (idle, at the rake nearest
// 0) is a correction to the speed, computed on every other grid point with the
// leeward foil in or at its middle rake; its drag is left out of the
// accelerations at eased and no power.
//
// The sea is taken to run with the wind. A condition with another wave angle is
// read at the height that would brake as much running with the wind, within half
// and twice the real height.
//
// Outside the axes the end value is held, [Steady].Clamped is set, and a state
// with a foil out is not ok. Closer to the wind than the boat can sail the speed
// is 0: sail there by [Table.BestVMG].
type Table struct {
	boat     *Boat
	factors  Factors
	settings []FoilSetting
	exts     []float64
	data     tableData

	tws, twa, hs    axis
	ftws, ftwa, fhs axis      // of the speeds
	points          *surface3 // the grid points, without values
	ctws, ctwa, chs axis
	speed           []*surface3   // by leeward setting
	less            [][]*surface3 // by windward extension − 1, then by leeward group
	group           []int         // leeward setting → group
	seeds           []seed        // only while the table is built
	upperMu         sync.Mutex    // guards data.Upper while the table is built
	upper           map[int]int   // point → its place in data.Upper
}

// tableData is what is computed, and kept in the cache.
type tableData struct {
	Grid   Grid
	BSP    []float64 // leeward setting, sea, wind, angle
	Fine   []float64 // the same on the finer grid of the speeds
	Cells  []cell
	Acc    []float32   // …, power, boat speed; m/s²
	Less   []float64   // windward extension − 1, leeward group, coarse sea, wind, angle: BSP less that with the foil in
	Upper  []upperCell // where the boat keeps another state from above; by point
	Sails  []string
	Failed int // points whose balances were not solved, filled from a neighbour
}

// cell is a steady state in the table.
type cell struct {
	Heel, Leeway, Trim, Load, FoilZ, FoilN, Rate, Depower float32
	Above                                                 float32 // speed kept from above, less BSP
	Zero                                                  float32 // where the sampled acceleration at full power vanishes
	Rise                                                  float32
	Lean                                                  Lean
	Sail, Rule                                            uint8
}

// upperCell is the steady state kept from above at one point of the table.
type upperCell struct {
	At   int // index of the point in BSP and Cells
	BSP  float64
	Cell cell
}

// finish derives the interpolating surfaces from the data.
func (t *Table) finish() {
	g := &t.data.Grid
	t.upper = make(map[int]int, len(t.data.Upper))
	for i := range t.data.Upper {
		t.upper[t.data.Upper[i].At] = i
	}
	t.hs, t.tws, t.twa = newAxis(g.HsM), newAxis(g.TWSMS), newAxis(g.TWARad)
	c := g.coarse()
	t.chs, t.ctws, t.ctwa = newAxis(c.HsM), newAxis(c.TWSMS), newAxis(c.TWARad)
	t.points = &surface3{hs: &t.hs, tws: &t.tws, twa: &t.twa}
	f := g.fine()
	t.fhs, t.ftws, t.ftwa = newAxis(f.HsM), newAxis(f.TWSMS), newAxis(f.TWARad)
	n := len(f.HsM) * len(f.TWSMS) * len(f.TWARad)
	for l := range t.settings {
		t.speed = append(t.speed, newSurface3(&t.fhs, &t.ftws, &t.ftwa, t.data.Fine[l*n:(l+1)*n]))
		t.group = append(t.group, groupOf(t.settings[l], t.exts))
	}
	cn := len(c.HsM) * len(c.TWSMS) * len(c.TWARad)
	for w := 1; w < len(t.exts); w++ {
		var row []*surface3
		for k := range t.exts {
			i := ((w-1)*len(t.exts) + k) * cn
			row = append(row, newSurface3(&t.chs, &t.ctws, &t.ctwa, t.data.Less[i:i+cn]))
		}
		t.less = append(t.less, row)
	}
}

// groupOf is the index of a leeward setting's extension.
func groupOf(s FoilSetting, exts []float64) int {
	for i, e := range exts {
		if e == s.Extension {
			return i
		}
	}
	return 0
}

// Boat returns the boat; it must not be changed.
func (t *Table) Boat() *Boat { return t.boat }

// Settings lists the leeward settings that l indexes; 0 is in.
func (t *Table) Settings() []FoilSetting { return t.settings }

// Extensions lists the windward extensions that w indexes; 0 is in.
func (t *Table) Extensions() []float64 { return t.exts }

// Grid returns the axes.
func (t *Table) Grid() Grid { return t.data.Grid }

// Failed is how many points of the table could not be solved and were filled
// from a neighbour; 0 in a sound table.
func (t *Table) Failed() int { return t.data.Failed }

// Speed is the steady boat speed reached from below, with leeward setting l and
// windward extension w. ok is false when a limit refuses this foil state in these
// conditions ([Table.At] says which), when a foil is out beyond the table's axes,
// or when an input is not finite. It allocates nothing.
func (t *Table) Speed(l, w int, c Condition) (bspMS float64, ok bool) {
	hs := c.HsM
	if c.WaveFromBowRad != 0 {
		hs = equivalentHs(&c)
	}
	s := t.speed[l].spot(hs, c.TWSMS, c.TWARad)
	if math.IsNaN(hs + c.TWSMS + c.TWARad) {
		return 0, false
	}
	v := t.speed[l].at(&s)
	if w > 0 {
		v -= t.lost(l, w, hs, &c)
	}
	if v < 0 {
		v = 0
	}
	if l > 0 || w > 0 {
		_, refused := t.refusal(l, w, &c)
		return v, !refused && s.in
	}
	return v, true
}

func (t *Table) lost(l, w int, hs float64, c *Condition) float64 {
	u := t.less[w-1][t.group[l]]
	s := u.spot(hs, c.TWSMS, c.TWARad)
	return u.at(&s)
}

func (t *Table) refusal(l, w int, c *Condition) (rule int, refused bool) {
	if l == 0 && w == 0 {
		return 0, false
	}
	switch lim := &t.boat.Limits; {
	case c.TWSMS > lim.MaxFoilsOutTWSMS:
		return ruleWind, true
	case c.HsM > lim.MaxFoilsOutHsM:
		return ruleSea, true
	}
	return 0, false
}

// EquivalentHs is the wave height that brakes as much when the sea runs with the
// wind as the condition's sea does from its own angle: HsM itself when it does
// run with the wind.
func (c Condition) EquivalentHs() float64 {
	if c.WaveFromBowRad == 0 {
		return c.HsM
	}
	return equivalentHs(&c)
}

// equivalentHs is the wave height that brakes as much when the sea runs with the
// wind as the real sea does from its own angle: added resistance goes with Hs²
// times its share at that angle; 0.15 stands for the bow's motion, which does
// not vanish in a following sea.
func equivalentHs(c *Condition) float64 {
	const floor = 0.15
	r := math.Sqrt((encounterShare(c.waveAngle()) + floor) / (encounterShare(c.TWARad) + floor))
	return c.HsM * min(max(r, 0.5), 2)
}

// At is the steady state reached from below. Its speed is that of Speed; heel,
// trim and the rest are straight interpolations between grid points, and the
// sail set is that of the nearest grid point.
func (t *Table) At(l, w int, c Condition) Steady { return t.steady(l, w, c, false) }

// AtAbove is the steady state kept when coming from higher speed. It is that of
// At wherever the boat has one steady state only.
func (t *Table) AtAbove(l, w int, c Condition) Steady { return t.steady(l, w, c, true) }

func (t *Table) steady(l, w int, c Condition, fromAbove bool) Steady {
	var out Steady
	hs := c.HsM
	if c.WaveFromBowRad != 0 {
		hs = equivalentHs(&c)
	}
	if math.IsNaN(hs + c.TWSMS + c.TWARad) {
		return out
	}
	out.BSPMS, out.OK = t.Speed(l, w, c)
	u := t.points
	s := u.spot(hs, c.TWSMS, c.TWARad)
	out.Clamped = !s.in
	base := l * len(t.data.Cells) / len(t.settings)
	var above float64
	best := 0.0
	var near *cell
	u.corners(&s, func(i int, k float64) {
		p := &t.data.Cells[base+i]
		above += k * float64(p.Above)
		if fromAbove {
			if j, ok := t.upper[base+i]; ok {
				p = &t.data.Upper[j].Cell
			}
		}
		out.HeelRad += k * float64(p.Heel)
		out.LeewayRad += k * float64(p.Leeway)
		out.TrimRad += k * float64(p.Trim)
		out.HullLoad += k * float64(p.Load)
		out.RiseM += k * float64(p.Rise)
		out.FoilLiftN += k * float64(p.FoilZ)
		out.FoilLoadN += k * float64(p.FoilN)
		out.BowImmersionsPerHour += k * float64(p.Rate)
		out.Depower += k * float64(p.Depower)
		if k > best {
			best, near = k, p
		}
	})
	out.BSPAboveMS = out.BSPMS + max(above, 0)
	if fromAbove {
		out.BSPMS = out.BSPAboveMS
	}
	rule := int(near.Rule)
	if near.Rule != ruleNoGo {
		out.Sail = t.data.Sails[near.Sail]
	}
	out.Lean = near.Lean
	if r, refused := t.refusal(l, w, &c); refused {
		rule = r
	} else if out.Clamped {
		rule = ruleGrid
	}
	out.RuledBy = ruleNames[rule]
	return out
}

// corners visits the grid points around a spot with their weights, which sum to 1.
func (u *surface3) corners(s *spot, visit func(i int, k float64)) {
	for dh := range 2 {
		kh := weight(dh, s.th)
		if kh == 0 {
			continue
		}
		for dw := range 2 {
			kw := kh * weight(dw, s.tw)
			if kw == 0 {
				continue
			}
			for da := range 2 {
				if k := kw * weight(da, s.ta); k != 0 {
					visit(u.index(s.h+dh, s.w+dw, s.a+da), k)
				}
			}
		}
	}
}

func weight(d int, t float64) float64 {
	if d == 0 {
		return 1 - t
	}
	return t
}

// Accel is the surge acceleration X(V)/(m + added mass), m/s², at boat speed vMS
// with leeward setting l, windward extension w and the sails at power p. At full
// power it vanishes at the speed that Speed gives, limits included. vMS is held
// within the table's boat speeds. It is 0 for inputs that are not finite.
func (t *Table) Accel(l, w int, p Power, c Condition, vMS float64) float64 {
	hs := c.HsM
	if c.WaveFromBowRad != 0 {
		hs = equivalentHs(&c)
	}
	if math.IsNaN(hs+c.TWSMS+c.TWARad+vMS) || p < PowerNone || p > PowerFull {
		return 0
	}
	u := t.points
	s := u.spot(hs, c.TWSMS, c.TWARad)
	shift := 0.0
	if p == PowerFull {
		f := t.speed[l].spot(hs, c.TWSMS, c.TWARad)
		v := t.speed[l].at(&f)
		if w > 0 {
			v -= t.lost(l, w, hs, &c)
		}
		shift = max(v, 0)
	}
	nv := len(t.data.Grid.VMS)
	base := l * len(t.data.Cells) / len(t.settings)
	var a float64
	for dh := range 2 {
		kh := weight(dh, s.th)
		if kh == 0 {
			continue
		}
		for dw := range 2 {
			kw := kh * weight(dw, s.tw)
			if kw == 0 {
				continue
			}
			for da := range 2 {
				k := kw * weight(da, s.ta)
				if k == 0 {
					continue
				}
				i := base + u.index(s.h+dh, s.w+dw, s.a+da)
				v := vMS
				if p == PowerFull {
					// Each corner is read as far from its own steady speed as vMS is
					// from the steady speed here.
					v += float64(t.data.Cells[i].Zero) - shift
				}
				a += k * sampled(t.data.Grid.VMS, t.data.Acc[(i*numPowers+int(p))*nv:][:nv], v)
			}
		}
	}
	return a
}

// sampled is the monotone cubic through samples y at x, ends held.
func sampled(x []float64, y []float32, v float64) float64 {
	n := len(x)
	if !(v > x[0]) {
		return float64(y[0])
	}
	if v >= x[n-1] {
		return float64(y[n-1])
	}
	i := 0
	for j := n; j-i > 1; {
		if m := (i + j) / 2; x[m] <= v {
			i = m
		} else {
			j = m
		}
	}
	y0, y1 := float64(y[i]), float64(y[i+1])
	h := x[i+1] - x[i]
	d := (y1 - y0) / h
	m0, m1 := d, d
	if i > 0 {
		h0 := x[i] - x[i-1]
		m0 = butland(h0, h, (y0-float64(y[i-1]))/h0, d)
	}
	if i+2 < n {
		h1 := x[i+2] - x[i+1]
		m1 = butland(h, h1, d, (float64(y[i+2])-y1)/h1)
	}
	f, _ := hermite(x[i], x[i+1], y0, y1, m0, m1, v)
	return f
}

// BestVMG is the true wind angle of the best speed made good against the wind
// (upwind) or before it, and that speed, ≥ 0; 0 when there is none.
func (t *Table) BestVMG(l, w int, twsMS, hsM float64, upwind bool) (twaRad, vmgMS float64) {
	sign := 1.0
	if !upwind {
		sign = -1
	}
	made := func(a float64) float64 {
		v, _ := t.Speed(l, w, Condition{TWSMS: twsMS, TWARad: a, HsM: hsM})
		return sign * v * math.Cos(a)
	}
	x := t.twa.x
	best := -1
	for i, a := range x {
		if sign*math.Cos(a) <= 0 {
			continue
		}
		if v := made(a); v > vmgMS {
			best, twaRad, vmgMS = i, a, v
		}
	}
	if best < 0 {
		return 0, 0
	}
	// Golden section between the neighbours.
	lo, hi := x[max(best-1, 0)], x[min(best+1, len(x)-1)]
	const r = 0.6180339887498949
	a, b := hi-r*(hi-lo), lo+r*(hi-lo)
	fa, fb := made(a), made(b)
	for range 22 {
		if fa > fb {
			hi, b, fb = b, a, fa
			a = hi - r*(hi-lo)
			fa = made(a)
		} else {
			lo, a, fa = a, b, fb
			b = lo + r*(hi-lo)
			fb = made(b)
		}
	}
	for _, k := range [...]struct{ a, f float64 }{{a, fa}, {b, fb}} {
		if k.f > vmgMS {
			twaRad, vmgMS = k.a, k.f
		}
	}
	return twaRad, vmgMS
}
