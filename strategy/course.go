package strategy

import (
	"math"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// The pace of a boat is taken as constant over pieces of the track of at most
// subM metres and over intervals of binS seconds, at their middles: a field of
// speeds over place and time. A boat that follows such a field can never be
// overtaken by one that leaves later in the same state, whatever the weather
// does, which is what makes the search for the earliest arrival exact. The
// error of the steps is second order in both; Discretisation measures it.
const (
	subM = 2.5 * units.MPerNM
	binS = 900.0
)

// step is one piece of a stage, with the weather found there so far.
type step struct {
	mid       orb.Point
	courseRad float64
	lengthM   float64
	startM    float64 // along the track
	prev      *step   // the piece before, nil at the departure
	firstBin  int
	bins      []*bin
}

// bin is the weather in one piece of the track in one interval of time, and
// the paces of the foil states in it.
type bin struct {
	smp weather.Sample
	err error
	*waters
	relRad  float64        // wind from, off the course, [−π, π)
	paces   []*binPace     // by state
	roles   []*binPace     // by role, where the course is sailed directly
	scene   *scene         // for changes of state at the start of the piece
	safe    []int8         // by state: 0 unknown, 1 safe to rest in, −1 not
	holders []members      // by state, where safe is known: in which members
	turned  []int8         // by state
	turns   map[int]turned // by state, those that are stopped
	enters  map[int]turned // by state, on entering the piece

	fastest    float64 // best pace of any state
	hasFastest bool
}

// binPace is the pace of a state in a bin.
type binPace struct {
	Pace
	lossS float64 // of one tack or gybe in a zigzag
}

// leg is a stage made ready for integration.
type leg struct {
	from    orb.Point
	lengthM float64
	startM  float64
	steps   []step
}

// course is a track made ready for integration.
type course struct {
	legs   []leg
	totalM float64
	end    orb.Point
	endRad float64
	binS   float64

	bins      slab[bin]
	seas      slab[waters]
	binPaces  slab[binPace]
	pacesOf   slab[*binPace]
	turnKinds slab[int8]
	legsOf    slab[bestLeg]
}

// newCourse cuts a track into stages of at most stageM, at the places cuts
// too, and those into pieces of at most subM.
func newCourse(track *route.Track, stageM, subM, binS float64, cuts []float64) *course {
	c := course{binS: binS}
	for _, st := range track.Stages(stageM) {
		lo, hi := st.StartM, st.StartM+st.LengthM
		for _, cut := range append(append([]float64(nil), cuts...), hi) {
			if cut < hi && !(cut > lo+shortestStageM && cut < hi-shortestStageM) {
				continue
			}
			if cut > hi {
				continue
			}
			c.addLeg(track, lo, cut-lo, subM)
			lo = cut
		}
		c.totalM = hi
		c.end = st.To
	}
	var prev *step
	for i := range c.legs {
		for j := range c.legs[i].steps {
			c.legs[i].steps[j].prev = prev
			prev = &c.legs[i].steps[j]
		}
	}
	c.endRad = prev.courseRad
	return &c
}

// shortestStageM is the shortest piece that a cut may leave.
const shortestStageM = 50

func (c *course) addLeg(track *route.Track, startM, lengthM, subM float64) {
	from, _ := track.At(startM)
	l := leg{from: from, lengthM: lengthM, startM: startM}
	n := max(1, int(math.Ceil(lengthM/subM*(1-1e-12))))
	h := lengthM / float64(n)
	for i := range n {
		mid, b := track.At(startM + (float64(i)+0.5)*h)
		l.steps = append(l.steps, step{mid: mid, courseRad: b, lengthM: h, startM: startM + float64(i)*h})
	}
	c.legs = append(c.legs, l)
}

// index is the interval that a time lies in.
func (p *Problem) index(t float64) int { return int(math.Floor(t / p.course.binS)) }

// bin returns the weather of a piece in interval number k.
func (p *Problem) bin(s *step, k int) *bin {
	if len(s.bins) == 0 {
		s.firstBin = k
	}
	for k < s.firstBin {
		s.bins = append([]*bin{nil}, s.bins...)
		s.firstBin--
	}
	i := k - s.firstBin
	for i >= len(s.bins) {
		s.bins = append(s.bins, nil)
	}
	b := s.bins[i]
	if b != nil {
		return b
	}
	c := p.course
	b = c.bins.one()
	s.bins[i] = b
	first, last := p.wx.SpanS()
	t0, t1 := float64(k)*p.course.binS, float64(k+1)*p.course.binS
	at := (t0 + t1) / 2
	if t1 > first && at < first { // the forecast starts or ends inside
		at = first
	}
	if t0 < last && at > last {
		at = last
	}
	b.smp, b.err = p.wx.At(s.mid[0], s.mid[1], at)
	if b.err != nil {
		return b
	}
	b.waters = c.seas.one()
	*b.waters = waters{sl: p.Sailor, sea: p.sea(b.smp), made: &c.legsOf}
	b.relRad = wrapPi(b.sea.windFromRad - s.courseRad)
	b.turned = c.turnKinds.take(len(p.states.all))
	b.paces = c.pacesOf.take(len(p.states.all))
	b.roles = c.pacesOf.take(len(p.states.settings) * p.states.exts)
	return b
}

// paceIn returns the pace of a state in interval k of a piece; nil when the
// weather is missing there. On courses that are sailed directly all states
// with the same foils at work share it.
func (p *Problem) paceIn(s *step, k, state int) (*binPace, *bin) {
	if i := k - s.firstBin; uint(i) < uint(len(s.bins)) {
		if b := s.bins[i]; b != nil && b.err == nil {
			if q := b.paces[state]; q != nil {
				return q, b
			}
		}
	}
	return p.newPace(s, k, state)
}

// newPace is paceIn for a pace that may not be known yet.
func (p *Problem) newPace(s *step, k, state int) (*binPace, *bin) {
	b := p.bin(s, k)
	if b.err != nil {
		return nil, b
	}
	st := p.states.all[state]
	l, w := p.states.roles(st, b.relRad >= 0)
	role := l*p.states.exts + w
	if q := b.roles[role]; q != nil {
		b.paces[state] = q
		return q, b
	}
	q := p.course.binPaces.one()
	q.Pace = b.pace(s.courseRad, st)
	if p.rests(k) && !q.Held && !p.safeIn(s, k, b, state, q) {
		q.Held, q.AlongMS = true, 0
	}
	b.paces[state] = q
	switch {
	case q.Zigzag:
		if q.ChangesPerS > 0 {
			q.lossS = p.boardLoss(p.sceneIn(s, k, b), st, &q.Pace, true)
		}
	case (q.Starboard >= 0.5) == (b.relRad >= 0):
		b.roles[role] = q
	}
	return q, b
}

// longestTurnS bounds the time for which a turn stops the boat at the start of
// an interval.
func (c *course) longestTurnS() float64 { return c.binS / 2 }

// turn is the time for which a boat is stopped at the start of interval k
// because the wind has come round to its other side since the interval before.
func (p *Problem) turn(s *step, k, state int, q *binPace, b *bin) (stopS, boards float64) {
	switch b.turned[state] {
	case noTurn:
		return 0, 0
	case someTurn:
		t := b.turns[state]
		return t.stopS, t.boards
	}
	b.turned[state] = noTurn
	before, _ := p.paceIn(s, k-1, state)
	if before == nil || before.Starboard == q.Starboard {
		return 0, 0
	}
	stopS, boards = p.crossing(p.sceneIn(s, k, b), state, &before.Pace, &q.Pace)
	if stopS == 0 {
		return 0, 0
	}
	stopS = math.Min(stopS, p.course.longestTurnS())
	if b.turns == nil {
		b.turns = map[int]turned{}
	}
	b.turns[state] = turned{stopS, boards}
	b.turned[state] = someTurn
	return stopS, boards
}

// turned is a change of board at the start of an interval.
type turned struct{ stopS, boards float64 }

// What is known of the change of board at the start of an interval.
const (
	unknownTurn int8 = iota
	noTurn
	someTurn
)

// crossing is the time lost by the tack or gybe between two paces of a state,
// and the share of the time for which it comes (less than 1 from or to a
// zigzag, in which the boat may be on the right board already).
func (p *Problem) crossing(sc *scene, state int, before, after *Pace) (lossS, boards float64) {
	boards = math.Abs(after.Starboard - before.Starboard)
	if boards == 0 || after.AlongMS == 0 || (after.Zigzag && before.Zigzag) {
		return 0, 0 // the turns of a zigzag are in its rate
	}
	return boards * p.boardLoss(sc, p.states.all[state], after, after.Starboard >= before.Starboard), boards
}

// enter is the time lost by a tack or gybe on entering a piece in interval k.
func (p *Problem) enter(s *step, k, state int) (lossS, boards float64) {
	if s.prev == nil {
		return 0, 0
	}
	after, b := p.paceIn(s, k, state)
	before, _ := p.paceIn(s.prev, k, state)
	if after == nil || before == nil || after.Starboard == before.Starboard {
		return 0, 0
	}
	if t, ok := b.enters[state]; ok {
		return t.stopS, t.boards
	}
	lossS, boards = p.crossing(p.sceneIn(s, k, b), state, &before.Pace, &after.Pace)
	if b.enters == nil {
		b.enters = map[int]turned{}
	}
	b.enters[state] = turned{lossS, boards}
	return lossS, boards
}

// boardLoss is the time lost by one tack or gybe onto starboard or port tack
// in a bin. In a zigzag the mean of both is taken.
func (p *Problem) boardLoss(sc *scene, st State, q *Pace, toStarboard bool) float64 {
	if q.Zigzag {
		return (sc.board(st, true, q.Upwind()) + sc.board(st, false, q.Upwind())) / 2
	}
	return sc.board(st, toStarboard, q.Upwind())
}
