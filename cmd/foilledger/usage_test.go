package main

import (
	"context"
	"io"
	"path/filepath"
	"testing"
)

// TestExitCodes runs the program to each exit code of the table in README.md.
func TestExitCodes(t *testing.T) {
	boat := filepath.Join(root(t), "testdata", "boats", "small.toml")
	forecast := filepath.Join(root(t), "testdata", "demo", "forecast.grib2")
	passage := func(more ...string) []string {
		return append([]string{"passage", "--boat", boat, "--forecast", forecast, "--cache", sharedCache(t)}, more...)
	}
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	for _, c := range []struct {
		name string
		ctx  context.Context
		args []string
		want int
	}{
		{"done", t.Context(), []string{"boat", "--check", boat}, exitDone},
		{"help", t.Context(), []string{"passage", "--help"}, exitDone},
		{"a folder that cannot be written", t.Context(), []string{"speeds", "--boat", boat, "--tws", "15", "--twa", "110", "--out", filepath.Join(boat, "out")}, exitFailed},
		{"no such command", t.Context(), []string{"pasage"}, exitUsage},
		{"no such option", t.Context(), passage("--vai", "41,-52; 45,-35"), exitUsage},
		{"no such file", t.Context(), []string{"boat", "--check", "none.toml"}, exitUsage},
		{"a boat that is none", t.Context(), []string{"boat", "--check", forecast}, exitUsage},
		{"a forecast that is none", t.Context(), []string{"forecast", "show", boat}, exitUsage},
		{"a value out of range", t.Context(), passage("--via", "41,-52; 45,-35", "--sleep", "NaN"), exitUsage},
		{"before the forecast", t.Context(), passage("--via", "41,-52; 45,-35", "--depart", "2030-01-01T00:00:00Z"), exitNoPassage},
		{"outside the forecast", t.Context(), passage("--via", "41,-52; 10,-52"), exitNoPassage},
		{"a state past a limit", t.Context(), []string{"speeds", "--boat", boat, "--tws", "45", "--twa", "120", "--ext", "1", "--rake", "0"}, exitNoPassage},
		{"cancelled", cancelled, passage("--via", "41,-52; 45,-35"), exitCancelled},
	} {
		if got := run(c.ctx, append([]string{"foilledger"}, c.args...), io.Discard, io.Discard); got != c.want {
			t.Errorf("%s: exit code %d, want %d", c.name, got, c.want)
		}
	}
}
