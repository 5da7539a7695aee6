package plots

import (
	"math"
	"time"
)

func secondsOf(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// sampleSpeed is a boat speed (kn) with and without foils that behaves roughly
// as one expects; invented.
func sampleSpeed(tws, twa, ext, rake float64) float64 {
	rad := twa * math.Pi / 180
	v := 21 * (1 - math.Exp(-tws/13)) * math.Pow(math.Sin(math.Max(0.15, math.Min(rad*0.62+0.15, 1.75))), 1.4)
	if ext > 0 {
		v += ext * (-0.35 + 0.030*math.Max(0, v-8)*math.Max(0, v-7)*math.Exp(-sq((twa-112)/38))*(1-sq((rake-3.2)/6)))
	}
	return v
}

func sq(x float64) float64 { return x * x }

var (
	sampleTWS = []float64{4, 6, 8, 10, 12, 14, 16, 18, 20, 24, 28, 32}
	sampleTWA = []float64{40, 50, 60, 70, 80, 90, 100, 110, 120, 130, 140, 150, 160, 170}
)

func samplePolar() *PolarData {
	d := &PolarData{Title: "Invented sixty: speed with foils in and out", HsM: 1.5}
	for _, tws := range []float64{8, 12, 16, 22} {
		for _, st := range []string{"foils in", "foils out, best rake"} {
			c := PolarCurve{State: st, TWSKn: tws}
			for _, a := range sampleTWA {
				e := 0.0
				if st != "foils in" {
					e = 1
				}
				c.Points = append(c.Points, PolarPoint{a, sampleSpeed(tws, a, e, 3)})
			}
			d.Curves = append(d.Curves, c)
		}
	}
	return d
}

func sampleGrid(f func(tws, twa float64) float64) [][]float64 {
	v := make([][]float64, len(sampleTWS))
	for i, tws := range sampleTWS {
		for _, twa := range sampleTWA {
			v[i] = append(v[i], f(tws, twa))
		}
	}
	return v
}

func sampleGain() *GainMap {
	return &GainMap{Title: "What the foils gain: speed with foils out less speed with foils in", HsM: 1.5, TWSKn: sampleTWS, TWADeg: sampleTWA,
		Value: sampleGrid(func(tws, twa float64) float64 {
			if tws > 26 && twa > 100 {
				return math.NaN()
			}
			return sampleSpeed(tws, twa, 1, 3) - sampleSpeed(tws, twa, 0, 0)
		})}
}

func sampleSetting() *SettingMap {
	gain := func(tws, twa float64) float64 { return sampleSpeed(tws, twa, 1, 3) - sampleSpeed(tws, twa, 0, 0) }
	return &SettingMap{Title: "Fastest setting of the leeward foil", HsM: 1.5, TWSKn: sampleTWS, TWADeg: sampleTWA,
		Extension: sampleGrid(func(tws, twa float64) float64 {
			switch g := gain(tws, twa); {
			case g <= 0:
				return 0
			case tws > 24:
				return 0.5
			case g < 1:
				return 0.75
			}
			return 1
		}),
		RakeDeg: sampleGrid(func(tws, twa float64) float64 {
			if gain(tws, twa) <= 0 {
				return 0
			}
			return math.Round(2*(1.5+tws/9)) / 2
		})}
}

func sampleBreakEven() *BreakEvenMap {
	return &BreakEvenMap{Title: "How long it must last for deploying to pay", Action: "deploy leeward foil", HsM: 1.5, TWSKn: sampleTWS, TWADeg: sampleTWA,
		Minutes: sampleGrid(func(tws, twa float64) float64 {
			a, b := sampleSpeed(tws, twa, 0, 0), sampleSpeed(tws, twa, 1, 3)
			if tws > 26 && twa > 100 {
				return math.NaN()
			}
			if b <= a+0.02 {
				return math.Inf(1)
			}
			return (70 + tws) / 60 / (1 - a/b)
		})}
}

func sampleSurge() *SurgeChart {
	d := &SurgeChart{Title: "Why the boat settles where it does: true wind 14 kn at 110°, foils out, rake 3°"}
	names := []string{"sails", "hull", "foil", "keel and rudders", "waves", "windage"}
	parts := make([][]float64, len(names))
	for v := 2.0; v <= 28; v += 0.5 {
		hump := 5200 * math.Exp(-sq((v-13)/3.2))
		fs := []float64{11500 - 130*v, -(900 + 11*v*v*math.Exp(-sq(v/21)) + hump), -6.2 * v * v * 0.8, -3.4 * v * v * 0.7, -350 - 9*v, -280 - 12*v}
		d.VKn = append(d.VKn, v)
		net := 0.0
		for i, f := range fs {
			parts[i] = append(parts[i], f)
			net += f
		}
		d.NetN = append(d.NetN, net)
	}
	for i, n := range names {
		d.Parts = append(d.Parts, SurgePart{n, parts[i]})
	}
	for i := 1; i < len(d.VKn); i++ {
		a, b := d.NetN[i-1], d.NetN[i]
		if (a > 0) != (b > 0) {
			e := SurgeEquilibrium{VKn: d.VKn[i-1] + 0.5*a/(a-b), Stable: a > 0}
			if e.Stable {
				e.Note = "reached from below"
				if len(d.Equilibria) > 0 {
					e.Note = "kept from above"
				}
			}
			d.Equilibria = append(d.Equilibria, e)
		}
	}
	return d
}

func sampleLines() *LineChart {
	d := &LineChart{Title: "Planning time against stages", XLabel: "stages", YLabel: "time (ms)", LogX: true, LogY: true}
	for _, k := range []float64{1, 7, 20} {
		l := Line{Name: plural(int(k), "foil state", "foil states")}
		for _, x := range []float64{30, 100, 300, 1000, 3000} {
			l.X, l.Y = append(l.X, x), append(l.Y, 0.02*k*x)
		}
		d.Lines = append(d.Lines, l)
	}
	return d
}

func sampleTornado() *Tornado {
	d := &Tornado{Title: "What the model is unsure of: true wind 16 kn at 110°", Quantity: "boat speed (kn)", Mid: 21.4}
	for _, b := range []struct {
		name     string
		lo, hi   float64
		vlo, vhi float64
	}{{"sail power", .9, 1.1, 20.1, 22.3}, {"hull drag", .92, 1.15, 21.9, 20.6}, {"foil lift", .88, 1.08, 20.7, 21.8}, {"foil drag", .85, 1.35, 21.8, 20.5}, {"wave drag", .5, 1.6, 21.2, 20.9}, {"righting moment", .95, 1.05, 21.3, 21.5}} {
		d.Bars = append(d.Bars, TornadoBar{Factor: b.name, LowWords: number(b.lo, .01), HighWords: number(b.hi, .01), Low: b.vlo, High: b.vhi})
	}
	d.Bars[3].HiRefused = true
	return d
}

func must(c Chart, err error) Chart {
	if err != nil {
		panic(err)
	}
	return c
}

func sampleSpeedCharts() []Chart {
	return []Chart{must(PolarChart(samplePolar())), must(GainMapChart(sampleGain())), must(SettingChart(sampleSetting())), must(SurgeCurveChart(sampleSurge())), must(TornadoChart(sampleTornado()))}
}

// sampleCharts is one of every chart.
func sampleCharts() []Chart {
	cs, err := PassageCharts(samplePassage())
	if err != nil {
		panic(err)
	}
	return append(cs,
		must(PolarChart(samplePolar())), must(GainMapChart(sampleGain())), must(SettingChart(sampleSetting())),
		must(BreakEvenChart(sampleBreakEven())), must(SurgeCurveChart(sampleSurge())), must(LinesChart("scaling", sampleLines())), must(TornadoChart(sampleTornado())),
		must(MeteogramChart(sampleMeteogram())), must(WeatherMapChart(sampleWeatherMap())))
}
