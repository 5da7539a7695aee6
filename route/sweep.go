package route

import (
	"context"
	"fmt"
	"math"
	"sync/atomic"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
	"golang.org/x/sync/errgroup"
)

// sweep is the label-setting pass over the columns of a mesh: because every
// edge goes to the next column, one pass in order sets every label for good.
type sweep struct {
	o       Options
	m       *mesh
	mover   Mover
	states  int
	maxMS   float64
	workers []*worker
	arrive  [][]float64 // per column, point × state
	pred    [][]int32   // point × state of the column before, or −1
	early   []float64   // earliest arrival at each point of the column left

	reached     int // furthest column with a label
	tooLate     bool
	everBlocked int // edges refused in the last run
	blocked     int // edges refused in the stage after reached
	unsailed    int // edges there that the mover could not sail
}

type worker struct {
	sailor         Sailor
	edge           Edge
	times          []float64
	from           []int32
	sailed         int
	blocked        int
	unsailed, late int
}

func newSweep(o Options, m *mesh, mover Mover) *sweep {
	s := &sweep{o: o, m: m, mover: mover, states: mover.States(), maxMS: mover.MaxSpeedMS()}
	if !(s.maxMS > 0) {
		s.maxMS = math.Inf(1)
	}
	for range o.Workers {
		s.workers = append(s.workers, &worker{
			sailor: mover.Sailor(),
			times:  make([]float64, s.states),
			from:   make([]int32, s.states),
		})
	}
	s.arrive = make([][]float64, len(m.columns))
	s.pred = make([][]int32, len(m.columns))
	return s
}

// run sweeps once and returns the best course that arrives by latestS, or nil.
func (s *sweep) run(ctx context.Context, round int, departures []Departure, latestS float64) ([]Step, Round, error) {
	stats := Round{ArrivalS: math.Inf(1)}
	for i := range s.m.columns {
		c := &s.m.columns[i]
		stats.HalfWidthM = math.Max(stats.HalfWidthM, c.halfM)
		n := len(c.points) * s.states
		if cap(s.arrive[i]) < n {
			s.arrive[i], s.pred[i] = make([]float64, n), make([]int32, n)
		}
		s.arrive[i], s.pred[i] = s.arrive[i][:n], s.pred[i][:n]
		for k := range n {
			s.arrive[i][k], s.pred[i][k] = math.Inf(1), -1
		}
	}
	for p := range s.m.columns[0].points {
		for _, d := range departures {
			t := &s.arrive[0][p*s.states+d.State]
			*t = math.Min(*t, d.TimeS)
		}
	}
	for _, w := range s.workers {
		w.sailed, w.blocked = 0, 0
	}
	s.reached, s.tooLate = 0, false
	// A course found before is one way to arrive at latestS: let rounding not
	// prune it.
	limit := latestS + 1e-9*math.Abs(latestS)
	last := len(s.m.columns) - 1
	for k := range last {
		if err := s.stage(ctx, k, limit); err != nil {
			return nil, stats, err
		}
		if s.o.Progress != nil {
			s.o.Progress(round, k+1, last)
		}
		if s.reached <= k { // nobody got there
			break
		}
	}
	for _, w := range s.workers {
		stats.Edges += w.sailed
		stats.Blocked += w.blocked
	}
	s.everBlocked = stats.Blocked
	best := -1
	for i, t := range s.arrive[last] {
		if t < stats.ArrivalS && t <= limit {
			stats.ArrivalS, best = t, i
		}
	}
	if best < 0 {
		return nil, stats, nil
	}
	return s.course(best), stats, nil
}

// stage sets the labels of column k+1. Workers take the points there in any
// order; each point's labels depend on column k only, so the result does not
// depend on who takes what.
func (s *sweep) stage(ctx context.Context, k int, limit float64) error {
	heads := len(s.m.columns[k+1].points)
	s.early = s.early[:0]
	for i := range s.m.columns[k].points {
		earliest := math.Inf(1)
		for _, t := range s.arrive[k][i*s.states : (i+1)*s.states] {
			earliest = math.Min(earliest, t)
		}
		s.early = append(s.early, earliest)
	}
	s.blocked, s.unsailed = 0, 0
	for _, w := range s.workers {
		w.unsailed, w.late = 0, 0
	}
	before := 0
	for _, w := range s.workers {
		before += w.blocked
	}
	var next atomic.Int64
	if len(s.workers) == 1 || heads == 1 {
		for j := range heads {
			if err := s.head(ctx, s.workers[0], k, j, limit); err != nil {
				return err
			}
		}
	} else {
		g, gctx := errgroup.WithContext(ctx)
		for _, w := range s.workers {
			g.Go(func() error {
				for {
					j := int(next.Add(1)) - 1
					if j >= heads {
						return nil
					}
					if err := s.head(gctx, w, k, j, limit); err != nil {
						return err
					}
				}
			})
		}
		if err := g.Wait(); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return err
		}
	}
	for _, w := range s.workers {
		s.blocked += w.blocked
		s.unsailed += w.unsailed
		s.tooLate = s.tooLate || w.late > 0
	}
	s.blocked -= before
	for _, t := range s.arrive[k+1] {
		if !math.IsInf(t, 1) {
			s.reached = k + 1
			break
		}
	}
	return nil
}

// head sets the labels of point j of column k+1.
func (s *sweep) head(ctx context.Context, w *worker, k, j int, limit float64) error {
	a, b := &s.m.columns[k], &s.m.columns[k+1]
	S := s.states
	arrive, pred := s.arrive[k+1][j*S:(j+1)*S], s.pred[k+1][j*S:(j+1)*S]
	rest := b.restM[j] / s.maxMS
	reach := math.Inf(1)
	// The angle limit is for stages out at sea; at a mark everything goes.
	if !a.mark && !b.mark {
		reach = s.m.tanMax * (b.alongM - a.alongM)
	}
	lo, hi := 0, len(a.points)
	if s.o.Fan > 0 && len(a.points) > 1 && len(b.points) > 1 {
		mid := j + b.first - a.first // as far from the centre
		lo, hi = max(0, mid-s.o.Fan), min(hi, mid+s.o.Fan+1)
	}
	e := &w.edge
	e.Stage, e.Leg, e.Head = k, b.leg, j
	for i := lo; i < hi; i++ {
		if math.Abs(b.offsets[j]-a.offsets[i]) > reach {
			continue
		}
		earliest := s.early[i]
		if math.IsInf(earliest, 1) {
			continue
		}
		depart := s.arrive[k][i*S : (i+1)*S]
		if err := ctx.Err(); err != nil {
			return err
		}
		e.set(s.o.Surface, a.points[i], b.points[j])
		e.Tail = i
		if earliest+e.LengthM/s.maxMS+rest > limit {
			w.late++
			continue
		}
		if s.o.Waters != nil {
			if s.o.Waters.blocked(e.From, e.To, e.LengthM, e.FromRad) {
				w.blocked++
				continue
			}
			e.MaxWindMS, e.MaxGustMS, e.MaxWaveM = s.o.Waters.limits(e.From, e.To, e.LengthM, e.FromRad)
		}
		w.sailed++
		for q := range S {
			w.times[q], w.from[q] = math.Inf(1), -1
		}
		if err := w.sailor.Sail(e, depart, w.times, w.from); err != nil {
			return err
		}
		sailed := false
		for q, t := range w.times {
			if !(t < arrive[q]) {
				sailed = sailed || !math.IsInf(t, 1)
				continue
			}
			f := w.from[q]
			if f < 0 || int(f) >= S || !(t >= depart[f]) {
				return fmt.Errorf("search: stage %d: the mover arrives at %v s in state %d from state %d that left at %v s", k, t, q, f, departOr(depart, f))
			}
			sailed = true
			if t+rest > limit {
				w.late++
				continue
			}
			arrive[q], pred[q] = t, int32(i*S)+f
		}
		if !sailed {
			w.unsailed++
		}
	}
	return nil
}

func departOr(depart []float64, f int32) float64 {
	if f < 0 || int(f) >= len(depart) {
		return math.NaN()
	}
	return depart[f]
}

// course follows the labels back from label best of the last column.
func (s *sweep) course(best int) []Step {
	steps := make([]Step, len(s.m.columns))
	at := int32(best)
	for k := len(steps) - 1; k >= 0; k-- {
		c := &s.m.columns[k]
		i, q := int(at)/s.states, int(at)%s.states
		steps[k] = Step{Point: c.points[i], TimeS: s.arrive[k][at], State: q, Leg: c.leg, OffsetM: c.offsets[i]}
		at = s.pred[k][at]
	}
	return steps
}

// arrivals are the earliest labels of the last run.
func (s *sweep) arrivals() []Arrivals {
	out := make([]Arrivals, len(s.m.columns))
	for k := range s.m.columns {
		c := &s.m.columns[k]
		out[k].Points = append([]orb.Point(nil), c.points...)
		out[k].TimeS = make([]float64, len(c.points))
		for i := range c.points {
			out[k].TimeS[i] = math.Inf(1)
			for _, t := range s.arrive[k][i*s.states : (i+1)*s.states] {
				out[k].TimeS[i] = math.Min(out[k].TimeS[i], t)
			}
		}
	}
	return out
}

// whyNot explains a sweep that did not reach the finish.
func (s *sweep) whyNot(o Options) (Status, string) {
	c := s.m.columns[s.reached]
	where := orb.Point{math.NaN(), math.NaN()}
	least := math.Inf(1)
	for i, p := range c.points {
		for q := range s.states {
			if s.arrive[s.reached][i*s.states+q] < math.Inf(1) && c.restM[i] < least {
				least, where = c.restM[i], p
			}
		}
	}
	place := FormatLatLon(where)
	if _, flat := o.Surface.(Plane); flat {
		place = fmt.Sprint(where)
	}
	switch {
	case s.tooLate && !math.IsInf(o.LatestS, 1):
		return TooLate, fmt.Sprintf("no course arrives by the latest time allowed; the search ended near %s, %.0f nm before the finish", place, least/units.MPerNM)
	case s.blocked > 0 && s.unsailed == 0:
		return NoCourse, fmt.Sprintf("land or areas bar every way on from near %s, %.0f nm before the finish", place, least/units.MPerNM)
	case s.blocked > 0:
		return NoCourse, fmt.Sprintf("land, areas and limits of wind and sea bar every way on from near %s, %.0f nm before the finish", place, least/units.MPerNM)
	}
	return NoCourse, fmt.Sprintf("no way on can be sailed from near %s, %.0f nm before the finish: limits of wind and sea, or no weather there", place, least/units.MPerNM)
}
