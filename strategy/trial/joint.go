package trial

import (
	"math"
	"slices"
)

// Joint makes intervals of several means at once: with probability Level all of
// them hold their means. Whoever looks through many comparisons for one whose
// interval leaves out zero finds one by chance far more often than a single
// interval's level says; by these he does not.
//
// The samples are taken together, as the differences of policies in the same
// weathers are, and have equal lengths. Every interval reaches as many standard
// errors to both sides: the Level quantile of the largest studentised error of
// any mean (P. H. Westfall and S. S. Young, "Resampling-Based Multiple Testing",
// 1993; from memory) over resamples in which whole blocks change the sign of
// their deviation, in all samples alike (the wild bootstrap; R. Y. Liu,
// "Bootstrap procedures under some non-i.i.d. models", 1988; from memory).
// Drawing blocks anew makes the largest of many ratios much too wild in samples
// of a dozen values. With fewer than fewBlocks blocks it is Student's t with the
// level shared out among the samples (Bonferroni). An interval is never narrower
// than that of its mean alone.
func (b Bootstrap) Joint(xs [][]float64) []Interval {
	out := make([]Interval, len(xs))
	far := b.farthest(xs)
	for i, x := range xs {
		out[i] = b.reaching(x, far)
	}
	return out
}

// reaching is the interval of the mean of x that reaches so many standard errors
// at least.
func (b Bootstrap) reaching(x []float64, far float64) Interval {
	_, iv := b.Mean(x)
	if known(x) {
		return iv
	}
	s := b.blocks(x)
	if reach := far * s.se; reach > 0 {
		iv.Lo, iv.Hi = math.Min(iv.Lo, s.mean-reach), math.Max(iv.Hi, s.mean+reach)
	}
	return iv
}

// deviations of a sample's blocks from its mean, laid end to end, and the mean of
// their squares.
type deviations struct {
	d      []float64
	square float64
}

func (s *blocks) deviations(block int) (v deviations) {
	for j := range int(s.n) {
		d := s.means[j*block] - s.mean
		v.d = append(v.d, d)
		v.square += d * d / s.n
	}
	return v
}

// farthest is how many standard errors the worst of the samples' means is off in
// all but few resamples; 0 where nothing can be said.
func (b Bootstrap) farthest(xs [][]float64) float64 {
	var all []deviations // of the samples that vary
	var s blocks
	var x []float64
	for _, x = range xs {
		if !known(x) {
			s = b.blocks(x)
			all = append(all, s.deviations(b.block(len(x))))
		}
	}
	switch {
	case s.n < 2:
		return 0
	case s.n < fewBlocks:
		return s.student(1 - (1-b.level())/float64(len(all)))
	}
	rng := b.rng(x)
	sign := make([]float64, int(s.n))
	worst := make([]float64, b.resamples())
	for i := range worst {
		for j := range sign {
			sign[j] = 1 - 2*float64(rng.Uint64()&1)
		}
		for k := range all {
			v := &all[k]
			m := 0.0
			for j, d := range v.d {
				m += sign[j] * d / s.n
			}
			if left := v.square - m*m; left > 0 {
				worst[i] = math.Max(worst[i], math.Abs(m)/math.Sqrt(left/(s.n-1)))
			}
		}
	}
	slices.Sort(worst)
	return Quantile(worst, b.level())
}
