package weather

import (
	"context"
	"errors"
	"math"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"foilledger/testdata/validation"
	"foilledger/weather/grid"
)

var t0 = time.Date(2030, 5, 1, 0, 0, 0, 0, time.UTC)

// made samples a function on a grid at the given hours.
func made(q grid.Quantity, s grid.Shape, hours []float64, f func(lon, lat, h float64) float64) []*grid.Field {
	var out []*grid.Field
	for _, h := range hours {
		v := make([]float32, s.NLat*s.NLon)
		for j := range s.NLat {
			for i := range s.NLon {
				v[j*s.NLon+i] = float32(f(wrap180(s.West+float64(i)*s.DLon), s.South+float64(j)*s.DLat, h))
			}
		}
		out = append(out, &grid.Field{Shape: s, Quantity: q, Member: -1, Reference: t0,
			Valid: t0.Add(time.Duration(h * float64(time.Hour))), Values: v})
	}
	return out
}

func wind(s grid.Shape, hours []float64, u, v func(lon, lat, h float64) float64) []*grid.Field {
	return append(made(grid.WindU, s, hours, u), made(grid.WindV, s, hours, v)...)
}

func constant(c float64) func(lon, lat, h float64) float64 {
	return func(_, _, _ float64) float64 { return c }
}

func mustForecast(t testing.TB, fields []*grid.Field, opt Options) *Forecast {
	t.Helper()
	fc, err := NewForecast(context.Background(), fields, opt)
	if err != nil {
		t.Fatal(err)
	}
	return fc
}

func near(t testing.TB, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.9g, want %.9g ± %g", name, got, want, tol)
	}
}

func steps(from, to, by float64) []float64 {
	var h []float64
	for x := from; x <= to+1e-9; x += by {
		h = append(h, x)
	}
	return h
}

func TestBilinearIsExactOnLinearFields(t *testing.T) {
	shapes := map[string]grid.Shape{
		"plain":          {South: 30, West: -40, DLat: 1, DLon: 1.25, NLat: 11, NLon: 17},
		"across zero":    {South: -5, West: -8, DLat: 0.5, DLon: 0.5, NLat: 21, NLon: 33},
		"across 180":     {South: -60, West: 170, DLat: 1, DLon: 1, NLat: 20, NLon: 21},
		"single row":     {South: 40, West: 0, DLon: 1, NLat: 1, NLon: 5},
		"single column":  {South: 40, West: 12, DLat: 1, NLat: 5, NLon: 1},
		"irregular west": {South: 10, West: -179.5, DLat: 2, DLon: 3, NLat: 4, NLon: 9},
	}
	for name, s := range shapes {
		t.Run(name, func(t *testing.T) {
			// Eastward distance from the west edge keeps the function linear
			// across the antimeridian. One direction only, so that the speed is
			// linear in time as well.
			f := func(lon, lat, h float64) float64 {
				return 3 + 0.1*eastOf(s.West, lon) + 0.05*(lat-s.South) + 0.2*h
			}
			for _, smooth := range []bool{false, true} {
				fld := mustForecast(t, wind(s, steps(0, 12, 3), f, constant(0)), Options{Smooth: smooth, Waves: WavesFromFile}).Main()
				for _, fx := range []float64{0, 0.13, 0.5, 0.99, 1} {
					for _, fy := range []float64{0, 0.37, 1} {
						for _, h := range []float64{0, 1, 3, 7.7, 12} {
							lon := s.West + fx*float64(s.NLon-1)*s.DLon
							lat := s.South + fy*float64(s.NLat-1)*s.DLat
							for _, turn := range []float64{-720, -360, 0, 360} {
								got, err := fld.At(lon+turn, lat, h*3600)
								if err != nil {
									t.Fatal(err)
								}
								near(t, "u", got.U, f(lon, lat, h), 2e-6*10)
								near(t, "v", got.V, 0, 1e-9)
							}
						}
					}
				}
			}
		})
	}
}

func TestGlobalGridWraps(t *testing.T) {
	for _, west := range []float64{0, -180, -0.5, 179} {
		s := grid.Shape{South: -90, West: west, DLat: 2, DLon: 2, NLat: 91, NLon: 180}
		u := func(lon, lat, h float64) float64 { return 10 + 3*math.Cos(lon*math.Pi/180) }
		for _, smooth := range []bool{false, true} {
			f := mustForecast(t, wind(s, []float64{0, 6}, u, constant(0)), Options{Smooth: smooth, Waves: WavesFromFile}).Main()
			for lon := -540.0; lon <= 540; lon += 0.37 {
				got, err := f.At(lon, 10.3, 3600)
				if err != nil {
					t.Fatalf("west %g lon %g: %v", west, lon, err)
				}
				near(t, "u", got.U, u(lon, 0, 0), 5e-4)
			}
			if b := f.Bounds(); b.WidthDeg != 360 {
				t.Errorf("global width %g", b.WidthDeg)
			}
		}
	}
}

func TestCoverageErrors(t *testing.T) {
	s := grid.Shape{South: 30, West: 170, DLat: 1, DLon: 1, NLat: 11, NLon: 21} // 170°E to 170°W
	f := mustForecast(t, wind(s, steps(0, 48, 6), constant(5), constant(5)), Options{}).Main()
	tests := []struct {
		name         string
		lon, lat, h  float64
		kind         CoverageKind
		edge         string
		beyond       float64
		inMessage    string
		inHint       string
		holdAnswers  bool
		beyondIsTime bool
	}{
		{"north", 175, 42.5, 0, OutsideArea, "north", 2.5, "2.50° beyond its north edge", "42.50°N", false, false},
		{"south", 175, 20, 0, OutsideArea, "south", 10, "south edge", "20.00°N", false, false},
		{"west", 160, 35, 0, OutsideArea, "west", 10, "west edge", "", false, false},
		{"east", -165, 35, 0, OutsideArea, "east", 5, "east edge", "165.00°W", false, false},
		{"east another turn", 195, 35, 0, OutsideArea, "east", 5, "east edge", "165.00°W", false, false},
		{"before", 175, 35, -2, BeforeFirst, "", 7200, "2.0 h after", "earlier", false, true},
		{"after", 175, 35, 50.5, AfterLast, "", 2.5 * 3600, "2.5 h before", "hold", true, true},
		{"nan lon", math.NaN(), 35, 0, NotFinite, "", 0, "", "", false, false},
		{"nan lat", 175, math.NaN(), 0, NotFinite, "", 0, "", "", false, false},
		{"inf time", 175, 35, math.Inf(1), NotFinite, "", 0, "", "", false, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := f.At(tt.lon, tt.lat, tt.h*3600)
			var c *CoverageError
			if !errors.As(err, &c) {
				t.Fatalf("got %v", err)
			}
			if c.Kind != tt.kind || c.Edge != tt.edge {
				t.Errorf("got %v %q, want %v %q", c.Kind, c.Edge, tt.kind, tt.edge)
			}
			if tt.beyondIsTime {
				near(t, "beyond", c.BeyondS, tt.beyond, 1e-6)
			} else if tt.beyond > 0 {
				near(t, "beyond", c.BeyondDeg, tt.beyond, 1e-9)
			}
			if !strings.Contains(c.Error(), tt.inMessage) {
				t.Errorf("message %q lacks %q", c.Error(), tt.inMessage)
			}
			if !strings.Contains(c.Hint(), tt.inHint) {
				t.Errorf("hint %q lacks %q", c.Hint(), tt.inHint)
			}
			_, err = f.HoldLast().At(tt.lon, tt.lat, tt.h*3600)
			if (err == nil) != tt.holdAnswers {
				t.Errorf("holding the last step: %v", err)
			}
		})
	}
	if _, err := f.At(175, 40+1e-9, 48*3600+1e-4); err != nil {
		t.Errorf("rounding at the edge refused: %v", err)
	}
	if _, err := f.At(170-1e-9, 30-1e-9, -1e-4); err != nil {
		t.Errorf("rounding at the edge refused: %v", err)
	}
	if _, last := f.HoldLast().SpanS(); !math.IsInf(last, 1) {
		t.Errorf("held field ends at %g", last)
	}
}

func TestCovers(t *testing.T) {
	s := grid.Shape{South: 30, West: -40, DLat: 1, DLon: 1, NLat: 11, NLon: 21}
	f := mustForecast(t, wind(s, steps(0, 48, 6), constant(5), constant(5)), Options{}).Main()
	in := []orb.Point{{-40, 30}, {-20, 40}}
	if err := f.Covers(in, 0, 48*3600); err != nil {
		t.Errorf("covered track refused: %v", err)
	}
	err := f.Covers(append(in, orb.Point{-30, 41}, orb.Point{-30, 44}, orb.Point{-30, 42}), 3600, 60*3600)
	var c *CoverageError
	if !errors.As(err, &c) || c.Kind != OutsideArea {
		t.Fatalf("got %v", err)
	}
	near(t, "worst point", c.BeyondDeg, 4, 1e-9)
	if err := f.Covers(in, 0, 60*3600); !errors.As(err, &c) || c.Kind != AfterLast || c.BeyondS != 12*3600 {
		t.Errorf("got %v", err)
	}
	if err := f.Covers(in, -3600, 6*3600); !errors.As(err, &c) || c.Kind != BeforeFirst || c.BeyondS != 3600 {
		t.Errorf("got %v", err)
	}
	if err := f.Covers(in, math.NaN(), 0); !errors.As(err, &c) || c.Kind != NotFinite {
		t.Errorf("got %v", err)
	}
}

// TestCoast: a point has weather when one of its four nodes has.
func TestCoast(t *testing.T) {
	s := grid.Shape{South: 0, West: 0, DLat: 1, DLon: 1, NLat: 6, NLon: 6}
	u := func(lon, lat, h float64) float64 {
		if lon >= 2.5 { // land east of 2.5°
			return math.NaN()
		}
		return 4 + lat
	}
	f := mustForecast(t, wind(s, []float64{0, 3}, u, constant(1)), Options{})
	m := f.Main()
	for _, tt := range []struct {
		lon, lat float64
		ok       bool
		u        float64
	}{
		{1.5, 2.5, true, 6.5},
		{2, 3, true, 7},
		{2.9, 2.5, true, 6.5}, // filled from column 2
		{3, 3, true, 7},
		{3.2, 2.5, false, 0},
		{5, 5, false, 0},
	} {
		got, err := m.At(tt.lon, tt.lat, 3600)
		if (err == nil) != tt.ok {
			t.Errorf("%g,%g: %v", tt.lon, tt.lat, err)
			continue
		}
		if tt.ok {
			near(t, "u", got.U, tt.u, 1e-5)
			continue
		}
		var c *CoverageError
		if !errors.As(err, &c) || c.Kind != Missing {
			t.Errorf("%g,%g: %v", tt.lon, tt.lat, err)
		}
	}
	if m.filled[gWind] != 2*6 {
		t.Errorf("filled %d nodes, want 12", m.filled[gWind])
	}
	if !strings.Contains(strings.Join(f.Warnings, "\n"), "wind: 12 of 72 node values along the coast") {
		t.Errorf("warnings do not tell of the fill: %q", f.Warnings)
	}
	if err := m.Covers([]orb.Point{{1, 1}, {4.5, 1}}, 0, 3600); err == nil || !strings.Contains(err.Error(), "land or masked") {
		t.Errorf("masked point: %v", err)
	}
}

func TestGapBetweenSteps(t *testing.T) {
	s := grid.Shape{South: 0, West: 0, DLat: 1, DLon: 1, NLat: 3, NLon: 3}
	fc := mustForecast(t, wind(s, []float64{0, 3, 6, 24, 27}, constant(5), constant(0)), Options{})
	f := fc.Main()
	if _, err := f.At(1, 1, 12*3600); err == nil || err.(*CoverageError).Kind != InGap {
		t.Errorf("got %v", err)
	}
	for _, h := range []float64{6, 24, 25} {
		if _, err := f.At(1, 1, h*3600); err != nil {
			t.Errorf("hour %g: %v", h, err)
		}
	}
	if !strings.Contains(strings.Join(fc.Warnings, "\n"), "no step between 2030-05-01T06:00Z and 2030-05-02T00:00Z") {
		t.Errorf("warnings: %q", fc.Warnings)
	}
	// Steps that grow towards the end are usual and not warned of.
	fc = mustForecast(t, wind(s, []float64{0, 1, 2, 3, 6, 9, 15, 21}, constant(5), constant(0)), Options{})
	if strings.Contains(strings.Join(fc.Warnings, "\n"), "no step") {
		t.Errorf("warnings: %q", fc.Warnings)
	}
}

func TestWindBlend(t *testing.T) {
	tests := []struct {
		name                   string
		u0, v0, u1, v1, w      float64
		wantSpeed, wantFromDeg float64
	}{
		{"same direction", 0, -5, 0, -9, 0.25, 6, 0},
		{"quarter turn keeps the speed", 0, -10, -10, 0, 0.5, 10, 45},
		{"quarter turn, speeds differ", 0, -10, -20, 0, 0.5, 15, 90 - math.Atan(0.5)*180/math.Pi},
		{"turn of 120° keeps the speed", 10 * math.Sin(math.Pi/3), -5, -10 * math.Sin(math.Pi/3), -5, 0.5, 10, 0},
		{"reversal passes zero", 0, -10, 0, 10, 0.5, 0, 0},
		{"reversal near its start", 0, -10, 0, 10, 0.25, 5, 0},
		{"out of a calm", 0, 0, 0, -10, 0.3, 3, 0},
		{"calm", 0, 0, 0, 0, 0.3, 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			u, v := blendWind(tt.u0, tt.v0, tt.u1, tt.v1, tt.w)
			s := Sample{U: u, V: v}
			near(t, "speed", s.TWSMS(), tt.wantSpeed, 1e-9)
			near(t, "from", s.WindFromRad()*180/math.Pi, tt.wantFromDeg, 1e-9)
			// Time reversal.
			u2, v2 := blendWind(tt.u1, tt.v1, tt.u0, tt.v0, 1-tt.w)
			near(t, "u back", u2, u, 1e-12)
			near(t, "v back", v2, v, 1e-12)
		})
	}
	// Continuous: no jump for a small change of anything, through the reversal.
	for turn := 0.0; turn < 360; turn += 0.5 {
		for w := 0.0; w < 1; w += 0.01 {
			at := func(turn, w float64) (float64, float64) {
				sin, cos := math.Sincos(turn * math.Pi / 180)
				return blendWind(0, 10, 8*sin, 8*cos, w)
			}
			u, v := at(turn, w)
			const d = 1e-5
			ut, vt := at(turn+d, w)
			uw, vw := at(turn, w+d)
			if !(math.Hypot(ut-u, vt-v) < 3e-3 && math.Hypot(uw-u, vw-v) < 3e-3) {
				t.Fatalf("jump at turn %g w %g", turn, w)
			}
		}
	}
}

// TestBearings compares with the standard library all round and at the seams.
func TestBearings(t *testing.T) {
	worst := 0.0
	check := func(east, north float64) {
		got := fromRad(east, north)
		if !(got >= 0 && got < 2*math.Pi) {
			t.Fatalf("(%g, %g): %g", east, north, got)
		}
		d := math.Abs(got - math.Mod(math.Atan2(east, north)+2*math.Pi, 2*math.Pi))
		worst = max(worst, min(d, 2*math.Pi-d))
	}
	for k := range 7201 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 3600)
		for _, r := range []float64{1e-300, 1e-9, 1, 17.3, 1e200} {
			check(r*sin, r*cos)
		}
	}
	for _, e := range []float64{0, 1, -1, 1e-17, -1e-17, math.Copysign(0, -1)} {
		for _, n := range []float64{1, -1, 1e-17, -1e-17} {
			check(e, n)
		}
	}
	if fromRad(0, 0) != 0 {
		t.Error("the null vector has a bearing")
	}
	validation.Check(t, validation.Row{Package: "weather", ID: "bearing", Quantity: "largest difference of bearings of a vector", Got: worst, Want: 0, Tol: 2e-11, Unit: "rad",
		Source: "math.Atan2 of the standard library", Kind: validation.Independent})
}

// TestSplineShortCut: the weighted sum well inside the grid and the spline along
// rows and columns are the same.
func TestSplineShortCut(t *testing.T) {
	s := grid.Shape{South: 30, West: -40, DLat: 1, DLon: 1, NLat: 11, NLon: 21}
	f := mustForecast(t, wind(s, []float64{0}, func(lon, lat, h float64) float64 { return math.Sin(lon*1.3) * math.Cos(lat) },
		func(lon, lat, h float64) float64 { return math.Cos(lon) + lat/10 }), Options{Smooth: true, Waves: WavesFromFile}).Main()
	fr := f.layers[gWind][0]
	for lat := 31.05; lat < 39; lat += 0.31 {
		for lon := -38.9; lon < -21; lon += 0.37 {
			var l locus
			if k := fr.locate(lon, lat, 0, false, &l); k != 0 {
				t.Fatal(k)
			}
			u, v := fr.cubicPair(&l, l.base+fr.off)
			near(t, "u", u, fr.cubic(&l, l.base+fr.off), 1e-12)
			near(t, "v", v, fr.cubic(&l, l.base+fr.off+1), 1e-12)
		}
	}
}

func TestAtDoesNotAllocate(t *testing.T) {
	s := grid.Shape{South: 30, West: -40, DLat: 1, DLon: 1, NLat: 11, NLon: 21}
	for _, smooth := range []bool{false, true} {
		f := mustForecast(t, wind(s, steps(0, 48, 6), constant(5), constant(5)), Options{Smooth: smooth}).Main()
		var src Source = f
		if n := testing.AllocsPerRun(100, func() {
			if _, err := src.At(-33.3, 34.2, 5000); err != nil {
				t.Fatal(err)
			}
		}); n != 0 {
			t.Errorf("smooth %v: %g allocations", smooth, n)
		}
	}
}

// benchField reports the processor time of a sample beside the elapsed time,
// which other load on the machine disturbs.
func benchField(b *testing.B, opt Options, extra ...*grid.Field) {
	s := grid.Shape{South: 10, West: -75, DLat: 1, DLon: 1.25, NLat: 51, NLon: 61}
	fields := append(wind(s, steps(0, 180, 3), func(lon, lat, h float64) float64 { return 10 * math.Sin(lon+lat+h) },
		func(lon, lat, h float64) float64 { return 10 * math.Cos(lon-lat+h) }), extra...)
	f := mustForecast(b, fields, opt).Main()
	var src Source = f
	b.ReportAllocs()
	runtime.GC()
	b.ResetTimer()
	began := processorTime(b)
	x := 0.1
	for range b.N {
		x += 0.618034
		if x > 1 {
			x--
		}
		if _, err := src.At(-74+70*x, 11+45*x, 640000*x); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64((processorTime(b)-began).Nanoseconds())/float64(b.N), "processor-ns/sample")
}

// processorTime is the time that the process has had on all processors.
func processorTime(b testing.TB) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func BenchmarkAtWind(b *testing.B)         { benchField(b, Options{Waves: WavesFromFile}) }
func BenchmarkAtWindAndWaves(b *testing.B) { benchField(b, Options{}) }
func BenchmarkAtWindSmooth(b *testing.B)   { benchField(b, Options{Waves: WavesFromFile, Smooth: true}) }
