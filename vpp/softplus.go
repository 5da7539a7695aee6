package vpp

import "math"

// softplus is ln(1+eᵘ), a smooth max(u, 0), and its slope, the logistic curve.
// Beyond ±30 it is within 10⁻¹³ of its limits, and beyond −700 it is 0. It is the
// innermost function of the model, so it is read from Taylor series about even
// points: to rounding, and three times faster than exp and log.
func softplus(u float64) (f, df float64) {
	t := math.Abs(u)
	if !(t < softEnd) {
		switch {
		case u > 0:
			return u, 1
		case u < -700:
			return 0, 0
		}
		e := math.Exp(u)
		return e, e
	}
	i := int(t*softPer + 0.5)
	c := &softSeries[i]
	d := t - float64(i)*(1.0/softPer)
	f = c[0] + d*(c[1]+d*(c[2]+d*(c[3]+d*(c[4]+d*(c[5]+d*c[6])))))
	df = c[1] + d*(2*c[2]+d*(3*c[3]+d*(4*c[4]+d*(5*c[5]+d*(6*c[6]+d*c[7])))))
	if u > 0 { // ln(1+eᵘ) = u + ln(1+e⁻ᵘ)
		return f + u, df + 1
	}
	return f, -df
}

const (
	softEnd = 30.0
	softPer = 16 // points per unit of u
)

// softSeries holds the Taylor coefficients of ln(1+e⁻ᵗ) about the points t =
// i/softPer; the last is 7 times the seventh, for the slope alone. Within 1/32 of
// a point, and with the nearest singularity π away, the first term left out is
// 10⁻¹⁴ of the value.
var softSeries = func() *[softEnd*softPer + 1][8]float64 {
	var t [softEnd*softPer + 1][8]float64
	// The derivatives of the logistic p(t) = 1/(1+eᵗ) are polynomials in p, by p' =
	// −p(1−p); those of ln(1+e⁻ᵗ) are one step on from −p.
	var poly [7][9]float64
	poly[0][1] = -1
	for n := 1; n < len(poly); n++ {
		for k := 1; k < 8; k++ {
			a := poly[n-1][k] * float64(k)
			poly[n][k] -= a
			poly[n][k+1] += a
		}
	}
	for i := range t {
		e := math.Exp(-float64(i) / softPer)
		p := e / (1 + e)
		t[i][0] = math.Log1p(e)
		fact := 1.0
		for n := range poly {
			v := 0.0
			for k := 8; k >= 0; k-- {
				v = v*p + poly[n][k]
			}
			fact *= float64(n + 1)
			t[i][n+1] = v / fact
		}
		t[i][7] *= 7
	}
	return &t
}()
