// Package synth makes weather by published parametric models: steady, turning
// and oscillating winds, sea breeze, squalls, moving lows, highs and fronts, and
// ensembles round them.
package synth

import (
	"math"

	"foilledger/vpp/units"
)

const (
	// earthRate is the Earth's rotation in rad/s (WGS84).
	earthRate = 7.292115e-5
	// earthM is the mean radius of the Earth (2a+b)/3 of WGS84.
	earthM = 6371008.771
	// rhoAir is the air density that the parts use unless told otherwise,
	// kg/m³: the value of the hazard-model test suite that the Holland profile
	// is checked against.
	rhoAir = 1.15
)

// Coriolis is the Coriolis parameter 2Ω sin φ in 1/s, negative in the south.
func Coriolis(latDeg float64) float64 { return 2 * earthRate * math.Sin(units.Rad(latDeg)) }

// GeostrophicMS is the wind in balance with a pressure gradient in Pa/m at the
// absolute Coriolis parameter f.
func GeostrophicMS(gradientPaM, rho, f float64) float64 { return gradientPaM / (rho * f) }

// GradientCyclonicMS is the gradient wind round a low at radius rM, given the
// geostrophic speed: −fR/2 + √((fR/2)² + fR·Vg) (any textbook of dynamic
// meteorology, e.g. J. R. Holton, An Introduction to Dynamic Meteorology, section
// 3.2).
func GradientCyclonicMS(geostrophicMS, f, rM float64) float64 {
	h := f * rM / 2
	return -h + math.Sqrt(h*h+f*rM*geostrophicMS)
}

// GradientAnticyclonicMS is the gradient wind round a high. It exists only for
// rM ≥ 4Vg/f; ok is false nearer to the centre.
func GradientAnticyclonicMS(geostrophicMS, f, rM float64) (ms float64, ok bool) {
	h := f * rM / 2
	d := h*h - f*rM*geostrophicMS
	if d < 0 {
		return 0, false
	}
	return h - math.Sqrt(d), true
}

// Holland is the radial profile of a low by G. J. Holland, "An analytic model of
// the wind and pressure profiles in hurricanes", Mon. Wea. Rev. 108, 1980,
// 1212–1218. It was made for tropical cyclones; for the lows of middle latitudes
// it is a plausible shape with B near 1 and a large radius, no more. Its maximum
// is too broad and its outer part not to be relied on.
type Holland struct {
	CentrePa, OuterPa float64 // pressure in the centre and far away
	B                 float64 // peakedness, 1 to 2.5
	RmaxM             float64 // radius of the strongest wind
	Rho               float64 // kg/m³
	F                 float64 // absolute Coriolis parameter, 1/s
}

// decay is (Rmax/r)^B and e to the minus that.
func (h Holland) decay(rM float64) (x, e float64) {
	x = math.Pow(h.RmaxM/rM, h.B)
	return x, math.Exp(-x)
}

// PressurePa is the pressure at radius rM.
func (h Holland) PressurePa(rM float64) float64 {
	pa, _ := h.at(rM)
	return pa
}

// cyclostrophic2 is the square of the wind without the Earth's rotation.
func (h Holland) cyclostrophic2(x, e float64) float64 {
	return h.B / h.Rho * x * (h.OuterPa - h.CentrePa) * e
}

// CyclostrophicMS is the wind at radius rM without the Earth's rotation.
func (h Holland) CyclostrophicMS(rM float64) float64 {
	if rM <= 0 {
		return 0
	}
	return math.Sqrt(h.cyclostrophic2(h.decay(rM)))
}

// GradientMS is the gradient wind at radius rM.
func (h Holland) GradientMS(rM float64) float64 {
	_, ms := h.at(rM)
	return ms
}

// at is the pressure and the gradient wind at radius rM.
func (h Holland) at(rM float64) (pa, ms float64) {
	if rM <= 0 {
		return h.CentrePa, 0
	}
	x, e := h.decay(rM)
	c := rM * h.F / 2
	v2 := h.cyclostrophic2(x, e)
	// The wind as v²/(√(v²+c²)+c), which does not cancel where v is small.
	return h.CentrePa + (h.OuterPa-h.CentrePa)*e, v2 / (math.Sqrt(v2+c*c) + c)
}

// MaxMS is the cyclostrophic wind at the radius of the strongest wind,
// √(BΔp/ρe).
func (h Holland) MaxMS() float64 {
	return math.Sqrt(h.B * (h.OuterPa - h.CentrePa) / (h.Rho * math.E))
}

// spot is a place with the sine and cosine of its latitude.
type spot struct{ lonDeg, latDeg, sinLat, cosLat float64 }

func spotAt(lonDeg, latDeg float64) spot {
	sin, cos := math.Sincos(units.Rad(latDeg))
	return spot{lonDeg, latDeg, sin, cos}
}

// polar returns the great-circle distance in metres from a centre to a place and
// the bearing at the place of the direction away from the centre, radians.
func polar(c, p *spot) (rM, outRad float64) {
	sinD, cosD := math.Sincos(units.Rad(c.lonDeg - p.lonDeg))
	// Bearing from the place to the centre.
	y := sinD * c.cosLat
	x := p.cosLat*c.sinLat - p.sinLat*c.cosLat*cosD
	rM = earthM * math.Atan2(math.Hypot(x, y), p.sinLat*c.sinLat+p.cosLat*c.cosLat*cosD)
	return rM, math.Atan2(y, x) + math.Pi
}

// bearing is the direction of a great circle at a from a to b, radians.
func bearing(a, b *spot) float64 {
	sinD, cosD := math.Sincos(units.Rad(b.lonDeg - a.lonDeg))
	return math.Atan2(sinD*b.cosLat, a.cosLat*b.sinLat-a.sinLat*b.cosLat*cosD)
}

// along returns the place reached from a start on a great circle.
func along(lonDeg, latDeg, bearingRad, distM float64) (lon, lat float64) {
	sinP, cosP := math.Sincos(units.Rad(latDeg))
	sinD, cosD := math.Sincos(distM / earthM)
	sinB, cosB := math.Sincos(bearingRad)
	s := sinP*cosD + cosP*sinD*cosB
	lat = units.Deg(math.Asin(max(-1, min(1, s))))
	lon = units.Wrap180(lonDeg + units.Deg(math.Atan2(sinB*sinD*cosP, cosD-sinP*s)))
	return lon, lat
}

// hemisphere is +1 north, −1 south of the equator.
func hemisphere(latDeg float64) float64 {
	if latDeg < 0 {
		return -1
	}
	return 1
}
