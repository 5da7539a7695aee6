package route

import (
	"math"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// column is a row of points across the course, all reached by the same stage.
type column struct {
	base    orb.Point // offset zero
	dirRad  float64   // direction of positive offsets
	lo, hi  float64   // offsets allowed
	alongM  float64   // of the base, along the axis
	leg     int
	mark    bool
	corner  bool    // of a way by sea: the base must be among the points
	centre  float64 // offset in the middle of the present points
	halfM   float64 // half width of the present points
	first   int     // place across of the first point, counted from the centre
	offsets []float64
	points  []orb.Point
	restM   []float64 // shortest way from each point past the marks to the finish
}

// mesh is the chain of columns along the axis.
type mesh struct {
	o       Options
	marks   []Mark
	columns []column
	lateral int
	tanMax  float64
}

// newMesh lays the axis: the shortest lines between the marks, cut in stages.
func newMesh(o Options, marks []Mark) *mesh {
	m := &mesh{o: o, marks: marks, lateral: o.Lateral, tanMax: math.Tan(o.MaxAngleRad)}
	n := len(marks)
	at := make([]orb.Point, n)
	for i, k := range marks {
		at[i] = k.axis(o.Surface)
	}
	lengths := make([]float64, n-1)
	total := 0.0
	for i := range lengths {
		lengths[i], _, _ = o.Surface.Inverse(at[i], at[i+1])
		total += lengths[i]
	}
	m.columns = append(m.columns, m.markColumn(at, 0, 0))
	along := 0.0
	for i, l := range lengths {
		_, az, _ := o.Surface.Inverse(at[i], at[i+1])
		half := o.HalfWidthM
		if half <= 0 {
			half = 0.3 * l
		}
		stages := max(2, int(math.Round(float64(o.Stages)*l/total)))
		for k := 1; k < stages; k++ {
			f := float64(k) / float64(stages)
			p, a := o.Surface.Direct(at[i], az, l*f)
			// An ellipse across, no steeper than edges may go from the ends.
			w := half * 2 * math.Sqrt(f*(1-f))
			w = math.Min(w, m.tanMax*l*math.Min(f, 1-f)+math.Max(m.freedom(i), m.freedom(i+1)))
			m.columns = append(m.columns, column{base: p, dirRad: units.Wrap2Pi(a + math.Pi/2), lo: -w, hi: w, alongM: along + l*f, leg: i})
		}
		along += l
		m.columns = append(m.columns, m.markColumn(at, i+1, along))
	}
	return m
}

// freedom is how far from the axis mark i may be passed.
func (m *mesh) freedom(i int) float64 {
	k := m.marks[i]
	switch k.Passing {
	case Between:
		d, _, _ := m.o.Surface.Inverse(k.Point, k.Other)
		return d / 2
	case ToPort, ToStarboard:
		return k.reach()
	}
	return 0
}

// axis is where the axis passes the mark: at the point, in a gate's middle.
func (k Mark) axis(s Surface) orb.Point {
	if k.Passing != Between {
		return k.Point
	}
	if k.corner != nil {
		return *k.corner
	}
	d, az, _ := s.Inverse(k.Point, k.Other)
	p, _ := s.Direct(k.Point, az, d/2)
	return p
}

func (k Mark) reach() float64 {
	if k.ReachM > 0 {
		return math.Max(k.ReachM, k.ClearM)
	}
	return math.Max(50e3, k.ClearM)
}

// markColumn is the line on which mark i is passed: the point itself, a gate's
// line, or the ray from the mark to the side on which the boat goes by, square
// to the bisector of the legs.
func (m *mesh) markColumn(at []orb.Point, i int, along float64) column {
	k := m.marks[i]
	c := column{base: at[i], alongM: along, leg: max(0, i-1), mark: true}
	in, out := math.NaN(), math.NaN()
	if i > 0 {
		_, _, in = m.o.Surface.Inverse(at[i-1], at[i])
	}
	if i < len(at)-1 {
		_, out, _ = m.o.Surface.Inverse(at[i], at[i+1])
	}
	if math.IsNaN(in) {
		in = out
	} else if math.IsNaN(out) {
		out = in
	}
	turn := math.Remainder(out-in, 2*math.Pi)
	right := units.Wrap2Pi(in + turn/2 + math.Pi/2)
	c.dirRad = right
	switch k.Passing {
	case Between:
		d, az, _ := m.o.Surface.Inverse(at[i], k.Other)
		back, _, _ := m.o.Surface.Inverse(at[i], k.Point)
		c.dirRad, c.lo, c.hi = az, -back, d
		c.corner = k.corner != nil
	case ToPort: // the mark to port: pass to the right of it
		c.lo, c.hi = k.ClearM, k.reach()
	case ToStarboard:
		c.lo, c.hi = -k.reach(), -k.ClearM
	}
	return c
}

// spread puts the points of every column evenly over all that is allowed,
// with scale times as many points as asked for.
func (m *mesh) spread(scale int) {
	m.lateral = scale*(m.o.Lateral-1) + 1
	for i := range m.columns {
		c := &m.columns[i]
		c.centre, c.halfM = (c.lo+c.hi)/2, (c.hi-c.lo)/2
		if c.corner {
			c.centre, c.halfM = 0, math.Max(c.hi, -c.lo)
		}
	}
	m.place()
}

// around narrows every column to shrink times its width about the course. The
// points of the course stay in the mesh.
func (m *mesh) around(course []Step, shrink float64) {
	m.lateral = m.o.Lateral
	for i := range m.columns {
		c := &m.columns[i]
		c.centre = course[i].OffsetM
		c.halfM = (c.hi - c.lo) / 2 * shrink
	}
	m.place()
}

// denser prepares another first round with more points after one that found
// nothing because land or areas were in the way.
func (m *mesh) denser(round int) bool {
	if m.o.Waters == nil || round > 1 {
		return false
	}
	m.spread(2 << round)
	return true
}

// inside says whether the course keeps clear of the border of the mesh, apart
// from borders that the marks set.
func (m *mesh) inside(course []Step) bool {
	for i := range m.columns {
		c := &m.columns[i]
		n := len(c.offsets)
		if n < 3 || course[i].OffsetM == c.lo || course[i].OffsetM == c.hi {
			continue
		}
		if math.Abs(course[i].OffsetM-c.centre) > 0.8*c.halfM {
			return false
		}
	}
	return true
}

func (m *mesh) place() {
	n := m.lateral / 2
	for i := range m.columns {
		c := &m.columns[i]
		c.offsets, c.points, c.first = c.offsets[:0], c.points[:0], 0
		put := func(off float64) {
			p := c.base
			if off != 0 {
				p, _ = m.o.Surface.Direct(c.base, c.dirRad, off)
			}
			c.offsets, c.points = append(c.offsets, off), append(c.points, p)
		}
		if !(c.hi > c.lo) || !(c.halfM > 0) {
			put(c.lo)
			continue
		}
		step := c.halfM / float64(max(n, 1))
		for k := -n; k <= n; k++ {
			off := c.centre + float64(k)*step
			if k == 0 {
				off = c.centre // exactly
			}
			if off >= c.lo-1e-9*c.halfM && off <= c.hi+1e-9*c.halfM {
				if len(c.points) == 0 {
					c.first = k
				}
				put(math.Min(math.Max(off, c.lo), c.hi))
			}
		}
	}
	m.rest()
}

// rest works out the shortest way from every point to the finish: to the next
// marks in turn, each taken as the nearest place where it may be passed.
func (m *mesh) rest() {
	last := len(m.columns) - 1
	after := make([]float64, len(m.marks)) // from mark i to the finish
	for i := len(m.marks) - 2; i >= 0; i-- {
		d, _, _ := m.o.Surface.Inverse(m.marks[i].Point, m.marks[i+1].Point)
		after[i] = math.Max(0, d-m.slack(i)-m.slack(i+1)) + after[i+1]
	}
	for i := range m.columns {
		c := &m.columns[i]
		c.restM = c.restM[:0]
		next := c.leg + 1
		if c.mark {
			next = 1
			for k := i; k > 0; k-- { // marks before this column
				if m.columns[k].mark {
					next++
				}
			}
		}
		for _, p := range c.points {
			if i == last {
				c.restM = append(c.restM, 0)
				continue
			}
			d, _, _ := m.o.Surface.Inverse(p, m.marks[next].Point)
			c.restM = append(c.restM, math.Max(0, d-m.slack(next))+after[next])
		}
	}
}

// slack is how far from its Point mark i may be passed.
func (m *mesh) slack(i int) float64 {
	k := m.marks[i]
	switch k.Passing {
	case Between:
		d, _, _ := m.o.Surface.Inverse(k.Point, k.Other)
		return d
	case ToPort, ToStarboard:
		return k.reach()
	}
	return 0
}

// lowerBound is the earliest departure plus the shortest way at top speed.
func (m *mesh) lowerBound(mover Mover, departures []Departure) float64 {
	v := mover.MaxSpeedMS()
	if !(v > 0) || math.IsInf(v, 1) {
		return math.Inf(-1)
	}
	first := math.Inf(1)
	for _, d := range departures {
		first = math.Min(first, d.TimeS)
	}
	total := 0.0
	for i := range m.marks[1:] {
		d, _, _ := m.o.Surface.Inverse(m.marks[i].Point, m.marks[i+1].Point)
		total += math.Max(0, d-m.slack(i)-m.slack(i+1))
	}
	return first + total/v
}
