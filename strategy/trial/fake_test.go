package trial

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/strategy/internal/plainboat"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// plainBoat has closed-form speeds: with the foil out it is faster by gain(tws)
// of its speed with foils in, which does not depend on the wind.
type plainBoat struct {
	speedMS float64
	gain    func(twsMS float64) float64
	limitMS float64 // wind above which foils out are refused; 0: none
	rakes   int
}

func (b plainBoat) boat() plainboat.Boat {
	p := plainboat.Boat{BSP: func(l, w int, c vpp.Condition) (float64, bool) {
		v := b.speedMS
		if l > 0 {
			v *= 1 + b.gain(c.TWSMS)*(1-0.1*float64(l-1))
		}
		return v, b.limitMS == 0 || c.TWSMS <= b.limitMS || (l == 0 && w == 0)
	}}
	for r := range max(b.rakes, 1) {
		p.RakesRad = append(p.RakesRad, units.Rad(float64(2*r)))
	}
	return p
}

// waves of wind: a sum of three swings with phases of its own.
func swinging(seed uint64, mean float64) plainboat.Northerly {
	r := rand.New(rand.NewPCG(seed, 5))
	var a, p, f [3]float64
	for i := range a {
		a[i], p[i], f[i] = 1.5+r.Float64(), r.Float64()*2*math.Pi, (6+20*r.Float64())*3600
	}
	return func(t float64) float64 {
		v := mean
		for i := range a {
			v += a[i] * math.Sin(2*math.Pi*t/f[i]+p[i])
		}
		return math.Max(1, v)
	}
}

// setOf makes a set of given weathers.
func setOf(n int, open func(i int) *Weather) *Set {
	s := &Set{opened: map[int]*opened{}}
	for i := range n {
		w := open(i)
		s.add(fmt.Sprintf("weather %d", i), []time.Time{w.Departure()},
			func(context.Context) (weather.Source, *weather.Field, error) { return w.Truth, nil, nil },
			func(*weather.Field, float64) []strategy.Issue { return w.Issues })
	}
	return s
}

func track(t testing.TB, via string) *route.Track {
	t.Helper()
	p, err := route.ParseVia(via)
	if err != nil {
		t.Fatal(err)
	}
	tr, err := route.NewTrack(p)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func sailor(t testing.TB, b plainBoat, o strategy.Options) *strategy.Sailor {
	t.Helper()
	sl, err := strategy.NewSailor(t.Context(), b.boat(), plainboat.Handling(), nil, o)
	if err != nil {
		t.Fatal(err)
	}
	return sl
}
