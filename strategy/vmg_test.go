package strategy

import (
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// twoWays is a boat with two ways to run: deep and slow in light air, high and
// fast above a wind that depends on the sea, so that its best angle jumps.
type twoWays struct{ *fakeBoat }

func (b twoWays) Speed(l, w int, c vpp.Condition) (float64, bool) {
	v := 0.6 * c.TWSMS * math.Sin(math.Min(c.TWARad*0.8, math.Pi/2)) * (1 - 0.02*c.HsM)
	d := (c.TWARad - units.Rad(125)) / units.Rad(14)
	return v + math.Max(0, c.TWSMS-8-0.5*c.HsM)*0.55*math.Exp(-d*d), true
}

func (b twoWays) BestVMG(l, w int, tws, hs float64, upwind bool) (twa, vmg float64) {
	for deg := 20.0; deg <= 180; deg += 0.02 {
		a := units.Rad(deg)
		if (math.Cos(a) > 0) != upwind {
			continue
		}
		v, _ := b.Speed(l, w, vpp.Condition{TWSMS: tws, TWARad: a, HsM: hs})
		if m := v * math.Abs(math.Cos(a)); m > vmg {
			twa, vmg = a, m
		}
	}
	return twa, vmg
}

func TestKeptAnglesOfBestSpeedMadeGood(t *testing.T) {
	b := twoWays{newFakeBoat(1, 0)}
	kept := newVMGAngles(b)
	r := rand.New(rand.NewPCG(1, 2))
	jumps := 0
	var last float64
	for i := range 300 {
		tws, hs, up := 1+float64(i)*22.9/300, 3.9*r.Float64(), i%2 == 0
		_, want := b.BestVMG(0, 0, tws, hs, up)
		a := kept.angle(0, 0, tws, hs, up)
		v, _ := b.Speed(0, 0, vpp.Condition{TWSMS: tws, TWARad: a, HsM: hs})
		got := v * math.Abs(math.Cos(a))
		if !(got >= want*(1-2e-3)) || !(got <= want*(1+1e-9)) {
			t.Errorf("wind %.2f m/s, sea %.2f m, upwind %v: %.2f° makes good %.5f m/s, the best is %.5f", tws, hs, up, units.Deg(a), got, want)
		}
		if !up {
			if math.Abs(a-last) > units.Rad(10) {
				jumps++
			}
			last = a
		}
	}
	if jumps == 0 {
		t.Error("the best angle never jumped: the test does not test that")
	}
	for _, tws := range []float64{0, 0.1, 24, 30} { // beyond what is kept
		want, _ := b.BestVMG(0, 0, tws, 1, false)
		if got := kept.angle(0, 0, tws, 1, false); got != want {
			t.Errorf("wind %g m/s: %g, want %g", tws, got, want)
		}
	}
}
