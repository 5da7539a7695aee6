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

func (iv Interval) holds(x float64) bool { return iv.Lo <= x && x <= iv.Hi }

func (iv Interval) reversed() Interval { return Interval{-iv.Hi, -iv.Lo} }

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

// blocks is a sample by its blocks.
type blocks struct {
	means    []float64 // of the blocks that begin at each value
	n        float64   // blocks that the sample holds
	mean, se float64   // of the sample
	least    Interval  // its smallest and largest value
}

// block is the length of the blocks of a sample of n values.
func (b Bootstrap) block(n int) int { return min(max(b.Block, 1), n/2) }

// rng is the same for samples of equal length.
func (b Bootstrap) rng(x []float64) *rand.Rand {
	return rand.New(rand.NewPCG(b.Seed, uint64(len(x))<<20+uint64(b.block(len(x)))))
}

func (b Bootstrap) blocks(x []float64) blocks {
	n := len(x)
	block := b.block(n)
	s := blocks{means: make([]float64, n), n: float64(n / block), mean: mean(x), least: Interval{slices.Min(x), slices.Max(x)}}
	for i := range s.means {
		for k := range block {
			s.means[i] += x[(i+k)%n] / float64(block)
		}
	}
	var ss float64
	for _, v := range s.means {
		ss += (v - s.mean) * (v - s.mean)
	}
	s.se = math.Sqrt(ss / float64(n) / (s.n - 1))
	return s
}

func (b Bootstrap) resamples() int {
	if b.Resamples > 0 {
		return b.Resamples
	}
	return 2000
}

func (b Bootstrap) level() float64 { return orDefault(b.Level, 0.95) }

// student is the quantile of Student's t that the middle share level lies below.
func (s *blocks) student(level float64) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: s.n - 1}.Quantile(0.5 + level/2)
}

// known reports whether all there is to say of the mean of x is that it is x's
// first value: a sample of one, or of equal values.
func known(x []float64) bool { return len(x) < 2 || slices.Min(x) == slices.Max(x) }

// Mean returns the mean of x and its interval. The interval of a sample whose
// values are all equal is that value; of a single value nothing is known, and
// the interval is the value too.
func (b Bootstrap) Mean(x []float64) (float64, Interval) {
	if known(x) {
		m := mean(x[:min(1, len(x))])
		return m, Interval{m, m}
	}
	s := b.blocks(x)
	if s.n < fewBlocks {
		if s.n < 2 || s.se == 0 {
			return s.mean, s.least
		}
		q := s.student(b.level())
		return s.mean, Interval{s.mean - q*s.se, s.mean + q*s.se}
	}
	ratios := make([]float64, 0, b.resamples())
	drawn := make([]float64, int(s.n))
	rng := b.rng(x)
	for range b.resamples() {
		var sum, sq float64
		for j := range drawn {
			drawn[j] = s.means[rng.IntN(len(x))]
			sum += drawn[j]
		}
		m := sum / s.n
		for _, v := range drawn {
			sq += (v - m) * (v - m)
		}
		if se := math.Sqrt(sq / s.n / (s.n - 1)); se > 0 {
			ratios = append(ratios, (m-s.mean)/se)
		}
	}
	if len(ratios) < b.resamples()/2 {
		return s.mean, s.least
	}
	slices.Sort(ratios)
	return s.mean, Interval{s.mean - s.se*Quantile(ratios, 0.5+b.level()/2), s.mean - s.se*Quantile(ratios, 0.5-b.level()/2)}
}

// Differences returns a − b for each pair of values.
func Differences(a, b []float64) []float64 {
	d := make([]float64, len(a))
	for i := range a {
		d[i] = a[i] - b[i]
	}
	return d
}
