package strategy

import (
	"context"
	"math/rand/v2"
	"testing"
)

// Thinning a plan that keeps the rules of a person gives one that keeps them.
func TestThinKeepsRules(t *testing.T) {
	r := rand.New(rand.NewPCG(41, 43))
	thinned := 0
	for range 40 {
		q := newFakeProblem(t, 3, 0, randomWind(r), 6, 30, 1.2*(r.Float64()-0.5)*2+0.1, 0.4)
		p := q.For(Person{EffortJ: 1e3 * (14 + 16*r.Float64()), SpacingS: 3600 * (2 + 6*r.Float64()), Rests: []Window{{6 * 3600, 8 * 3600}}})
		v, err := p.BestFor(context.Background(), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if v.Status != Found {
			continue
		}
		w, err := p.Thin(context.Background(), v, 600)
		if err != nil {
			t.Fatal(err)
		}
		if len(w.changes(p.Start)) < len(v.changes(p.Start)) {
			thinned++
		}
		x, broken, err := p.sailFor(w.Schedule, w.starts, nil)
		if err != nil || broken || x.ArriveS != w.ArriveS {
			t.Errorf("thinned plan: broken %v, error %v, arrives %.1f s, recorded %.1f s", broken, err, w.ArriveS, x.ArriveS)
		}
		_, lg, err := p.RecordVoyage(w)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range p.RestReport(lg).EffortJ {
			if !(e <= p.person.EffortJ+1) {
				t.Errorf("a day asks for %.0f J of %.0f J", e, p.person.EffortJ)
			}
		}
		for _, c := range lg.Changes {
			from := c.TimeS + c.Price.WaitS
			if to := c.TimeS + c.Price.TimeS; from < 8*3600 && to > 6*3600+1 {
				t.Errorf("a change from %.0f s to %.0f s meets the rest", from, to)
			}
		}
	}
	if thinned < 3 {
		t.Fatalf("only %d plans were thinned", thinned)
	}
}
