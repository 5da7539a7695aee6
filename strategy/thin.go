package strategy

import (
	"context"
	"math"
)

// Thin drops the changes of a voyage that earn too little for a tired person:
// as long as some change gains less than leastGainS seconds of passage time
// over not making it, the one that gains least is left out. What the thinned
// schedule costs against the optimum is the difference of the two voyages; the
// gap to the bound covers it too. Under the rules of a person only schedules
// that keep them, every change as early as they permit, take the voyage's place.
func (p *Problem) Thin(ctx context.Context, v *Voyage, leastGainS float64) (*Voyage, error) {
	for leastGainS > 0 {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		at := v.changes(p.Start)
		least := math.Inf(1)
		var best *Voyage
		for i, k := range at {
			end := len(v.Schedule)
			if i+1 < len(at) {
				end = at[i+1]
			}
			before := p.Start
			if k > 0 {
				before = v.Schedule[k-1]
			}
			sch := append(Schedule(nil), v.Schedule...)
			for j := k; j < end; j++ {
				sch[j] = before
			}
			w, broken, err := p.sailRules(sch)
			if err != nil {
				if ignoreCoverage(err) == nil {
					continue // without this change the forecast ends too early
				}
				return nil, err
			}
			if broken || w.Status != Found || w.held() > v.held() {
				continue
			}
			if cost := w.ArriveS - v.ArriveS; cost < least {
				least, best = cost, w
			}
		}
		if best == nil || least >= leastGainS {
			break
		}
		v = best
	}
	return v, nil
}

// changes lists the stages at whose start the state changes.
func (v *Voyage) changes(start State) []int {
	var at []int
	for k, s := range v.Schedule {
		if s != start {
			at = append(at, k)
		}
		start = s
	}
	return at
}

// held is the time for which a limit stops the boat.
func (v *Voyage) held() float64 {
	t := 0.0
	for _, s := range v.Stages {
		t += s.HeldS
	}
	return t
}
