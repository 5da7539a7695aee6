package coast

import (
	"math"

	"github.com/paulmach/orb"
)

// metres per degree of latitude and of longitude at the equator on WGS84 at
// the given latitude: radii of curvature of the ellipsoid.
func scale(latDeg float64) (kx, ky float64) {
	const a, e2 = 6378137.0, 0.00669437999014 // WGS84, NIMA TR8350.2
	s, c := math.Sincos(latDeg * math.Pi / 180)
	w := 1 - e2*s*s
	n := a / math.Sqrt(w)
	return n * c * math.Pi / 180, n * (1 - e2) / w * math.Pi / 180
}

// Touches says whether the segment from a to b, straight in longitude and
// latitude, enters a polygon or comes within clearM metres of its edge. With
// clearM ≤ 0 touching the edge counts. Segments meant as geodesics should be
// short: see route.Waters.
func (x *Index) Touches(a, b orb.Point, clearM float64) bool {
	if x.Contains(a) {
		return true
	}
	bx := b[0] - a[0]
	if bx > 180 || bx < -180 {
		bx = wrap180(bx)
	}
	s := segment{lon0: wrap180(a[0]), ay: a[1], bx: bx, by: b[1]}
	if clearM > 0 {
		s.kx, s.ky = scale((a[1] + b[1]) / 2)
		s.clear2 = clearM * clearM
		s.padY = clearM / s.ky
		far, _ := scale(math.Min(math.Max(math.Abs(a[1]), math.Abs(b[1]))+s.padY, 89.9))
		s.padX = math.Min(clearM/far, 180)
	}
	return x.walk(&s)
}

// segment is a query in longitudes relative to its start.
type segment struct {
	lon0           float64
	ay, bx, by     float64
	kx, ky, clear2 float64
	padX, padY     float64
}

// walk tests the edges in all cells that the padded segment may pass.
func (x *Index) walk(s *segment) bool {
	y0, y1 := math.Min(s.ay, s.by)-s.padY, math.Max(s.ay, s.by)+s.padY
	xl, xr := math.Min(0, s.bx)-s.padX, math.Max(0, s.bx)+s.padX
	r0, r1 := x.row(y0), x.row(y1)
	const eps = 1e-9
	for r := r0; r <= r1; r++ {
		// The part of the segment within this row of cells, padded.
		lo, hi := xl, xr
		if r0 != r1 && s.ay != s.by {
			yb := -90 + float64(r)*x.cell
			t0, t1 := (yb-s.padY-s.ay)/(s.by-s.ay), (yb+x.cell+s.padY-s.ay)/(s.by-s.ay)
			u0, u1 := s.bx*t0, s.bx*t1
			lo = math.Max(lo, math.Min(u0, u1)-s.padX-eps)
			hi = math.Min(hi, math.Max(u0, u1)+s.padX+eps)
		}
		c0, c1 := x.column(s.lon0+lo), x.column(s.lon0+hi)
		c1 = min(c1, c0+x.nx-1)
		for c := c0; c <= c1; c++ {
			i := r*x.nx + x.wrapColumn(c)
			for _, e := range x.edges[x.start[i]:x.start[i+1]] {
				ex0, ey0, ex1, ey1 := x.edge(int(e), s.lon0)
				if math.Max(ey0, ey1) < y0 || math.Min(ey0, ey1) > y1 {
					continue
				}
				// The edge may lie a turn away from the segment's frame.
				if math.Min(ex0, ex1) > xr {
					ex0, ex1 = ex0-360, ex1-360
				} else if math.Max(ex0, ex1) < xl {
					ex0, ex1 = ex0+360, ex1+360
				}
				if math.Max(ex0, ex1) < xl || math.Min(ex0, ex1) > xr {
					continue
				}
				if s.near(ex0, ey0, ex1, ey1) {
					return true
				}
			}
		}
	}
	return false
}

// near says whether the edge is met by the segment or within its clearance.
func (s *segment) near(px, py, qx, qy float64) bool {
	bx, by := s.bx, s.by-s.ay
	d1 := bx*(py-s.ay) - by*px
	d2 := bx*(qy-s.ay) - by*qx
	ex, ey := qx-px, qy-py
	d3 := ex*(s.ay-py) + ey*px
	d4 := ex*(s.by-py) - ey*(s.bx-px)
	if d1*d2 <= 0 && d3*d4 <= 0 {
		if d1 != 0 || d2 != 0 || d3 != 0 || d4 != 0 {
			return true
		}
		// Along the same line: they meet when their boxes do.
		if math.Max(px, qx) >= math.Min(0, s.bx) && math.Min(px, qx) <= math.Max(0, s.bx) &&
			math.Max(py, qy) >= math.Min(s.ay, s.by) && math.Min(py, qy) <= math.Max(s.ay, s.by) {
			return true
		}
	}
	if s.clear2 == 0 {
		return false
	}
	kx, ky := s.kx, s.ky
	ax, ay := 0.0, 0.0
	bx, by = s.bx*kx, (s.by-s.ay)*ky
	px, py, qx, qy = px*kx, (py-s.ay)*ky, qx*kx, (qy-s.ay)*ky
	d, _, _ := toSegment(ax, ay, px, py, qx, qy)
	if d < s.clear2 {
		return true
	}
	if d, _, _ = toSegment(bx, by, px, py, qx, qy); d < s.clear2 {
		return true
	}
	if d, _, _ = toSegment(px, py, ax, ay, bx, by); d < s.clear2 {
		return true
	}
	d, _, _ = toSegment(qx, qy, ax, ay, bx, by)
	return d < s.clear2
}

// toSegment returns the squared distance from (x, y) to the segment p-q and
// the nearest point on it.
func toSegment(x, y, px, py, qx, qy float64) (d2, nx, ny float64) {
	ex, ey := qx-px, qy-py
	t := 0.0
	if l := ex*ex + ey*ey; l > 0 {
		t = math.Min(1, math.Max(0, ((x-px)*ex+(y-py)*ey)/l))
	}
	nx, ny = px+t*ex, py+t*ey
	return (x-nx)*(x-nx) + (y-ny)*(y-ny), nx, ny
}

// Nearest returns the point of an edge nearest to p and its distance in
// metres, or ok false when there is none within maxM.
func (x *Index) Nearest(p orb.Point, maxM float64) (q orb.Point, distM float64, ok bool) {
	kx, ky := scale(p[1])
	best := maxM * maxM
	lon0 := wrap180(p[0])
	padY := maxM / ky
	far, _ := scale(math.Min(math.Abs(p[1])+padY, 89.9))
	padX := math.Min(maxM/far, 180)
	r0, r1 := x.row(p[1]-padY), x.row(p[1]+padY)
	c0 := x.column(lon0 - padX)
	c1 := min(x.column(lon0+padX), c0+x.nx-1)
	for r := r0; r <= r1; r++ {
		for c := c0; c <= c1; c++ {
			i := r*x.nx + x.wrapColumn(c)
			for _, e := range x.edges[x.start[i]:x.start[i+1]] {
				x0, y0, x1, y1 := x.edge(int(e), lon0)
				d2, nx, ny := toSegment(0, 0, x0*kx, (y0-p[1])*ky, x1*kx, (y1-p[1])*ky)
				if d2 <= best {
					best, ok = d2, true
					q = orb.Point{wrap180(lon0 + nx/kx), p[1] + ny/ky}
				}
			}
		}
	}
	return q, math.Sqrt(best), ok
}

// NearestOutside returns the point nearest to p that is outside the polygons
// and at least clearM from their edges, within maxM. The distance is found to
// about 2 %. When p itself will do it is returned.
func (x *Index) NearestOutside(p orb.Point, clearM, maxM float64) (q orb.Point, distM float64, ok bool) {
	if !x.Touches(p, p, clearM) {
		return p, 0, true
	}
	kx, ky := scale(p[1])
	const bearings = 90
	for r := 50.0; r <= maxM; r *= 1.02 {
		for b := range bearings {
			s, c := math.Sincos(2 * math.Pi * float64(b) / bearings)
			q := orb.Point{wrap180(p[0] + r*s/math.Max(kx, 1e3)), p[1] + r*c/ky}
			if math.Abs(q[1]) <= 90 && !x.Touches(q, q, clearM) {
				return q, r, true
			}
		}
	}
	return p, 0, false
}

// Polygons returns the rings that meet the box, cut to it, for drawing. The
// box may run past ±180 to the east. Rings keep the order of the data; fill
// them by the even-odd rule.
func (x *Index) Polygons(west, south, east, north float64) []orb.Ring {
	var out []orb.Ring
	mid := (west + east) / 2
	i := 0
	for _, end := range x.ringEnd {
		var r orb.Ring
		first := i
		at := 0.0
		lo, hi, bottom, top := math.Inf(1), math.Inf(-1), 90.0, -90.0
		for ; i < int(end)-1; i++ {
			x0, y0, x1, _ := x.edge(i, mid)
			if i == first {
				at = x0
			}
			r = append(r, orb.Point{at, y0})
			lo, hi, bottom, top = math.Min(lo, at), math.Max(hi, at), math.Min(bottom, y0), math.Max(top, y0)
			at += x1 - x0
		}
		i++
		if top < south || bottom > north {
			continue
		}
		if at != r[0][0] && math.Abs(at-r[0][0]) > 180 { // goes round the pole: close along it
			r = append(r, orb.Point{at, r[0][1]}, orb.Point{at, -90}, orb.Point{r[0][0], -90})
			lo, hi = math.Min(lo, at), math.Max(hi, at)
		}
		for _, turn := range []float64{-360, 0, 360} {
			if lo+turn > east-mid || hi+turn < west-mid {
				continue
			}
			c := make(orb.Ring, len(r))
			for k, p := range r {
				c[k] = orb.Point{p[0] + turn + mid, p[1]}
			}
			if c = clip(c, west, south, east, north); len(c) > 2 {
				out = append(out, append(c, c[0]))
			}
		}
	}
	return out
}

// clip cuts the ring by the four sides of the box in turn (I. E. Sutherland
// and G. W. Hodgman, Reentrant polygon clipping, CACM 17 (1974) 32-42).
func clip(r orb.Ring, west, south, east, north float64) orb.Ring {
	for side := range 4 {
		k, limit, sign := side%2, [4]float64{west, south, east, north}[side], 1.0
		if side > 1 {
			sign = -1
		}
		var out orb.Ring
		for i, p := range r {
			q := r[(i+1)%len(r)]
			dp, dq := sign*(p[k]-limit), sign*(q[k]-limit)
			if dp >= 0 {
				out = append(out, p)
			}
			if (dp >= 0) != (dq >= 0) {
				t := dp / (dp - dq)
				c := orb.Point{p[0] + t*(q[0]-p[0]), p[1] + t*(q[1]-p[1])}
				c[k] = limit
				out = append(out, c)
			}
		}
		r = out
		if len(r) == 0 {
			return nil
		}
	}
	return r
}
