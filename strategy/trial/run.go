package trial

import (
	"context"
	"errors"
	"runtime"
	"sync"
)

// RunOptions say how jobs are run. The zero value runs all of them on all cores
// and keeps nothing.
type RunOptions struct {
	Workers int  // 0: as many as there are cores
	Part    Part // the zero value: all jobs
	// Journal is the file in which results are kept as they come, so that the
	// same call continues after an interruption; "" keeps none.
	Journal string
	// Fingerprint stands for everything that the results depend on. A journal
	// of other work is refused with a *JournalError.
	Fingerprint string
	// Note is kept in the journal's head, for who merges.
	Note any
	// Progress, when not nil, is told how many jobs are done, those found in
	// the journal included. It is called from several goroutines, one at a time.
	Progress func(done, total int)
}

// Run does the jobs 0 to n − 1 that belong to the part, each once, and returns
// the results by job; those of other parts stay zero. A result must survive
// encoding/json unchanged, and must depend on nothing but the job's number and
// what Fingerprint stands for: then the results do not depend on workers,
// parts, order or interruptions. The first error ends the run; what was done is
// in the journal by then.
func Run[R any](ctx context.Context, n int, do func(ctx context.Context, job int) (R, error), o RunOptions) ([]R, error) {
	if err := o.Part.check(); err != nil {
		return nil, err
	}
	out := make([]R, n)
	have := make([]bool, n)
	var j *journal
	if o.Journal != "" {
		var err error
		var old map[int]R
		j, old, err = openJournal[R](o.Journal, header{Format: journalFormat, Fingerprint: o.Fingerprint, Jobs: n, Part: o.Part.K, Parts: o.Part.N}, o.Note)
		if err != nil {
			return nil, err
		}
		defer j.close()
		for i, r := range old {
			out[i], have[i] = r, true
		}
	}
	var left []int
	done, total := 0, 0
	for i := range n {
		if !o.Part.Has(i) {
			continue
		}
		total++
		if have[i] {
			done++
		} else {
			left = append(left, i)
		}
	}
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	var mu sync.Mutex
	var wg sync.WaitGroup
	next := 0
	if o.Progress != nil {
		o.Progress(done, total)
	}
	for range min(workers, len(left)) {
		wg.Go(func() {
			for {
				mu.Lock()
				if next == len(left) || ctx.Err() != nil {
					mu.Unlock()
					return
				}
				job := left[next]
				next++
				mu.Unlock()
				r, err := do(ctx, job)
				mu.Lock()
				if err == nil && j != nil {
					err = j.add(job, r)
				}
				if err == nil {
					out[job] = r
					done++
					if o.Progress != nil {
						o.Progress(done, total)
					}
				}
				mu.Unlock()
				if err != nil {
					stop(err)
					return
				}
			}
		})
	}
	wg.Wait()
	if err := context.Cause(ctx); err != nil {
		return nil, err
	}
	if j != nil {
		if err := j.close(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// MergeRuns reads the journals of all parts of some work and returns the
// results by job, the fingerprint and the note of the first journal. It fails
// with a *JournalError when they belong to different work or when a job is
// missing.
func MergeRuns[R any](paths []string, note any) (results []R, fingerprint string, err error) {
	if len(paths) == 0 {
		return nil, "", errors.New("no journals to merge")
	}
	var have []bool
	missing := 0
	for i, p := range paths {
		h, rs, err := readJournal[R](p)
		if err != nil {
			return nil, "", err
		}
		if i == 0 {
			fingerprint = h.Fingerprint
			results, have = make([]R, h.Jobs), make([]bool, h.Jobs)
			missing = h.Jobs
			if note != nil {
				if err := h.note(note); err != nil {
					return nil, "", &JournalError{Path: p, Line: 1, Msg: err.Error()}
				}
			}
		}
		if h.Fingerprint != fingerprint || h.Jobs != len(results) {
			return nil, "", &JournalError{Path: p, Msg: "belongs to other work than " + paths[0], Other: true}
		}
		for job, r := range rs {
			if !have[job] {
				missing--
			}
			results[job], have[job] = r, true
		}
	}
	if missing > 0 {
		return nil, "", &JournalError{Path: paths[0], Missing: missing, Msg: "is not complete with the others given"}
	}
	return results, fingerprint, nil
}
