package weather

import (
	"errors"
	"math"
	"time"

	"github.com/paulmach/orb"

	"foilledger/vpp/units"
)

// group is a variable as the field stores it.
type group uint8

const (
	gWind group = iota // u, v
	gGust
	gHeight
	gPeriod
	gDirection // east and north part of the direction waves come from, weighted with height squared where known
	gCurrent   // u, v
	gPressure
	groups
)

func (g group) width() int {
	if g == gWind || g == gDirection || g == gCurrent {
		return 2
	}
	return 1
}

func (g group) String() string { return variableNames[g] }

// layer is where a variable's numbers stand in a frame.
type layer struct {
	*frame
	off int
}

// Field is weather on grids: wind, and whatever else the files hold, each
// variable on its own grid and time steps if need be. It implements [Source].
//
// In space u and v are interpolated bilinearly (with Options.Smooth by the
// Catmull-Rom spline), in time the wind as told at blendWind and the rest
// linearly. Directions are interpolated as vectors. Wind and waves must be
// known at a place; gust and pressure unknown there are returned as 0, and so
// is the current outside the area and time of the current's own forecast.
//
// A place is covered when at least one of the four grid nodes round it has a
// value: at load every missing node next to a valid one (side by side or
// diagonally) is given the mean of its nearest valid neighbours.
//
// A variable that comes on several grids is taken from the first that covers
// place and time: the newest run first, of equal runs the finest grid.
type Field struct {
	ref      time.Time
	member   int
	layers   [groups][]layer
	smooth   bool
	derived  bool
	cropped  bool        // an area was asked for
	filled   [groups]int // nodes filled along the coast, all steps
	waveNote string      // how the waves were derived
}

// Reference implements [Source].
func (f *Field) Reference() time.Time { return f.ref }

// Member is the ensemble member: −1 for a single forecast, 0 the control run,
// else the number of the perturbed member.
func (f *Field) Member() int { return f.member }

// WavesDerived reports whether the waves were derived from the wind.
func (f *Field) WavesDerived() bool { return f.derived }

// Variables tells what the field holds. Derived waves count.
func (f *Field) Variables() Variables {
	var v Variables
	for g := range f.layers {
		if len(f.layers[g]) > 0 {
			v |= 1 << g
		}
	}
	return v
}

// SpanS implements [Source]: from the first to the last step that wind and, if
// the field knows them, wave heights both have.
func (f *Field) SpanS() (firstS, lastS float64) {
	firstS, lastS = math.Inf(-1), math.Inf(1)
	for _, g := range []group{gWind, gHeight} {
		if len(f.layers[g]) == 0 {
			continue
		}
		a, b := span(f.layers[g])
		firstS, lastS = max(firstS, a), min(lastS, b)
	}
	return firstS, lastS
}

func span(layers []layer) (firstS, lastS float64) {
	firstS, lastS = math.Inf(1), math.Inf(-1)
	for _, l := range layers {
		firstS, lastS = min(firstS, l.firstS()), max(lastS, l.lastS())
	}
	return firstS, lastS
}

// Bounds returns the box of the wind grid; with several grids that of the
// widest.
func (f *Field) Bounds() Bounds {
	var best Bounds
	for i, l := range f.layers[gWind] {
		b := l.bounds()
		if i == 0 || b.WidthDeg*(b.North-b.South) > best.WidthDeg*(best.North-best.South) {
			best = b
		}
	}
	return best
}

// StepsS returns the wind's time steps, seconds after Reference.
func (f *Field) StepsS() []float64 {
	if len(f.layers[gWind]) == 0 {
		return nil
	}
	longest := f.layers[gWind][0]
	for _, l := range f.layers[gWind][1:] {
		if len(l.timesS) > len(longest.timesS) {
			longest = l
		}
	}
	return append([]float64(nil), longest.timesS...)
}

// At implements [Source].
func (f *Field) At(lonDeg, latDeg, tS float64) (Sample, error) {
	return f.at(lonDeg, latDeg, tS, false)
}

func (f *Field) at(lonDeg, latDeg, tS float64, hold bool) (s Sample, err error) {
	if lonDeg-lonDeg != 0 || latDeg-latDeg != 0 || tS-tS != 0 { // NaN or infinite
		return Sample{}, &CoverageError{Kind: NotFinite, Variable: gWind.String(), LonDeg: lonDeg, LatDeg: latDeg}
	}
	var l locus
	var cur *frame // the frame l refers to
	for g := range groups {
		layers := f.layers[g]
		if len(layers) == 0 {
			continue
		}
		var lay layer
		var kind CoverageKind
		for k := range layers {
			lay = layers[k]
			if lay.frame == cur {
				kind = 0
				break
			}
			cur = nil
			if kind = lay.locate(lonDeg, latDeg, tS, false, &l); kind == 0 {
				cur = lay.frame
				break
			}
		}
		if kind != 0 && hold {
			cur = nil
			if k := f.longest(g, lonDeg, latDeg, tS); k >= 0 {
				lay = layers[k]
				kind = lay.locate(lonDeg, latDeg, tS, true, &l)
			}
		}
		if kind != 0 {
			if g == gGust || g == gPressure || g == gCurrent {
				continue
			}
			return Sample{}, f.explain(g, kind, lonDeg, latDeg, tS, hold)
		}
		switch g {
		case gWind:
			u0, v0, u1, v1 := lay.pair(&l, lay.off, f.smooth)
			if l.next != 0 {
				u0, v0 = blendWind(u0, v0, u1, v1, l.wt)
			}
			if u0 != u0 || v0 != v0 {
				return Sample{}, f.explain(g, Missing, lonDeg, latDeg, tS, hold)
			}
			s.U, s.V = u0, v0
		case gGust:
			if v := lay.lerp1(&l, lay.off); v == v {
				s.GustMS = v
			}
		case gHeight:
			if s.HsM = lay.lerp1(&l, lay.off); s.HsM != s.HsM {
				return Sample{}, f.explain(g, Missing, lonDeg, latDeg, tS, hold)
			}
		case gPeriod:
			// Seas too low to have a period are coded as missing by some models.
			if v := lay.lerp1(&l, lay.off); v == v {
				s.WavePeriodS = v
			}
		case gDirection:
			e0, n0, e1, n1 := lay.pair(&l, lay.off, false)
			if l.next != 0 {
				e0, n0 = e0+(e1-e0)*l.wt, n0+(n1-n0)*l.wt
			}
			if (e0 != 0 || n0 != 0) && e0 == e0 && n0 == n0 {
				s.WaveFromRad = fromRad(e0, n0)
			} else {
				s.WaveFromRad = s.WindFromRad()
			}
		case gCurrent:
			u0, v0, u1, v1 := lay.pair(&l, lay.off, false)
			if l.next != 0 {
				u0, v0 = u0+(u1-u0)*l.wt, v0+(v1-v0)*l.wt
			}
			if u0 == u0 && v0 == v0 {
				s.CurrentU, s.CurrentV = u0, v0
			}
		case gPressure:
			if v := lay.lerp1(&l, lay.off); v == v {
				s.PressurePa = v
			}
		}
	}
	if s.HsM > 0 {
		if s.WavePeriodS == 0 {
			s.WavePeriodS = developedPeriodS(s.HsM)
		}
		if len(f.layers[gDirection]) == 0 {
			s.WaveFromRad = s.WindFromRad()
		}
	}
	return s, nil
}

// longest returns the layer of g that covers the place and runs longest, −1 when
// none covers it.
func (f *Field) longest(g group, lonDeg, latDeg, tS float64) int {
	best := -1
	for k, lay := range f.layers[g] {
		var l locus
		if lay.locate(lonDeg, latDeg, tS, true, &l) == 0 && (best < 0 || lay.lastS() > f.layers[g][best].lastS()) {
			best = k
		}
	}
	return best
}

// explain builds the error for a question that no layer of g answers. It names
// the layer that comes nearest.
func (f *Field) explain(g group, kind CoverageKind, lonDeg, latDeg, tS float64, hold bool) *CoverageError {
	e := &CoverageError{Kind: kind, Variable: g.String(), LonDeg: wrap180(lonDeg), LatDeg: latDeg, Time: f.time(tS)}
	if kind == Missing {
		return e
	}
	// Of several layers prefer the one that at least has the place.
	lay := f.layers[g][0]
	for _, c := range f.layers[g] {
		var l locus
		if k := c.locate(lonDeg, latDeg, tS, hold, &l); k != OutsideArea {
			lay, e.Kind = c, k
			break
		}
	}
	switch e.Kind {
	case OutsideArea:
		e.Bounds, e.Kept = lay.bounds(), f.cropped
		e.Edge, e.BeyondDeg = e.Bounds.beyond(lonDeg, latDeg)
	case BeforeFirst, AfterLast:
		first, last := span(f.layers[g])
		e.First, e.Last = f.time(first), f.time(last)
		e.BeyondS = max(first-tS, tS-last)
	case InGap:
		for k := 1; k < len(lay.timesS); k++ {
			if lay.timesS[k-1] < tS && tS < lay.timesS[k] {
				e.First, e.Last = f.time(lay.timesS[k-1]), f.time(lay.timesS[k])
				e.BeyondS = lay.timesS[k] - lay.timesS[k-1]
			}
		}
	}
	return e
}

// Contains says whether a place lies within the bounds.
func (b Bounds) Contains(lonDeg, latDeg float64) bool {
	_, deg := b.beyond(lonDeg, latDeg)
	return deg == 0
}

// beyond returns the edge by which the place is farthest outside, and how far.
func (b Bounds) beyond(lonDeg, latDeg float64) (edge string, deg float64) {
	if d := latDeg - b.North; d > deg {
		edge, deg = "north", d
	}
	if d := b.South - latDeg; d > deg {
		edge, deg = "south", d
	}
	if x := eastOf(b.West, lonDeg); x > b.WidthDeg {
		east, west := x-b.WidthDeg, 360-x
		if d := min(east, west); d > deg {
			deg, edge = d, "east"
			if west < east {
				edge = "west"
			}
		}
	}
	return edge, deg
}

func (f *Field) time(tS float64) time.Time {
	return f.ref.Add(time.Duration(math.Round(tS*1e3)) * time.Millisecond)
}

// developedPeriodS is the peak period of a fully developed sea of the given
// significant height: Pierson and Moskowitz, "A proposed spectral form for fully
// developed wind seas", J. Geophys. Res. 69, 1964, with Hs = 2(U²/g)√(α/β),
// α 8.1e-3, β 0.74, ωp = 0.877 g/U, U at 19.5 m.
func developedPeriodS(hsM float64) float64 {
	u := math.Sqrt(hsM * units.G / (2 * math.Sqrt(8.1e-3/0.74)))
	return 2 * math.Pi * u / (0.877 * units.G)
}

// Covers answers before a plan starts whether the field knows wind and, if it
// holds them, waves at all the points (longitude, latitude in degrees) and from
// t0S to t1S. The error holds a *CoverageError with the point that is farthest
// outside, one with the time that is missing, or both (errors.Join). A masked
// point is found only when it has no value at the start; a point may be masked
// later.
func (f *Field) Covers(points []orb.Point, t0S, t1S float64) error {
	var worst *CoverageError
	var errs []error
	firstS, lastS := f.SpanS()
	at := min(max(t0S, firstS), lastS)
	for _, p := range points {
		_, err := f.at(p[0], p[1], at, true)
		var c *CoverageError
		if !errors.As(err, &c) {
			continue
		}
		if c.Kind == NotFinite {
			return c
		}
		if worst == nil || worst.Kind == Missing && c.Kind == OutsideArea || c.Kind == worst.Kind && c.BeyondDeg > worst.BeyondDeg {
			worst = c
		}
	}
	if worst != nil {
		worst.Time = time.Time{}
		errs = append(errs, worst)
	}
	if t0S != t0S || t1S != t1S {
		return &CoverageError{Kind: NotFinite, Variable: gWind.String()}
	}
	for _, g := range []group{gWind, gHeight} {
		if len(f.layers[g]) == 0 {
			continue
		}
		a, b := span(f.layers[g])
		e := CoverageError{Variable: g.String(), First: f.time(a), Last: f.time(b)}
		if t0S < a-edgeSlackS {
			c := e
			c.Kind, c.BeyondS, c.Time = BeforeFirst, a-t0S, f.time(t0S)
			errs = append(errs, &c)
		}
		if t1S > b+edgeSlackS {
			c := e
			c.Kind, c.BeyondS, c.Time = AfterLast, t1S-b, f.time(t1S)
			errs = append(errs, &c)
		}
		if len(errs) > 0 {
			break
		}
	}
	return errors.Join(errs...)
}

// HoldLast returns the field with a stated fallback: after the last step of a
// variable its values of the last step are kept for ever. Its SpanS ends at
// +Inf. The other coverage errors remain.
func (f *Field) HoldLast() Source { return held{f} }

type held struct{ *Field }

func (h held) At(lonDeg, latDeg, tS float64) (Sample, error) { return h.at(lonDeg, latDeg, tS, true) }

func (h held) SpanS() (firstS, lastS float64) {
	firstS, _ = h.Field.SpanS()
	return firstS, math.Inf(1)
}
