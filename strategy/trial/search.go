package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"foilledger/strategy"
	"foilledger/vpp/units"
)

// Candidate is a set of thresholds that the search tries.
type Candidate struct {
	OutKn    float64 `json:"out_tws_kn"`
	InKn     float64 `json:"in_tws_kn"`
	MinDeg   float64 `json:"min_twa_deg"`
	MaxDeg   float64 `json:"max_twa_deg"`
	DwellMin float64 `json:"dwell_min"`
}

// Threshold returns the policy of a candidate.
func (c Candidate) Threshold(setting uint8) strategy.Threshold {
	return strategy.Threshold{Setting: setting, OutTWSMS: units.MS(c.OutKn), InTWSMS: units.MS(c.InKn),
		MinTWARad: units.Rad(c.MinDeg), MaxTWARad: units.Rad(c.MaxDeg), MarginRad: units.Rad(5), DwellS: c.DwellMin * 60}
}

func (c Candidate) String() string {
	return fmt.Sprintf("out above %g kn from %g° to %g°, in below %g kn, %g min between changes", c.OutKn, c.MinDeg, c.MaxDeg, c.InKn, c.DwellMin)
}

// Candidates lists the thresholds that the search tries: every combination of
// some wind speeds, hystereses, sectors and dwell times.
func Candidates() []Candidate {
	var out []Candidate
	for _, kn := range []float64{6, 8, 10, 12, 14, 16, 18} {
		for _, less := range []float64{0, 3} {
			for _, lo := range []float64{40, 55, 70, 85} {
				for _, hi := range []float64{110, 130, 150, 170} {
					for _, dwell := range []float64{0, 60} {
						out = append(out, Candidate{kn, kn - less, lo, hi, dwell})
					}
				}
			}
		}
	}
	return out
}

// edges names in what a candidate stands at the edge of those that were tried,
// so that a better one may lie beyond. No hysteresis and no dwell are not edges:
// there is nothing beyond.
func (c Candidate) edges(tried []Candidate) []string {
	var out []string
	for _, q := range []struct {
		name  string
		of    func(Candidate) float64
		floor float64
	}{
		{"wind to put them out", func(c Candidate) float64 { return c.OutKn }, math.Inf(-1)},
		{"wind to take them in", func(c Candidate) float64 { return c.OutKn - c.InKn }, 0},
		{"least angle", func(c Candidate) float64 { return c.MinDeg }, math.Inf(-1)},
		{"greatest angle", func(c Candidate) float64 { return c.MaxDeg }, math.Inf(-1)},
		{"dwell time", func(c Candidate) float64 { return c.DwellMin }, 0},
	} {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, t := range tried {
			lo, hi = math.Min(lo, q.of(t)), math.Max(hi, q.of(t))
		}
		if x := q.of(c); lo < hi && (x == hi || x == lo && lo > q.floor) {
			out = append(out, q.name)
		}
	}
	return out
}

// SearchSummary is the result of the threshold search.
type SearchSummary struct {
	Tried    int `json:"tried"`
	Training int `json:"training_weathers"`
	Testing  int `json:"testing_weathers"`
	// Best are the best candidates on the training weathers, with what they
	// gain over the first policy there and on weathers that they were not
	// chosen on.
	Best []Found `json:"best"`
	// TestInterval is the interval of the first one's mean gain on those, and
	// Optimism how much more it gained where it was chosen.
	TestInterval Interval `json:"test_interval_min"`
	Optimism     float64  `json:"optimism_min"`
	// UsualMin is what the policy with the usual thresholds gains on them on
	// average; nil when it does not take part.
	UsualMin *float64 `json:"usual_test_gain_min,omitempty"`
	// Edges says in what the first one is an extreme of those tried.
	Edges []string `json:"at_the_edge_of_what_was_tried"`
}

// Found is a candidate with the mean time that it gains.
type Found struct {
	Candidate
	TrainMin float64 `json:"train_gain_min"`
	TestMin  float64 `json:"test_gain_min"`
}

// TrainingSet says which of n weathers thresholds are chosen on: a share of
// them drawn with a seed, or, where neighbours resemble each other (block > 1),
// the first ones.
func TrainingSet(n int, share float64, block int, seed uint64) []bool {
	k := int(share*float64(n) + 0.5)
	out := make([]bool, n)
	if block > 1 {
		for i := range k {
			out[i] = true
		}
		return out
	}
	for _, i := range rand.New(rand.NewPCG(seed, 17)).Perm(n)[:k] {
		out[i] = true
	}
	return out
}

// search chooses the best candidates on the training weathers and tests them.
func (z *Summarizer) search(records []Record, boat int, boot Bootstrap) *SearchSummary {
	s := &SearchSummary{Tried: len(z.Search)}
	at := map[int]*Record{}
	for i := range records {
		r := &records[i]
		if r.Boat == boat && len(r.Search) == len(z.Search) && len(r.Runs) > 0 && r.Runs[0].Outcome == Arrived {
			at[r.Weather] = r
		}
	}
	gained := func(training bool, timeS func(*Record) float64) []float64 {
		var g []float64
		for w := range z.Weathers {
			r := at[w]
			if r == nil || z.Train[w] != training {
				continue
			}
			t := timeS(r)
			if t < 0 { // never arrives: as bad as two days late
				t = r.Runs[0].TimeS + 2*86400
			}
			g = append(g, (r.Runs[0].TimeS-t)/60)
		}
		return g
	}
	gains := func(c int, training bool) []float64 {
		return gained(training, func(r *Record) float64 { return r.Search[c] })
	}
	s.Training, s.Testing = len(gains(0, true)), len(gains(0, false))
	if s.Training == 0 || s.Testing == 0 {
		return s
	}
	order := make([]int, len(z.Search))
	train := make([]float64, len(z.Search))
	for c := range z.Search {
		order[c] = c
		train[c] = mean(gains(c, true))
	}
	sort.SliceStable(order, func(i, j int) bool { return train[order[i]] > train[order[j]] })
	for _, c := range order {
		f := Found{z.Search[c], train[c], mean(gains(c, false))}
		if n := len(s.Best); n == most {
			break
		} else if n > 0 && f.TrainMin == s.Best[n-1].TrainMin && f.TestMin == s.Best[n-1].TestMin {
			continue // the thresholds differ where it makes no difference
		}
		s.Best = append(s.Best, f)
	}
	m, iv := boot.Mean(gains(order[0], false))
	s.TestInterval, s.Optimism, s.Edges = iv, train[order[0]]-m, z.Search[order[0]].edges(z.Search)
	if i := slices.Index(z.Policies, ThresholdsName); i >= 0 {
		usual := mean(gained(false, func(r *Record) float64 {
			if r.Runs[i].Outcome != Arrived {
				return -1
			}
			return r.Runs[i].TimeS
		}))
		s.UsualMin = &usual
	}
	return s
}
