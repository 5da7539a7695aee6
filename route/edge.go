package route

import (
	"math"

	"github.com/paulmach/orb"
)

// Mover is what moves: it says how many states it has and hands out Sailors.
// A state may hold anything that outlives an edge: the board, what is set.
type Mover interface {
	States() int
	// Sailor returns a Sailor for one worker. Sailors of one Mover must give
	// equal answers to equal questions.
	Sailor() Sailor
	// MaxSpeedMS is a speed over ground that is never exceeded, for lower
	// bounds; 0 or +Inf when there is none.
	MaxSpeedMS() float64
}

// Sailor works out edges for one worker and may keep scratch space.
type Sailor interface {
	// Sail sails e from all states at once. departS[s] is the earliest
	// departure in state s, +Inf when s cannot be had; one at least is
	// finite. Sail sets arriveS[s] to the earliest arrival at the edge's end
	// in state s over all ways to sail the edge and to change state on it, and
	// from[s] to the state at the edge's start of the best way. Both slices
	// come filled with +Inf and -1: states that cannot be had are left alone.
	// departS must not be written to. Sail must not allocate if it is to be
	// fast, and an error ends the search.
	//
	// Earliest arrival is exact only when leaving later never means arriving
	// earlier. So integrate along the edge in the moving weather; a speed
	// frozen at departure breaks this.
	Sail(e *Edge, departS, arriveS []float64, from []int32) error
}

// Edge is one step from a point of a column to a point of the next.
type Edge struct {
	From, To   orb.Point
	LengthM    float64
	FromRad    float64 // azimuth at the start
	ToRad      float64 // azimuth at the end, in the direction of travel
	BearingRad float64 // half-way
	Stage      int     // from 0
	Leg        int     // from 0: the leg between marks Leg and Leg+1
	Tail, Head int     // place across of both ends
	// Limits of the areas on the way, +Inf when there are none.
	MaxWindMS, MaxGustMS, MaxWaveM float64

	dLon, dLat float64
}

// At returns the point at the fraction f of the edge, straight between the
// ends in both coordinates. Off the geodesic by at most about L² tan φ/(8R),
// 200 m for 50 nm at 50°: enough to ask for weather.
func (e *Edge) At(f float64) orb.Point {
	lon := e.From[0] + f*e.dLon
	if lon >= 180 && e.From[0] < 180 {
		lon -= 360
	} else if lon < -180 && e.From[0] >= -180 {
		lon += 360
	}
	return orb.Point{lon, e.From[1] + f*e.dLat}
}

// AzimuthRad returns the azimuth at the fraction f of the edge, which may lie
// a little outside [0, 2π).
func (e *Edge) AzimuthRad(f float64) float64 {
	d := e.ToRad - e.FromRad
	if d > math.Pi {
		d -= 2 * math.Pi
	} else if d < -math.Pi {
		d += 2 * math.Pi
	}
	return e.FromRad + f*d
}

// set works out the edge's geometry.
func (e *Edge) set(s Surface, a, b orb.Point) {
	e.From, e.To = a, b
	e.LengthM, e.FromRad, e.ToRad = s.Inverse(a, b)
	e.dLon, e.dLat = b[0]-a[0], b[1]-a[1]
	if _, flat := s.(Plane); !flat {
		if e.dLon > 180 {
			e.dLon -= 360
		} else if e.dLon < -180 {
			e.dLon += 360
		}
	}
	e.BearingRad = e.AzimuthRad(0.5)
	if e.BearingRad >= 2*math.Pi {
		e.BearingRad -= 2 * math.Pi
	} else if e.BearingRad < 0 {
		e.BearingRad += 2 * math.Pi
	}
	e.MaxWindMS, e.MaxGustMS, e.MaxWaveM = math.Inf(1), math.Inf(1), math.Inf(1)
}
