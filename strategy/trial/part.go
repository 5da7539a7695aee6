package trial

import (
	"fmt"
	"strconv"
	"strings"
)

// Part is one of the numbered parts that work is split into: part K of N, K
// from 1 on. The zero value is all of the work.
type Part struct{ K, N int }

// Has reports whether a job belongs to the part. Jobs are dealt out in turn, so
// that parts take about equally long.
func (p Part) Has(job int) bool { return p.N <= 1 || job%p.N == p.K-1 }

func (p Part) String() string {
	if p.N <= 1 {
		return "all"
	}
	return fmt.Sprintf("%d/%d", p.K, p.N)
}

func (p Part) check() error {
	if p.N < 0 || (p.N > 0 && (p.K < 1 || p.K > p.N)) {
		return fmt.Errorf("part %d of %d: the first number must be from 1 to the second", p.K, p.N)
	}
	return nil
}

// ParsePart reads "k/n".
func ParsePart(s string) (Part, error) {
	a, b, ok := strings.Cut(s, "/")
	k, errK := strconv.Atoi(strings.TrimSpace(a))
	n, errN := strconv.Atoi(strings.TrimSpace(b))
	if !ok || errK != nil || errN != nil || n < 1 {
		return Part{}, fmt.Errorf("part %q: want k/n, as 2/4", s)
	}
	p := Part{k, n}
	return p, p.check()
}

// PartFromScheduler reads the part from the variables of a batch scheduler's
// array job: those of Slurm job arrays (the index, and the least one, the
// step and the count) or, when parts > 0 says how many there are, the index of
// a Kubernetes indexed job, which counts from 0. ok is false outside of both.
func PartFromScheduler(getenv func(string) string, parts int) (p Part, ok bool, err error) {
	number := func(name string, otherwise int) int {
		s := getenv(name)
		if s == "" {
			return otherwise
		}
		n, e := strconv.Atoi(s)
		if e != nil && err == nil {
			err = fmt.Errorf("environment variable %s is %q: want a whole number", name, s)
		}
		return n
	}
	switch {
	case getenv("SLURM_ARRAY_TASK_ID") != "":
		id, count := number("SLURM_ARRAY_TASK_ID", 0), number("SLURM_ARRAY_TASK_COUNT", parts)
		least, step := number("SLURM_ARRAY_TASK_MIN", 1), number("SLURM_ARRAY_TASK_STEP", 1)
		if err != nil {
			return Part{}, true, err
		}
		if count < 1 || step < 1 {
			return Part{}, true, fmt.Errorf("SLURM_ARRAY_TASK_ID is set and SLURM_ARRAY_TASK_COUNT is not")
		}
		p = Part{(id-least)/step + 1, count}
	case getenv("JOB_COMPLETION_INDEX") != "" && parts > 0:
		id := number("JOB_COMPLETION_INDEX", 0)
		if err != nil {
			return Part{}, true, err
		}
		p = Part{id + 1, parts}
	default:
		return Part{}, false, nil
	}
	return p, true, p.check()
}
