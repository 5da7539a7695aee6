package strategy

import (
	"math"
	"sync/atomic"

	"foilledger/vpp/units"
)

// The steps of the table of paces in wind speed, angle and wave height. Between
// its nodes the pace is linear, which stays within 1 % of the boat's outside
// the first metres per second of wind (TestFreePacesAgree).
const (
	freeTWSStepMS = 0.5
	freeTWAStep   = 2.5 * math.Pi / 180
	freeTWAs      = 73 // 0 … 180°
	freeHsStepM   = 0.5
)

// freePaces tabulates the pace through the water of the leeward settings of a
// free course over wind speed, angle of the course off the wind, and wave height
// with the sea running with the wind. Nodes are worked out as they are asked for;
// several goroutines may share it.
type freePaces struct {
	sl      *Sailor
	leeward []uint8
	prices  *freePrices
	twss    int
	topMS   float64
	hss     int
	nodes   []atomic.Pointer[freePaceNode]
}

// freePaceNode holds paces by setting; bit i of the masks is setting i.
type freePaceNode struct {
	along   []float32 // m/s, tacks and gybes of a zigzag included
	instant []float32 // the same with instant tacks and gybes
	zigzag  uint32
	held    uint32
}

// mostLeeward is the largest number of settings: they share bit masks.
const mostLeeward = 32

func newFreePaces(sl *Sailor, leeward []uint8, prices *freePrices) *freePaces {
	g := sl.perf.Grid()
	p := &freePaces{sl: sl, leeward: leeward, prices: prices}
	p.topMS = g.TWSMS[len(g.TWSMS)-1]
	p.twss = int(math.Ceil(p.topMS/freeTWSStepMS)) + 1
	p.hss = int(math.Ceil(g.HsM[len(g.HsM)-1]/freeHsStepM)) + 1
	p.nodes = make([]atomic.Pointer[freePaceNode], p.twss*freeTWAs*p.hss)
	return p
}

func (p *freePaces) node(i, j, k int) *freePaceNode {
	at := &p.nodes[(i*freeTWAs+j)*p.hss+k]
	if n := at.Load(); n != nil {
		return n
	}
	n := p.fill(i, j, k)
	at.Store(n) // whoever else made it made the same
	return n
}

func (p *freePaces) fill(i, j, k int) *freePaceNode {
	n := &freePaceNode{along: make([]float32, len(p.leeward)), instant: make([]float32, len(p.leeward))}
	// Wind from due north, the course to the left of it: wind from starboard.
	sea := seaState{twsMS: math.Min(float64(i)*freeTWSStepMS, p.topMS), hsM: float64(k) * freeHsStepM}
	twa := float64(j) * freeTWAStep
	for l, set := range p.leeward {
		q := p.sl.freeThroughWater(-twa, sea, State{Port: set, Starboard: set})
		n.along[l], n.instant[l] = float32(q.AlongMS), float32(q.AlongMS)
		if q.Held {
			n.held |= 1 << l
			n.along[l], n.instant[l] = 0, 0
		}
		if q.Zigzag {
			n.zigzag |= 1 << l
			if q.ChangesPerS > 0 {
				at := p.prices.pr.locate(sea.twsMS, q.TWARad, sea.hsM)
				kind := freeGybe
				if q.Upwind() {
					kind = freeTack
				}
				n.along[l] = float32(q.AlongMS / (1 + q.ChangesPerS*p.prices.lost(&at, kind, l, l)))
			}
		}
	}
	return n
}

// freeThroughWater is the pace with the leeward foil set as st says for that
// side and the windward foil in; in a zigzag both are out.
func (sl *Sailor) freeThroughWater(courseRad float64, sea seaState, st State) Pace {
	rel := wrapPi(sea.windFromRad - courseRad)
	one := State{Port: st.Port}
	if rel < 0 {
		one = State{Starboard: st.Starboard}
	}
	w := sl.waters(sea)
	p := w.through(courseRad, one)
	if p.Zigzag && one != st {
		if z, ok := w.zigzag(rel, st, math.Abs(rel) < math.Pi/2); ok {
			return z
		}
	}
	return p
}

// freeSpot is a place in the table: eight nodes and their weights.
type freeSpot struct {
	node    [8]*freePaceNode
	weight  [8]float32
	nearest int
	beyond  bool // more wind than the boat's table knows
}

func (p *freePaces) locate(s *freeSpot, twsMS, twaRad, hsM float64) {
	place := func(x float64, n int) (int, float64) {
		if !(x > 0) {
			return 0, 0
		}
		i := int(x)
		if i >= n-1 {
			return n - 1, 0
		}
		return i, x - float64(i)
	}
	s.beyond = twsMS > p.topMS
	i, fi := place(twsMS/freeTWSStepMS, p.twss)
	j, fj := place(twaRad/freeTWAStep, freeTWAs)
	k, fk := place(hsM/freeHsStepM, p.hss)
	s.nearest = 0
	for b := range 8 {
		w, a, c, d := 1.0, i, j, k
		if b&1 != 0 {
			w *= fi
			a++
		} else {
			w *= 1 - fi
		}
		if b&2 != 0 {
			w *= fj
			c++
		} else {
			w *= 1 - fj
		}
		if b&4 != 0 {
			w *= fk
			d++
		} else {
			w *= 1 - fk
		}
		s.weight[b] = float32(w)
		if w == 0 {
			s.node[b] = nil
			continue
		}
		s.node[b] = p.node(a, c, d)
		if s.weight[b] > s.weight[s.nearest] || s.node[s.nearest] == nil {
			s.nearest = b
		}
	}
}

// along is the pace of a setting and whether it is that of a zigzag. A setting
// that is refused at the nearest node is refused.
func (s *freeSpot) along(l int, instant bool) (ms float64, zigzag bool) {
	bit := uint32(1) << l
	near := s.node[s.nearest]
	if near.held&bit != 0 || (s.beyond && l > 0) {
		return 0, near.zigzag&bit != 0
	}
	sum, all := float32(0), float32(0)
	for b, w := range s.weight {
		n := s.node[b]
		if n == nil || n.held&bit != 0 {
			continue
		}
		v := n.along[l]
		if instant {
			v = n.instant[l]
		}
		sum += w * v
		all += w
	}
	v := float64(sum / all)
	if v < stoppedMS {
		v = 0
	}
	return v, near.zigzag&bit != 0
}

// sameSea is the sea that brakes as much running with the wind, on a course.
func (s *seaState) sameSea(courseRad, twaRad float64) float64 {
	if !s.hasWaveFrom {
		return s.hsM
	}
	return s.condition(twaRad, courseRad).EquivalentHs()
}

// paces fills in the paces of all settings in an open cell.
func (s *freeSailor) paces(c *freeCell) {
	c.known = true
	p := s.f.paces
	rel := wrapPi(c.sea.windFromRad - c.courseRad)
	twa := math.Abs(rel)
	var spot freeSpot
	p.locate(&spot, c.sea.twsMS, twa, c.sea.sameSea(c.courseRad, twa))
	board := boardPort
	if rel >= 0 {
		board = boardStarboard
	}
	current := c.sea.curU != 0 || c.sea.curV != 0
	for l := range c.paces {
		q := &c.paces[l]
		var zigzag bool
		q.alongMS, zigzag = spot.along(l, s.f.opt.Instant)
		if q.board = board; zigzag {
			q.board = boardBoth
		}
		if current {
			s.drift(c, q, l)
		}
	}
}

// drift adds the current to a pace: the course through the water cancels its
// part across.
func (s *freeSailor) drift(c *freeCell, q *freePace, l int) {
	along, across := c.sea.current(c.courseRad)
	drift := 0.0
	var spot freeSpot
	for range 8 {
		if q.alongMS <= math.Abs(across) {
			q.alongMS = 0
			return
		}
		next := math.Asin(across / q.alongMS)
		if math.Abs(next-drift) < units.Rad(0.02) {
			break
		}
		drift = next
		course := c.courseRad - drift
		rel := wrapPi(c.sea.windFromRad - course)
		twa := math.Abs(rel)
		s.f.paces.locate(&spot, c.sea.twsMS, twa, c.sea.sameSea(course, twa))
		var zigzag bool
		q.alongMS, zigzag = spot.along(l, s.f.opt.Instant)
		switch {
		case zigzag:
			q.board = boardBoth
		case rel >= 0:
			q.board = boardStarboard
		default:
			q.board = boardPort
		}
	}
	q.alongMS = q.alongMS*math.Cos(drift) + along
	if q.alongMS < stoppedMS {
		q.alongMS = 0
	}
}
