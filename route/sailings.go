package route

import (
	"math"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// GreatCircle returns the arc between a and b on the sphere in radians and
// the initial course. One minute of arc counts as one nautical mile in the
// traditional sailings; against the ellipsoid the distance errs by up to 0.5 %.
func GreatCircle(a, b orb.Point) (arcRad, courseRad float64) {
	s1, c1 := sincosDeg(a[1])
	s2, c2 := sincosDeg(b[1])
	sl, cl := sincosDeg(units.Wrap180(b[0] - a[0]))
	x, y := sl*c2, c1*s2-s1*c2*cl
	return math.Atan2(math.Hypot(x, y), s1*s2+c1*c2*cl), azimuth(x, y)
}

// CrossTrack returns, on the sphere, how far p lies to the right of the great
// circle from a to b (negative: left) and how far along it, in radians of arc.
// Source: E. Williams, Aviation Formulary V1.46, "Cross track error".
func CrossTrack(a, b, p orb.Point) (rightRad, alongRad float64) {
	d, cp := GreatCircle(a, p)
	_, cb := GreatCircle(a, b)
	s, c := math.Sincos(cp - cb)
	rightRad = math.Asin(math.Sin(d) * s)
	return rightRad, math.Atan2(math.Sin(d)*c, math.Cos(d))
}

// IsometricLatitude returns the isometric latitude of WGS84 in radians, the
// ordinate of the Mercator chart: ψ = atanh(sin φ) − e atanh(e sin φ). It is
// infinite at the poles.
func IsometricLatitude(latDeg float64) float64 {
	s, _ := sincosDeg(latDeg)
	e := math.Sqrt(WGS84.e2)
	return math.Atanh(s) - e*math.Atanh(e*s)
}

// RhumbCourse returns the constant course from a to b on WGS84, the short way
// round.
func RhumbCourse(a, b orb.Point) float64 {
	dLon := units.Rad(units.Wrap180(b[0] - a[0]))
	return azimuth(dLon, IsometricLatitude(b[1])-IsometricLatitude(a[1]))
}

// Rhumb returns length and constant course of the rhumb line from a to b on
// WGS84, the short way round. The length is the meridian arc over the cosine
// of the course; along a parallel it is the parallel's.
func Rhumb(a, b orb.Point) (distM, courseRad float64) {
	courseRad = RhumbCourse(a, b)
	dLon := math.Abs(units.Rad(units.Wrap180(b[0] - a[0])))
	dPsi := math.Abs(IsometricLatitude(b[1]) - IsometricLatitude(a[1]))
	meridian, _, _ := Inverse(orb.Point{0, a[1]}, orb.Point{0, b[1]})
	if dPsi > 1e-6 {
		return meridian * math.Hypot(1, dLon/dPsi), courseRad
	}
	// Nearly along a parallel dPsi has lost its digits: use its radius midway.
	s, c := sincosDeg((a[1] + b[1]) / 2)
	east := dLon * WGS84.a * c / math.Sqrt(1-WGS84.e2*s*s)
	return math.Hypot(meridian, east), courseRad
}
