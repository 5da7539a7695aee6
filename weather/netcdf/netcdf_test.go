package netcdf

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"foilledger/weather/grid"
	"foilledger/weather/netcdf/cdftest"
)

func text(name, value string) cdftest.Attr { return cdftest.Attr{Name: name, Value: value} }

// basic is a file of two steps of u10 on 2 by 3 points, to be varied.
func basic() cdftest.File {
	return cdftest.File{
		Version: 1,
		Dims:    []cdftest.Dim{{Name: "time", N: 2}, {Name: "lat", N: 2}, {Name: "lon", N: 3}},
		Vars: []cdftest.Var{
			{Name: "time", Dims: []string{"time"}, Attrs: []cdftest.Attr{text("units", "hours since 2020-01-01")}, Values: []float64{0, 6}},
			{Name: "lat", Dims: []string{"lat"}, Attrs: []cdftest.Attr{text("units", "degrees_north")}, Values: []float32{10, 20}},
			{Name: "lon", Dims: []string{"lon"}, Attrs: []cdftest.Attr{text("units", "degrees_east")}, Values: []float32{-5, 0, 5}},
			{Name: "u10", Dims: []string{"time", "lat", "lon"}, Attrs: []cdftest.Attr{text("units", "m/s")}, Values: []float32{1, 2, 3, 4, 5, 6, 11, 12, 13, 14, 15, 16}},
		},
	}
}

// table writes fields as one line each: time, member, values from the south-west.
func table(fields []got) string {
	var b strings.Builder
	for _, g := range fields {
		fmt.Fprintf(&b, "%v %s m%d", g.h.Quantity, g.h.Valid.Format("02T15"), g.h.Member)
		for _, v := range g.f.Values {
			fmt.Fprintf(&b, " %.6g", v)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func TestLayouts(t *testing.T) {
	plain := "wind-u 01T00 m-1 1 2 3 4 5 6\nwind-u 01T06 m-1 11 12 13 14 15 16\n"
	for _, tc := range []struct {
		name  string
		edit  func(*cdftest.File)
		want  string
		check func(*testing.T, []got)
	}{
		{"classic", func(f *cdftest.File) {}, plain, nil},
		{"64-bit offset", func(f *cdftest.File) { f.Version = 2 }, plain, nil},
		{"CDF-5", func(f *cdftest.File) { f.Version = 5 }, plain, nil},
		{"unlimited time", func(f *cdftest.File) { f.Dims[0].N = 0; f.Records = 2 }, plain, nil},
		{"unlimited time in CDF-5, being written", func(f *cdftest.File) { f.Version = 5; f.Dims[0].N = 0; f.Records = 2; f.Stream = true }, plain, nil},
		{"unlimited time, being written", func(f *cdftest.File) { f.Dims[0].N = 0; f.Records = 2; f.Stream = true }, plain, nil},
		{"a single record variable is not padded", func(f *cdftest.File) {
			// Six int8 make records of 6 bytes, not 8, because the time is not
			// a record variable here.
			f.Dims = append(f.Dims, cdftest.Dim{Name: "step", N: 0})
			f.Records = 2
			f.Vars[0] = cdftest.Var{Name: "lead", Values: []int8{0}}
			f.Dims[0].N = 1
			f.Vars = append(f.Vars, cdftest.Var{Name: "time", Attrs: []cdftest.Attr{text("units", "hours since 2020-01-01")}, Values: []int32{0}})
			f.Vars[3] = cdftest.Var{Name: "u10", Dims: []string{"number", "lat", "lon"}, Attrs: f.Vars[3].Attrs, Values: []int8{1, 2, 3, 4, 5, 6, 11, 12, 13, 14, 15, 16}}
			f.Dims[3].Name = "number"
			f.Dims = f.Dims[1:]
		}, "wind-u 01T00 m0 1 2 3 4 5 6\nwind-u 01T00 m1 11 12 13 14 15 16\n", nil},
		{"several record variables are padded", func(f *cdftest.File) {
			f.Dims[0].N = 0
			f.Records = 2
			f.Vars[3].Values = []int8{1, 2, 3, 4, 5, 6, 11, 12, 13, 14, 15, 16}
		}, plain, nil},
		{"north to south", func(f *cdftest.File) { f.Vars[1].Values = []float32{20, 10} }, "wind-u 01T00 m-1 4 5 6 1 2 3\nwind-u 01T06 m-1 14 15 16 11 12 13\n", nil},
		{"east to west", func(f *cdftest.File) { f.Vars[2].Values = []float32{5, 0, -5} }, "wind-u 01T00 m-1 3 2 1 6 5 4\nwind-u 01T06 m-1 13 12 11 16 15 14\n", nil},
		{"longitudes beyond 180", func(f *cdftest.File) { f.Vars[2].Values = []float32{355, 360, 365} }, plain, westIs(-5)},
		{"across the date line", func(f *cdftest.File) { f.Vars[2].Values = []float32{175, 180, -175} }, plain, westIs(175)},
		{"across the date line westward", func(f *cdftest.File) { f.Vars[2].Values = []float32{-175, 180, 175} }, "wind-u 01T00 m-1 3 2 1 6 5 4\nwind-u 01T06 m-1 13 12 11 16 15 14\n", westIs(175)},
		{"round the Earth with a closing column", func(f *cdftest.File) { f.Vars[2].Values = []float32{0, 180, 360} }, "wind-u 01T00 m-1 1 2 4 5\nwind-u 01T06 m-1 11 12 14 15\n", func(t *testing.T, g []got) {
			if !g[0].h.Shape.Global() || g[0].h.Shape.West != 0 {
				t.Errorf("shape %+v", g[0].h.Shape)
			}
		}},
		{"round the Earth westward", func(f *cdftest.File) { f.Vars[2].Values = []float32{360, 180, 0} }, "wind-u 01T00 m-1 3 2 6 5\nwind-u 01T06 m-1 13 12 16 15\n", westIs(0)},
		{"longitude before latitude", func(f *cdftest.File) {
			f.Vars[3].Dims = []string{"time", "lon", "lat"}
			f.Vars[3].Values = []float32{1, 4, 2, 5, 3, 6, 11, 14, 12, 15, 13, 16}
		}, plain, nil},
		{"time last", func(f *cdftest.File) {
			f.Vars[3].Dims = []string{"lat", "lon", "time"}
			f.Vars[3].Values = []float32{1, 11, 2, 12, 3, 13, 4, 14, 5, 15, 6, 16}
		}, plain, nil},
		{"longitude before latitude in records", func(f *cdftest.File) {
			f.Dims[0].N, f.Records = 0, 2
			f.Vars[3].Dims = []string{"time", "lon", "lat"}
			f.Vars[3].Values = []float32{1, 4, 2, 5, 3, 6, 11, 14, 12, 15, 13, 16}
		}, plain, nil},
		{"coordinates told by standard name only", func(f *cdftest.File) {
			for i, n := range []string{"a", "b", "c"} {
				f.Dims[i].Name, f.Vars[i].Name, f.Vars[i].Dims[0] = n, n, n
			}
			f.Vars[1].Attrs = []cdftest.Attr{text("standard_name", "latitude")}
			f.Vars[2].Attrs = []cdftest.Attr{text("standard_name", "longitude")}
			f.Vars[3].Dims = []string{"a", "b", "c"}
		}, plain, nil},
		{"coordinates told by name only", func(f *cdftest.File) { f.Vars[1].Attrs, f.Vars[2].Attrs = nil, nil }, plain, nil},
		{"coordinate of another name than its dimension", func(f *cdftest.File) {
			f.Dims[0].Name, f.Vars[0].Dims[0] = "record_number_index", "record_number_index"
			f.Vars[3].Dims = []string{"record_number_index", "lat", "lon"}
			f.Vars[3].Attrs = append(f.Vars[3].Attrs, text("coordinates", "time"))
		}, plain, nil},
		{"packed", func(f *cdftest.File) {
			f.Vars[3].Values = []int16{0, 2, 4, 6, 8, -32767, 20, 22, 24, 26, 28, 9999}
			f.Vars[3].Attrs = append(f.Vars[3].Attrs, cdftest.Attr{Name: "scale_factor", Value: []float64{0.5}}, cdftest.Attr{Name: "add_offset", Value: []float64{1}},
				cdftest.Attr{Name: "_FillValue", Value: []int16{-32767}}, cdftest.Attr{Name: "missing_value", Value: []int16{9999}})
		}, "wind-u 01T00 m-1 1 2 3 4 5 NaN\nwind-u 01T06 m-1 11 12 13 14 15 NaN\n", nil},
		{"valid range of the packed values", func(f *cdftest.File) {
			f.Vars[3].Attrs = append(f.Vars[3].Attrs, cdftest.Attr{Name: "valid_range", Value: []float32{2, 15}})
		}, "wind-u 01T00 m-1 NaN 2 3 4 5 6\nwind-u 01T06 m-1 11 12 13 14 15 NaN\n", nil},
		{"valid range of the unpacked values", func(f *cdftest.File) {
			f.Vars[3].Values = []int16{2, 4, 6, 8, 10, 12, 22, 24, 26, 28, 30, 32}
			f.Vars[3].Attrs = append(f.Vars[3].Attrs, cdftest.Attr{Name: "scale_factor", Value: []float64{0.5}}, cdftest.Attr{Name: "valid_min", Value: []float32{2}}, cdftest.Attr{Name: "valid_max", Value: []float32{15}})
		}, "wind-u 01T00 m-1 NaN 2 3 4 5 6\nwind-u 01T06 m-1 11 12 13 14 15 NaN\n", nil},
		{"unsigned bytes", func(f *cdftest.File) {
			f.Vars[3].Values = []int8{1, 2, 3, 4, 5, -56, 11, 12, 13, 14, 15, -1}
			f.Vars[3].Attrs = append(f.Vars[3].Attrs, text("_Unsigned", "true"), cdftest.Attr{Name: "_FillValue", Value: []int8{-1}})
		}, "wind-u 01T00 m-1 1 2 3 4 5 200\nwind-u 01T06 m-1 11 12 13 14 15 NaN\n", nil},
		{"knots", func(f *cdftest.File) {
			f.Vars[3].Attrs[0] = text("units", "knots")
			f.Vars[3].Values = []float64{3600. / 1852, 0, 0, 0, 0, math.NaN(), 7200. / 1852, 0, 0, 0, 0, math.Inf(1)}
		}, "wind-u 01T00 m-1 1 0 0 0 0 NaN\nwind-u 01T06 m-1 2 0 0 0 0 NaN\n", nil},
		{"64-bit integers", func(f *cdftest.File) {
			f.Version = 5
			f.Vars[0].Values = []int64{0, 6}
			f.Vars[3].Values = []uint16{1, 2, 3, 4, 5, 6, 11, 12, 13, 14, 15, 65535}
		}, "wind-u 01T00 m-1 1 2 3 4 5 6\nwind-u 01T06 m-1 11 12 13 14 15 NaN\n", nil},
		{"no units", func(f *cdftest.File) { f.Vars[3].Attrs = nil }, plain, func(t *testing.T, g []got) {
			if len(g[0].h.Warnings) != 1 {
				t.Errorf("warnings %q", g[0].h.Warnings)
			}
		}},
		{"members", func(f *cdftest.File) {
			f.Dims[0].Name = "number"
			f.Vars[0] = cdftest.Var{Name: "number", Dims: []string{"number"}, Attrs: []cdftest.Attr{text("standard_name", "realization")}, Values: []int32{0, 7}}
			f.Vars[3].Dims = []string{"number", "lat", "lon"}
			f.Vars = append(f.Vars, cdftest.Var{Name: "valid_time", Attrs: []cdftest.Attr{text("units", "seconds since 1970-01-01")}, Values: []float64{86400 * 18262}})
		}, "wind-u 01T00 m0 1 2 3 4 5 6\nwind-u 01T00 m7 11 12 13 14 15 16\n", nil},
		{"two streams that complete each other", func(f *cdftest.File) {
			nan := float32(math.NaN())
			f.Dims[0].Name = "expver"
			f.Vars[0] = cdftest.Var{Name: "expver", Dims: []string{"expver"}, Values: []int32{1, 5}}
			f.Vars[3].Dims = []string{"expver", "lat", "lon"}
			f.Vars[3].Values = []float32{1, 2, nan, nan, 5, nan, nan, nan, 13, 14, nan, nan}
			f.Vars = append(f.Vars, cdftest.Var{Name: "time", Attrs: []cdftest.Attr{text("units", "hours since 2020-01-01")}, Values: []int32{3}})
		}, "wind-u 01T03 m-1 1 2 13 14 5 NaN\n", nil},
		{"run start and lead time", func(f *cdftest.File) {
			f.Dims[0].Name = "step"
			f.Vars[0] = cdftest.Var{Name: "step", Dims: []string{"step"}, Attrs: []cdftest.Attr{text("units", "hours")}, Values: []int32{3, 9}}
			f.Vars[3].Dims = []string{"step", "lat", "lon"}
			f.Vars = append(f.Vars, cdftest.Var{Name: "time", Attrs: []cdftest.Attr{text("standard_name", "forecast_reference_time"), text("units", "hours since 2020-01-01")}, Values: []int32{0}})
		}, "wind-u 01T03 m-1 1 2 3 4 5 6\nwind-u 01T09 m-1 11 12 13 14 15 16\n", referenceIs("2020-01-01T00:00:00Z")},
		{"valid time along the lead time", func(f *cdftest.File) {
			f.Dims[0].Name = "step"
			f.Vars[0].Name, f.Vars[0].Dims[0] = "valid_time", "step"
			f.Vars[3].Dims = []string{"step", "lat", "lon"}
			f.Vars = append(f.Vars,
				cdftest.Var{Name: "step", Dims: []string{"step"}, Attrs: []cdftest.Attr{text("units", "hours")}, Values: []int32{6, 12}},
				cdftest.Var{Name: "forecast_reference_time", Attrs: []cdftest.Attr{text("units", "hours since 2020-01-01")}, Values: []int32{-6}})
		}, plain, referenceIs("2019-12-31T18:00:00Z")},
		{"several runs", func(f *cdftest.File) {
			f.Dims = append(f.Dims, cdftest.Dim{Name: "reftime", N: 2})
			f.Dims[0] = cdftest.Dim{Name: "step", N: 1}
			f.Vars[0] = cdftest.Var{Name: "step", Dims: []string{"step"}, Attrs: []cdftest.Attr{text("standard_name", "forecast_period"), text("units", "hours")}, Values: []int32{3}}
			f.Vars[3].Dims = []string{"reftime", "step", "lat", "lon"}
			f.Vars = append(f.Vars, cdftest.Var{Name: "reftime", Dims: []string{"reftime"}, Attrs: []cdftest.Attr{text("units", "hours since 2020-01-01")}, Values: []int32{0, 12}})
		}, "wind-u 01T03 m-1 1 2 3 4 5 6\nwind-u 01T15 m-1 11 12 13 14 15 16\n", nil},
		{"least depth", func(f *cdftest.File) {
			f.Dims[0].Name = "depth"
			f.Vars[0] = cdftest.Var{Name: "depth", Dims: []string{"depth"}, Attrs: []cdftest.Attr{text("positive", "down")}, Values: []float32{5, 0.5}}
			f.Vars[3].Name = "uo"
			f.Vars[3].Dims = []string{"depth", "lat", "lon"}
			f.Vars = append(f.Vars, cdftest.Var{Name: "time", Attrs: []cdftest.Attr{text("units", "hours since 2020-01-01")}, Values: []int32{0}})
		}, "current-u 01T00 m-1 11 12 13 14 15 16\n", func(t *testing.T, g []got) {
			if g[0].h.Level != "depth 0.5 m, one of 2" {
				t.Errorf("level %q", g[0].h.Level)
			}
		}},
		{"wind at 10 m among heights", func(f *cdftest.File) {
			f.Dims[0].Name = "height"
			f.Vars[0] = cdftest.Var{Name: "height", Dims: []string{"height"}, Values: []float32{80, 10}}
			f.Vars[3].Dims = []string{"height", "lat", "lon"}
			f.Vars = append(f.Vars, cdftest.Var{Name: "time", Attrs: []cdftest.Attr{text("units", "hours since 2020-01-01")}, Values: []int32{0}})
		}, "wind-u 01T00 m-1 11 12 13 14 15 16\n", nil},
		{"better name wins", func(f *cdftest.File) {
			v := f.Vars[3]
			v.Name, v.Attrs = "uwnd", []cdftest.Attr{text("units", "m/s")}
			v.Values = make([]float32, 12)
			f.Vars = append(f.Vars[:3:3], v, f.Vars[3])
		}, plain, nil},
	} {
		t.Run(tc.name, func(t *testing.T) {
			f := basic()
			tc.edit(&f)
			g := collect(t, f.Bytes())
			if have := table(g); have != tc.want {
				t.Errorf("got\n%swant\n%s", have, tc.want)
			}
			if tc.check != nil && len(g) > 0 {
				tc.check(t, g)
			}
		})
	}
}

func westIs(west float64) func(*testing.T, []got) {
	return func(t *testing.T, g []got) {
		if g[0].h.Shape.West != west {
			t.Errorf("west %v, want %v", g[0].h.Shape.West, west)
		}
	}
}

func referenceIs(want string) func(*testing.T, []got) {
	return func(t *testing.T, g []got) {
		for _, f := range g {
			if f.f.Reference.Format(time.RFC3339) != want {
				t.Errorf("reference %v, want %s", f.f.Reference, want)
			}
		}
	}
}

func TestQuantities(t *testing.T) {
	for _, tc := range []struct {
		name, standard, units, long string
		raw, want                   float64
		q                           grid.Quantity
		partition                   int
	}{
		{"10u", "", "m s**-1", "", 3, 3, grid.WindU, 0},
		{"VGRD_10maboveground", "", "m/s", "", 3, 3, grid.WindV, 0},
		{"uas", "eastward_wind", "m s-1", "", 3, 3, grid.WindU, 0},
		{"x", "eastward_wind", "km/h", "", 36, 10, grid.WindU, 0},
		{"u10", "unknown", "m s**-1", "", 3, 3, grid.WindU, 0},
		{"wind", "", "m/s", "10 metre U wind component", 3, 3, grid.WindU, 0},
		{"i10fg", "", "m s**-1", "", 30, 30, grid.Gust, 0},
		{"msl", "air_pressure_at_mean_sea_level", "Pa", "", 1e5, 1e5, grid.SeaLevelPressure, 0},
		{"prmslmsl", "", "hPa", "", 1000, 1e5, grid.SeaLevelPressure, 0},
		{"VHM0", "sea_surface_wave_significant_height", "m", "", 2, 2, grid.WaveHeight, 0},
		{"hs", "", "", "", 2, 2, grid.WaveHeight, 0},
		{"swh", "", "cm", "", 200, 2, grid.WaveHeight, 0},
		{"pp1d", "", "s", "", 8, 8, grid.WavePeakPeriod, 0},
		{"fp", "", "s-1", "", 0.125, 8, grid.WavePeakPeriod, 0},
		{"fp", "", "s-1", "", 0, math.NaN(), grid.WavePeakPeriod, 0},
		{"mwp", "", "s", "", 8, 8, grid.WaveMeanPeriod, 0},
		{"mwd", "", "Degree true", "", 370, 10, grid.WaveFrom, 0},
		{"dir", "sea_surface_wave_to_direction", "degree", "", 270, 90, grid.WaveFrom, 0},
		{"mdts", "", "degrees", "", -10, 350, grid.SwellFrom, 1},
		{"VHM0_SW2", "sea_surface_secondary_swell_wave_significant_height", "m", "", 1, 1, grid.SwellHeight, 2},
		{"VHM0_WW", "sea_surface_wind_wave_significant_height", "m", "", 1, 1, grid.WindSeaHeight, 0},
		{"water_u", "", "", "eastward_sea_water_velocity (m/s)", 1, 1, grid.CurrentU, 0},
		{"vo", "northward_sea_water_velocity", "m s-1", "", 1, 1, grid.CurrentV, 0},
		{"v", "northward_sea_water_velocity", "cm/s", "", 50, 0.5, grid.CurrentV, 0},
	} {
		f := basic()
		v := &f.Vars[3]
		v.Name, v.Attrs = tc.name, nil
		if tc.standard != "" {
			v.Attrs = append(v.Attrs, text("standard_name", tc.standard))
		}
		if tc.units != "" {
			v.Attrs = append(v.Attrs, text("units", tc.units))
		}
		if tc.long != "" {
			v.Attrs = append(v.Attrs, text("long_name", tc.long))
		}
		v.Values = slices.Repeat([]float64{tc.raw}, 12)
		g := collect(t, f.Bytes())
		if len(g) != 2 {
			t.Errorf("%s %s: %d fields", tc.name, tc.standard, len(g))
			continue
		}
		x := float64(g[0].f.Values[0])
		if g[0].h.Quantity != tc.q || g[0].h.Partition != tc.partition || !(math.Abs(x-tc.want) <= 1e-5*math.Abs(tc.want) || math.IsNaN(x) && math.IsNaN(tc.want)) {
			t.Errorf("%s %s: %v %d %v, want %v %d %v", tc.name, tc.standard, g[0].h.Quantity, g[0].h.Partition, x, tc.q, tc.partition, tc.want)
		}
	}
}
