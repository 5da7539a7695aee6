package weather

import (
	"math"
	"sort"

	"foilledger/vpp/units"
	"foilledger/weather/grid"
)

func wrap180(deg float64) float64 { return units.Wrap180(deg) }

// Tolerances for places and times that fall outside by rounding only.
const (
	edgeSlackDeg = 1e-6
	edgeSlackS   = 1e-3
)

// frame holds the planes of variables that share a grid and its time steps. The
// numbers of one node stand together (stride of them), nodes run west to east,
// rows south to north, steps in time, so that one query touches few cache
// lines.
type frame struct {
	shape   grid.Shape
	timesS  []float64 // seconds after the field's reference, rising
	stepS   float64   // the step when all are equal, else 0
	global  bool
	stride  int
	data    []float32
	perLat  float64 // rows per degree
	perLon  float64 // columns per degree
	eastDeg float64 // last column, degrees east of shape.West
	maxGapS float64
}

func newFrame(shape grid.Shape, timesS []float64, stride int, maxGapS float64) *frame {
	f := &frame{shape: shape, timesS: timesS, stride: stride, maxGapS: maxGapS, global: shape.Global()}
	f.data = make([]float32, len(timesS)*shape.NLat*shape.NLon*stride)
	if shape.NLat > 1 {
		f.perLat = 1 / shape.DLat
	}
	if shape.NLon > 1 {
		f.perLon = 1 / shape.DLon
		f.eastDeg = float64(shape.NLon-1) * shape.DLon
	}
	if n := len(timesS); n > 1 {
		step := (timesS[n-1] - timesS[0]) / float64(n-1)
		f.stepS = step
		for i, t := range timesS {
			if math.Abs(t-timesS[0]-float64(i)*step) > edgeSlackS {
				f.stepS = 0
				break
			}
		}
	}
	return f
}

func (f *frame) nodes() int      { return f.shape.NLat * f.shape.NLon }
func (f *frame) firstS() float64 { return f.timesS[0] }
func (f *frame) lastS() float64  { return f.timesS[len(f.timesS)-1] }

func (f *frame) bounds() Bounds {
	b := Bounds{South: f.shape.South, West: f.shape.West}
	b.North = b.South + float64(f.shape.NLat-1)*f.shape.DLat
	b.WidthDeg = f.eastDeg
	if f.global {
		b.WidthDeg = 360
	}
	return b
}

// locus is a place and time in terms of a frame: the cell, the step, and the
// weights towards the next column, row and step.
type locus struct {
	i0, i1, j0, j1 int
	base           int     // first node of the step, in numbers
	sw, se, nw, ne int     // the four nodes at the step, in numbers
	ksw, kse       float64 // their weights
	knw, kne       float64
	next           int // from a step to the next, in numbers; 0 at a step
	wx, wy, wt     float64
}

// eastOf returns how far lonDeg lies east of west, in [0, 360).
func eastOf(west, lonDeg float64) float64 {
	x := lonDeg - west
	if x < 0 {
		x += 360
	}
	if x < 0 || x >= 360 {
		x = math.Mod(lonDeg-west, 360)
		if x < 0 {
			x += 360
		}
		if x >= 360 {
			x = 0
		}
	}
	return x
}

// locate finds the cell and step; 0 means found.
func (f *frame) locate(lonDeg, latDeg, tS float64, hold bool, l *locus) CoverageKind {
	// space
	y := (latDeg - f.shape.South) * f.perLat
	n := float64(f.shape.NLat - 1)
	if !(y >= 0 && y <= n) || f.perLat == 0 {
		if latDeg-f.shape.South < -edgeSlackDeg || latDeg-f.shape.South > n*f.shape.DLat+edgeSlackDeg || y != y {
			return OutsideArea
		}
		y = min(max(y, 0), n)
	}
	l.j0 = int(y)
	if l.j0 >= f.shape.NLat-1 {
		l.j0 = max(f.shape.NLat-2, 0)
	}
	l.j1 = min(l.j0+1, f.shape.NLat-1)
	l.wy = y - float64(l.j0)
	if l.wy == 0 { // on a row: the next one must not count, it may be masked
		l.j1 = l.j0
	}

	xd := eastOf(f.shape.West, lonDeg)
	x := xd * f.perLon
	if f.global {
		l.i0 = int(x)
		if l.i0 >= f.shape.NLon {
			l.i0 = f.shape.NLon - 1
		}
		l.wx = x - float64(l.i0)
		l.i1 = l.i0 + 1
		if l.i1 == f.shape.NLon {
			l.i1 = 0
		}
	} else {
		if xd > f.eastDeg {
			switch {
			case xd <= f.eastDeg+edgeSlackDeg:
				x = f.eastDeg * f.perLon
			case xd >= 360-edgeSlackDeg:
				x = 0
			default:
				return OutsideArea
			}
		} else if xd != xd {
			return OutsideArea
		}
		l.i0 = int(x)
		if l.i0 >= f.shape.NLon-1 {
			l.i0 = max(f.shape.NLon-2, 0)
		}
		l.i1 = min(l.i0+1, f.shape.NLon-1)
		l.wx = x - float64(l.i0)
	}

	if l.wx == 0 {
		l.i1 = l.i0
	}

	// time
	first, last := f.timesS[0], f.timesS[len(f.timesS)-1]
	if !(tS >= first && tS <= last) {
		switch {
		case tS != tS:
			return NotFinite
		case tS < first:
			if tS < first-edgeSlackS {
				return BeforeFirst
			}
			tS = first
		default:
			if tS > last+edgeSlackS && !hold {
				return AfterLast
			}
			tS = last
		}
	}
	k := 0
	if len(f.timesS) > 1 {
		if f.stepS > 0 {
			k = int((tS - first) / f.stepS)
			if k > len(f.timesS)-2 {
				k = len(f.timesS) - 2
			}
			if tS < f.timesS[k] { // rounding
				k--
			} else if tS > f.timesS[k+1] {
				k++
			}
		} else {
			k = sort.SearchFloat64s(f.timesS, tS)
			if k > 0 && (k == len(f.timesS) || f.timesS[k] != tS) {
				k--
			}
			if k > len(f.timesS)-2 {
				k = len(f.timesS) - 2
			}
		}
		gap := f.timesS[k+1] - f.timesS[k]
		l.wt = (tS - f.timesS[k]) / gap
		if l.wt >= 1 {
			k, l.wt = k+1, 0
		} else if gap > f.maxGapS && l.wt > 0 {
			return InGap
		}
	} else {
		l.wt = 0
	}
	size := f.nodes() * f.stride
	l.base = k * size
	l.next = 0
	if l.wt > 0 {
		l.next = size
	}
	south, north := l.base+l.j0*f.shape.NLon*f.stride, l.base+l.j1*f.shape.NLon*f.stride
	l.sw, l.se = south+l.i0*f.stride, south+l.i1*f.stride
	l.nw, l.ne = north+l.i0*f.stride, north+l.i1*f.stride
	l.kne = l.wx * l.wy
	l.knw, l.kse = l.wy-l.kne, l.wx-l.kne
	l.ksw = 1 - l.wx - l.knw
	return 0
}

// lerp1 interpolates one number, bilinear in space and linear in time.
func (f *frame) lerp1(l *locus, off int) float64 {
	v := f.bilinear(l, off)
	if l.next != 0 {
		v += (f.bilinear(l, off+l.next) - v) * l.wt
	}
	return v
}

// bilinear interpolates the number at off from the nodes of the step.
func (f *frame) bilinear(l *locus, off int) float64 {
	d := f.data
	return (l.ksw*float64(d[l.sw+off]) + l.kse*float64(d[l.se+off])) + (l.knw*float64(d[l.nw+off]) + l.kne*float64(d[l.ne+off]))
}

// pair interpolates two numbers that stand together in space, at the step
// before and the step after.
func (f *frame) pair(l *locus, off int, smooth bool) (u0, v0, u1, v1 float64) {
	if smooth {
		u0, v0 = f.cubicPair(l, l.base+off)
		if l.next != 0 {
			u1, v1 = f.cubicPair(l, l.base+l.next+off)
		}
		return
	}
	u0, v0 = f.bilinear(l, off), f.bilinear(l, off+1)
	if l.next != 0 {
		off += l.next
		u1, v1 = f.bilinear(l, off), f.bilinear(l, off+1)
	}
	return
}

// bytes is the memory that the planes of a field take.
func (f *Field) bytes() int {
	seen := map[*frame]bool{}
	n := 0
	for _, ls := range f.layers {
		for _, l := range ls {
			if !seen[l.frame] {
				seen[l.frame] = true
				n += 4 * len(l.data)
			}
		}
	}
	return n
}
