package vpp

import (
	"math"
	"sort"
)

// curve is a monotone cubic through points (Fritsch & Carlson 1980, SIAM J.
// Numer. Anal. 17, with Fritsch & Butland's 1984 harmonic-mean slopes): smooth,
// and never outside the values of the two points around. Outside its points it
// holds the end values.
type curve struct{ x, y, m []float64 }

func newCurve(x, y []float64) *curve {
	c := &curve{x: x, y: y, m: make([]float64, len(x))}
	slopes(x, y, c.m)
	return c
}

// slopes fills m with the slopes of the monotone cubic through the points.
func slopes(x, y, m []float64) {
	n := len(x)
	if n == 1 {
		m[0] = 0
		return
	}
	if n == 2 {
		m[0] = (y[1] - y[0]) / (x[1] - x[0])
		m[1] = m[0]
		return
	}
	for i := 1; i < n-1; i++ {
		h0, h1 := x[i]-x[i-1], x[i+1]-x[i]
		m[i] = butland(h0, h1, (y[i]-y[i-1])/h0, (y[i+1]-y[i])/h1)
	}
	m[0] = endSlope(x[1]-x[0], x[2]-x[1], (y[1]-y[0])/(x[1]-x[0]), (y[2]-y[1])/(x[2]-x[1]))
	m[n-1] = endSlope(x[n-1]-x[n-2], x[n-2]-x[n-3], (y[n-1]-y[n-2])/(x[n-1]-x[n-2]), (y[n-2]-y[n-3])/(x[n-2]-x[n-3]))
}

// butland is the weighted harmonic mean of two neighbouring chord slopes, 0
// when they differ in sign.
func butland(h0, h1, d0, d1 float64) float64 {
	if d0*d1 <= 0 {
		return 0
	}
	w0, w1 := 2*h1+h0, h1+2*h0
	return (w0 + w1) / (w0/d0 + w1/d1)
}

// endSlope is the three-point slope at an end, limited so that the curve stays
// monotone.
func endSlope(h0, h1, d0, d1 float64) float64 {
	s := ((2*h0+h1)*d0 - h0*d1) / (h0 + h1)
	switch {
	case s*d0 <= 0:
		return 0
	case d0*d1 <= 0 && math.Abs(s) > 3*math.Abs(d0):
		return 3 * d0
	}
	return s
}

// at returns the value and the slope at v.
func (c *curve) at(v float64) (f, df float64) {
	n := len(c.x)
	if v <= c.x[0] {
		return c.y[0], 0
	}
	if v >= c.x[n-1] {
		return c.y[n-1], 0
	}
	i := sort.SearchFloat64s(c.x, v) - 1
	return hermite(c.x[i], c.x[i+1], c.y[i], c.y[i+1], c.m[i], c.m[i+1], v)
}

func hermite(x0, x1, y0, y1, m0, m1, v float64) (f, df float64) {
	h := x1 - x0
	t := (v - x0) / h
	d := y1 - y0
	a := h*m0 - d
	b := d - h*m1
	u := 1 - t
	f = u*y0 + t*y1 + t*u*(u*a+t*b)
	df = (d + (1-2*t)*(u*a+t*b) + t*u*(b-a)) / h
	return f, df
}

// uniform is the same curve over evenly spaced points, for the inner solve.
type uniform struct {
	x0, h float64
	y, m  []float64
}

// newUniform samples f at n points from x0 to x1.
func newUniform(x0, x1 float64, n int, f func(float64) float64) *uniform {
	x, y := make([]float64, n), make([]float64, n)
	for i := range n {
		x[i] = x0 + (x1-x0)*float64(i)/float64(n-1)
		y[i] = f(x[i])
	}
	u := &uniform{x0: x0, h: (x1 - x0) / float64(n-1), y: y, m: make([]float64, n)}
	slopes(x, y, u.m)
	return u
}

func (c *uniform) at(v float64) (f, df float64) {
	p := (v - c.x0) / c.h
	n := len(c.y) - 1
	if !(p > 0) {
		return c.y[0], 0
	}
	i := int(p)
	if i >= n {
		return c.y[n], 0
	}
	t := p - float64(i)
	h := c.h
	d := c.y[i+1] - c.y[i]
	a := h*c.m[i] - d
	b := d - h*c.m[i+1]
	u := 1 - t
	f = u*c.y[i] + t*c.y[i+1] + t*u*(u*a+t*b)
	df = (d + (1-2*t)*(u*a+t*b) + t*u*(b-a)) / h
	return f, df
}

func (c *uniform) atD(a d3) d3 {
	f, df := c.at(a.v)
	return a.chain(f, df)
}
