package vpp

import (
	"errors"
	"strings"
	"testing"
)

// TestBoatFileErrors: what is wrong with a boat file is said with its file, line,
// key and a hint. Each case changes one thing in the starter file.
func TestBoatFileErrors(t *testing.T) {
	starter := StarterBoat()
	if _, err := LoadBoat([]byte(starter), "starter.toml"); err != nil {
		t.Fatalf("the starter file itself: %v", err)
	}
	// lineOf is the line that a text begins on, after a section's heading.
	lineOf := func(text, section, key string) int {
		from := strings.Index(text, "\n["+section+"]\n")
		if from < 0 {
			from = strings.Index(text, "\n[["+section+"]]\n")
		}
		at := strings.Index(text[from:], "\n"+key)
		if from < 0 || at < 0 {
			t.Fatalf("no %s in %s", key, section)
		}
		return strings.Count(text[:from+at], "\n") + 2
	}
	for _, c := range []struct {
		name          string
		old, new      string // replaced in the starter file, once
		section, line string // where the message must point: the line that begins so
		key           string
		msg, hint     string
	}{
		{"out of range", "draft_m = 0.30", "draft_m = 30", "hull", "draft_m", "hull.draft_m", "must be from", "draft of the canoe body"},
		{"negative", "span_m = 2.6", "span_m = -1", "foils", "span_m", "foils.span_m", "must be from", "length of one foil"},
		{"NaN", "area_m2 = 1.45", "area_m2 = nan", "foils", "area_m2", "foils.area_m2", "must be from", "planform"},
		{"infinite", "bulb_kg = 2900", "bulb_kg = inf", "keel", "bulb_kg", "keel.bulb_kg", "must be from", "canting mass"},
		{"text for a number", "arm_m = 4.0", `arm_m = "4 m"`, "keel", "arm_m", "keel.arm_m", "must be a number", "unit is in the key's name"},
		{"number for a text", `name = "starter"`, "name = 7", "", "", "name", "must be text", "double quotes"},
		{"unknown key, near miss", "max_cant_deg = 38", "max_cant_degs = 38", "keel", "max_cant_degs", "keel.max_cant_degs", "unknown key", "max_cant_deg"},
		{"missing key", "fin_span_m = 3.7\n", "\n", "keel", "", "keel.fin_span_m", "required key is missing", "add it"},
		{"number for a list", "extension_steps = [1.0]", "extension_steps = 1.0", "foils", "extension_steps", "foils.extension_steps", "must be a list", ""},
		{"list that falls", "rake_grid_deg = [0, 1, 2, 3, 4, 5]", "rake_grid_deg = [0, 2, 1]", "foils", "rake_grid_deg", "foils.rake_grid_deg", "rise", ""},
		{"rake outside its limits", "rake_grid_deg = [0, 1, 2, 3, 4, 5]", "rake_grid_deg = [0, 1, 9]", "foils", "rake_grid_deg", "foils.rake_grid_deg[2]", "outside the rake limits", ""},
		{"limits reversed", "min_rake_deg = 0", "min_rake_deg = 6", "foils", "min_rake_deg", "foils.min_rake_deg", "reversed", "swap"},
		{"too heavy for its hull", "displacement_kg = 7600", "displacement_kg = 59000", "hull", "displacement_kg", "hull.displacement_kg", "more than the box", "check"},
		{"unknown headsail", `headsail = "jib"`, `headsail = "kite"`, "rig.sail_set", "headsail =", "rig.sail_set[0].headsail", "unknown headsail", "reacher"},
		{"broken TOML", "[keel]", "[keel", "", "", "", "", ""},
	} {
		if strings.Count(starter, c.old) == 0 {
			t.Errorf("%s: the starter file has no %q", c.name, c.old)
			continue
		}
		text := strings.Replace(starter, c.old, c.new, 1)
		b, err := LoadBoat([]byte(text), "mine.toml")
		var fe *FileError
		if b != nil || !errors.As(err, &fe) {
			t.Errorf("%s: boat %v, error %v; want a *FileError", c.name, b != nil, err)
			continue
		}
		if fe.File != "mine.toml" || fe.Line <= 0 || !strings.Contains(err.Error(), "mine.toml") {
			t.Errorf("%s: %q lacks file or line (%d)", c.name, err, fe.Line)
		}
		if c.line != "" {
			if want := lineOf(text, c.section, c.line); fe.Line != want {
				t.Errorf("%s: line %d, want %d: %v", c.name, fe.Line, want, err)
			}
		}
		if c.key != "" && fe.Key != c.key {
			t.Errorf("%s: key %q, want %q", c.name, fe.Key, c.key)
		}
		if !strings.Contains(fe.Msg, c.msg) || !strings.Contains(fe.Hint, c.hint) {
			t.Errorf("%s: %q with hint %q, want %q and %q", c.name, fe.Msg, fe.Hint, c.msg, c.hint)
		}
	}
	for _, data := range []string{"", "\x00\x01\x02", "[hull]", strings.Repeat("a", 1000)} {
		if b, err := LoadBoat([]byte(data), "x.toml"); b != nil || err == nil {
			t.Errorf("%.10q was taken for a boat", data)
		}
	}
}

// FuzzLoadBoat: no text makes the reader panic, and what it accepts makes a model.
func FuzzLoadBoat(f *testing.F) {
	s := StarterBoat()
	f.Add([]byte(s))
	f.Add([]byte(strings.Replace(s, "0.30", "nan", 1)))
	f.Add([]byte("[hull]\nx = [1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := LoadBoat(data, "f.toml")
		if (b == nil) == (err == nil) {
			t.Fatalf("boat %v, error %v", b != nil, err)
		}
		if b != nil {
			if _, err := NewModel(b, NoFactors()); err != nil {
				t.Fatal(err)
			}
		}
	})
}
