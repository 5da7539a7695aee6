package refit

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"foilledger/strategy/trial"
	"foilledger/vpp"
)

// Comparison is what the variants came to.
type Comparison struct {
	Passages int   // on which every variant arrives
	Counted  []int // which ones these are
	LeftOut  []int // the others
	Weathers int   // in which the passages that count are sailed; of one, nothing is known of others
	Variants []Compared
	// CoarseErrorMin is by how much the tables of the samples change a variant's
	// mean gain, minutes: the largest Shift of all variants.
	CoarseErrorMin float64
	SamplePassages int // of the samples, on which every variant arrives in all

	sampling Sampling
	weathers []int // of the passages that count
}

// Sampling says how passages hang together, which the intervals go by. The zero
// value takes every passage for a weather of its own.
type Sampling struct {
	Tracks int // passages in a row that share a weather; 0: one
	Block  int // weathers in a row that resemble each other; 0: one
	Seed   uint64
}

// intervals returns those of the means of several rows of values on the passages
// that count, over weathers: each by itself, and for all at once.
func (c *Comparison) intervals(rows [][]float64) (each, joint []trial.Interval) {
	b := trial.Bootstrap{Seed: c.sampling.Seed, Block: c.sampling.Block}
	sums := make([][]float64, len(rows))
	for i, x := range rows {
		sums[i] = trial.PerWeather(x, c.weathers)
		_, iv := b.Mean(sums[i])
		each = append(each, iv)
	}
	return each, b.Joint(sums)
}

// Compared is one variant against the base boat. Times are minutes per passage,
// positive when the variant is faster.
type Compared struct {
	Name string
	// Gain is the mean gain over the base boat with its interval from the
	// weather, by itself and so that those of all variants hold at once, and
	// Spread its distribution over the passages.
	Gain            float64
	Interval, Joint trial.Interval
	Spread          trial.Spread
	Faster          float64 // share of the passages on which the variant is faster
	// OwnGain is what the variant's foils gain over the same boat with its
	// foils never out, and FoilGain over the base boat without foils.
	OwnGain, FoilGain float64
	// Ledger splits Gain; its minutes sum to it.
	Ledger []Item
	// AddedKg is the mass added to the base boat.
	AddedKg float64
	LoadN   float64 // greatest mean force on a foil, mean over the passages
	// Limited is the share of the time with a foil out in which the limit of its
	// load ruled the speed.
	Limited float64
	Changes float64
	EffortJ float64
	// Model is the spread of the mean gain over the samples of the model's
	// factors; Samples holds the mean gains. They are moved by Shift, which is
	// how much more the full tables give without factors.
	Model   trial.Spread
	Samples []float64
	Shift   float64
	// Effects are what each uncertain factor does to the gain, and Centre is the
	// gain with all factors at 1, by a straight line through the samples.
	Effects []Effect
	Centre  float64
	// Fit is the share of the samples' variance that the effects explain, less
	// what as many slopes would explain of mere chance.
	Fit float64

	gains []float64 // by passage
}

// TooCoarse reports whether the samples say nothing of this variant: their
// coarse tables alone move its gain by more than half of what is left of it.
func (c *Compared) TooCoarse() bool { return 2*math.Abs(c.Shift) > math.Abs(c.Model.Median) }

// Gains returns the gain on every passage that counts, minutes.
func (c *Compared) Gains() []float64 { return c.gains }

// Effect is the change of a variant's gain when one uncertain factor of the
// model stands at the ends of its range, minutes, from a straight line through
// the samples.
type Effect struct {
	Range         vpp.FactorRange
	LowMin, HiMin float64
}

// Compare sums up the records of all jobs.
func (s *Study) Compare(records []Record, sampling Sampling) *Comparison {
	v := len(s.Boats)
	at := func(round, variant int) []Outcome { return records[round*v+variant].Out }
	out := &Comparison{Variants: make([]Compared, v), sampling: sampling}
	var common []int
	for i := range at(0, 0) {
		all := true
		for k := range v {
			all = all && at(0, k)[i].Arrived
		}
		if all {
			common = append(common, i)
			w := i / max(sampling.Tracks, 1)
			if n := len(out.weathers); n == 0 || out.weathers[n-1] != w {
				out.Weathers++
			}
			out.weathers = append(out.weathers, w)
		} else {
			out.LeftOut = append(out.LeftOut, i)
		}
	}
	out.Passages, out.Counted = len(common), common
	var gains [][]float64
	for k := range v {
		c := &out.Variants[k]
		c.Name = s.Names[k]
		c.AddedKg = s.Boats[k].Hull.DisplacementKg - s.Boats[0].Hull.DisplacementKg
		c.compare(at(0, 0), at(0, k), common)
		c.Spread = trial.NewSpread(c.gains)
		c.Gain = c.Spread.Mean
		gains = append(gains, c.gains)
	}
	if len(common) > 0 {
		each, joint := out.intervals(gains)
		for k := range v {
			out.Variants[k].Interval, out.Variants[k].Joint = each[k], joint[k]
		}
	}
	s.compareSamples(out, at, common)
	return out
}

// compare compares outcomes on the passages that count.
func (c *Compared) compare(base, mine []Outcome, common []int) {
	n := float64(len(common))
	ledger := map[string]float64{}
	out, limited := 0.0, 0.0
	for _, i := range common {
		b, m := &base[i], &mine[i]
		g := (b.TimeS - m.TimeS) / 60
		c.gains = append(c.gains, g)
		if g > 0 {
			c.Faster += 1 / n
		}
		c.OwnGain += (m.NeverS - m.TimeS) / 60 / n
		c.FoilGain += (m.AshoreS - m.TimeS) / 60 / n
		c.LoadN += m.LoadN / n
		out, limited = out+m.OutS, limited+m.LimitedS
		c.Changes += float64(m.Changes) / n
		c.EffortJ += m.EffortJ / n
		for _, it := range m.Ledger {
			ledger[it.Cause] += it.GainS / 60 / n
		}
		for _, it := range b.Ledger {
			ledger[it.Cause] -= it.GainS / 60 / n
		}
	}
	if out > 0 {
		c.Limited = limited / out
	}
	for cause, g := range ledger {
		if g != 0 {
			c.Ledger = append(c.Ledger, Item{cause, g})
		}
	}
	sort.Slice(c.Ledger, func(i, j int) bool {
		a, b := c.Ledger[i], c.Ledger[j]
		if x, y := math.Abs(a.GainS), math.Abs(b.GainS); x != y {
			return x > y
		}
		return a.Cause < b.Cause
	})
}

// compareSamples finds the spread and the effects of the model's factors.
func (s *Study) compareSamples(out *Comparison, at func(round, variant int) []Outcome, full []int) {
	if len(s.Samples) == 0 {
		return
	}
	var common []int
	for i := range s.samplePassages() {
		all := true
		for r := range s.Rounds() {
			for k := range s.Boats {
				all = all && at(r, k)[i].Arrived
			}
		}
		if all {
			common = append(common, i)
		}
	}
	out.SamplePassages = len(common)
	if len(common) == 0 {
		return
	}
	mean := func(round, k int) float64 {
		sum := 0.0
		for _, i := range common {
			sum += at(round, 0)[i].TimeS - at(round, k)[i].TimeS
		}
		return sum / 60 / float64(len(common))
	}
	for k := range out.Variants {
		c := &out.Variants[k]
		c.Shift = mean(0, k) - mean(1, k)
		out.CoarseErrorMin = math.Max(out.CoarseErrorMin, math.Abs(c.Shift))
		for r := range s.Samples {
			c.Samples = append(c.Samples, mean(r+2, k)+c.Shift)
		}
		c.Model = trial.NewSpread(c.Samples)
		c.Effects, c.Centre, c.Fit = effects(s.Samples, c.Samples)
	}
}

// LeastSamples are needed for the effects: twice as many as there are factors.
func LeastSamples() int { return 2 * len(vpp.FactorRanges()) }

// effects draws a straight line through the gains of the samples by least
// squares, a slope for each factor; nil when there are fewer than LeastSamples.
// explained is the share of the variance after H. Theil (1961): less what the
// same number of slopes would explain of mere chance.
func effects(samples []vpp.Factors, gains []float64) (out []Effect, centre, explained float64) {
	ranges := vpp.FactorRanges()
	n, p := len(samples), len(ranges)+1
	if n < LeastSamples() {
		return nil, 0, 0
	}
	a, b := mat.NewDense(n, p, nil), mat.NewDense(n, 1, nil)
	mean := 0.0
	for i := range samples {
		a.Set(i, 0, 1)
		x := samples[i].Values()
		for k, r := range ranges {
			a.Set(i, k+1, scoreOf(r, x[k]))
		}
		b.Set(i, 0, gains[i])
		mean += gains[i] / float64(n)
	}
	var x mat.Dense
	if err := x.Solve(a, b); err != nil {
		return nil, 0, 0
	}
	var left, total float64
	for i := range gains {
		fit := 0.0
		for k := range p {
			fit += a.At(i, k) * x.At(k, 0)
		}
		left += (gains[i] - fit) * (gains[i] - fit)
		total += (gains[i] - mean) * (gains[i] - mean)
	}
	for k, r := range ranges {
		slope := x.At(k+1, 0)
		out = append(out, Effect{Range: r, LowMin: -ninety * slope, HiMin: ninety * slope})
	}
	explained = 1
	if total > 0 {
		explained = math.Max(0, 1-left/total*float64(n-1)/float64(n-p))
	}
	return out, x.At(0, 0), explained
}

// Pareto marks the variants that no other beats in both gain and cost, where
// cost is any quantity of which less is better.
func Pareto(gain, cost []float64) []bool {
	out := make([]bool, len(gain))
	for i := range gain {
		out[i] = true
		for j := range gain {
			if gain[j] >= gain[i] && cost[j] <= cost[i] && (gain[j] > gain[i] || cost[j] < cost[i]) {
				out[i] = false
			}
		}
	}
	return out
}
