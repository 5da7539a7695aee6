package route

import (
	"math"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// Line is a geodesic through a point in a given azimuth with everything that
// does not depend on distance worked out once, for many points on it.
type Line struct {
	e            *Ellipsoid
	lon1         float64 // degrees
	salp0, calp0 float64
	ssig1, csig1 float64
	somg1, comg1 float64
	k2           float64
	a1           float64 // A1
	b11          float64 // B1(σ1)
	stau1, ctau1 float64
	c1p          [7]float64
	c1           [7]float64
	a3c          float64 // −f sin α0 A3
	c3           [7]float64
	b31          float64
	lengthM      float64
	azFrom, azTo float64
	notANumber   bool
}

// NewLine returns the geodesic on WGS84 that leaves a at azRad. Its LengthM
// is zero.
func NewLine(a orb.Point, azRad float64) *Line {
	l := new(Line)
	l.init(WGS84, a, azRad)
	return l
}

// LineBetween returns the shortest geodesic on WGS84 from a to b.
func LineBetween(a, b orb.Point) *Line {
	l := new(Line)
	l.Between(WGS84, a, b)
	return l
}

// Between makes l the shortest geodesic on e from a to b, without allocating.
func (l *Line) Between(e *Ellipsoid, a, b orb.Point) {
	s, az1, az2 := e.Inverse(a, b)
	l.init(e, a, az1)
	l.lengthM, l.azTo = s, az2
}

// LengthM is the length between the ends given to LineBetween.
func (l *Line) LengthM() float64 { return l.lengthM }

// AzimuthsRad are the azimuths at the ends given to LineBetween.
func (l *Line) AzimuthsRad() (atFrom, atTo float64) { return l.azFrom, l.azTo }

func (l *Line) init(e *Ellipsoid, a orb.Point, azRad float64) {
	*l = Line{e: e, lon1: a[0], azFrom: units.Wrap2Pi(azRad)}
	if !finite(a[0], a[1], azRad) || math.Abs(a[1]) > 90 {
		l.notANumber = true
		return
	}
	salp1, calp1 := math.Sincos(azRad)
	sbet1, cbet1 := e.reduced(a[1])
	l.salp0 = salp1 * cbet1 // Clairaut
	l.calp0 = math.Hypot(calp1, salp1*sbet1)
	l.ssig1, l.csig1 = sbet1, calp1*cbet1
	l.somg1, l.comg1 = l.salp0*sbet1, l.csig1
	if sbet1 == 0 && calp1 == 0 { // due east or west along the equator
		l.csig1, l.comg1 = 1, 1
	}
	l.ssig1, l.csig1 = norm2(l.ssig1, l.csig1)
	l.k2 = l.calp0 * l.calp0 * e.ep2
	eps := epsilon(l.k2)
	l.a1 = 1 + a1m1(eps)
	l.c1 = c1(eps)
	l.c1p = c1p(eps)
	l.b11 = sinSeries(l.ssig1, l.csig1, &l.c1)
	s, c := math.Sincos(l.b11)
	l.stau1 = l.ssig1*c + l.csig1*s
	l.ctau1 = l.csig1*c - l.ssig1*s
	var a3 float64
	a3, l.c3 = e.series3(eps)
	l.a3c = -e.f * l.salp0 * a3
	l.b31 = sinSeries(l.ssig1, l.csig1, &l.c3)
}

// At returns the point distM metres along the line (negative: behind its
// start) and the azimuth there.
func (l *Line) At(distM float64) (orb.Point, float64) {
	if l.notANumber || !finite(distM) {
		return orb.Point{math.NaN(), math.NaN()}, math.NaN()
	}
	e := l.e
	tau12 := distM / (e.b * l.a1)
	s, c := math.Sincos(tau12)
	// σ12 from τ12 by the reverted series, eq. (20).
	b12 := -sinSeries(l.stau1*c+l.ctau1*s, l.ctau1*c-l.stau1*s, &l.c1p)
	sig12 := tau12 - (b12 - l.b11)
	ssig12, csig12 := math.Sincos(sig12)
	ssig2 := l.ssig1*csig12 + l.csig1*ssig12
	csig2 := l.csig1*csig12 - l.ssig1*ssig12
	sbet2 := l.calp0 * ssig2
	cbet2 := math.Hypot(l.salp0, l.calp0*csig2)
	if cbet2 == 0 { // on the pole
		cbet2, csig2 = tiny, tiny
	}
	somg2, comg2 := l.salp0*ssig2, csig2
	omg12 := math.Atan2(somg2*l.comg1-comg2*l.somg1, comg2*l.comg1+somg2*l.somg1)
	lam12 := omg12 + l.a3c*(sig12+(sinSeries(ssig2, csig2, &l.c3)-l.b31))
	p := orb.Point{
		units.Wrap180(l.lon1 + units.Deg(lam12)),
		units.Deg(math.Atan2(sbet2, (1-e.f)*cbet2)),
	}
	return p, azimuth(l.salp0, l.calp0*csig2)
}
