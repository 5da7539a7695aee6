package weather

import (
	"fmt"
	"math"
	"time"

	"foilledger/weather/grid"
)

// CoverageKind says in what way a place or time is not covered.
type CoverageKind uint8

// The ways of not being covered.
const (
	OutsideArea CoverageKind = iota + 1 // beyond an edge of the grid
	BeforeFirst                         // before the first time step
	AfterLast                           // after the last time step
	InGap                               // between two steps too far apart to interpolate
	Missing                             // no value at the place: land, ice or a masked area
	NotFinite                           // the question held NaN or infinity
)

func (k CoverageKind) String() string {
	switch k {
	case OutsideArea:
		return "outside area"
	case BeforeFirst:
		return "before first step"
	case AfterLast:
		return "after last step"
	case InGap:
		return "in a gap between steps"
	case Missing:
		return "missing value"
	case NotFinite:
		return "not a finite number"
	}
	return "unknown"
}

// CoverageError says what part of a question a field cannot answer and by how
// much it falls short.
type CoverageError struct {
	Kind     CoverageKind
	Variable string // "wind", "wave height", …

	LonDeg, LatDeg float64   // the place asked
	Time           time.Time // the time asked, UTC; zero when the question was about places only

	Edge      string  // OutsideArea: "north", "south", "east" or "west" edge passed (the farthest)
	BeyondDeg float64 // OutsideArea: degrees beyond that edge
	Bounds    Bounds  // OutsideArea: what is covered
	Kept      bool    // OutsideArea: Bounds is of what was kept of the forecast

	BeyondS     float64   // BeforeFirst, AfterLast: seconds beyond; InGap: width of the gap
	First, Last time.Time // BeforeFirst, AfterLast: what is covered; InGap: the two steps
}

func (e *CoverageError) Error() string {
	place := formatPlace(e.LatDeg, e.LonDeg)
	switch e.Kind {
	case OutsideArea:
		covers := "it covers"
		if e.Kept {
			covers = "the part read for this question covers"
		}
		return fmt.Sprintf("the forecast's %s does not reach %s: %.2f° beyond its %s edge (%s %v)",
			e.Variable, place, e.BeyondDeg, e.Edge, covers, e.Bounds)
	case BeforeFirst:
		return fmt.Sprintf("the forecast's %s starts at %s, %s after the time needed (%s)",
			e.Variable, stamp(e.First), hours(e.BeyondS), stamp(e.Time))
	case AfterLast:
		return fmt.Sprintf("the forecast's %s ends at %s, %s before the time needed (%s)",
			e.Variable, stamp(e.Last), hours(e.BeyondS), stamp(e.Time))
	case InGap:
		return fmt.Sprintf("the forecast's %s has no step between %s and %s (%s), too far apart to interpolate at %s",
			e.Variable, stamp(e.First), stamp(e.Last), hours(e.BeyondS), stamp(e.Time))
	case Missing:
		if e.Time.IsZero() {
			return fmt.Sprintf("the forecast has no %s at %s: land or masked there", e.Variable, place)
		}
		return fmt.Sprintf("the forecast has no %s at %s at %s: land or masked there", e.Variable, place, stamp(e.Time))
	}
	return fmt.Sprintf("weather asked at lon %g, lat %g: %v", e.LonDeg, e.LatDeg, e.Kind)
}

// Hint says what the user can do about it.
func (e *CoverageError) Hint() string {
	switch e.Kind {
	case OutsideArea:
		return fmt.Sprintf("load a forecast that reaches at least %s, or give a second file that does", formatPlace(e.LatDeg, e.LonDeg))
	case BeforeFirst:
		return "depart later or add an earlier forecast"
	case AfterLast:
		return "load a longer forecast, or choose to hold the last step's weather"
	case InGap:
		return "add the missing steps"
	case Missing:
		if e.Variable == variableNames[0] {
			return "move the track off the land mask or add a forecast without it"
		}
		return "move the track off the land mask, or leave the waves out so that they are derived from the wind"
	}
	return ""
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04Z") }

// hours writes a duration for a message.
func hours(s float64) string {
	if s < 3600 {
		return fmt.Sprintf("%.0f min", math.Ceil(s/60))
	}
	return fmt.Sprintf("%.1f h", s/3600)
}

func formatPlace(latDeg, lonDeg float64) string {
	ns, ew := 'N', 'E'
	if latDeg < 0 {
		ns = 'S'
	}
	if lonDeg < 0 {
		ew = 'W'
	}
	return fmt.Sprintf("%.2f°%c %.2f°%c", math.Abs(latDeg), ns, math.Abs(lonDeg), ew)
}

// Bounds is a box in degrees. The box runs east from West; WidthDeg is 360 for
// a global one.
type Bounds struct {
	South, North   float64
	West, WidthDeg float64
}

func (b Bounds) String() string {
	ns := func(v float64) string {
		if v < 0 {
			return fmt.Sprintf("%g°S", -v)
		}
		return fmt.Sprintf("%g°N", v)
	}
	ew := func(v float64) string {
		if v < 0 {
			return fmt.Sprintf("%g°W", round3(-v))
		}
		return fmt.Sprintf("%g°E", round3(v))
	}
	if b.WidthDeg >= 360 {
		return fmt.Sprintf("%s to %s, all longitudes", ns(round3(b.South)), ns(round3(b.North)))
	}
	return fmt.Sprintf("%s to %s, %s to %s", ns(round3(b.South)), ns(round3(b.North)), ew(b.West), ew(wrap180(b.West+b.WidthDeg)))
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }

// gridText describes a regular grid in words.
func gridText(s grid.Shape) string {
	return fmt.Sprintf("regular lat/lon %dx%d, %g° x %g°", s.NLon, s.NLat, round3(s.DLon), round3(s.DLat))
}
