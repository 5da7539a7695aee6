package vpp

import (
	"math"
	"testing"
)

// TestSoftplus: the series agree with exp and log, far out and between their
// points, and the slope with the value.
func TestSoftplus(t *testing.T) {
	for u := -705.0; u < 705; u += 0.00917 {
		if u < -32 || u > 32 {
			u += 0.37
		}
		f, df := softplus(u)
		e := math.Exp(-math.Abs(u))
		want, slope := math.Log1p(e), e/(1+e)
		if u > 0 {
			want, slope = want+u, 1/(1+e)
		}
		if u < -700 {
			want, slope = 0, 0
		}
		if !(math.Abs(f-want) <= 2e-13*want) || !(math.Abs(df-slope) <= 2e-13*slope) {
			t.Fatalf("softplus(%v) is %v, slope %v; want %v, %v", u, f, df, want, slope)
		}
	}
	if f, df := softplus(math.NaN()); !math.IsNaN(f) || !math.IsNaN(df) {
		t.Errorf("softplus of NaN is %v, %v", f, df)
	}
}

func BenchmarkSoftplus(b *testing.B) {
	x := 0.0
	for b.Loop() {
		f, df := softplus(x - 3)
		x = 6 * df * (1 - 1e-3*f)
	}
}
