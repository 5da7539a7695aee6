package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// trialRecipe is weather that is quick to make: winds that swing, with large
// errors, over a small part of the ocean. Invented.
const trialRecipe = `name = "swinging, invented"
start = 2031-05-01T00:00:00Z
hours = 96
step_h = 6
south_deg = 42
north_deg = 48
west_deg = -42
east_deg = -28
grid_deg = 2

[[wind]]
speed_kn = 15
from_deg = 200
turn_deg_h = 1
swing_kn = 7
swing_period_h = 17

[ensemble]
wind_kn_day = 6
turn_deg_day = 25
`

// made leaves the recipe in a folder.
func made(t *testing.T, dir string) string {
	t.Helper()
	recipe := filepath.Join(dir, "weather.toml")
	if _, err := os.Stat(recipe); err != nil {
		if err := os.WriteFile(recipe, []byte(trialRecipe), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return recipe
}

// trialArgs are those of a small trial.
func trialArgs(t *testing.T, dir, out string, more ...string) []string {
	t.Helper()
	return append([]string{"foilledger", "trial", "--boat", filepath.Join(root(t), "testdata/boats/small.toml"), "--via", "45.0,-40.0; 45.5,-33.0",
		"--made", made(t, dir), "--weathers", "12", "--rules", filepath.Join(root(t), "testdata/policies/fresh-reach.toml"), "--after-end", "hold",
		"--cache", sharedCache(t), "--out", filepath.Join(dir, out)}, more...)
}

func mustRun(t *testing.T, args ...string) string {
	t.Helper()
	var out, errOut strings.Builder
	if code := run(t.Context(), args, &out, &errOut); code != 0 {
		t.Fatalf("%v: exit code %d\n%s", args, code, errOut.String())
	}
	return out.String()
}

// sameResults compares all files of two folders but the journals.
func sameResults(t *testing.T, what, a, b string) {
	t.Helper()
	list := func(dir string) map[string][]byte {
		m := map[string][]byte{}
		files, err := filepath.Glob(filepath.Join(dir, "*"))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if strings.HasSuffix(f, ".jsonl") {
				continue
			}
			text, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			m[filepath.Base(f)] = text
		}
		return m
	}
	fa, fb := list(a), list(b)
	if len(fa) < 10 || len(fa) != len(fb) {
		t.Fatalf("%s: %d and %d files", what, len(fa), len(fb))
	}
	for name, text := range fa {
		if !bytes.Equal(text, fb[name]) {
			t.Errorf("%s: %s differs", what, name)
		}
	}
}

// killed runs a command of its own process until its journal, the one file of a
// pattern, holds two results, kills it outright and returns the journal's path.
func killed(t *testing.T, args []string, pattern string) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := &exec.Cmd{Path: self, Args: args}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	journal := ""
	for deadline := time.Now().Add(2 * time.Minute); ; time.Sleep(2 * time.Millisecond) {
		if found, _ := filepath.Glob(pattern); len(found) == 1 {
			journal = found[0]
			if text, _ := os.ReadFile(journal); bytes.Count(text, []byte("\n")) >= 3 {
				break
			}
		}
		if time.Now().After(deadline) {
			_ = cmd.Process.Kill()
			t.Fatal("no results in the journal after two minutes")
		}
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err == nil {
		t.Fatal("the command ended before it could be killed")
	}
	return journal
}

// TestTrialGoesOn kills a trial outright, tears the last record of its journal,
// and runs the same command again: the results are those of a run that was
// never disturbed, of one with other workers, and of three merged parts.
func TestTrialGoesOn(t *testing.T) {
	dir := t.TempDir()
	mustRun(t, trialArgs(t, dir, "whole", "--quiet")...)

	args := trialArgs(t, dir, "killed", "--quiet", "--workers", "1")
	journal := killed(t, args, filepath.Join(dir, "killed", "runs-*.jsonl"))
	text, err := os.ReadFile(journal)
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(text, []byte("\n")); n < 3 || n > 12 {
		t.Fatalf("the journal of the killed run has %d lines", n)
	}
	if _, err := os.Stat(filepath.Join(dir, "killed", trialData)); err == nil {
		t.Fatal("the killed run left results")
	}
	if err := os.WriteFile(journal, text[:len(text)-9], 0o644); err != nil {
		t.Fatal(err)
	}
	mustRun(t, args...)
	sameResults(t, "killed and gone on", filepath.Join(dir, "whole"), filepath.Join(dir, "killed"))

	merge := []string{"foilledger", "trial", "merge", "--quiet", "--out", filepath.Join(dir, "merged")}
	for k := 3; k >= 1; k-- {
		part := fmt.Sprintf("part%d", k)
		mustRun(t, trialArgs(t, dir, part, "--part", fmt.Sprintf("%d/3", k))...)
		merge = append(merge, filepath.Join(dir, part))
	}
	var out, errOut strings.Builder
	if code := run(t.Context(), merge[:len(merge)-1], &out, &errOut); code != 1 || !strings.Contains(errOut.String(), "4 jobs are missing") {
		t.Errorf("merging two parts of three: exit code %d, %s", code, errOut.String())
	}
	mustRun(t, merge...)
	sameResults(t, "merged parts", filepath.Join(dir, "whole"), filepath.Join(dir, "merged"))

	// A replay takes as long as the run in the trial did.
	mustRun(t, "foilledger", "trial", "replay", "--cache", sharedCache(t), "--quiet", "--policy", "thresholds", "--weather", "3", "--out", filepath.Join(dir, "replay"), filepath.Join(dir, "whole"))
	var p passageJSON
	b, err := os.ReadFile(filepath.Join(dir, "replay", jsonName))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &p); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join(dir, "whole", trialRuns))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, r := range rows {
		if r[1] == "weather 3" && r[3] == "thresholds" {
			found = true
			if got := fmt.Sprintf("%.5f", p.PassageTimeH); got != r[5] {
				t.Errorf("the replay takes %s h, the run took %s h", got, r[5])
			}
		}
	}
	if !found || !(math.Abs(p.PassageTimeH) > 1) {
		t.Errorf("no row for the replayed run in %d rows", len(rows))
	}
}
