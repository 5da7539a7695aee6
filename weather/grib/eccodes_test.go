package grib

import (
	"bufio"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/weather/grid"
)

// tool runs one of eccodes' command-line programs, or skips the test with the
// reason when it is not installed.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed (Debian package libeccodes-tools): skipped", name)
	}
	out, err := exec.Command(path, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

func writeTemp(t *testing.T, name string, b []byte) string {
	t.Helper()
	p := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(p, b, 0o600); err != nil {
		t.Fatal(err)
	}
	return p
}

// eccodesPoint is one line of grib_get_data.
type eccodesPoint struct{ lat, lon, value float64 }

// dataOf returns what grib_get_data prints for each message, NaN where missing.
func dataOf(t *testing.T, path string) [][]eccodesPoint {
	t.Helper()
	out := tool(t, "grib_get_data", "-m", "nan", "-F", "%.17g", "-L", "%.9f %.9f", path)
	var fields [][]eccodesPoint
	sc := bufio.NewScanner(strings.NewReader(out))
	for sc.Scan() {
		f := strings.Fields(sc.Text())
		if len(f) != 3 {
			t.Fatalf("grib_get_data printed %q", sc.Text())
		}
		lat, err := strconv.ParseFloat(f[0], 64)
		if err != nil { // header of the next message
			fields = append(fields, nil)
			continue
		}
		lon, err1 := strconv.ParseFloat(f[1], 64)
		v, err2 := strconv.ParseFloat(f[2], 64)
		if err1 != nil || err2 != nil || len(fields) == 0 {
			t.Fatalf("grib_get_data printed %q", sc.Text())
		}
		fields[len(fields)-1] = append(fields[len(fields)-1], eccodesPoint{lat, lon, v})
	}
	return fields
}

// agrees compares a field with eccodes' points and returns the largest
// difference of a value. Ours are float32.
func agrees(t *testing.T, id string, f *grid.Field, points []eccodesPoint) (worst float64) {
	t.Helper()
	if len(points) != len(f.Values) {
		t.Errorf("%s: eccodes has %d points, we have %d", id, len(points), len(f.Values))
		return math.Inf(1)
	}
	bad := 0
	for _, p := range points {
		got, ok := valueAt(f, p.lat, p.lon)
		if !ok {
			t.Errorf("%s: no point at %g, %g in %+v", id, p.lat, p.lon, f.Shape)
			return math.Inf(1)
		}
		if got != got && p.value != p.value {
			continue
		}
		d := math.Abs(float64(got) - p.value)
		if !(d <= math.Ldexp(math.Abs(p.value), -23)+1e-12) {
			if bad++; bad <= 3 {
				t.Errorf("%s: %.9g at %g, %g, eccodes has %.9g", id, got, p.lat, p.lon, p.value)
			}
		}
		worst = math.Max(worst, d)
	}
	return worst
}

// valueAt returns the value of the grid point at a position, which may be off
// by a tenth of a step.
func valueAt(f *grid.Field, lat, lon float64) (float32, bool) {
	j, i := 0.0, 0.0
	if f.NLat > 1 {
		j = (lat - f.South) / f.DLat
	}
	if f.NLon > 1 {
		i = math.Mod(lon-f.West+720+0.3*f.DLon, 360)/f.DLon - 0.3
	}
	jr, ir := math.Round(j), math.Round(i)
	if math.Abs(j-jr) > 0.1 || math.Abs(i-ir) > 0.1 || jr < 0 || ir < 0 || int(jr) >= f.NLat || int(ir) >= f.NLon {
		return 0, false
	}
	return f.Values[int(jr)*f.NLon+int(ir)], true
}

// TestEccodesReadsOurFiles encodes in every packing, decodes with eccodes, and
// compares values, positions and keys.
func TestEccodesReadsOurFiles(t *testing.T) {
	globe := grid.Shape{South: -90, West: -180, DLat: 5, DLon: 5, NLat: 37, NLon: 72}
	dateline := grid.Shape{South: -20, West: 170, DLat: 1, DLon: 1.25, NLat: 21, NLon: 33}
	var fields []*grid.Field
	for i, q := range place2Keys() {
		s := globe
		if i%2 == 1 {
			s = dateline
		}
		f := madeField(s, q, i%3 == 0)
		if q == grid.SwellHeight {
			f.Partition = 2
		}
		if i%4 == 1 {
			f.Member = i
		}
		fields = append(fields, f)
	}
	flat := madeField(globe, grid.WindU, false)
	for i := range flat.Values {
		flat.Values[i] = 3.25
	}
	empty := madeField(dateline, grid.WindU, false)
	for i := range empty.Values {
		empty.Values[i] = float32(math.NaN())
	}
	fields = append(fields, flat, empty)
	names := map[grid.Quantity]string{
		grid.WindU: "10u", grid.WindV: "10v", grid.WindSpeed: "10si", grid.WindFrom: "10wdir", grid.Gust: "i10fg",
		grid.WaveHeight: "swh", grid.WavePeakPeriod: "pp1d", grid.WaveMeanPeriod: "mwp", grid.WaveFrom: "mwd",
		grid.WindSeaHeight: "shww", grid.WindSeaPeriod: "mpww", grid.WindSeaFrom: "wvdir",
		grid.SwellHeight: "swell", grid.SwellPeriod: "swper", grid.SwellFrom: "swdir",
		grid.SeaLevelPressure: "prmsl",
	}
	worst := map[Packing]float64{}
	count := 0
	for p := range packings {
		b := mustEncode2(t, EncodeOptions{Packing: p, Bits: 14}, fields...)
		path := writeTemp(t, "ours.grib2", b)
		ours := mustDecode(t, b)
		theirs := dataOf(t, path)
		if len(theirs) != len(fields) {
			t.Fatalf("%v: eccodes sees %d of %d fields", p, len(theirs), len(fields))
		}
		for i, d := range ours {
			worst[p] = math.Max(worst[p], agrees(t, fmt.Sprintf("%v field %d", p, i+1), d.Field, theirs[i]))
			count += len(theirs[i])
		}
		keys := strings.Split(strings.TrimSpace(tool(t, "grib_get", "-f", "-p", "shortName,dataDate,dataTime,stepRange,perturbationNumber,numberOfMissing", path)), "\n")
		for i, f := range fields {
			k := strings.Fields(keys[i])
			want := names[f.Quantity]
			if want != "" && k[0] != want {
				t.Errorf("%v field %d: %v is %s for eccodes, want %s", p, i+1, f.Quantity, k[0], want)
			}
			member := "not_found"
			if f.Member >= 0 {
				member = strconv.Itoa(f.Member)
			}
			missing := 0
			for _, v := range f.Values {
				if v != v {
					missing++
				}
			}
			if got, want := strings.Join(k[1:], " "), fmt.Sprintf("20260304 600 9 %s %d", member, missing); got != want {
				t.Errorf("%v field %d: keys %q, want %q", p, i+1, got, want)
			}
		}
		validation.Check(t, validation.Row{
			Package: "weather/grib", ID: "eccodes-reads-" + p.String(), Quantity: fmt.Sprintf("largest difference between what eccodes and we decode from our %v-packed messages", p),
			Got: worst[p], Want: 0, Tol: 1e-5, Unit: "", Source: "eccodes 2.28 grib_get_data", Kind: validation.Independent,
		})
	}
	// Edition 1.
	var old []*grid.Field
	for _, f := range fields {
		if _, ok := place1[f.Quantity]; ok && f.Member < 0 {
			old = append(old, f)
		}
	}
	b := mustEncode1(t, EncodeOptions{Precision: 0.01}, old...)
	theirs := dataOf(t, writeTemp(t, "ours.grib1", b))
	for i, d := range mustDecode(t, b) {
		agrees(t, fmt.Sprintf("edition 1 field %d", i+1), d.Field, theirs[i])
		count += len(theirs[i])
	}
	t.Logf("%d values of our files agree with eccodes; largest difference by packing: %v", count, worst)
}

// TestWeReadEccodesFiles lets eccodes repack our and open files, and decodes
// the result.
func TestWeReadEccodesFiles(t *testing.T) {
	sources := map[string]string{
		"plain.grib2":  writeTemp(t, "plain.grib2", mustEncode2(t, EncodeOptions{Bits: 13}, madeField(grid.Shape{South: -30, West: -60, DLat: 0.5, DLon: 0.5, NLat: 101, NLon: 141}, grid.WindU, false))),
		"bitmap.grib2": writeTemp(t, "bitmap.grib2", mustEncode2(t, EncodeOptions{Bits: 9}, madeField(grid.Shape{South: -30, West: -60, DLat: 0.5, DLon: 0.5, NLat: 61, NLon: 71}, grid.WaveHeight, true))),
		"plain.grib1":  writeTemp(t, "plain.grib1", mustEncode1(t, EncodeOptions{Bits: 11}, madeField(grid.Shape{South: -30, West: -60, DLat: 0.5, DLon: 0.5, NLat: 61, NLon: 71}, grid.WindV, false))),
		"bitmap.grib1": writeTemp(t, "bitmap.grib1", mustEncode1(t, EncodeOptions{Bits: 7}, madeField(grid.Shape{South: -30, West: -60, DLat: 0.5, DLon: 0.5, NLat: 31, NLon: 41}, grid.WindV, true))),
	}
	cases := []struct{ source, set string }{
		{"plain.grib2", "packingType=grid_simple"},
		{"plain.grib2", "packingType=grid_ccsds"},
		{"plain.grib2", "packingType=grid_png"},
		{"plain.grib2", "packingType=grid_jpeg"},
		{"plain.grib2", "packingType=grid_ieee"},
		{"plain.grib2", "bitsPerValue=24"},
		{"plain.grib2", "bitsPerValue=3"},
		{"plain.grib2", "decimalScaleFactor=2"},
		{"bitmap.grib2", "packingType=grid_ccsds"},
		{"bitmap.grib2", "packingType=grid_png"},
		{"bitmap.grib2", "packingType=grid_jpeg"},
		{"bitmap.grib2", "bitsPerValue=17"},
		{"plain.grib2", "edition=1"},
		{"plain.grib1", "edition=2"},
		{"plain.grib1", "bitsPerValue=21"},
		{"plain.grib1", "bitsPerValue=1"},
		{"bitmap.grib1", "bitsPerValue=12"},
		{"plain.grib1", "packingType=grid_second_order"},
		{"plain.grib1", "packingType=grid_second_order_no_SPD"},
		{"plain.grib1", "packingType=grid_second_order_SPD1"},
		{"plain.grib1", "packingType=grid_second_order_SPD2"},
		{"plain.grib1", "packingType=grid_second_order_SPD3"},
		{"plain.grib1", "packingType=grid_second_order_boustrophedonic"},
		{"bitmap.grib1", "packingType=grid_second_order"},
	}
	for _, c := range cases {
		t.Run(c.source+" "+c.set, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), "out")
			tool(t, "grib_set", "-r", "-s", c.set, sources[c.source], out)
			b, err := os.ReadFile(out)
			if err != nil {
				t.Fatal(err)
			}
			d, w, err := Decode(b)
			if err != nil || len(d) != 1 {
				t.Fatalf("%d fields, %v, warnings %v", len(d), err, w)
			}
			agrees(t, d[0].Header.Packing, d[0].Field, dataOf(t, out)[0])
		})
	}
}

// TestConstantWithDecimalScale pins what a constant field with a decimal scale
// factor means: the regulation's formula would divide by 10^D, both widespread
// encoders do not.
func TestConstantWithDecimalScale(t *testing.T) {
	flat := madeField(smallShape, grid.WindU, false)
	for i := range flat.Values {
		flat.Values[i] = 3.25
	}
	b2, b1 := mustEncode2(t, EncodeOptions{}, flat), mustEncode1(t, EncodeOptions{}, flat)
	section2Of(b2, 5)[18] = 2
	b1[8+27] = 2
	for name, b := range map[string][]byte{"c.grib2": b2, "c.grib1": b1} {
		f := mustDecode(t, b)[0].Field
		if f.Values[0] != 3.25 {
			t.Errorf("%s: %g, want 3.25", name, f.Values[0])
		}
		agrees(t, name, f, dataOf(t, writeTemp(t, name, b))[0])
	}
}

// TestLongEdition1 reads an edition 1 message that is longer than its length
// field can say.
func TestLongEdition1(t *testing.T) {
	s := grid.Shape{South: -40, West: -100, DLat: 0.05, DLon: 0.05, NLat: 1401, NLon: 2001}
	b := mustEncode2(t, EncodeOptions{Bits: 24}, madeField(s, grid.WindU, false))
	out := filepath.Join(t.TempDir(), "long.grib1")
	tool(t, "grib_set", "-s", "edition=1", writeTemp(t, "long.grib2", b), out)
	long, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	if len(long) < 1<<23 {
		t.Fatalf("only %d bytes", len(long))
	}
	want := mustDecode(t, b)[0].Field
	got := mustDecode(t, append(long, mustEncode1(t, EncodeOptions{}, madeField(smallShape, grid.WindV, false))...))
	if len(got) != 2 {
		t.Fatalf("%d fields", len(got))
	}
	if err := sameField(got[0].Field, want, 1e-9, 1e-4); err != nil {
		t.Error(err)
	}
}
