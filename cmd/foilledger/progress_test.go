package main

import (
	"testing"
	"time"
)

func TestFar(t *testing.T) {
	for _, c := range []struct {
		done, total int64
		since       time.Duration
		want        string
	}{
		{0, 0, time.Minute, ""}, {0, 10, time.Minute, ""},
		{5, 10, 7 * time.Second, " 50 %  7 s left"}, {10, 10, time.Minute, "100 %  0 s left"},
		{1, 4, 2 * time.Minute, " 25 %  6 min left"}, {1, 100, 10 * time.Minute, "  1 %  16 h 30 min left"},
	} {
		if got := far(c.done, c.total, c.since); got != c.want {
			t.Errorf("%d of %d after %v: %q, want %q", c.done, c.total, c.since, got, c.want)
		}
	}
}
