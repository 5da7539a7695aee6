package vpp

import (
	"math"
	"sync"
)

// The free surface and a lifting foil: loss of lift slope (two-dimensional, any
// Froude number) and induced plus wave drag (three-dimensional, any Froude
// number). Both are tabulated once per process.

// liftFactor2D is lift of a flat foil of chord c at depth h over its lift deep
// down, by one vortex at the quarter chord and one control point at three
// quarters. The vortex under a linear free surface (Kelvin 1905; Wehausen &
// Laitone 1960, Surface Waves, sec. 20) induces at distance x behind it, at its
// own depth, with ν = g/U²,
//
//	v = Γ/2π { 1/x + x/(x²+4h²) + 2ν PV∫ e^{−2kh} sin kx/(k−ν) dk + 2πν e^{−2νh} cos νx },
//
// so that K = 1/(1 + (c/2) I) with I all but the first term at x = c/2. As
// U → ∞ it is the biplane factor (1 + 16 H²)/(2 + 16 H²), H = h/c; at finite
// Froude number it dips to 0.6 near take-off as Hough & Moran (1969, J. Ship
// Res. 13) found. Inputs: hc = h/c > 0, nuc = g c/U² ≥ 0.
func liftFactor2D(hc, nuc float64) float64 {
	const x = 0.5 // chord = 1
	i := x / (x*x + 4*hc*hc)
	if nuc > 0 {
		// At low speed e^{−2νh} kills the waves, and the integral tends to −1/ν
		// times the image term.
		i += 2*nuc*principalValue(hc, nuc, x) + 2*math.Pi*nuc*math.Exp(-2*nuc*hc)*math.Cos(nuc*x)
	}
	return 1 / (1 + x*i)
}

// boundedLiftFactor keeps the linear result between 0.4 and 1.3: at very low
// speed and depth (g c/U² > 1, h/c < 0.5) the linear theory resonates, where the
// real surface breaks. The model meets this only below about 4 kn.
func boundedLiftFactor(hc, nuc float64) float64 {
	k := liftFactor2D(hc, nuc)
	if !(k > 0) { // past the resonance
		k = 1.3
	}
	if nuc > 1 {
		// Fade to the deep value so that the bound is not met with a corner.
		f := smoothStep((nuc - 1) / 2)
		k += f * (min(k, 1.3) - k)
	}
	return min(max(k, 0.4), 1.3)
}

// principalValue is PV∫₀^∞ e^{−2kh} sin(kx)/(k−ν) dk: the part from 0 to 2ν folded
// about ν, where it is regular, the rest as it stands.
func principalValue(h, nu, x float64) float64 {
	f := func(k float64) float64 { return math.Exp(-2*k*h) * math.Sin(k*x) }
	fold := gauss(0, nu, panels(nu, h, x), func(u float64) float64 { return (f(nu+u) - f(nu-u)) / u })
	end := 2*nu + 36/(2*h)
	rest := gauss(2*nu, end, panels(end-2*nu, h, x), func(k float64) float64 { return f(k) / (k - nu) })
	return fold + rest
}

// panels is how many Gauss panels resolve both the decay and the waves of the
// integrand over a range.
func panels(span, h, x float64) int {
	n := int(span*(2*h/6+x/3)) + 2
	return min(n, 400)
}

// gauss integrates f over [a, b] in n panels of 8-point Gauss-Legendre.
func gauss(a, b float64, n int, f func(float64) float64) float64 {
	xs := [4]float64{0.1834346424956498, 0.5255324099163290, 0.7966664774136267, 0.9602898564975363}
	ws := [4]float64{0.3626837833783620, 0.3137066458778873, 0.2223810344533745, 0.1012285362903763}
	h := (b - a) / float64(n) / 2
	var sum float64
	for i := range n {
		m := a + h*float64(2*i+1)
		for j := range xs {
			sum += ws[j] * (f(m-h*xs[j]) + f(m+h*xs[j]))
		}
	}
	return sum * h
}

// biplaneSigma is Prandtl's interference factor of two equal elliptic wings with
// gap over span l (twice the depth over the span): 1 − (4/π) l √(1+l²)
// [K(k) − E(k)], k = 1/√(1+l²) (Breslin 1957, J. Ship Res. 1). l > 0.
func biplaneSigma(l float64) float64 {
	k2 := 1 / (1 + l*l)
	kk, ee := elliptic(k2)
	return 1 - 4/math.Pi*l*math.Sqrt(1+l*l)*(kk-ee)
}

// elliptic returns the complete integrals K and E for parameter m = k² < 1, by
// the arithmetic-geometric mean (Abramowitz & Stegun 1964, 17.6).
func elliptic(m float64) (k, e float64) {
	a, b := 1.0, math.Sqrt(1-m)
	sum, p := m/2, 0.5
	for math.Abs(a-b) > 1e-15*a {
		a, b = (a+b)/2, math.Sqrt(a*b)
		c := a * a
		c -= b * b // c² of this step = a² − b²
		p *= 2
		sum += p * c
	}
	k = math.Pi / (2 * a)
	return k, k * (1 - sum)
}

// inducedFactor is induced plus wave drag of an elliptic foil over its induced
// drag deep down, CDi = CL²/(πA)·factor (Breslin 1957): 1 − σ(l) + 8 I, with
// l = 2h/b and, for κ = g b/2U²,
//
//	I = ∫₀^{π/2} J₁²(κ sec²q sin q) exp(−2κl sec²q) / (sin²q cos q) dq.
//
// Limits: rigid wall 1 − σ as U → 0, biplane 1 + σ as U → ∞. Here tan q = sinh x.
func inducedFactor(l, kappa float64) float64 {
	s := biplaneSigma(l)
	if kappa <= 0 {
		return 1 + s
	}
	a := 2 * kappa * l
	if a > 40 {
		return 1 - s
	}
	end := math.Acosh(math.Sqrt(1 + 40/a))
	n := 40 + int(4*end) + int(kappa*math.Cosh(end)*math.Sinh(end)/4)
	i := gauss(0, end, min(n, 600), func(x float64) float64 {
		sh, ch := math.Sinh(x), math.Cosh(x)
		j := math.J1(kappa * sh * ch)
		return j * j * math.Exp(-a*ch*ch) * ch * ch / (sh * sh)
	})
	return 1 - s + 8*i
}

// surfaceTables holds both factors on grids: rows for speed (log of g·length/U²),
// columns for log depth. Between rows the interpolation is cubic, within a row a
// uniform monotone cubic.
type surfaceTables struct {
	lift, induced [nSpeed][]float64
	sigma         *uniform
}

const (
	nSpeed   = 33
	logNu0   = -7.0 // ln(g c/U²): 60 m/s at 0.4 m chord …
	logNu1   = 4.5  // … to 0.25 m/s
	nDepth   = 24
	logDep0  = -3.0 // ln(h/c) and ln(2h/b): 0.05 …
	logDep1  = 2.75 // … to 15.6
	logNuHi  = (logNu1 - logNu0) / (nSpeed - 1)
	logDepHi = (logDep1 - logDep0) / (nDepth - 1)
)

var surface = sync.OnceValue(func() *surfaceTables {
	t := &surfaceTables{}
	for i := range nSpeed {
		nu := math.Exp(logNu0 + logNuHi*float64(i))
		t.lift[i], t.induced[i] = make([]float64, nDepth), make([]float64, nDepth)
		for j := range nDepth {
			d := math.Exp(logDep0 + logDepHi*float64(j))
			t.lift[i][j] = boundedLiftFactor(d, nu)
			t.induced[i][j] = inducedFactor(d, nu)
		}
	}
	t.sigma = newUniform(logDep0, logDep1, nDepth, func(x float64) float64 { return biplaneSigma(math.Exp(x)) })
	return t
})

// slice fills dst with the curve over log depth at one speed (nu = g·length/U²).
func (t *surfaceTables) slice(rows *[nSpeed][]float64, nu float64, dst *uniform) {
	p := (math.Log(max(nu, 1e-12)) - logNu0) / logNuHi
	p = min(max(p, 0), nSpeed-1-1e-9)
	i := int(p)
	f := p - float64(i)
	// Catmull-Rom weights; at the ends the outer point repeats.
	w := [4]float64{-f * (1 - f) * (1 - f) / 2, 1 + f*f*(1.5*f-2.5), f * (1 + f*(4-3*f)) / 2, -f * f * (1 - f) / 2}
	r := [4][]float64{rows[max(i-1, 0)], rows[i], rows[min(i+1, nSpeed-1)], rows[min(i+2, nSpeed-1)]}
	for j := range nDepth {
		dst.y[j] = w[0]*r[0][j] + w[1]*r[1][j] + w[2]*r[2][j] + w[3]*r[3][j]
	}
	centralSlopes(dst)
}

// centralSlopes sets Catmull-Rom slopes on an evenly spaced curve. Unlike the
// monotone ones they vary smoothly with the values, so that a slice varies
// smoothly with speed.
func centralSlopes(u *uniform) {
	n := len(u.y)
	for j := 1; j < n-1; j++ {
		u.m[j] = (u.y[j+1] - u.y[j-1]) / (2 * u.h)
	}
	u.m[0], u.m[n-1] = 0, 0
}

// newSlice makes an empty curve over log depth for slice to fill.
func newSlice() *uniform {
	return &uniform{x0: logDep0, h: logDepHi, y: make([]float64, nDepth), m: make([]float64, nDepth)}
}
