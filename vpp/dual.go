package vpp

import "math"

// d3 is a dual number for forward-mode differentiation: a value and its three
// partial derivatives. Every block of the model (hull, foil, fin, sails) has at
// most three inputs of its own; the blocks' derivatives are chained to the four
// unknowns of the balances in balance.go. Three partials, not four, because a
// struct of four floats stays in registers: measured ten times faster than five.
type d3 struct{ v, x, y, z float64 }

func con(v float64) d3              { return d3{v: v} }
func (a d3) add(b d3) d3            { return d3{a.v + b.v, a.x + b.x, a.y + b.y, a.z + b.z} }
func (a d3) sub(b d3) d3            { return d3{a.v - b.v, a.x - b.x, a.y - b.y, a.z - b.z} }
func (a d3) addc(c float64) d3      { return d3{a.v + c, a.x, a.y, a.z} }
func (a d3) scale(c float64) d3     { return d3{a.v * c, a.x * c, a.y * c, a.z * c} }
func (a d3) neg() d3                { return d3{-a.v, -a.x, -a.y, -a.z} }
func (a d3) chain(f, df float64) d3 { return d3{f, a.x * df, a.y * df, a.z * df} }

func (a d3) mul(b d3) d3 {
	return d3{a.v * b.v, a.x*b.v + a.v*b.x, a.y*b.v + a.v*b.y, a.z*b.v + a.v*b.z}
}

func (a d3) div(b d3) d3 {
	i := 1 / b.v
	q := a.v * i
	return d3{q, (a.x - q*b.x) * i, (a.y - q*b.y) * i, (a.z - q*b.z) * i}
}

func (a d3) sq() d3 {
	t := 2 * a.v
	return d3{a.v * a.v, a.x * t, a.y * t, a.z * t}
}

func (a d3) sqrt() d3 {
	r := math.Sqrt(a.v)
	return a.chain(r, 0.5/r)
}

// pow raises a positive number to a constant power.
func (a d3) pow(p float64) d3 {
	f := math.Exp(p * math.Log(a.v))
	return a.chain(f, p*f/a.v)
}

func (a d3) exp() d3 {
	f := math.Exp(a.v)
	return a.chain(f, f)
}

func (a d3) sincos() (sin, cos d3) {
	s, c := math.Sincos(a.v)
	return a.chain(s, c), a.chain(c, -s)
}

// positive is a smooth max(a, 0): ½(a + √(a² + 4ε²)), within ε of it everywhere.
func (a d3) positive(eps float64) d3 {
	r := math.Sqrt(a.v*a.v + 4*eps*eps)
	return a.chain(0.5*(a.v+r), 0.5*(1+a.v/r))
}

// smoothMax is a smooth max(a, floor) that never falls below the floor.
func (a d3) smoothMax(floor, width float64) d3 {
	f, df := softplus((a.v - floor) / width)
	return a.chain(floor+width*f, df)
}

// softCap returns a/(1+(a/cap)⁴)^¼ with 1/cap⁴ given: linear for small a,
// levelling off at ±cap, odd in a.
func (a d3) softCap(invCap4 d3) d3 {
	a2 := a.v * a.v
	a4 := a2 * a2
	b := 1 + a4*invCap4.v
	rb := 1 / math.Sqrt(math.Sqrt(b)) // b^-¼
	fa := rb / b                      // ∂/∂a = b^-5/4
	fc := -0.25 * a.v * a4 * rb / b
	return d3{a.v * rb, a.x*fa + invCap4.x*fc, a.y*fa + invCap4.y*fc, a.z*fa + invCap4.z*fc}
}

// smoothStep rises from 0 at x ≤ 0 to 1 at x ≥ 1 with two continuous
// derivatives (quintic).
func smoothStep(x float64) float64 {
	x = min(max(x, 0), 1)
	return x * x * x * (10 + x*(6*x-15))
}
