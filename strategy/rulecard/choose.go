package rulecard

import (
	"context"
	"math"
)

// CrossValidated is the mean time lost by cards of 1, 2, … rules on passages
// that they were not fitted to: the groups of passages are dealt into two
// halves, and each half is sailed with the cards fitted to the other. It is nil
// when there is one group only. No passage counts for more than twice what the
// foils never out would lose. progress, when not nil, is told how much is done.
func CrossValidated(ctx context.Context, ps []*Passage, opt Options, progress func(done, total int)) ([]float64, error) {
	var half [2][]*Passage
	side := map[int]int{}
	for _, p := range ps {
		if _, ok := side[p.Group]; !ok {
			side[p.Group] = len(side) % 2
		}
		half[side[p.Group]] = append(half[side[p.Group]], p)
	}
	if len(half[1]) == 0 {
		return nil, nil
	}
	opt.Beyond = -1
	var out []float64
	for h := range half {
		told := progress
		if progress != nil {
			told = func(done, total int) { progress(h*total+done, len(half)*total) }
		}
		steps, err := Fit(ctx, half[h], opt, told)
		if err != nil {
			return nil, err
		}
		for n := range opt.rules() {
			s := steps[min(n, len(steps)-1)]
			lost := 0.0
			for _, p := range half[1-h] {
				f, err := p.Try(ctx, s.Card)
				if err != nil {
					return nil, err
				}
				// One boat that gets stuck must not decide about all the rules.
				lost += math.Min(f.LostS(), 2*(p.NeverS-p.BestS))
			}
			if h == 0 {
				out = append(out, 0)
			}
			out[n] += lost / float64(len(ps))
		}
	}
	return out, nil
}

// Choose returns the number of rules of the smallest card whose cross-validated
// loss is within worthS seconds of the least one: a rule that buys less than
// that on weathers not seen is not worth its line.
func Choose(cross []float64, worthS float64) int {
	if len(cross) == 0 {
		return 0
	}
	least := cross[0]
	for _, x := range cross {
		least = min(least, x)
	}
	for i, x := range cross {
		if x <= least+worthS {
			return i + 1
		}
	}
	return len(cross)
}
