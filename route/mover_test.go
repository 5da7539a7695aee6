package route

import (
	"math"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// testMover sails with speed(at, azimuth, time, state) over the ground,
// integrated along the edge by steps of Heun's method in distance, and changes
// state at the edge's start for price(from, to) seconds.
type testMover struct {
	states int
	maxMS  float64
	steps  int
	speed  func(p orb.Point, azRad, tS float64, state int) float64
	price  func(from, to int) float64
}

func (m testMover) States() int         { return m.states }
func (m testMover) MaxSpeedMS() float64 { return m.maxMS }
func (m testMover) Sailor() Sailor      { return m }

func (m testMover) Sail(e *Edge, depart, arrive []float64, from []int32) error {
	for q := range m.states { // state sailed in
		for f, t := range depart {
			if m.price != nil {
				t += m.price(f, q)
			} else if f != q {
				continue
			}
			if math.IsInf(t, 1) {
				continue
			}
			if t = m.leg(e, t, q); t < arrive[q] {
				arrive[q], from[q] = t, int32(f)
			}
		}
	}
	return nil
}

func (m testMover) leg(e *Edge, t float64, q int) float64 {
	h := e.LengthM / float64(m.steps)
	for k := range m.steps {
		f0, f1 := float64(k)/float64(m.steps), float64(k+1)/float64(m.steps)
		v0 := m.speed(e.At(f0), units.Wrap2Pi(e.AzimuthRad(f0)), t, q)
		if !(v0 > 0) {
			return math.Inf(1)
		}
		v1 := m.speed(e.At(f1), units.Wrap2Pi(e.AzimuthRad(f1)), t+h/v0, q)
		if !(v1 > 0) {
			return math.Inf(1)
		}
		t += h * (1/v0 + 1/v1) / 2
	}
	return t
}

// drift is the speed over ground in direction az of a boat that makes speed v
// through water flowing (u, w) m/s east and north; NaN when it cannot keep to
// the direction.
func drift(v, u, w, az float64) float64 {
	s, c := math.Sincos(az)
	along, across := u*s+w*c, u*c-w*s
	return along + math.Sqrt(v*v-across*across)
}
