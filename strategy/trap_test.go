package strategy

import (
	"context"
	"testing"

	"github.com/paulmach/orb"

	"foilledger/testdata/validation"
	"foilledger/vpp"
)

// trapBoat sails as fast as the wind.
type trapBoat struct{ *fakeBoat }

func (trapBoat) Speed(_, _ int, c vpp.Condition) (float64, bool) { return c.TWSMS, true }

// The published trap for speeds frozen at departure: 10 units at speed 1 before
// time 5 and 5 after. Integrated along the way, leaving at 4 arrives at 6.8 and
// leaving at 5 at 7.0; frozen speeds would give 14 and 7.
func TestFrozenSpeedTrapFigures(t *testing.T) {
	sl, err := NewSailor(context.Background(), trapBoat{newFakeBoat(0, 0)}, fakeHandling(), jump{at: 5 * 3600, before: 1, after: 5}, Options{StageM: 1e6})
	if err != nil {
		t.Fatal(err)
	}
	p := sl.NewProblem(mustTrack(orb.Point{0, 0}, orb.Point{36000 / 111319.49079327358, 0}), 0)
	for _, c := range []struct {
		id            string
		leave, arrive float64
	}{{"frozen-speed-4", 4, 6.8}, {"frozen-speed-5", 5, 7}} {
		r, err := p.sail(&p.course.legs[0], 0, c.leave*3600, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		validation.Check(t, validation.Row{Package: "strategy", ID: c.id, Quantity: "arrival over 10 units at speed 1 before time 5 and 5 after", Got: r.arriveS / 3600, Want: c.arrive, Tol: 1e-6,
			Source: "closed form; the condition is of D. E. Kaufman & R. L. Smith, IVHS Journal 1(1), 1993", Kind: validation.Analytic})
	}
}
