package strategy

import (
	"context"
	"math"
)

// Refinement is the passage time of the plan with one step of the
// discretisation made finer, or coarser.
type Refinement struct {
	What    string
	Coarser bool // the step was made coarser, not finer
	StageM  float64
	PieceM  float64
	BinS    float64
	States  int
	ArriveS float64
	// ChangeS is how much later this plan arrives than the one measured.
	ChangeS float64
}

// ChangeMin is ChangeS in minutes.
func (r Refinement) ChangeMin() float64 { return r.ChangeS / 60 }

// Discretisation measures what the steps of the plan cost or hide: it plans
// again
//
//   - with stages of half the length: foils may change at more places, so that
//     finer is never later but for the steps of the integration;
//   - with pieces of half the length and intervals of half the span: the error
//     of the integration;
//   - with every other rake and with every other extension of the boat's grid:
//     what is lost by a grid twice as coarse bounds what a finer one may gain
//     where speed is a smooth function of rake and extension (a maximum's error
//     falls with the square of the step, so that a third of it is expected);
//   - with finer, when not nil, the same boat with a finer grid of rakes in the
//     same forecast: what the grid costs. Extensions are what the boat has.
//
// v is the problem's plan; under rules for the person the plan without them is
// measured, for those hide the steps.
func (p *Problem) Discretisation(ctx context.Context, v *Voyage, finer *Sailor) ([]Refinement, error) {
	if p.person.any() {
		p = p.Lift(RuleAll)
		var err error
		if v, err = p.Best(ctx, nil, false, nil); err != nil {
			return nil, err
		}
	}
	var out []Refinement
	again := func(r Refinement, sl *Sailor, opt Options, allow Allowed) error {
		c := *sl
		c.opt = opt
		q := c.newProblem(p.track, p.DepartS, nil)
		q.Start = State{}
		w, err := q.Best(ctx, allow, false, nil)
		if err != nil {
			if ctx.Err() == nil && ignoreCoverage(err) == nil {
				return nil // slower, and out of the forecast
			}
			return err
		}
		if w.Status != Found {
			return nil
		}
		r.StageM, r.PieceM, r.BinS = opt.stageM(), opt.piece(), opt.interval()
		r.ArriveS, r.ChangeS = w.ArriveS, w.ArriveS-v.ArriveS
		out = append(out, r)
		return nil
	}
	n := len(p.states.all)
	half := p.opt
	half.StageM = p.opt.stageM() / 2
	if err := again(Refinement{What: "stages of half the length", States: n}, p.Sailor, half, nil); err != nil {
		return nil, err
	}
	half = p.opt
	half.pieceM, half.intervalS = p.opt.piece()/2, p.opt.interval()/2
	if err := again(Refinement{What: "steps of the integration of half the size", States: n}, p.Sailor, half, nil); err != nil {
		return nil, err
	}
	for _, c := range []struct {
		what string
		keep []bool
	}{{"every other rake only", p.states.everyOther(true)}, {"every other extension only", p.states.everyOther(false)}} {
		kept := 0
		for _, yes := range c.keep {
			if yes {
				kept++
			}
		}
		if kept == len(c.keep) {
			continue // the grid has one step only
		}
		allow := func(_ int, s State) bool { return c.keep[s.Port] && c.keep[s.Starboard] }
		if err := again(Refinement{What: c.what, Coarser: true, States: kept * kept}, p.Sailor, p.opt, allow); err != nil {
			return nil, err
		}
	}
	if finer != nil {
		if err := again(Refinement{What: "rakes at half the steps", States: len(finer.states.all)}, finer, p.opt, nil); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// everyOther says which settings are left when every other rake of each
// extension, or every other extension, is dropped. The lowest rake and the
// full extension stay, and so does the setting in.
func (s *States) everyOther(rake bool) []bool {
	keep := make([]bool, len(s.settings))
	for i, f := range s.settings {
		rank := 0 // how many lower rakes, or larger extensions, there are
		seen := map[float64]bool{}
		for _, g := range s.settings[1:] {
			x, lower := g.RakeRad, g.Extension == f.Extension && g.RakeRad < f.RakeRad-1e-9
			if !rake {
				x, lower = math.Round(g.Extension*1e6), g.Extension > f.Extension+1e-9
			}
			if lower && !seen[x] {
				seen[x] = true
				rank++
			}
		}
		keep[i] = i == 0 || rank%2 == 0
	}
	return keep
}
