package trial

import (
	"fmt"
	"math/rand/v2"
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
	for _, kn := range []float64{8, 10, 12, 14, 16, 18} {
		for _, less := range []float64{0, 3} {
			for _, lo := range []float64{55, 70, 85} {
				for _, hi := range []float64{130, 150, 170} {
					for _, dwell := range []float64{0, 60} {
						out = append(out, Candidate{kn, kn - less, lo, hi, dwell})
					}
				}
			}
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
	gains := func(c int, training bool) []float64 {
		var g []float64
		for w := range z.Weathers {
			r := at[w]
			if r == nil || z.Train[w] != training {
				continue
			}
			t := r.Search[c]
			if t < 0 { // never arrives: as bad as two days late
				t = r.Runs[0].TimeS + 2*86400
			}
			g = append(g, (r.Runs[0].TimeS-t)/60)
		}
		return g
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
	s.TestInterval, s.Optimism = iv, train[order[0]]-m
	return s
}
