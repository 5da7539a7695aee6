package vpp

import (
	"fmt"
	"math"

	"foilledger/vpp/units"
)

// DefaultGrid is the grid of a speed table: true wind calm and 4 to 42 kn, angles 0° to
// 180°, seas 0 to 6 m, boat speeds 1 to 40 kn.
func DefaultGrid() Grid {
	g := Grid{HsM: []float64{0, 1, 2.5, 5.5}, VMS: surgeSpeeds()}
	for _, k := range []float64{0, 4, 6, 8, 10, 12, 14, 17, 20, 24, 29, 35, 42} {
		g.TWSMS = append(g.TWSMS, units.MS(k))
	}
	for _, d := range []float64{0, 28, 34, 40, 46, 53, 60, 70, 80, 90, 100, 110, 120, 130, 140, 150, 160, 170, 180} {
		g.TWARad = append(g.TWARad, units.Rad(d))
	}
	return g
}

// check refuses a grid that does not rise, or is not finite, or too small or
// large.
func (g *Grid) check() error {
	for _, a := range []struct {
		name   string
		x      []float64
		lo, hi float64
		n      int
	}{
		{"TWSMS", g.TWSMS, 0, 100, 2}, {"TWARad", g.TWARad, 0, math.Pi + 1e-12, 3},
		{"HsM", g.HsM, 0, 30, 1}, {"VMS", g.VMS, 0.1, 60, 4},
	} {
		if len(a.x) < a.n || len(a.x) > 200 {
			return fmt.Errorf("vpp: grid axis %s has %d points, must have %d to 200", a.name, len(a.x), a.n)
		}
		for i, v := range a.x {
			if !(v >= a.lo && v <= a.hi) {
				return fmt.Errorf("vpp: grid axis %s: %v is outside %v to %v", a.name, v, a.lo, a.hi)
			}
			if i > 0 && !(v > a.x[i-1]) {
				return fmt.Errorf("vpp: grid axis %s does not rise at %v", a.name, v)
			}
		}
	}
	return nil
}

// coarse is every other point of the grid, ends kept: for the correction of a
// windward foil that is out.
func (g *Grid) coarse() Grid {
	thin := func(x []float64) []float64 {
		var y []float64
		for i := range x {
			if i%2 == 0 || i == len(x)-1 {
				y = append(y, x[i])
			}
		}
		return y
	}
	return Grid{TWSMS: thin(g.TWSMS), TWARad: thin(g.TWARad), HsM: thin(g.HsM), VMS: g.VMS}
}

// axis finds places on a rising list of values: a table over even steps gives
// the interval to start from.
type axis struct {
	x     []float64
	hint  []int16
	scale float64
}

func newAxis(x []float64) axis {
	a := axis{x: x}
	if len(x) < 2 {
		return a
	}
	const per = 8
	n := per * len(x)
	a.scale = float64(n) / (x[len(x)-1] - x[0])
	a.hint = make([]int16, n+1)
	j := 0
	for i := range a.hint {
		v := x[0] + float64(i)/a.scale
		for j < len(x)-2 && x[j+1] <= v {
			j++
		}
		a.hint[i] = int16(j)
	}
	return a
}

// find returns the interval i that holds v, and how far along it v lies, 0..1;
// in is false when v had to be clamped.
func (a *axis) find(v float64) (i int, t float64, in bool) {
	n := len(a.x)
	if n < 2 {
		return 0, 0, v == a.x[0]
	}
	if !(v > a.x[0]) {
		return 0, 0, v == a.x[0]
	}
	if v >= a.x[n-1] {
		return n - 2, 1, v == a.x[n-1]
	}
	i = int(a.hint[int((v-a.x[0])*a.scale)])
	for a.x[i+1] <= v {
		i++
	}
	return i, (v - a.x[i]) / (a.x[i+1] - a.x[i]), true
}
