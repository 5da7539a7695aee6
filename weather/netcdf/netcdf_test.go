package netcdf

import (
	"bytes"
	"errors"
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

func TestRefusals(t *testing.T) {
	for _, tc := range []struct {
		name, want string
		edit       func(*cdftest.File)
	}{
		{"unknown units", `units "furlong"`, func(f *cdftest.File) { f.Vars[3].Attrs[0] = text("units", "furlong") }},
		{"precipitation is not a period", `units "m" of tp`, func(f *cdftest.File) { f.Vars[3].Name = "tp"; f.Vars[3].Attrs[0] = text("units", "m") }},
		{"wind at 100 m", "it has: time, lat, lon, u100", func(f *cdftest.File) { f.Vars[3].Name = "u100" }},
		{"no time", "no time values", func(f *cdftest.File) { f.Vars[0].Name, f.Vars[0].Attrs = "other", nil }},
		{"time without units", "are not of the form", func(f *cdftest.File) { f.Vars[0].Attrs = nil }},
		{"other calendar", `calendar "360_day"`, func(f *cdftest.File) { f.Vars[0].Attrs = append(f.Vars[0].Attrs, text("calendar", "360_day")) }},
		{"Gaussian latitudes", "lat is not equally spaced", func(f *cdftest.File) {
			f.Dims[1].N = 4
			f.Vars[1].Values = []float64{0, 1, 2.5, 4}
			f.Vars[3].Values = make([]float32, 24)
		}},
		{"rotated grid", "rotated or projected", func(f *cdftest.File) { f.Vars[1].Attrs = []cdftest.Attr{text("standard_name", "grid_latitude")} }},
		{"projected grid", "rotated or projected", func(f *cdftest.File) {
			f.Dims[2].Name, f.Vars[2].Name, f.Vars[2].Dims[0] = "x", "x", "x"
			f.Vars[2].Attrs = []cdftest.Attr{text("units", "m")}
			f.Vars[3].Dims = []string{"time", "lat", "x"}
		}},
		{"curvilinear grid", "curvilinear", func(f *cdftest.File) {
			f.Dims[1].Name, f.Dims[2].Name = "row", "col"
			f.Dims[0].N = 1
			for i := range 2 {
				f.Vars[1+i].Dims = []string{"row", "col"}
				f.Vars[1+i].Values = make([]float32, 6)
			}
			f.Vars[0].Values = []float64{0}
			f.Dims[1].N, f.Dims[2].N = 1, 1
			f.Vars[1].Values, f.Vars[2].Values, f.Vars[3].Values = []float32{0}, []float32{0}, []float32{0}
			f.Vars[3].Dims = []string{"time", "row", "col"}
			f.Vars[3].Attrs = append(f.Vars[3].Attrs, text("coordinates", "lat lon"))
		}},
		{"pressure levels", "on levels", func(f *cdftest.File) {
			f.Dims[0].Name, f.Vars[0].Name, f.Vars[0].Dims[0] = "plev", "plev", "plev"
			f.Vars[0].Attrs = nil
			f.Vars[3].Dims[0] = "plev"
		}},
		{"wind at 2 m", "not at 10 m", func(f *cdftest.File) {
			f.Vars[3].Attrs = append(f.Vars[3].Attrs, text("coordinates", "height"))
			f.Vars = append(f.Vars, cdftest.Var{Name: "height", Values: []float64{2}})
		}},
		{"unknown dimension", "dimension band of length 2", func(f *cdftest.File) {
			f.Dims[0].Name = "band"
			f.Vars[0].Name, f.Vars[0].Dims[0] = "band", "band"
			f.Vars[0].Attrs = nil
			f.Vars[3].Dims[0] = "band"
		}},
		{"latitude as the record dimension", "record dimension", func(f *cdftest.File) {
			f.Dims[1].N, f.Records = 0, 2
			f.Dims[0].N = 1
			f.Vars[0].Values = []float64{0}
			f.Vars[3].Dims = []string{"lat", "time", "lon"}
			f.Vars[3].Values = make([]float32, 6)
		}},
	} {
		f := basic()
		tc.edit(&f)
		b := f.Bytes()
		err := Each(bytes.NewReader(b), int64(len(b)), func(Header) bool { return true }, func(Header, *grid.Field) error { return nil })
		var ue *UnsupportedError
		if !errors.As(err, &ue) || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v, want %q", tc.name, err, tc.want)
		}
	}
	for _, tc := range []struct{ head, want, hint string }{
		{"\x89HDF\r\n\x1a\n.....", "NetCDF-4", "nccopy -k cdf5 in.nc out.nc"},
		{strings.Repeat("x", 512) + "\x89HDF\r\n\x1a\n", "NetCDF-4", "nccopy -k cdf5 in.nc out.nc"},
		{"CDF\x03....", "version", ""},
		{"\x1f\x8b\x08....", "gzip", "gunzip in.nc.gz"},
	} {
		_, err := Open(strings.NewReader(tc.head), int64(len(tc.head)))
		var ue *UnsupportedError
		if !errors.As(err, &ue) || !strings.Contains(ue.What, tc.want) || ue.Hint != tc.hint {
			t.Errorf("%q: %v", tc.head, err)
		}
	}
}

// The caller's errors pass through, and fields not wanted are not read.
func TestCallbacks(t *testing.T) {
	b := basic().Bytes()
	stop := errors.New("stop")
	n := 0
	err := Each(bytes.NewReader(b), int64(len(b)), func(h Header) bool { return h.Valid.Hour() == 6 }, func(h Header, f *grid.Field) error {
		n++
		if f.Values[0] != 11 || h.Reference.Hour() != 0 {
			t.Errorf("%+v %v", h, f.Values)
		}
		return stop
	})
	if !errors.Is(err, stop) || n != 1 {
		t.Errorf("%d fields, error %v", n, err)
	}
	inner := &CorruptError{0, "of the caller"}
	err = Each(bytes.NewReader(b), int64(len(b)), func(Header) bool { return true }, func(Header, *grid.Field) error { n++; return inner })
	if !errors.Is(err, inner) || n != 2 {
		t.Errorf("%d fields, error %v", n, err)
	}
}

// Cut anywhere, a file gives its complete fields and an error, never a wrong one.
func TestTruncation(t *testing.T) {
	records := basic()
	records.Dims[0].N, records.Records, records.Version = 0, 2, 2
	wide := basic()
	wide.Version = 5
	for _, f := range []cdftest.File{basic(), records, wide} {
		whole := f.Bytes()
		want := table(collect(t, whole))
		for n := range whole {
			var fields []got
			err := Each(bytes.NewReader(whole[:n]), int64(n), func(Header) bool { return true }, func(h Header, f *grid.Field) error {
				fields = append(fields, got{h, f})
				return nil
			})
			if have := table(fields); !strings.HasPrefix(want, have) {
				t.Fatalf("version %d cut to %d: wrong fields\n%s", f.Version, n, have)
			}
			var ce *CorruptError
			if len(fields) < 2 && !errors.As(err, &ce) {
				t.Fatalf("version %d cut to %d: %d fields, error %v", f.Version, n, len(fields), err)
			}
		}
	}
}

// Headers that claim the world cost nothing.
func TestHostileHeaders(t *testing.T) {
	big := basic()
	big.Version = 5
	huge := func(edit func(b []byte) []byte) []byte { return edit(big.Bytes()) }
	replace := func(b []byte, dim string, n uint64) []byte {
		at := bytes.Index(b, []byte(dim))
		at += (len(dim) + 3) &^ 3
		for i := range 8 {
			b[at+i] = byte(n >> (56 - 8*i))
		}
		return b
	}
	for name, b := range map[string][]byte{
		"four billion longitudes": huge(func(b []byte) []byte { return replace(b, "lon", 4e9) }),
		"endless times":           huge(func(b []byte) []byte { return replace(b, "time", 1<<44) }),
		"beyond 63 bits":          huge(func(b []byte) []byte { return replace(b, "lat", 1<<63+5) }),
		"a product past 64 bits":  huge(func(b []byte) []byte { return replace(replace(b, "lat", 1<<45), "lon", 1<<45) }),
	} {
		allocated := testing.AllocsPerRun(1, func() {
			err := Each(bytes.NewReader(b), int64(len(b)), func(Header) bool { return true }, func(Header, *grid.Field) error { return nil })
			var ce *CorruptError
			if !errors.As(err, &ce) {
				t.Errorf("%s: %v", name, err)
			}
		})
		if !(allocated < 500) {
			t.Errorf("%s: %v allocations", name, allocated)
		}
	}
}

func FuzzNetCDF(f *testing.F) {
	for _, version := range []byte{1, 2, 5} {
		file := basic()
		file.Version = version
		f.Add(file.Bytes())
		file.Dims[0].N, file.Records = 0, 2
		f.Add(file.Bytes())
		file.Vars[3].Dims = []string{"time", "lon", "lat"}
		f.Add(file.Bytes())
	}
	f.Add([]byte("\x89HDF\r\n\x1a\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		total := 0
		_ = Each(bytes.NewReader(b), int64(len(b)), func(h Header) bool { return total < 1<<20 }, func(h Header, fd *grid.Field) error {
			if len(fd.Values) != h.Shape.NLat*h.Shape.NLon || len(fd.Values) > len(b) {
				t.Fatalf("%d values of shape %+v from %d bytes", len(fd.Values), h.Shape, len(b))
			}
			if !(h.Shape.West >= -180 && h.Shape.West < 180) || !(h.Shape.DLat >= 0) || !(h.Shape.DLon >= 0) || h.Valid.IsZero() {
				t.Fatalf("header %+v", h)
			}
			for _, v := range fd.Values {
				if math.IsInf(float64(v), 0) {
					t.Fatal("infinite value")
				}
			}
			total += len(fd.Values)
			return nil
		})
	})
}

func BenchmarkRead(b *testing.B) {
	const rows, cols, steps = 181, 360, 16
	file := func(values any, attrs ...cdftest.Attr) []byte {
		lat, lon, hours := make([]float32, rows), make([]float32, cols), make([]float64, steps)
		for i := range lat {
			lat[i] = float32(90 - i)
		}
		for i := range lon {
			lon[i] = float32(i)
		}
		for i := range hours {
			hours[i] = float64(i)
		}
		f := basic()
		f.Dims[0].N, f.Dims[1].N, f.Dims[2].N = steps, rows, cols
		f.Vars[0].Values, f.Vars[1].Values, f.Vars[2].Values, f.Vars[3].Values = hours, lat, lon, values
		f.Vars[3].Attrs = append(f.Vars[3].Attrs, attrs...)
		return f.Bytes()
	}
	shorts, floats := make([]int16, rows*cols*steps), make([]float32, rows*cols*steps)
	for i := range shorts {
		shorts[i], floats[i] = int16(i%3000), float32(i%3000)
	}
	for name, data := range map[string][]byte{
		"int16":   file(shorts, cdftest.Attr{Name: "scale_factor", Value: []float64{0.01}}, cdftest.Attr{Name: "_FillValue", Value: []int16{-32767}}),
		"float32": file(floats),
	} {
		b.Run(name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				n = 0
				err := Each(bytes.NewReader(data), int64(len(data)), func(Header) bool { return true }, func(h Header, f *grid.Field) error {
					n += len(f.Values)
					return nil
				})
				if err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mvalues/s")
		})
	}
}
