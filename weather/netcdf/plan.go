package netcdf

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"foilledger/weather/grid"
)

// maxCandidates bounds the variables that are looked into, each of which costs
// the reading of its coordinates.
const maxCandidates = 256

// File is an open NetCDF file whose header has been understood.
type File struct {
	c       *contents
	plans   []*plan
	skipped []Skipped
}

// plan says how the fields of one variable are read.
type plan struct {
	v         *variable
	m         *meaning
	header    Header // without times and member
	axes      []axis // of the variable, in file order
	lat, lon  int    // their places in axes
	version   int    // place of the version axis, −1 when there is none
	fixed     int64  // byte offset of the entries chosen on other axes
	layout    layout
	time      clock
	members   []int // of the member axis; nil when there is none
	member    int   // when there is none
	memberAt  int   // place of the member axis, −1 when there is none
	shortTime bool  // the file ends before the last time
}

// Open parses a header and works out which variables can be used. It reads the
// header and the coordinates only.
func Open(r io.ReaderAt, size int64) (*File, error) {
	c, err := parse(r, size)
	if err != nil {
		return nil, err
	}
	f := &File{c: c}
	best := map[[2]int]*plan{}
	tried := 0
	for _, v := range c.vars {
		if v.typ == typeChar {
			continue
		}
		m, err := interpret(v)
		if m == nil {
			continue
		}
		if tried++; tried > maxCandidates {
			break
		}
		var p *plan
		if err == nil {
			p, err = c.plan(v, m)
		}
		if err != nil {
			var ce *CorruptError
			var ue *UnsupportedError
			if !errors.As(err, &ce) && !errors.As(err, &ue) {
				return nil, err // reading failed
			}
			f.skipped = append(f.skipped, Skipped{v.name, err})
			continue
		}
		key := [2]int{int(m.quantity), m.partition}
		if other := best[key]; other != nil {
			keep, drop := other, p
			if p.m.rank < other.m.rank {
				keep, drop = p, other
				f.plans = slices.DeleteFunc(f.plans, func(q *plan) bool { return q == other })
			}
			f.skipped = append(f.skipped, Skipped{drop.v.name, &UnsupportedError{
				What: fmt.Sprintf("%s holds %v as %s does, which is taken instead", drop.v.name, m.quantity, keep.v.name),
			}})
			best[key] = keep
			if keep != p {
				continue
			}
		}
		best[key] = p
		f.plans = append(f.plans, p)
	}
	f.commonReference()
	return f, nil
}

// Skipped lists the variables that look like weather and cannot be used.
func (f *File) Skipped() []Skipped { return f.skipped }

// commonReference gives variables without a reference time the earliest valid
// time of the file, since nothing in it says more.
func (f *File) commonReference() {
	var first time.Time
	for _, p := range f.plans {
		if p.time.reference == nil && len(p.time.valid) > 0 {
			for _, t := range p.time.valid {
				if first.IsZero() || t.Before(first) {
					first = t
				}
			}
		}
	}
	for _, p := range f.plans {
		if p.time.reference == nil {
			p.time.reference, p.time.referenceAt = []time.Time{first}, -1
		}
	}
}

// none explains why a file has nothing to offer.
func (f *File) none() error {
	if len(f.skipped) > 0 {
		s := f.skipped[0]
		var ue *UnsupportedError
		if errors.As(s.Why, &ue) {
			return &UnsupportedError{What: fmt.Sprintf("no variable of this NetCDF file can be used; %s: %s", s.Variable, ue.What), Hint: ue.Hint}
		}
		return s.Why
	}
	var names []string
	for _, v := range f.c.vars {
		if len(names) == 12 {
			names = append(names, "…")
			break
		}
		names = append(names, v.name)
	}
	return &UnsupportedError{What: "no variable of this NetCDF file is wind, waves, current or pressure that is known by its standard_name or name; it has: " + strings.Join(names, ", ")}
}

// plan works out how to read v, or why not.
func (c *contents) plan(v *variable, m *meaning) (*plan, error) {
	p := &plan{
		v: v, m: m, axes: c.axes(v), lat: -1, lon: -1, version: -1, memberAt: -1, member: -1,
		time: clock{validAt: -1, referenceAt: -1, leadAt: -1},
	}
	p.header = Header{
		Format: c.format, Variable: v.name, StandardName: v.attrs.text("standard_name"), Units: v.attrs.text("units"),
		Quantity: m.quantity, Partition: m.partition, Packing: unsigned(v).String(), Warnings: m.warnings,
	}
	if _, ok := v.attrs.number("scale_factor"); ok {
		p.header.Packing += ", scaled"
	}
	for k := range p.axes {
		if err := p.take(c, k); err != nil {
			return nil, err
		}
	}
	if p.lat < 0 || p.lon < 0 {
		return nil, p.noGrid(c)
	}
	if v.record && (p.lat == 0 || p.lon == 0) {
		return nil, &UnsupportedError{What: fmt.Sprintf("variable %s has latitude or longitude as its record dimension", v.name)}
	}
	if err := p.times(c); err != nil {
		return nil, err
	}
	if err := p.grid(c); err != nil {
		return nil, err
	}
	if p.memberAt < 0 {
		if s := c.scalar(v, kindMember); s != nil {
			if x, whole, err := c.values(s); err != nil {
				return nil, err
			} else if whole && len(x) == 1 && x[0] > 0 && x[0] < 1e6 {
				p.member = int(x[0]) // 0 there is how a deterministic run is written
			}
		}
	}
	return p, p.checkHeight(c)
}

// take settles what axis k is for.
func (p *plan) take(c *contents, k int) error {
	a := p.axes[k]
	place := func(at *int) error {
		if *at >= 0 {
			return &UnsupportedError{What: fmt.Sprintf("variable %s has two dimensions of one kind: %s and %s", p.v.name, p.axes[*at].name, a.name)}
		}
		*at = k
		return nil
	}
	switch a.kind {
	case kindLat:
		return place(&p.lat)
	case kindLon:
		return place(&p.lon)
	case kindTime:
		return place(&p.time.validAt)
	case kindReference:
		return place(&p.time.referenceAt)
	case kindLead:
		return place(&p.time.leadAt)
	case kindVersion:
		return place(&p.version)
	case kindMember:
		if err := place(&p.memberAt); err != nil {
			return err
		}
		return p.takeMembers(c, a)
	case kindDepth, kindHeight, kindPressure:
		return p.takeLevel(c, a)
	case kindRefused:
		return &UnsupportedError{What: fmt.Sprintf("variable %s is on a rotated or projected grid (dimension %s)", p.v.name, a.name), Hint: "regrid the file to equal steps of latitude and longitude"}
	}
	if a.n == 1 {
		return nil
	}
	return &UnsupportedError{What: fmt.Sprintf("variable %s has a dimension %s of length %d that is not understood", p.v.name, a.name, a.n)}
}

func (p *plan) takeMembers(c *contents, a axis) error {
	if a.coord != nil {
		x, _, err := c.values(a.coord)
		if err != nil {
			return err
		}
		for _, v := range x {
			if !(v >= 0 && v < 1e6) || v != math.Trunc(v) {
				return &UnsupportedError{What: fmt.Sprintf("coordinate %s holds %g, which is not the number of a member", a.coord.name, v)}
			}
			p.members = append(p.members, int(v))
		}
		if len(x) == 1 && x[0] == 0 {
			p.members[0] = -1
		}
	}
	return nil
}

// memberNumber returns the member at place i of the member axis; without a
// coordinate the place itself is the number.
func (p *plan) memberNumber(i int64) int {
	switch {
	case p.memberAt < 0:
		return p.member
	case p.members == nil:
		if p.axes[p.memberAt].n == 1 {
			return -1
		}
		return int(i)
	}
	return p.members[i]
}

// takeLevel chooses the entry of a vertical axis: 10 m for wind, the one
// nearest to the surface in the sea. Other quantities have only one.
func (p *plan) takeLevel(c *contents, a axis) error {
	var x []float64
	if a.coord != nil {
		var err error
		var whole bool
		if x, whole, err = c.values(a.coord); err != nil {
			return err
		} else if !whole {
			return &CorruptError{c.size, "file ends before the values of coordinate " + a.coord.name}
		}
	}
	q := p.m.quantity
	current := q == grid.CurrentU || q == grid.CurrentV
	wind := slices.Contains([]grid.Quantity{grid.WindU, grid.WindV, grid.WindSpeed, grid.WindFrom, grid.Gust}, q)
	chosen := 0
	switch {
	case current && a.kind == kindDepth:
		for i := range x {
			if math.Abs(x[i]) < math.Abs(x[chosen]) {
				chosen = i
			}
		}
		if x != nil {
			p.header.Level = fmt.Sprintf("depth %g m, one of %d", math.Abs(x[chosen]), a.n)
			if math.Abs(x[chosen]) > 20 {
				p.header.Warnings = append(p.header.Warnings, fmt.Sprintf("the shallowest current of %s is at %g m", p.v.name, math.Abs(x[chosen])))
			}
		}
	case wind && a.kind == kindHeight && x != nil:
		chosen = slices.IndexFunc(x, func(h float64) bool { return math.Abs(h-10) <= 1 })
		if chosen < 0 {
			return &UnsupportedError{What: fmt.Sprintf("variable %s is not at 10 m: its heights are %v m", p.v.name, x[:min(len(x), 8)])}
		}
		p.header.Level = fmt.Sprintf("height %g m", x[chosen])
	case a.kind == kindPressure || wind && a.kind == kindDepth || a.n != 1:
		return &UnsupportedError{What: fmt.Sprintf("variable %s is on levels (dimension %s of length %d), not at the surface", p.v.name, a.name, a.n)}
	}
	p.fixed += int64(chosen) * a.stride
	return nil
}

// checkHeight refuses wind whose scalar height coordinate is not 10 m.
func (p *plan) checkHeight(c *contents) error {
	switch p.m.quantity {
	case grid.WindU, grid.WindV, grid.WindSpeed, grid.WindFrom, grid.Gust:
	default:
		return nil
	}
	for _, name := range strings.Fields(p.v.attrs.text("coordinates")) {
		w := c.byName[name]
		if w == nil || len(w.dims) > 0 || classify(w.name, w) != kindHeight {
			continue
		}
		x, whole, err := c.values(w)
		if err != nil {
			return err
		}
		if whole && len(x) == 1 && !(math.Abs(x[0]-10) <= 1) {
			return &UnsupportedError{What: fmt.Sprintf("variable %s is wind at %g m, not at 10 m", p.v.name, x[0])}
		}
	}
	return nil
}

// noGrid says what kind of grid it is that has no latitude and longitude axes.
func (p *plan) noGrid(c *contents) error {
	for _, name := range strings.Fields(p.v.attrs.text("coordinates")) {
		w := c.byName[name]
		if w != nil && len(w.dims) > 1 {
			if k := classify(w.name, w); k == kindLat || k == kindLon {
				return &UnsupportedError{What: fmt.Sprintf("variable %s is on a curvilinear grid (%s has %d dimensions)", p.v.name, w.name, len(w.dims)), Hint: "regrid the file to equal steps of latitude and longitude"}
			}
		}
	}
	var names []string
	for _, a := range p.axes {
		names = append(names, a.name)
	}
	return &UnsupportedError{What: fmt.Sprintf("variable %s has no latitude and longitude axes; its dimensions are %s", p.v.name, strings.Join(names, ", "))}
}

func (p *plan) grid(c *contents) error {
	var x [2][]float64
	for i, a := range []axis{p.axes[p.lat], p.axes[p.lon]} {
		if a.coord == nil {
			return &UnsupportedError{What: fmt.Sprintf("dimension %s of %s has no coordinate values", a.name, p.v.name)}
		}
		var whole bool
		var err error
		if x[i], whole, err = c.values(a.coord); err != nil {
			return err
		} else if !whole {
			return &CorruptError{c.size, "file ends before the values of coordinate " + a.coord.name}
		}
	}
	var err error
	p.layout, err = newLayout(p.axes[p.lat].name, x[0], p.axes[p.lon].name, x[1])
	p.header.Shape = p.layout.shape
	p.header.Warnings = append(p.header.Warnings, p.layout.warnings...)
	return err
}
