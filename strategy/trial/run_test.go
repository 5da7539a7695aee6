package trial

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// number is a result whose floats must come through the journal unchanged.
type number struct {
	X float64
	S string
}

func square(_ context.Context, job int) (number, error) {
	r := rand.New(rand.NewPCG(7, uint64(job)))
	return number{r.NormFloat64() * 1e-3, fmt.Sprint(job * job)}, nil
}

func TestRunIsTheSameHowever(t *testing.T) {
	const n = 37
	want, err := Run(t.Context(), n, square, RunOptions{Workers: 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, workers := range []int{2, 3, 64} {
		got, err := Run(t.Context(), n, square, RunOptions{Workers: workers})
		if err != nil || cmp.Diff(want, got) != "" {
			t.Errorf("%d workers: %v %s", workers, err, cmp.Diff(want, got))
		}
	}
	dir := t.TempDir()
	var paths []string
	for k := 1; k <= 4; k++ {
		p := filepath.Join(dir, fmt.Sprint(k))
		paths = append(paths, p)
		if _, err := Run(t.Context(), n, square, RunOptions{Part: Part{k, 4}, Journal: p, Fingerprint: "f", Note: "hello"}); err != nil {
			t.Fatal(err)
		}
	}
	var note string
	got, fp, err := MergeRuns[number](paths, &note)
	if err != nil || fp != "f" || note != "hello" || cmp.Diff(want, got) != "" {
		t.Errorf("merged: %v %q %q %s", err, fp, note, cmp.Diff(want, got))
	}
	var je *JournalError
	if _, _, err := MergeRuns[number](paths[:3], nil); !errors.As(err, &je) || je.Missing != 9 {
		t.Errorf("three of four parts: %v", err)
	}
}

// TestRunGoesOn interrupts a run after every possible number of bytes of its
// journal.
func TestRunGoesOn(t *testing.T) {
	const n = 6
	dir := t.TempDir()
	path := filepath.Join(dir, "journal")
	o := RunOptions{Workers: 2, Journal: path, Fingerprint: "f"}
	want, err := Run(t.Context(), n, square, o)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	again := 0
	for cut := range len(whole) + 1 {
		if err := os.WriteFile(path, whole[:cut], 0o644); err != nil {
			t.Fatal(err)
		}
		done := 0
		got, err := Run(t.Context(), n, func(ctx context.Context, job int) (number, error) {
			return square(ctx, job)
		}, RunOptions{Workers: 1, Journal: path, Fingerprint: "f", Progress: func(d, _ int) {
			if done == 0 && d > 0 {
				again++
			}
			done = d
		}})
		if err != nil || cmp.Diff(want, got) != "" || done != n {
			t.Fatalf("cut at %d: %v, %d done %s", cut, err, done, cmp.Diff(want, got))
		}
		if back, _, err := MergeRuns[number]([]string{path}, nil); err != nil || cmp.Diff(want, back) != "" {
			t.Fatalf("cut at %d: journal after going on: %v", cut, err)
		}
	}
	if again == 0 {
		t.Error("no run ever found results in the journal")
	}
	o.Fingerprint = "g"
	var je *JournalError
	if _, err := Run(t.Context(), n, square, o); !errors.As(err, &je) || !je.Other {
		t.Errorf("other work: %v", err)
	}
	if err := os.WriteFile(path, append(whole[:len(whole)-20:len(whole)-20], whole[len(whole)-10:]...), 0o644); err != nil {
		t.Fatal(err)
	}
	o.Fingerprint = "f"
	if _, err := Run(t.Context(), n, square, o); !errors.As(err, &je) || je.Line == 0 {
		t.Errorf("damaged: %v", err)
	}
}

func TestRunStops(t *testing.T) {
	bad := errors.New("bad")
	_, err := Run(t.Context(), 10, func(_ context.Context, job int) (number, error) {
		if job == 3 {
			return number{}, bad
		}
		return number{}, nil
	}, RunOptions{Workers: 2})
	if !errors.Is(err, bad) {
		t.Errorf("got %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	_, err = Run(ctx, 10, func(ctx context.Context, job int) (number, error) {
		cancel()
		return number{}, nil
	}, RunOptions{Workers: 1})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestPartFromScheduler(t *testing.T) {
	for _, tc := range []struct {
		name  string
		env   map[string]string
		parts int
		want  Part
		ok    bool
		bad   bool
	}{
		{"outside of a scheduler", nil, 4, Part{}, false, false},
		{"Slurm array 0-3", map[string]string{"SLURM_ARRAY_TASK_ID": "2", "SLURM_ARRAY_TASK_COUNT": "4", "SLURM_ARRAY_TASK_MIN": "0"}, 0, Part{3, 4}, true, false},
		{"Slurm array 1-4", map[string]string{"SLURM_ARRAY_TASK_ID": "4", "SLURM_ARRAY_TASK_COUNT": "4", "SLURM_ARRAY_TASK_MIN": "1"}, 0, Part{4, 4}, true, false},
		{"Slurm array 10-40:10", map[string]string{"SLURM_ARRAY_TASK_ID": "30", "SLURM_ARRAY_TASK_COUNT": "4", "SLURM_ARRAY_TASK_MIN": "10", "SLURM_ARRAY_TASK_STEP": "10"}, 0, Part{3, 4}, true, false},
		{"Slurm without a count", map[string]string{"SLURM_ARRAY_TASK_ID": "1"}, 0, Part{}, true, true},
		{"not a number", map[string]string{"SLURM_ARRAY_TASK_ID": "x", "SLURM_ARRAY_TASK_COUNT": "4"}, 0, Part{}, true, true},
		{"beyond the count", map[string]string{"SLURM_ARRAY_TASK_ID": "9", "SLURM_ARRAY_TASK_COUNT": "4", "SLURM_ARRAY_TASK_MIN": "1"}, 0, Part{}, true, true},
		{"Kubernetes indexed job", map[string]string{"JOB_COMPLETION_INDEX": "0"}, 3, Part{1, 3}, true, false},
		{"Kubernetes without a count", map[string]string{"JOB_COMPLETION_INDEX": "0"}, 0, Part{}, false, false},
	} {
		p, ok, err := PartFromScheduler(func(k string) string { return tc.env[k] }, tc.parts)
		if ok != tc.ok || (err != nil) != tc.bad || (err == nil && p != tc.want) {
			t.Errorf("%s: %v %v %v, want %v %v", tc.name, p, ok, err, tc.want, tc.ok)
		}
	}
	seen := make([]int, 10)
	for k := 1; k <= 3; k++ {
		for job := range seen {
			if (Part{k, 3}).Has(job) {
				seen[job]++
			}
		}
	}
	for job, n := range seen {
		if n != 1 {
			t.Errorf("job %d is in %d parts", job, n)
		}
	}
	for _, s := range []string{"", "1", "0/4", "5/4", "a/b", "1/0", "-1/2"} {
		if p, err := ParsePart(s); err == nil {
			t.Errorf("part %q accepted as %v", s, p)
		}
	}
}
