// Package units holds the few unit conversions that the project needs. Inside
// the packages everything is SI and radians; knots, degrees, nautical miles and
// tonnes appear only at the edges (files, tables, charts), and only through
// these constants.
package units

import "math"

const (
	// MSPerKnot is metres per second in one knot, by the definition of the
	// international nautical mile (1852 m, First International Extraordinary
	// Hydrographic Conference, Monaco, 1929).
	MSPerKnot = 1852.0 / 3600.0
	// MPerNM is metres in one international nautical mile.
	MPerNM = 1852.0
	// G is standard gravity in m/s² (3rd CGPM, 1901).
	G = 9.80665
	// SPerHour is seconds in one hour.
	SPerHour = 3600.0
	// KgPerTonne is kilograms in one tonne.
	KgPerTonne = 1000.0
)

// MS converts knots to metres per second.
func MS(knots float64) float64 { return knots * MSPerKnot }

// Knots converts metres per second to knots.
func Knots(ms float64) float64 { return ms / MSPerKnot }

// Rad converts degrees to radians.
func Rad(deg float64) float64 { return deg * (math.Pi / 180) }

// Deg converts radians to degrees.
func Deg(rad float64) float64 { return rad * (180 / math.Pi) }

// TonnesForce converts a force in newtons to tonnes-force (the weight of one
// tonne under standard gravity), the unit in which sailors speak of foil lift.
func TonnesForce(n float64) float64 { return n / (G * KgPerTonne) }

// Wrap180 returns the longitude or relative bearing in degrees wrapped to
// [−180, 180).
func Wrap180(deg float64) float64 {
	d := math.Mod(deg+180, 360)
	if d < 0 {
		d += 360
	}
	return d - 180
}

// Wrap2Pi returns the direction in radians wrapped to [0, 2π).
func Wrap2Pi(rad float64) float64 {
	r := math.Mod(rad, 2*math.Pi)
	if r < 0 {
		r += 2 * math.Pi
	}
	if r >= 2*math.Pi { // −ε rounds up to 2π
		r = 0
	}
	return r
}
