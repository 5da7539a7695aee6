package grib

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var updateSeeds = flag.Bool("update-seeds", false, "write the files of testdata/seeds anew")

// seedName is the file of testdata/seeds that holds one of smallFiles.
func seedName(name string) string {
	ending := ".grib2"
	if strings.HasPrefix(name, "edition 1") {
		ending = ".grib1"
	}
	return filepath.Join("testdata", "seeds", strings.ReplaceAll(name, " ", "-")+ending)
}

// seeds are the committed files with which fuzzing starts: what our encoder
// writes in every packing, and the same fields repacked by eccodes (grib_set) in
// the packings that we only read.
func seeds(t testing.TB) map[string][]byte {
	t.Helper()
	names, err := filepath.Glob(filepath.Join("testdata", "seeds", "*"))
	if err != nil || len(names) == 0 {
		t.Fatalf("no seeds: %v", err)
	}
	out := map[string][]byte{}
	for _, n := range names {
		b, err := os.ReadFile(n)
		if err != nil {
			t.Fatal(err)
		}
		if len(b) > 4096 {
			t.Errorf("%s has %d bytes: too many for a seed", n, len(b))
		}
		out[filepath.Base(n)] = b
	}
	return out
}

// TestSeeds compares the committed files with what the encoder writes today
// (which pins its bytes), and the repacked ones with the fields they were made
// of.
func TestSeeds(t *testing.T) {
	made := smallFiles(t)
	for name, b := range made {
		if *updateSeeds {
			if err := os.MkdirAll(filepath.Dir(seedName(name)), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(seedName(name), b, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		got, err := os.ReadFile(seedName(name))
		if err != nil {
			t.Fatal(err)
		}
		if name == "edition 2 png" { // the compression may change with the standard library
			then, now := mustDecode(t, got), mustDecode(t, b)
			for i := range now {
				if err := sameField(then[i].Field, now[i].Field, 0, 0); err != nil {
					t.Errorf("%s field %d: %v", name, i+1, err)
				}
			}
		} else if !bytes.Equal(got, b) {
			t.Errorf("%s: the encoder writes other bytes than it did", name)
		}
	}
	repacked := 0
	for name, b := range seeds(t) {
		if !strings.HasPrefix(name, "repacked-") {
			continue
		}
		repacked++
		want := mustDecode(t, made["edition 2 simple"])
		if strings.HasSuffix(name, ".grib1") {
			want = mustDecode(t, made["edition 1"])
		}
		got := mustDecode(t, b)
		if len(got) != len(want) {
			t.Fatalf("%s: %d fields, want %d", name, len(got), len(want))
		}
		for i := range got {
			if err := sameField(got[i].Field, want[i].Field, 1e-5, 2e-3); err != nil {
				t.Errorf("%s field %d: %v", name, i+1, err)
			}
		}
	}
	if repacked < 3 && !*updateSeeds {
		t.Errorf("only %d repacked files", repacked)
	}
}
