package weather

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"foilledger/testdata/validation"
	"foilledger/weather/grid"
)

var box = grid.Shape{South: 30, West: -40, DLat: 1, DLon: 1, NLat: 11, NLon: 11}

// withRun sets the run that fields belong to.
func withRun(ref time.Time, fields []*grid.Field) []*grid.Field {
	for _, f := range fields {
		f.Reference = ref
	}
	return fields
}

func withMember(m int, fields []*grid.Field) []*grid.Field {
	for _, f := range fields {
		f.Member = m
	}
	return fields
}

// atMiddle asks at the middle of the box, h hours after t0.
func atMiddle(t testing.TB, f *Field, h float64) Sample {
	t.Helper()
	s, err := f.At(-35, 35, t0.Add(time.Duration(h*float64(time.Hour))).Sub(f.Reference()).Seconds())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestOverlappingFiles(t *testing.T) {
	old := writeGRIB(t, "old.grib2", withRun(t0.Add(-12*time.Hour), wind(box, steps(0, 48, 6), constant(5), constant(0))))
	fresh := writeGRIB(t, "fresh.grib2", wind(box, steps(0, 24, 6), constant(8), constant(0)))
	twin := writeGRIB(t, "twin.grib2", wind(box, steps(0, 24, 6), constant(11), constant(0)))
	const tol = 2e-3
	for _, order := range [][]string{{old, fresh}, {fresh, old}} {
		f := load(t, Options{}, order...).Main()
		near(t, "the newest run wins", atMiddle(t, f, 12).U, 8, tol)
		near(t, "the older goes on", atMiddle(t, f, 36).U, 5, tol)
		if !f.Reference().Equal(t0) {
			t.Errorf("reference %v", f.Reference())
		}
	}
	near(t, "the first of equal runs wins", atMiddle(t, load(t, Options{}, fresh, twin).Main(), 12).U, 8, tol)
	near(t, "the first of equal runs wins", atMiddle(t, load(t, Options{}, twin, fresh).Main(), 12).U, 11, tol)
	// Files that may be members of an ensemble are not dropped in silence.
	if w := strings.Join(load(t, Options{}, fresh, twin).Warnings, "\n"); !strings.Contains(w, "wind-u comes from several files with the same run, time and grid (5 fields too many)") || !strings.Contains(w, "members of an ensemble") {
		t.Errorf("warnings %s", w)
	}
	if w := strings.Join(load(t, Options{}, old, fresh).Warnings, "\n"); strings.Contains(w, "several files") {
		t.Errorf("an older run is no repetition: %s", w)
	}
	// The same file twice counts once and is told.
	dir := t.TempDir()
	b, err := os.ReadFile(fresh)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []string{"a.grb", "b.grb"} {
		if err := os.WriteFile(filepath.Join(dir, n), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("nothing"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, p := range []string{dir, filepath.Join(dir, "*")} {
		fc := load(t, Options{}, p)
		w := strings.Join(fc.Warnings, "\n")
		if len(fc.Inputs) != 1 || !strings.Contains(w, "the same as") || !strings.Contains(w, "no forecast file, passed over") {
			t.Errorf("%s: inputs %v, warnings %s", p, fc.Inputs, w)
		}
	}
}

func TestMixedResolution(t *testing.T) {
	fine := grid.Shape{South: 34, West: -36, DLat: 0.25, DLon: 0.25, NLat: 9, NLon: 9} // 34 to 36 N, 36 to 34 W
	f := mustForecast(t, append(wind(box, steps(0, 48, 6), constant(5), constant(0)), wind(fine, steps(0, 24, 3), constant(9), constant(0))...), Options{Waves: WavesFromFile}).Main()
	near(t, "fine grid where it covers", atMiddle(t, f, 10).U, 9, 1e-6)
	near(t, "coarse after the fine one ends", atMiddle(t, f, 30).U, 5, 1e-6)
	s, err := f.At(-39, 31, 3600)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "coarse beside it", s.U, 5, 1e-6)
	if _, err := f.At(-39, 31, 50*3600); err == nil {
		t.Error("covered after the end")
	}
	// Held, the longer one is held.
	s, err = f.HoldLast().At(-35, 35, 100*3600)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "held", s.U, 5, 1e-6)
}

func TestVariablesFromSeveralFiles(t *testing.T) {
	coarse := grid.Shape{South: 30, West: -40, DLat: 2, DLon: 2, NLat: 6, NLon: 6}
	small := grid.Shape{South: 34, West: -36, DLat: 0.5, DLon: 0.5, NLat: 5, NLon: 5}
	fields := wind(box, steps(0, 24, 3), constant(6), constant(8))
	fields = append(fields, made(grid.WaveHeight, coarse, steps(0, 24, 6), constant(2))...)
	fields = append(fields, made(grid.WavePeakPeriod, coarse, steps(0, 24, 6), constant(9))...)
	fields = append(fields, made(grid.WaveFrom, coarse, steps(0, 24, 6), func(lon, lat, h float64) float64 { return math.Mod(350+20*h/24+360, 360) })...)
	fields = append(fields, made(grid.CurrentU, small, steps(0, 12, 3), constant(0.5))...)
	fields = append(fields, made(grid.CurrentV, small, steps(0, 12, 3), constant(-0.25))...)
	fields = append(fields, made(grid.Gust, box, steps(0, 24, 3), constant(14))...)
	fields = append(fields, made(grid.SeaLevelPressure, box, steps(0, 24, 3), constant(101200))...)
	fc := mustForecast(t, fields, Options{})
	f := fc.Main()
	if f.WavesDerived() || f.Variables() != HasWind|HasGust|HasWaveHeight|HasWavePeriod|HasWaveDirection|HasCurrent|HasPressure {
		t.Errorf("variables %v", f.Variables().Names())
	}
	s := atMiddle(t, f, 6)
	near(t, "speed", s.TWSMS(), 10, 1e-6)
	near(t, "height", s.HsM, 2, 1e-6)
	near(t, "period", s.WavePeriodS, 9, 1e-6)
	near(t, "gust", s.GustMS, 14, 1e-6)
	near(t, "current", s.CurrentU, 0.5, 1e-6)
	near(t, "pressure", s.PressurePa, 101200, 1)
	// 350° to 010° over the day goes through north, not through south.
	near(t, "direction through north", math.Mod(s.WaveFromRad*180/math.Pi+180, 360), 355-180, 0.1)
	near(t, "direction at noon", math.Abs(math.Mod(atMiddle(t, f, 12).WaveFromRad*180/math.Pi+180, 360)-180), 0, 0.1)
	if s := atMiddle(t, f, 18); s.CurrentU != 0 {
		t.Error("current after its end")
	}
	w := strings.Join(fc.Warnings, "\n")
	if !strings.Contains(w, "current counts as zero outside 34°N to 36°N, 36°W to 34°W") {
		t.Errorf("warnings: %s", w)
	}
	// Waves that end before the wind end the plan, and say so.
	short := mustForecast(t, append(wind(box, steps(0, 24, 3), constant(6), constant(8)), made(grid.WaveHeight, box, steps(0, 12, 3), constant(2))...), Options{})
	_, err := short.Main().At(-35, 35, 15*3600)
	var c *CoverageError
	if !errors.As(err, &c) || c.Variable != "wave height" || c.Kind != AfterLast {
		t.Errorf("got %v", err)
	}
	w = strings.Join(short.Warnings, "\n")
	for _, want := range []string{"waves are given from", "no wave period", "no wave direction"} {
		if !strings.Contains(w, want) {
			t.Errorf("warnings lack %q: %s", want, w)
		}
	}
	s = atMiddle(t, short.Main(), 6)
	near(t, "sea runs with the wind", s.WaveFromRad, s.WindFromRad(), 1e-12)
	validation.Check(t, validation.Row{Package: "weather", ID: "period-of-height", Quantity: "peak period of a fully developed sea of 2.245 m",
		Got: developedPeriodS(2.245), Want: 7.49, Tol: 0.02, Unit: "s", Source: "W. J. Pierson and L. Moskowitz, J. Geophys. Res. 69, 1964; computed", Kind: validation.Analytic})
}

func TestWindFromSpeedAndDirection(t *testing.T) {
	fields := append(made(grid.WindSpeed, box, []float64{0, 6}, constant(10)), made(grid.WindFrom, box, []float64{0, 6}, constant(270))...)
	s := atMiddle(t, mustForecast(t, fields, Options{}).Main(), 3)
	near(t, "u", s.U, 10, 1e-5)
	near(t, "v", s.V, 0, 1e-5)
	near(t, "from", s.WindFromRad(), 1.5*math.Pi, 1e-6)
	// u and v are preferred when both forms are there.
	fields = append(append(made(grid.WindSpeed, box, []float64{0, 6}, constant(10)), made(grid.WindFrom, box, []float64{0, 6}, constant(270))...),
		wind(box, []float64{0, 6}, constant(7), constant(7))...)
	near(t, "u", atMiddle(t, mustForecast(t, fields, Options{}).Main(), 3).U, 7, 1e-5)
}

func TestSeaFromItsParts(t *testing.T) {
	part := func(q grid.Quantity, p int, v float64) []*grid.Field {
		fs := made(q, box, []float64{0, 6}, constant(v))
		for _, f := range fs {
			f.Partition = p
		}
		return fs
	}
	fields := wind(box, []float64{0, 6}, constant(5), constant(0))
	fields = append(fields, part(grid.WindSeaHeight, 0, 1)...)
	fields = append(fields, part(grid.WindSeaPeriod, 0, 4)...)
	fields = append(fields, part(grid.WindSeaFrom, 0, 270)...)
	fields = append(fields, part(grid.SwellHeight, 1, 2)...)
	fields = append(fields, part(grid.SwellPeriod, 1, 12)...)
	fields = append(fields, part(grid.SwellFrom, 1, 0)...)
	fields = append(fields, part(grid.SwellHeight, 2, math.NaN())...) // absent
	s := atMiddle(t, mustForecast(t, fields, Options{}).Main(), 3)
	near(t, "height", s.HsM, math.Sqrt(5), 1e-6)
	near(t, "period", s.WavePeriodS, 12, 1e-6)
	near(t, "direction", s.WaveFromRad*180/math.Pi, 360-math.Atan2(1, 4)*180/math.Pi, 1e-4)
	// The whole swell beside its partitions is not counted twice.
	fields = append(wind(box, []float64{0, 6}, constant(5), constant(0)), part(grid.WindSeaHeight, 0, 3)...)
	fields = append(fields, part(grid.SwellHeight, 0, 4)...)
	fields = append(fields, part(grid.SwellHeight, 1, 4)...)
	near(t, "whole swell", atMiddle(t, mustForecast(t, fields, Options{}).Main(), 3).HsM, 5, 1e-6)
	validation.Check(t, validation.Row{Package: "weather", ID: "peak-per-mean", Quantity: "Tp/T(m-1,0) of a fully developed sea", Got: peakPerMeanPeriod,
		Want: 1.1666, Tol: 5e-4, Source: "W. J. Pierson and L. Moskowitz, J. Geophys. Res. 69, 1964; closed form of the moments", Kind: validation.Analytic})
}

func TestEnsembleFiles(t *testing.T) {
	var paths []string
	for m := range 4 {
		paths = append(paths, writeGRIB(t, "m.grib2", withMember(m, wind(box, steps(0, 12, 3), constant(5+float64(m)), constant(0)))))
	}
	shared := made(grid.WaveHeight, box, steps(0, 12, 3), constant(2))
	sea := writeGRIB(t, "sea.grib2", shared)
	fc := load(t, Options{}, append(paths, sea)...)
	if len(fc.Members) != 4 || fc.Main().Member() != 0 || fc.Deterministic != nil {
		t.Fatalf("%d members, main %d", len(fc.Members), fc.Main().Member())
	}
	for m, f := range fc.Members {
		s := atMiddle(t, f, 6)
		near(t, "member", s.U, 5+float64(m), 2e-3)
		near(t, "shared sea", s.HsM, 2, 2e-3)
		if f.WavesDerived() || f.layers[gHeight][0].frame != fc.Members[0].layers[gHeight][0].frame {
			t.Error("the shared sea is not shared")
		}
	}
	// A single forecast beside them.
	single := writeGRIB(t, "single.grib2", wind(box, steps(0, 12, 3), constant(20), constant(0)))
	fc = load(t, Options{}, append(paths, single)...)
	if fc.Deterministic == nil || fc.Main() != fc.Deterministic || len(fc.Members) != 4 {
		t.Errorf("%d members, deterministic %v", len(fc.Members), fc.Deterministic)
	}
	for _, f := range append(fc.Members, fc.Deterministic) {
		if !f.WavesDerived() || !(atMiddle(t, f, 6).HsM > 0) {
			t.Errorf("member %d has no derived waves", f.Member())
		}
	}
	// Files that do not say which member they are, beside one that is none.
	anon := []string{
		writeGRIB(t, "run_a.grib2", wind(box, steps(0, 12, 3), constant(5), constant(0))),
		sea,
		writeGRIB(t, "run_b.grib2", wind(box, steps(0, 12, 3), constant(7), constant(0))),
	}
	for _, pattern := range []string{"run_*", filepath.Join(filepath.Dir(filepath.Dir(anon[0])), "*", "run_?.grib2")} {
		fc = load(t, Options{MemberFiles: pattern}, anon...)
		if len(fc.Members) != 2 || fc.Members[0].Member() != 1 || fc.Members[1].Member() != 2 {
			t.Fatalf("%q: %d members", pattern, len(fc.Members))
		}
		near(t, "second file", atMiddle(t, fc.Members[1], 6).U, 7, 2e-3)
		near(t, "sea of the file that is no member", atMiddle(t, fc.Members[1], 6).HsM, 2, 2e-3)
	}
	if _, err := Load(context.Background(), anon, Options{MemberFiles: "member*"}); err == nil || !strings.Contains(err.Error(), "member*") {
		t.Errorf("a pattern that matches nothing: %v", err)
	}
	if _, err := Load(context.Background(), anon, Options{MemberFiles: "run_[a"}); err == nil {
		t.Error("a malformed pattern passes")
	}
	// Members must hold the same variables and times; what differs is told.
	odd := writeGRIB(t, "run_c.grib2", append(wind(box, steps(0, 9, 3), constant(7), constant(0)), made(grid.Gust, box, steps(0, 9, 3), constant(9))...))
	fc = load(t, Options{MemberFiles: "run_*"}, append(anon, odd)...)
	if w := strings.Join(fc.Warnings, "\n"); !strings.Contains(w, "differ in time") || !strings.Contains(w, "member 3 also holds gust") {
		t.Errorf("warnings %s", w)
	}
	// A member without wind is left out and told.
	gustOnly := writeGRIB(t, "g.grib2", withMember(9, made(grid.Gust, box, steps(0, 12, 3), constant(12))))
	fc = load(t, Options{}, append(paths, gustOnly)...)
	if w := strings.Join(fc.Warnings, "\n"); len(fc.Members) != 4 || !strings.Contains(w, "member 9 has no wind") {
		t.Errorf("%d members, warnings %s", len(fc.Members), w)
	}
}

func TestIncompleteSteps(t *testing.T) {
	u := made(grid.WindU, box, steps(0, 12, 3), constant(5))
	v := made(grid.WindV, box, steps(0, 12, 3), constant(1))
	fc := mustForecast(t, append(u, append(v[:1:1], v[2:]...)...), Options{})
	w := strings.Join(fc.Warnings, "\n")
	if !strings.Contains(w, "wind-u without wind-v at 1 steps") || !strings.Contains(w, "wind: no step between") {
		t.Errorf("warnings: %s", w)
	}
	if n := len(fc.Main().StepsS()); n != 4 {
		t.Errorf("%d steps", n)
	}
	other := box
	other.South += 3
	_, err := NewForecast(context.Background(), append(made(grid.WindU, box, []float64{0}, constant(1)), made(grid.WindV, other, []float64{0}, constant(1))...), Options{})
	var none *NoWindError
	if !errors.As(err, &none) || !strings.Contains(err.Error(), "same grid") || none.Hint() == "" {
		t.Errorf("got %v", err)
	}
	bad := made(grid.WindU, box, []float64{0}, constant(1))
	bad[0].Values = bad[0].Values[1:]
	if _, err := NewForecast(context.Background(), bad, Options{}); err == nil {
		t.Error("wrong number of values accepted")
	}
	if _, err := NewForecast(context.Background(), u, Options{Area: &Bounds{South: 10, North: math.NaN()}}); err == nil {
		t.Error("NaN area accepted")
	}
	// Infinite values count as missing.
	inf := wind(box, []float64{0, 3}, func(lon, lat, h float64) float64 { return math.Inf(1) }, constant(1))
	if _, err := mustForecast(t, inf, Options{}).Main().At(-35, 35, 0); err == nil {
		t.Error("infinite wind passed on")
	}
}

// TestStaggeredWind: u and v half a cell apart are brought together.
func TestStaggeredWind(t *testing.T) {
	u, v := box, box
	u.West += 0.5
	v.South += 0.5
	f := func(lon, lat, h float64) float64 { return 0.3*lon + 0.2*lat + 10 }
	fc := mustForecast(t, append(made(grid.WindU, u, []float64{0, 6}, f), made(grid.WindV, v, []float64{0, 6}, f)...), Options{Waves: WavesFromFile})
	for _, p := range [][2]float64{{-35, 35}, {-38.3, 39.1}, {-31.2, 32.7}} {
		s, err := fc.Main().At(p[0], p[1], 3600)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "u against v", s.U/s.V, 1, 1e-4)
	}
	if w := strings.Join(fc.Warnings, "\n"); !strings.Contains(w, "wind-v stands between the places of wind-u at 2 steps") {
		t.Errorf("warnings: %s", w)
	}
}

func TestDescribe(t *testing.T) {
	fields := wind(box, []float64{0, 3}, func(lon, lat, h float64) float64 { return lat - 30 }, constant(-2))
	p := writeGRIB(t, "w.grib2", withMember(3, fields))
	d, err := Describe(context.Background(), []string{p})
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Fields) != 4 || len(d.Inputs) != 1 || len(d.Inputs[0].SHA256) != 64 {
		t.Fatalf("%+v", d)
	}
	f := d.Fields[0]
	if f.Variable != "wind-u" || f.Edition != 2 || f.Member != 3 || f.Unit != "m/s" || !f.Valid.Equal(t0) || f.Points != 121 || f.Missing != 0 {
		t.Errorf("%+v", f)
	}
	near(t, "min", *f.Min, 0, 1e-3)
	near(t, "max", *f.Max, 10, 1e-3)
	near(t, "mean", *f.Mean, 5, 1e-3)
	b, err := json.Marshal(f)
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"variable", "edition", "grid", "packing", "member", "valid_time", "missing", "min", "max", "mean"} {
		if !bytes.Contains(b, []byte(`"`+key+`":`)) {
			t.Errorf("no %s in %s", key, b)
		}
	}
	if _, err := Describe(context.Background(), []string{filepath.Join(t.TempDir(), "none.grb")}); err == nil {
		t.Error("no error for a file that is not there")
	}
	// Real files of many kinds: everything is listed, nothing panics.
	ref := validation.SharedData(t, "grib2", "gfswave_20230823T18_f001_atlocn_0p16_jpeg.grib2")
	if testing.Short() {
		return
	}
	d, err = Describe(context.Background(), []string{ref})
	if err != nil {
		t.Fatal(err)
	}
	if len(d.Fields) != 19 {
		t.Errorf("%d fields", len(d.Fields))
	}
}

func TestSeries(t *testing.T) {
	f := mustForecast(t, append(wind(box, steps(0, 12, 3), constant(0), constant(-units10kn)), made(grid.SeaLevelPressure, box, steps(0, 12, 3), constant(101300))...), Options{}).Main()
	rows := Series(f, -35, 35, append(f.Steps(), t0.Add(20*time.Hour)))
	if len(rows) != 6 || rows[5].Err == nil || rows[4].Err != nil {
		t.Fatalf("%+v", rows)
	}
	r := rows[2].Row(f.Variables())
	if !r.Valid.Equal(t0.Add(6*time.Hour)) || r.GustKn != nil || r.HsM == nil || r.CurrentKn != nil {
		t.Errorf("%+v", r)
	}
	near(t, "kn", r.TWSKn, 10, 1e-5)
	near(t, "from", r.WindFromDeg, 0, 1e-9)
	near(t, "hPa", *r.PressureHPa, 1013, 1e-2)
}

const units10kn = 10 * 1852.0 / 3600

// TestReferenceValues compares what At gives at grid nodes with what an
// independent decoder read there.
func TestReferenceValues(t *testing.T) {
	for _, tt := range []struct {
		id   string
		path []string
		tol  float64
	}{
		{"nww3-transatlantic", []string{"grib1", "ncep-nww3_20050330T00_f000-180_3h_wind_transatl_60N10N_75W0.grib1"}, 1e-3},
		{"gfs-simple", []string{"derived", "gfs_pseudofc_20161120T00_f000-048_10uv_natl_1p00_simple.grib2"}, 1e-3},
		{"era5-netcdf", []string{"derived", "era5_20110101-03_hourly_10u10v_msl_neatl_packed_cdf2.nc"}, 1e-3},
		{"era5-grib", []string{"grib1", "era5_20110101-03_hourly_10u10v_msl_neatl_0p25.grib1"}, 1e-3},
	} {
		t.Run(tt.id, func(t *testing.T) {
			p := validation.SharedData(t, tt.path...)
			f := load(t, Options{Waves: WavesFromFile}, p).Main()
			n, worst := 0, 0.0
			for _, r := range referenceWind(t, strings.Join(tt.path, "/")) {
				for _, s := range r.samples {
					got, err := f.At(s.lon, s.lat, r.valid.Sub(f.Reference()).Seconds())
					if math.IsNaN(s.value) {
						continue // filled or refused here, as told
					}
					if err != nil {
						t.Fatal(err)
					}
					v := got.U
					if r.v {
						v = got.V
					}
					worst = max(worst, math.Abs(v-s.value))
					n++
				}
			}
			if n < 100 {
				t.Fatalf("only %d samples compared", n)
			}
			validation.Check(t, validation.Row{Package: "weather", ID: tt.id, Quantity: "largest difference of u or v at grid nodes", Got: worst, Want: 0, Tol: tt.tol,
				Unit: "m/s", Source: "eccodes 2.28, netCDF4 decoding of the same file", Kind: validation.Independent})
		})
	}
}

type refSample struct{ lon, lat, value float64 }

type refField struct {
	v       bool
	valid   time.Time
	samples []refSample
}

// referenceWind reads the wind's rows of the reference decoding of a file. The
// reference longitudes of one source are off by rounding in its header, so
// samples are placed by their index on the grid.
func referenceWind(t *testing.T, file string) []refField {
	t.Helper()
	var out []refField
	if strings.HasSuffix(file, ".nc") {
		// The NetCDF file is a conversion of the GRIB file: same reference.
		file = "grib1/era5_20110101-03_hourly_10u10v_msl_neatl_0p25.grib1"
	}
	b, err := os.ReadFile(validation.SharedData(t, "ref", "grib_reference.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range bytes.Split(b, []byte("\n")) {
		if !bytes.Contains(line, []byte(file)) {
			continue
		}
		var r struct {
			File, ShortName, ValidTime string
			TableIndicator             []int `json:"table_indicator"`
			Ni, Nj                     int
			Samples                    [][4]*float64
			SamplesNonmissing          [][4]*float64 `json:"samples_nonmissing"`
		}
		if err := json.Unmarshal(line, &r); err != nil {
			t.Fatal(err)
		}
		if len(r.TableIndicator) == 2 && r.ShortName == "unknown" { // table 0
			r.ShortName = map[int]string{33: "u", 34: "v"}[r.TableIndicator[1]]
		}
		if r.File != file || r.ShortName != "10u" && r.ShortName != "10v" && r.ShortName != "u" && r.ShortName != "v" {
			continue
		}
		valid, err := time.Parse("20060102T1504", r.ValidTime)
		if err != nil {
			t.Fatal(err)
		}
		f := refField{v: strings.HasSuffix(r.ShortName, "v"), valid: valid}
		for _, s := range append(r.Samples, r.SamplesNonmissing...) {
			x := refSample{lon: *s[2], lat: *s[1], value: math.NaN()}
			if s[3] != nil {
				x.value = *s[3]
			}
			if strings.Contains(file, "nww3") {
				// Rows of exactly 1 degree from the first point, columns of 1.25.
				i, j := int(*s[0])%r.Ni, int(*s[0])/r.Ni
				first := *r.Samples[0][2]
				x.lon, x.lat = first+1.25*float64(i), *r.Samples[0][1]-float64(j)
			}
			f.samples = append(f.samples, x)
		}
		out = append(out, f)
	}
	return out
}

// TestMemoryFollowsWhatIsKept: a window of a large file costs little.
func TestMemoryFollowsWhatIsKept(t *testing.T) {
	s := grid.Shape{South: -90, West: 0, DLat: 1, DLon: 1, NLat: 181, NLon: 360}
	p := writeGRIB(t, "global.grib2", wind(s, steps(0, 48, 6), func(lon, lat, h float64) float64 { return lon / 20 }, constant(3)))
	area := Bounds{South: 30, North: 40, West: -40, WidthDeg: 20}
	allocated := func(opt Options) uint64 {
		opt.NoSums, opt.Waves = true, WavesFromFile
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		load(t, opt, p)
		runtime.ReadMemStats(&after)
		return after.TotalAlloc - before.TotalAlloc
	}
	all := allocated(Options{})
	window := allocated(Options{Area: &area})
	oneStep := allocated(Options{Area: &area, From: t0, To: t0})
	t.Logf("all %d bytes, window %d bytes, one step of it %d bytes", all, window, oneStep)
	// Decoding a global field needs its space for a moment, step by step.
	if !(window < all && oneStep < all/2) {
		t.Errorf("all %d bytes, window %d bytes, one step of it %d bytes", all, window, oneStep)
	}
}
