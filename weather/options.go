package weather

import (
	"fmt"
	"math"
	"path/filepath"
	"time"

	"github.com/paulmach/orb"

	"foilledger/vpp/units"
	"foilledger/weather/grid"
	"foilledger/weather/waves"
)

// WaveMode says where the waves come from.
type WaveMode uint8

const (
	// WavesAuto takes the waves of the forecast and, where it has none, derives
	// them from the wind.
	WavesAuto WaveMode = iota
	// WavesFromWind derives them from the wind even when the forecast has some.
	WavesFromWind
	// WavesFromFile takes only what the forecast holds; without waves Hs is 0.
	WavesFromFile
)

// Options say what is kept of a forecast and how it is used. The zero value
// keeps everything, bilinear, with waves derived from the wind if need be.
type Options struct {
	// Area is the box to keep, with one more grid node round it; nil keeps all.
	// Bounds from a track with a margin: [BoundsOf].
	Area *Bounds
	// From and To are the times wanted; zero means from the first, to the last.
	// Steps up to MaxGap before and after are kept too, for interpolation and
	// for the growth of the sea.
	From, To time.Time
	// MaxGap is the longest time between two steps that is interpolated; 0 means
	// 12 h.
	MaxGap time.Duration
	// Smooth interpolates the wind in space by the Catmull-Rom spline in place
	// of bilinearly: closer round lows on coarse grids, at up to twice the cost.
	Smooth bool
	// Waves says where the waves come from.
	Waves WaveMode
	// WaveRelation tunes the derivation of waves.
	WaveRelation waves.Options
	// MemberFiles is a pattern as in [filepath.Match]. Files whose name, with or
	// without its folders, matches it are one ensemble member each, numbered from
	// 1 in the order given, whatever their messages say; fields of other files
	// belong to all members. Empty leaves it to the member numbers in the
	// messages. For ensembles that come as one file per member without saying so.
	MemberFiles string
	// NoSums leaves out the SHA-256 of the inputs.
	NoSums bool
}

const defaultMaxGap = 12 * time.Hour

func (o Options) maxGap() time.Duration {
	if o.MaxGap == 0 {
		return defaultMaxGap
	}
	return o.MaxGap
}

func (o Options) validate() error {
	if a := o.Area; a != nil {
		for _, v := range []float64{a.South, a.North, a.West, a.WidthDeg} {
			if v-v != 0 {
				return fmt.Errorf("area %v: NaN or infinite", *a)
			}
		}
		if a.South > a.North || a.WidthDeg < 0 || a.South < -90 || a.North > 90 {
			return fmt.Errorf("area south %g, north %g, width %g°: south must not be above north, latitudes within ±90°, width ≥ 0", a.South, a.North, a.WidthDeg)
		}
	}
	if !o.From.IsZero() && !o.To.IsZero() && o.To.Before(o.From) {
		return fmt.Errorf("time window ends at %s, before it starts at %s", stamp(o.To), stamp(o.From))
	}
	if _, err := filepath.Match(o.MemberFiles, ""); err != nil {
		return fmt.Errorf("pattern of member files %q: %w", o.MemberFiles, err)
	}
	if o.MaxGap < 0 {
		return fmt.Errorf("MaxGap %v: must be ≥ 0", o.MaxGap)
	}
	return nil
}

// isMember reports whether a file is a member by MemberFiles.
func (o Options) isMember(name string) bool {
	if o.MemberFiles == "" {
		return false
	}
	whole, _ := filepath.Match(o.MemberFiles, name)
	base, _ := filepath.Match(o.MemberFiles, filepath.Base(name))
	return whole || base
}

// wantsTime reports whether a step is to be kept.
func (o Options) wantsTime(t time.Time) bool {
	if !o.From.IsZero() && t.Before(o.From.Add(-o.maxGap())) {
		return false
	}
	return o.To.IsZero() || !t.After(o.To.Add(o.maxGap()))
}

// crop is a part of a grid: ni columns from column i0 (wrapping when the grid
// is global) and nj rows from row j0.
type crop struct {
	i0, j0, ni, nj int
	shape          grid.Shape
}

// cropOf returns the part of s that Area needs, with one node (two when Smooth)
// to spare; ok is false when the grid does not reach the area at all.
func (o Options) cropOf(s grid.Shape) (c crop, ok bool) {
	c = crop{ni: s.NLon, nj: s.NLat, shape: s}
	if o.Area == nil {
		return c, true
	}
	spare := 1
	if o.Smooth {
		spare = 2
	}
	a := o.Area
	if s.NLat > 1 {
		lo := int(math.Floor((a.South-s.South)/s.DLat+1e-9)) - spare + 1
		hi := int(math.Ceil((a.North-s.South)/s.DLat-1e-9)) + spare - 1
		lo, hi = max(lo, 0), min(hi, s.NLat-1)
		if lo > hi {
			return c, false
		}
		if lo == hi { // keep a row to interpolate with
			lo, hi = max(lo-1, 0), min(hi+1, s.NLat-1)
		}
		c.j0, c.nj = lo, hi-lo+1
		c.shape.South = s.South + float64(lo)*s.DLat
		c.shape.NLat = c.nj
	}
	if s.NLon > 1 && a.WidthDeg < 360 {
		span := float64(s.NLon-1) * s.DLon
		x := eastOf(s.West, a.West)
		if s.Global() {
			lo := int(math.Floor(x/s.DLon+1e-9)) - spare + 1
			hi := int(math.Ceil((x+a.WidthDeg)/s.DLon-1e-9)) + spare - 1
			if hi == lo {
				hi++
			}
			if hi-lo+1 < s.NLon {
				c.i0, c.ni = (lo%s.NLon+s.NLon)%s.NLon, hi-lo+1
				c.shape.West = wrap180(s.West + float64(lo)*s.DLon)
				c.shape.NLon = c.ni
			}
			return c, true
		}
		// The area may begin east of the grid's west edge or west of it, and in
		// the latter case reach into it from the west.
		if x > span {
			if x+a.WidthDeg < 360 {
				return c, false
			}
			x -= 360
		} else if x+a.WidthDeg >= 360 {
			return c, true // reaches in from both sides
		}
		lo := max(int(math.Floor(x/s.DLon+1e-9))-spare+1, 0)
		hi := min(int(math.Ceil((x+a.WidthDeg)/s.DLon-1e-9))+spare-1, s.NLon-1)
		if lo > hi {
			return c, false
		}
		if lo == hi {
			lo, hi = max(lo-1, 0), min(hi+1, s.NLon-1)
		}
		c.i0, c.ni = lo, hi-lo+1
		c.shape.West = wrap180(s.West + float64(lo)*s.DLon)
		c.shape.NLon = c.ni
	}
	return c, true
}

// apply copies the part out of a field's values, which may be lent.
func (c crop) apply(f *grid.Field) *grid.Field {
	out := *f
	out.Shape = c.shape
	out.Values = make([]float32, c.ni*c.nj)
	for j := range c.nj {
		row := f.Values[(c.j0+j)*f.NLon : (c.j0+j+1)*f.NLon]
		dst := out.Values[j*c.ni : (j+1)*c.ni]
		n := copy(dst, row[c.i0:])
		copy(dst[n:], row)
	}
	return &out
}

// What a passage needs beside the weather on its track, so that derived waves
// there are the same as from the whole forecast: the growth of the sea looks for
// land up to the longest fetch upwind, and remembers past wind for about as long
// as the sea takes to decay (12 h to 1/e by default: after 3 days 0.2 % is left).
const (
	fetchMarginNM = 500e3 / units.MPerNM
	seaMemory     = 72 * time.Hour
)

// Along returns Options for a track: the box of its points (longitude and
// latitude in degrees, in the order in which they are passed) with a margin in
// nautical miles, and the times from first to last; a zero time leaves that end
// open. Where waves may have to be derived, the fetch upwind and the wind of the
// three days before are kept too. Other settings may be made on the result.
func Along(points []orb.Point, marginNM float64, first, last time.Time) Options {
	o := Options{To: last}
	if !first.IsZero() {
		o.From = first.Add(-seaMemory)
	}
	if b := BoundsOf(points, marginNM+fetchMarginNM); len(points) > 0 {
		o.Area = &b
	}
	return o
}

// BoundsOf returns the smallest box that holds all the points (longitude and
// latitude in degrees, in the order in which they are passed), widened by a
// margin on every side, across the antimeridian if need be. It reaches round the
// Earth where the margin comes close to a pole. The shortest ways between points
// more than about 5° apart bow out of the box: give points along them.
func BoundsOf(points []orb.Point, marginNM float64) Bounds {
	if len(points) == 0 {
		return Bounds{}
	}
	b := Bounds{South: 90, North: -90}
	// Unroll the longitudes from point to point the short way.
	lon := points[0][0]
	west, east := lon, lon
	for i, p := range points {
		b.South, b.North = min(b.South, p[1]), max(b.North, p[1])
		if i > 0 {
			lon += wrap180(p[0] - points[i-1][0])
		}
		west, east = min(west, lon), max(east, lon)
	}
	deg := marginNM / 60
	b.South, b.North = max(b.South-deg, -90), min(b.North+deg, 90)
	across := 360.0
	if c := math.Cos(units.Rad(max(math.Abs(b.South), math.Abs(b.North)))); c > deg/180 {
		across = deg / c
	}
	b.WidthDeg = min(east-west+2*across, 360)
	b.West = wrap180(west - across)
	return b
}
