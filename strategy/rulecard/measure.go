package rulecard

import (
	"context"
	"errors"
	"math"
	"slices"

	"foilledger/strategy"
	"foilledger/weather"
)

// Followed is what following a card made of one passage.
type Followed struct {
	Name    string  `json:"name"`
	Arrived bool    `json:"arrived"` // false: stopped for two days, or the weather ends before
	TimeS   float64 `json:"time_s"`
	BestS   float64 `json:"best_s"`
	NeverS  float64 `json:"never_s"`
	Changes int     `json:"changes"`
	EffortJ float64 `json:"effort_j"`
	HeldS   float64 `json:"held_s"` // stopped by a limit
}

// LostS is the time lost against the best possible; a boat that does not
// arrive loses all that foils could have gained and two days.
func (f *Followed) LostS() float64 {
	if !f.Arrived {
		return f.NeverS - f.BestS + stoppedS
	}
	return f.TimeS - f.BestS
}

// Try follows a card on a passage.
func (ps *Passage) Try(ctx context.Context, c *Card) (Followed, error) {
	return ps.follow(ctx, Policy{Card: c})
}

// follow sails a passage by a policy. A boat that is so slow that the weather
// ends before she arrives does not arrive.
func (ps *Passage) follow(ctx context.Context, policy strategy.Policy) (Followed, error) {
	f := Followed{Name: ps.Name, BestS: ps.BestS, NeverS: ps.NeverS}
	v, err := ps.problem.Follow(ctx, policy)
	var ce *weather.CoverageError
	if errors.As(err, &ce) {
		return f, nil
	}
	if err != nil || v.Status != strategy.Found {
		return f, err
	}
	f.Arrived, f.TimeS = true, v.TimeS()
	for k := range v.Stages {
		if s := &v.Stages[k]; len(s.Change.Parts()) > 0 {
			f.Changes++
			f.EffortJ += s.Change.EffortJ
		}
		f.HeldS += v.Stages[k].HeldS
	}
	return f, nil
}

// Score sums up how a card did on some passages.
type Score struct {
	Passages int
	// LostS is the mean time lost against the best possible, and GainS the
	// mean time that the best possible gains over foils never out.
	LostS, GainS float64
	// PassageS is the mean passage time of the best possible.
	PassageS float64
	Changes  float64 // mean
	EffortJ  float64 // mean
	Stuck    int     // passages that a limit or calm stopped for two days
}

// RegretShare is the time lost as a share of the time that the best possible
// gains; 0 when there is nothing to gain.
func (s Score) RegretShare() float64 {
	if !(s.GainS > 0) {
		return 0
	}
	return s.LostS / s.GainS
}

// Total sums up.
func Total(fs []Followed) Score {
	s := Score{Passages: len(fs)}
	for i := range fs {
		f := &fs[i]
		n := float64(len(fs))
		s.LostS += f.LostS() / n
		s.GainS += (f.NeverS - f.BestS) / n
		s.PassageS += f.BestS / n
		s.Changes += float64(f.Changes) / n
		s.EffortJ += f.EffortJ / n
		if !f.Arrived {
			s.Stuck++
		}
	}
	return s
}

// Box describes how one rule of a card was used on the passages that it was
// fitted to.
type Box struct {
	Rule
	// Share is the share of the passage time spent in the box.
	Share float64
	// BreakEvenS is how long the conditions must last for a boat with her foils
	// in to put them out as the rule says, or, where the rule says in, for one
	// with her foils out to take them in: the median over the time spent in the
	// box. +Inf: it does not pay; 0: the box was not met.
	BreakEvenS float64
}

// Boxes describes the rules of a card.
func Boxes(ps []*Passage, c *Card) []Box {
	out := make([]Box, len(c.Rules))
	evens := make([][]float64, len(c.Rules))
	total := 0.0
	used := map[uint8]float64{}
	for _, p := range ps {
		for k := range p.moments {
			v := &p.moments[k].view
			used[c.find(v.TWSMS, v.TWARad, v.HsM).At(v.TWSMS, v.TWARad)] += p.moments[k].costS[0]
		}
	}
	common := uint8(0)
	for l := range c.Settings {
		if l != 0 && (common == 0 || used[uint8(l)] > used[common]) {
			common = uint8(l)
		}
	}
	for _, p := range ps {
		for k := range p.moments {
			m := &p.moments[k]
			v := &m.view
			for i := range c.Rules {
				r := &c.Rules[i]
				if r != c.find(v.TWSMS, v.TWARad, v.HsM) {
					continue
				}
				out[i].Share += m.costS[0]
				total += m.costS[0]
				if len(evens[i]) < 400 {
					from, to := uint8(0), r.At(v.TWSMS, v.TWARad)
					if to == 0 {
						from = common
					}
					evens[i] = append(evens[i], p.problem.BreakEven(from, to, v.TWSMS, v.TWARad, v.HsM).TimeS)
				}
			}
		}
	}
	for i := range out {
		out[i].Rule = c.Rules[i]
		if total > 0 {
			out[i].Share /= total
		}
		if n := len(evens[i]); n > 0 {
			slices.Sort(evens[i])
			out[i].BreakEvenS = evens[i][n/2]
		}
	}
	return out
}

// Handled describes how one kind of action on the leeward foil was done while
// the card was followed.
type Handled struct {
	Kind                     strategy.Kind
	Count                    int
	CeilingMS, LostS, SlowMS float64 // means
	Slowed                   int     // how often the boat had to slow down
	How                      string  // the way in which she mostly did
}

// Handlings follows a card over passages and describes its actions under load.
func Handlings(ctx context.Context, ps []*Passage, c *Card) ([]Handled, error) {
	byKind := map[strategy.Kind]*Handled{}
	ways := map[strategy.Kind]map[string]int{}
	for _, p := range ps {
		v, err := p.Follow(ctx, c)
		if err != nil {
			return nil, err
		}
		for k := range v.Stages {
			s := &v.Stages[k]
			lee := strategy.Starboard
			if s.Starboard {
				lee = strategy.Port
			}
			for _, q := range s.Change.Parts() {
				if q.Side != lee {
					continue
				}
				h := byKind[q.Kind]
				if h == nil {
					h = &Handled{Kind: q.Kind}
					byKind[q.Kind], ways[q.Kind] = h, map[string]int{}
				}
				h.Count++
				h.LostS += q.LostS
				if !math.IsInf(q.CeilingMS, 1) {
					h.CeilingMS += q.CeilingMS
				}
				h.SlowMS += s.Change.SlowMS
				if s.Change.Slow.Way != strategy.NoSlowing {
					h.Slowed++
					ways[q.Kind][s.Change.Slow.Way.String()]++
				}
			}
		}
	}
	var out []Handled
	for k := strategy.Deploy; k <= strategy.TakeOffRake; k++ {
		h := byKind[k]
		if h == nil {
			continue
		}
		n := float64(h.Count)
		h.LostS /= n
		h.CeilingMS /= n
		h.SlowMS /= n
		for w, c := range ways[k] {
			if h.How == "" || c > ways[k][h.How] || c == ways[k][h.How] && w < h.How {
				h.How = w
			}
		}
		out = append(out, *h)
	}
	return out, nil
}
