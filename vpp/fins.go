package vpp

import (
	"math"

	"foilledger/vpp/units"
)

// Keel fin, rudder and side board: lifting surfaces below the hull.
//
// Sources: Helmbold's lift slope; effective span from the effective draught of
// Keuning & Sonnenberg (1998; coefficients from memory), held at the edge of its
// range (B/Tc ≤ 10, Tc/T ≥ 0.2, Fn ≤ 0.45) where this boat lies outside; profile
// drag by the ITTC-57 line and Hoerner's form factors; lift levels off at CL 1.1.

const (
	finMaxCL    = 1.1
	crossFlowCD = 1.1 // flat body square to the flow (Hoerner 1965, ch. 3; from memory)
	draftTaper  = 0.7 // keel taper in the effective-draught formula
	draftMinTcT = 0.2
	draftMaxBTc = 10.0
	draftMaxFn  = 0.45
	helmShare   = 1.0 // the rudder meets the flow at the leeway angle
)

// finSide is one surface, canted by κ to the side that the boat heels away from
// (positive for a keel canted to windward).
type finSide struct {
	area, span float64
	x, arm     float64 // arm: roll arm of the normal force
	sinK, cosK float64 // of κ
	height     float64 // of its centre over G, for the pitch arm of its drag
	lateral    float64
}

func newFin(b *Boat, span, chord, x, y, cant float64) finSide {
	f := finSide{area: span * chord, span: span, x: x, lateral: span * chord}
	f.sinK, f.cosK = math.Sincos(cant)
	// Centre of lift at 45 % of the span from the hull (elliptic loading), on an
	// axis that points down, and to windward by the cant.
	root := -b.Hull.DraftM - b.Hull.CGHeightM
	yc := y - 0.45*span*f.sinK
	zc := root - 0.45*span*f.cosK
	f.arm = zc*f.cosK + yc*f.sinK
	f.height = zc
	return f
}

// helmbold is the lift slope of a wing of aspect ratio a, per radian:
// 2πA/(2+√(A²+4)) (Helmbold 1942).
func helmbold(a float64) float64 { return 2 * math.Pi * a / (2 + math.Sqrt(a*a+4)) }

// prandtlSlope is 2π/(1+2/A), for elliptic wings of large aspect ratio (Prandtl
// 1918).
func prandtlSlope(a float64) float64 { return 2 * math.Pi / (1 + 2/a) }

// sweptSlope is 2πA/(2+√(A²(1+tan²Λ)/k²+4)), k the section slope over 2π (Lowry &
// Polhamus 1957, NACA TN 3911).
func sweptSlope(a, sweepRad, k float64) float64 {
	t := math.Tan(sweepRad)
	return 2 * math.Pi * a / (2 + math.Sqrt(a*a/(k*k)*(1+t*t)+4))
}

// draftCurve returns effective over geometric span against heel at one Froude
// number; sampled 0..30°, held beyond.
func draftNodes(b *Boat, fn float64) [4]float64 {
	h := &b.Hull
	t := h.DraftM + b.Keel.FinSpanM
	tcT := max(h.DraftM/t, draftMinTcT)
	bt := min(h.BeamWaterlineM/h.DraftM, draftMaxBTc)
	var y [4]float64
	for i := range y {
		y[i] = min(effectiveDraft(i, tcT, bt, draftTaper, min(fn, draftMaxFn)), math.Sqrt2)
	}
	return y
}

// draftAt interpolates the nodes smoothly in heel, evenly about upright.
func draftAt(y *[4]float64, phi d3) d3 {
	p := math.Abs(phi.v) / units.Rad(10)
	sgn := math.Copysign(1/units.Rad(10), phi.v)
	if p >= 3 {
		return con(y[3])
	}
	i := int(p)
	t := p - float64(i)
	at := func(j int) float64 {
		if j < 0 {
			j = -j
		}
		return y[min(j, 3)]
	}
	m0, m1 := (at(i+1)-at(i-1))/2, (at(i+2)-at(i))/2
	if i == 2 {
		m1 = 0
	}
	d := y[i+1] - y[i]
	a, b := m0-d, d-m1
	u := 1 - t
	f := u*y[i] + t*y[i+1] + t*u*(u*a+t*b)
	df := (d + (1-2*t)*(u*a+t*b) + t*u*(b-a)) * sgn
	return phi.chain(f, df)
}

// wrench is force and moment of one block about the centre of gravity: along
// the boat, to positive side, up; heeling moment towards the positive side;
// pitching moment bow up.
type wrench struct{ fx, fy, fz, mh, mp d3 }

// forces of one surface in (heel, trim, leeway tangent); te is effective over
// geometric span. The heel is the earth's, so a keel canted to windward stands
// at φ + κ from the vertical; sin and cos are those of φ.
func (f *finSide) forces(sp *speedState, sin, cos, trim, leeway, te d3, w *wrench) {
	if f.area == 0 {
		return
	}
	s := sin.scale(f.cosK).add(cos.scale(f.sinK))
	c := cos.scale(f.cosK).sub(sin.scale(f.sinK))
	// Effective span and lift slope depend on heel alone.
	be, dbe := te.v*f.span, te.x*f.span
	ae, dae := be*be/f.area, 2*be*dbe/f.area
	root := math.Sqrt(ae*ae + 4)
	a := 2 * math.Pi / (2 + root)
	slope := d3{v: a * ae, x: a * dae * (1 - ae*ae/(root*(2+root)))}
	alpha := leeway.mul(c).add(trim.scale(f.sinK))
	cl := slope.mul(alpha).softCap(con(1 / (finMaxCL * finMaxCL * finMaxCL * finMaxCL)))
	n := cl.scale(sp.q * f.area)
	// Ri = N²/(π Te² q)
	ib := 1 / be
	di := n.sq().mul(d3{v: ib * ib, x: -2 * ib * ib * ib * dbe}).scale(1 / (math.Pi * sp.q))
	w.fy = w.fy.sub(n.mul(c))
	up := n.mul(s)
	w.fz = w.fz.add(up)
	w.fx = w.fx.sub(di)
	w.mh = w.mh.sub(n.scale(f.arm))
	w.mp = w.mp.add(up.scale(f.x)).add(di.scale(f.height))
}

// crossFlow is the resistance of hull and fins to being pushed sideways, and the
// slender-body side force of the hull, q π Tc² tan λ (Jones 1946, NACA Rep. 835).
// It matters at walking pace in a breeze, when the fins have stalled, and keeps a
// solution in existence there.
func crossFlow(sp *speedState, m *Model, leeway d3, w *wrench) {
	t := math.Abs(leeway.v)
	f := leeway.chain(leeway.v*t, 2*t).scale(sp.q * crossFlowCD * m.lateralArea)
	f = f.add(leeway.scale(sp.q * math.Pi * m.boat.Hull.DraftM * m.boat.Hull.DraftM))
	w.fy = w.fy.sub(f)
	w.mh = w.mh.sub(f.scale(m.lateralHeight))
}

// mirrored returns the surface as it stands when the boat heels to the other
// side (side −1): canted the other way; arms are unchanged.
func (f *finSide) mirrored(side float64) *finSide {
	if side > 0 {
		return f
	}
	g := *f
	g.sinK = -f.sinK
	return &g
}
