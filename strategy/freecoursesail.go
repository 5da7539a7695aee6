package strategy

import (
	"errors"
	"math"

	"foilledger/route"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// What is known of a cell.
const (
	freeUnknown uint8 = iota
	freeOpen
	freeOver    // a limit of wind or sea is passed
	freeMissing // the forecast does not know
)

// The boards.
const (
	boardPort int8 = iota // wind from port
	boardStarboard
	boardBoth // a zigzag
)

// freeCell is one piece of an edge in one interval of time.
type freeCell struct {
	status    uint8
	known     bool // the paces
	placed    bool // the conditions in the grid of prices
	upwind    bool
	courseRad float64
	sea       seaState
	at        cell // in the grid of conditions
	paces     []freePace
}

// freePace is the pace of a setting in a cell.
type freePace struct {
	board   int8
	alongMS float64 // tacks and gybes of a zigzag included; 0 when stopped
}

// freeSailor works out edges for one worker.
type freeSailor struct {
	f    *FreeCourse
	n    int // settings
	binS float64

	e        *route.Edge
	pieces   int
	pieceM   float64
	firstBin int
	rows     [][]*freeCell // by piece, by interval from firstBin
	pool     []*freeCell
	used     int
	over     bool // the last leg failed at a limit of wind or sea
	giveUpS  float64

	maxWindMS, maxGustMS, maxWaveM float64
}

func newFreeSailor(f *FreeCourse) *freeSailor {
	return &freeSailor{f: f, n: len(f.leeward), binS: f.binS}
}

func lower(limit, area float64) float64 {
	if limit > 0 {
		return math.Min(limit, area)
	}
	return area
}

// Sail sails an edge from all states; see route.Sailor.
func (s *freeSailor) Sail(e *route.Edge, depart, arrive []float64, from []int32) error {
	earliest := math.Inf(1)
	for _, t := range depart {
		earliest = math.Min(earliest, t)
	}
	if math.IsInf(earliest, 1) {
		return nil
	}
	o := &s.f.opt
	s.e = e
	s.maxWindMS, s.maxGustMS, s.maxWaveM = lower(o.MaxWindMS, e.MaxWindMS), lower(o.MaxGustMS, e.MaxGustMS), lower(o.MaxWaveM, e.MaxWaveM)
	s.pieces = max(1, int(math.Ceil(e.LengthM/s.f.pieceM*(1-1e-12))))
	s.pieceM = e.LengthM / float64(s.pieces)
	s.firstBin = s.bin(earliest) - 1
	s.giveUpS = earliest + freePatienceS(e.LengthM)
	s.used = 0
	for len(s.rows) < s.pieces {
		s.rows = append(s.rows, nil)
	}
	for i := range s.pieces {
		s.rows[i] = s.rows[i][:0]
	}
	for l := range s.n {
		t, src := s.begin(depart, l)
		if math.IsInf(t, 1) {
			continue
		}
		end, ok := s.leg(l, t)
		if !ok && s.over {
			end, ok = s.waitAndSail(l, t)
		}
		if !ok {
			continue
		}
		for b := range 2 {
			if at := s.endOn(l, int8(b), end); at < arrive[b*s.n+l] {
				arrive[b*s.n+l], from[b*s.n+l] = at, src
			}
		}
	}
	return nil
}

func (s *freeSailor) bin(t float64) int { return int(math.Floor(t / s.binS)) }

// cell returns a piece of the edge in interval k, which is not before firstBin.
func (s *freeSailor) cell(i, k int) *freeCell {
	row, at := s.rows[i], k-s.firstBin
	for at >= len(row) {
		row = append(row, nil)
	}
	s.rows[i] = row
	if c := row[at]; c != nil {
		return c
	}
	if s.used == len(s.pool) {
		s.pool = append(s.pool, &freeCell{paces: make([]freePace, s.n)})
	}
	c := s.pool[s.used]
	s.used++
	row[at] = c
	c.known, c.placed = false, false
	s.fill(c, i, k)
	return c
}

// fill asks for the weather in the middle of a cell.
func (s *freeSailor) fill(c *freeCell, i, k int) {
	f := (float64(i) + 0.5) / float64(s.pieces)
	p := s.e.At(f)
	first, last := s.f.sl.wx.SpanS()
	t0, t1 := float64(k)*s.binS, float64(k+1)*s.binS
	at := (t0 + t1) / 2
	if t1 > first && at < first { // the forecast starts or ends inside
		at = first
	}
	if t0 < last && at > last {
		at = last
	}
	smp, err := s.f.sl.wx.At(p[0], p[1], at)
	if err != nil {
		c.status = freeMissing
		var ce *weather.CoverageError
		if errors.As(err, &ce) {
			s.f.uncovers.Or(1 << uint(ce.Kind))
		}
		return
	}
	if math.Hypot(smp.U, smp.V) > s.maxWindMS || smp.GustMS > s.maxGustMS || smp.HsM > s.maxWaveM {
		c.status = freeOver
		return
	}
	c.status = freeOpen
	c.courseRad = s.e.AzimuthRad(f)
	c.sea = s.f.sl.sea(smp)
}

// pace returns the pace of a setting in an open cell.
func (s *freeSailor) pace(c *freeCell, l int) *freePace {
	if !c.known {
		s.paces(c)
	}
	return &c.paces[l]
}

// place finds the cell's conditions in the grid of prices: where the boat beats
// or gybes down, at the angle of the best speed made good with the foils in.
func (s *freeSailor) place(c *freeCell) {
	if c.placed {
		return
	}
	twa := math.Abs(wrapPi(c.sea.windFromRad - c.courseRad))
	c.upwind = twa < math.Pi/2
	best := s.f.sl.vmg.angle(0, 0, c.sea.twsMS, c.sea.hsM, c.upwind)
	if c.upwind {
		twa = math.Max(twa, best)
	} else {
		twa = math.Min(twa, best)
	}
	c.at = s.f.prices.pr.locate(c.sea.twsMS, twa, c.sea.hsM)
	c.placed = true
}

// turn is the time lost in a tack or gybe with a change of setting.
func (s *freeSailor) turn(c *freeCell, from, to int) float64 {
	if s.f.opt.Instant {
		return 0
	}
	s.place(c)
	kind := freeGybe
	if c.upwind {
		kind = freeTack
	}
	return s.f.prices.lost(&c.at, kind, from, to)
}

// entry is the time lost in starting the edge in setting l in a cell, coming on
// a board with a setting.
func (s *freeSailor) entry(c *freeCell, board int8, from, l int) float64 {
	p := s.pace(c, l)
	if s.f.opt.Instant {
		return 0
	}
	kind := freeLoaded
	switch {
	case p.board == boardBoth:
		kind = freeUnloaded
	case p.board != board:
		return s.turn(c, from, l)
	}
	if from == l {
		return 0
	}
	s.place(c)
	return s.f.prices.lost(&c.at, kind, from, l)
}

// begin finds the earliest moment from which setting l sails the edge, as if it
// had been set already, and the state that it comes from. The boat may wait
// for the next interval where the change is so much cheaper there: so leaving
// later never gets away earlier.
func (s *freeSailor) begin(depart []float64, l int) (best float64, src int32) {
	best, src = math.Inf(1), -1
	try := func(q int) {
		t := depart[q]
		if !(t < best) {
			return
		}
		board, from := int8(0), q
		if q >= s.n {
			board, from = boardStarboard, q-s.n
		}
		k := s.bin(t)
		c := s.cell(0, k)
		if c.status != freeOpen {
			return
		}
		price := s.entry(c, board, from, l)
		if t+price < best {
			best, src = t+price, int32(q)
		}
		for k++; float64(k)*s.binS-t < price; k++ {
			if c = s.cell(0, k); c.status != freeOpen {
				return
			}
			if x := float64(k)*s.binS + s.entry(c, board, from, l); x < best {
				best, src = x, int32(q)
			}
		}
	}
	try(l)
	try(s.n + l)
	for q := range depart {
		if q != l && q != s.n+l {
			try(q)
		}
	}
	return best, src
}

// freePatienceS is how long after the first departure on an edge boats are
// followed: two days and the time of the slowest boat. One moment for all who
// leave keeps the later of two from getting through where the earlier is given
// up.
func freePatienceS(lengthM float64) float64 { return maxWaitS + lengthM/slowestMS }

// slowestMS is the mean speed below which a boat on an edge is given up, when
// two days more do not help.
const slowestMS = 1 * units.MSPerKnot

// leg sails the edge in setting l from t on; over tells whether a limit of wind
// or sea was in the way.
func (s *freeSailor) leg(l int, t float64) (float64, bool) {
	s.over = false
	for i := range s.pieces {
		rest := s.pieceM
		for first := true; ; {
			if t > s.giveUpS {
				return math.Inf(1), false
			}
			k := s.bin(t)
			c := s.cell(i, k)
			if c.status != freeOpen {
				s.over = c.status == freeOver
				return math.Inf(1), false
			}
			if first && i > 0 {
				first = false
				if lost := s.cross(i, k, l, t); lost > 0 {
					t += lost
					continue
				}
			}
			start := float64(k) * s.binS
			end := start + s.binS
			if !(end > t) {
				end += s.binS // t at the very end of the interval, rounded
			}
			p := s.pace(c, l)
			if t-start < turnWindowS {
				if stop := s.stopAt(i, k, c, p, l); t < start+stop {
					t = start + stop
				}
			}
			if p.alongMS == 0 {
				t = end
				continue
			}
			dt := rest / p.alongMS
			if t+dt <= end {
				t += dt
				break
			}
			rest -= (end - t) * p.alongMS
			t = end
			if rest <= 0 {
				break
			}
		}
	}
	if t > s.giveUpS {
		return math.Inf(1), false
	}
	return t, true
}

// stopAt is how long a boat in a piece is stopped at the start of an interval
// because the wind has come round to her other side.
func (s *freeSailor) stopAt(i, k int, c *freeCell, p *freePace, l int) float64 {
	if k-1 < s.firstBin || p.board == boardBoth {
		return 0
	}
	b := s.cell(i, k-1)
	if b.status != freeOpen {
		return 0
	}
	if q := s.pace(b, l); q.board == boardBoth || q.board == p.board {
		return 0
	}
	return math.Min(s.turn(c, l, l), turnWindowS)
}

// cross is the time lost by a tack or gybe on entering piece i at time t in
// interval k, or in waiting for an interval in which it is cheaper.
func (s *freeSailor) cross(i, k, l int, t float64) float64 {
	lost := s.crossing(i, k, l)
	for k++; ; k++ {
		wait := float64(k)*s.binS - t
		if wait >= lost || s.cell(i, k).status != freeOpen || s.cell(i-1, k).status != freeOpen {
			return lost
		}
		lost = math.Min(lost, wait+s.crossing(i, k, l))
	}
}

func (s *freeSailor) crossing(i, k, l int) float64 {
	c := s.cell(i, k)
	b := s.cell(i-1, k)
	if b.status != freeOpen || c.status != freeOpen {
		return 0
	}
	p, q := s.pace(c, l), s.pace(b, l)
	if p.board == boardBoth || q.board == boardBoth || p.board == q.board {
		return 0
	}
	return s.turn(c, l, l)
}

// endOn is the earliest moment at which a boat that arrives at time t in
// setting l is on a board: at once when she sails on it, or after a turn, or
// when the wind has come round.
func (s *freeSailor) endOn(l int, board int8, t float64) float64 {
	i := s.pieces - 1
	best := math.Inf(1)
	for k := s.bin(t); ; k++ {
		start := float64(k) * s.binS
		if start >= best {
			return best
		}
		c := s.cell(i, k)
		if c.status != freeOpen {
			return best
		}
		p := s.pace(c, l)
		x := math.Max(t, start)
		if x < start+turnWindowS {
			x = math.Max(x, start+s.stopAt(i, k, c, p, l))
		}
		if p.board != board && p.board != boardBoth {
			x += s.turn(c, l, l)
		}
		best = math.Min(best, x)
	}
}

// waitAndSail waits at the start of the edge, where no limit may be passed
// meanwhile, until a limit on the edge lets the boat through.
func (s *freeSailor) waitAndSail(l int, t float64) (float64, bool) {
	for k := s.bin(t) + 1; float64(k)*s.binS <= s.giveUpS; k++ {
		if s.cell(0, k).status != freeOpen {
			return math.Inf(1), false
		}
		if end, ok := s.leg(l, float64(k)*s.binS); ok {
			return end, true
		} else if !s.over {
			return end, false
		}
	}
	return math.Inf(1), false
}
