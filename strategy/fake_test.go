package strategy

import (
	"math"
	"time"

	"github.com/paulmach/orb"

	"foilledger/route"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// fakeBoat is a boat with closed-form speeds: fast enough to let exhaustive
// searches run, and shaped like a foiler: foils out cost a little in light
// air, gain a lot in the middle, and are refused above a wind limit.
type fakeBoat struct {
	settings []vpp.FoilSetting
	exts     []float64
	limitMS  float64 // wind above which foils out are refused; 0: none
}

func newFakeBoat(rakes int, limitMS float64) *fakeBoat {
	b := &fakeBoat{exts: []float64{0, 1}, settings: []vpp.FoilSetting{{}}, limitMS: limitMS}
	for r := range rakes {
		b.settings = append(b.settings, vpp.FoilSetting{Extension: 1, RakeRad: units.Rad(float64(r) * 2.5)})
	}
	return b
}

func (b *fakeBoat) Settings() []vpp.FoilSetting { return b.settings }
func (b *fakeBoat) Extensions() []float64       { return b.exts }

func (b *fakeBoat) Speed(l, w int, c vpp.Condition) (float64, bool) {
	shape := math.Sin(math.Min(c.TWARad, math.Pi-c.TWARad*0.35))
	if c.TWARad < units.Rad(30) {
		shape *= c.TWARad / units.Rad(30)
	}
	v := 1.05 * c.TWSMS / (1 + c.TWSMS/18) * shape
	if l > 0 {
		rake := b.settings[l].RakeRad
		best := units.Rad(1 + 0.2*c.TWSMS)
		e := b.settings[l].Extension
		v *= 1 + (0.02*(c.TWSMS-6)*shape-12*square(rake-best))*e*(1.6-0.6*e)
	}
	if w > 0 {
		v *= 0.992
	}
	v *= 1 - 0.01*c.HsM
	ok := b.limitMS == 0 || c.TWSMS <= b.limitMS || (l == 0 && w == 0)
	return math.Max(v, 0), ok
}

func (b *fakeBoat) Accel(l, w int, p vpp.Power, c vpp.Condition, v float64) float64 {
	eq, _ := b.Speed(l, w, c)
	switch p {
	case vpp.PowerEased:
		eq *= 0.5
	case vpp.PowerNone:
		eq = 0
	}
	return 0.05 * (eq - v)
}

func (b *fakeBoat) BestVMG(l, w int, tws, hs float64, upwind bool) (float64, float64) {
	a := units.Rad(45)
	if !upwind {
		a = units.Rad(150)
	}
	v, _ := b.Speed(l, w, vpp.Condition{TWSMS: tws, TWARad: a, HsM: hs})
	return a, v * math.Abs(math.Cos(a))
}

func (b *fakeBoat) At(l, w int, c vpp.Condition) vpp.Steady {
	v, ok := b.Speed(l, w, c)
	s := vpp.Steady{BSPMS: v, OK: ok, HullLoad: 1}
	if l > 0 {
		s.FoilLoadN = 250 * v * v
		s.FoilLiftN = s.FoilLoadN
	}
	return s
}

func (b *fakeBoat) Grid() vpp.Grid {
	g := vpp.Grid{HsM: []float64{0, 2, 4}}
	for t := 0.0; t <= 24; t += 2 {
		g.TWSMS = append(g.TWSMS, t)
	}
	for a := 0.0; a <= 180; a += 15 {
		g.TWARad = append(g.TWARad, units.Rad(a))
	}
	return g
}

func fakeHandling() vpp.Handling {
	return vpp.Handling{
		UnattendedSpeed: 0.97,
		DeployCeilingMS: units.MS(10), RetractCeilingMS: units.MS(10), AddRakeCeilingMS: units.MS(14), TakeOffRakeCeilingMS: units.MS(30),
		DeployWorkJ: 18e3, RetractWorkJ: 22e3, RakeWorkJPerRad: 1.2e3 * 180 / math.Pi, RakeLoadWorkJPerRadN: 3.5,
		SustainedPowerW: 100, MaxPumpLoadN: 40e3, ReachFoilS: 20, ReachPumpS: 15, TackS: 90, GybeS: 100,
	}
}

// fakeWind is wind that varies smoothly with place and time and has no end.
type fakeWind struct {
	mean, swing, fromDeg, turnDeg, periodH, phase float64
	hs                                            float64
	curU, curV                                    float64
	endS                                          float64 // 0: none
}

var fakeReference = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

func (f fakeWind) At(lon, lat, t float64) (weather.Sample, error) {
	if f.endS > 0 && t > f.endS {
		return weather.Sample{}, &weather.CoverageError{Kind: weather.AfterLast, Variable: "wind", BeyondS: t - f.endS,
			Time: fakeReference.Add(time.Duration(t) * time.Second), Last: fakeReference.Add(time.Duration(f.endS) * time.Second)}
	}
	w := 2*math.Pi*t/3600/f.periodH + f.phase + 0.2*lon + 0.15*lat
	tws := math.Max(0.5, f.mean+f.swing*math.Sin(w))
	from := units.Rad(f.fromDeg + f.turnDeg*math.Sin(0.6*w+1))
	s, c := math.Sincos(from)
	return weather.Sample{U: -tws * s, V: -tws * c, HsM: f.hs, CurrentU: f.curU, CurrentV: f.curV}, nil
}
func (f fakeWind) Reference() time.Time { return fakeReference }
func (f fakeWind) SpanS() (float64, float64) {
	if f.endS > 0 {
		return 0, f.endS
	}
	return 0, math.Inf(1)
}

func mustTrack(points ...orb.Point) *route.Track {
	t, err := route.NewTrack(points)
	if err != nil {
		panic(err)
	}
	return t
}
