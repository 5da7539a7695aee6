package main

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
)

// TestJSON asks that --json prints one object and nothing else, with what every
// result has.
func TestJSON(t *testing.T) {
	boat := filepath.Join(root(t), "testdata", "boats", "none.toml")
	forecast := filepath.Join(root(t), "testdata", "demo", "forecast.grib2")
	cache := sharedCache(t)
	for _, args := range [][]string{
		{"boat", "--check", boat, "--json"},
		{"speeds", "--boat", boat, "--tws", "15", "--twa", "110", "--json"},
		{"speeds", "--boat", boat, "--cache", cache, "--json"},
		{"forecast", "show", "--json", forecast},
		{"forecast", "at", "--lat", "45", "--lon", "-35", "--json", forecast},
		{"passage", "--boat", boat, "--forecast", forecast, "--via", "41,-52; 41.5,-50", "--cache", cache, "--json"},
		{"course", "--boat", boat, "--forecast", forecast, "--from", "41,-52", "--to", "41.5,-50", "--stages", "10", "--across", "5", "--cache", cache, "--json"},
	} {
		name := strings.Join(args[:2], " ")
		var out, errOut strings.Builder
		if code := run(t.Context(), append([]string{"foilledger"}, args...), &out, &errOut); code != exitDone || errOut.Len() > 0 {
			t.Errorf("%s: exit code %d: %s", name, code, errOut.String())
			continue
		}
		var have map[string]any
		d := json.NewDecoder(strings.NewReader(out.String()))
		if err := d.Decode(&have); err != nil || d.More() {
			t.Errorf("%s: no single object: %v", name, err)
		}
		inputs, _ := have["inputs"].([]any)
		if _, ok := have["warnings"].([]any); !ok || len(inputs) == 0 || have["version"] == nil {
			t.Errorf("%s: warnings %v, inputs %v, version %v", name, have["warnings"], have["inputs"], have["version"])
		}
	}
}
