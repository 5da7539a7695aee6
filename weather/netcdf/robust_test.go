package netcdf

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"foilledger/weather/grid"
	"foilledger/weather/netcdf/cdftest"
)

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

// FuzzNetCDF starts from what the test writer makes and from the files in
// testdata/fuzz, made by it.
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
