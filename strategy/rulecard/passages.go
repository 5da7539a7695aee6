package rulecard

import (
	"context"
	"fmt"
	"math"

	"foilledger/strategy"
	"foilledger/vpp/units"
)

// Passage is one weather in which a track is sailed, with what the fit needs
// of it. It is for one goroutine at a time.
type Passage struct {
	Group   int // passages of one group share weather
	Name    string
	BestS   float64 // passage time of the exact plan
	NeverS  float64 // with the foils never out
	problem *strategy.Problem
	moments []moment
	plan    strategy.Schedule // of the exact plan
}

// moment is the start of a stage as the exact plan meets it.
type moment struct {
	view    strategy.View
	lengthM float64   // of the stage
	allowed []bool    // by setting of the leeward foil
	costS   []float64 // time of the stage by fixed advice, kept to the limits
	change  map[[2]strategy.State]changed
}

// changed is a stage that begins with a change.
type changed struct {
	tookS, changeS float64
	in             bool // a limit asks for foils in
}

// recorder follows a schedule and keeps what can be seen at every stage.
type recorder struct {
	schedule strategy.Schedule
	views    []strategy.View
}

func (*recorder) Name() string           { return "exact plan" }
func (*recorder) Begin(*strategy.States) {}
func (r *recorder) Decide(v *strategy.View) strategy.State {
	r.views = append(r.views, *v)
	return r.schedule[len(r.views)-1]
}

// NewPassage plans a passage exactly and prepares it for fitting and testing.
// ok is false when no feasible plan or baseline exists. open makes the problem;
// it is called twice, for a problem keeps all the weather that the search met,
// ten times as much as is needed afterwards.
func NewPassage(ctx context.Context, name string, open func() (*strategy.Problem, error)) (ps *Passage, ok bool, err error) {
	p, err := open()
	if err != nil {
		return nil, false, err
	}
	best, err := p.Best(ctx, nil, false, nil)
	if err != nil {
		return nil, false, err
	}
	never, err := p.Best(ctx, strategy.FoilsIn, false, nil)
	if err != nil {
		return nil, false, err
	}
	if best.Status != strategy.Found || never.Status != strategy.Found {
		return nil, false, nil
	}
	if p, err = open(); err != nil {
		return nil, false, err
	}
	rec := &recorder{schedule: best.Schedule}
	v, err := p.Follow(ctx, rec)
	if err != nil {
		return nil, false, err
	}
	if v.ArriveS != best.ArriveS {
		return nil, false, fmt.Errorf("rulecard: the plan of %q arrives at %v, followed at %v", name, best.ArriveS, v.ArriveS)
	}
	ps = &Passage{plan: best.Schedule, Name: name, BestS: best.TimeS(), NeverS: never.TimeS(), problem: p}
	limits := usual
	limits.Settings = p.Performer().Settings()
	n := len(limits.Settings)
	for k := range rec.views {
		m := moment{view: rec.views[k], lengthM: p.StageEndM(k) - rec.views[k].DistanceM, allowed: make([]bool, n), costS: make([]float64, 2*n), change: map[[2]strategy.State]changed{}}
		for l := range n {
			m.allowed[l] = limits.allows(&m.view, uint8(l))
		}
		for i := range m.costS {
			a := adviceOf(uint8(i))
			set := limits.within(a.Setting, func(l uint8) bool { return m.allowed[l] })
			now := strategy.State{}
			if set == 0 && a.Setting == 0 && a.Both { // left out to windward, as it mostly is
				now = now.With(1-m.view.Leeward(), uint8(n-1))
			}
			st := a.state(set, m.view.Leeward(), m.view.Zigzag, now)
			c, err := ps.stage(&m, k, st, st)
			if err != nil {
				return nil, false, err
			}
			m.costS[i] = c.tookS
		}
		ps.moments = append(ps.moments, m)
	}
	return ps, true, nil
}

// usual holds the margins to the boat's limits of every card.
var usual = Card{LimitMarginMS: units.MS(2), LimitMarginHsM: 0.25}

// stage returns the time of stage k in the weather that the exact plan meets
// there, with a change at its start, how long the change takes, and whether a
// limit stops the boat so that she sails it with her foils in instead, as when a
// policy is followed.
func (ps *Passage) stage(m *moment, k int, from, to strategy.State) (changed, error) {
	key := [2]strategy.State{from, to}
	if c, ok := m.change[key]; ok {
		return c, nil
	}
	st, err := ps.problem.SailStage(k, from, to, m.view.TimeS)
	if err != nil {
		return changed{}, err
	}
	c := changed{math.Min(st.ArriveS-m.view.TimeS, stoppedS), st.Change.TimeS, false}
	if to.Out() && (st.HeldS > 0 || math.IsInf(st.ArriveS, 1)) {
		in, err := ps.stage(m, k, from, strategy.State{})
		if err != nil {
			return changed{}, err
		}
		if in.tookS < c.tookS {
			c = changed{in.tookS, in.changeS, true}
		}
	}
	m.change[key] = c
	return c, nil
}

// stoppedS is what a stage costs that the boat does not get through: two days.
const stoppedS = 48 * 3600

// speedMS is the steady speed by plain advice in the conditions of a view.
func (m *moment) speedMS(v *strategy.View, advice int) float64 {
	bspMS, _ := v.Steady(uint8(advice / 2))
	return bspMS
}

// estimate is the passage time when a card is followed, with every stage in
// the weather that the exact plan meets there. It is close to, and a thousand
// times faster than, following the card through the moving weather.
func (ps *Passage) estimate(c *Card) (float64, error) { return ps.walk(c, nil) }

// walk follows a card as estimate does. see, when not nil, is told of every
// stage the states before and on it and the time that it takes.
func (ps *Passage) walk(c *Card, see func(k int, from, to strategy.State, tookS float64) error) (totalS float64, err error) {
	total, done := 0.0, math.Inf(-1)
	s := seen{}
	var m *moment
	s.allowed = func(l uint8) bool { return m.allowed[l] }
	for k := range ps.moments {
		m = &ps.moments[k]
		s.twsMS, s.twaRad, s.hsM, s.leeward, s.zigzag = m.view.TWSMS, m.view.TWARad, m.view.HsM, m.view.Leeward(), m.view.Zigzag
		s.sinceS = total - done
		to := c.decide(&s)
		g, err := ps.stage(m, k, s.now, to)
		if err != nil {
			return 0, err
		}
		if see != nil {
			if err := see(k, s.now, to, g.tookS); err != nil {
				return 0, err
			}
		}
		if g.changeS > 0 {
			done = total + g.changeS
		}
		total += g.tookS
		if s.now = to; g.in {
			s.now = strategy.State{}
		}
	}
	return total, nil
}

// Follow sails the passage by a card through the moving weather.
func (ps *Passage) Follow(ctx context.Context, c *Card) (*strategy.Voyage, error) {
	return ps.problem.Follow(ctx, Policy{Card: c})
}
