package plots

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

func writePage(t *testing.T, r *PassageReport) string {
	t.Helper()
	var b bytes.Buffer
	if err := WritePassagePage(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestPassagePageHoldsTheAnswer(t *testing.T) {
	r := samplePassage()
	doc := writePage(t, r)
	head, _, ok := strings.Cut(doc, `id="where"`)
	if !ok {
		t.Fatal("no map")
	}
	for _, want := range []string{strings.Replace(gain(r.Baselines[0].TimeGainedMin), "+", "&#43;", 1), span(math.Ceil(r.BoundGapMin)), "<dt>Changes</dt>"} {
		if !strings.Contains(head, want) {
			t.Errorf("%q is not before the map", want)
		}
	}
	for _, c := range Cautions {
		if !strings.Contains(doc, strings.ReplaceAll(c, "'", "&#39;")) {
			t.Errorf("caution missing: %s", c)
		}
	}
	for _, in := range r.Inputs {
		if !strings.Contains(doc, in.SHA256) {
			t.Errorf("no hash of %s", in.File)
		}
	}
	for _, want := range []string{"over: " + r.Baselines[1].Name, r.SpreadWords, r.ByHand.Words, r.Precision[0], r.Caveats[0], r.Limits[0], r.ConstraintCosts[0].Name} {
		if !strings.Contains(doc, strings.ReplaceAll(want, "'", "&#39;")) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if n := strings.Count(doc, `<input type="checkbox"`); n != len(r.Actions) || n < 4 {
		t.Errorf("%d boxes for %d actions", n, len(r.Actions))
	}
	if doc != writePage(t, samplePassage()) {
		t.Error("the same report gives another page")
	}
}

// Nothing on the page reaches out.
func TestPassagePageIsSelfContained(t *testing.T) {
	doc := writePage(t, samplePassage())
	plain := regexp.MustCompile(`xmlns(:xlink)?="[^"]*"|"http://www\.w3\.org/2000/svg"`).ReplaceAllString(doc, "")
	if m := regexp.MustCompile(`(?i)(https?:)?//[a-z0-9.-]+\.[a-z]{2,}|@import|<link|<iframe|fetch\(|XMLHttpRequest|WebSocket`).FindString(plain); m != "" {
		t.Errorf("the page holds %q", m)
	}
	if strings.Contains(doc, "ZgotmplZ") {
		t.Error("the template refused a value")
	}
	if m := regexp.MustCompile(`<svg class="pic[^>]*aria-label="[^"]{30,}"`).FindAllString(doc, -1); len(m) != 2*7 {
		t.Errorf("%d pictures with a text alternative, want 14", len(m))
	}
	for _, tt := range []tint{tintInk, tintPlan, tintBase} {
		if !strings.Contains(doc, "var(--c-"+tt.name+")") {
			t.Errorf("no picture uses the variable of %s", tt.name)
		}
	}
}

// A name that carries markup stays text.
func TestPassagePageEscapes(t *testing.T) {
	r := samplePassage()
	evil := `<script>alert(1)</script>"'&`
	r.Title, r.Boat, r.Headline, r.Command = evil, evil, evil, evil
	r.Baselines[0].Name = evil
	r.Actions[0].Reason, r.Steps[0].Doing, r.Warnings = evil, evil, []string{evil}
	if doc := writePage(t, r); strings.Contains(doc, "<script>alert") {
		t.Error("markup came through")
	}
}

// A long passage with fine steps stays under the limit, and keeps the changes.
func TestLongPassagePageIsSmall(t *testing.T) {
	r := samplePassage()
	var fine []Step
	for t0 := r.Departure; t0.Before(r.Steps[len(r.Steps)-1].Time); t0 = t0.Add(time.Minute) {
		fine = append(fine, stepAt(r.Steps, t0))
	}
	r.Steps = fine
	if len(fine) < 5000 {
		t.Fatalf("only %d steps", len(fine))
	}
	if n := len(writePage(t, r)); n > MaxPageBytes/2 {
		t.Errorf("%d bytes", n)
	}
	kept := thin(fine)
	if a, b := len(runsOf(fine)), len(runsOf(kept)); a != b || a < 3 {
		t.Errorf("%d spans of foil state became %d", a, b)
	}
}

func TestPageWithoutOptionalParts(t *testing.T) {
	r := samplePassage()
	bare := &PassageReport{Title: "t", Departure: r.Departure, Arrival: r.Arrival, PassageTimeH: r.PassageTimeH, Steps: r.Steps[:5], Baselines: []Baseline{{Name: "b"}}}
	doc := writePage(t, bare)
	if !strings.Contains(doc, "Nothing to do") || strings.Contains(doc, `id="even"`) {
		t.Error("parts without data show")
	}
	data := regexp.MustCompile(`(?s)<script type="application/json" id="data">(.*?)</script>`).FindStringSubmatch(doc)
	if data == nil || !json.Valid([]byte(data[1])) {
		t.Error("the embedded data are not JSON")
	}
}

// Across the antimeridian the map is one piece and the boats stay on it.
func TestMapAcrossTheAntimeridian(t *testing.T) {
	r := samplePassage()
	shift := func(steps []Step) []Step {
		out := append([]Step(nil), steps...)
		for i := range out {
			out[i].LonDeg = wrap180(out[i].LonDeg - 160)
		}
		return out
	}
	a := extentOf(r)
	r.Steps, r.Baselines[0].Steps = shift(r.Steps), shift(r.Baselines[0].Steps)
	b := extentOf(r)
	if !(math.Abs((b.EastDeg-b.WestDeg)-(a.EastDeg-a.WestDeg)) < 1e-6) {
		t.Errorf("%g° wide, and %g° after a shift", a.EastDeg-a.WestDeg, b.EastDeg-b.WestDeg)
	}
	v := fit(b, 0, 0, 100, 0.5, 0.7)
	for _, p := range r.Steps {
		if q := v.at(p.LonDeg, p.LatDeg); !(box{q.x, q.y, q.x, q.y}).inside(v.box) {
			t.Fatalf("%g %g lies outside the map", p.LonDeg, p.LatDeg)
		}
	}
}

func TestValidateNamesTheField(t *testing.T) {
	for _, c := range []struct {
		field string
		spoil func(*PassageReport)
	}{
		{"Steps[3].BSPKn", func(r *PassageReport) { r.Steps[3].BSPKn = math.NaN() }},
		{"Baselines[0].Steps[1].TWSKn", func(r *PassageReport) { r.Baselines[0].Steps[1].TWSKn = math.Inf(1) }},
		{"BoundGapMin", func(r *PassageReport) { r.BoundGapMin = math.NaN() }},
		{"BoundGapMin", func(r *PassageReport) { r.BoundGapMin = -3 }},
		{"Ledger", func(r *PassageReport) { r.Ledger[0].Minutes += 0.1 }},
		{"Ledger[1].Minutes", func(r *PassageReport) { r.Ledger[1].Minutes = math.NaN() }},
		{"Steps[2].Time", func(r *PassageReport) { r.Steps[2].Time = r.Departure.Add(-time.Hour) }},
		{"Steps[4].Board", func(r *PassageReport) { r.Steps[4].Board = "left" }},
		{"Steps[4].PortExt", func(r *PassageReport) { r.Steps[4].PortExt = 1.2 }},
		{"Steps[5].LatDeg", func(r *PassageReport) { r.Steps[5].LatDeg = 91 }},
		{"Actions[1].Side", func(r *PassageReport) { r.Actions[1].Side = "" }},
		{"Running[7].GainedMin", func(r *PassageReport) { r.Running[7].GainedMin = math.NaN() }},
		{"Arrival", func(r *PassageReport) { r.Arrival = r.Departure }},
		{"Baselines", func(r *PassageReport) { r.Baselines = nil }},
		{"Steps", func(r *PassageReport) { r.Steps = r.Steps[:1] }},
		{"Wind.UKn[1]", func(r *PassageReport) { r.Wind.UKn[1] = nil }},
		{"BreakEven[0].LostS", func(r *PassageReport) { r.BreakEven[0].LostS = math.NaN() }},
	} {
		r := samplePassage()
		c.spoil(r)
		var fe *FieldError
		var b bytes.Buffer
		if err := WritePassagePage(&b, r); !errors.As(err, &fe) || fe.Field != c.field {
			t.Errorf("%s: error %v", c.field, err)
		}
		if b.Len() != 0 {
			t.Errorf("%s: %d bytes were written all the same", c.field, b.Len())
		}
	}
	r := samplePassage()
	r.Wind.UKn[0][3] = math.NaN() // missing wind is allowed
	if err := r.Validate(); err != nil {
		t.Error(err)
	}
	g := sampleGain()
	g.TWSKn[1] = math.NaN()
	if _, err := GainMapChart(g); err == nil || !strings.Contains(err.Error(), "TWSKn[1]") {
		t.Errorf("axis with NaN: %v", err)
	}
	sampleTWS[1] = 6 // the sample shares its axis
}

func TestWriteFiles(t *testing.T) {
	dir := t.TempDir()
	cs := sampleCharts()[:2]
	names, err := WriteFiles(dir, cs, "svg", "png", "pdf")
	if err != nil || len(names) != 6 {
		t.Fatalf("%v, %v", names, err)
	}
	left, err := filepath.Glob(filepath.Join(dir, ".part-*"))
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	for _, n := range names {
		if st, err := os.Stat(n); err != nil || st.Size() < 1000 {
			t.Errorf("%s: %v", n, err)
		}
	}
	if _, err := WriteFiles(filepath.Join(dir, "none"), cs, "svg"); err == nil {
		t.Error("a folder that is not there was written to")
	}
	if _, err := WriteFiles(dir, cs, "gif"); err == nil {
		t.Error("a format that is not there was written")
	}
}

// Barbs: number of strokes and their side.
func TestBarb(t *testing.T) {
	for _, c := range []struct {
		kn              float64
		full, half, fly int
	}{{2, 0, 0, 0}, {5, 0, 1, 0}, {10, 1, 0, 0}, {13, 1, 1, 0}, {27, 2, 1, 0}, {50, 0, 0, 1}, {65, 1, 1, 1}, {110, 1, 0, 2}} {
		lines, flags := barb(pt{}, c.kn, 0, false, 100)
		full, half := 0, 0
		if c.kn >= 2.5 {
			for _, l := range lines[1:] {
				switch d := l[1].x - l[0].x; {
				case math.Abs(d-42) < 1e-9:
					full++
				case math.Abs(d-21) < 1e-9:
					half++
				default:
					t.Errorf("%g kn: a feather %g long", c.kn, d)
				}
			}
			if tip := lines[0][1]; math.Abs(tip.x) > 1e-9 || math.Abs(tip.y-100) > 1e-9 {
				t.Errorf("%g kn from the north: staff to %+v", c.kn, tip)
			}
		}
		if full != c.full || half != c.half || len(flags) != c.fly {
			t.Errorf("%g kn: %d full, %d half, %d pennants; want %d, %d, %d", c.kn, full, half, len(flags), c.full, c.half, c.fly)
		}
	}
	north, _ := barb(pt{}, 10, 40, false, 10)
	south, _ := barb(pt{}, 10, 40, true, 10)
	cross := func(l [][]pt) float64 { return l[0][1].x*l[1][1].y - l[0][1].y*l[1][1].x }
	if !(cross(north) < 0 && cross(south) > 0) {
		t.Errorf("feathers: north %g, south %g; want clockwise of the staff in the north only", cross(north), cross(south))
	}
}

func TestSpeedWords(t *testing.T) {
	act := func(before, ceiling float64, slowing string) Action {
		return Action{BSPBeforeKn: before, CeilingKn: ceiling, Slowing: slowing}
	}
	for _, x := range []struct {
		name    string
		actions []Action
		want    string
	}{
		{"no ceiling", []Action{act(12, 0, "")}, "At 12.0 kn; no need to slow."},
		{"below", []Action{act(9, 10, ""), act(9, 20, "")}, "At 9.0 kn, below the ceiling of 10 kn; no need to slow."},
		{"one of three", []Action{act(12, 10, "luff"), act(12, 20, ""), act(12, 0, "")}, "Slow down (luff) from 12.0 kn to 10 kn or less for 1."},
		{"the lower of two", []Action{act(22, 20, ""), act(22, 10, "")}, "Slow from 22.0 kn to 10 kn or less for 1 and 2."},
	} {
		var as []numberedAction
		for i, a := range x.actions {
			as = append(as, numberedAction{a, i + 1})
		}
		if got := speedWords(as); got != x.want {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
	for lost, want := range map[float64]string{-0.8: "Loses no time", 0.2: "Loses no time", 50: "Loses 50 s", 130: "Loses 2 min 10 s"} {
		if got := (occasion{LostS: lost}).Lost(); got != want {
			t.Errorf("%g s: %q, want %q", lost, got, want)
		}
	}
}
