package grib

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/weather/grid"
)

// reference is what eccodes 2.28 says of one field.
type reference struct {
	File       string       `json:"file"`
	Field      int          `json:"field"`
	Edition    int          `json:"edition"`
	ShortName  string       `json:"shortName"`
	Code       []int        `json:"disc_cat_num"`
	RefTime    string       `json:"refTime"`
	ValidTime  string       `json:"validTime"`
	Number     *int         `json:"number"`
	Grid       string       `json:"grid"`
	Ni         *int         `json:"Ni"`
	Nj         *int         `json:"Nj"`
	Scan       *int         `json:"scan"`
	Bitmap     int          `json:"bitmap"`
	N          int64        `json:"N"`
	Missing    int          `json:"nmiss"`
	Min        *float64     `json:"min"`
	Max        *float64     `json:"max"`
	Mean       *float64     `json:"mean"`
	Samples    [][]*float64 `json:"samples"`
	NonMissing [][]*float64 `json:"samples_nonmissing"`
}

func references(t testing.TB) map[string][]reference {
	f, err := os.Open(validation.SharedData(t, "ref", "grib_reference.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	out := map[string][]reference{}
	sc := bufio.NewScanner(f)
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		var r reference
		if err := json.Unmarshal(sc.Bytes(), &r); err != nil {
			t.Fatal(err)
		}
		out[r.File] = append(out[r.File], r)
	}
	return out
}

// TestReferenceValues compares every field of every open data file with what
// eccodes 2.28 decodes, or expects the refusal by name.
func TestReferenceValues(t *testing.T) {
	refs := references(t)
	var files []string
	for f := range refs {
		files = append(files, f)
	}
	sort.Strings(files)
	decoded, samples := 0, 0
	refused := map[string]int{}
	worst := map[string]float64{} // by packing, relative to the field's largest value
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			f, err := os.Open(validation.SharedData(t, filepath.FromSlash(name)))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			st, err := f.Stat()
			if err != nil {
				t.Fatal(err)
			}
			i := 0
			take := func(h Header) reference {
				if i >= len(refs[name]) {
					t.Fatalf("more fields than the %d of the reference", len(refs[name]))
				}
				i++
				return refs[name][i-1]
			}
			err = Read(context.Background(), f, st.Size(), Reading{
				Want: func(Header) bool { return true },
				Emit: func(h Header, f *grid.Field) error {
					decoded++
					n, w := compare(t, h, f, take(h))
					samples += n
					packing := strings.SplitN(strings.TrimSuffix(h.Packing, ", constant"), ", missing", 2)[0]
					if h.Edition == 1 {
						packing = "edition 1 " + packing
					}
					worst[packing] = math.Max(worst[packing], w)
					return nil
				},
				Refuse: func(h Header, err error) error {
					take(h)
					var u *UnsupportedError
					if !errors.As(err, &u) {
						t.Errorf("field %d: %v", i, err)
						return nil
					}
					refused[fmt.Sprintf("%s %s", u.What, u.Template)]++
					return nil
				},
			})
			if err != nil {
				t.Fatal(err)
			}
			if i != len(refs[name]) {
				t.Errorf("%d fields, reference has %d", i, len(refs[name]))
			}
		})
	}
	check := func(id, what string, got, want, tol float64) {
		validation.Check(t, validation.Row{
			Package: "weather/grib", ID: id, Quantity: what, Got: got, Want: want, Tol: tol,
			Source: "eccodes 2.28 reference values", Kind: validation.Independent,
		})
	}
	check("reference-fields", "fields of the open data decoded and compared", float64(decoded), 1570, 0)
	check("reference-samples", "sampled values of the open data compared", float64(samples), 17266, 0)
	for packing, w := range worst {
		id := strings.NewReplacer(" ", "-", ",", "", ".", "-").Replace(packing)
		check("reference-"+id, "largest difference of samples, minimum, maximum and mean, over the field's largest value, "+packing+" packing", w, 0, math.Ldexp(1, -24))
	}
	var lines []string
	for k, n := range refused {
		lines = append(lines, fmt.Sprintf("%d x %s", n, k))
	}
	sort.Strings(lines)
	t.Logf("%d files: %d fields decoded and compared at %d samples; refused by name: %s", len(files), decoded, samples, strings.Join(lines, "; "))
}

// compare checks one field and returns the number of samples compared and the
// largest difference of a value over the largest value.
func compare(t *testing.T, h Header, f *grid.Field, r reference) (count int, worst float64) {
	t.Helper()
	id := fmt.Sprintf("field %d (%s, %s)", r.Field, r.ShortName, h.Packing)
	if got := h.Reference.Format("20060102T1504"); got != r.RefTime {
		t.Errorf("%s: reference time %s, want %s", id, got, r.RefTime)
	}
	if got := h.Valid.Format("20060102T1504"); got != r.ValidTime {
		t.Errorf("%s: valid %s, want %s", id, got, r.ValidTime)
	}
	if len(r.Code) == 3 {
		if want := fmt.Sprintf("%d/%d/%d", r.Code[0], r.Code[1], r.Code[2]); h.Parameter != want {
			t.Errorf("%s: parameter %s, want %s", id, h.Parameter, want)
		}
	}
	if r.Number != nil && *r.Number > 0 && h.Member != *r.Number {
		t.Errorf("%s: member %d, want %d", id, h.Member, *r.Number)
	}
	if int64(len(f.Values)) != r.N || r.Ni != nil && *r.Ni != f.NLon || r.Nj != nil && *r.Nj != f.NLat {
		t.Errorf("%s: %d x %d points, want %d", id, f.NLon, f.NLat, r.N)
		return 0, math.Inf(1)
	}
	missing, n := 0, 0
	lo, hi, sum := math.Inf(1), math.Inf(-1), 0.0
	for _, v := range f.Values {
		if v != v {
			missing++
			continue
		}
		n++
		lo, hi, sum = min(lo, float64(v)), max(hi, float64(v)), sum+float64(v)
	}
	if missing != r.Missing {
		t.Errorf("%s: %d missing, want %d", id, missing, r.Missing)
	}
	// Values leave as float32: half a unit in the last place of the largest.
	tol := 0.0
	differ := func(got, want float64) bool {
		if got == want {
			return false
		}
		d := math.Abs(got - want)
		worst = math.Max(worst, d/tol*math.Ldexp(1, -24))
		return !(d <= tol)
	}
	if r.Max != nil {
		tol = max(math.Abs(*r.Min), math.Abs(*r.Max))*math.Ldexp(1, -24) + 1e-30
		for _, c := range []struct {
			what      string
			got, want float64
		}{{"min", lo, *r.Min}, {"max", hi, *r.Max}, {"mean", sum / float64(n), *r.Mean}} {
			if differ(c.got, c.want) {
				t.Errorf("%s: %s %.9g, want %.9g ± %.2g", id, c.what, c.got, c.want, tol)
			}
		}
	}
	for _, s := range append(append([][]*float64{}, r.Samples...), r.NonMissing...) {
		i, j := gridIndex(int(*s[0]), f.NLon, f.NLat, h.Scan)
		got := f.Values[j*f.NLon+i]
		switch {
		case s[3] == nil:
			if got == got {
				t.Errorf("%s: %g at index %g, want missing", id, got, *s[0])
			}
		case differ(float64(got), *s[3]):
			t.Errorf("%s: %.9g at index %g, want %.9g ± %.2g", id, got, *s[0], *s[3], tol)
		}
		dLat := math.Abs(f.South + float64(j)*f.DLat - *s[1])
		dLon := math.Abs(math.Mod(f.West+float64(i)*f.DLon-*s[2]+900, 360) - 180)
		tolLat, tolLon := positionTolerance(r, f)
		if !(dLat <= tolLat && dLon <= tolLon) {
			t.Errorf("%s: point %g lies at %g, %g, off by %.6g and %.6g degrees", id, *s[0], *s[1], *s[2], dLat, dLon)
		}
		count++
	}
	return count, worst
}

// gridIndex returns the column from the west and the row from the south of the
// k-th point of a message, straight from the definition of the scanning mode.
func gridIndex(k, ni, nj, scan int) (i, j int) {
	if scan&0x20 != 0 {
		i, j = k/nj, k%nj
		if scan&0x10 != 0 && i%2 == 1 {
			j = nj - 1 - j
		}
	} else {
		i, j = k%ni, k/ni
		if scan&0x10 != 0 && j%2 == 1 {
			i = ni - 1 - i
		}
	}
	if scan&0x80 != 0 {
		i = ni - 1 - i
	}
	if scan&0x40 == 0 {
		j = nj - 1 - j
	}
	return i, j
}

// positionTolerance is the rounding of the stated angles, summed over the rows
// and columns where the reference adds up increments. Two oddities: the
// reference for the inconsistent ncep-nww3 and nogaps headers spreads the points between
// the stated corners (up to a third of a degree off), and it places the points
// of scanning mode 16 as if all rows ran the same way.
func positionTolerance(r reference, f *grid.Field) (lat, lon float64) {
	unit := 1e-6
	if r.Edition == 1 {
		unit = 1e-3
	}
	lat, lon = unit*(1+0.5*float64(f.NLat)), unit*(1+0.5*float64(f.NLon))
	switch {
	case strings.Contains(r.File, "ncep-nww3"), strings.Contains(r.File, "nogaps"): // see TestInconsistentCorners
		lat, lon = max(lat, 0.34), max(lon, 0.27)
	case r.Scan != nil && *r.Scan == 16:
		lon = 360
	}
	return lat, lon
}

// TestAlternateRows shows on a real field which reading of scanning mode 16 is
// right: neighbouring rows are alike only when every second one is turned.
// (eccodes 2.28 lists the values in stored order with the coordinates of rows
// that all run the same way.)
func TestAlternateRows(t *testing.T) {
	b, err := os.ReadFile(validation.SharedData(t, "grib2", "ecmwf_20210801T12_f003_2t_scan016.grib2"))
	if err != nil {
		t.Fatal(err)
	}
	f := mustDecode(t, b)[0].Field
	alike, turned := 0.0, 0.0
	for j := 1; j < f.NLat; j++ {
		for i := range f.NLon {
			v := f.Values[j*f.NLon+i]
			alike += math.Abs(float64(v - f.Values[(j-1)*f.NLon+i]))
			turned += math.Abs(float64(v - f.Values[(j-1)*f.NLon+f.NLon-1-i]))
		}
	}
	if !(alike < turned/5) {
		t.Errorf("rows differ by %g, turned by %g", alike, turned)
	}
}

// TestInconsistentCorners reads a header that states 61 columns of 1.25 degrees
// from 75 W and a last column at 0.26 W: first point and increment rule, and a
// warning says so, once for the file.
func TestInconsistentCorners(t *testing.T) {
	b, err := os.ReadFile(validation.SharedData(t, "grib1", "ncep-nww3_20050330T00_f000-180_3h_wind_transatl_60N10N_75W0.grib1"))
	if err != nil {
		t.Fatal(err)
	}
	d, w, err := Decode(b)
	if err != nil || len(d) != 122 {
		t.Fatalf("%d fields, %v", len(d), err)
	}
	if len(w) != 1 || !strings.Contains(w[0].What, "inconsistent") {
		t.Errorf("warnings %v", w)
	}
	want := grid.Shape{South: 10, West: -75, DLat: 1, DLon: 1.25, NLat: 51, NLon: 61}
	if d[0].Field.Shape != want {
		t.Errorf("shape %+v, want %+v", d[0].Field.Shape, want)
	}
}

// TestOpenDataQuantities counts what the fields of each file are taken for.
func TestOpenDataQuantities(t *testing.T) {
	for file, want := range map[string]string{
		"grib1/ncep-nww3_20050330T00_f000-180_3h_wind_transatl_60N10N_75W0.grib1":     "wind-u 61, wind-v 61",
		"grib1/nogaps_20050329T12_f000-120_6h_10uv_med.grib1":                         "wind-u 21, wind-v 21",
		"grib1/era5_20110101-03_hourly_10u10v_msl_neatl_0p25.grib1":                   "sea-level-pressure 72, wind-u 72, wind-v 72",
		"grib1/ecmwf-ens_20131025T00_f069-084_gust10m_z850_51members.grib1":           "gust 153, other 51",
		"grib1/tbl1_20131205T00_f006_10uv_northsea_scan96.grib1":                      "wind-u 1, wind-v 1",
		"grib1/ecmwf_2t_bitmap_4bit.grib1":                                            "other 2",
		"grib2/gfs_20170322T00_f000_gust_2p50_drt5.3o2.grib2":                         "gust 1",
		"grib2/gfs_20111008T00_f072_multifield_bmi254.grib2":                          "other 10",
		"grib2/gefs_20200815T06_f006_mean_biscay_pdt4.2+4.12_drt5.0_scan64.grib2":     "other 82, sea-level-pressure 1, wind-u 1, wind-v 1",
		"grib2/gfswave_20230823T18_f001_atlocn_0p16_jpeg.grib2":                       "swell-from/1 1, swell-from/2 1, swell-from/3 1, swell-height/1 1, swell-height/2 1, swell-height/3 1, swell-period/1 1, swell-period/2 1, swell-period/3 1, wave-from 1, wave-height 1, wave-peak-period 1, wind-from 1, wind-sea-from 1, wind-sea-height 1, wind-sea-period 1, wind-speed 1, wind-u 1, wind-v 1",
		"grib2/wave_20240909T06_dirpw_global0p5_drt5.3o2_mvm1_scan64.grib2":           "wave-from 1",
		"grib2/ukmo_scan064.grib2":                                                    "other 1",
		"derived/pseudoens_20110101T00_f000-024_10uv_neatl_0p25_6members_ccsds.grib2": "wind-u 54, wind-v 54",
		"derived/gfs_pseudofc_20161120T00_f000-048_10uv_natl_1p00_simple.grib2":       "wind-u 9, wind-v 9",
		"derived/ecmwf_20240514T12_10uv_20deg_secondorder.grib1":                      "wind-u 1, wind-v 1",
	} {
		f, err := os.Open(validation.SharedData(t, filepath.FromSlash(file)))
		if err != nil {
			t.Fatal(err)
		}
		st, err := f.Stat()
		if err != nil {
			t.Fatal(err)
		}
		count := map[string]int{}
		err = Each(f, st.Size(), func(h Header) bool {
			name := h.Quantity.String()
			if h.Partition != 0 {
				name += fmt.Sprintf("/%d", h.Partition)
			}
			count[name]++
			return false
		}, nil)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for k, n := range count {
			got = append(got, fmt.Sprintf("%s %d", k, n))
		}
		sort.Strings(got)
		if g := strings.Join(got, ", "); g != want {
			t.Errorf("%s: %s; want %s", file, g, want)
		}
	}
}
