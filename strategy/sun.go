package strategy

import (
	"math"
	"time"

	"github.com/paulmach/orb"

	"foilledger/vpp/units"
)

// darkRad is the altitude of the sun below which it is dark: the end of civil
// twilight.
const darkRad = -6 * math.Pi / 180

// dark reports whether it is dark at a place, tS seconds after reference.
func dark(at orb.Point, reference time.Time, tS float64) bool {
	return sunAltitude(at, float64(reference.Unix())+tS) < darkRad
}

// sunPosition returns the sun's right ascension and declination, to about 0.01°
// between 1950 and 2050 (low-precision formulas of the Astronomical Almanac,
// page C5; from memory). d is days since 2000 January 1, 12 h UT.
func sunPosition(d float64) (raRad, decRad float64) {
	g := units.Rad(357.529 + 0.98560028*d)
	q := 280.459 + 0.98564736*d
	lon := units.Rad(q + 1.915*math.Sin(g) + 0.020*math.Sin(2*g))
	e := units.Rad(23.439 - 0.00000036*d)
	sin, cos := math.Sincos(lon)
	return math.Atan2(math.Cos(e)*sin, cos), math.Asin(math.Sin(e) * sin)
}

// sunAltitude returns the sun's altitude above the horizon without refraction.
func sunAltitude(at orb.Point, unixS float64) float64 {
	d := unixS/86400 - 10957.5
	ra, dec := sunPosition(d)
	sidereal := units.Rad(math.Mod(280.46061837+360.98564736629*d, 360) + at[0])
	lat := units.Rad(at[1])
	return math.Asin(math.Sin(lat)*math.Sin(dec) + math.Cos(lat)*math.Cos(dec)*math.Cos(sidereal-ra))
}
