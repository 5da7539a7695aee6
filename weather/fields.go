package weather

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"foilledger/weather/grid"
)

// NewForecast builds a forecast from grid fields, in the order in which they
// were given, as [Load] does after reading. The fields are not changed.
func NewForecast(ctx context.Context, fields []*grid.Field, opt Options) (*Forecast, error) {
	if err := opt.validate(); err != nil {
		return nil, err
	}
	items := make([]item, 0, len(fields))
	for _, f := range fields {
		if len(f.Values) != f.NLat*f.NLon || len(f.Values) == 0 {
			return nil, fmt.Errorf("%v at %s: %d values for a grid of %d × %d", f.Quantity, stamp(f.Valid), len(f.Values), f.NLon, f.NLat)
		}
		if f.NLat > 1 && !(f.DLat > 0) || f.NLon > 1 && !(f.DLon > 0) {
			return nil, fmt.Errorf("%v at %s: grid steps %g and %g: must be > 0", f.Quantity, stamp(f.Valid), f.DLon, f.DLat)
		}
		if c, ok := opt.cropOf(f.Shape); ok && opt.wantsTime(f.Valid) {
			items = append(items, item{Field: c.apply(f)})
		}
	}
	return build(ctx, kept{items: items, seen: count(fields)}, opt)
}

// count lists quantities with the number of fields of each.
func count(fields []*grid.Field) map[string]int {
	m := map[string]int{}
	for _, f := range fields {
		m[f.Quantity.String()]++
	}
	return m
}

// kept is what reading leaves: fields to use, those of the ensemble mean, and
// what else the files hold.
type kept struct {
	items []item
	mean  []item
	seen  map[string]int
	// outside counts wind fields refused because of their area or time.
	outsideArea, outsideTime int
	area                     Bounds // of the last grid refused
	first, last              time.Time
}

// build groups the fields by member and makes a Field of each.
func build(ctx context.Context, k kept, opt Options) (*Forecast, error) {
	fc := &Forecast{}
	byMember := map[int][]item{}
	windOf := map[int]bool{}
	for _, it := range k.items {
		byMember[it.Member] = append(byMember[it.Member], it)
		if it.Quantity == grid.WindU || it.Quantity == grid.WindSpeed {
			windOf[it.Member] = true
		}
		if it.Reference.After(fc.Reference) {
			fc.Reference = it.Reference
		}
	}
	for _, it := range k.mean {
		if it.Reference.After(fc.Reference) {
			fc.Reference = it.Reference
		}
	}
	members := []int{}
	for m := range byMember {
		if m >= 0 && windOf[m] {
			members = append(members, m)
		} else if m >= 0 {
			fc.warn("ensemble member %d has no wind: left out", m)
		}
	}
	slices.Sort(members)
	slices.Sort(fc.Warnings)

	b := &builder{ctx: ctx, opt: opt, ref: fc.Reference, fc: fc}
	shared, warnings := assemble(byMember[-1])
	fc.Warnings = append(fc.Warnings, warnings...)
	sharedLayers, err := b.layers(&shared, true)
	if err != nil {
		return nil, err
	}
	if len(sharedLayers.layers[gWind]) > 0 {
		f, err := b.field(sharedLayers, nil, -1)
		if err != nil {
			return nil, err
		}
		if len(members) == 0 {
			fc.Members = []*Field{f}
		} else {
			fc.Deterministic = f
		}
	}
	for _, m := range members {
		set, warnings := assemble(byMember[m])
		delete(byMember, m) // let the planes go
		for _, w := range warnings {
			fc.warn("member %d: %s", m, w)
		}
		own, err := b.layers(&set, true)
		if err != nil {
			return nil, err
		}
		if len(own.layers[gWind]) == 0 {
			fc.warn("ensemble member %d has no complete wind: left out", m)
			continue
		}
		f, err := b.field(own, sharedLayers, m)
		if err != nil {
			return nil, err
		}
		fc.Members = append(fc.Members, f)
	}
	if len(k.mean) > 0 {
		set, warnings := assemble(k.mean)
		fc.Warnings = append(fc.Warnings, warnings...)
		mean, err := b.layers(&set, true)
		if err != nil {
			return nil, err
		}
		if len(mean.layers[gWind]) > 0 {
			if fc.Mean, err = b.field(mean, sharedLayers, -1); err != nil {
				return nil, err
			}
			if len(fc.Members) == 0 {
				fc.Members = []*Field{fc.Mean}
				fc.warn("the forecast holds only the mean of an ensemble: its winds are smoother and lighter than those of any member")
			}
		}
	}
	if len(fc.Members) == 0 {
		return nil, k.noWind(opt)
	}
	fc.report()
	return fc, nil
}

// noWind explains why there is no wind to use.
func (k *kept) noWind(opt Options) error {
	if k.outsideArea > 0 && k.outsideTime == 0 {
		e := &CoverageError{Kind: OutsideArea, Variable: gWind.String(), Bounds: k.area}
		e.LatDeg = (opt.Area.South + opt.Area.North) / 2
		e.LonDeg = wrap180(opt.Area.West + opt.Area.WidthDeg/2)
		e.Edge, e.BeyondDeg = k.area.beyond(e.LonDeg, e.LatDeg)
		return e
	}
	if k.outsideTime > 0 {
		e := &CoverageError{Kind: AfterLast, Variable: gWind.String(), First: k.first, Last: k.last, Time: opt.From}
		if opt.From.IsZero() || !opt.To.IsZero() && opt.To.Before(k.first) {
			e.Kind, e.Time = BeforeFirst, opt.To
			e.BeyondS = k.first.Sub(opt.To).Seconds()
		} else {
			e.BeyondS = opt.From.Sub(k.last).Seconds()
		}
		return e
	}
	e := &NoWindError{}
	for _, n := range sortedKeys(k.seen) {
		e.Holds = append(e.Holds, fmt.Sprintf("%s (%d)", n, k.seen[n]))
	}
	u, v := k.seen[grid.WindU.String()], k.seen[grid.WindV.String()]
	speed, from := k.seen[grid.WindSpeed.String()], k.seen[grid.WindFrom.String()]
	switch {
	case u > 0 && v > 0:
		e.Why = "u and v do not stand on the same grid at the same times"
	case u > 0:
		e.Why = "u comes without v"
	case v > 0:
		e.Why = "v comes without u"
	case speed > 0 && from == 0:
		e.Why = "wind speed comes without direction"
	}
	return e
}

// builder makes frames and fields.
type builder struct {
	ctx context.Context
	opt Options
	ref time.Time
	fc  *Forecast
}

// layered is the layers of a set of series.
type layered struct {
	layers  [groups][]layer
	filled  [groups]int
	derived bool
}

// plan is a frame to be made and what goes into it.
type plan struct {
	shape  grid.Shape
	timesS []float64
	parts  []planPart
	derive bool
}

type planPart struct {
	g     group
	index int // among the variable's layers
	steps []candidate
	off   int
}

// layers makes frames of the series: variables that share grid and steps share
// a frame. With derive, waves are derived when the set has none or Options say
// so, and stand in the wind's frame.
func (b *builder) layers(set *[groups][]series, own bool) (*layered, error) {
	out := &layered{}
	if b.opt.Waves == WavesFromWind {
		set[gHeight], set[gPeriod], set[gDirection] = nil, nil, nil
	}
	out.derived = own && len(set[gWind]) > 0 && len(set[gHeight]) == 0 && b.opt.Waves != WavesFromFile
	if out.derived {
		set[gPeriod], set[gDirection] = nil, nil
	}
	var plans []*plan
	byKey := map[string]*plan{}
	for g := range groups {
		out.layers[g] = make([]layer, len(set[g]))
		for i, s := range set[g] {
			timesS := make([]float64, len(s.steps))
			var key strings.Builder
			fmt.Fprint(&key, s.shape)
			for k, c := range s.steps {
				timesS[k] = c.valid.Sub(b.ref).Seconds()
				fmt.Fprint(&key, " ", timesS[k])
			}
			p := byKey[key.String()]
			if p == nil {
				p = &plan{shape: s.shape, timesS: timesS}
				byKey[key.String()] = p
				plans = append(plans, p)
			}
			p.parts = append(p.parts, planPart{g: g, index: i, steps: s.steps})
			p.derive = p.derive || g == gWind && out.derived
		}
		set[g] = nil
	}
	if out.derived {
		n := len(out.layers[gWind])
		for _, g := range []group{gHeight, gPeriod, gDirection} {
			out.layers[g] = make([]layer, n)
		}
	}
	for _, p := range plans {
		if err := b.frame(p, out); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// frame makes one frame and enters it into the layers.
func (b *builder) frame(p *plan, out *layered) error {
	if err := b.ctx.Err(); err != nil {
		return err
	}
	stride, windIndex := 0, -1
	for k := range p.parts {
		p.parts[k].off = stride
		stride += p.parts[k].g.width()
		if p.parts[k].g == gWind {
			windIndex = p.parts[k].index
		}
	}
	seaOff := stride
	if p.derive {
		stride += 4
	}
	f := newFrame(p.shape, p.timesS, stride, b.opt.maxGap().Seconds())
	n := f.nodes()
	for k := range p.parts {
		part := &p.parts[k]
		out.layers[part.g][part.index] = layer{f, part.off}
		for t := range part.steps {
			f.put(t*n, part.off, part.steps[t].planes)
			part.steps[t].planes = nil // let the planes go
		}
	}
	if p.derive {
		windOff := 0
		for _, part := range p.parts {
			if part.g == gWind {
				windOff = part.off
			}
		}
		if err := b.derive(f, windOff, seaOff); err != nil {
			return err
		}
		out.layers[gHeight][windIndex] = layer{f, seaOff}
		out.layers[gPeriod][windIndex] = layer{f, seaOff + 1}
		out.layers[gDirection][windIndex] = layer{f, seaOff + 2}
		f.fillCoast(seaOff, 1)
		f.fillCoast(seaOff+1, 1)
		f.fillCoast(seaOff+2, 2)
	}
	for _, part := range p.parts {
		out.filled[part.g] += f.fillCoast(part.off, part.g.width())
	}
	return nil
}

// field joins a member's own layers with the shared ones for what it lacks.
func (b *builder) field(own, shared *layered, member int) (*Field, error) {
	f := &Field{ref: b.ref, member: member, layers: own.layers, filled: own.filled, derived: own.derived, cropped: b.opt.Area != nil, smooth: b.opt.Smooth, waveNote: b.opt.WaveRelation.Describe()}
	if shared == nil {
		return f, nil
	}
	seaShared := len(shared.layers[gHeight]) > 0 && !shared.derived
	for g := range groups {
		sea := g == gHeight || g == gPeriod || g == gDirection
		if sea && seaShared && own.derived {
			// The files hold waves of another run for all members.
			f.layers[g] = shared.layers[g]
			f.filled[g] = shared.filled[g]
			f.derived = false
		} else if len(f.layers[g]) == 0 && g != gWind && !sea {
			f.layers[g] = shared.layers[g]
			f.filled[g] = shared.filled[g]
		} else if sea && len(own.layers[gHeight]) == 0 {
			f.layers[g] = shared.layers[g]
			f.filled[g] = shared.filled[g]
		}
	}
	return f, nil
}
