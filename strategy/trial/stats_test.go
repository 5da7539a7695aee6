package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/testdata/validation"
)

// TestCoverage counts how often the intervals hold a known mean.
func TestCoverage(t *testing.T) {
	const rounds = 600
	normal := func(r *rand.Rand, x []float64) {
		for i := range x {
			x[i] = 3 + r.NormFloat64()
		}
	}
	skewed := func(r *rand.Rand, x []float64) {
		for i := range x {
			x[i] = 3 + r.ExpFloat64() - 1
		}
	}
	// Moving sums of six: neighbours share five of six parts.
	overlapping := func(r *rand.Rand, x []float64) {
		e := make([]float64, len(x)+5)
		for i := range e {
			e[i] = r.NormFloat64()
		}
		for i := range x {
			x[i] = 3
			for k := range 6 {
				x[i] += e[i+k] / 6
			}
		}
	}
	for _, tc := range []struct {
		name     string
		n, block int
		draw     func(*rand.Rand, []float64)
		lo, hi   float64
	}{
		{"normal-5", 5, 1, normal, 0.92, 0.98},
		{"normal-30", 30, 1, normal, 0.92, 0.98},
		{"skewed-30", 30, 1, skewed, 0.91, 0.98},
		{"skewed-100", 100, 1, skewed, 0.92, 0.98},
		{"overlapping-300", 300, 12, overlapping, 0.88, 0.98},
	} {
		hit, bias := 0, 0.0
		x := make([]float64, tc.n)
		for i := range rounds {
			tc.draw(rand.New(rand.NewPCG(11, uint64(i))), x)
			m, iv := Bootstrap{Resamples: 400, Seed: uint64(i), Block: tc.block}.Mean(x)
			if iv.Lo <= 3 && 3 <= iv.Hi {
				hit++
			}
			bias += (m - 3) / rounds
		}
		validation.Band(t, validation.Row{Package: "strategy/trial", ID: "coverage-" + tc.name, Quantity: "share of 95 % intervals that hold the known mean",
			Got: float64(hit) / rounds, Source: "known mean of drawn samples; Efron and Tibshirani 1993, chapter 12", Kind: validation.Analytic}, tc.lo, tc.hi)
		// Five standard errors of the mean of the rounds.
		se := 1 / math.Sqrt(float64(rounds*tc.n))
		if tc.block > 1 {
			se *= math.Sqrt(6)
		}
		validation.Check(t, validation.Row{Package: "strategy/trial", ID: "bias-" + tc.name, Quantity: "mean error of the estimated mean",
			Got: bias, Tol: 5 * se, Source: "known mean of drawn samples", Kind: validation.Analytic})
	}
	// The blocks matter: singly, overlapping values give intervals that are
	// much too narrow.
	hit := 0
	x := make([]float64, 300)
	for i := range rounds {
		overlapping(rand.New(rand.NewPCG(11, uint64(i))), x)
		if _, iv := (Bootstrap{Resamples: 200, Seed: 1}).Mean(x); iv.Lo <= 3 && 3 <= iv.Hi {
			hit++
		}
	}
	if share := float64(hit) / rounds; share > 0.75 {
		t.Errorf("singly drawn, intervals of overlapping values hold the mean in %.2f of cases: the test's case is too easy", share)
	}
}

// TestJointCoverage: six policies of equal mean sail the same weathers. All
// fifteen joint intervals of their differences hold zero at once about as often
// as the level says; the single ones far less often.
func TestJointCoverage(t *testing.T) {
	const rounds, policies = 300, 6
	for _, tc := range []struct {
		name   string
		n      int
		skew   bool
		lo, hi float64
	}{{"normal-5", 5, false, 0.93, 1}, {"normal-12", 12, false, 0.92, 0.985}, {"normal-40", 40, false, 0.92, 0.985}, {"skewed-40", 40, true, 0.91, 0.985}} {
		joint, single := 0, 0
		for round := range rounds {
			r := rand.New(rand.NewPCG(29, uint64(round)))
			times := make([][]float64, policies)
			for i := range times {
				times[i] = make([]float64, tc.n)
			}
			for w := range tc.n {
				weather := r.ExpFloat64() - 1
				for i := range times {
					if tc.skew { // what the weather does to each differs too
						times[i][w] = float64(i)*weather + r.ExpFloat64()
					} else {
						times[i][w] = 10*weather + r.NormFloat64()
					}
				}
			}
			b := Bootstrap{Resamples: 400, Seed: uint64(round)}
			var diffs [][]float64
			for i := range times {
				for j := range i {
					diffs = append(diffs, Differences(times[i], times[j]))
				}
			}
			all, each := 1, 1
			for k, iv := range b.Joint(diffs) {
				_, alone := b.Mean(diffs[k])
				if !iv.holds(0) {
					all = 0
				}
				if !alone.holds(0) {
					each = 0
				}
				if iv.Lo > alone.Lo || iv.Hi < alone.Hi {
					t.Fatalf("%s: the joint interval %v is narrower than the single one %v", tc.name, iv, alone)
				}
			}
			joint += all
			single += each
		}
		validation.Band(t, validation.Row{Package: "strategy/trial", ID: "joint-coverage-" + tc.name,
			Quantity: fmt.Sprintf("share of rounds in which all 15 joint 95 %% intervals of six equal policies hold zero, %d weathers", tc.n),
			Got:      float64(joint) / rounds, Source: "known means of drawn samples", Kind: validation.Analytic}, tc.lo, tc.hi)
		if share := float64(single) / rounds; share > 0.8 {
			t.Errorf("%s: all single intervals hold zero in %.2f of rounds: the case asks nothing of the joint ones", tc.name, share)
		}
	}
}

func TestQuantileAndSpread(t *testing.T) {
	for i, tc := range []struct {
		x    []float64
		p, w float64
	}{{[]float64{1, 2, 3, 4}, 0.5, 2.5}, {[]float64{1, 2, 3, 4, 5}, 0.1, 1.4}, {[]float64{7}, 0.9, 7}, {[]float64{1, 2}, 1, 2}} {
		validation.Check(t, validation.Row{Package: "strategy/trial", ID: fmt.Sprintf("quantile-%d", i), Quantity: fmt.Sprintf("quantile %g of %v", tc.p, tc.x),
			Got: Quantile(tc.x, tc.p), Want: tc.w, Tol: 1e-12, Source: "Hyndman and Fan 1996, definition 7", Kind: validation.Analytic})
	}
	if m, iv := (Bootstrap{}).Mean([]float64{0, 0, 0}); m != 0 || iv != (Interval{}) {
		t.Errorf("equal policies differ by %g, %v", m, iv)
	}
	a, ia := Bootstrap{Seed: 3}.Mean([]float64{1, 5, 2, 8, 3, 9, 4, 4, 7, 2, 6})
	b, ib := Bootstrap{Seed: 3}.Mean([]float64{1, 5, 2, 8, 3, 9, 4, 4, 7, 2, 6})
	if a != b || ia != ib {
		t.Error("the same seed gave another interval")
	}
}
