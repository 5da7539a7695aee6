package waves

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/weather/grid"
)

const pkg = "weather/waves"

// check records a row. The sources use g = 9.81; the difference of 0.03 % lies
// within every tolerance here.
func check(t *testing.T, id, what string, got, want, tol float64, unit, source string, kind validation.Kind) {
	t.Helper()
	validation.Check(t, validation.Row{Package: pkg, ID: id, Quantity: what, Got: got, Want: want, Tol: tol, Unit: unit, Source: source, Kind: kind})
}

func TestRelationsAgainstTables(t *testing.T) {
	const computed = "; values computed from the published formulas with g 9.81"
	for _, r := range []struct {
		id                   string
		u, fetchM            float64
		spmH, spmT, spmHours float64
		cemH, cemT, joH, joT float64
	}{
		{"10-100", 10, 100e3, 1.948, 6.64, 8.39, 1.588, 4.78, 1.615, 6.05},
		{"15-200", 15, 200e3, 4.536, 9.87, 11.28, 3.566, 7.03, 3.427, 8.72},
		{"20-500", 20, 500e3, 10.22, 15.08, 18.46, 7.912, 10.67, 7.224, 13.02},
	} {
		inf := math.Inf(1)
		what := fmt.Sprintf(" at %g m/s over %g km", r.u, r.fetchM/1000)
		s := SPM.Grow(r.u, r.fetchM, inf)
		check(t, "spm-h-"+r.id, "SPM height"+what, s.HsM, r.spmH, 0.002*r.spmH, "m", SPM.Source+computed, validation.Analytic)
		check(t, "spm-t-"+r.id, "SPM period"+what, s.PeakS, r.spmT, 0.002*r.spmT, "s", SPM.Source+computed, validation.Analytic)
		check(t, "spm-tmin-"+r.id, "SPM least duration"+what, SPM.MinDurationS(r.u, r.fetchM)/3600, r.spmHours, 0.003*r.spmHours, "h", SPM.Source+" (duration coefficient from memory)"+computed, validation.Analytic)
		c := CEM.Grow(r.u, r.fetchM, inf)
		check(t, "cem-h-"+r.id, "CEM height"+what, c.HsM, r.cemH, 0.002*r.cemH, "m", CEM.Source+computed, validation.Analytic)
		check(t, "cem-t-"+r.id, "CEM period"+what, c.PeakS, r.cemT, 0.002*r.cemT, "s", CEM.Source+computed, validation.Analytic)
		j := JONSWAPGrowth(r.u, r.fetchM)
		check(t, "jonswap-h-"+r.id, "JONSWAP growth height"+what, j.HsM, r.joH, 0.002*r.joH, "m", "K. Hasselmann et al. 1973"+computed, validation.Analytic)
		check(t, "jonswap-t-"+r.id, "JONSWAP growth period"+what, j.PeakS, r.joT, 0.002*r.joT, "s", "K. Hasselmann et al. 1973"+computed, validation.Analytic)
	}
}

func TestWorkedExample(t *testing.T) {
	const source = "coastal engineering textbook exercise with the SPM 1984 equations, U in place of the adjusted wind, 15 m/s"
	r := SPM.Unadjusted()
	s := r.Grow(15, 200e3, math.Inf(1))
	check(t, "exercise-h", "fetch-limited height over 200 km", s.HsM, 3.417, 0.012, "m", source, validation.Published)
	check(t, "exercise-t", "fetch-limited period over 200 km", s.PeakS, 9.0, 0.03, "s", source, validation.Published)
	check(t, "exercise-tmin", "least duration for 200 km", r.MinDurationS(15, 200e3)/3600, 12.38, 0.05, "h", source+"; computed", validation.Analytic)
	// The printed solution overlooks its own duration of 10 h.
	d := r.Grow(15, 200e3, 10*3600)
	check(t, "exercise-duration-h", "height after 10 h, which is duration-limited", d.HsM, 2.92, 0.01, "m", source+"; corrected, computed", validation.Analytic)
	check(t, "exercise-duration-t", "period after 10 h", d.PeakS, 8.08, 0.03, "s", source+"; corrected, computed", validation.Analytic)
	full := r.Grow(15, math.Inf(1), math.Inf(1))
	check(t, "exercise-full-h", "dimensionless height when fully developed", full.HsM*g/(15*15), 0.243, 0.0005, "", source, validation.Published)
	x := r.fetchForHeight(15, full.HsM)
	check(t, "exercise-full-fetch", "fetch to full development", x*15*15/g/1000, 529, 2, "km", source, validation.Published)
}

func TestFullyDeveloped(t *testing.T) {
	const source = "W. J. Pierson and L. Moskowitz, J. Geophys. Res. 69, 1964; computed"
	for _, r := range []struct{ u, h, tp float64 }{{5, .561, 3.75}, {7.5, 1.263, 5.62}, {10, 2.245, 7.49}, {15, 5.052, 11.24}, {20, 8.981, 14.98}} {
		s := FullyDeveloped(r.u)
		id := fmt.Sprintf("%g", r.u)
		check(t, "pm-h-"+id, "fully developed height at "+id+" m/s", s.HsM, r.h, 0.002*r.h, "m", source, validation.Analytic)
		check(t, "pm-t-"+id, "fully developed peak period at "+id+" m/s", s.PeakS, r.tp, 0.003*r.tp, "s", source, validation.Analytic)
	}
	// The spectrum holds the same sea.
	u195 := 10.26
	m0 := Moment(0, func(w float64) float64 { return PiersonMoskowitz(w, u195) }, 0.2, 20, 4000)
	check(t, "pm-spectrum", "4√m0 of the spectrum at 10 m/s", 4*math.Sqrt(m0), FullyDeveloped(10).HsM, 0.002, "m", source, validation.Analytic)
	m2 := Moment(2, func(w float64) float64 { return PiersonMoskowitz(w, u195) }, 0.2, 2000, 20000)
	tz := 2 * math.Pi * math.Sqrt(m0/m2)
	check(t, "pm-tz", "Tz/Tp of the spectrum", tz/FullyDeveloped(10).PeakS, 0.710, 0.002, "", source, validation.Analytic)
	j := Moment(0, func(f float64) float64 { return JONSWAP(f, 15, 200e3) }, 0.02, 5, 4000)
	check(t, "jonswap-spectrum", "4√m0 of the spectrum at 15 m/s over 200 km", 4*math.Sqrt(j), 4.25, 0.03, "m", "K. Hasselmann et al. 1973, alpha(F) fit with gamma 3.3; computed", validation.Analytic)
}

func TestDeepWater(t *testing.T) {
	for _, r := range []struct{ t, l, c float64 }{{6, 56.2, 9.37}, {8, 99.9, 12.49}, {10, 156.1, 15.61}} {
		id := fmt.Sprintf("%g", r.t)
		check(t, "deep-length-"+id, "length of a deep-water wave of "+id+" s", DeepWaterLengthM(r.t), r.l, 0.05, "m", "linear wave theory; computed", validation.Analytic)
		check(t, "deep-speed-"+id, "speed of a deep-water wave of "+id+" s", DeepWaterSpeedMS(r.t), r.c, 0.01, "m/s", "linear wave theory; computed", validation.Analytic)
	}
}

// TestMarchedSeaLiesInTheBeaufortBand: a wind of a day over the default fetch
// gives about the probable wave heights of the WMO's table of the Beaufort
// scale, which tells them for the open sea.
func TestMarchedSeaLiesInTheBeaufortBand(t *testing.T) {
	m, err := NewMarcher(Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range []struct{ b, ms, lo, hi float64 }{
		// From 70 % of the probable height to the probable maximum height.
		{3, 5, 0.4, 1.0}, {4, 7, 0.7, 1.5}, {5, 10, 1.4, 2.5}, {6, 12, 2.1, 4.0}, {7, 15, 2.8, 5.5}, {8, 19, 3.85, 7.5}, {9, 23, 4.9, 10}, {10, 27, 6.3, 12.5},
	} {
		s := m.Start(0, -r.ms, m.opt.FetchM)
		for range 12 {
			s = m.Step(s, 0, -r.ms, m.opt.FetchM, 3600)
		}
		id := fmt.Sprintf("beaufort-%g", r.b)
		validation.Band(t, validation.Row{Package: pkg, ID: id, Quantity: fmt.Sprintf("height after 24 h of %g m/s", r.ms), Got: s.HsM, Unit: "m",
			Source: "WMO wave heights of the Beaufort scale (Met Office printing): from 70 % of the probable to the probable maximum height", Kind: validation.Behaviour}, r.lo, r.hi)
	}
}

func TestMarching(t *testing.T) {
	m, err := NewMarcher(Options{OwnLimit: true})
	if err != nil {
		t.Fatal(err)
	}
	const fetch = 500e3
	t.Run("steady wind in steps is the closed form", func(t *testing.T) {
		s := m.Start(0, -12, fetch)
		for k := 1; k <= 30; k++ {
			s = m.Step(s, 0, -12, fetch, 3600)
			want := CEM.Grow(12, fetch, 12*3600+float64(k)*3600)
			if !(math.Abs(s.HsM-want.HsM) < 1e-9 && math.Abs(s.PeakS-want.PeakS) < 1e-9) {
				t.Fatalf("after %d h: %+v, want %+v", k, s.Sea, want)
			}
		}
		if s.FromEast != 0 || s.FromNorth != 1 {
			t.Errorf("a northerly raises a sea from %g, %g", s.FromEast, s.FromNorth)
		}
	})
	t.Run("one step or many", func(t *testing.T) {
		a, b := m.Start(0, -8, fetch), m.Start(0, -8, fetch)
		a = m.Step(a, 0, -14, fetch, 6*3600)
		for range 6 {
			b = m.Step(b, 0, -14, fetch, 3600)
		}
		if !(math.Abs(a.HsM-b.HsM) < 1e-9) {
			t.Errorf("%g in one step, %g in six", a.HsM, b.HsM)
		}
	})
	t.Run("falls when the wind drops, to what the wind sustains", func(t *testing.T) {
		s := m.Start(0, -20, fetch)
		start := s
		lim := m.limit(5, fetch)
		for k := 1; k <= 96; k++ {
			next := m.Step(s, 0, -5, fetch, 3600)
			if !(next.HsM < s.HsM && next.HsM >= lim.HsM) {
				t.Fatalf("after %d h: %g after %g", k, next.HsM, s.HsM)
			}
			s = next
			if k == 12 {
				want := lim.HsM + (start.HsM-lim.HsM)/math.E
				if !(math.Abs(s.HsM-want) < 1e-9) {
					t.Errorf("after the decay time %g, want %g", s.HsM, want)
				}
			}
		}
	})
	t.Run("direction follows with the stated lag, also through north", func(t *testing.T) {
		s := m.Start(10*math.Sin(20*math.Pi/180), -10*math.Cos(20*math.Pi/180), fetch) // from 340°
		// Wind from 040°.
		u, v := -10*math.Sin(40*math.Pi/180), -10*math.Cos(40*math.Pi/180)
		for range 4 {
			s = m.Step(s, u, v, fetch, 3600)
		}
		from := math.Atan2(s.FromEast, s.FromNorth) * 180 / math.Pi
		want := 40 - 60/math.E
		if !(math.Abs(from-want) < 1e-9) {
			t.Errorf("from %g°, want %g°", from, want)
		}
	})
	t.Run("a reversal lowers the sea first", func(t *testing.T) {
		s := m.Start(0, -12, fetch)
		start := s.HsM
		s = m.Step(s, 0, 12, fetch, 3600)
		if !(s.HsM < start) {
			t.Errorf("%g after %g", s.HsM, start)
		}
		low := s.HsM
		for range 48 {
			s = m.Step(s, 0, 12, fetch, 3600)
			low = min(low, s.HsM)
		}
		if !(low < 0.9*start && s.HsM > start && s.FromNorth < -0.999) {
			t.Errorf("from %g to %g to %g, direction %g", start, low, s.HsM, s.FromNorth)
		}
	})
	t.Run("calm", func(t *testing.T) {
		s := m.Start(0, 0, fetch)
		for range 5 {
			s = m.Step(s, 0, 0, fetch, 3600)
		}
		if s.HsM != 0 || s.PeakS != 0 {
			t.Errorf("%+v", s)
		}
		s = m.Step(s, 3, 0, fetch, 3600)
		if !(s.HsM > 0 && s.FromEast == -1) {
			t.Errorf("%+v", s)
		}
	})
	t.Run("never above the limits", func(t *testing.T) {
		pm, _ := NewMarcher(Options{})
		s := pm.Start(0, -10, fetch)
		for range 100 {
			s = pm.Step(s, 0, -10, fetch, 3600)
		}
		if full := FullyDeveloped(10); !(math.Abs(s.HsM-full.HsM) < 1e-9 && s.PeakS <= full.PeakS && s.PeakS > 0.9*full.PeakS) {
			t.Errorf("%+v, want %+v", s.Sea, full)
		}
		s = pm.Start(0, -10, 20e3)
		for range 100 {
			s = pm.Step(s, 0, -10, 20e3, 3600)
		}
		if want := CEM.Grow(10, 20e3, math.Inf(1)); !(math.Abs(s.HsM-want.HsM) < 1e-9) {
			t.Errorf("%+v, want %+v", s.Sea, want)
		}
	})
}

// TestTheTwoDurationFormulasOfTheCEM: the two duration formulas of the CEM
// differ by a fifth; the one that marching uses is the equivalent fetch.
func TestTheTwoDurationFormulasOfTheCEM(t *testing.T) {
	direct := 77.23 * math.Pow(200e3, .67) / (math.Pow(15, .34) * math.Pow(9.81, .33))
	validation.Band(t, validation.Row{Package: pkg, ID: "cem-durations", Quantity: "least duration at 15 m/s over 200 km, by equivalent fetch over by the direct formula",
		Got: CEM.MinDurationS(15, 200e3) / direct, Source: CEM.Source + " (direct formula from memory)", Kind: validation.Published}, 1, 1.25)
}

func TestMarchOnGrid(t *testing.T) {
	sh := grid.Shape{South: 40, West: -20, DLat: 1, DLon: 1, NLat: 7, NLon: 9}
	n := sh.NLat * sh.NLon
	nan := math.NaN()
	gr := Grid{Shape: sh, TimesS: []float64{0, 10800, 21600}, Wind: func(step, node int) (u, v float64) {
		if node%sh.NLon == 0 { // land along the western edge
			return nan, nan
		}
		return 12, 0 // westerly, off the land
	}}
	run := func() [][]State {
		out := make([][]State, 3)
		for k := range out {
			out[k] = make([]State, n)
		}
		var mu sync.Mutex
		calls := 0
		err := March(context.Background(), gr, Options{}, func(step, node int, s State) {
			mu.Lock()
			calls++
			mu.Unlock()
			out[step][node] = s
		})
		if err != nil {
			t.Fatal(err)
		}
		if calls != 3*n {
			t.Fatalf("%d calls", calls)
		}
		return out
	}
	out := run()
	row := 3 * sh.NLon
	if !math.IsNaN(out[0][row].HsM) {
		t.Error("waves on land")
	}
	for i := 2; i < sh.NLon; i++ {
		if !(out[2][row+i].HsM > out[2][row+i-1].HsM) && out[2][row+i].HsM < 2 {
			t.Errorf("column %d: %g after %g: no growth with the distance from land", i, out[2][row+i].HsM, out[2][row+i-1].HsM)
		}
	}
	// About one cell off a weather shore the fetch is of the order of a cell.
	near := out[2][row+1].HsM
	lo, hi := CEM.Grow(12, 35e3, math.Inf(1)).HsM, CEM.Grow(12, 130e3, math.Inf(1)).HsM
	if !(near >= lo && near <= hi) {
		t.Errorf("near the shore %g, want %g to %g", near, lo, hi)
	}
	// The same on one processor and on all.
	old := runtime.GOMAXPROCS(1)
	again := run()
	runtime.GOMAXPROCS(old)
	for k := range out {
		for i := range out[k] {
			if out[k][i] != again[k][i] && !math.IsNaN(out[k][i].HsM) {
				t.Fatalf("step %d node %d differs", k, i)
			}
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := March(ctx, gr, Options{}, func(int, int, State) {}); err == nil {
		t.Error("no error after cancellation")
	}
	if err := March(context.Background(), gr, Options{FetchM: -1}, func(int, int, State) {}); err == nil {
		t.Error("negative fetch accepted")
	}
}

func BenchmarkStep(b *testing.B) {
	m, err := NewMarcher(Options{})
	if err != nil {
		b.Fatal(err)
	}
	s := m.Start(3, -9, 5e5)
	for i := range b.N {
		s = m.Step(s, 3+float64(i&7), -9, 5e5, 3600)
	}
}
