package trial

import (
	"slices"
	"testing"

	"foilledger/testdata/validation"
)

// TestSearch: the thresholds are chosen by the training weathers alone, and the
// others say what they are worth.
func TestSearch(t *testing.T) {
	tried := []Candidate{{8, 8, 55, 130, 0}, {10, 7, 70, 150, 0}, {12, 12, 55, 150, 60}}
	z := &Summarizer{Boats: []string{"b"}, Policies: []string{"never out", ThresholdsName}, Weathers: 6, Search: tried, Train: []bool{true, false, true, false, true, false}}
	// Minutes gained by each candidate where it is chosen, and elsewhere.
	gain := [2][]float64{{10, 30, 20}, {50, 5, 20}}
	var records []Record
	for w := range 6 {
		r := Record{Weather: w, Runs: []Result{{TimeS: 86400}, {TimeS: 86400 - 7*60}}}
		for _, g := range gain[w%2] {
			r.Search = append(r.Search, 86400-60*g-float64(w-w%2))
		}
		records = append(records, r)
	}
	s := z.Summarize(records).Boats[0].Search
	if s.Training != 3 || s.Testing != 3 || s.Tried != 3 || s.Best[0].Candidate != tried[1] || s.Best[1].Candidate != tried[2] {
		t.Fatalf("chose %+v", s)
	}
	if want := []string{"wind to take them in", "greatest angle", "least angle"}; !sameWords(s.Edges, want) {
		t.Errorf("edges %q, want %q", s.Edges, want)
	}
	for _, tc := range []struct {
		id, what  string
		got, want float64
	}{
		{"search-chosen", "gain where the best thresholds were chosen", s.Best[0].TrainMin, 30 + 2.0/60},
		{"search-tested", "gain of the same thresholds on the other weathers", s.Best[0].TestMin, 5 + 2.0/60},
		{"search-optimism", "difference of the two", s.Optimism, 25},
		{"search-usual", "gain of the usual thresholds on the other weathers", *s.UsualMin, 7},
	} {
		validation.Check(t, validation.Row{Package: "strategy/trial", ID: tc.id, Quantity: tc.what, Unit: "min", Got: tc.got, Want: tc.want, Tol: 1e-9,
			Source: "by construction", Kind: validation.Analytic})
	}
}

func sameWords(a, b []string) bool {
	return slices.Equal(slices.Sorted(slices.Values(a)), slices.Sorted(slices.Values(b)))
}
