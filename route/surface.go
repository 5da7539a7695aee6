package route

import (
	"math"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// Surface is what a search moves on: the shortest line between two points and
// the point at a distance along one. An Ellipsoid is a Surface.
type Surface interface {
	Inverse(a, b orb.Point) (distM, azAtARad, azAtBRad float64)
	Direct(a orb.Point, azRad, distM float64) (p orb.Point, azAtEndRad float64)
}

// Plane is a flat Surface whose points are {east, north} in metres, for
// problems with closed solutions on a plane.
type Plane struct{}

// Inverse returns distance and direction of the straight line from a to b.
func (Plane) Inverse(a, b orb.Point) (distM, azAtARad, azAtBRad float64) {
	dx, dy := b[0]-a[0], b[1]-a[1]
	az := azimuth(dx, dy)
	return math.Hypot(dx, dy), az, az
}

// Direct returns the point distM metres from a in direction azRad.
func (Plane) Direct(a orb.Point, azRad, distM float64) (orb.Point, float64) {
	s, c := math.Sincos(azRad)
	return orb.Point{a[0] + distM*s, a[1] + distM*c}, units.Wrap2Pi(azRad)
}
