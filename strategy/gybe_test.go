package strategy

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// deepBoat runs best at 170° with its foils in and at 135° with one out, where
// they pay; at 170° they only brake.
type deepBoat struct{ *fakeBoat }

func (b deepBoat) Speed(l, w int, c vpp.Condition) (float64, bool) {
	v, ok := b.fakeBoat.Speed(0, w, c)
	if l > 0 {
		v *= 1 + 0.5*math.Cos((c.TWARad-units.Rad(125))*3)
	}
	return v, ok
}

func (b deepBoat) BestVMG(l, w int, tws, hs float64, upwind bool) (float64, float64) {
	a := units.Rad(170)
	switch {
	case upwind:
		a = units.Rad(45)
	case l > 0:
		a = units.Rad(135)
	}
	v, _ := b.Speed(l, w, vpp.Condition{TWSMS: tws, TWARad: a, HsM: hs})
	return a, v * math.Abs(math.Cos(a))
}

func (b deepBoat) Accel(l, w int, p vpp.Power, c vpp.Condition, v float64) float64 {
	eq, _ := b.Speed(l, w, c)
	return 0.05 * (eq*map[vpp.Power]float64{vpp.PowerFull: 1, vpp.PowerEased: 0.5}[p] - v)
}

// TestChangesOnARun: on a course that is gybed down, the foils out at an angle
// that does not suit them, a change never takes the boat further than sailing
// would, so that the plan beats neither the bound of free changes nor loses to
// leaving the foils in; and the deadlines drop nothing that counts.
func TestChangesOnARun(t *testing.T) {
	ctx := context.Background()
	r := rand.New(rand.NewPCG(5, 8))
	negative := 0
	for range 12 {
		wx := fakeWind{mean: 9 + 3*r.Float64(), swing: 2, fromDeg: 268 + 4*r.Float64(), turnDeg: 4, periodH: 12 + 10*r.Float64(), phase: 6 * r.Float64()}
		sl, err := NewSailor(ctx, deepBoat{newFakeBoat(5, 0)}, fakeHandling(), wx, Options{StageM: 15000, CorridorM: 10000})
		if err != nil {
			t.Fatal(err)
		}
		p := sl.NewProblem(mustTrack(orb.Point{-30, 0}, orb.Point{-27.5, 0}), 3600)
		l := &p.course.legs[0]
		s, k := &l.steps[0], p.index(p.DepartS)
		for s0 := range p.states.all {
			for s1 := range p.states.all {
				q0, b := p.paceIn(s, k, s0)
				q1, _ := p.paceIn(s, k, s1)
				var pr Price
				p.priceIn(s, k, b, s0, s1, q0, q1, &pr)
				if most := pr.TimeS * math.Max(q0.AlongMS, q1.AlongMS); !(pr.DistanceM <= most*(1+1e-12)) {
					t.Errorf("change %d to %d: %.0f m in %.0f s, at most %.0f are sailed", s0, s1, pr.DistanceM, pr.TimeS, most)
				}
				sum := 0.0
				for _, q := range pr.Parts() {
					sum += q.LostS
				}
				if pr.n > 0 && !(math.Abs(sum-pr.LostS) <= 1e-6*(1+math.Abs(sum))) {
					t.Errorf("change %d to %d: the parts lose %g s, the change %g", s0, s1, sum, pr.LostS)
				}
				if pr.effectS < 0 {
					negative++
				}
			}
		}
		best := mustBest(t, p, nil)
		whole, err := p.best(ctx, nil, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		if best.Status != Found || !(math.Abs(best.TimeS()-whole.TimeS()) <= 1e-3) {
			t.Errorf("with deadlines %v %.3f s, without %.3f", best.Status, best.TimeS(), whole.TimeS())
		}
		if never := mustBest(t, p, FoilsIn); !(best.TimeS() <= never.TimeS()) {
			t.Errorf("%.1f s, %.1f with the foils in", best.TimeS(), never.TimeS())
		}
		free, err := p.Best(ctx, nil, true, nil)
		if err != nil || !(free.TimeS() <= best.TimeS()+1e-3) {
			t.Errorf("%v: %.1f s, %.1f with free changes", err, best.TimeS(), free.TimeS())
		}
	}
	if negative == 0 {
		t.Error("no change put the boat forward: the test shows nothing")
	}
}

func mustBest(t *testing.T, p *Problem, allow Allowed) *Voyage {
	t.Helper()
	v, err := p.Best(context.Background(), allow, false, nil)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
