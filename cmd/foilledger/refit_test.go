package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"foilledger/strategy/refit"
	"foilledger/strategy/trial"
)

// refitArgs are those of a small comparison, of boats that share their speeds.
func refitArgs(t *testing.T, dir, out string, more ...string) []string {
	t.Helper()
	return append([]string{"foilledger", "refit", "--boat", filepath.Join(root(t), "testdata/boats/small.toml"), "--via", "45.0,-40.0; 45.2,-37.0",
		"--made", made(t, dir), "--weathers", "2", "--sweep", "pump=cockpit,below", "--sweep", "handling.sustained_power_w=80,120,160", "--after-end", "hold",
		"--cache", sharedCache(t), "--out", filepath.Join(dir, out), "--quiet"}, more...)
}

// TestRefitHeadline: of one weather no interval is told, and of many variants one
// that holds for all.
func TestRefitHeadline(t *testing.T) {
	named := func(n int) []refit.Variant {
		vs := make([]refit.Variant, n)
		for i := range vs {
			vs[i] = refit.Variant{Name: fmt.Sprint("v", i), Changes: []refit.Change{{Key: "pump", Value: "below"}}}
		}
		return vs
	}
	for _, x := range []struct {
		weathers, variants int
		want               string
	}{{1, 2, "+5.0 min per passage over the boat as she is (one weather, which says nothing of others; 3 passages)"}, {3, 1, "(95 % interval +1.0 to +9.0; 3 passages)"}, {3, 2, "(95 % interval for all variants at once +1.0 to +9.0; 3 passages)"}} {
		res := &refitResult{variants: named(x.variants), cmp: &refit.Comparison{Passages: 3, Weathers: x.weathers, Variants: make([]refit.Compared, x.variants+1)}}
		res.labels = append([]string{baseVariant}, refit.Labels(res.variants, nil)...)
		res.cmp.Variants[1].Gain, res.cmp.Variants[1].Joint = 5, trial.Interval{Lo: 1, Hi: 9}
		if got := res.headline(); !strings.Contains(got, x.want) {
			t.Errorf("%d weathers, %d variants: %q lacks %q", x.weathers, x.variants, got, x.want)
		}
	}
}

// TestRefitGoesOn kills a comparison outright, tears the last record of its
// journal, and gives the same command again: the results are those of a run that
// was never disturbed, of one with other workers, and of three merged parts.
func TestRefitGoesOn(t *testing.T) {
	dir := t.TempDir()
	mustRun(t, refitArgs(t, dir, "whole", "--workers", "3")...)

	args := refitArgs(t, dir, "killed", "--workers", "1")
	journal := killed(t, args, filepath.Join(dir, "killed", "refit-*.jsonl"))
	text, err := os.ReadFile(journal)
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(text, []byte("\n")); n < 3 || n > 7 {
		t.Fatalf("the journal of the killed run has %d lines", n)
	}
	if _, err := os.Stat(filepath.Join(dir, "killed", "refit.json")); err == nil {
		t.Fatal("the killed run left results")
	}
	if err := os.WriteFile(journal, text[:len(text)-9], 0o644); err != nil {
		t.Fatal(err)
	}
	mustRun(t, args...)
	sameResults(t, "killed and gone on", filepath.Join(dir, "whole"), filepath.Join(dir, "killed"))

	for k := 3; k >= 1; k-- {
		mustRun(t, refitArgs(t, dir, "parts", "--part", fmt.Sprintf("%d/3", k))...)
	}
	mustRun(t, refitArgs(t, dir, "merged", "--merge", filepath.Join(dir, "parts"))...)
	sameResults(t, "merged parts", filepath.Join(dir, "whole"), filepath.Join(dir, "merged"))
}
