package main

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"foilledger/weather"
)

// jsonKeys lists the keys of a result's struct, without those of structs inside
// other than embedded ones.
func jsonKeys(t reflect.Type) (keys []string) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			keys = append(keys, jsonKeys(f.Type)...)
			continue
		}
		if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" && name != "-" {
			keys = append(keys, name)
		}
	}
	return keys
}

// TestReadmeNamesKeys asks that README.md names every key on top of every result
// and every file that a passage writes.
func TestReadmeNamesKeys(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(root(t), "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	text := string(b)
	rows := map[string]string{}
	for _, l := range strings.Split(text[strings.Index(text, "### Keys of"):], "\n") {
		if cells := strings.SplitN(l, "|", 3); len(cells) == 3 {
			rows[strings.TrimSpace(cells[1])] = cells[2]
		}
	}
	for row, v := range map[string]any{
		"`passage`, `demo`, `course`": courseJSON{}, "`speeds` at a point": pointJSON{},
		"`forecast show`": weather.FieldSummary{}, "`trial`": trialJSON{}, "`card`": cardJSON{}, "`refit`": refitJSON{},
	} {
		if rows[row] == "" {
			t.Errorf("README.md has no row of keys for %s", row)
		}
		for _, k := range jsonKeys(reflect.TypeOf(v)) {
			if !strings.Contains(rows[row]+rows["all"]+rows["`passage`, `demo`, `course`"], "`"+k+"`") {
				t.Errorf("README.md does not name the key %s of %s", k, row)
			}
		}
	}
	for _, k := range jsonKeys(reflect.TypeOf(actionJSON{})) {
		if !strings.Contains(rows["`passage`, `demo`, `course`"], "`"+k+"`") {
			t.Errorf("README.md does not name the key %s of actions", k)
		}
	}
	for _, name := range append([]string{pageName, jsonName, logName, gpxName, evenName, handName, scheduleName, courseGeoName, courseCSVName, departuresName,
		cardRules, cardPage, cardCurve, cardName, trialPage, trialData, trialRuns, trialDiff, speedsFile, speedsPage}, refitFiles...) {
		if !strings.Contains(text, "`"+name+"`") {
			t.Errorf("README.md does not name the file %s", name)
		}
	}
}
