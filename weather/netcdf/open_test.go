package netcdf

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/weather/grid"
)

// reference is one line of the independent library's results.
type reference struct {
	File, Var string
	Shape     []int
	Nmiss     int
	Min, Max  float64
	Samples   [][2]*float64 `json:"samples_flat"`
}

func references(t *testing.T) map[string][]reference {
	t.Helper()
	f, err := os.Open(validation.SharedData(t, "ref", "netcdf_reference.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	refs := map[string][]reference{}
	sc := bufio.NewScanner(f)
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		var r reference
		if err := json.Unmarshal(sc.Bytes(), &r); err != nil {
			t.Fatal(err)
		}
		refs[r.File] = append(refs[r.File], r)
	}
	return refs
}

var classicFiles = []string{
	"derived/era5_20110101-03_hourly_10u10v_msl_neatl_packed_cdf2.nc",
	"derived/gfs_anl_20161120_6hourly_10uv_natl_cdf1.nc",
	"netcdf/gfs_20230228_3hourly_10uv_7x7_cdf1.nc",
	"netcdf/hycom_atl_u_360day_cdf1.nc",
	"netcdf/rtofs_20241028_3hourly_surface_current_wa_cdf1.nc",
	"netcdf/storm_199601_6hourly_u_noCF_cdf1.nc",
}

var hdf5Files = []string{
	"derived/era5_20110101_hourly_10uv_neatl_newcds-layout_nc4.nc",
	"derived/gfs_anl_20161120_6hourly_10uv_natl_nc4_deflate.nc",
	"netcdf/era5_19950714T12_10uv_scalar_time_nc4.nc",
}

// whole reads a variable of any shape, unpacked.
func (c *contents) whole(t *testing.T, v *variable) []float64 {
	t.Helper()
	records := int64(1)
	if v.record {
		records = c.records
	}
	var out []float64
	for r := range records {
		b := make([]byte, v.bytes)
		if err := c.readAt(b, v.begin+r*c.recordSz); err != nil {
			t.Fatal(err)
		}
		x := make([]float64, v.bytes/v.typ.size())
		widen(x, b, unsigned(v), v.typ.size())
		out = append(out, x...)
	}
	newUnpacker(v, nil).apply(out)
	return out
}

func compareWhole(t *testing.T, name string, b []byte, refs []reference) {
	t.Helper()
	c, err := parse(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	if len(refs) == 0 {
		t.Fatalf("%s: no reference", name)
	}
	worst := 0.0
	for _, ref := range refs {
		v := c.byName[ref.Var]
		if v == nil {
			t.Errorf("%s: no variable %s", name, ref.Var)
			continue
		}
		x := c.whole(t, v)
		lo, hi, missing := math.Inf(1), math.Inf(-1), 0
		for _, y := range x {
			if math.IsNaN(y) {
				missing++
			} else {
				lo, hi = min(lo, y), max(hi, y)
			}
		}
		tol := 1e-12 * max(1, math.Abs(ref.Min), math.Abs(ref.Max))
		if missing != ref.Nmiss || !(math.Abs(lo-ref.Min) <= tol) || !(math.Abs(hi-ref.Max) <= tol) {
			t.Errorf("%s %s: missing %d, min %v, max %v; want %d, %v, %v", name, ref.Var, missing, lo, hi, ref.Nmiss, ref.Min, ref.Max)
		}
		worst = max(worst, math.Abs(lo-ref.Min), math.Abs(hi-ref.Max))
		for _, s := range ref.Samples {
			got := x[int(*s[0])]
			if s[1] == nil != math.IsNaN(got) || s[1] != nil && !(math.Abs(got-*s[1]) <= tol) {
				t.Errorf("%s %s[%v] = %v, want %v", name, ref.Var, *s[0], got, s[1])
			}
		}
	}
	validation.Check(t, validation.Row{
		Package: "weather/netcdf", ID: "open-" + filepath.Base(name),
		Quantity: fmt.Sprintf("largest difference of a minimum or maximum over %d variables", len(refs)),
		Got:      worst, Want: 0, Tol: 1e-9, Source: "netCDF C library through netCDF4-python on the same file", Kind: validation.Independent,
	})
}

func TestOpenFilesAgreeWithIndependentReader(t *testing.T) {
	refs := references(t)
	for _, name := range classicFiles {
		b, err := os.ReadFile(validation.SharedData(t, filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		compareWhole(t, name, b, refs[name])
	}
}

// NetCDF-4 files are refused, and the command that the refusal names makes
// files that are read to the same values.
func TestConvertedFilesAgreeWithIndependentReader(t *testing.T) {
	refs := references(t)
	for _, name := range hdf5Files {
		path := validation.SharedData(t, filepath.FromSlash(name))
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		st, err := f.Stat()
		if err != nil {
			t.Fatal(err)
		}
		err = Each(f, st.Size(), func(Header) bool { return true }, func(Header, *grid.Field) error { return nil })
		var ue *UnsupportedError
		if !errors.As(err, &ue) || ue.Hint != "nccopy -k cdf5 in.nc out.nc" {
			t.Errorf("%s: %v", name, err)
		}
	}
	nccopy, err := exec.LookPath("nccopy")
	if err != nil {
		t.Skip("nccopy is not installed (Debian's netcdf-bin): skipped")
	}
	for _, name := range hdf5Files {
		in, out := validation.SharedData(t, filepath.FromSlash(name)), filepath.Join(t.TempDir(), "out.nc")
		args := []string{"-k", "cdf5", in, out}
		want := refs[name]
		if strings.Contains(name, "newcds") { // it holds strings, which no classic format does
			args = append([]string{"-V", "number,valid_time,latitude,longitude,u10,v10"}, args...)
		}
		if msg, err := exec.Command(nccopy, args...).CombinedOutput(); err != nil {
			t.Fatalf("%s: nccopy: %v %s", name, err, msg)
		}
		b, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		compareWhole(t, name+".cdf5", b, want)
		u, v := 0, 0
		for _, g := range collect(t, b) {
			if g.h.Member != -1 {
				t.Errorf("%s: member %d", name, g.h.Member)
			}
			switch g.h.Quantity {
			case grid.WindU:
				u++
			case grid.WindV:
				v++
			}
		}
		if steps := map[string]int{hdf5Files[0]: 24, hdf5Files[1]: 9, hdf5Files[2]: 1}[name]; u != steps || v != steps {
			t.Errorf("%s: %d and %d fields of u and v, want %d", name, u, v, steps)
		}
	}
}

type got struct {
	h Header
	f *grid.Field
}

func collect(t testing.TB, b []byte) (out []got) {
	t.Helper()
	err := Each(bytes.NewReader(b), int64(len(b)), func(Header) bool { return true }, func(h Header, f *grid.Field) error {
		out = append(out, got{h, f})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestOpenFilesAsFields(t *testing.T) {
	refs := references(t)
	for _, tc := range []struct {
		file, variable string
		q              grid.Quantity
		first, last    string
		shape          grid.Shape
		southward      bool
		warnings       int
	}{
		{classicFiles[0], "u10", grid.WindU, "2011-01-01 00:00", "2011-01-03 23:00", grid.Shape{South: 55, West: -30, DLat: .25, DLon: .25, NLat: 81, NLon: 89}, true, 0},
		{classicFiles[0], "v10", grid.WindV, "2011-01-01 00:00", "2011-01-03 23:00", grid.Shape{South: 55, West: -30, DLat: .25, DLon: .25, NLat: 81, NLon: 89}, true, 0},
		{classicFiles[0], "msl", grid.SeaLevelPressure, "2011-01-01 00:00", "2011-01-03 23:00", grid.Shape{South: 55, West: -30, DLat: .25, DLon: .25, NLat: 81, NLon: 89}, true, 0},
		{classicFiles[1], "u10", grid.WindU, "2016-11-20 00:00", "2016-11-22 00:00", grid.Shape{South: 10, West: -80, DLat: 1, DLon: 1, NLat: 56, NLon: 91}, false, 0},
		{classicFiles[2], "air_v", grid.WindV, "2023-03-02 00:00", "2023-03-04 00:00", grid.Shape{South: 47.25, West: -125.5, DLat: .25, DLon: .25, NLat: 7, NLon: 7}, false, 0},
		{classicFiles[4], "water_u", grid.CurrentU, "2024-10-28 03:00", "2024-11-05 00:00", grid.Shape{South: 46.57786941, West: -126.76303101, DLat: 0.08333, DLon: 0.08333, NLat: 38, NLon: 34}, false, 1},
	} {
		b, err := os.ReadFile(validation.SharedData(t, filepath.FromSlash(tc.file)))
		if err != nil {
			t.Fatal(err)
		}
		var ref reference
		for _, r := range refs[tc.file] {
			if r.Var == tc.variable {
				ref = r
			}
		}
		var fields []got
		for _, g := range collect(t, b) {
			if g.h.Variable == tc.variable {
				fields = append(fields, g)
			}
		}
		if len(fields) != ref.Shape[0] {
			t.Fatalf("%s %s: %d fields, want %d", tc.file, tc.variable, len(fields), ref.Shape[0])
		}
		const stamp = "2006-01-02 15:04"
		first, last := fields[0].h, fields[len(fields)-1].h
		if first.Valid.Format(stamp) != tc.first || last.Valid.Format(stamp) != tc.last || first.Quantity != tc.q || first.Member != -1 || len(first.Warnings) != tc.warnings {
			t.Errorf("%s %s: header %+v to %v", tc.file, tc.variable, first, last.Valid)
		}
		s := first.Shape
		near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-5 }
		if s.NLat != tc.shape.NLat || s.NLon != tc.shape.NLon || !near(s.South, tc.shape.South) || !near(s.West, tc.shape.West) || !near(s.DLat, tc.shape.DLat) || !near(s.DLon, tc.shape.DLon) {
			t.Errorf("%s %s: shape %+v, want %+v", tc.file, tc.variable, s, tc.shape)
		}
		missing := 0
		for _, g := range fields {
			for _, v := range g.f.Values {
				if math.IsNaN(float64(v)) {
					missing++
				}
			}
		}
		if missing != ref.Nmiss {
			t.Errorf("%s %s: %d missing, want %d", tc.file, tc.variable, missing, ref.Nmiss)
		}
		for _, sample := range ref.Samples {
			n := int(*sample[0])
			i, j, k := n%s.NLon, n/s.NLon%s.NLat, n/s.NLon/s.NLat
			if tc.southward {
				j = s.NLat - 1 - j
			}
			v := float64(fields[k].f.Values[j*s.NLon+i])
			if sample[1] == nil != math.IsNaN(v) || sample[1] != nil && !(math.Abs(v-*sample[1]) <= 1e-6*max(1, math.Abs(*sample[1]))) {
				t.Errorf("%s %s sample %d: %v, want %v", tc.file, tc.variable, n, v, sample[1])
			}
		}
	}
}

func TestOpenFilesRefusedByName(t *testing.T) {
	for _, tc := range []struct{ file, want string }{
		{classicFiles[3], `no variable of this NetCDF file can be used; u: calendar "360_day" has dates that the civil calendar does not have`},
		{classicFiles[5], `no variable of this NetCDF file is wind, waves, current or pressure that is known by its standard_name or name; it has: u, timestep, lat, lon, reftime`},
	} {
		b, err := os.ReadFile(validation.SharedData(t, filepath.FromSlash(tc.file)))
		if err != nil {
			t.Fatal(err)
		}
		err = Each(bytes.NewReader(b), int64(len(b)), func(Header) bool { return true }, func(Header, *grid.Field) error { return nil })
		var ue *UnsupportedError
		if !errors.As(err, &ue) || err.Error() != tc.want {
			t.Errorf("%s: %v", tc.file, err)
		}
	}
}
