package route

import (
	"fmt"
	"math"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// Ellipsoid is an oblate ellipsoid of revolution on which geodesics are
// solved by the series of C. F. F. Karney, "Algorithms for geodesics",
// J. Geodesy 87 (2013) 43-55, carried to sixth order in the third flattening.
// The error of distances is of the order of nanometres for flattenings up to
// 1/150; nearly antipodal points are handled.
type Ellipsoid struct {
	a, f, b float64
	n       float64 // third flattening (a − b)/(a + b)
	e2      float64 // first eccentricity squared
	ep2     float64 // second eccentricity squared
	a3      [6]float64
	c3      [5][6]float64 // c3[l-1][j] multiplies ε^j in C3l
}

// WGS84 is the ellipsoid of the World Geodetic System 1984
// (NIMA TR8350.2, 2000, table 3.1: a = 6378137 m, 1/f = 298.257223563).
var WGS84 = NewEllipsoid(6378137, 1/298.257223563)

// NewEllipsoid returns the ellipsoid with equatorial radius aM in metres and
// flattening f. It panics unless aM > 0 and 0 ≤ f < 1/50, the range for which
// the series is meant.
func NewEllipsoid(aM, f float64) *Ellipsoid {
	if !(aM > 0) || !(f >= 0 && f < 0.02) || math.IsInf(aM, 0) {
		panic(fmt.Sprintf("route: no ellipsoid with radius %v and flattening %v", aM, f))
	}
	e := &Ellipsoid{a: aM, f: f, b: aM * (1 - f), n: f / (2 - f), e2: f * (2 - f)}
	e.ep2 = e.e2 / (1 - e.e2)
	n := e.n
	// Karney (2013), eq. (24).
	e.a3 = [6]float64{
		1,
		-(1.0/2 - n/2),
		-(1.0/4 + n/8 - 3*n*n/8),
		-(1.0/16 + 3*n/16 + n*n/16),
		-(3.0/64 + n/32),
		-3.0 / 128,
	}
	// Karney (2013), eq. (25).
	e.c3 = [5][6]float64{
		{0, 1.0/4 - n/4, 1.0/8 - n*n/8, 3.0/64 + 3*n/64 - n*n/64, 5.0/128 + n/64, 3.0 / 128},
		{0, 0, 1.0/16 - 3*n/32 + n*n/32, 3.0/64 - n/32 - 3*n*n/64, 3.0/128 + n/128, 5.0 / 256},
		{0, 0, 0, 5.0/192 - 3*n/64 + 5*n*n/192, 3.0/128 - 5*n/192, 7.0 / 512},
		{0, 0, 0, 0, 7.0/512 - 7*n/256, 7.0 / 512},
		{0, 0, 0, 0, 0, 21.0 / 2560},
	}
	return e
}

// Inverse solves the inverse problem on WGS84: the length of the shortest
// geodesic from a to b in metres and its azimuths at a and at b, both in the
// direction of travel. For coincident points the distance is 0 and the
// azimuths are those of due north. NaN or infinite input gives NaN.
func Inverse(a, b orb.Point) (distM, azAtARad, azAtBRad float64) {
	return WGS84.Inverse(a, b)
}

// Direct solves the direct problem on WGS84: the point distM metres from a
// along the geodesic that leaves a at azRad, and its azimuth there. distM may
// be negative. NaN or infinite input gives NaN.
func Direct(a orb.Point, azRad, distM float64) (p orb.Point, azAtEndRad float64) {
	return WGS84.Direct(a, azRad, distM)
}

// Direct is the direct problem on e; see the function Direct.
func (e *Ellipsoid) Direct(a orb.Point, azRad, distM float64) (orb.Point, float64) {
	var l Line
	l.init(e, a, azRad)
	return l.At(distM)
}

// tiny stands in for zero where a direction must stay defined at a pole or on
// the equator; its square root of underflow keeps products above zero.
const tiny = 1.4916681462400413e-154

// sincosDeg returns sine and cosine of an angle in degrees, exact at the
// multiples of 90°.
func sincosDeg(deg float64) (s, c float64) {
	r := math.Mod(deg, 360)
	q := math.Round(r / 90)
	s, c = math.Sincos((r - 90*q) * (math.Pi / 180))
	switch int(q) & 3 {
	case 1:
		s, c = c, -s
	case 2:
		s, c = -s, -c
	case 3:
		s, c = -c, s
	}
	return s, c
}

// reduced returns sine and cosine of the reduced latitude β, tan β = (1−f) tan φ,
// with the cosine kept above zero at the poles.
func (e *Ellipsoid) reduced(latDeg float64) (s, c float64) {
	s, c = sincosDeg(latDeg)
	s *= 1 - e.f
	h := math.Hypot(s, c)
	return s / h, math.Max(tiny, c/h)
}

// epsilon returns Karney's expansion parameter ε for k² = e'² cos² α0, eq. (16).
func epsilon(k2 float64) float64 {
	r := math.Sqrt(1 + k2)
	return k2 / ((r + 1) * (r + 1))
}

// a1m1 returns A1 − 1, eq. (17).
func a1m1(eps float64) float64 {
	e2 := eps * eps
	t := e2 * (1.0/4 + e2*(1.0/64+e2/256))
	return (t + eps) / (1 - eps)
}

// c1 returns the coefficients C1l, eq. (18); index 0 is unused.
func c1(eps float64) (c [7]float64) {
	e2 := eps * eps
	d := eps
	c[1] = d * (-1.0/2 + e2*(3.0/16-e2/32))
	d *= eps
	c[2] = d * (-1.0/16 + e2*(1.0/32-9*e2/2048))
	d *= eps
	c[3] = d * (-1.0/48 + 3*e2/256)
	d *= eps
	c[4] = d * (-5.0/512 + 3*e2/512)
	d *= eps
	c[5] = d * (-7.0 / 1280)
	d *= eps
	c[6] = d * (-7.0 / 2048)
	return c
}

// c1p returns the coefficients C'1l of the reverted series, eq. (21).
func c1p(eps float64) (c [7]float64) {
	e2 := eps * eps
	d := eps
	c[1] = d * (1.0/2 + e2*(-9.0/32+205*e2/1536))
	d *= eps
	c[2] = d * (5.0/16 + e2*(-37.0/96+1335*e2/4096))
	d *= eps
	c[3] = d * (29.0/96 - 75*e2/128)
	d *= eps
	c[4] = d * (539.0/1536 - 2391*e2/2560)
	d *= eps
	c[5] = d * (3467.0 / 7680)
	d *= eps
	c[6] = d * (38081.0 / 61440)
	return c
}

// a2m1 returns A2 − 1, eq. (42).
func a2m1(eps float64) float64 {
	e2 := eps * eps
	t := e2 * (1.0/4 + e2*(9.0/64+25*e2/256))
	return t*(1-eps) - eps
}

// c2 returns the coefficients C2l, eq. (43).
func c2(eps float64) (c [7]float64) {
	e2 := eps * eps
	d := eps
	c[1] = d * (1.0/2 + e2*(1.0/16+e2/32))
	d *= eps
	c[2] = d * (3.0/16 + e2*(1.0/32+35*e2/2048))
	d *= eps
	c[3] = d * (5.0/48 + 5*e2/256)
	d *= eps
	c[4] = d * (35.0/512 + 7*e2/512)
	d *= eps
	c[5] = d * (63.0 / 1280)
	d *= eps
	c[6] = d * (77.0 / 2048)
	return c
}

// series3 returns A3 and the coefficients C3l, eqs (24) and (25).
func (e *Ellipsoid) series3(eps float64) (a3 float64, c [7]float64) {
	for j := 5; j >= 0; j-- {
		a3 = a3*eps + e.a3[j]
	}
	for l := range e.c3 {
		p := 0.0
		for j := 5; j > l; j-- {
			p = p*eps + e.c3[l][j]
		}
		d := eps
		for range l {
			d *= eps
		}
		c[l+1] = p * d
	}
	return a3, c
}

// sinSeries sums c[l] sin 2lσ for l = 1…6 by Clenshaw's recurrence.
func sinSeries(s, c float64, k *[7]float64) float64 {
	x := 2 * (c - s) * (c + s) // 2 cos 2σ
	y0, y1 := 0.0, 0.0
	for l := 6; l >= 1; l-- {
		y0, y1 = x*y0-y1+k[l], y0
	}
	return 2 * s * c * y0
}

func norm2(s, c float64) (float64, float64) {
	h := math.Hypot(s, c)
	return s / h, c / h
}

func finite(x ...float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// azimuth turns (sin α, cos α) into radians in [0, 2π).
func azimuth(s, c float64) float64 { return units.Wrap2Pi(math.Atan2(s, c)) }
