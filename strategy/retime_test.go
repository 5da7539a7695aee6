package strategy

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/testdata/validation"
)

// In a plan that was thinned and timed again no change is better an hour
// earlier, an hour later or left out; with thinning alone some are.
func TestNoHourBeatsTheThinnedPlan(t *testing.T) {
	r := rand.New(rand.NewPCG(163, 167))
	const least = 600
	worst, thinned, earlier := 0.0, 0.0, 0.0
	for i := range 16 {
		q := newFakeProblem(t, 3, 0, randomWind(r), 6, 8, 2, 0.4)
		p := q
		if i%4 == 0 {
			p = q.For(Person{SpacingS: 3600, Rests: []Window{{6 * 3600, 8 * 3600}}})
		}
		best, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if best.Status != Found {
			continue
		}
		// most is what the best rival of any change gains.
		most := func(v *Voyage) (most float64) {
			_, lg, err := p.RecordVoyage(v)
			if err != nil {
				t.Fatal(err)
			}
			for j := range lg.Changes {
				a, err := p.Alternatives(v, lg.Changes, j)
				if err != nil {
					t.Fatal(err)
				}
				for _, s := range []float64{a.WithoutS, a.EarlierS, a.LaterS} {
					if !math.IsNaN(s) {
						most = math.Max(most, -s)
					}
				}
			}
			return most
		}
		greedy, err := p.Thin(context.Background(), best, least)
		if err != nil {
			t.Fatal(err)
		}
		thinned = math.Max(thinned, most(greedy))
		v, err := p.Simplify(context.Background(), best, least)
		if err != nil {
			t.Fatal(err)
		}
		worst = math.Max(worst, most(v))
		if v.ArriveS < best.ArriveS-1e-6 || v.ArriveS > best.ArriveS+least*float64(len(best.changes(p.Start))) {
			t.Errorf("case %d: arrives %.1f s after the optimum", i, v.ArriveS-best.ArriveS)
		}
		if len(v.changes(p.Start)) <= len(greedy.changes(p.Start)) {
			earlier += greedy.ArriveS - v.ArriveS
		}
	}
	t.Logf("a rival gains up to %.0f s on the thinned plan, %.1f s on the one timed again, which gains %.0f s in all", thinned, worst, earlier)
	if !(thinned > 60) || !(earlier > 60) {
		t.Errorf("a rival gains only %.0f s on the thinned plan: the test shows nothing", thinned)
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "thinned-rivals", Quantity: "most that a change of a thinned plan gains an hour earlier, an hour later or left out, 16 random passages",
		Got: worst, Want: 0, Tol: retimeGainS, Unit: "s", Source: "sailing every rival", Kind: validation.Independent})
}
