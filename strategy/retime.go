package strategy

import (
	"context"
	"math"
)

// Retime moves the changes of a voyage to the stages at which they serve best,
// one after the other, until no change gains by coming at another stage between
// those before and after it. Thinning leaves changes at the times that suited
// those left out, and a search under rules that keeps few labels can miss such a
// move. Rules are kept as by Thin; the voyage is never later than v.
func (p *Problem) Retime(ctx context.Context, v *Voyage) (*Voyage, error) {
	for better := true; better; {
		better = false
		for i := 0; i < len(v.changes(p.Start)); i++ {
			w, err := p.retimed(ctx, v, i)
			if err != nil {
				return nil, err
			}
			if w != nil {
				v, better = w, true
			}
		}
	}
	return v, nil
}

// Simplify thins a voyage and moves what is left to where it serves best, as
// long as either changes anything.
func (p *Problem) Simplify(ctx context.Context, v *Voyage, leastGainS float64) (*Voyage, error) {
	for {
		w, err := p.Thin(ctx, v, leastGainS)
		if err != nil || (w == v && w.OpenS == 0) {
			return w, err
		}
		open := v.OpenS
		if v, err = p.Retime(ctx, w); err != nil || v == w {
			return v, err
		}
		v.OpenS = open
	}
}

// retimeGainS is what a move must gain to count, so that the moves come to an end.
const retimeGainS = 0.5

// retimed is a voyage with its i-th change at a better stage; nil when there is
// none. Beyond a few stages without a gain it looks no further.
func (p *Problem) retimed(ctx context.Context, v *Voyage, i int) (*Voyage, error) {
	at := v.changes(p.Start)
	k, lo, hi := at[i], 0, len(v.Schedule)
	if i > 0 {
		lo = at[i-1] + 1
	}
	if i+1 < len(at) {
		hi = at[i+1]
	}
	from, to := p.Start, v.Schedule[k]
	if k > 0 {
		from = v.Schedule[k-1]
	}
	best := v
	for _, dir := range [2]int{-1, 1} {
		for n, none := k+dir, 0; n >= lo && n < hi; n += dir {
			if none >= retimeStages && math.Abs(v.Stages[n].DepartS-v.Stages[k].DepartS) > retimeSpanS {
				break
			}
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			sch := append(Schedule(nil), v.Schedule...)
			for j := n; j < k; j++ {
				sch[j] = to
			}
			for j := k; j < n; j++ {
				sch[j] = from
			}
			w, broken, err := p.sailRules(sch)
			if err != nil && ignoreCoverage(err) != nil {
				return nil, err
			}
			if none++; err == nil && !broken && w.Status == Found && w.held() <= v.held() && w.ArriveS < best.ArriveS-retimeGainS {
				best, none = w, 0
			}
		}
	}
	if best == v {
		return nil, nil
	}
	return best, nil
}

// The search for a change's best stage ends after so many stages without a gain,
// and more than so long from where it was.
const (
	retimeStages = 4
	retimeSpanS  = 1.5 * hourS
)
