package plots

import (
	"bytes"
	"fmt"
	"image/png"
	"math"
	"regexp"
	"strings"
	"testing"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg/recorder"
)

// placed is a text found in a recording, with its box worked out from the
// font's own metrics and the canvas operations, independently of the layout.
type placed struct {
	text string
	b    box
}

// record draws a chart on a recorder and collects its texts.
func record(t *testing.T, c Chart, z Size) (texts []placed, w, h float64) {
	t.Helper()
	w, h = c.size(z)
	var rec recorder.Canvas
	c.paint(&rec, z)
	for _, a := range rec.Actions {
		switch a := a.(type) {
		case *recorder.Rotate, *recorder.Scale, *recorder.Translate:
			t.Fatalf("%s: %s moves the canvas; this check reads untransformed text only", c.Name, a.Call())
		case *recorder.FillString:
			face := fontCache.Lookup(a.Font, a.Size)
			x, y, size := a.Point.X.Points(), a.Point.Y.Points(), a.Size.Points()
			if font.Length(size) != a.Size {
				t.Fatalf("%s: size %v", c.Name, a.Size)
			}
			// capitals and digits reach 0.72 of the size, descenders 0.2
			texts = append(texts, placed{a.String, box{x, y - 0.2*size, x + face.Width(a.String).Points(), y + 0.72*size}})
		}
	}
	return texts, w, h
}

func eachChart(t *testing.T, f func(t *testing.T, c Chart, z Size)) {
	t.Helper()
	for _, c := range sampleCharts() {
		for z, name := range map[Size]string{Wide: "wide", Narrow: "narrow"} {
			t.Run(c.Name+"/"+name, func(t *testing.T) { f(t, c, z) })
		}
	}
}

func TestTextsStayOnTheSheetAndApart(t *testing.T) {
	eachChart(t, func(t *testing.T, c Chart, z Size) {
		texts, w, h := record(t, c, z)
		if len(texts) < 5 {
			t.Fatalf("only %d texts; nothing was drawn", len(texts))
		}
		for i, a := range texts {
			if !a.b.inside(box{0, 0, w, h}) {
				t.Errorf("%q leaves the sheet of %g × %g: %+v", a.text, w, h, a.b)
			}
			for _, o := range texts[:i] {
				if a.b.overlaps(o.b) {
					t.Errorf("%q %+v overlaps %q %+v", a.text, a.b, o.text, o.b)
				}
			}
		}
	})
}

// unitsOf lists the axis titles that a chart must show.
var unitsOf = map[string][]string{
	"gain-along-passage":  {"time gained (h)", "date and hour (UTC)"},
	"speed-along-passage": {"boat speed (kn)", "true wind speed (kn)", "true wind angle from the bow (°)", "significant wave height (m)", "date and hour (UTC)"},
	"foils-along-passage": {"port foil extension (%)", "port foil rake (°)", "starboard foil extension (%)", "starboard foil rake (°)", "date and hour (UTC)"},
	"map":                 {"250 nm at 43° N", "40° N", "20° W"},
	"ledger":              {"minutes gained (+) or lost (−)"},
	"polar":               {"0 kn", "90°"},
	"gain-map":            {"speed gained over foils in (kn)", "true wind angle from the bow (°)", "true wind speed (kn)", "0"},
	"break-even-map":      {"break-even time (min)", "true wind angle from the bow (°)", "true wind speed (kn)"},
	"break-even-deploy":   {"break-even time (min)", "true wind angle from the bow (°)", "true wind speed (kn)"},
	"gain-by-member":      {"time gained over foils aboard, never used (h)", "10 %", "90 %"},
	"best-setting-map":    {"true wind angle from the bow (°)", "true wind speed (kn)"},
	"surge-curve":         {"force along the course (kN), forward positive", "boat speed (kn)"},
	"scaling":             {"stages", "time (ms)"},
	"sensitivity":         {"boat speed (kn)", "1.10", "0.90"},
	"meteogram":           {"wind at 10 m (kn)", "significant wave height (m)", "wave period (s)", "current (kn)", "pressure at sea level (hPa)", "date and hour (UTC)"},
	"weather-map":         {"significant wave height (m)", "40° N", "20° W"},
}

func TestAxesNameTheirUnits(t *testing.T) {
	eachChart(t, func(t *testing.T, c Chart, z Size) {
		want, ok := unitsOf[c.Name]
		if !ok {
			t.Fatalf("no titles listed for %s", c.Name)
		}
		texts, _, _ := record(t, c, z)
		for _, title := range want {
			found := false
			for _, p := range texts {
				found = found || p.text == title
			}
			if !found {
				t.Errorf("%q is missing", title)
			}
		}
		if len(c.Alt) < 40 {
			t.Errorf("text alternative %q says too little", c.Alt)
		}
	})
}

// Every line of a chart with several has its name on it.
func TestLinesAreNamed(t *testing.T) {
	for name, words := range map[string][]string{
		"speed-along-passage": {"plan", "baseline"},
		"surge-curve":         {"sails", "hull", "foil", "keel and rudders", "waves", "windage", "net force"},
		"scaling":             {"1 foil state", "7 foil states", "20 foil states"},
		"polar":               {"8", "12", "16", "22", "foils in", "foils out, best rake"},
	} {
		for _, c := range sampleCharts() {
			if c.Name != name {
				continue
			}
			for _, z := range []Size{Wide, Narrow} {
				texts, _, _ := record(t, c, z)
				for _, w := range words {
					n := 0
					for _, p := range texts {
						if p.text == w {
							n++
						}
					}
					want := 1
					if name == "polar" && len(w) < 3 {
						want = 2 // one for each state
					}
					if n < want {
						t.Errorf("%s (size %d): %q stands %d times, want %d", name, z, w, n, want)
					}
				}
			}
		}
	}
}

func TestEqualDataEqualBytes(t *testing.T) {
	draw := func() map[string][]byte {
		out := map[string][]byte{}
		for _, c := range sampleCharts() {
			var s, p, d bytes.Buffer
			for _, err := range []error{c.SVG(&s, Wide), c.pngAt(&p, Wide, 40), c.PDF(&d, Wide)} {
				if err != nil {
					t.Fatal(err)
				}
			}
			out[c.Name+".svg"], out[c.Name+".png"], out[c.Name+".pdf"] = s.Bytes(), p.Bytes(), d.Bytes()
		}
		return out
	}
	a, b := draw(), draw()
	for name := range a {
		if len(a[name]) < 500 || !bytes.Equal(a[name], b[name]) {
			t.Errorf("%s: %d and %d bytes that differ or are too few", name, len(a[name]), len(b[name]))
		}
	}
}

// The PDF back end writes the bytes of a string as code page 1252: a degree sign
// must be the one byte B0 and not the two of UTF-8.
func TestPDFTextEncoding(t *testing.T) {
	c, err := PolarChart(samplePolar())
	if err != nil {
		t.Fatal(err)
	}
	var rec recorder.Canvas
	c.paint(&rec, Wide)
	seen := false
	for _, a := range rec.Actions {
		if f, ok := a.(*recorder.FillString); ok && strings.Contains(f.String, "°") {
			seen = true
			got, err := pdfText(f.String)
			if err != nil || !strings.Contains(got, "\xb0") || strings.Contains(got, "\xc2") {
				t.Errorf("%q becomes %q (%v)", f.String, got, err)
			}
		}
	}
	if !seen {
		t.Error("the polar has no degree sign")
	}
	if got, _ := pdfText("−3 → ≥ 2"); got != "\x963 to >= 2" {
		t.Errorf("got %q", got)
	}
}

func TestSVGStandsAlone(t *testing.T) {
	for _, c := range sampleCharts() {
		var b bytes.Buffer
		if err := c.SVG(&b, Wide); err != nil {
			t.Fatal(err)
		}
		doc := b.String()
		for _, want := range []string{"<title>", "<desc>", "Arial"} {
			if !strings.Contains(doc, want) {
				t.Errorf("%s: no %s", c.Name, want)
			}
		}
		if regexp.MustCompile(`NaN|Inf|href="http`).MatchString(doc) {
			t.Errorf("%s: a coordinate is not a number or something is fetched", c.Name)
		}
	}
}

func TestPNGSize(t *testing.T) {
	c, err := GainMapChart(sampleGain())
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := c.PNG(&b, Wide); err != nil {
		t.Fatal(err)
	}
	cfg, err := png.DecodeConfig(&b)
	if err != nil || cfg.Width != 1500 || cfg.Height != 1000 {
		t.Errorf("%+v, %v: want 1500 × 1000 pixels", cfg, err)
	}
}

func TestTimeAxis(t *testing.T) {
	r := samplePassage()
	for _, hours := range []float64{0.5, 3, 12, 30, 90, 200, 400, 900, 3000} {
		for _, width := range []float64{300, 660} {
			a := timeAxis(r.Departure, r.Departure.Add(secondsOf(hours*3600)), width)
			a.lo, a.hi = 0, width
			last, labels := math.Inf(-1), 0
			for _, k := range a.ticks {
				if k.v < a.min || k.v > a.max {
					t.Errorf("%g h: tick outside", hours)
				}
				if k.label == "" {
					continue
				}
				labels++
				if at := a.at(k.v); at-last < 30 {
					t.Errorf("%g h on %g pt: labels %.1f pt apart", hours, width, at-last)
				} else {
					last = at
				}
			}
			if hours >= 3 && labels < 2 {
				t.Errorf("%g h on %g pt: %d labels", hours, width, labels)
			}
		}
	}
}

func TestNiceAxis(t *testing.T) {
	for _, c := range []struct {
		lo, hi         float64
		n              int
		zero           bool
		wantLo, wantHi float64
	}{
		{0, 23, 5, true, 0, 25},
		{-3.2, 7, 5, true, -5, 10},
		{101, 109, 4, false, 100, 110},
		{5, 5, 5, false, 4.4, 5.6},
		{0, 0, 5, true, 0, 0},
	} {
		a := linear(c.lo, c.hi, c.n, c.zero)
		if !(a.min <= c.lo && a.max >= c.hi && a.max > a.min) {
			t.Errorf("linear(%v, %v): %v to %v does not hold the data", c.lo, c.hi, a.min, a.max)
		}
		if c.lo != c.hi && (math.Abs(a.min-c.wantLo) > 1e-9 || math.Abs(a.max-c.wantHi) > 1e-9) {
			t.Errorf("linear(%v, %v): %v to %v, want %v to %v", c.lo, c.hi, a.min, a.max, c.wantLo, c.wantHi)
		}
	}
	if got := number(-0.25, 0.05); got != "−0.25" {
		t.Errorf("got %q", got)
	}
	for v, want := range map[float64]string{0.4: "0 min", -0.2: "0 min", 75: "+75 min", -312: "−5 h 12 min", 6000: "+4 d 4 h 00 min"} {
		if got := gain(v); got != want {
			t.Errorf("gain(%g) = %q, want %q", v, got, want)
		}
	}
	for v, want := range map[float64]string{-6.51: "006°31′\u00a0W", 179.9999: "180°00′\u00a0E", 0: "000°00′\u00a0E"} {
		if got := longitude(v); got != want {
			t.Errorf("longitude(%g) = %q, want %q", v, got, want)
		}
	}
	if got := fmt.Sprint(wrap(letTick, "one two three four five six seven", 60)); !strings.Contains(got, "three") {
		t.Error(got)
	}
}
