// Package weather answers what wind, waves and current a boat meets at a place
// and a time, from forecast files or from made weather.
package weather

import (
	"math"
	"time"
)

// Sample is the weather at one place and time.
type Sample struct {
	U, V   float64 // 10 m wind, m/s towards east and north
	GustMS float64 // gust at 10 m, m/s; 0 when unknown

	// HsM is the significant height of the total sea in metres. WavePeriodS is
	// its peak period and WaveFromRad the direction it comes from, radians
	// clockwise from true north in [0, 2π). Where the field knows a height but
	// no period, the period is that of a fully developed sea of that height;
	// where it knows no direction, the sea runs with the wind. All three are 0
	// when no sea is known.
	HsM, WavePeriodS, WaveFromRad float64

	CurrentU, CurrentV float64 // surface current, m/s towards east and north; 0 where unknown
	PressurePa         float64 // sea-level pressure; 0 where unknown
}

// TWSMS returns the true wind speed at 10 m in m/s.
func (s Sample) TWSMS() float64 { return math.Sqrt(s.U*s.U + s.V*s.V) }

// WindFromRad returns the direction the wind comes from, radians clockwise from
// true north in [0, 2π). A calm has direction 0.
func (s Sample) WindFromRad() float64 { return fromRad(-s.U, -s.V) }

// fromRad is the bearing of the vector (east, north) in [0, 2π), 0 for the null
// vector. It is good to 2e-11 rad at half the cost of math.Atan2: the angle within
// the octant is turned by 22.5° at most about its middle, where twelve terms of
// Gregory's series are enough.
func fromRad(east, north float64) float64 {
	x, y := math.Abs(north), math.Abs(east)
	lo, hi := min(x, y), max(x, y)
	if !(hi > 0) {
		return 0
	}
	const tan22 = math.Sqrt2 - 1
	var a, r float64
	if lo > tan22*hi {
		a, r = math.Pi/4, (lo-hi)/(lo+hi)
	} else {
		r = lo / hi
	}
	z := r * r
	p := 1.0/21 - z*(1.0/23)
	p = 1.0/19 - z*p
	p = 1.0/17 - z*p
	p = 1.0/15 - z*p
	p = 1.0/13 - z*p
	p = 1.0/11 - z*p
	p = 1.0/9 - z*p
	p = 1.0/7 - z*p
	p = 1.0/5 - z*p
	p = 1.0/3 - z*p
	a += r * (1 - z*p)
	if y > x {
		a = math.Pi/2 - a
	}
	if north < 0 {
		a = math.Pi - a
	}
	if east < 0 {
		if a = 2*math.Pi - a; a >= 2*math.Pi { // −ε rounds up to 2π
			a = 0
		}
	}
	return a
}

// Variables tells what a field knows, as a bit mask.
type Variables uint16

// The variables that a field may hold.
const (
	HasWind Variables = 1 << iota
	HasGust
	HasWaveHeight
	HasWavePeriod
	HasWaveDirection
	HasCurrent
	HasPressure
)

var variableNames = []string{"wind", "gust", "wave height", "wave period", "wave direction", "current", "sea-level pressure"}

// Has reports whether v includes all of w.
func (v Variables) Has(w Variables) bool { return v&w == w }

// Names lists the variables of v in words.
func (v Variables) Names() []string {
	var names []string
	for i, n := range variableNames {
		if v&(1<<i) != 0 {
			names = append(names, n)
		}
	}
	return names
}

// Source gives the weather at any place and time it covers.
type Source interface {
	// At returns the weather at a place (longitude east, any turn; latitude
	// north, degrees) tS seconds after Reference. Outside its coverage it
	// returns a *CoverageError. It does not allocate on success and may be
	// called from several goroutines.
	At(lonDeg, latDeg, tS float64) (Sample, error)
	// Reference is the time from which tS counts, UTC.
	Reference() time.Time
	// SpanS is the first and last tS for which wind and, if known, waves are
	// given; the last is +Inf when there is no end.
	SpanS() (firstS, lastS float64)
}
