package vpp

import (
	"math"

	"foilledger/vpp/units"
)

// The hull in two regimes, blended over a band of Froude numbers.
//
// Floating: friction by the ITTC-57 line on 0.7 of the waterline (Keuning &
// Sonnenberg 1998), wetted area by the Delft regression with heel; residuary
// resistance by Keuning & Katgert (2008) plus the heel increment of 1998; trim
// by waterplane stiffness. Planing: Savitsky (1964), see savitsky.go.
//
// As the foil takes weight the hull's share R of its design load falls. The hull
// is taken as volume ∝ draft^(1/κ), κ = ∇/(Aw Tc), which has the right stiffness at
// rest: draft ∝ R^κ, waterplane and wetted area ∝ R^(1−κ), residuary resistance
// ∝ R^(4/3) (the leading term of the regressions goes with ∇·∇^⅓).

const (
	blendLow, blendHigh = 0.42, 0.80 // Froude numbers: floating below, planing above
	minPlaningTrim      = 0.8        // degrees: the equations' trim is held softly above it
	trimWidth           = 0.4        // degrees, softness of that
	trimPenaltyDeg      = 7.0        // residuary resistance doubles this far from design trim: assumption
	loadFloor           = 0.01       // softness of R ≥ 0
	forebodyTrim        = 1.0        // degrees of bottom trim below which the forebody wets: assumption
	forebodyStiffness   = 1.0        // of the static pitch stiffness: below forebodyTrim the whole length is wet
	pitchInertiaCoeff   = 0.05       // I_L = 0.05 Aw L² (from memory; 1/12 for a box, 1/16 for an ellipse)
)

// hullData is the hull made ready once per model.
type hullData struct {
	delft      delftHull
	residuary  *curve // over canoe-body weight, against Fn
	heelInc    *curve
	wetted     *uniform
	w0         float64 // design displacement, N
	canoeN     float64 // weight of the canoe-body volume, N
	kappa      float64
	il         float64 // waterplane inertia in pitch, m⁴
	stab       stability
	deadDeg    float64
	tanB, cosB float64
	invLambda4 float64 // 1/λ⁴, λ waterline length over planing beam: the most that can be wet
}

func newHullData(b *Boat, appendVolume float64) hullData {
	h := &b.Hull
	vol := h.DisplacementKg / WaterDensity
	canoe := max(vol-appendVolume, 0.5*vol)
	d := delftHull{
		l: h.LengthWaterlineM, b: h.BeamWaterlineM, tc: h.DraftM, vol: canoe,
		cp: h.Prismatic, cm: h.Midship, aw: h.WaterplaneAreaM2,
		xb: h.LCBFraction * h.LengthWaterlineM, xf: h.LCFFraction * h.LengthWaterlineM,
		lcbPercent: (0.5 - h.LCBFraction) * 100,
	}
	d.sc = delftWetted(d.l, d.b, d.tc, d.vol, d.cm)
	hd := hullData{
		delft: d, residuary: d.residuaryCurve(), heelInc: d.heelCurve(), wetted: d.wettedCurve(),
		w0: h.DisplacementKg * gravity, canoeN: canoe * WaterDensity * gravity,
		kappa:   canoe / (h.WaterplaneAreaM2 * h.DraftM),
		il:      pitchInertiaCoeff * h.WaterplaneAreaM2 * h.LengthWaterlineM * h.LengthWaterlineM,
		stab:    newStability(h),
		deadDeg: units.Deg(h.DeadriseRad),
		tanB:    math.Tan(h.DeadriseRad), cosB: math.Cos(h.DeadriseRad),
		invLambda4: math.Pow(h.LengthWaterlineM/h.PlaningBeamM, -4),
	}
	return hd
}

// hullSpeed is what depends on boat speed alone.
type hullSpeed struct {
	blend        float64
	friction     float64 // ½ρV²·S₀·CF floating, N
	residuary    float64 // floating, upright, at design load, N
	heelInc      float64 // increment at 20° of heel, N
	cv           float64
	clPerN       float64 // CLβ per newton of load
	reLambda     float64 // Re per λ·(Vm/V)
	planFriction float64 // ½ρV²b²/cos β
}

func (hd *hullData) atSpeed(b *Boat, v, factor float64) hullSpeed {
	h := &b.Hull
	q := 0.5 * WaterDensity * v * v
	fn := v / math.Sqrt(gravity*h.LengthWaterlineM)
	rr, _ := hd.residuary.at(fn)
	ri, _ := hd.heelInc.at(fn)
	pb := h.PlaningBeamM
	return hullSpeed{
		blend:        smoothStep((fn - blendLow) / (blendHigh - blendLow)),
		friction:     factor * q * hd.delft.sc * (ittc57(0.7*h.LengthWaterlineM*v/waterViscosity) + h.Roughness),
		residuary:    factor * rr * hd.canoeN,
		heelInc:      factor * ri * hd.canoeN,
		cv:           v / math.Sqrt(gravity*pb),
		clPerN:       1 / (q * pb * pb),
		reLambda:     v * pb / waterViscosity,
		planFriction: factor * q * pb * pb / hd.cosB,
	}
}

// hullState is the hull's answer, in (heel, trim, load fraction).
type hullState struct {
	drag       d3 // without waves
	rise       d3
	pitch      d3 // hydrodynamic and hydrostatic moment about G, bow up
	righting   d3
	lambda     float64 // wetted length/beam before the cap
	bottomTrim float64 // degrees
	load       d3      // R, softly positive
	friction   float64 // part of drag, N
}

// state solves the hull at heel phi, trim theta and load fraction r of weight w.
func (hd *hullData) state(m *Model, hs *hullSpeed, w float64, phi, sin, cos, theta, r d3) hullState {
	h := &m.boat.Hull
	var out hullState
	load := r.scale(w / hd.w0).positive(loadFloor)
	out.load = load

	arm := hd.stab.arm(phi, sin, cos)
	out.righting = r.mul(arm).scale(w * m.factors.RightingMoment)

	wp := hs.blend
	if wp < 1 {
		lnR := math.Log(load.v)
		pw := func(p float64) d3 { f := math.Exp(p * lnR); return load.chain(f, p*f/load.v) }
		form := pw(1 - hd.kappa)
		a := phi
		if a.v < 0 {
			a = a.neg()
		}
		fric := hd.wetted.atD(a).mul(form).scale(hs.friction)
		tp := theta.scale(180 / math.Pi / trimPenaltyDeg).sq().addc(1)
		// 6.0 φ^1.7, the increment's law; |φ| softly so that it is smooth upright.
		hl := phi.sq().addc(1e-6).pow(0.85).scale(6.0 * hs.heelInc)
		res := tp.scale(hs.residuary).add(hl).mul(pw(4.0 / 3))
		drag := fric.add(res)
		out.friction = (1 - wp) * fric.v
		rise := pw(hd.kappa).neg().addc(1).scale(h.DraftM)
		pitch := form.sq().mul(theta).scale(-WaterDensity * gravity * hd.il)
		if wp == 0 {
			out.drag, out.rise, out.pitch = drag, rise, pitch
		} else {
			out.drag, out.rise, out.pitch = drag.scale(1-wp), rise.scale(1-wp), pitch.scale(1-wp)
		}
	}
	if wp > 0 {
		drag, rise, pitch := hd.planing(h, hs, w, theta, r, load, &out)
		out.drag = out.drag.add(drag.scale(wp))
		out.rise = out.rise.add(rise.scale(wp))
		out.pitch = out.pitch.add(pitch.scale(wp))
	}
	return out
}

// planing is drag, rise and pitching moment of the planing hull.
func (hd *hullData) planing(h *Hull, hs *hullSpeed, w float64, theta, r, load d3, out *hullState) (drag, rise, pitch d3) {
	b := h.PlaningBeamM
	deg := theta.addc(h.RunAngleRad).scale(180 / math.Pi)
	out.bottomTrim = deg.v
	tau := deg.smoothMax(minPlaningTrim, trimWidth)
	t11 := tau.pow(1.1)
	clb := load.scale(hd.w0 * hs.clPerN)
	c0, dc0 := savitskyCL0(clb.v, hd.deadDeg)
	y := clb.chain(c0, dc0).div(t11)
	l, dl := savitskyLambda(y.v, hs.cv)
	out.lambda = l
	// Wetted length softly below the waterline length.
	lam := y.chain(l, dl).softCap(con(hd.invLambda4))

	tr := tau.scale(math.Pi / 180)
	sn, cs := tr.sincos()
	d0 := lam.sqrt().mul(t11).scale(0.0120)
	dyn := d0.sub(d0.pow(0.6).scale(0.0065 * hd.deadDeg))
	vm2 := dyn.div(lam.mul(cs)).neg().addc(1).positive(0.02)
	re := vm2.sqrt().mul(lam).scale(hs.reLambda)
	fric := vm2.mul(lam).mul(ittc57D(re).addc(h.Roughness)).scale(hs.planFriction)
	drag = load.mul(sn).scale(hd.w0).add(fric).div(cs)
	out.friction += hs.blend * fric.v / cs.v

	cp := lam.sq().div(lam.sq().scale(2.39).addc(5.21 * hs.cv * hs.cv)).neg().addc(0.75)
	pitch = r.scale(w).mul(cp.mul(lam).scale(b).addc(-h.CGFromTransomM))
	// Bow down beyond the planing range: the forebody wets and pushes back, by
	// its buoyancy and by slender-body lift, q (π/4) b² per radian (half of Jones
	// 1946: one side wetted), that acts halfway to the bow.
	fb := deg.neg().addc(forebodyTrim)
	f, df := softplus(fb.v / trimWidth)
	k := forebodyStiffness*WaterDensity*gravity*hd.il + 0.25*math.Pi/hs.clPerN*0.5*h.BowXM
	pitch = pitch.add(fb.chain(trimWidth*f, df).scale(math.Pi / 180 * k))

	lk := lam.scale(b).add(cs.div(sn).scale(b * hd.tanB / (2 * math.Pi)))
	rise = lk.addc(-h.CGFromTransomM).mul(sn).neg().addc(h.DraftM)
	return drag, rise, pitch
}
