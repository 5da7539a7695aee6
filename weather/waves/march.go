package waves

import (
	"context"
	"fmt"
	"math"
	"runtime"

	"golang.org/x/sync/errgroup"

	"foilledger/vpp/units"
	"foilledger/weather/grid"
)

// Options say how the sea is derived from the wind. The zero value takes every
// default.
type Options struct {
	// Relation is the growth law; nil means [CEM].
	Relation *Relation
	// FetchM limits the fetch everywhere; 0 means 500 km, the order of the size
	// of the wind field of a low (common practice). Where the grid has missing
	// nodes upwind (land), the distance to them limits the fetch further.
	FetchM float64
	// OwnLimit leaves the fully developed sea to the relation itself. The
	// default takes the lower one of Pierson and Moskowitz, because the limits
	// of the relations lie far above what is seen at sea: 10 m/s gives 3.1 m by
	// CEM, 2.2 m by Pierson and Moskowitz, and 2 to 2.5 m in the WMO's table of
	// the Beaufort scale.
	OwnLimit bool
	// DecayS is the time in which the part of the sea that the wind no longer
	// sustains falls to 1/e; 0 means 12 h. Assumption of this project, of the
	// order of the time in which the waves' energy leaves a wind field of 500 km
	// at 5 to 10 m/s.
	DecayS float64
	// TurnS is the time in which the direction of the sea closes on that of the
	// wind to 1/e; 0 means 4 h. Assumption of this project: common practice
	// tells of cross seas for some hours after a front.
	TurnS float64
	// SpinUpS is how long the wind of the first step is taken to have blown
	// before it; 0 means 12 h. Assumption of this project: nothing is known of
	// the time before the forecast.
	SpinUpS float64
	// MaxStepS is the longest internal time step; 0 means 1 h.
	MaxStepS float64
}

func (o Options) withDefaults() (Options, error) {
	def := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	if o.Relation == nil {
		o.Relation = &CEM
	}
	def(&o.FetchM, 500e3)
	def(&o.DecayS, 12*3600)
	def(&o.TurnS, 4*3600)
	def(&o.SpinUpS, 12*3600)
	def(&o.MaxStepS, 3600)
	for name, v := range map[string]float64{"FetchM": o.FetchM, "DecayS": o.DecayS, "TurnS": o.TurnS, "SpinUpS": o.SpinUpS, "MaxStepS": o.MaxStepS} {
		if !(v > 0) || math.IsInf(v, 0) {
			return o, fmt.Errorf("waves: option %s = %g: must be finite and > 0", name, v)
		}
	}
	return o, nil
}

// Describe says in one sentence what is assumed.
func (o Options) Describe() string {
	o, err := o.withDefaults()
	if err != nil {
		return err.Error()
	}
	limit := "fully developed by Pierson and Moskowitz"
	if o.OwnLimit {
		limit = "fully developed by the same relation"
	}
	return fmt.Sprintf("growth by %s, %s; fetch up to %.0f km; the first wind taken to have blown for %.0f h; decay %.0f h, turning %.0f h; no swell from elsewhere",
		o.Relation.Name, limit, o.FetchM/1000, o.SpinUpS/3600, o.DecayS/3600, o.TurnS/3600)
}

// State is the sea at one place as it is marched on.
type State struct {
	Sea
	// FromEast and FromNorth are the unit vector towards where the sea comes
	// from; both 0 before any wind has blown.
	FromEast, FromNorth float64
}

// Marcher carries the sea at a place forward under a changing wind: the sea
// that is there is what the present wind would have raised in some equivalent
// time, and grows on from there (equivalent duration, SPM 1984); above what the
// wind can sustain it decays; its direction turns after the wind. The wind
// counts by its part along the waves, so after a sharp shift the old sea falls
// while the direction turns and then the new one builds. Nothing propagates from
// one place to another.
type Marcher struct {
	opt Options
}

// NewMarcher checks the options.
func NewMarcher(opt Options) (*Marcher, error) {
	opt, err := opt.withDefaults()
	if err != nil {
		return nil, err
	}
	return &Marcher{opt}, nil
}

// limit is the sea that the wind can raise in unlimited time.
func (m *Marcher) limit(u10MS, fetchM float64) Sea {
	s := m.opt.Relation.Grow(u10MS, fetchM, math.Inf(1))
	if !m.opt.OwnLimit {
		pm := FullyDeveloped(u10MS)
		s.HsM, s.PeakS = min(s.HsM, pm.HsM), min(s.PeakS, pm.PeakS)
	}
	return s
}

// Start is the sea after the spin-up under a steady wind (u, v).
func (m *Marcher) Start(u, v, fetchM float64) State {
	speed := math.Hypot(u, v)
	if !(speed > 0) {
		return State{}
	}
	lim := m.limit(speed, fetchM)
	s := m.opt.Relation.Grow(speed, fetchM, m.opt.SpinUpS)
	return State{Sea{min(s.HsM, lim.HsM), min(s.PeakS, lim.PeakS)}, -u / speed, -v / speed}
}

// Below these the direction of the sea is that of the wind at once, and the
// wind has no direction that counts.
const (
	flatM  = 0.05
	calmMS = 0.1
)

// Step carries s forward by dtS under the wind (u, v).
func (m *Marcher) Step(s State, u, v, fetchM, dtS float64) State {
	speed := math.Hypot(u, v)
	along := 1.0
	if speed > calmMS {
		e, n := -u/speed, -v/speed
		if s.HsM < flatM || s.FromEast == 0 && s.FromNorth == 0 {
			s.FromEast, s.FromNorth = e, n
		} else {
			// The turn goes by angle, so that a reversal has a defined way round
			// (clockwise) and the lag does not depend on its size.
			turn := math.Atan2(e*s.FromNorth-n*s.FromEast, e*s.FromEast+n*s.FromNorth)
			// The wind counts as it is halfway through the step's turning.
			along = max(0, math.Cos(turn*math.Exp(-dtS/2/m.opt.TurnS)))
			sin, cos := math.Sincos(turn * (1 - math.Exp(-dtS/m.opt.TurnS)))
			s.FromEast, s.FromNorth = s.FromEast*cos+s.FromNorth*sin, s.FromNorth*cos-s.FromEast*sin
			k := 1 / math.Hypot(s.FromEast, s.FromNorth)
			s.FromEast *= k
			s.FromNorth *= k
		}
	}
	eff := speed * along
	lim := m.limit(eff, fetchM)
	r := m.opt.Relation
	vel := r.Velocity(eff)
	keep := math.Exp(-dtS / m.opt.DecayS)
	if s.HsM < lim.HsM {
		x := r.fetchAfter(r.durationFor(r.fetchForHeight(vel, s.HsM)) + g*dtS/vel)
		s.HsM = min(vel*vel/g*r.Height*math.Sqrt(x), lim.HsM)
	} else {
		s.HsM = lim.HsM + (s.HsM-lim.HsM)*keep
	}
	if s.PeakS < lim.PeakS {
		x := r.fetchAfter(r.durationFor(r.fetchForPeriod(vel, s.PeakS)) + g*dtS/vel)
		s.PeakS = min(vel/g*r.Period*math.Cbrt(x), lim.PeakS)
	} else {
		s.PeakS = lim.PeakS + (s.PeakS-lim.PeakS)*keep
	}
	return s
}

// Grid is the wind on which the sea is derived.
type Grid struct {
	Shape  grid.Shape
	TimesS []float64 // rising
	// MaxGapS is the longest time between two steps over which the wind is
	// known well enough to march; after a longer one the sea starts anew as at
	// the first step. 0 means 24 h.
	MaxGapS float64
	// Wind returns the wind at a step and node (row-major from the southwest);
	// NaN where it is missing.
	Wind func(step, node int) (u, v float64)
}

// March derives the sea at every node and step and hands it to put, with NaN
// heights where the wind is missing. put is called from several goroutines, for
// each node from one and in order of time. The result does not depend on the
// number of processors.
func March(ctx context.Context, gr Grid, opt Options, put func(step, node int, s State)) error {
	m, err := NewMarcher(opt)
	if err != nil {
		return err
	}
	if gr.MaxGapS == 0 {
		gr.MaxGapS = 24 * 3600
	}
	fetches := landFetch(gr, m.opt.FetchM)
	eg, ctx := errgroup.WithContext(ctx)
	eg.SetLimit(runtime.GOMAXPROCS(0))
	for j := range gr.Shape.NLat {
		eg.Go(func() error {
			for i := range gr.Shape.NLon {
				if ctx.Err() != nil {
					return ctx.Err()
				}
				m.node(gr, j*gr.Shape.NLon+i, fetches, put)
			}
			return nil
		})
	}
	return eg.Wait()
}

// node marches one node through all steps.
func (m *Marcher) node(gr Grid, node int, fetches *fetchTable, put func(step, node int, s State)) {
	var s State
	started := false
	for k := range gr.TimesS {
		u, v := gr.Wind(k, node)
		if u != u || v != v {
			started = false
			put(k, node, State{Sea{math.NaN(), math.NaN()}, math.NaN(), math.NaN()})
			continue
		}
		if !started || gr.TimesS[k]-gr.TimesS[k-1] > gr.MaxGapS {
			s = m.Start(u, v, fetches.at(node, u, v))
			started = true
		} else {
			pu, pv := gr.Wind(k-1, node)
			dt := gr.TimesS[k] - gr.TimesS[k-1]
			n := max(1, int(math.Ceil(dt/m.opt.MaxStepS-1e-9)))
			for q := range n {
				bu, bv := between(pu, pv, u, v, (float64(q)+0.5)/float64(n))
				s = m.Step(s, bu, bv, fetches.at(node, bu, bv), dt/float64(n))
			}
		}
		put(k, node, s)
	}
}

// between blends two winds with direction from the vectors and speed from the
// speeds, unless they are opposed.
func between(u0, v0, u1, v1, w float64) (u, v float64) {
	u, v = u0+(u1-u0)*w, v0+(v1-v0)*w
	length := math.Hypot(u, v)
	speed := math.Hypot(u0, v0)*(1-w) + math.Hypot(u1, v1)*w
	if length < 0.25*speed {
		return u, v
	}
	return u * speed / length, v * speed / length
}

// directions is the number of bearings for which the upwind distance to land is
// tabulated.
const directions = 16

// fetchTable holds for every node the distance to the nearest missing node
// upwind in each direction, nil when nothing is missing.
type fetchTable struct {
	maxM float64
	m    []float32
}

func (t *fetchTable) at(node int, u, v float64) float64 {
	if t.m == nil {
		return t.maxM
	}
	a := units.Wrap2Pi(math.Atan2(-u, -v)) / (2 * math.Pi) * directions
	k := int(a)
	w := a - float64(k)
	lo := float64(t.m[node*directions+k%directions])
	hi := float64(t.m[node*directions+(k+1)%directions])
	return lo + (hi-lo)*w
}

const mPerDeg = 60 * units.MPerNM

// landFetch walks upwind from every node in steps of half a cell until it meets
// a node that is missing at the first step; beyond the grid the sea is taken as
// open. The distance counts from the shore side of the missing cell and is never
// below half a cell.
func landFetch(gr Grid, maxM float64) *fetchTable {
	sh := gr.Shape
	n := sh.NLat * sh.NLon
	missing := make([]bool, n)
	some := false
	for i := range n {
		u, v := gr.Wind(0, i)
		missing[i] = u != u || v != v
		some = some || missing[i]
	}
	t := &fetchTable{maxM: maxM}
	if !some || sh.NLat < 2 || sh.NLon < 2 {
		return t
	}
	global := sh.Global()
	t.m = make([]float32, n*directions)
	for j := range sh.NLat {
		cosLat := max(0.05, math.Cos(units.Rad(sh.South+float64(j)*sh.DLat)))
		// A thousandth of the fetch is close enough on very fine grids.
		cellM := max(min(sh.DLat, sh.DLon*cosLat)*mPerDeg, maxM/1000)
		for i := range sh.NLon {
			for k := range directions {
				sin, cos := math.Sincos(2 * math.Pi * float64(k) / directions)
				dist := maxM
				for d := cellM / 2; d < maxM; d += cellM / 2 {
					jj := j + int(math.Round(d*cos/mPerDeg/sh.DLat))
					ii := i + int(math.Round(d*sin/mPerDeg/cosLat/sh.DLon))
					if global {
						ii = (ii%sh.NLon + sh.NLon) % sh.NLon
					}
					if jj < 0 || jj >= sh.NLat || ii < 0 || ii >= sh.NLon {
						break
					}
					if missing[jj*sh.NLon+ii] {
						dist = max(d-cellM/2, cellM/2)
						break
					}
				}
				t.m[(j*sh.NLon+i)*directions+k] = float32(dist)
			}
		}
	}
	return t
}
