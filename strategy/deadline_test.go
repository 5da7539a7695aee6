package strategy

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// The search that drops late labels finds the same arrival as the one that
// keeps them all, and the deadlines agree with sailing forwards.
func TestDeadlines(t *testing.T) {
	r := rand.New(rand.NewPCG(61, 67))
	worst, dropped, all := 0.0, 0, 0
	for i := range 24 {
		wx := randomWind(r)
		limit := 0.0
		if r.IntN(3) == 0 {
			limit = wx.mean + wx.swing*0.5
		}
		boat := newFakeBoat(4+r.IntN(3), limit)
		if i%12 == 11 {
			boat = newSteppedBoat()
		}
		sl, err := NewSailor(context.Background(), boat, fakeHandling(), wx, Options{StageM: (5 + 15*r.Float64()) * units.MPerNM})
		if err != nil {
			t.Fatal(err)
		}
		dLat := 3 * (r.Float64() - 0.5)
		p := sl.NewProblem(mustTrack(orb.Point{-30, 40}, orb.Point{-30 + 2*r.Float64() + 0.3, 40 + dLat}, orb.Point{-29 + 2*r.Float64(), 40}), 3600*r.Float64())
		want, err := p.best(context.Background(), nil, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		got, err := sl.newProblem(p.track, p.DepartS, nil).Best(context.Background(), nil, false, nil)
		if err != nil {
			t.Fatal(err)
		}
		if got.Status != want.Status {
			t.Errorf("status %v, want %v", got.Status, want.Status)
			continue
		}
		d := math.Abs(got.ArriveS - want.ArriveS)
		worst = math.Max(worst, d)
		if !(d <= 1e-6) {
			t.Errorf("case %d, %d states: arrives %.6f s after the search that keeps all labels, wind %+v", i, len(p.states.all), got.ArriveS-want.ArriveS, wx)
		}
		cut, err := p.cut(context.Background(), nil)
		if err != nil || cut == nil {
			t.Fatal(cut, err)
		}
		for n := range cut.by {
			for s, by := range cut.by[n] {
				all++
				if by < cut.leave[n] {
					dropped++
				}
				if s%7 != n%7 || math.IsInf(by, -1) {
					continue
				}
				// Just before the deadline the stage's end is reached in time at
				// the best; a while after it never.
				late, err := p.stayOn(n, p.states.all[s], by+1)
				if err != nil {
					t.Fatal(err)
				}
				if !(late.ArriveS >= cut.leave[n+1]-1e-3) {
					t.Errorf("case %d, stage %d, state %d: a second after its deadline a stage is ended %.3f s before the next one's", i, n, s, cut.leave[n+1]-late.ArriveS)
				}
			}
		}
		free, err := p.Best(context.Background(), nil, true, nil)
		if err != nil {
			t.Fatal(err)
		}
		// Sailed backwards from the bound, the deadlines lead to the departure.
		back, err := p.deadlinesFor(context.Background(), nil, free.ArriveS)
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(back.leave[0]-p.DepartS) <= 1e-3) || free.ArriveS > want.ArriveS+1e-6 {
			t.Errorf("case %d: back from the bound the departure is %.6f s off; the plan arrives %.3f s after the bound", i, back.leave[0]-p.DepartS, want.ArriveS-free.ArriveS)
		}
	}
	if dropped < all/2 {
		t.Errorf("%d of %d ways into stages are later than the stage's deadline: the test shows too little", dropped, all)
	}
	validation.Check(t, validation.Row{Package: "strategy", ID: "deadlines", Quantity: "greatest difference in arrival between the search that drops late labels and the one that keeps all, 24 random passages of 25 to 361 states",
		Got: worst, Want: 0, Tol: 1e-6, Unit: "s", Source: "the same search without deadlines", Kind: validation.Independent})
}

// Worked back from an arrival long before the departure, every stage is closed.
func TestDeadlinesBeforeTheDeparture(t *testing.T) {
	p := newFakeProblem(t, 4, 0, fakeWind{mean: 9, swing: 4, fromDeg: 200, turnDeg: 70, periodH: 12}, 5, 20, 1, 0.4)
	d, err := p.deadlinesFor(context.Background(), nil, p.DepartS-6*3600)
	if err != nil {
		t.Fatal(err)
	}
	for n := range d.by {
		for s, by := range d.by[n] {
			if !(by < p.DepartS) || d.open(n, s, p.DepartS) {
				t.Errorf("stage %d can be begun in state %d until %v s, with the departure at %v s", n, s, by, p.DepartS)
			}
		}
	}
	if !(d.leave[0] < p.DepartS) {
		t.Errorf("the departure may wait until %v s", d.leave[0])
	}
}
