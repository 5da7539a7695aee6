package vpp

import (
	"math"

	"foilledger/vpp/units"
)

// Regressions of the Delft Systematic Yacht Hull Series. All coefficient tables
// here are from memory; the two residuary regressions, recalled independently,
// agree with each other within 3 % on the parent hull and lie under the tank
// data of Gerritsma, Onnink & Versluis (1981) as bare-hull values must.
//
// Range of the series (from memory): L/B 2.73–5.00, B/Tc 2.46–19.4,
// L/∇^⅓ 4.34–8.50, Cp 0.52–0.60, LCB 0 to −8.2 %, Cm 0.65–0.78. A wide, light
// scow-like hull lies at its edge and beyond in L/∇^⅓ and L/B: an extrapolation,
// flagged in Point.Extrapolated.

// delftHull is the canoe body as the regressions see it.
type delftHull struct {
	l, b, tc   float64 // waterline length, beam, canoe-body draft
	vol        float64 // canoe-body volume
	cp, cm, aw float64
	xb, xf     float64 // LCB, LCF aft of the forward perpendicular
	sc         float64 // wetted area upright
	lcbPercent float64 // LCB from midship, % of L, aft negative
}

var delft08Fn = []float64{.15, .20, .25, .30, .35, .40, .45, .50, .55, .60, .65, .70, .75}

// Keuning & Katgert (2008), "A bare hull resistance prediction method derived
// from the results of the Delft Systematic Yacht Hull Series extended to higher
// speeds", Innov'sail, Lorient; table from memory.
var delft08 = [13][8]float64{
	{-.0005, .0023, -.0086, -.0015, .0061, .0010, .0001, .0052},
	{-.0003, .0059, -.0064, .0070, .0014, .0013, .0005, -.0020},
	{-.0002, -.0156, .0031, -.0021, -.0070, .0148, .0010, -.0043},
	{-.0009, .0016, .0337, -.0285, -.0367, .0218, .0015, -.0172},
	{-.0026, -.0567, .0446, -.1091, -.0707, .0914, .0021, -.0078},
	{-.0064, -.4034, -.1250, .0273, -.1341, .3578, .0045, .1115},
	{-.0218, -.5261, -.2945, .2485, -.2428, .6293, .0081, .2086},
	{-.0388, -.5986, -.3038, .6033, -.0430, .8332, .0106, .1336},
	{-.0347, -.4764, -.2361, .8726, .4219, .8990, .0096, -.2272},
	{-.0361, .0037, -.2960, .9661, .6123, .7534, .0100, -.3352},
	{.0008, .3728, -.3667, 1.3957, 1.0343, .3230, .0072, -.4632},
	{.0108, -.1238, -.2026, 1.1282, 1.1836, .4973, .0038, -.4477},
	{.1023, .7726, .5040, 1.7867, 2.1934, -1.5479, -.0115, -.0977},
}

// residuary08 is the bare-hull residuary resistance over the weight of the
// canoe body at the i-th Froude number of delft08Fn.
func (h *delftHull) residuary08(i int) float64 {
	a := &delft08[i]
	c := math.Cbrt(h.vol)
	return a[0] + (a[1]*h.xb/h.l+a[2]*h.cp+a[3]*c*c/h.aw+a[4]*h.b/h.l+a[5]*h.xb/h.xf+a[6]*h.b/h.tc+a[7]*h.cm)*c/h.l
}

var delft98Fn = []float64{.10, .15, .20, .25, .30, .35, .40, .45, .50, .55, .60}

// Keuning & Sonnenberg (1998), "Approximation of the hydrodynamic forces on a
// sailing yacht based on the Delft Systematic Yacht Hull Series", 15th HISWA
// symposium, Amsterdam; table from memory.
var delft98 = [11][9]float64{
	{-.0014, .0403, .0470, -.0227, -.0119, .0061, -.0086, -.0307, -.0553},
	{.0004, -.1808, .1793, -.0004, .0097, .0118, -.0055, .1721, -.1728},
	{.0014, -.1071, .0637, .0090, .0153, .0011, .0012, .1021, -.0648},
	{.0027, .0463, -.1263, .0150, .0274, -.0299, .0110, -.0595, .1220},
	{.0056, -.8005, .4891, .0269, .0519, -.0313, .0292, .7314, -.3619},
	{.0032, -.1011, -.0813, -.0382, .0320, -.1481, .0837, .0223, .1587},
	{-.0064, 2.3095, -1.5152, .0751, -.0858, -.5349, .1715, -2.4550, 1.1865},
	{-.0171, 3.4017, -1.9862, .3242, -.1450, -.8043, .2952, -3.5284, 1.3575},
	{-.0201, 7.1576, -6.3304, .5829, .1630, -.3966, .5023, -7.1579, 5.2534},
	{.0495, 1.5618, -6.0661, .8641, 1.1702, 1.7610, .9176, -2.1191, 5.4281},
	{.0808, -5.3233, -1.1513, .9663, 1.6084, 2.7459, .8491, 4.7129, 1.1089},
}

// residuary98 is the same by the 1998 regression, at the i-th Froude number of
// delft98Fn. The model uses the 2008 one, which reaches further; this one is
// the check on it.
func (h *delftHull) residuary98(i int) float64 {
	a := &delft98[i]
	c := math.Cbrt(h.vol)
	xl := h.xb / h.l
	return a[0] + (a[1]*xl+a[2]*h.cp+a[3]*c*c/h.aw+a[4]*h.b/h.l)*c/h.l +
		(a[5]*c*c/h.sc+a[6]*h.xb/h.xf+a[7]*xl*xl+a[8]*h.cp*h.cp)*c/h.l
}

// residuaryCurve is residuary resistance over canoe-body weight against Froude
// number. Negative regression values (they occur at Fn 0.15–0.25 for light
// hulls) are taken as 0; below Fn 0.15 the curve falls to 0 at rest; beyond Fn
// 0.75 it is held, where the planing part has taken over.
func (h *delftHull) residuaryCurve() *curve {
	x := append([]float64{0}, delft08Fn...)
	y := make([]float64, len(x))
	for i := range delft08Fn {
		y[i+1] = max(0, h.residuary08(i))
	}
	return newCurve(x, y)
}

var delftHeelFn = []float64{.25, .30, .35, .40, .45, .50, .55}

var delftHeel = [7][6]float64{ // Keuning & Sonnenberg (1998), ×1000, from memory
	{-.0268, -.0014, -.0057, .0016, -.0070, -.0017},
	{.6628, -.0632, -.0699, .0069, .0459, -.0004},
	{1.6433, -.2144, -.1640, .0199, -.0540, -.0268},
	{-.8659, -.0354, .2226, .0188, -.5800, -.1133},
	{-3.2715, .1372, .5547, .0268, -1.0064, -.2026},
	{-.1976, -.1480, -.6593, .1862, -.7489, -.1648},
	{1.5873, -.3749, -.7105, .2146, -.4818, -.1174},
}

// heelIncrement20 is the change of residuary resistance at 20° of heel over the
// canoe-body weight, at the i-th Froude number of delftHeelFn. The quadratic in
// B/Tc runs away on very shallow hulls, so B/Tc is held at 6, and negative
// increments count as 0. At other heel angles: times 6.0 φ^1.7 (φ in radians).
func (h *delftHull) heelIncrement20(i int) float64 {
	u := &delftHeel[i]
	bt := min(h.b/h.tc, 6)
	return max(0, 1e-3*(u[0]+u[1]*h.l/h.b+u[2]*bt+u[3]*bt*bt+u[4]*h.lcbPercent+u[5]*h.lcbPercent*h.lcbPercent))
}

func (h *delftHull) heelCurve() *curve {
	x := append([]float64{0.20}, delftHeelFn...)
	y := make([]float64, len(x))
	for i := range delftHeelFn {
		y[i+1] = h.heelIncrement20(i)
	}
	return newCurve(x, y)
}

// delftWetted is the upright wetted area of a canoe body (Keuning & Sonnenberg
// 1998, from memory).
func delftWetted(l, b, tc, vol, cm float64) float64 {
	return (1.97 + 0.171*b/tc) * math.Cbrt(0.65/cm) * math.Sqrt(vol*l)
}

var delftWetHeelDeg = []float64{0, 5, 10, 15, 20, 25, 30, 35}

var delftWetHeel = [8][4]float64{ // Keuning & Sonnenberg (1998), from memory
	{0, 0, 0, 0},
	{-4.112, .054, -.027, 6.329},
	{-4.522, -.132, -.077, 8.738},
	{-3.291, -.389, -.118, 8.949},
	{1.850, -1.200, -.109, 5.364},
	{6.510, -2.305, -.066, 3.443},
	{12.334, -3.911, .024, 1.767},
	{14.648, -5.182, .102, 3.497},
}

// delftWettedRatio is wetted area at the i-th heel of delftWetHeelDeg over the
// upright one.
func delftWettedRatio(i int, bt, cm float64) float64 {
	s := &delftWetHeel[i]
	return 1 + (s[0]+s[1]*bt+s[2]*bt*bt+s[3]*cm)/100
}

// wettedCurve is that ratio against the size of the heel angle (radians), held
// beyond 35°.
func (h *delftHull) wettedCurve() *uniform {
	x, y := make([]float64, 8), make([]float64, 8)
	for i := range delftWetHeelDeg {
		x[i] = units.Rad(delftWetHeelDeg[i])
		y[i] = delftWettedRatio(i, h.b/h.tc, h.cm)
	}
	c := newCurve(x, y)
	// The slope is made 0 at 0 so that the ratio is smooth through upright.
	c.m[0] = 0
	return newUniform(0, units.Rad(35), 15, func(v float64) float64 { f, _ := c.at(v); return f })
}

var delftDraft = [4][6]float64{ // heel 0, 10, 20, 30°; Keuning & Sonnenberg (1998), from memory
	{3.7455, -3.6246, .0589, -.0296, 1.2306, -.7256},
	{4.4892, -4.8454, .0294, -.0176, 1.4231, -1.2971},
	{3.9592, -3.9804, .0283, -.0075, 1.5450, -1.5622},
	{3.4891, -2.9577, .0250, -.0272, 1.4744, -1.3499},
}

// effectiveDraft is effective over geometric draught of the lifting system,
// Te/T in Ri = Fh²/(π Te² ½ρV²), at heel 10°·i. tcT is canoe-body draft over
// total draft, bt is B/Tc, taper that of the keel.
func effectiveDraft(i int, tcT, bt, taper, fn float64) float64 {
	a := &delftDraft[i]
	return (a[0]*tcT + a[1]*tcT*tcT + a[2]*bt + a[3]*taper) * (a[4] + a[5]*fn)
}
