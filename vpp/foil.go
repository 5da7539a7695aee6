package vpp

import "math"

// A lateral foil: a straight panel in the transverse plane of the boat, outer
// end up by the dihedral, with an optional tip panel of its own dihedral.
//
// Sources: section lift slope reduced by the finite span as in lifting-line
// theory, with the surface's loss factor K and the biplane interference σ:
// a = a₀K/(1 + a₀K(1+σ)/πA) (freesurface.go); induced plus wave drag after
// Breslin (1957); profile drag of the section, following the ITTC-57 line away
// from Reynolds number 6 million, plus k(CL−CLi)², k = 0.008 (from memory); spray 0.24 q t² where the foil pierces the surface
// (Hoerner 1965, Fluid-Dynamic Drag, ch. 10); junction with the hull (0.75 t/c −
// 0.0003/(t/c)²) q t² (Hoerner 1965, ch. 8; from memory). Lift levels off
// softly at stall, at the cavitation limit −Cp,min = σ with −Cp,min =
// 2.1(t/c)/(2x_t) + 0.8 CL (Hoerner 1975, Fluid-Dynamic Lift), and at the stated
// ventilation limit.

const (
	foilStrips    = 5     // Gauss points along the main panel
	tipStrips     = 3     // and along the tip panel
	bucketK       = 0.008 // growth of profile drag with (CL − CLi)²
	cavitationK   = 0.8   // growth of −Cp,min with CL
	stallDrag     = 0.5   // drag of lift lost to stall or cavity, per unit angle: assumption
	foilMinLength = 1e-4  // m, keeps ratios finite when the foil is dry
)

var gauss5 = [foilStrips][2]float64{
	{0.0469100770306680, 0.1184634425280945}, {0.2307653449471585, 0.2393143352496832}, {0.5, 0.2844444444444444},
	{0.7692346550528415, 0.2393143352496832}, {0.9530899229693320, 0.1184634425280945},
}

var gauss3 = [tipStrips][2]float64{
	{0.1127016653792583, 0.2777777777777778}, {0.5, 0.4444444444444444}, {0.8872983346207417, 0.2777777777777778},
}

// foilSide is one foil at one setting. side is +1 for a foil on the side that
// y points to, −1 for the other.
type foilSide struct {
	out               bool
	side              float64
	chord, main, tip  float64 // chord and lengths that are out
	dih, tipDih       float64
	cosD, sinD        float64 // of dih, in the boat's frame
	cosT, sinT        float64
	xF, yR, zR        float64 // root from the centre of gravity (zR: from the waterline)
	armMain, armTip   float64 // roll arm of a force normal to the panel at its inner end
	incidence, tipInc float64 // rake less zero-lift angle, as the panel sees it
	thick             float64 // t
	junction          float64 // coefficient on q t²
	massMoment        float64 // kg m to the foil's side, against the foil in
	zG                float64
	clA, invStall4    float64
	cdForm            float64 // times CF gives profile drag
	cp0, designCL     float64
	vent, airArea     float64 // ventilation angle, CD·chord in air
}

func newFoilSide(b *Boat, s FoilSetting, side float64) foilSide {
	f := b.Foils
	if f == nil || s.Extension <= 0 {
		return foilSide{}
	}
	c := f.ChordM()
	length := f.SpanM * s.Extension
	tip := min(f.TipSpanM, 0.9*length)
	g := foilSide{
		out: true, side: side, chord: c, main: length - tip, tip: tip,
		dih: f.DihedralRad, tipDih: f.TipDihedral,
		xF: f.RootXM, yR: f.RootYM, zR: f.RootZM, zG: b.Hull.CGHeightM,
		thick:      f.TC * c,
		massMoment: f.MassKg * length * math.Cos(f.DihedralRad),
		clA:        f.SectionSlope, invStall4: math.Pow(0.9*f.MaxCL, -4),
		cdForm: f.MinDrag / ittc57(6e6), designCL: f.DesignCL,
		cp0: 2.1 * f.TC / (2 * f.MaxThickX), vent: f.VentAngleRad,
		airArea:  f.AirDragCoeff * c,
		junction: 0.75*f.TC - 0.0003/(f.TC*f.TC),
	}
	g.sinD, g.cosD = math.Sincos(g.dih)
	g.sinT, g.cosT = math.Sincos(g.tipDih)
	z := g.zR - g.zG
	g.armMain = g.yR*g.cosD + z*g.sinD
	g.armTip = (g.yR+g.main*g.cosD)*g.cosT + (z+g.main*g.sinD)*g.sinT
	// Rake turns the foil about its shaft, which lies along the main panel; the
	// tip sees the part about its own direction.
	g.incidence = s.RakeRad - f.ZeroLiftRad
	g.tipInc = s.RakeRad*math.Cos(g.tipDih-g.dih) - f.ZeroLiftRad
	return g
}

// foilFlow is what the two panels of a foil share: all in (heel, root height, –).
type foilFlow struct {
	bMain, bTip   d3 // immersed lengths
	sMain, sTip   d3 // distance of the immersed centre from the panel's inner end
	depth         d3
	slope, invCap d3 // lift slope, Σ 1/CLcap⁴
	indA          d3 // CDi / CL²
	wetRoot       d3
	pierce        d3
	gMain, gTip   d3 // angle of the panel above the horizontal
	sinMain       d3 // and its sine
	sinTip        d3
	rigidShare    float64 // share of indA that a rigid surface would leave
}

// strips adds up the immersed length, its first moment and its depth over one
// panel. zIn is the height of the inner end over the water, slope the sine of
// the panel's angle.
func strips(nodes [][2]float64, length float64, zIn, slope d3, delta float64, b, bs, hs *d3) {
	inv := -1 / delta
	for i := range nodes {
		s, ds := nodes[i][0]*length, nodes[i][1]*length
		z := zIn.v + s*slope.v
		zx, zy := zIn.x+s*slope.x, zIn.y+s*slope.y
		sp, w := softplus(z * inv)
		dw := w * (1 - w) * inv * ds
		w *= ds
		b.v += w
		b.x += dw * zx
		b.y += dw * zy
		bs.v += s * w
		bs.x += s * dw * zx
		bs.y += s * dw * zy
		// d/dz of δ·softplus(−z/δ) is −logistic.
		hs.v += delta * sp * ds
		hs.x -= w * zx
		hs.y -= w * zy
	}
}

// flow works out immersion, depth and section behaviour of a foil whose root is
// z over the water when the boat heels phi towards the foil; sin and cos are
// those of phi.
func (g *foilSide) flow(sp *speedState, k *foilSlices, phi, z d3, sin, cos float64) foilFlow {
	var f foilFlow
	f.gMain = phi.neg().addc(g.dih)
	slopeM := f.gMain.chain(g.sinD*cos-g.cosD*sin, g.cosD*cos+g.sinD*sin)
	f.sinMain = slopeM
	var bs, hs d3
	strips(gauss5[:], g.main, z, slopeM, sp.smear, &f.bMain, &bs, &hs)
	f.sMain = bs.div(f.bMain.addc(foilMinLength))
	b := f.bMain
	if g.tip > 0 {
		f.gTip = phi.neg().addc(g.tipDih)
		f.sinTip = f.gTip.chain(g.sinT*cos-g.cosT*sin, g.cosT*cos+g.sinT*sin)
		zt := z.add(slopeM.scale(g.main))
		var ts d3
		strips(gauss3[:], g.tip, zt, f.sinTip, sp.smear, &f.bTip, &ts, &hs)
		f.sTip = ts.div(f.bTip.addc(foilMinLength))
		b = b.add(f.bTip)
	}
	b = b.addc(foilMinLength)
	f.depth = hs.div(b).addc(0.02 * g.chord)
	f.wetRoot = z.scale(-1 / sp.smear)
	_, lw := softplus(f.wetRoot.v)
	f.wetRoot = f.wetRoot.chain(lw, lw*(1-lw))

	u := b.scale(2 / (g.main + g.tip)).addc(-1)
	u2 := u.v * u.v
	u7 := u2 * u2 * u2 * u.v
	f.pierce = u.chain(1-u7*u.v, -8*u7)

	hc := f.depth.scale(1 / g.chord)
	lnHC := hc.chain(math.Log(hc.v), 1/hc.v)
	kk := k.lift.atD(lnHC)
	l := f.depth.scale(2).div(b)
	lnL := l.chain(math.Log(l.v), 1/l.v)
	sig := surface().sigma.atD(lnL)
	ind := k.induced.atD(lnL)
	ar := b.scale(1 / g.chord)
	ck := kk.scale(g.clA)
	// a = c A/(A + c(1+σ)/π)
	f.slope = ck.mul(ar).div(ar.add(ck.mul(sig.addc(1)).scale(1 / math.Pi))).scale(sp.foilLift)
	f.indA = ind.div(ar.scale(math.Pi))
	f.rigidShare = max(0, 1-sig.v) / ind.v

	// Caps on CL.
	cav := f.depth.scale(sp.cavPerM).addc(sp.cav0 - g.cp0).scale(1 / cavitationK).positive(0.04)
	ventA := hc.scale(1.25 * g.vent * sp.ventSpeed).div(hc.addc(0.25))
	vent := ventA.mul(f.slope)
	f.invCap = inv4(cav).add(inv4(vent)).addc(g.invStall4)
	return f
}

func inv4(a d3) d3 {
	i := 1 / a.v
	i2 := i * i
	return a.chain(i2*i2, -4*i2*i2*i)
}

// lift is the lift coefficient of a panel that stands γ over the horizontal, by sin γ:
// lin as the angle of attack wants it, cl what the caps leave of it, and in waves
// the variance of cl.
//
// Waves move the water up and down through the foil, which changes its angle of
// attack by w/V, taken as Gaussian and slow enough for the lift to follow. The
// mean of the capped lift then is lin/(1 + E[a⁴]/cap⁴)^¼ with E[a⁴] = lin⁴ +
// 6 lin²s² + 3s⁴, s² the variance of the uncapped lift coefficient: the fourth
// moment put into the cap in place of lin⁴.
func (f *foilFlow) lift(sp *speedState, alpha, sinGamma d3) (lin, cl, variance d3) {
	lin = f.slope.mul(alpha)
	if sp.gustAngle2 == 0 {
		return lin, lin.softCap(f.invCap), d3{}
	}
	// cos²γ = 1 − sin²γ
	s := f.slope.sq().mul(sinGamma.sq().neg().addc(1)).scale(sp.gustAngle2)
	a := lin.sq()
	b := a.sq().add(a.scale(6).add(s.scale(3)).mul(s)).mul(f.invCap).addc(1)
	r2 := 1 / math.Sqrt(b.v)
	r := math.Sqrt(r2)
	cl = lin.mul(b.chain(r, -0.25*r/b.v))
	return lin, cl, s.mul(b.chain(r2, -0.5*r2/b.v))
}

// panelForce is force normal to a panel and drag along the flow, for the angle
// of attack alpha (as third variable) on the immersed length b; rms is the
// standard deviation of the force in waves.
func (g *foilSide) panelForce(sp *speedState, f *foilFlow, b, alpha, sinGamma d3) (normal, drag, cl d3, rms float64) {
	lin, cl, vr := f.lift(sp, alpha, sinGamma)
	s := b.scale(sp.q * g.chord)
	normal = s.mul(cl)
	cd := cl.sq().add(vr).mul(f.indA).
		add(cl.addc(-g.designCL).sq().add(vr).scale(bucketK)).
		add(lin.sub(cl).mul(alpha).scale(stallDrag)).
		addc(g.cdForm * sp.cfFoil)
	drag = s.mul(cd).scale(sp.foilDrag)
	return normal, drag, cl, s.v * math.Sqrt(vr.v)
}

// extraDrag is spray, junction and air drag, in (heel, root height).
func (g *foilSide) extraDrag(sp *speedState, f *foilFlow) d3 {
	qt2 := sp.q * g.thick * g.thick * sp.foilDrag
	d := f.pierce.scale(0.24 * qt2).add(f.wetRoot.scale(g.junction * qt2))
	dry := f.bMain.add(f.bTip).scale(-1).addc(g.main + g.tip)
	return d.add(dry.scale(g.airArea * sp.qAir))
}
