package route

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// Track is a chain of waypoints joined by WGS84 geodesics.
type Track struct {
	// Name is the name that the file gave, or empty.
	Name   string
	points []orb.Point
	names  []string
	legs   []Line
	startM []float64 // along-track distance of each waypoint
}

// TrackError says what is wrong with a track.
type TrackError struct {
	File     string // empty when the track did not come from a file
	Waypoint int    // counted from 1; 0 when no single waypoint is to blame
	Msg      string
	Hint     string // what to do, or empty
}

func (e *TrackError) Error() string {
	var b strings.Builder
	if e.File != "" {
		b.WriteString(e.File + ": ")
	}
	if e.Waypoint > 0 {
		fmt.Fprintf(&b, "waypoint %d: ", e.Waypoint)
	}
	b.WriteString(e.Msg)
	if e.Hint != "" {
		b.WriteString(" (" + e.Hint + ")")
	}
	return b.String()
}

const sameM = 1.0 // waypoints closer than this are one place

// NewTrack joins at least two points by geodesics. It refuses, with a
// *TrackError, NaN and infinities, latitudes outside ±90°, longitudes outside
// [−180°, 360°], and consecutive waypoints within one metre of each other.
// Tracks may cross the antimeridian and the poles.
func NewTrack(points []orb.Point) (*Track, error) {
	if len(points) < 2 {
		return nil, &TrackError{Msg: fmt.Sprintf("a track needs at least two waypoints, there are %d", len(points))}
	}
	t := &Track{points: make([]orb.Point, len(points)), names: make([]string, len(points)), startM: make([]float64, len(points)), legs: make([]Line, len(points)-1)}
	for i, p := range points {
		if err := checkPoint(p); err != nil {
			err.Waypoint = i + 1
			return nil, err
		}
		t.points[i] = orb.Point{units.Wrap180(p[0]), p[1]}
		if i == 0 {
			continue
		}
		t.legs[i-1].Between(WGS84, t.points[i-1], t.points[i])
		d := t.legs[i-1].LengthM()
		if !(d >= sameM) {
			return nil, &TrackError{Waypoint: i + 1, Msg: fmt.Sprintf("the same place as waypoint %d (%s)", i, FormatLatLon(p)), Hint: "remove one of them"}
		}
		t.startM[i] = t.startM[i-1] + d
	}
	return t, nil
}

// CheckPoint refuses what is not a place on Earth, with a *TrackError.
func CheckPoint(p orb.Point) error {
	if err := checkPoint(p); err != nil {
		return err
	}
	return nil
}

func checkPoint(p orb.Point) *TrackError {
	lon, lat := p[0], p[1]
	switch {
	case !finite(lon, lat):
		return &TrackError{Msg: fmt.Sprintf("latitude %v, longitude %v: not finite numbers", lat, lon)}
	case math.Abs(lat) > 90:
		e := &TrackError{Msg: fmt.Sprintf("latitude %g° is outside [−90°, 90°]", lat)}
		if math.Abs(lon) <= 90 && math.Abs(lat) <= 360 {
			e.Hint = "are latitude and longitude swapped?"
		}
		return e
	case lon < -180 || lon > 360:
		return &TrackError{Msg: fmt.Sprintf("longitude %g° is outside [−180°, 360°]", lon), Hint: "longitudes count east; west is negative"}
	}
	return nil
}

// FormatLatLon writes a point as people say it: latitude first, in degrees
// and decimal minutes with hemisphere letters.
func FormatLatLon(p orb.Point) string {
	if !finite(p[0], p[1]) {
		return "nowhere"
	}
	half := func(deg float64, width int, pos, neg string) string {
		h := pos
		if deg < 0 {
			h, deg = neg, -deg
		}
		m := math.Round(deg * 600)
		return fmt.Sprintf("%0*d°%04.1f'%s", width, int(m)/600, math.Mod(m, 600)/10, h)
	}
	return half(p[1], 2, "N", "S") + " " + half(units.Wrap180(p[0]), 3, "E", "W")
}

// ParseVia reads waypoints written "lat,lon; lat,lon; …" in decimal degrees,
// south and west negative. Errors are *TrackError and number the waypoint.
func ParseVia(s string) ([]orb.Point, error) {
	const hint = `write "lat,lon; lat,lon" in decimal degrees, south and west negative`
	parts := strings.Split(s, ";")
	if n := len(parts); n > 1 && strings.TrimSpace(parts[n-1]) == "" {
		parts = parts[:n-1]
	}
	var out []orb.Point
	for i, part := range parts {
		part = strings.TrimSpace(part)
		if part == "" {
			return nil, &TrackError{Waypoint: i + 1, Msg: "is empty", Hint: hint}
		}
		f := strings.Split(part, ",")
		if len(f) != 2 {
			return nil, &TrackError{Waypoint: i + 1, Msg: fmt.Sprintf("%q is not a latitude and a longitude", part), Hint: hint}
		}
		var v [2]float64
		for k, what := range []string{"latitude", "longitude"} {
			x, err := strconv.ParseFloat(strings.TrimSpace(f[k]), 64)
			if err != nil {
				return nil, &TrackError{Waypoint: i + 1, Msg: fmt.Sprintf("%s %q is not a number", what, strings.TrimSpace(f[k])), Hint: hint}
			}
			v[k] = x
		}
		p := orb.Point{v[1], v[0]}
		if err := checkPoint(p); err != nil {
			err.Waypoint = i + 1
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

// Points returns the waypoints, longitudes in [−180, 180).
func (t *Track) Points() []orb.Point { return append([]orb.Point(nil), t.points...) }

// WaypointName returns the name that the file gave to waypoint i (from 0), or "".
func (t *Track) WaypointName(i int) string { return t.names[i] }

// LengthM is the length of the whole track.
func (t *Track) LengthM() float64 { return t.startM[len(t.startM)-1] }

// LegStartM is the along-track distance of waypoint i (from 0).
func (t *Track) LegStartM(i int) float64 { return t.startM[i] }

// Stage is a piece of a leg, short enough to be sailed in one go.
type Stage struct {
	From, To   orb.Point
	LengthM    float64
	StartM     float64 // along the track
	BearingRad float64 // of the geodesic at the stage's middle
	Leg        int     // from 0: the leg between waypoints Leg and Leg+1
}

// Stages cuts every leg into the fewest equal parts not longer than maxM. With
// maxM ≤ 0 or NaN a leg is one stage.
func (t *Track) Stages(maxM float64) []Stage {
	var out []Stage
	for i := range t.legs {
		l := &t.legs[i]
		n := 1
		if maxM > 0 {
			n = max(1, int(math.Ceil(l.LengthM()/maxM*(1-1e-12))))
		}
		part := l.LengthM() / float64(n)
		from := t.points[i]
		for k := range n {
			to := t.points[i+1]
			if k < n-1 {
				to, _ = l.At(part * float64(k+1))
			}
			_, mid := l.At(part * (float64(k) + 0.5))
			out = append(out, Stage{From: from, To: to, LengthM: part, StartM: t.startM[i] + part*float64(k), BearingRad: mid, Leg: i})
			from = to
		}
	}
	return out
}

// At returns the place m metres along the track and the bearing of the track
// there. Outside the track it returns the nearer end; NaN gives NaN.
func (t *Track) At(m float64) (orb.Point, float64) {
	if math.IsNaN(m) {
		return orb.Point{m, m}, m
	}
	i := sort.SearchFloat64s(t.startM[1:len(t.startM)-1], m)
	if i < len(t.legs)-1 && t.startM[i+1] == m { // a waypoint belongs to the leg that leaves it
		i++
	}
	d := math.Min(math.Max(m-t.startM[i], 0), t.legs[i].LengthM())
	return t.legs[i].At(d)
}

// Densify returns the points with geodesic points put between them so that no
// gap is longer than maxM, for outputs that are drawn with straight lines.
func Densify(points []orb.Point, maxM float64) []orb.Point {
	var out []orb.Point
	for i, p := range points {
		if i > 0 {
			l := LineBetween(points[i-1], p)
			for k, n := 1, int(math.Ceil(l.LengthM()/maxM)); k < n; k++ {
				q, _ := l.At(l.LengthM() * float64(k) / float64(n))
				out = append(out, q)
			}
		}
		out = append(out, p)
	}
	return out
}
