package vpp

import "math"

// Savitsky (1964), "Hydrodynamic design of planing hulls", Marine Technology
// 1(1), 71–95. Valid for 0.60 ≤ Cv ≤ 13, 2° ≤ trim ≤ 15°, wetted length/beam ≤ 4.
// Outside, the same equations are continued: trim is held softly above
// minPlaningTrim, and the wetted length softly below the waterline length; both
// are flagged in Point.Extrapolated.

// savitskyCL0 inverts CLβ = CL0 − 0.0065 β CL0^0.6 (β in degrees) for the lift
// coefficient of the flat plate, and its slope against CLβ.
func savitskyCL0(clb, deadriseDeg float64) (cl0, dcl0 float64) {
	// With CL0 = x⁵ it is the polynomial x³(x² − k) = CLβ, convex past its root;
	// CLβ^⅕ + √k lies beyond it.
	k := 0.0065 * deadriseDeg
	x := math.Exp(0.2*math.Log(clb)) + math.Sqrt(k)
	for range 40 {
		x2 := x * x
		step := (x2*x*(x2-k) - clb) / (x2 * (5*x2 - 3*k))
		x -= step
		if math.Abs(step) < 1e-14*x {
			break
		}
	}
	x2 := x * x
	return x2 * x2 * x, 1 / (1 - 0.6*k/x2)
}

// savitskyLambda solves CL0 = τ^1.1 (0.0120 λ^½ + 0.0055 λ^2.5/Cv²) for the mean
// wetted length over beam: with t = √λ, y = 0.0120 t + k t⁵, y = CL0/τ^1.1. It
// also returns the slope against y.
func savitskyLambda(y, cv float64) (lambda, dlambda float64) {
	k := 0.0055 / (cv * cv)
	// Start above the root, where Newton on a convex rising function falls
	// monotonically.
	t := min(y/0.0120, math.Exp(0.2*math.Log(y/k)))
	for range 40 {
		t4 := t * t * t * t
		step := (0.0120*t + k*t*t4 - y) / (0.0120 + 5*k*t4)
		t -= step
		if math.Abs(step) < 1e-13*t {
			break
		}
	}
	t4 := t * t * t * t
	return t * t, 2 * t / (0.0120 + 5*k*t4)
}

// savitskyCp is the centre of pressure forward of the transom over wetted
// length: 0.75 − 1/(5.21 Cv²/λ² + 2.39).
func savitskyCp(lambda, cv float64) float64 {
	return 0.75 - 1/(5.21*cv*cv/(lambda*lambda)+2.39)
}

// planing is a prismatic hull planing with all its data.
type planing struct {
	beamM, deadriseRad float64
	density, viscosity float64
	friction           func(re float64) float64
	roughness          float64 // ΔCF
}

// state returns wetted length over beam, friction drag and total drag at the
// given weight, speed and trim, and the centre of pressure over wetted length:
// the long-form equations with nothing softened.
func (p *planing) state(weightN, vMS, trimRad float64) (lambda, frictionN, dragN, cp float64) {
	const g = 9.80665
	b := p.beamM
	cv := vMS / math.Sqrt(g*b)
	tau := trimRad * 180 / math.Pi
	t11 := math.Pow(tau, 1.1)
	betaDeg := p.deadriseRad * 180 / math.Pi
	cl0, _ := savitskyCL0(weightN/(0.5*p.density*vMS*vMS*b*b), betaDeg)
	lambda, _ = savitskyLambda(cl0/t11, cv)
	vm := vMS * math.Sqrt(1-savitskyDynamic(lambda, t11, betaDeg)/(lambda*math.Cos(trimRad)))
	cf := p.friction(vm*lambda*b/p.viscosity) + p.roughness
	frictionN = 0.5 * p.density * vm * vm * lambda * b * b * cf / math.Cos(p.deadriseRad)
	dragN = weightN*math.Tan(trimRad) + frictionN/math.Cos(trimRad)
	return lambda, frictionN, dragN, savitskyCp(lambda, cv)
}

// savitskyDynamic is the dynamic part of the lift coefficient, with deadrise.
func savitskyDynamic(lambda, tau11, deadriseDeg float64) float64 {
	d0 := 0.0120 * math.Sqrt(lambda) * tau11
	return d0 - 0.0065*deadriseDeg*math.Pow(d0, 0.6)
}

// equilibriumTrim finds the trim at which weight, drag and a thrust at angle
// eps to the keel, f above the centre of gravity, balance in pitch (Savitsky
// 1964, eq. 35), between 0.5° and 15°.
func (p *planing) equilibriumTrim(weightN, vMS, lcgM, vcgM, epsRad, fM float64) float64 {
	moment := func(tau float64) float64 {
		lambda, df, _, cp := p.state(weightN, vMS, tau)
		c := lcgM - cp*lambda*p.beamM
		a := vcgM - p.beamM/4*math.Tan(p.deadriseRad)
		return weightN*((1-math.Sin(tau)*math.Sin(tau+epsRad))*c/math.Cos(tau)-fM*math.Sin(tau)) + df*(a-fM)
	}
	lo, hi := 0.5*math.Pi/180, 15*math.Pi/180
	for range 60 {
		mid := 0.5 * (lo + hi)
		if (moment(mid) > 0) == (moment(hi) > 0) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return 0.5 * (lo + hi)
}
