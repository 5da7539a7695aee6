package units

import (
	"math"
	"testing"
)

func TestConversionsRoundTrip(t *testing.T) {
	for _, x := range []float64{-3, 0, 0.1, 7, 20, 360} {
		if got := Knots(MS(x)); !(math.Abs(got-x) <= 1e-12) {
			t.Errorf("Knots(MS(%v)) = %v", x, got)
		}
		if got := Deg(Rad(x)); !(math.Abs(got-x) <= 1e-12) {
			t.Errorf("Deg(Rad(%v)) = %v", x, got)
		}
	}
	if got := MS(1); !(math.Abs(got-0.514444) <= 1e-6) {
		t.Errorf("one knot is %v m/s", got)
	}
	if got := TonnesForce(9806.65); !(math.Abs(got-1) <= 1e-12) {
		t.Errorf("the weight of a tonne is %v tf", got)
	}
}

func TestWrap(t *testing.T) {
	for _, c := range []struct{ in, want float64 }{
		{0, 0}, {180, -180}, {-180, -180}, {190, -170}, {-190, 170}, {540, -180}, {359, -1}, {721, 1},
	} {
		if got := Wrap180(c.in); got != c.want {
			t.Errorf("Wrap180(%v) = %v, want %v", c.in, got, c.want)
		}
	}
	for _, c := range []struct{ in, want float64 }{
		{0, 0}, {2 * math.Pi, 0}, {-math.Pi / 2, 1.5 * math.Pi}, {-1e-17, 0},
	} {
		if got := Wrap2Pi(c.in); !(math.Abs(got-c.want) <= 1e-12) || got < 0 || got >= 2*math.Pi {
			t.Errorf("Wrap2Pi(%v) = %v, want %v", c.in, got, c.want)
		}
	}
}
