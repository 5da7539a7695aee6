package weather

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"foilledger/weather/grid"
)

// NoWindError says that a forecast holds no usable 10 m wind, and what it holds
// instead.
type NoWindError struct {
	Holds []string // quantities found, with their count
	Why   string   // e.g. that u came without v; may be empty
}

func (e *NoWindError) Error() string {
	msg := "the forecast holds no 10 m wind"
	if e.Why != "" {
		msg += ": " + e.Why
	}
	if len(e.Holds) == 0 {
		return msg + "; it holds nothing that is known here"
	}
	return msg + "; it holds " + strings.Join(e.Holds, ", ")
}

// Hint says what the user can do about it.
func (e *NoWindError) Hint() string {
	return "add a file with the wind at 10 m, as u and v or as speed and direction"
}

// item is one grid field with where it came from.
type item struct {
	*grid.Field
	file int // order in which the files were given
}

// candidate holds the planes of one variable at one valid time on one grid.
type candidate struct {
	shape  grid.Shape
	valid  time.Time
	ref    time.Time
	file   int
	planes [][]float32 // one or two
}

// series is one variable on one grid, by rising valid time.
type series struct {
	shape grid.Shape
	ref   time.Time // newest run in it
	file  int
	steps []candidate
}

// bundleKey groups fields that belong together: same grid, time and run.
type bundleKey struct {
	shape      grid.Shape
	valid, ref int64
}

type partKey struct {
	q         grid.Quantity
	partition int
}

type bundle struct {
	key    bundleKey
	valid  time.Time
	ref    time.Time
	fields map[partKey]item
}

// assemble turns the grid fields of one forecast or member into series per
// variable. The rule for overlaps: for each variable, grid and valid time the
// newest run wins, among equal runs the file given first.
func assemble(items []item) (set [groups][]series, warnings []string) {
	items, warnings = unstagger(items)
	bundles := map[bundleKey]*bundle{}
	var order []*bundle
	var shapes []grid.Shape
	var repeated [256]int // by quantity: fields that another file gives too
	for _, it := range items {
		k := bundleKey{canonical(&shapes, it.Shape), it.Valid.Unix(), it.Reference.Unix()}
		b := bundles[k]
		if b == nil {
			b = &bundle{key: k, valid: it.Valid, ref: it.Reference, fields: map[partKey]item{}}
			bundles[k] = b
			order = append(order, b)
		}
		pk := partKey{it.Quantity, it.Partition}
		old, ok := b.fields[pk]
		if ok && it.file != old.file {
			repeated[it.Quantity]++
		}
		if !ok || it.file < old.file {
			b.fields[pk] = it
		}
	}
	for q, n := range repeated {
		if n > 0 {
			warnings = append(warnings, fmt.Sprintf("%v comes from several files with the same run, time and grid (%d fields too many): the file given first is used; if the files are members of an ensemble, give the pattern of their names", grid.Quantity(q), n))
		}
	}
	lone := map[string][]time.Time{}
	best := map[group]map[bundleKey]candidate{}
	for _, b := range order {
		for g := range groups {
			planes, file := b.planes(g, lone)
			if planes == nil {
				continue
			}
			c := candidate{shape: b.key.shape, valid: b.valid, ref: b.ref, file: file, planes: planes}
			k := bundleKey{shape: b.key.shape, valid: b.key.valid}
			if best[g] == nil {
				best[g] = map[bundleKey]candidate{}
			}
			if old, ok := best[g][k]; !ok || c.ref.After(old.ref) || c.ref.Equal(old.ref) && c.file < old.file {
				best[g][k] = c
			}
		}
	}
	for g := range groups {
		set[g] = arrange(best[g])
		for _, s := range set[g] {
			warnings = append(warnings, s.holes(g)...)
		}
	}
	for _, name := range sortedKeys(lone) {
		ts := lone[name]
		slices.SortFunc(ts, time.Time.Compare)
		warnings = append(warnings, fmt.Sprintf("%s at %d steps from %s: left out", name, len(ts), stamp(ts[0])))
	}
	return set, warnings
}

// sameShape reports whether two grids are the same up to rounding in the files.
func sameShape(a, b grid.Shape) bool {
	same := func(x, y, step float64) bool { return math.Abs(x-y) <= 1e-3*step }
	return a.NLat == b.NLat && a.NLon == b.NLon &&
		same(a.South, b.South, a.DLat) && math.Abs(wrap180(a.West-b.West)) <= 1e-3*a.DLon &&
		same(a.DLat*float64(a.NLat), b.DLat*float64(b.NLat), a.DLat) &&
		same(a.DLon*float64(a.NLon), b.DLon*float64(b.NLon), a.DLon)
}

// canonical returns the shape among those met so far that is the same, so that
// fields can be put together.
func canonical(shapes *[]grid.Shape, s grid.Shape) grid.Shape {
	for _, c := range *shapes {
		if sameShape(c, s) {
			return c
		}
	}
	*shapes = append(*shapes, s)
	return s
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// arrange sorts the candidates of a variable into series, in the order in which
// the field is to ask them: newest run, then finest grid, then first file.
func arrange(best map[bundleKey]candidate) []series {
	byShape := map[grid.Shape]*series{}
	for _, c := range best {
		s := byShape[c.shape]
		if s == nil {
			s = &series{shape: c.shape, file: c.file}
			byShape[c.shape] = s
		}
		s.steps = append(s.steps, c)
		s.file = min(s.file, c.file)
		if c.ref.After(s.ref) {
			s.ref = c.ref
		}
	}
	out := make([]series, 0, len(byShape))
	for _, s := range byShape {
		slices.SortFunc(s.steps, func(a, b candidate) int { return a.valid.Compare(b.valid) })
		out = append(out, *s)
	}
	slices.SortFunc(out, func(a, b series) int {
		return cmp.Or(b.ref.Compare(a.ref),
			cmp.Compare(a.shape.DLat*a.shape.DLon, b.shape.DLat*b.shape.DLon),
			cmp.Compare(a.file, b.file),
			cmp.Compare(b.shape.NLat*b.shape.NLon, a.shape.NLat*a.shape.NLon),
			cmp.Compare(a.shape.South, b.shape.South), cmp.Compare(a.shape.West, b.shape.West),
			cmp.Compare(a.shape.NLat, b.shape.NLat))
	})
	return out
}

// holes warns of steps that seem to be missing: a step longer than the one
// before it that is followed by a shorter one.
func (s series) holes(g group) (warnings []string) {
	for k := 1; k < len(s.steps); k++ {
		d := s.steps[k].valid.Sub(s.steps[k-1].valid)
		before, after := d, d
		if k > 1 {
			before = s.steps[k-1].valid.Sub(s.steps[k-2].valid)
		}
		if k+1 < len(s.steps) {
			after = s.steps[k+1].valid.Sub(s.steps[k].valid)
		}
		if d > after && d >= before && (d > before || k == 1) {
			warnings = append(warnings, fmt.Sprintf("%s: no step between %s and %s (%s, then %s)", g,
				stamp(s.steps[k-1].valid), stamp(s.steps[k].valid), hours(d.Seconds()), hours(after.Seconds())))
		}
	}
	return warnings
}

// planes returns the planes of variable g that the bundle gives, nil when none,
// and the file of the first.
func (b *bundle) planes(g group, lone map[string][]time.Time) ([][]float32, int) {
	get := func(q grid.Quantity) (item, bool) { it, ok := b.fields[partKey{q, 0}]; return it, ok }
	single := func(qs ...grid.Quantity) ([][]float32, int) {
		for _, q := range qs {
			if it, ok := get(q); ok {
				return [][]float32{it.Values}, it.file
			}
		}
		return nil, 0
	}
	pair := func(qu, qv grid.Quantity) ([][]float32, int) {
		u, uok := get(qu)
		v, vok := get(qv)
		switch {
		case uok && vok:
			return [][]float32{u.Values, v.Values}, min(u.file, v.file)
		case uok:
			lone[qu.String()+" without "+qv.String()] = append(lone[qu.String()+" without "+qv.String()], b.valid)
		case vok:
			lone[qv.String()+" without "+qu.String()] = append(lone[qv.String()+" without "+qu.String()], b.valid)
		}
		return nil, 0
	}
	switch g {
	case gWind:
		sp, sok := get(grid.WindSpeed)
		fr, fok := get(grid.WindFrom)
		_, uok := get(grid.WindU)
		_, vok := get(grid.WindV)
		if !(uok && vok) && sok && fok {
			u, v := fromSpeedAndDirection(sp.Values, fr.Values)
			return [][]float32{u, v}, min(sp.file, fr.file)
		}
		return pair(grid.WindU, grid.WindV)
	case gGust:
		return single(grid.Gust)
	case gHeight:
		if p, file := single(grid.WaveHeight); p != nil {
			return p, file
		}
		return b.fromParts(func(s sea) (float32, float32) { return float32(s.hsM()), 0 }, 1)
	case gPeriod:
		if p, file := single(grid.WavePeakPeriod); p != nil {
			return p, file
		}
		if p, file := single(grid.WaveMeanPeriod); p != nil {
			return [][]float32{scaled(p[0], peakPerMeanPeriod)}, file
		}
		return b.fromParts(func(s sea) (float32, float32) { return float32(s.periodS), 0 }, 1)
	case gDirection:
		if it, ok := get(grid.WaveFrom); ok {
			var height []float32
			if h, ok := get(grid.WaveHeight); ok {
				height = h.Values
			}
			e, n := directionVectors(it.Values, height)
			return [][]float32{e, n}, it.file
		}
		return b.fromParts(func(s sea) (float32, float32) { return float32(s.east), float32(s.north) }, 2)
	case gCurrent:
		return pair(grid.CurrentU, grid.CurrentV)
	case gPressure:
		return single(grid.SeaLevelPressure)
	}
	return nil, 0
}
