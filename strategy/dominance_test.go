package strategy

import (
	"math/rand/v2"
	"testing"
)

// Whoever is no less rested was not awake for longer since any moment of the
// last 24 hours, looked at minute by minute, and the other way round.
func TestNoLessRestedAtEveryMoment(t *testing.T) {
	r := rand.New(rand.NewPCG(107, 109))
	p := newFakeProblem(t, 1, 0, fakeWind{mean: 9, periodH: 24}, 1, 100, 3, 0).For(Person{RestS: 20 * 3600, NapS: 1200, ToleranceS: 600})
	random := func() tally {
		y := p.begin()
		for y.gap < 40*3600 {
			from := y.gap + 60*float64(r.IntN(240))
			p.busy(&y, from, from+60*float64(1+r.IntN(90)))
		}
		y.t = y.gap
		return y
	}
	yes, no := 0, 0
	for range 4000 {
		a, b := random(), random()
		if r.IntN(2) == 0 { // a pair of which neither is far ahead
			b = a
			p.busy(&b, b.gap+60*float64(r.IntN(60)), b.gap+3600+60*float64(r.IntN(60)))
		}
		a.t = max(a.t, b.t-3600)
		b.t = max(a.t, b.t)
		// Windows that begin before this moment hold enough rest.
		from := max(p.DepartS, b.t-dayS)
		need := p.person.RestS
		for s := &a.last; s.before != nil && need > 0; s = s.before {
			if nap := s.fromS - s.before.toS; nap >= need {
				from = max(from, s.fromS-need)
				break
			} else {
				need -= nap
			}
		}
		want := min(a.gap, a.t-p.person.NapS) <= min(b.gap, b.t-p.person.NapS)+p.person.slack()
		for u := from; u <= b.t && want; u += 60 {
			want = a.awakeSince(u) <= b.awakeSince(u)+p.person.slack()
		}
		if want {
			yes++
		} else {
			no++
		}
		if got := p.noLessRested(&a, &b); got != want {
			t.Fatalf("no less rested %v, minute by minute %v: %+v and %+v", got, want, a, b)
		}
	}
	if yes < 200 || no < 200 {
		t.Errorf("%d pairs no less rested, %d less: the test shows too little", yes, no)
	}
}
