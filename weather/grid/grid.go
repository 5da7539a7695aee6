// Package grid holds one weather variable at one time on a regular
// latitude/longitude grid: the shape in which every reader hands its fields on.
package grid

import (
	"fmt"
	"math"
	"time"
)

// Quantity names what a field holds. Units are SI; directions are degrees
// clockwise from true north, the direction that wind and waves come from.
type Quantity uint8

// The quantities that the project uses; everything else is Other.
const (
	Other            Quantity = iota
	WindU                     // m/s towards east at 10 m
	WindV                     // m/s towards north at 10 m
	WindSpeed                 // m/s at 10 m
	WindFrom                  // ° the wind comes from
	Gust                      // m/s at 10 m
	WaveHeight                // m, significant height of the total sea
	WavePeakPeriod            // s, peak (primary) period of the total sea
	WaveMeanPeriod            // s
	WaveFrom                  // ° the primary or mean waves come from
	WindSeaHeight             // m, wind-sea part
	WindSeaPeriod             // s
	WindSeaFrom               // °
	SwellHeight               // m, one swell partition (see Field.Partition)
	SwellPeriod               // s
	SwellFrom                 // °
	CurrentU                  // m/s towards east
	CurrentV                  // m/s towards north
	SeaLevelPressure          // Pa
	quantities                // count
)

var quantityNames = [quantities]string{
	"other", "wind-u", "wind-v", "wind-speed", "wind-from", "gust",
	"wave-height", "wave-peak-period", "wave-mean-period", "wave-from",
	"wind-sea-height", "wind-sea-period", "wind-sea-from",
	"swell-height", "swell-period", "swell-from",
	"current-u", "current-v", "sea-level-pressure",
}

func (q Quantity) String() string {
	if q < quantities {
		return quantityNames[q]
	}
	return fmt.Sprintf("quantity(%d)", uint8(q))
}

// Unit returns the SI unit of q as it is written after a number.
func (q Quantity) Unit() string {
	switch q {
	case WindU, WindV, WindSpeed, Gust, CurrentU, CurrentV:
		return "m/s"
	case WindFrom, WaveFrom, WindSeaFrom, SwellFrom:
		return "°"
	case WaveHeight, WindSeaHeight, SwellHeight:
		return "m"
	case WavePeakPeriod, WaveMeanPeriod, WindSeaPeriod, SwellPeriod:
		return "s"
	case SeaLevelPressure:
		return "Pa"
	}
	return ""
}

// Shape is the geometry of a regular grid. Row j lies at South + j·DLat, column
// i at West + i·DLon; both steps are positive. West is in [−180, 180) and
// columns run east from it, across the antimeridian if need be.
type Shape struct {
	South, West float64 // degrees
	DLat, DLon  float64 // degrees, > 0 (0 only when the count is 1)
	NLat, NLon  int
}

// Global reports whether the columns wrap around the Earth, so that the column
// after the last is the first again.
func (s Shape) Global() bool {
	return s.NLon > 1 && math.Abs(float64(s.NLon)*s.DLon-360) < 0.01*s.DLon
}

// Field is one quantity at one valid time. Values has NLat·NLon entries, rows
// from south to north, columns from west to east; NaN marks a missing value.
type Field struct {
	Shape
	Quantity  Quantity
	Partition int       // swell partition from 1, else 0
	Member    int       // −1 deterministic, 0 control, n perturbed member
	Reference time.Time // start of the run, UTC
	Valid     time.Time // UTC
	Values    []float32
}
