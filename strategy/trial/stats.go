package trial

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Interval is a confidence interval.
type Interval struct {
	Lo float64 `json:"lo"`
	Hi float64 `json:"hi"`
}

// Spread describes a sample.
type Spread struct {
	Median float64 `json:"median"`
	P10    float64 `json:"p10"`
	P90    float64 `json:"p90"`
	Mean   float64 `json:"mean"`
}

// NewSpread describes x; zero for an empty sample.
func NewSpread(x []float64) Spread {
	if len(x) == 0 {
		return Spread{}
	}
	s := slices.Sorted(slices.Values(x))
	return Spread{Median: Quantile(s, 0.5), P10: Quantile(s, 0.1), P90: Quantile(s, 0.9), Mean: mean(x)}
}

// Quantile interpolates linearly between the order statistics of a sorted
// sample, the smallest at p = 0 and the largest at p = 1 (R. J. Hyndman and Y.
// Fan, "Sample quantiles in statistical packages", 1996, definition 7).
func Quantile(sorted []float64, p float64) float64 {
	h := p * float64(len(sorted)-1)
	i := min(int(h), len(sorted)-1)
	if i+1 == len(sorted) {
		return sorted[i]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

func mean(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// Bootstrap makes intervals of means. The zero value uses 2 000 resamples of
// single values at the level 0.95.
//
// The interval is the studentised bootstrap's (B. Efron and R. J. Tibshirani,
// "An Introduction to the Bootstrap", 1993, chapter 12). With Block > 1 values
// that follow each other resemble each other: whole blocks on a circle are
// drawn (D. N. Politis and J. P. Romano, "A circular block-resampling procedure
// for stationary data", 1992), and the standard error is that of the means of
// blocks. With fewer than fewBlocks blocks the tails of the resampled ratio are
// wild, and Student's t is used instead. Samples of equal length are resampled
// alike, so that differences stay differences.
type Bootstrap struct {
	Resamples int
	Seed      uint64
	Level     float64
	Block     int
}

const fewBlocks = 10

// Mean returns the mean of x and its interval. The interval of a sample whose
// values are all equal is that value; of a single value nothing is known, and
// the interval is the value too.
func (b Bootstrap) Mean(x []float64) (float64, Interval) {
	n := len(x)
	m := mean(x)
	if n < 2 {
		return m, Interval{m, m}
	}
	if slices.Min(x) == slices.Max(x) {
		return x[0], Interval{x[0], x[0]}
	}
	level := orDefault(b.Level, 0.95)
	block := min(max(b.Block, 1), n/2)
	blocks := n / block
	means := make([]float64, n) // of the blocks that begin at each value
	for i := range means {
		for k := range block {
			means[i] += x[(i+k)%n] / float64(block)
		}
	}
	var ss float64
	for _, v := range means {
		ss += (v - m) * (v - m)
	}
	k := float64(blocks)
	se := math.Sqrt(ss / float64(n) / (k - 1))
	if blocks < fewBlocks {
		if k < 2 || se == 0 {
			return m, Interval{slices.Min(x), slices.Max(x)}
		}
		q := distuv.StudentsT{Sigma: 1, Nu: k - 1}.Quantile(0.5 + level/2)
		return m, Interval{m - q*se, m + q*se}
	}
	resamples := b.Resamples
	if resamples <= 0 {
		resamples = 2000
	}
	ratios := make([]float64, 0, resamples)
	drawn := make([]float64, blocks)
	src := rand.NewPCG(b.Seed, uint64(n)<<20+uint64(block))
	rng := rand.New(src)
	for range resamples {
		var sum, sq float64
		for j := range drawn {
			drawn[j] = means[rng.IntN(n)]
			sum += drawn[j]
		}
		mm := sum / k
		for _, v := range drawn {
			sq += (v - mm) * (v - mm)
		}
		if s := math.Sqrt(sq / k / (k - 1)); s > 0 {
			ratios = append(ratios, (mm-m)/s)
		}
	}
	if len(ratios) < resamples/2 {
		return m, Interval{slices.Min(x), slices.Max(x)}
	}
	slices.Sort(ratios)
	return m, Interval{m - se*Quantile(ratios, 0.5+level/2), m - se*Quantile(ratios, 0.5-level/2)}
}

// Differences returns a − b for each pair of values.
func Differences(a, b []float64) []float64 {
	d := make([]float64, len(a))
	for i := range a {
		d[i] = a[i] - b[i]
	}
	return d
}
