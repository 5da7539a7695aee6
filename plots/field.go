package plots

import (
	"math"
)

// field is a value over true wind angle (x) and speed (y).
type field struct {
	tws, twa []float64
	v        [][]float64 // [tws][twa]
}

// at is the value at a place inside the axes, on the same triangles as the
// contours, so that colour bands end exactly at the lines. Where a corner has no
// finite value it is the nearest corner's own.
func (f field) at(tws, twa float64) float64 {
	i, y := locate(f.tws, tws)
	j, x := locate(f.twa, twa)
	c := [4]float64{f.v[i][j], f.v[i][j+1], f.v[i+1][j+1], f.v[i+1][j]} // anticlockwise
	mid := (c[0] + c[1] + c[2] + c[3]) / 4
	x, y = x-0.5, y-0.5
	if !finiteNumber(mid) {
		switch {
		case x < 0 && y < 0:
			return c[0]
		case y < 0:
			return c[1]
		case x >= 0:
			return c[2]
		}
		return c[3]
	}
	// along the edge of the triangle that holds the place, and out from the middle
	edge := func(a, b, along, out float64) float64 {
		if out == 0 {
			return mid
		}
		t := 0.5 + along/(2*out)
		return mid + 2*out*(a+t*(b-a)-mid)
	}
	switch {
	case math.Abs(x) >= math.Abs(y) && x >= 0:
		return edge(c[1], c[2], y, x)
	case math.Abs(x) >= math.Abs(y):
		return edge(c[0], c[3], y, -x)
	case y >= 0:
		return edge(c[3], c[2], x, y)
	}
	return edge(c[0], c[1], x, -y)
}

// locate finds the interval of an ascending axis and the share along it.
func locate(ax []float64, x float64) (int, float64) {
	i := 0
	for i < len(ax)-2 && x >= ax[i+1] {
		i++
	}
	return i, math.Max(0, math.Min(1, (x-ax[i])/(ax[i+1]-ax[i])))
}

// span is the range of the finite values.
func (f field) span() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, row := range f.v {
		for _, x := range row {
			if finiteNumber(x) {
				lo, hi = math.Min(lo, x), math.Max(hi, x)
			}
		}
	}
	return lo, hi
}

// contour returns the segments along which a field has a value, joined into
// polylines, on the bilinear surface cut in triangles of the axes' cells.
func contour(p panel, f field, level float64) [][]pt {
	var segs [][2]pt
	for i := range len(f.tws) - 1 {
		for j := range len(f.twa) - 1 {
			type corner struct {
				pt
				v float64
			}
			at := func(di, dj int) corner {
				return corner{p.at(f.twa[j+dj], f.tws[i+di]), f.v[i+di][j+dj] - level}
			}
			cs := []corner{at(0, 0), at(0, 1), at(1, 1), at(1, 0)}
			m := corner{v: (cs[0].v + cs[1].v + cs[2].v + cs[3].v) / 4}
			m.pt = pt{(cs[0].x + cs[2].x) / 2, (cs[0].y + cs[2].y) / 2}
			if !finiteNumber(m.v) {
				continue
			}
			for k := range 4 {
				tri := [3]corner{cs[k], cs[(k+1)%4], m}
				var hit []pt
				for e := range 3 {
					a, b := tri[e], tri[(e+1)%3]
					if (a.v >= 0) != (b.v >= 0) {
						t := a.v / (a.v - b.v)
						hit = append(hit, pt{a.x + t*(b.x-a.x), a.y + t*(b.y-a.y)})
					}
				}
				if len(hit) == 2 {
					segs = append(segs, [2]pt{hit[0], hit[1]})
				}
			}
		}
	}
	return join(segs)
}

// join chains segments that share an end.
func join(segs [][2]pt) [][]pt {
	key := func(q pt) [2]int { return [2]int{int(math.Round(q.x * 100)), int(math.Round(q.y * 100))} }
	at := map[[2]int][]int{}
	for i, sg := range segs {
		at[key(sg[0])] = append(at[key(sg[0])], i)
		at[key(sg[1])] = append(at[key(sg[1])], i)
	}
	used := make([]bool, len(segs))
	grow := func(end pt) []pt {
		var ps []pt
		for {
			next := -1
			for _, i := range at[key(end)] {
				if !used[i] {
					next = i
					break
				}
			}
			if next < 0 {
				return ps
			}
			used[next] = true
			if key(segs[next][0]) == key(end) {
				end = segs[next][1]
			} else {
				end = segs[next][0]
			}
			ps = append(ps, end)
		}
	}
	var lines [][]pt
	for i, sg := range segs {
		if used[i] {
			continue
		}
		used[i] = true
		fwd, back := grow(sg[1]), grow(sg[0])
		line := make([]pt, 0, len(fwd)+len(back)+2)
		for k := len(back) - 1; k >= 0; k-- {
			line = append(line, back[k])
		}
		lines = append(lines, append(append(line, sg[0], sg[1]), fwd...))
	}
	return lines
}
