// Package validation records the checks of the project against things outside
// it. A test calls [Check] with the value it got, the value it wants, the
// tolerance and the source; the row is compared on the spot, and, when the
// environment variable FOILLEDGER_VALIDATION names a folder, also written
// there, from where the command in ./table builds testdata/VALIDATION.md.
package validation

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Kind says what a check proves.
type Kind string

const (
	// Analytic compares with a closed form or an identity.
	Analytic Kind = "analytic"
	// Published compares with a number printed in a source.
	Published Kind = "published"
	// Independent compares with what another program or library computed.
	Independent Kind = "independent"
	// Symmetry compares two runs that must agree.
	Symmetry Kind = "symmetry"
	// Behaviour compares with common practice: a band, not a point.
	Behaviour Kind = "behaviour"
	// Regression compares with an earlier result of this project. It proves
	// nothing about truth.
	Regression Kind = "regression"
)

// Row is one check. Want and Tol are in the unit of Unit; a row passes when
// |Got − Want| ≤ Tol, so NaN fails.
type Row struct {
	Package  string  // package under test, as "vpp" or "weather/grib"
	ID       string  // short and unique within the package, as "ittc57-1e7"
	Quantity string  // what is compared, in words
	Got      float64 // what the project computes
	Want     float64 // what the source says
	Tol      float64 // absolute tolerance, in Unit
	Unit     string  // "" for pure numbers
	Source   string  // author, year, title, table or page; "common practice"; "from memory" where so
	Kind     Kind
}

// Check fails t unless the row holds, and records it for the table.
func Check(t testing.TB, r Row) {
	t.Helper()
	if r.Package == "" || r.ID == "" || r.Source == "" || r.Kind == "" {
		t.Fatalf("validation row %q lacks package, id, source or kind", r.ID)
	}
	if !(math.Abs(r.Got-r.Want) <= r.Tol) {
		t.Errorf("%s: %s = %.9g %s, want %.9g ± %.3g (%s)", r.ID, r.Quantity, r.Got, r.Unit, r.Want, r.Tol, r.Source)
	}
	dir := os.Getenv("FOILLEDGER_VALIDATION")
	if dir == "" {
		return
	}
	name := fmt.Sprintf("%s__%s.json", strings.ReplaceAll(r.Package, "/", "-"), strings.ReplaceAll(r.ID, "/", "-"))
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatalf("validation row %s: %v", r.ID, err)
	}
	if err := os.WriteFile(filepath.Join(dir, name), b, 0o644); err != nil {
		t.Fatalf("validation row %s: %v", r.ID, err)
	}
}

// Band is a Row whose wanted value is the interval [lo, hi].
func Band(t testing.TB, r Row, lo, hi float64) {
	t.Helper()
	r.Want, r.Tol = (lo+hi)/2, (hi-lo)/2
	Check(t, r)
}

// SharedData returns the path below the folder of open data files, or skips t
// with the reason when the folder is absent. The folder is ../shared/data from
// the project's root unless the environment variable FOILLEDGER_DATA names
// another.
func SharedData(t testing.TB, elem ...string) string {
	t.Helper()
	dir := os.Getenv("FOILLEDGER_DATA")
	if dir == "" {
		root, err := moduleRoot()
		if err != nil {
			t.Fatal(err)
		}
		dir = filepath.Join(root, "..", "shared", "data")
	}
	if _, err := os.Stat(dir); err != nil {
		t.Skipf("open data folder %s is absent (set FOILLEDGER_DATA to use another): skipped", dir)
	}
	return filepath.Join(append([]string{dir}, elem...)...)
}

func moduleRoot() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir, nil
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", fmt.Errorf("no go.mod above %s", dir)
		}
		dir = up
	}
}
