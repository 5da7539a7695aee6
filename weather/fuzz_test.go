package weather

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"foilledger/testdata/validation"
	"foilledger/weather/grid"
	"foilledger/weather/netcdf/cdftest"
)

// FuzzLoad reads whole forecasts, from the committed files of the GRIB decoder
// and a classic NetCDF file: what loads answers questions about its own middle
// with finite numbers or a coverage error.
func FuzzLoad(f *testing.F) {
	names, err := filepath.Glob(filepath.Join("grib", "testdata", "seeds", "*"))
	if err != nil || len(names) == 0 {
		f.Fatalf("no seeds: %v", err)
	}
	for _, n := range names {
		b, err := os.ReadFile(n)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	text := func(name, value string) cdftest.Attr { return cdftest.Attr{Name: name, Value: value} }
	axis := []cdftest.Var{
		{Name: "time", Dims: []string{"time"}, Attrs: []cdftest.Attr{text("units", "hours since 2020-01-01")}, Values: []float64{0, 6}},
		{Name: "lat", Dims: []string{"lat"}, Attrs: []cdftest.Attr{text("units", "degrees_north")}, Values: []float32{10, 20}},
		{Name: "lon", Dims: []string{"lon"}, Attrs: []cdftest.Attr{text("units", "degrees_east")}, Values: []float32{-5, 0, 5}},
	}
	dims := []string{"time", "lat", "lon"}
	f.Add(cdftest.File{Version: 1, Dims: []cdftest.Dim{{Name: "time", N: 2}, {Name: "lat", N: 2}, {Name: "lon", N: 3}}, Vars: append(axis,
		cdftest.Var{Name: "u10", Dims: dims, Attrs: []cdftest.Attr{text("units", "m/s")}, Values: []float32{1, 2, 3, 4, 5, 6, 11, 12, 13, 14, 15, 16}},
		cdftest.Var{Name: "v10", Dims: dims, Attrs: []cdftest.Attr{text("units", "m/s")}, Values: []float32{1, 2, 3, 4, 5, 6, 11, 12, 13, 14, 15, 16}})}.Bytes())
	f.Fuzz(func(t *testing.T, b []byte) {
		// Large constant fields are lawful and slow to derive waves on: a box of
		// the size of the seeds' is enough of them.
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		defer cancel()
		fc, err := LoadBytes(ctx, "fuzz", b, Options{Area: &Bounds{South: -5, North: 45, West: -15, WidthDeg: 20}})
		if ctx.Err() != nil {
			t.Fatal("does not come to an end")
		}
		if err != nil {
			return
		}
		for _, m := range fc.Members {
			first, last := m.SpanS()
			bounds := m.Bounds()
			for _, x := range []float64{0, 0.37, 1} {
				s, err := m.At(bounds.West+x*bounds.WidthDeg, bounds.South+x*(bounds.North-bounds.South), first+x*(last-first))
				if err != nil {
					continue
				}
				for _, v := range []float64{s.U, s.V, s.GustMS, s.HsM, s.WavePeriodS, s.WaveFromRad, s.CurrentU, s.CurrentV, s.PressurePa} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Fatalf("sample %+v", s)
					}
				}
			}
		}
	})
}

// TestYearsApart: files of different years in one folder do not make the sea
// march through the years between; it starts anew after a gap.
func TestYearsApart(t *testing.T) {
	s := grid.Shape{South: 30, West: -40, DLat: 0.25, DLon: 0.25, NLat: 81, NLon: 81}
	fields := wind(s, []float64{0, 3, 100 * 8766, 100*8766 + 3}, constant(12), constant(0))
	began := processorTime(t)
	f := mustForecast(t, fields, Options{}).Main()
	if used := processorTime(t) - began; used > 10*time.Second {
		t.Errorf("took %v", used)
	}
	at := func(h float64) float64 {
		x, err := f.At(-35, 35, h*3600)
		if err != nil {
			t.Fatal(err)
		}
		return x.HsM
	}
	validation.Check(t, validation.Row{Package: "weather", ID: "sea-after-gap", Quantity: "sea after a gap of a century over the sea at the first step",
		Got: at(100*8766) / at(0), Want: 1, Tol: 1e-6, Source: "the same wind", Kind: validation.Symmetry})
}
