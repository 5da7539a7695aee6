package plots

import "math"

// barb returns the strokes of a wind barb: a staff from the place towards where
// the wind comes from, with a half feather for 5 kn, a full one for 10 kn and a
// pennant for 50 kn, to the nearest 5 kn; below 2.5 kn a circle.
//
// Source: World Meteorological Organization, Manual on the Global
// Data-processing and Forecasting System, WMO-No. 485, appendix on graphical
// representation: feathers on the left of the shaft, seen along the wind, in
// the northern hemisphere, on the right in the southern (from memory).
func barb(at pt, kn, fromDeg float64, south bool, size float64) (lines, pennants [][]pt) {
	n := int(math.Round(kn / 5))
	if n == 0 {
		ring := circle(at, size/9)
		return [][]pt{append(ring, ring[0])}, nil
	}
	sin, cos := math.Sincos(fromDeg * math.Pi / 180)
	along := pt{sin, cos} // towards the wind's origin; y is north
	// Seen along the wind (against the staff), left in the north is the
	// clockwise side of the staff.
	side := pt{cos, -sin}
	if south {
		side = pt{-cos, sin}
	}
	place := func(d, out float64) pt {
		return pt{at.x + d*along.x + out*side.x, at.y + d*along.y + out*side.y}
	}
	tip := size
	lines = append(lines, []pt{at, place(tip, 0)})
	const gapShare, length, slant = 0.14, 0.42, 0.16
	d := tip
	for ; n >= 10; n -= 10 {
		pennants = append(pennants, []pt{place(d, 0), place(d-0.08*size+slant*size/2, length*size), place(d-0.2*size, 0)})
		d -= (0.2 + 0.06) * size
	}
	if len(pennants) > 0 && n > 0 {
		d -= 0.04 * size
	}
	for ; n >= 2; n -= 2 {
		lines = append(lines, []pt{place(d, 0), place(d+slant*size, length*size)})
		d -= gapShare * size
	}
	if n == 1 {
		if d == tip { // a lone half feather stands in from the tip
			d -= gapShare * size
		}
		lines = append(lines, []pt{place(d, 0), place(d+slant*size/2, length*size/2)})
	}
	return lines, pennants
}

func (s *sheet) barb(k stroke, at pt, kn, fromDeg float64, south bool, size float64) {
	lines, pennants := barb(at, kn, fromDeg, south, size)
	for _, l := range lines {
		s.line(k, l...)
	}
	for _, p := range pennants {
		s.fill(k.col, p...)
	}
}
