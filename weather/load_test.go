package weather

import (
	"bytes"
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"

	"foilledger/testdata/validation"
	"foilledger/weather/grib"
	"foilledger/weather/grid"
)

func writeGRIB(t testing.TB, name string, fields []*grid.Field) string {
	t.Helper()
	var b bytes.Buffer
	if err := grib.Encode2(&b, fields, grib.EncodeOptions{}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func load(t testing.TB, opt Options, paths ...string) *Forecast {
	t.Helper()
	fc, err := Load(context.Background(), paths, opt)
	if err != nil {
		t.Fatal(err)
	}
	return fc
}

func TestLoadRealSeries(t *testing.T) {
	near := func(name string, got, want, tol float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s = %.6g, want %.6g ± %g", name, got, want, tol)
		}
	}
	t.Run("transatlantic GRIB 1", func(t *testing.T) {
		p := validation.SharedData(t, "grib1", "ncep-nww3_20050330T00_f000-180_3h_wind_transatl_60N10N_75W0.grib1")
		fc := load(t, Options{}, p)
		f := fc.Main()
		first, last := f.SpanS()
		near("span", last-first, 180*3600, 0)
		if n := len(f.StepsS()); n != 61 {
			t.Errorf("%d steps", n)
		}
		if f.Variables() != HasWind|HasWaveHeight|HasWavePeriod|HasWaveDirection || !f.WavesDerived() {
			t.Errorf("variables %v, derived %v", f.Variables().Names(), f.WavesDerived())
		}
		all := strings.Join(fc.Warnings, "\n")
		if !strings.Contains(all, "no waves in the forecast: derived from the wind") || !strings.Contains(all, "along the coast") {
			t.Errorf("warnings: %s", all)
		}
		if len(fc.Inputs) != 1 || !strings.HasPrefix(fc.Inputs[0].SHA256, "ec466f6e8b52b2b0") {
			t.Errorf("inputs %v", fc.Inputs)
		}
		// Open ocean everywhere along 40 N.
		var top float64
		for lon := -65.0; lon < -12; lon += 0.7 {
			for ts := 0.0; ts <= last; ts += 5000 {
				s, err := f.At(lon, 40, ts)
				if err != nil {
					t.Fatal(err)
				}
				top = max(top, s.HsM)
				if s.TWSMS() > 45 || s.HsM > 16 || s.HsM > 0.3 && !(s.WavePeriodS > 1 && s.WavePeriodS < 25) {
					t.Fatalf("%g h at %g: %+v", ts/3600, lon, s)
				}
			}
		}
		if !(top > 2 && top < 13) {
			t.Errorf("highest sea %g m", top)
		}
	})
	t.Run("GRIB 2 across Greenwich", func(t *testing.T) {
		p := validation.SharedData(t, "derived", "gfs_pseudofc_20161120T00_f000-048_10uv_natl_1p00_simple.grib2")
		f := load(t, Options{}, p).Main()
		if _, err := f.At(-0.25, 47.5, 3600); err != nil {
			t.Error(err)
		}
		if _, err := f.At(4.5, 40, 47.9*3600); err != nil {
			t.Error(err)
		}
	})
	t.Run("dateline GRIB 1", func(t *testing.T) {
		p := validation.SharedData(t, "grib1", "ncep-nww3_20050330T00_f000-180_3h_wind_nz_dateline_25S60S_145E150W.grib1")
		f := load(t, Options{}, p).Main()
		a, err := f.At(179.9999, -50, 3600)
		if err != nil {
			t.Fatal(err)
		}
		b, err := f.At(-179.9999, -50, 3600)
		if err != nil {
			t.Fatal(err)
		}
		near("u across the dateline", a.U, b.U, 1e-3)
	})
	t.Run("ensemble in one file", func(t *testing.T) {
		if testing.Short() {
			t.Skip("decodes 108 fields: skipped in short mode")
		}
		p := validation.SharedData(t, "derived", "pseudoens_20110101T00_f000-024_10uv_neatl_0p25_6members_ccsds.grib2")
		fc := load(t, Options{Waves: WavesFromFile}, p)
		if len(fc.Members) != 6 || fc.Main() != fc.Members[0] || fc.Members[0].Member() != 0 || fc.Members[5].Member() != 5 {
			t.Fatalf("%d members", len(fc.Members))
		}
		// Member m is the mean of the field and the field 8m h later.
		control, member := fc.Members[0], fc.Members[3]
		for _, ts := range []float64{0} {
			a, _ := control.At(-20, 60, ts)
			b, _ := control.At(-20, 60, ts+24*3600)
			m, err := member.At(-20, 60, ts)
			if err != nil {
				t.Fatal(err)
			}
			near("member 3", m.U, (a.U+b.U)/2, 5e-3)
		}
	})
}

func TestLoadBadFiles(t *testing.T) {
	s := grid.Shape{South: 30, West: -40, DLat: 1, DLon: 1, NLat: 5, NLon: 6}
	good, err := os.ReadFile(writeGRIB(t, "good.grib2", wind(s, steps(0, 12, 3), constant(5), constant(-3))))
	if err != nil {
		t.Fatal(err)
	}
	noise := make([]byte, 5000)
	for i := range noise {
		noise[i] = byte(i*i*31 + i*7)
	}
	noWind, _ := os.ReadFile(writeGRIB(t, "p.grib2", made(grid.SeaLevelPressure, s, []float64{0, 3}, constant(1e5))))
	onlyU, _ := os.ReadFile(writeGRIB(t, "u.grib2", made(grid.WindU, s, []float64{0, 3}, constant(1))))
	tests := []struct {
		name, want string
		data       []byte
	}{
		{"empty", "empty", nil},
		{"noise", "not a GRIB file", noise},
		{"html", "HTML", []byte("<html><body>404</body></html>")},
		{"cut off in the first message", "cut off", good[:100]},
		{"no wind", "no 10 m wind; it holds sea-level-pressure (2)", noWind},
		{"u without v", "u comes without v", onlyU},
		{"netcdf-4", "nccopy", []byte("\x89HDF\r\n\x1a\n____________________")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p := filepath.Join(t.TempDir(), "file.grb")
			if err := os.WriteFile(p, tt.data, 0o644); err != nil {
				t.Fatal(err)
			}
			_, err := Load(context.Background(), []string{p}, Options{})
			var fe *FileError
			if !errors.As(err, &fe) || fe.File != p {
				t.Fatalf("got %v", err)
			}
			if !strings.Contains(err.Error(), tt.want) {
				t.Errorf("message %q lacks %q", err, tt.want)
			}
		})
	}
	t.Run("cut off later", func(t *testing.T) {
		p := filepath.Join(t.TempDir(), "file.grb")
		if err := os.WriteFile(p, good[:len(good)-5], 0o644); err != nil {
			t.Fatal(err)
		}
		fc := load(t, Options{}, p)
		if w := strings.Join(fc.Warnings, "\n"); !strings.Contains(w, "cut off") || !strings.Contains(w, "9 complete fields") {
			t.Errorf("warnings: %s", w)
		}
	})
	t.Run("not there", func(t *testing.T) {
		if _, err := Load(context.Background(), []string{"/nowhere/x.grb"}, Options{}); err == nil || !errors.Is(err, os.ErrNotExist) {
			t.Errorf("got %v", err)
		}
		if _, err := Load(context.Background(), nil, Options{}); err == nil {
			t.Error("no error without files")
		}
		if _, err := Load(context.Background(), []string{t.TempDir() + "/*.grb"}, Options{}); err == nil || !strings.Contains(err.Error(), "no file matches") {
			t.Errorf("got %v", err)
		}
	})
	t.Run("cancelled", func(t *testing.T) {
		ctx, cancel := context.WithCancel(context.Background())
		cancel()
		p := filepath.Join(t.TempDir(), "file.grb")
		if err := os.WriteFile(p, good, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := Load(ctx, []string{p}, Options{}); !errors.Is(err, context.Canceled) {
			t.Errorf("got %v", err)
		}
	})
}

func TestLoadKeepsOnlyWhatIsAsked(t *testing.T) {
	s := grid.Shape{South: -90, West: 0, DLat: 2, DLon: 2, NLat: 91, NLon: 180}
	p := writeGRIB(t, "global.grib2", wind(s, steps(0, 96, 6), func(lon, lat, h float64) float64 { return lon / 20 }, func(lon, lat, h float64) float64 { return lat/10 + h/20 }))
	all := load(t, Options{Waves: WavesFromFile}, p).Main()
	for _, area := range []Bounds{
		{South: 30, North: 50, West: -60, WidthDeg: 50},
		{South: -60, North: -40, West: 170, WidthDeg: 30},
		{South: 10, North: 20, West: -10, WidthDeg: 25},
		{South: 10.5, North: 10.5, West: 3.5, WidthDeg: 0},
	} {
		o := Options{Waves: WavesFromFile, Area: &area, From: t0.Add(24 * time.Hour), To: t0.Add(36 * time.Hour)}
		part := load(t, o, p).Main()
		if a, b := part.bytes(), all.bytes(); a > b/4 {
			t.Errorf("%v: keeps %d of %d bytes", area, a, b)
		}
		for _, fx := range []float64{0, 0.31, 1} {
			for _, h := range []float64{24, 31, 36} {
				lon, lat := area.West+fx*area.WidthDeg, area.South+fx*(area.North-area.South)
				a, err := all.At(lon, lat, h*3600)
				if err != nil {
					t.Fatal(err)
				}
				b, err := part.At(lon, lat, h*3600)
				if err != nil {
					t.Fatalf("%v: %v", area, err)
				}
				near(t, "u", b.U, a.U, 1e-9)
				near(t, "v", b.V, a.V, 1e-9)
			}
		}
	}
	// Beyond what was kept the message does not claim that the forecast ends.
	part := load(t, Options{Waves: WavesFromFile, Area: &Bounds{South: 30, North: 50, West: -60, WidthDeg: 50}}, p).Main()
	if _, err := part.At(-30, 10, 0); err == nil || !strings.Contains(err.Error(), "the part read for this question covers 30°N to 50°N") {
		t.Errorf("got %v", err)
	}
	// What lies wholly elsewhere is said so.
	local := grid.Shape{South: 30, West: -40, DLat: 1, DLon: 1, NLat: 5, NLon: 6}
	q := writeGRIB(t, "local.grib2", wind(local, steps(0, 12, 3), constant(5), constant(-3)))
	var c *CoverageError
	_, err := Load(context.Background(), []string{q}, Options{Area: &Bounds{South: 50, North: 52, West: -39, WidthDeg: 3}})
	if !errors.As(err, &c) || c.Kind != OutsideArea || c.Edge != "north" {
		t.Errorf("got %v", err)
	}
	_, err = Load(context.Background(), []string{q}, Options{From: t0.Add(48 * time.Hour)})
	if !errors.As(err, &c) || c.Kind != AfterLast || c.BeyondS != 36*3600 {
		t.Errorf("got %v", err)
	}
	_, err = Load(context.Background(), []string{q}, Options{To: t0.Add(-24 * time.Hour)})
	if !errors.As(err, &c) || c.Kind != BeforeFirst || c.BeyondS != 24*3600 {
		t.Errorf("got %v", err)
	}
}

// TestAlongIsAsTheWhole: what is kept for a track answers as the whole forecast
// does, the derived sea included, at a fraction of the memory.
func TestAlongIsAsTheWhole(t *testing.T) {
	s := grid.Shape{South: -80, West: -180, DLat: 2, DLon: 2, NLat: 81, NLon: 180}
	fields := wind(s, steps(0, 240, 6),
		func(lon, lat, h float64) float64 { return 9 + 6*math.Sin(lon/9+h/20) },
		func(lon, lat, h float64) float64 { return 6 * math.Cos(lat/7-h/15) })
	for _, f := range fields { // land, for the fetch
		for i := range f.Values {
			if (i/180)%17 == 3 && (i%180)%23 < 4 {
				f.Values[i] = float32(math.NaN())
			}
		}
	}
	p := writeGRIB(t, "global.grib2", fields)
	whole := load(t, Options{}, p).Main()
	for _, tt := range []struct {
		name  string
		track []orb.Point
	}{
		{"Atlantic", []orb.Point{{-10, 50}, {-25, 44}, {-45, 38}}},
		{"antimeridian", []orb.Point{{170, -45}, {-178, -47}, {-160, -50}}},
		{"one place", []orb.Point{{3, 3}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			from, to := t0.Add(96*time.Hour), t0.Add(150*time.Hour)
			part := load(t, Along(tt.track, 60, from, to), p).Main()
			if a, b := part.bytes(), whole.bytes(); a > b/6 {
				t.Errorf("keeps %d of %d bytes", a, b)
			}
			for k, at := range tt.track {
				for h := 96.0; h <= 150; h += 7 {
					lon, lat := at[0]+0.9*math.Sin(h), at[1]+0.9*math.Cos(h+float64(k))
					a, errA := whole.At(lon, lat, h*3600)
					b, errB := part.At(lon, lat, h*3600-part.Reference().Sub(whole.Reference()).Seconds())
					if (errA == nil) != (errB == nil) {
						t.Fatalf("%g, %g: %v, %v", lat, lon, errA, errB)
					}
					if !(math.Abs(a.U-b.U) <= 1e-9 && math.Abs(a.V-b.V) <= 1e-9 && math.Abs(a.HsM-b.HsM) <= 0.01 && math.Abs(a.WavePeriodS-b.WavePeriodS) <= 0.03) {
						t.Errorf("%g h at %g, %g: %+v of the part, %+v of the whole", h, lat, lon, b, a)
					}
				}
			}
		})
	}
}

func TestBoundsOf(t *testing.T) {
	for _, tt := range []struct {
		name   string
		points []orb.Point
		nm     float64
		want   Bounds
	}{
		{"none", nil, 60, Bounds{}},
		{"a point at the equator", []orb.Point{{10, 0}}, 60, Bounds{-1, 1, 9, 2}}, // to 2e-4 for the cosine
		{"across the antimeridian", []orb.Point{{179, 0}, {-179, 0.5}}, 0, Bounds{0, 0.5, 179, 2}},
		{"at 60 degrees a degree of longitude is half as long", []orb.Point{{-30, 59}}, 60, Bounds{58, 60, -32, 4}},
		{"near the pole", []orb.Point{{20, 89.5}}, 60, Bounds{88.5, 90, 20, 360}},
		{"round the Earth", []orb.Point{{0, 0}, {120, 0}, {-120, 0}, {0, 0}}, 0, Bounds{0, 0, 0, 360}},
	} {
		b := BoundsOf(tt.points, tt.nm)
		for _, d := range []float64{b.South - tt.want.South, b.North - tt.want.North, b.WidthDeg - tt.want.WidthDeg, wrap180(b.West - tt.want.West)} {
			if !(math.Abs(d) <= 1e-3) {
				t.Errorf("%s: %+v, want %+v", tt.name, b, tt.want)
				break
			}
		}
	}
}

// TestEveryRealFile: each open data file loads or is refused with a message
// that names the file; nothing panics and no wind is beyond reason.
func TestEveryRealFile(t *testing.T) {
	if testing.Short() {
		t.Skip("reads every open file: skipped in short mode")
	}
	var files []string
	for _, dir := range []string{"grib1", "grib2", "derived", "netcdf"} {
		names, err := filepath.Glob(validation.SharedData(t, dir, "*"))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, names...)
	}
	loaded := 0
	// Off the pole, so that an area is asked of every grid.
	opt := Options{NoSums: true, Area: &Bounds{South: -70, North: 70, West: -180, WidthDeg: 360}}
	for _, p := range files {
		fc, err := Load(context.Background(), []string{p}, opt)
		if err != nil {
			if !strings.Contains(err.Error(), filepath.Base(p)) {
				t.Errorf("message does not name the file: %v", err)
			}
			t.Logf("refused: %v", strings.ReplaceAll(err.Error(), filepath.Dir(p)+"/", ""))
			continue
		}
		loaded++
		for _, f := range fc.Members {
			first, last := f.SpanS()
			if !(first <= last) || f.bytes() == 0 {
				t.Errorf("%s: span %g to %g", p, first, last)
			}
			b := f.Bounds()
			for _, x := range []float64{0, 0.3, 0.7, 1} {
				s, err := f.At(b.West+x*b.WidthDeg, b.South+x*(b.North-b.South), first+x*(last-first))
				var c *CoverageError
				if err != nil && !(errors.As(err, &c) && (c.Kind == Missing || c.Kind == InGap)) {
					t.Errorf("%s: %v", p, err)
				}
				if err == nil && !(s.TWSMS() < 60 && s.HsM < 25) {
					t.Errorf("%s: %+v", p, s)
				}
			}
		}
	}
	if loaded < 20 {
		t.Errorf("only %d of %d files loaded", loaded, len(files))
	}
}

// TestWavesOfARealModel: the total sea of a wave model agrees with its parts.
func TestWavesOfARealModel(t *testing.T) {
	p := validation.SharedData(t, "derived", "gdaswave_20211130T00_wcoast_eccodes_ccsds_bitmap.grib2")
	fc := load(t, Options{}, p)
	f := fc.Main()
	if f.WavesDerived() || !f.Variables().Has(HasWaveHeight|HasWavePeriod|HasWaveDirection) {
		t.Fatalf("variables %v; %q", f.Variables().Names(), fc.Warnings)
	}
	first, _ := f.SpanS()
	b := f.Bounds()
	n := 0
	for x := 0.05; x < 1; x += 0.05 {
		for y := 0.05; y < 1; y += 0.05 {
			s, err := f.At(b.West+x*b.WidthDeg, b.South+y*(b.North-b.South), first)
			if err != nil {
				continue
			}
			n++
			if !(s.HsM > 0.1 && s.HsM < 15 && s.WavePeriodS > 2 && s.WavePeriodS < 25) {
				t.Errorf("%+v", s)
			}
		}
	}
	if n < 50 {
		t.Errorf("only %d places with waves", n)
	}
}

// TestCurrentsFromNetCDF: currents of one service join the wind of another.
func TestCurrentsFromNetCDF(t *testing.T) {
	p := validation.SharedData(t, "netcdf", "rtofs_20241028_3hourly_surface_current_wa_cdf1.nc")
	_, err := Load(context.Background(), []string{p}, Options{})
	var none *NoWindError
	if !errors.As(err, &none) || !strings.Contains(err.Error(), "current-u (64)") {
		t.Fatalf("got %v", err)
	}
	shape := grid.Shape{South: 40, West: -130, DLat: 1, DLon: 1, NLat: 15, NLon: 10}
	fields := wind(shape, steps(0, 192, 6), constant(5), constant(5))
	ref := time.Date(2024, 10, 28, 0, 0, 0, 0, time.UTC)
	for _, f := range fields {
		f.Valid = ref.Add(f.Valid.Sub(t0))
		f.Reference = ref
	}
	f := load(t, Options{}, writeGRIB(t, "wind.grib2", fields), p).Main()
	s, err := f.At(-126, 48, ref.Add(50*time.Hour).Sub(f.Reference()).Seconds())
	if err != nil {
		t.Fatal(err)
	}
	if c := math.Hypot(s.CurrentU, s.CurrentV); !(c > 0.001 && c < 2) {
		t.Errorf("current %g m/s", c)
	}
}
