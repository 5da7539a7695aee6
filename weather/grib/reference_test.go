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
		got, ok := valueAt(f, *s[1], *s[2])
		switch {
		case !ok:
			t.Errorf("%s: no grid point at %g, %g (%+v)", id, *s[1], *s[2], f.Shape)
		case s[3] == nil:
			if got == got {
				t.Errorf("%s: %g at %g, %g, want missing", id, got, *s[1], *s[2])
			}
		case !(math.Abs(float64(got)-*s[3]) <= tol):
			t.Errorf("%s: %.9g at %g, %g, want %.9g ± %.2g", id, got, *s[1], *s[2], *s[3], tol)
		}
		count++
	}
	return count
}

// valueAt returns the value of the grid point at a position, which may be off
// by a fifth of a step.
func valueAt(f *grid.Field, lat, lon float64) (float32, bool) {
	j, i := 0.0, 0.0
	if f.NLat > 1 {
		j = (lat - f.South) / f.DLat
	}
	if f.NLon > 1 {
		i = math.Mod(lon-f.West+720+0.3*f.DLon, 360)/f.DLon - 0.3
	}
	jr, ir := math.Round(j), math.Round(i)
	if math.Abs(j-jr) > 0.2 || math.Abs(i-ir) > 0.2 || jr < 0 || ir < 0 || int(jr) >= f.NLat || int(ir) >= f.NLon {
		return 0, false
	}
	return f.Values[int(jr)*f.NLon+int(ir)], true
}
