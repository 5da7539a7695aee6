package weather

import (
	"math"

	"foilledger/weather/waves"
)

// put copies one or two planes into the numbers at off of the nodes from first
// on. A pair is missing where either is; infinities are missing.
func (f *frame) put(first, off int, planes [][]float32) {
	nan := float32(math.NaN())
	for i := range planes[0] {
		at := (first+i)*f.stride + off
		v := planes[0][i]
		if v-v != 0 {
			v = nan
		}
		if len(planes) == 2 {
			w := planes[1][i]
			if w-w != 0 || v != v {
				v, w = nan, nan
			}
			f.data[at+1] = w
		}
		f.data[at] = v
	}
}

// derive fills the sea's numbers of a frame from its wind.
func (b *builder) derive(f *frame, windOff, seaOff int) error {
	n := f.nodes()
	gr := waves.Grid{Shape: f.shape, TimesS: f.timesS, MaxGapS: f.maxGapS, Wind: func(step, node int) (u, v float64) {
		at := (step*n+node)*f.stride + windOff
		return float64(f.data[at]), float64(f.data[at+1])
	}}
	return waves.March(b.ctx, gr, b.opt.WaveRelation, func(step, node int, s waves.State) {
		at := (step*n+node)*f.stride + seaOff
		e := s.HsM * s.HsM
		f.data[at], f.data[at+1] = float32(s.HsM), float32(s.PeakS)
		f.data[at+2], f.data[at+3] = float32(e*s.FromEast), float32(e*s.FromNorth)
	})
}

// fillCoast gives every missing node that has a valid one next to it the mean
// of its nearest valid neighbours: those side by side if any, else those on the
// diagonal. It returns how many it filled.
func (f *frame) fillCoast(off, width int) int {
	n, nlon, nlat := f.nodes(), f.shape.NLon, f.shape.NLat
	filled := 0
	type fill struct {
		at   int
		a, b float32
	}
	var fills []fill
	near := [8][2]int{{0, -1}, {0, 1}, {-1, 0}, {1, 0}, {-1, -1}, {-1, 1}, {1, -1}, {1, 1}}
	for t := range f.timesS {
		fills = fills[:0]
		for node := range n {
			at := (t*n+node)*f.stride + off
			if f.data[at] == f.data[at] {
				continue
			}
			j, i := node/nlon, node%nlon
			var a, b, count float32
			for k, d := range near {
				if k == 4 && count > 0 {
					break
				}
				jj, ii := j+d[0], i+d[1]
				if f.global {
					ii = (ii + nlon) % nlon
				}
				if jj < 0 || jj >= nlat || ii < 0 || ii >= nlon {
					continue
				}
				q := (t*n+jj*nlon+ii)*f.stride + off
				if v := f.data[q]; v == v {
					a += v
					if width == 2 {
						b += f.data[q+1]
					}
					count++
				}
			}
			if count > 0 {
				fills = append(fills, fill{at, a / count, b / count})
			}
		}
		for _, x := range fills {
			f.data[x.at] = x.a
			if width == 2 {
				f.data[x.at+1] = x.b
			}
		}
		filled += len(fills)
	}
	return filled
}
