package vpp

import "math"

// The four balances at a given boat speed. Unknowns, in this order:
//
//	s  heel while it is below the limit; past the limit the heel stays there and
//	   s measures depowering: φ = s − δ ln(1+e^u), F = e^{−kδ ln(1+e^u)}, u = (s−φmax)/δ
//	t  tangent of the leeway angle
//	θ  trim
//	r  hull load fraction
//
// Residuals: heeling moment, side force, pitching moment, vertical force, each
// over the boat's weight (moments also over 1 m).

const (
	iHeel = iota
	iLeeway
	iTrim
	iLoad
	nUnknown
)

const (
	heelSoftness = 0.010 // rad, width of the corner between heeling and depowering
	depowerRate  = 2.5   // per rad of s
)

// The named parts of the forces at a point, for Forces.
const (
	PartSails = iota
	PartWindage
	PartHull
	PartAppendages
	PartAppendagesInduced
	PartFoil
	PartFoilWindward
	PartWaves
	PartBowImmersion
	PartSideSails
	PartSideFins
	PartSideFoil
	PartVerticalSails
	PartVerticalHull
	PartVerticalFins
	PartVerticalFoil
	PartWeight
	NumParts
)

// PartNames are the names of the parts, in their order, as in JSON.
var PartNames = [NumParts]string{
	"drive_sails", "drive_windage", "drive_hull", "drive_appendages", "drive_appendages_induced",
	"drive_foil", "drive_foil_windward", "drive_waves", "drive_bow_immersion",
	"side_sails", "side_fins", "side_foil",
	"vertical_sails", "vertical_hull", "vertical_fins", "vertical_foil", "vertical_weight",
}

// Forces are the parts of the force on the boat, N: drive_… forward, side_… to
// leeward, vertical_… up. Each of the three groups sums to the net force.
type Forces [NumParts]float64

// Map returns the parts by name.
func (f Forces) Map() map[string]float64 {
	m := make(map[string]float64, NumParts)
	for i, n := range PartNames {
		m[n] = f[i]
	}
	return m
}

// task is one set of balances to solve.
type task struct {
	m     *Model
	sp    *speedState
	st    *setting
	sail  *sailData
	rs    *rightingSet
	power float64
	side  float64 // +1; −1 mirrors the boat (tests of symmetry)
	quick bool    // stop as soon as the net force is good to a fraction of a newton
	must  bool    // a quick solve that is not given up early
	least float64 // net force, N, below which a quick solve need not be good
}

func (t *task) weight() float64 {
	return t.m.hull.w0 + (t.rs.ballastKg+t.rs.trimKg)*gravity
}

// balance is the outcome of one evaluation.
type balance struct {
	res [nUnknown]float64
	jac [nUnknown][nUnknown]float64
	net float64 // X, N
	dnt [nUnknown]float64

	phi, depower float64
	rise         float64
	foilN        float64 // force normal to the leeward foil (main and tip, added as sizes)
	foilZ        float64
	foilRms      float64 // standard deviation of foilN in waves
	freeboard    float64
	immersion    float64 // chance per encounter
	lambda       float64
	bottomTrim   float64
	foilCL       float64
	foilCapShare float64 // lift wanted over lift had, 1 = nothing lost
	foilDepthC   float64
	foilAspect   float64 // immersed length over chord
}

// sums collects force and moment with derivatives to the unknowns in slots 1..4.
type sums struct{ fx, fy, fz, mh, mp [5]float64 }

func (a *sums) add(w *wrench, g *[3][4]float64) {
	put(&a.fx, w.fx, g)
	put(&a.fy, w.fy, g)
	put(&a.fz, w.fz, g)
	put(&a.mh, w.mh, g)
	put(&a.mp, w.mp, g)
}

// addTo is add for a block of heel, trim and one more: its derivative to heel goes
// times kx to the first unknown, that to the third input times kz to unknown j.
func (a *sums) addTo(w *wrench, kx float64, j int, kz float64) {
	putTo(&a.fx, w.fx, kx, j, kz)
	putTo(&a.fy, w.fy, kx, j, kz)
	putTo(&a.fz, w.fz, kx, j, kz)
	putTo(&a.mh, w.mh, kx, j, kz)
	putTo(&a.mp, w.mp, kx, j, kz)
}

func putTo(a *[5]float64, d d3, kx float64, j int, kz float64) {
	a[0] += d.v
	a[iHeel+1] += d.x * kx
	a[iTrim+1] += d.y
	a[j+1] += d.z * kz
}

func put(a *[5]float64, d d3, g *[3][4]float64) {
	a[0] += d.v
	for j := range 4 {
		a[j+1] += d.x*g[0][j] + d.y*g[1][j] + d.z*g[2][j]
	}
}

// evaluate works out all balances at x. parts, when not nil, receives the parts
// of the forces and of the resistance.
func (t *task) evaluate(x *[nUnknown]float64, out *balance, parts *tally) {
	m, sp := t.m, t.sp
	h := &m.boat.Hull
	w := t.weight()
	sd := t.side

	u, du := softplus((x[iHeel] - m.boat.Limits.MaxHeelRad) / heelSoftness)
	phi0, dphi := x[iHeel]-heelSoftness*u, 1-du
	f0 := math.Exp(-depowerRate * heelSoftness * u)
	df0 := -depowerRate * du * f0
	out.phi, out.depower = phi0, f0

	phi := d3{sd * phi0, 1, 0, 0}
	sin, cos := phi.sincos()
	var a sums

	// Hull, keel, ballast, waves: (heel, trim, load).
	theta := d3{x[iTrim], 0, 1, 0}
	r := d3{x[iLoad], 0, 0, 1}
	hs := m.hull.state(m, &sp.hull, w, phi, sin, cos, theta, r)
	sinT, cosT := theta.sincos()
	{
		var wr wrench
		free := sinT.scale(h.BowXM).add(hs.rise).addc(h.BowFreeboardM)
		p := sp.wave.immersion(free)
		raw := hs.load.scale(sp.wave.raw)
		// Each immersion takes a share of the momentum.
		imm := p.scale(sp.wave.encounter * m.boat.Limits.ImmersionSpeedLossFraction * w / gravity * sp.v * m.factors.WaveDrag)
		drag := hs.drag.add(raw)
		wr.fx = drag.add(imm).neg()
		wr.fz = r.scale(w)
		wr.fz.v -= w
		wr.mp = hs.pitch.add(drag.scale(m.lever))
		k := &m.boat.Keel
		sk := sin.scale(t.rs.keel.cosK).add(cos.scale(sd * t.rs.keel.sinK))
		rm := hs.righting.add(sk.sub(sin).scale(k.BulbKg * gravity * k.ArmM))
		bal := &m.boat.Ballast
		if t.rs.ballastKg > 0 {
			rm = rm.add(cos.scale(sd * bal.YM).sub(sin.scale(bal.ZM - h.CGHeightM)).scale(t.rs.ballastKg * gravity))
			wr.mp.v -= t.rs.ballastKg * gravity * bal.XM
		}
		if t.rs.trimKg > 0 {
			wr.mp.v -= t.rs.trimKg * gravity * bal.TrimXM
		}
		for i := range t.st.foils {
			if g := &t.st.foils[i]; g.out {
				rm = rm.sub(cos.scale(sd * g.side * g.massMoment * gravity))
			}
		}
		wr.mh = rm.neg()
		a.addTo(&wr, sd*dphi, iLoad, 1)
		out.rise, out.freeboard, out.immersion = hs.rise.v, free.v, p.v
		out.lambda, out.bottomTrim = hs.lambda, hs.bottomTrim
		if parts != nil {
			f, d := &parts.forces, &parts.drag
			f[PartHull], f[PartWaves], f[PartBowImmersion] = -hs.drag.v, -raw.v, -imm.v
			f[PartVerticalHull], f[PartWeight] = r.v*w, -w
			d[DragHullFriction], d[DragHullPressure] = hs.friction, hs.drag.v-hs.friction
			d[DragWaves], d[DragBowImmersion] = raw.v, imm.v
		}
	}

	t.air(d3{phi0, dphi, 0, 0}, d3{f0, df0, 0, 0}, sin.v*sd, cos.v, &a, parts)

	// Fins: (heel, trim, leeway).
	{
		lee := d3{sd * x[iLeeway], 0, 0, 1}
		te := draftAt(&sp.draft, phi)
		var wr wrench
		wr.mp.v = sp.finLever
		t.rs.keel.mirrored(sd).forces(sp, sin, cos, theta, lee, te, &wr)
		t.st.board.mirrored(sd).forces(sp, sin, cos, theta, lee, te, &wr)
		t.st.rudder.mirrored(sd).forces(sp, sin, cos, theta, lee, te, &wr)
		induced := wr.fx.v
		wr.fx.v -= sp.finDrag
		crossFlow(sp, m, lee, &wr)
		a.addTo(&wr, sd*dphi, iLeeway, sd)
		if parts != nil {
			f := &parts.forces
			f[PartAppendages], f[PartAppendagesInduced] = -sp.finDrag, induced
			f[PartSideFins], f[PartVerticalFins] = sd*wr.fy.v, wr.fz.v
			parts.drag[DragAppendages], parts.drag[DragAppendagesInduced] = sp.finDrag, -induced
		}
	}

	for i := range t.st.foils {
		if g := &t.st.foils[i]; g.out {
			t.foil(i, g, x, phi, sin, cos, hs.rise, sinT, cosT.v, dphi, &a, out, parts)
		}
	}

	iw := 1 / w
	for j := range nUnknown {
		out.jac[0][j] = sd * a.mh[j+1] * iw
		out.jac[1][j] = sd * a.fy[j+1] * iw
		out.jac[2][j] = a.mp[j+1] * iw
		out.jac[3][j] = a.fz[j+1] * iw
		out.dnt[j] = a.fx[j+1]
	}
	out.res = [4]float64{sd * a.mh[0] * iw, sd * a.fy[0] * iw, a.mp[0] * iw, a.fz[0] * iw}
	out.net = a.fx[0]
}

// air adds sails and windage; everything, heel phi and lift fraction f, depends on
// s alone.
func (t *task) air(phi, f d3, sinPhi, cosPhi float64, a *sums, parts *tally) {
	m, sp := t.m, t.sp
	sin, cos := phi.chain(sinPhi, cosPhi), phi.chain(cosPhi, -sinPhi)
	zG := m.boat.Hull.CGHeightM
	rig := &m.boat.Rig
	drive, side := t.sail.forces(&sp.wind, f, cos, t.power, m.factors.SailPower, rig.MinDepower)
	ce := f.scale(t.power).addc(-1).scale(rig.TwistDrop).addc(1).scale(t.sail.ce).addc(-zG)
	wd, ws := windage(&sp.wind, rig, m.windage, cos)
	zw := rig.WindageHeightM - zG
	mast := side.add(ws) // square to the mast
	var wr wrench
	wr.fx = drive.add(wd)
	wr.fy = mast.mul(cos).scale(t.side)
	wr.fz = mast.mul(sin).neg()
	wr.mh = side.mul(ce).add(ws.scale(zw)).scale(t.side)
	wr.mp = ce.mul(drive).add(wd.scale(zw)).mul(cos).neg()
	a.addTo(&wr, 1, iLoad, 0)
	if parts != nil {
		f := &parts.forces
		f[PartSails], f[PartWindage] = drive.v, wd.v
		f[PartSideSails], f[PartVerticalSails] = wr.fy.v*t.side, wr.fz.v
		parts.drag[DragWindage] = -wd.v
	}
}

// windage is the drag of hull, mast and rigging along the apparent wind; p is the
// wind at its height over that at 10 m.
func windage(w *windState, rig *Rig, p float64, cosPhi d3) (drive, side d3) {
	ax := w.tws*p*w.cos + w.v
	ay := cosPhi.scale(w.tws * p * w.sin)
	k := ay.sq().addc(ax*ax + 1e-9).sqrt().scale(0.5 * airDensity * rig.WindageAreaM2)
	return k.scale(-ax), k.mul(ay)
}

// foil adds one foil: its own inputs are heel, root height and angle of attack.
func (t *task) foil(i int, g *foilSide, x *[nUnknown]float64, phi, sin, cos, rise, sinT d3, cosT, dphi float64, a *sums, out *balance, parts *tally) {
	sp, sd := t.sp, t.side
	sg := g.side * sd // side of the earth it is on
	// Height of the root over the water, in (heel, trim, load).
	zr := rise.add(sinT.scale(g.xF)).add(cos.scale(g.zR)).sub(sin.scale(sg * g.yR))
	p := d3{sg * phi.v, 1, 0, 0} // heel towards the foil
	z := d3{zr.v, 0, 1, 0}
	fl := g.flow(sp, &sp.slices[i], p, z, sg*sin.v, cos.v)
	// Chains: heel towards the foil, root height, angle of attack.
	var gr [3][4]float64
	gr[0][iHeel] = sg * sd * dphi
	gr[1] = [4]float64{zr.x * sd * dphi, 0, zr.y, zr.z}

	var total wrench
	normal, spread := 0.0, 0.0
	cl0, cap0 := 0.0, 1.0
	panel := func(b, s, gamma, sg3 d3, inc, cosDih, arm float64, first bool) {
		sinG, cosG := sg3.v, -sg3.x // gamma falls as heel rises
		lee := g.side * x[iLeeway]  // leeway towards the foil
		al := d3{inc + cosDih*sinT.v + lee*sinG, 0, 0, 1}
		// Partials of the angle of attack.
		gr[2] = [4]float64{-lee * cosG * gr[0][iHeel], g.side * sinG, cosDih * cosT, 0}
		n, d, cl, rms := g.panelForce(sp, &fl, b, al, sg3)
		// Orbital velocity and surface height are a quarter of a wave apart.
		spread += math.Hypot(rms, n.y*sp.wave.surface)
		cg3 := gamma.chain(cosG, -sinG)
		var wr wrench
		if first {
			d = d.add(g.extraDrag(sp, &fl))
			cl0 = cl.v
			if cl.v != 0 {
				cap0 = fl.slope.v * al.v / cl.v
			}
		}
		wr.fx = d.neg()
		wr.fy = n.mul(sg3).scale(-sg)
		wr.fz = n.mul(cg3)
		wr.mh = n.mul(s.addc(arm)).scale(-sg)
		wr.mp = wr.fz.scale(g.xF).add(d.scale(g.zR - g.zG))
		a.add(&wr, &gr)
		if parts != nil {
			g.tallyDrag(sp, &fl, b, al, sg3, first, &parts.drag)
		}
		total.fx.v += wr.fx.v
		total.fy.v += wr.fy.v
		total.fz.v += wr.fz.v
		normal += math.Abs(n.v)
	}
	panel(fl.bMain, fl.sMain, fl.gMain, fl.sinMain, g.incidence, g.cosD, g.armMain, true)
	if g.tip > 0 {
		panel(fl.bTip, fl.sTip, fl.gTip, fl.sinTip, g.tipInc, g.cosT, g.armTip, false)
	}
	if g.side > 0 {
		out.foilN, out.foilZ, out.foilRms = normal, total.fz.v, spread
		out.foilCL, out.foilCapShare, out.foilDepthC = cl0, cap0, fl.depth.v/g.chord
		out.foilAspect = (fl.bMain.v + fl.bTip.v) / g.chord
	}
	if parts != nil {
		if g.side > 0 {
			parts.forces[PartFoil] += total.fx.v
		} else {
			parts.forces[PartFoilWindward] += total.fx.v
		}
		parts.forces[PartSideFoil] += sd * total.fy.v
		parts.forces[PartVerticalFoil] += total.fz.v
	}
}
