// Package waves tells the sea that a wind raises, by published relations for
// limited fetch and duration, and the sea's spectrum.
package waves

import (
	"math"

	"foilledger/vpp/units"
)

const g = units.G

// Sea is a wind sea: significant height and peak period.
type Sea struct {
	HsM, PeakS float64
}

// Relation is a growth law of the form that coastal engineering uses, with a
// velocity scale V made from the wind U at 10 m:
//
//	gH/V² = Height·X^½   gT/V = Period·X^⅓   X = gF/V² ≤ Fetch·(gt/V)^(3/2)
//
// for fetch F and duration t.
type Relation struct {
	Name   string
	Source string
	// Velocity returns V in m/s for the wind at 10 m in m/s.
	Velocity func(u10MS float64) float64
	// Height, Period and Fetch are the coefficients above.
	Height, Period, Fetch float64
	// MaxHeight and MaxPeriod are gH/V² and gT/V of the fully developed sea.
	MaxHeight, MaxPeriod float64
}

// CEM is the relation of the U.S. Army Corps of Engineers, Coastal Engineering
// Manual, EM 1110-2-1100, part II chapter 2 (2002): V is the friction velocity
// U√CD with CD = 0.001 (1.1 + 0.035 U).
var CEM = Relation{
	Name:   "CEM",
	Source: "U.S. Army Corps of Engineers, Coastal Engineering Manual EM 1110-2-1100 part II-2, 2002",
	Velocity: func(u float64) float64 {
		return u * math.Sqrt(0.001*(1.1+0.035*u))
	},
	Height: 4.13e-2, Period: 0.651, Fetch: 5.23e-3,
	MaxHeight: 211.5, MaxPeriod: 239.8,
}

// SPM is the relation of the U.S. Army Corps of Engineers, Shore Protection
// Manual, 1984: V is the adjusted wind 0.71 U^1.23. The duration coefficient
// follows from its gt/V = 68.8 X^⅔ (from memory).
var SPM = Relation{
	Name:     "SPM",
	Source:   "U.S. Army Corps of Engineers, Shore Protection Manual, 1984",
	Velocity: func(u float64) float64 { return 0.71 * math.Pow(u, 1.23) },
	Height:   1.6e-3, Period: 0.2857, Fetch: math.Pow(68.8, -1.5),
	MaxHeight: 0.2433, MaxPeriod: 8.134,
}

// Unadjusted returns r with the wind at 10 m itself as velocity scale, as some
// textbooks use the SPM relation.
func (r Relation) Unadjusted() Relation {
	r.Velocity = func(u float64) float64 { return u }
	return r
}

// Grow returns the sea under a steady wind that has blown for durationS over
// fetchM, both of which may be +Inf. Calm gives no sea.
func (r Relation) Grow(u10MS, fetchM, durationS float64) Sea {
	v := r.Velocity(u10MS)
	if !(v > 0) {
		return Sea{}
	}
	x := min(g*fetchM/(v*v), r.fetchAfter(g*durationS/v))
	return Sea{
		HsM:   v * v / g * min(r.Height*math.Sqrt(x), r.MaxHeight),
		PeakS: v / g * min(r.Period*math.Cbrt(x), r.MaxPeriod),
	}
}

// MinDurationS is how long the wind must blow until the fetch limits the sea.
func (r Relation) MinDurationS(u10MS, fetchM float64) float64 {
	v := r.Velocity(u10MS)
	return v / g * r.durationFor(g*fetchM/(v*v))
}

// fetchAfter is X for a dimensionless duration, durationFor its inverse.
func (r Relation) fetchAfter(t float64) float64  { return r.Fetch * t * math.Sqrt(t) }
func (r Relation) durationFor(x float64) float64 { c := math.Cbrt(x / r.Fetch); return c * c }

// fetchForHeight and fetchForPeriod are the X at which the sea has this height
// or period.
func (r Relation) fetchForHeight(v, hsM float64) float64 {
	a := g * hsM / (v * v * r.Height)
	return a * a
}

func (r Relation) fetchForPeriod(v, peakS float64) float64 {
	a := g * peakS / (v * r.Period)
	return a * a * a
}

// FullyDeveloped is the sea of Pierson and Moskowitz, "A proposed spectral form
// for fully developed wind seas based on the similarity theory of S. A.
// Kitaigorodskii", J. Geophys. Res. 69, 1964: Hs = 2(U²/g)√(α/β), ωp =
// 0.877 g/U with α 8.1e-3, β 0.74 and U at 19.5 m, here 1.026 U10.
func FullyDeveloped(u10MS float64) Sea {
	if !(u10MS > 0) {
		return Sea{}
	}
	u := 1.026 * u10MS
	return Sea{HsM: 2 * u * u / g * math.Sqrt(8.1e-3/0.74), PeakS: 2 * math.Pi * u / (0.877 * g)}
}

// DeepWaterLengthM is the length gT²/2π of a deep-water wave.
func DeepWaterLengthM(periodS float64) float64 { return g * periodS * periodS / (2 * math.Pi) }

// DeepWaterSpeedMS is the phase speed gT/2π of a deep-water wave; its energy
// travels at half of it.
func DeepWaterSpeedMS(periodS float64) float64 { return g * periodS / (2 * math.Pi) }
