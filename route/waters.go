package route

import (
	"fmt"
	"math"

	"foilledger/route/coast"
	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// Waters says where one may sail: off the land by a distance and out of
// forbidden areas. The zero value allows everything. It may be used from many
// goroutines.
type Waters struct {
	Land     *coast.Index // nil: no land
	KeepOffM float64      // distance to keep from the shore
	Areas    []*Area
}

// bowTolM is how far the straight line that is tested may stray from the
// geodesic; as much clearance is added, so that a free geodesic is free.
const bowTolM = 10

// Blocked says whether the geodesic from a to b comes ashore, within the
// distance kept off, or into a forbidden area.
func (w *Waters) Blocked(a, b orb.Point) bool {
	d, az, _ := Inverse(a, b)
	return w.blocked(a, b, d, az)
}

func (w *Waters) blocked(a, b orb.Point, lengthM, azRad float64) bool {
	if w == nil {
		return false
	}
	if w.Land != nil && enters(w.Land, a, b, lengthM, azRad, w.KeepOffM) {
		return true
	}
	for _, r := range w.Areas {
		if r.Forbidden && enters(r.index, a, b, lengthM, azRad, 0) {
			return true
		}
	}
	return false
}

// enters tests the geodesic against polygons: straight in longitude and
// latitude with the bow of the geodesic as extra clearance, halved until the
// bow is small.
func enters(x *coast.Index, a, b orb.Point, lengthM, azRad, clearM float64) bool {
	// Curvature of a line straight in longitude and latitude against the
	// geodesic is at most about 1.5 tan φ / R.
	t := math.Tan(units.Rad(math.Min(math.Max(math.Abs(a[1]), math.Abs(b[1])), 89.9)))
	bow := 1.5 / 8 * lengthM * lengthM * t / 6371e3
	if lengthM < 150e3 || bow < bowTolM {
		if !x.Touches(a, b, clearM+math.Max(bow, 0.5)) {
			return false
		}
		if bow <= bowTolM {
			return true
		}
	}
	m, azM := Direct(a, azRad, lengthM/2)
	return enters(x, a, m, lengthM/2, azRad, clearM) || enters(x, m, b, lengthM/2, azM, clearM)
}

// limits returns the smallest limits of the areas that the edge passes.
func (w *Waters) limits(a, b orb.Point, lengthM, azRad float64) (windMS, gustMS, waveM float64) {
	windMS, gustMS, waveM = math.Inf(1), math.Inf(1), math.Inf(1)
	if w == nil {
		return windMS, gustMS, waveM
	}
	for _, r := range w.Areas {
		if r.Forbidden || (r.MaxWindMS >= windMS && r.MaxGustMS >= gustMS && r.MaxWaveM >= waveM) {
			continue
		}
		if enters(r.index, a, b, lengthM, azRad, 0) {
			windMS, gustMS, waveM = math.Min(windMS, r.MaxWindMS), math.Min(gustMS, r.MaxGustMS), math.Min(waveM, r.MaxWaveM)
		}
	}
	return windMS, gustMS, waveM
}

// LimitsAt returns the smallest limits of the areas round a place, m/s and m;
// +Inf where there are none.
func (w *Waters) LimitsAt(p orb.Point) (windMS, gustMS, waveM float64) { return w.limits(p, p, 0, 0) }

// PlaceError says that a place cannot be sailed to.
type PlaceError struct {
	What  string // "start", "mark 2", …
	Point orb.Point
	Area  string // name of the forbidden area, or empty for land
	// Nearest is the nearest open water and its distance; DistM is NaN when
	// there is none within 500 km.
	Nearest orb.Point
	DistM   float64
	KeepM   float64
}

func (e *PlaceError) Error() string {
	where := "on land"
	if e.KeepM > 0 {
		where = fmt.Sprintf("on land or within %.2g nm of it", e.KeepM/units.MPerNM)
	}
	if e.Area != "" {
		where = fmt.Sprintf("inside %q", e.Area)
	}
	s := fmt.Sprintf("%s %s is %s", e.What, FormatLatLon(e.Point), where)
	if math.IsNaN(e.DistM) {
		return s + "; there is no open water within 270 nm"
	}
	return s + fmt.Sprintf("; nearest open water: %.4f,%.4f, %.1f nm away", e.Nearest[1], e.Nearest[0], e.DistM/units.MPerNM)
}

// CheckPlace refuses, with a *PlaceError that names the nearest water, a place
// on land, too close to it, or in a forbidden area.
func (w *Waters) CheckPlace(what string, p orb.Point) error {
	if w == nil {
		return nil
	}
	if err := CheckPoint(p); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	try := func(x *coast.Index, clearM float64, area string) error {
		if !x.Touches(p, p, clearM) {
			return nil
		}
		e := &PlaceError{What: what, Point: p, Area: area, KeepM: clearM, DistM: math.NaN()}
		// A little more clearance, so that the place given will do when typed in.
		if q, _, ok := x.NearestOutside(p, clearM+100, 500e3); ok {
			e.Nearest = q
			e.DistM, _, _ = Inverse(p, q)
		}
		return e
	}
	if w.Land != nil {
		if err := try(w.Land, w.KeepOffM, ""); err != nil {
			return err
		}
	}
	for _, r := range w.Areas {
		if r.Forbidden {
			if err := try(r.index, 0, r.Name); err != nil {
				return err
			}
		}
	}
	return nil
}
