package strategy

import "context"

// Refinement is the passage time of the plan with one step of the
// discretisation made finer.
type Refinement struct {
	What    string
	StageM  float64
	PieceM  float64
	BinS    float64
	States  int
	ArriveS float64
	// ChangeS is how much later the finer plan arrives.
	ChangeS float64
}

// Discretisation measures what the steps of the plan cost or hide: it plans
// again with stages of half the length (foils may change at more places; finer
// is never later but for the steps of the integration), and with pieces of half
// the length and intervals of half the span (the error of the integration).
// finer, when not nil, is the same boat with a finer grid of extensions and
// rakes in the same forecast, and is planned too.
func (p *Problem) Discretisation(ctx context.Context, v *Voyage, finer *Sailor) ([]Refinement, error) {
	var out []Refinement
	again := func(what string, sl *Sailor, opt Options) error {
		c := *sl
		c.opt = opt
		q := c.newProblem(p.track, p.DepartS, nil)
		q.Start = State{}
		w, err := q.Best(ctx, nil, false, nil)
		if err != nil {
			return err
		}
		r := Refinement{What: what, StageM: opt.stageM(), PieceM: opt.piece(), BinS: opt.interval(), States: len(c.states.all), ArriveS: w.ArriveS, ChangeS: w.ArriveS - v.ArriveS}
		out = append(out, r)
		return nil
	}
	half := p.opt
	half.StageM = p.opt.stageM() / 2
	if err := again("stages of half the length", p.Sailor, half); err != nil {
		return nil, err
	}
	half = p.opt
	half.pieceM, half.intervalS = p.opt.piece()/2, p.opt.interval()/2
	if err := again("steps of the integration of half the size", p.Sailor, half); err != nil {
		return nil, err
	}
	if finer != nil {
		if err := again("finer grid of extensions and rakes", finer, p.opt); err != nil {
			return nil, err
		}
	}
	return out, nil
}
