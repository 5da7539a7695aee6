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

func (b plainBoat) Settings() []vpp.FoilSetting {
	s := []vpp.FoilSetting{{}}
	for r := range max(b.rakes, 1) {
		s = append(s, vpp.FoilSetting{Extension: 1, RakeRad: units.Rad(float64(2 * r))})
	}
	return s
}
func (b plainBoat) Extensions() []float64 { return []float64{0, 1} }

func (b plainBoat) Speed(l, w int, c vpp.Condition) (float64, bool) {
	v := b.speedMS
	if l > 0 {
		v *= 1 + b.gain(c.TWSMS)*(1-0.1*float64(l-1))
	}
	return v, b.limitMS == 0 || c.TWSMS <= b.limitMS || (l == 0 && w == 0)
}

func (b plainBoat) Accel(l, w int, p vpp.Power, c vpp.Condition, v float64) float64 {
	eq, _ := b.Speed(l, w, c)
	return 0.05 * (eq*[...]float64{0, 0.5, 1}[p] - v)
}

func (b plainBoat) BestVMG(l, w int, tws, hs float64, upwind bool) (float64, float64) {
	v, _ := b.Speed(l, w, vpp.Condition{TWSMS: tws})
	if upwind {
		return units.Rad(5), v
	}
	return units.Rad(175), v
}

func (b plainBoat) At(l, w int, c vpp.Condition) vpp.Steady {
	v, ok := b.Speed(l, w, c)
	return vpp.Steady{BSPMS: v, OK: ok, HullLoad: 1}
}

func (b plainBoat) Grid() vpp.Grid {
	g := vpp.Grid{HsM: []float64{0, 4}}
	for t := 0.0; t <= 24; t += 2 {
		g.TWSMS = append(g.TWSMS, t)
	}
	for a := 0.0; a <= 180; a += 30 {
		g.TWARad = append(g.TWARad, units.Rad(a))
	}
	return g
}

func plainHandling() vpp.Handling {
	return vpp.Handling{
		DeployCeilingMS: units.MS(10), RetractCeilingMS: units.MS(10), AddRakeCeilingMS: units.MS(14), TakeOffRakeCeilingMS: units.MS(30),
		DeployWorkJ: 18e3, RetractWorkJ: 22e3, RakeWorkJPerRad: 1.2e3 * 180 / math.Pi, RakeLoadWorkJPerRadN: 3.5,
		SustainedPowerW: 100, MaxPumpLoadN: 40e3, ReachFoilS: 20, ReachPumpS: 15, TackS: 90, GybeS: 100,
	}
}

// windAt is wind from the north that is the same everywhere.
type windAt func(tS float64) float64

var epoch = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

func (w windAt) At(_, _, tS float64) (weather.Sample, error) {
	return weather.Sample{V: -w(tS)}, nil
}
func (w windAt) Reference() time.Time      { return epoch }
func (w windAt) SpanS() (float64, float64) { return math.Inf(-1), math.Inf(1) }

// waves of wind: a sum of three swings with phases of its own.
func swinging(seed uint64, mean float64) windAt {
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

func sailor(t testing.TB, b strategy.Performer, o strategy.Options) *strategy.Sailor {
	t.Helper()
	sl, err := strategy.NewSailor(t.Context(), b, plainHandling(), nil, o)
	if err != nil {
		t.Fatal(err)
	}
	return sl
}
