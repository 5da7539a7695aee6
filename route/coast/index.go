package coast

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// Index is a set of polygons with a grid over them: every cell lists the edges
// that pass through its box and knows whether its centre is inside. A point is
// inside when the meridian from it to the north pole crosses an odd number of
// edges, so holes need no marking and rings may go round the south pole.
// It may be used from many goroutines.
type Index struct {
	cell     float64 // degrees
	nx, ny   int
	lon, lat []int32 // vertices in microdegrees, each ring closed
	ringEnd  []int32 // index after the last vertex of each ring
	start    []uint32
	edges    []int32 // vertex at which the edge starts
	inside   []uint64
}

const micro = 1e6

// NewIndex builds the index with cells of cellDeg degrees, which must divide
// 180. Rings close by themselves; repeated vertices and rings of fewer than
// three vertices are dropped; coordinates are rounded to 1e-6 degrees.
// Latitudes must be within ±90, longitudes finite.
func NewIndex(rings [][]orb.Point, cellDeg float64) *Index {
	x := &Index{cell: cellDeg, nx: int(math.Round(360 / cellDeg)), ny: int(math.Round(180 / cellDeg))}
	for _, r := range rings {
		first := len(x.lon)
		for _, p := range r {
			lo, la := int32(math.Round(wrap180(p[0])*micro)), int32(math.Round(p[1]*micro))
			if lo == 180*micro && p[0] != 180 {
				lo = -180 * micro
			}
			if n := len(x.lon); n > first {
				if x.lat[n-1] == la && x.lon[n-1] == lo {
					continue
				}
				x.around(lo, la)
			}
			x.lon, x.lat = append(x.lon, lo), append(x.lat, la)
		}
		for n := len(x.lon); n-1 > first && x.lon[n-1] == x.lon[first] && x.lat[n-1] == x.lat[first]; n-- {
			x.lon, x.lat = x.lon[:n-1], x.lat[:n-1]
		}
		if len(x.lon)-first < 3 {
			x.lon, x.lat = x.lon[:first], x.lat[:first]
			continue
		}
		x.around(x.lon[first], x.lat[first])
		x.lon, x.lat = append(x.lon, x.lon[first]), append(x.lat, x.lat[first])
		x.ringEnd = append(x.ringEnd, int32(len(x.lon)))
	}
	x.fill()
	return x
}

// around puts two vertices into an edge from −180 to 180, which means once
// around the Earth, so that every edge goes the short way.
func (x *Index) around(lo, la int32) {
	n := len(x.lon) - 1
	if d := lo - x.lon[n]; d == 360*micro || d == -360*micro {
		for k := range int32(2) {
			x.lon = append(x.lon, x.lon[n]+d/3*(k+1))
			x.lat = append(x.lat, x.lat[n]+(la-x.lat[n])/3*(k+1))
		}
	}
}

func wrap180(deg float64) float64 {
	if deg >= -180 && deg <= 180 { // 180 stays: rings may run from −180 to 180
		return deg
	}
	d := math.Mod(deg+180, 360)
	if d < 0 {
		d += 360
	}
	return d - 180
}

// each calls f for the start vertex of every edge.
func (x *Index) each(f func(e int)) {
	i := 0
	for _, end := range x.ringEnd {
		for ; i < int(end)-1; i++ {
			f(i)
		}
		i++
	}
}

// edge returns the ends of edge e with longitudes relative to lon0, the first
// within ±180 of it. The edge goes the short way round.
func (x *Index) edge(e int, lon0 float64) (x0, y0, x1, y1 float64) {
	a, b := x.lon[e], x.lon[e+1]
	d := b - a
	if d > 180*micro {
		d -= 360 * micro
	} else if d < -180*micro {
		d += 360 * micro
	}
	x0 = float64(a)/micro - lon0
	if x0 < -180 {
		x0 += 360
	} else if x0 >= 180 {
		x0 -= 360
	}
	x1 = x0 + float64(d)/micro
	return x0, float64(x.lat[e]) / micro, x1, float64(x.lat[e+1]) / micro
}

func (x *Index) row(lat float64) int {
	return min(max(int(math.Floor((lat+90)/x.cell)), 0), x.ny-1)
}

// column is not yet wrapped to the grid.
func (x *Index) column(lon float64) int { return int(math.Floor((lon + 180) / x.cell)) }

func (x *Index) wrapColumn(i int) int {
	if i >= 0 && i < x.nx {
		return i
	}
	i %= x.nx
	if i < 0 {
		i += x.nx
	}
	return i
}

func (x *Index) fill() {
	// Two passes: count, then place.
	x.start = make([]uint32, x.nx*x.ny+1)
	visit := func(f func(cell, e int)) {
		x.each(func(e int) {
			x0, y0, x1, y1 := x.edge(e, 0)
			c0, c1 := x.column(math.Min(x0, x1)), x.column(math.Max(x0, x1))
			c1 = min(c1, c0+x.nx-1)
			r0, r1 := x.row(math.Min(y0, y1)), x.row(math.Max(y0, y1))
			for r := r0; r <= r1; r++ {
				for c := c0; c <= c1; c++ {
					f(r*x.nx+x.wrapColumn(c), e)
				}
			}
		})
	}
	visit(func(cell, _ int) { x.start[cell+1]++ })
	for i := range x.nx * x.ny {
		x.start[i+1] += x.start[i]
	}
	x.edges = make([]int32, x.start[len(x.start)-1])
	at := append([]uint32(nil), x.start...)
	visit(func(cell, e int) {
		x.edges[at[cell]] = int32(e)
		at[cell]++
	})

	// Parity at the cell centres: crossings of each column's middle meridian.
	x.inside = make([]uint64, (x.nx*x.ny+63)/64)
	crossings := make([][]float64, x.nx)
	x.each(func(e int) {
		x0, _, x1, _ := x.edge(e, 0)
		c0, c1 := x.column(math.Min(x0, x1))-1, x.column(math.Max(x0, x1))+1
		c1 = min(c1, c0+x.nx-1)
		for c := c0; c <= c1; c++ {
			k := x.wrapColumn(c)
			x0, y0, x1, y1 := x.edge(e, x.centreLon(k))
			if (x0 <= 0) != (x1 <= 0) {
				crossings[k] = append(crossings[k], y0-x0*(y1-y0)/(x1-x0))
			}
		}
	})
	for c, ys := range crossings {
		sort.Float64s(ys)
		for r := range x.ny {
			north := len(ys) - sort.Search(len(ys), func(i int) bool { return ys[i] > x.centreLat(r) })
			if north%2 == 1 {
				i := r*x.nx + c
				x.inside[i/64] |= 1 << (i % 64)
			}
		}
	}
}

func (x *Index) centreLon(c int) float64 { return -180 + (float64(c)+0.5)*x.cell }
func (x *Index) centreLat(r int) float64 { return -90 + (float64(r)+0.5)*x.cell }

// Contains says whether p is inside, which for land means ashore. Points on an
// edge belong to one side or the other. NaN is outside.
func (x *Index) Contains(p orb.Point) bool {
	if !(p[1] >= -90 && p[1] <= 90) || math.IsNaN(p[0]) || math.IsInf(p[0], 0) {
		return false
	}
	lon := wrap180(p[0])
	c, r := x.wrapColumn(x.column(lon)), x.row(p[1])
	i := r*x.nx + c
	in := x.inside[i/64]>>(i%64)&1 == 1
	es := x.edges[x.start[i]:x.start[i+1]]
	if len(es) == 0 {
		return in
	}
	// From the cell's centre along its meridian to the point's latitude, then
	// along the parallel to the point; every edge crossed changes sides.
	cx, cy := x.centreLon(c), x.centreLat(r)
	px, py := lon-cx, p[1]
	if px > 180 {
		px -= 360
	} else if px < -180 {
		px += 360
	}
	for _, e := range es {
		x0, y0, x1, y1 := x.edge(int(e), cx)
		if (y0 <= py) != (y1 <= py) {
			if xc := x0 + (py-y0)*(x1-x0)/(y1-y0); (xc <= px) != (xc <= 0) {
				in = !in
			}
		}
		if (x0 <= 0) != (x1 <= 0) {
			if yc := y0 - x0*(y1-y0)/(x1-x0); (yc <= py) != (yc <= cy) {
				in = !in
			}
		}
	}
	return in
}

// Vertices returns how many vertices the polygons have.
func (x *Index) Vertices() int { return len(x.lon) - len(x.ringEnd) }
