package weather_test

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"foilledger/testdata/validation"
	"foilledger/weather"
	"foilledger/weather/grid"
	"foilledger/weather/synth"
)

// movingLow is a low that crosses the middle of the Atlantic at 30 kn.
func movingLow(t testing.TB) *synth.Scene {
	t.Helper()
	r := synth.Recipe{
		Start: time.Date(2030, 5, 1, 0, 0, 0, 0, time.UTC), Hours: 48, South: 36, North: 56, West: -45, East: -10,
		Wind: []synth.WindRecipe{{SpeedKn: 8, FromDeg: 250}},
		Low: []synth.LowRecipe{{RmaxNM: 120, B: 1.3, Fix: []synth.FixRecipe{
			{Hour: 0, LatDeg: 44, LonDeg: -42, HPa: 985}, {Hour: 48, LatDeg: 48, LonDeg: -9, HPa: 975}}}},
	}
	s, err := r.Scene(-1)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func gridded(t testing.TB, s *synth.Scene, deg, stepH, hours float64, opt weather.Options) *weather.Field {
	t.Helper()
	shape := grid.Shape{South: 36, West: -45, DLat: deg, DLon: deg, NLat: int(20/deg) + 1, NLon: int(35/deg) + 1}
	var times []float64
	for h := 0.0; h <= hours; h += stepH {
		times = append(times, h*3600)
	}
	fields, err := s.Fields(shape, times, -1)
	if err != nil {
		t.Fatal(err)
	}
	opt.Waves = weather.WavesFromFile
	fc, err := weather.NewForecast(context.Background(), fields, opt)
	if err != nil {
		t.Fatal(err)
	}
	return fc.Main()
}

type errorsOf struct {
	speedBias, speedRMS, vectorRMS float64 // m/s
	meanSpeed                      float64
	n                              float64
}

// compare samples two sources within 400 nm of the low's track.
func compare(t testing.TB, truth, got weather.Source, hours float64, at func(lon, lat, tS float64) (u, v float64)) errorsOf {
	t.Helper()
	var e errorsOf
	for h := 0.5; h < hours; h += 0.77 {
		lonC, latC := -42+33*h/48, 44+4*h/48
		for dx := -9.0; dx <= 9; dx += 0.83 {
			for dy := -6.0; dy <= 6; dy += 0.71 {
				lon, lat := lonC+dx, latC+dy
				if lon < -44.9 || lon > -10.1 || lat < 36.1 || lat > 55.9 {
					continue
				}
				want, err := truth.At(lon, lat, h*3600)
				if err != nil {
					t.Fatal(err)
				}
				var u, v float64
				if at != nil {
					u, v = at(lon, lat, h*3600)
				} else {
					s, err := got.At(lon, lat, h*3600)
					if err != nil {
						t.Fatal(err)
					}
					u, v = s.U, s.V
				}
				d := math.Hypot(u, v) - want.TWSMS()
				e.speedBias += d
				e.speedRMS += d * d
				e.vectorRMS += (u-want.U)*(u-want.U) + (v-want.V)*(v-want.V)
				e.meanSpeed += want.TWSMS()
				e.n++
			}
		}
	}
	e.speedBias /= e.n
	e.meanSpeed /= e.n
	e.speedRMS = math.Sqrt(e.speedRMS / e.n)
	e.vectorRMS = math.Sqrt(e.vectorRMS / e.n)
	return e
}

// TestTimeBlendOnAMovingLow: between steps of 3, 6 and 12 h the blend that
// keeps the speed is nearer to the truth than plain linear interpolation of u
// and v, in the mean loss of speed and in the error of the speed.
func TestTimeBlendOnAMovingLow(t *testing.T) {
	truth := movingLow(t)
	for _, tt := range []struct{ stepH, rmsBelow float64 }{
		{3, 1}, // little is lost between steps of 3 h, and little gained
		{6, 0.9},
		{12, 0.9},
	} {
		stepH, rmsBelow := tt.stepH, tt.rmsBelow
		// A fine grid, so that what remains is the error in time.
		f := gridded(t, truth, 0.25, stepH, 48, weather.Options{})
		kept := compare(t, truth, f, 47.5, nil)
		plain := compare(t, truth, f, 47.5, func(lon, lat, tS float64) (float64, float64) {
			step := stepH * 3600
			k := math.Floor(tS / step)
			a, err := f.At(lon, lat, k*step)
			if err != nil {
				t.Fatal(err)
			}
			b, err := f.At(lon, lat, (k+1)*step)
			if err != nil {
				t.Fatal(err)
			}
			w := tS/step - k
			return a.U + (b.U-a.U)*w, a.V + (b.V-a.V)*w
		})
		t.Logf("%2g h: speed kept: bias %+.3f rms %.3f vector rms %.3f; plain: bias %+.3f rms %.3f vector rms %.3f (mean wind %.1f m/s)",
			stepH, kept.speedBias, kept.speedRMS, kept.vectorRMS, plain.speedBias, plain.speedRMS, plain.vectorRMS, plain.meanSpeed)
		id := fmt.Sprintf("time-blend-%gh", stepH)
		const source = "analytic low by Holland 1980 moving at 30 kn, sampled"
		validation.Band(t, validation.Row{Package: "weather", ID: id + "-bias", Quantity: fmt.Sprintf("loss of wind speed between steps of %g h, speed kept over plain u and v", stepH),
			Got: math.Abs(kept.speedBias) / math.Abs(plain.speedBias), Source: source, Kind: validation.Analytic}, 0, 0.6)
		validation.Band(t, validation.Row{Package: "weather", ID: id + "-rms", Quantity: fmt.Sprintf("rms error of wind speed between steps of %g h, speed kept over plain u and v", stepH),
			Got: kept.speedRMS / plain.speedRMS, Source: source, Kind: validation.Analytic}, 0, rmsBelow)
		if !(kept.vectorRMS < 1.02*plain.vectorRMS) {
			t.Errorf("%g h: vector error %.3f, plain %.3f", stepH, kept.vectorRMS, plain.vectorRMS)
		}
	}
}

// TestSmoothOnAnAnalyticLow: the benefit of the spline in space.
func TestSmoothOnAnAnalyticLow(t *testing.T) {
	truth := movingLow(t)
	for _, deg := range []float64{0.5, 1, 1.25} {
		// Compare at the steps themselves: steps of half an hour leave no error
		// in time to speak of.
		bilinear := compare(t, truth, gridded(t, truth, deg, 0.5, 8, weather.Options{}), 7.5, nil)
		smooth := compare(t, truth, gridded(t, truth, deg, 0.5, 8, weather.Options{Smooth: true}), 7.5, nil)
		t.Logf("%g°: bilinear bias %+.3f rms %.3f vector rms %.3f; smooth bias %+.3f rms %.3f vector rms %.3f",
			deg, bilinear.speedBias, bilinear.speedRMS, bilinear.vectorRMS, smooth.speedBias, smooth.speedRMS, smooth.vectorRMS)
		validation.Band(t, validation.Row{Package: "weather", ID: fmt.Sprintf("smooth-%gdeg", deg), Quantity: fmt.Sprintf("rms vector error on a grid of %g°, Catmull-Rom over bilinear", deg),
			Got: smooth.vectorRMS / bilinear.vectorRMS, Source: "analytic low by Holland 1980, sampled", Kind: validation.Analytic}, 0, 0.8)
	}
}

// TestSmoothIsContinuous walks across cells, rows, columns and the seam of a
// global grid in small steps.
func TestSmoothIsContinuous(t *testing.T) {
	shape := grid.Shape{South: -60, West: 0, DLat: 5, DLon: 5, NLat: 25, NLon: 72}
	w := synth.Scene{Start: time.Date(2030, 5, 1, 0, 0, 0, 0, time.UTC), Parts: []synth.Part{
		synth.Low{Track: []synth.Fix{{LonDeg: 2, LatDeg: 40, CentrePa: 97000}}, OuterPa: 101300, B: 1.2, RmaxM: 500e3, Reduction: 0.8},
	}}
	fields, err := w.Fields(shape, []float64{0}, -1)
	if err != nil {
		t.Fatal(err)
	}
	for _, smooth := range []bool{false, true} {
		fc, err := weather.NewForecast(context.Background(), fields, weather.Options{Smooth: smooth, Waves: weather.WavesFromFile})
		if err != nil {
			t.Fatal(err)
		}
		f := fc.Main()
		const step = 1e-4
		for _, lat := range []float64{-60, 37.3, 45, 59.99} {
			for lon := -12.0; lon < 12; lon += 0.25 {
				a, err := f.At(lon-step, lat, 0)
				if err != nil {
					t.Fatal(err)
				}
				b, err := f.At(lon+step, lat, 0)
				if err != nil {
					t.Fatal(err)
				}
				if d := math.Hypot(a.U-b.U, a.V-b.V); !(d < 0.01) {
					t.Errorf("smooth %v: jump of %g m/s at %g, %g", smooth, d, lon, lat)
				}
			}
		}
		for lat := 30.0; lat < 50; lat += 0.25 {
			a, _ := f.At(3.3, lat-step, 0)
			b, err := f.At(3.3, lat+step, 0)
			if err != nil {
				t.Fatal(err)
			}
			if d := math.Hypot(a.U-b.U, a.V-b.V); !(d < 0.01) {
				t.Errorf("smooth %v: jump of %g m/s at lat %g", smooth, d, lat)
			}
		}
	}
}
