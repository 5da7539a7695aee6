package grib

import (
	"fmt"
	"math"

	"foilledger/weather/grid"
)

// Scanning mode flags, WMO flag table 3.4 (edition 1: table 8).
const (
	scanWest  = 0x80 // points of a row run towards the west
	scanNorth = 0x40 // rows run towards the north
	scanJ     = 0x20 // neighbouring points are neighbours in j: columns first
	scanTurn  = 0x10 // every second row (column) runs the other way
	scanOther = 0x0f // staggered grids: refused
)

// layout is the order of points in a message.
type layout struct {
	ni, nj int
	scan   int
}

// latLon is the geometry of a regular grid as a message states it, in degrees.
type latLon struct {
	ni, nj     int64
	lat1, lon1 float64
	lat2, lon2 float64
	di, dj     float64 // 0: not given
	unit       float64 // resolution of the angles
	scan       int
}

// shape checks the geometry and turns it into a grid.Shape. Where the last
// point and the increments agree within rounding, the increment comes from the
// two end points, which is the more exact; where they disagree, the first point
// and the increment are trusted and warning says so.
func (g latLon) shape() (s grid.Shape, warning string, err error) {
	if g.ni < 1 || g.nj < 1 || g.ni > 1<<31 || g.nj > 1<<31 {
		return s, "", fmt.Errorf("grid of %d x %d points", g.ni, g.nj)
	}
	for _, v := range []float64{g.lat1, g.lon1, g.lat2, g.lon2} {
		if !(math.Abs(v) <= 720) {
			return s, "", fmt.Errorf("grid corner at %g degrees", v)
		}
	}
	latSpan := g.lat1 - g.lat2
	if g.scan&scanNorth != 0 {
		latSpan = -latSpan
	}
	lonSpan := g.lon2 - g.lon1
	if g.scan&scanWest != 0 {
		lonSpan = -lonSpan
	}
	if lonSpan = math.Mod(lonSpan, 360); lonSpan < 0 {
		lonSpan += 360
	}
	if lonSpan < g.unit && g.ni > 1 {
		lonSpan = 360 // first and last column are the same meridian
	}
	dLat, w1, err := increment("latitude", g.nj, g.dj, latSpan, g.unit)
	if err != nil {
		return s, "", err
	}
	dLon, w2, err := increment("longitude", g.ni, g.di, lonSpan, g.unit)
	if err != nil {
		return s, "", err
	}
	warning = w1
	if w2 != "" {
		if warning != "" {
			warning += "; "
		}
		warning += w2
	}
	s = grid.Shape{South: g.lat1, West: g.lon1, DLat: dLat, DLon: dLon, NLat: int(g.nj), NLon: int(g.ni)}
	if g.scan&scanNorth == 0 {
		s.South = g.lat1 - float64(g.nj-1)*dLat
		if w1 == "" && g.nj > 1 {
			s.South = g.lat2
		}
	}
	if g.scan&scanWest != 0 {
		s.West = g.lon1 - float64(g.ni-1)*dLon
		if w2 == "" && g.ni > 1 {
			s.West = g.lon2
		}
	}
	s.West = math.Mod(s.West+540, 360)
	if s.West < 0 {
		s.West += 360
	}
	s.West -= 180
	north := s.South + float64(s.NLat-1)*s.DLat
	if s.South < -90-1e-3 || north > 90+1e-3 {
		return s, "", fmt.Errorf("grid reaches from latitude %g to %g", s.South, north)
	}
	if float64(s.NLon-1)*s.DLon > 360+s.DLon {
		return s, "", fmt.Errorf("grid of %d columns of %g degrees exceeds the circle", s.NLon, s.DLon)
	}
	return s, warning, nil
}

// increment decides the step between n points that are stated to span span and
// to be d apart.
func increment(axis string, n int64, d, span, unit float64) (float64, string, error) {
	if n == 1 {
		return 0, "", nil
	}
	fromEnds := span / float64(n-1)
	if d <= 0 {
		if !(fromEnds > 0) {
			return 0, "", fmt.Errorf("no %s increment", axis)
		}
		return fromEnds, "", nil
	}
	// Each angle is rounded to a unit; the increment's error counts n−1 times.
	// Single precision arithmetic of some centres adds up to a hundredth of a
	// step.
	slack := max(unit*(0.5*float64(n-1)+1)*1.001, 0.01*d)
	if math.Abs(fromEnds-d)*float64(n-1) <= slack {
		return fromEnds, "", nil
	}
	return d, fmt.Sprintf("last %s is inconsistent: %d points of %.6g degrees do not span %.6g degrees; first point and increment are used", axis, n, d, span), nil
}

// arrange brings values from message order into the order of a grid.Field, in
// place except where columns come first.
func (l layout) arrange(v []float32, buf *buffers) []float32 {
	if l.scan&scanJ != 0 {
		return l.fromColumns(v, buf)
	}
	if l.scan&scanTurn != 0 {
		for j := 1; j < l.nj; j += 2 {
			reverse(v[j*l.ni:][:l.ni])
		}
	}
	if l.scan&scanWest != 0 {
		for j := range l.nj {
			reverse(v[j*l.ni:][:l.ni])
		}
	}
	if l.scan&scanNorth == 0 {
		if cap(buf.floats) < l.ni {
			buf.floats = make([]float32, l.ni)
		}
		row := buf.floats[:l.ni]
		for a, b := 0, l.nj-1; a < b; a, b = a+1, b-1 {
			ra, rb := v[a*l.ni:][:l.ni], v[b*l.ni:][:l.ni]
			copy(row, ra)
			copy(ra, rb)
			copy(rb, row)
		}
	}
	return v
}

// fromColumns is arrange for fields stored column by column.
func (l layout) fromColumns(v []float32, buf *buffers) []float32 {
	if cap(buf.floats) < len(v) {
		buf.floats = make([]float32, len(v))
	}
	src := buf.floats[:len(v)]
	copy(src, v)
	for i := range l.ni {
		col := src[i*l.nj:][:l.nj]
		if l.scan&scanTurn != 0 && i&1 == 1 {
			reverse(col)
		}
		to, step := i, l.ni
		if l.scan&scanWest != 0 {
			to = l.ni - 1 - i
		}
		if l.scan&scanNorth == 0 {
			to += (l.nj - 1) * l.ni
			step = -step
		}
		for _, x := range col {
			v[to] = x
			to += step
		}
	}
	return v
}

func reverse(v []float32) {
	for a, b := 0, len(v)-1; a < b; a, b = a+1, b-1 {
		v[a], v[b] = v[b], v[a]
	}
}
