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
					samples += compare(t, h, f, take(h))
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
	var lines []string
	for k, n := range refused {
		lines = append(lines, fmt.Sprintf("%d x %s", n, k))
	}
	sort.Strings(lines)
	t.Logf("%d files: %d fields decoded and compared at %d samples; refused by name: %s", len(files), decoded, samples, strings.Join(lines, "; "))
}

// compare checks one field and returns the number of samples compared.
func compare(t *testing.T, h Header, f *grid.Field, r reference) int {
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
		return 0
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
	if r.Max != nil {
		tol = max(math.Abs(*r.Min), math.Abs(*r.Max))*math.Ldexp(1, -24) + 1e-30
		for _, c := range []struct {
			what      string
			got, want float64
		}{{"min", lo, *r.Min}, {"max", hi, *r.Max}, {"mean", sum / float64(n), *r.Mean}} {
			if !(math.Abs(c.got-c.want) <= tol) {
				t.Errorf("%s: %s %.9g, want %.9g ± %.2g", id, c.what, c.got, c.want, tol)
			}
		}
	}
	count := 0
	for _, s := range append(append([][]*float64{}, r.Samples...), r.NonMissing...) {
		i, j := gridIndex(int(*s[0]), f.NLon, f.NLat, h.Scan)
		got := f.Values[j*f.NLon+i]
		switch {
		case s[3] == nil:
			if got == got {
				t.Errorf("%s: %g at index %g, want missing", id, got, *s[0])
			}
		case !(math.Abs(float64(got)-*s[3]) <= tol):
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
	return count
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
