package refit

import (
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp"
)

// drawn is a comparison of made-up passages: two tracks in each weather, whose
// gains are the variant's true mean, what the weather does to it, and noise.
func drawn(rng *rand.Rand, weathers int, means []float64) (*Study, []Record) {
	s := &Study{Names: []string{"as she is"}, Boats: []*vpp.Boat{{}}}
	records := []Record{{}}
	for range means {
		s.Names, s.Boats = append(s.Names, "variant"), append(s.Boats, &vpp.Boat{})
		records = append(records, Record{Variant: len(records)})
	}
	for range weathers {
		shared := rng.ExpFloat64() // skewed, as gains are
		for range 2 {
			base := 4e5 + 2e4*rng.NormFloat64()
			records[0].Out = append(records[0].Out, Outcome{Arrived: true, TimeS: base})
			for k, m := range means {
				gain := m + 10*(shared-1)*float64(k+1) + 3*rng.NormFloat64()
				records[k+1].Out = append(records[k+1].Out, Outcome{Arrived: true, TimeS: base - 60*gain})
			}
		}
	}
	return s, records
}

// TestIntervalsCover: the intervals of the gains hold the true means as often as
// they say, where passages of the same weather resemble each other.
func TestIntervalsCover(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	means := []float64{12, 0, -5}
	const rounds = 400
	covered, all, faster := 0, 0, 0
	meanOfMeans := 0.0
	for r := range rounds {
		s, records := drawn(rng, 24, means)
		c := s.Compare(records, Sampling{Tracks: 2, Seed: uint64(r)})
		if c.Passages != 48 || c.Weathers != 24 {
			t.Fatalf("%d passages in %d weathers", c.Passages, c.Weathers)
		}
		together := true
		for k, m := range means {
			v := &c.Variants[k+1]
			together = together && v.Joint.Lo <= m && m <= v.Joint.Hi
			if !(v.Joint.Lo <= v.Interval.Lo && v.Joint.Hi >= v.Interval.Hi) {
				t.Fatalf("joint %v, by itself %v", v.Joint, v.Interval)
			}
			if v.Interval.Lo <= m && m <= v.Interval.Hi {
				covered++
			}
			if v.Interval.Lo > 0 && m <= 0 {
				faster++
			}
		}
		if together {
			all++
		}
		meanOfMeans += c.Variants[1].Gain / rounds
	}
	validation.Band(t, validation.Row{Package: "strategy/refit", ID: "interval-coverage", Quantity: "share of 95 % intervals of a gain that hold the true mean, 24 skewed weathers of 2 passages each",
		Got: float64(covered) / (rounds * 3), Unit: "1", Source: "the mean that made the passages", Kind: validation.Analytic}, 0.92, 0.975)
	validation.Band(t, validation.Row{Package: "strategy/refit", ID: "joint-coverage", Quantity: "share of cases in which the joint 95 % intervals of three gains hold all true means, 24 skewed weathers of 2 passages each",
		Got: float64(all) / rounds, Unit: "1", Source: "the means that made the passages", Kind: validation.Analytic}, 0.91, 0.985)
	validation.Check(t, validation.Row{Package: "strategy/refit", ID: "gain-unbiased", Quantity: "mean of the mean gains of made passages", Got: meanOfMeans, Want: 12, Tol: 3 * 10 / math.Sqrt(24*rounds), Unit: "min",
		Source: "the mean that made the passages, three standard errors", Kind: validation.Analytic})
	if share := float64(faster) / (rounds * 2); !(share <= 0.05) {
		t.Errorf("a variant that is not faster is called so in %.3f of the cases", share)
	}
}

func TestTooCoarse(t *testing.T) {
	for _, x := range []struct {
		shift, median float64
		want          bool
	}{{0, 0, false}, {0, 5, false}, {-2, 5, false}, {-10, -3, true}, {3, 5, true}} {
		c := Compared{Shift: x.shift}
		c.Model.Median = x.median
		if got := c.TooCoarse(); got != x.want {
			t.Errorf("moved by %g to %g: %v", x.shift, x.median, got)
		}
	}
}
