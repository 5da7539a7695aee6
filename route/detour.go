package route

import (
	"container/heap"
	"context"
	"math"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// detour puts gates into the marks where land or areas bar the shortest line
// so far that no mesh around it gets past: it finds a short way by sea on a
// grid of points and makes its corners gates. leg[i] is the leg between the
// marks given to which leg i between the new marks belongs. ok is false when
// a way is found for no leg or all are open anyway.
func detour(ctx context.Context, w *Waters, marks []Mark) (out []Mark, leg []int, ok bool, err error) {
	out = append(out, marks[0])
	for i := range marks[1:] {
		a, b := marks[i], marks[i+1]
		if p, q := a.axis(WGS84), b.axis(WGS84); w.Blocked(p, q) {
			way, err := seaWay(ctx, w, p, q)
			if err != nil {
				return nil, nil, false, err
			}
			for k := 1; k < len(way)-1; k++ {
				out = append(out, cornerGate(w, way[k-1], way[k], way[k+1]))
				leg = append(leg, i)
				ok = true
			}
		}
		out = append(out, b)
		leg = append(leg, i)
	}
	return out, leg, ok, nil
}

// cornerGate is a line across the way at a corner, as far to both sides as
// there is water, at most 60 km.
func cornerGate(w *Waters, before, at, after orb.Point) Mark {
	_, _, in := Inverse(before, at)
	_, out, _ := Inverse(at, after)
	across := in + math.Remainder(out-in, 2*math.Pi)/2 + math.Pi/2
	end := func(az float64) orb.Point {
		for _, d := range []float64{60e3, 30e3, 15e3, 8e3, 4e3, 2e3, 1e3} {
			if p, _ := Direct(at, az, d); !w.Blocked(at, p) {
				return p
			}
		}
		p, _ := Direct(at, az, 500)
		return p
	}
	return Mark{Point: end(across), Passing: Between, Other: end(across + math.Pi), corner: &at}
}

// seaWay finds a short way by sea from a to b: the best path over a grid, with
// the corners it does not need pulled out. Grids get finer until one has a
// way; nil when none has.
func seaWay(ctx context.Context, w *Waters, a, b orb.Point) ([]orb.Point, error) {
	for _, g := range []seaGrid{{cell: 0.5, margin: 25}, {cell: 0.25, margin: 12}, {cell: 0.125, margin: 8}, {cell: 0.05, margin: 3}, {cell: 0.5, margin: 180}} {
		way, err := g.find(ctx, w, a, b)
		if err != nil {
			return nil, err
		}
		if way == nil {
			continue
		}
		pulled := way[:1:1]
		for i := 0; i < len(way)-1; {
			k := len(way) - 1
			for k > i+1 && w.Blocked(way[i], way[k]) {
				k--
			}
			pulled = append(pulled, way[k])
			i = k
		}
		return pulled, nil
	}
	return nil, nil
}

type seaGrid struct {
	cell, margin float64 // degrees
	west, south  float64
	nx, ny       int
	around       bool // covers all longitudes
}

func (g *seaGrid) point(n int) orb.Point {
	return orb.Point{units.Wrap180(g.west + float64(n%g.nx)*g.cell), g.south + float64(n/g.nx)*g.cell}
}

// steps to neighbours: the eight around and the eight a knight's move away.
var seaSteps = [16][2]int{
	{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {1, -1}, {-1, 1}, {-1, -1},
	{2, 1}, {2, -1}, {-2, 1}, {-2, -1}, {1, 2}, {1, -2}, {-1, 2}, {-1, -2},
}

// find is A* over the grid with the great circle as its bound.
func (g seaGrid) find(ctx context.Context, w *Waters, a, b orb.Point) ([]orb.Point, error) {
	dLon := units.Wrap180(b[0] - a[0])
	width := math.Abs(dLon) + 2*g.margin
	g.west = a[0] + math.Min(0, dLon) - g.margin
	if g.around = width >= 360; g.around {
		width, g.west = 360-g.cell, -180
	}
	g.west = math.Floor(g.west/g.cell) * g.cell
	g.south = math.Max(math.Floor((math.Min(a[1], b[1])-g.margin)/g.cell)*g.cell, -80)
	north := math.Min(math.Max(a[1], b[1])+g.margin, 84)
	g.nx = int(math.Round(width/g.cell)) + 1
	g.ny = int(math.Floor((north-g.south)/g.cell)) + 1
	if g.ny < 1 {
		return nil, nil
	}
	n := g.nx * g.ny
	best := make([]float64, n)
	pred := make([]int32, n)
	closed := make([]bool, n)
	for i := range best {
		best[i], pred[i] = math.Inf(1), -1
	}
	arc := func(p, q orb.Point) float64 { d, _ := GreatCircle(p, q); return d }
	var open seaHeap
	reach := func(i int, from int32, d float64) {
		if d < best[i] {
			best[i], pred[i] = d, from
			heap.Push(&open, seaItem{i, d + arc(g.point(i), b)})
		}
	}
	// The ends join the grid points near them that they can see.
	near := func(p orb.Point, f func(i int)) {
		x, y := (p[0]-g.west)/g.cell, (p[1]-g.south)/g.cell
		if x < 0 {
			x += 360 / g.cell
		} else if x > 360/g.cell {
			x -= 360 / g.cell
		}
		for dy := -2; dy <= 3; dy++ {
			for dx := -2; dx <= 3; dx++ {
				if i, ok := g.node(int(x)+dx, int(y)+dy); ok && !w.Blocked(p, g.point(i)) {
					f(i)
				}
			}
		}
	}
	goal := map[int]bool{}
	near(b, func(i int) { goal[i] = true })
	near(a, func(i int) { reach(i, -1, arc(a, g.point(i))) })
	end, endAt := -1, math.Inf(1)
	for seen := 0; len(open) > 0; seen++ {
		if seen%256 == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		it := heap.Pop(&open).(seaItem)
		if it.bound >= endAt {
			break
		}
		i := it.node
		if closed[i] {
			continue
		}
		closed[i] = true
		p := g.point(i)
		if goal[i] {
			if d := best[i] + arc(p, b); d < endAt {
				end, endAt = i, d
			}
		}
		for _, s := range seaSteps {
			k, ok := g.node(i%g.nx+s[0], i/g.nx+s[1])
			if !ok || closed[k] {
				continue
			}
			q := g.point(k)
			if d := best[i] + arc(p, q); d < best[k] && !w.Blocked(p, q) {
				reach(k, int32(i), d)
			}
		}
	}
	if end < 0 {
		return nil, nil
	}
	way := []orb.Point{b}
	for i := int32(end); i >= 0; i = pred[i] {
		way = append(way, g.point(int(i)))
	}
	way = append(way, a)
	for i, j := 0, len(way)-1; i < j; i, j = i+1, j-1 {
		way[i], way[j] = way[j], way[i]
	}
	return way, nil
}

func (g *seaGrid) node(x, y int) (int, bool) {
	if g.around {
		x = (x%g.nx + g.nx) % g.nx
	}
	if x < 0 || x >= g.nx || y < 0 || y >= g.ny {
		return 0, false
	}
	return y*g.nx + x, true
}

type seaItem struct {
	node  int
	bound float64
}

// seaHeap orders by bound, then by node so that ties do not depend on history.
type seaHeap []seaItem

func (h seaHeap) Len() int { return len(h) }
func (h seaHeap) Less(i, j int) bool {
	if h[i].bound != h[j].bound {
		return h[i].bound < h[j].bound
	}
	return h[i].node < h[j].node
}
func (h seaHeap) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h *seaHeap) Push(x any)   { *h = append(*h, x.(seaItem)) }
func (h *seaHeap) Pop() any {
	old := *h
	x := old[len(old)-1]
	*h = old[:len(old)-1]
	return x
}
