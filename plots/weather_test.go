package plots

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/plot/vg"
)

// sampleMeteogram is invented weather with everything that a chart can show.
func sampleMeteogram() *Meteogram {
	d := &Meteogram{Title: "Forecast at 46.50°N 12.00°W, invented", LatDeg: 46.5, Members: 20, Note: "Waves derived from the wind."}
	t0 := time.Date(2026, 4, 11, 0, 0, 0, 0, time.UTC)
	for k := range 73 {
		h := float64(k)
		kn := 17 + 11*math.Sin(h/12) + 4*math.Sin(h/3.3)
		d.Times = append(d.Times, t0.Add(time.Duration(k)*time.Hour))
		d.TWSKn = append(d.TWSKn, kn)
		d.TWSLowKn, d.TWSHighKn = append(d.TWSLowKn, max(0, kn-h/15)), append(d.TWSHighKn, kn+h/12)
		d.WindFromDeg = append(d.WindFromDeg, math.Mod(200+3*h, 360))
		d.GustKn = append(d.GustKn, kn*1.35)
		hs := 2 + 1.4*math.Sin((h-6)/12)
		if k > 50 && k < 56 {
			hs = math.NaN()
		}
		d.HsM, d.HsLowM, d.HsHighM = append(d.HsM, hs), append(d.HsLowM, max(0, hs-h/100)), append(d.HsHighM, hs+h/90)
		d.PeriodS, d.WaveFromDeg = append(d.PeriodS, 8+2*math.Sin(h/14)), append(d.WaveFromDeg, math.Mod(210+2.5*h, 360))
		d.CurrentKn, d.CurrentToDeg = append(d.CurrentKn, 0.6+0.5*math.Sin(h/2)), append(d.CurrentToDeg, math.Mod(29*h, 360))
		d.PressureHPa = append(d.PressureHPa, 1004-9*math.Sin(h/14))
	}
	return d
}

// sampleWeatherMap is an invented low west of an invented shore.
func sampleWeatherMap() *WeatherMap {
	d := &WeatherMap{Title: "Invented weather, 12 Apr 2026 06:00 UTC", Time: time.Date(2026, 4, 12, 6, 0, 0, 0, time.UTC),
		Extent: Extent{-38, 2, 34, 54}, Note: "Forecast of an invented service.", Coast: samplePassage().Coast,
		Track: []Place{{-6.5, 46.6}, {-18, 44}, {-29.5, 37.9}}}
	for lon := -38.0; lon <= 2; lon++ {
		d.LonDeg = append(d.LonDeg, lon)
	}
	for lat := 33.0; lat <= 55; lat++ {
		d.LatDeg = append(d.LatDeg, lat)
	}
	for _, lat := range d.LatDeg {
		for _, lon := range d.LonDeg {
			x, y := (lon+22)*math.Cos(lat*math.Pi/180), lat-47
			r := math.Hypot(x, y)
			kn := 52 * (r / 3) * math.Exp((1-r/3)*0.75)
			d.UKn = append(d.UKn, -kn*y/(r+1e-9)+6)
			d.VKn = append(d.VKn, kn*x/(r+1e-9)+2)
			hs := 0.4 + kn/7
			if lat > 52 && lon < -30 {
				hs = math.NaN()
			}
			d.HsM = append(d.HsM, hs)
			d.PressureHPa = append(d.PressureHPa, 1016-36*math.Exp(-r/5))
		}
	}
	return d
}

func TestMeteogramRefuses(t *testing.T) {
	for _, tt := range []struct {
		name, field string
		change      func(*Meteogram)
	}{
		{"one time", "Times", func(d *Meteogram) {
			*d = Meteogram{Times: d.Times[:1], TWSKn: d.TWSKn[:1], WindFromDeg: d.WindFromDeg[:1]}
		}},
		{"no wind", "TWSKn", func(d *Meteogram) { d.TWSKn = nil }},
		{"nothing known", "TWSKn", func(d *Meteogram) {
			for i := range d.TWSKn {
				d.TWSKn[i] = math.NaN()
			}
		}},
		{"lengths differ", "HsM", func(d *Meteogram) { d.HsM = d.HsM[1:] }},
		{"infinite", "GustKn", func(d *Meteogram) { d.GustKn[3] = math.Inf(1) }},
		{"times fall back", "Times[5]", func(d *Meteogram) { d.Times[5] = d.Times[4] }},
	} {
		d := sampleMeteogram()
		tt.change(d)
		_, err := MeteogramChart(d)
		var fe *FieldError
		if !errors.As(err, &fe) || !strings.Contains(fe.Field, tt.field) {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

// A meteogram shows a panel for each variable that is known, and no other.
func TestMeteogramShowsWhatIsKnown(t *testing.T) {
	full := sampleMeteogram()
	bare := &Meteogram{Title: "wind only", Times: full.Times, TWSKn: full.TWSKn, WindFromDeg: full.WindFromDeg}
	for _, tt := range []struct {
		name  string
		d     *Meteogram
		shows []string
		not   []string
	}{
		{"everything", full, []string{"gusts", "wave period (s)", "current (kn)", "pressure at sea level (hPa)"}, nil},
		{"wind only", bare, []string{"wind at 10 m (kn)"}, []string{"gusts", "significant wave height (m)", "wave period (s)", "current (kn)", "pressure at sea level (hPa)"}},
	} {
		c, err := MeteogramChart(tt.d)
		if err != nil {
			t.Fatal(err)
		}
		texts, _, _ := record(t, c, Wide)
		have := map[string]bool{}
		for _, p := range texts {
			have[p.text] = true
		}
		for _, w := range tt.shows {
			if !have[w] {
				t.Errorf("%s: %q is missing", tt.name, w)
			}
		}
		for _, w := range tt.not {
			if have[w] {
				t.Errorf("%s: shows %q", tt.name, w)
			}
		}
	}
}

func TestWeatherMapRefuses(t *testing.T) {
	for _, tt := range []struct {
		name, field string
		change      func(*WeatherMap)
	}{
		{"area inside out", "Extent", func(d *WeatherMap) { d.Extent.EastDeg = -50 }},
		{"over the pole", "Extent", func(d *WeatherMap) { d.Extent.NorthDeg = 89 }},
		{"one column", "LonDeg", func(d *WeatherMap) { d.LonDeg = d.LonDeg[:1] }},
		{"axis falls", "LatDeg[1]", func(d *WeatherMap) { d.LatDeg[0] = 90 }},
		{"short list", "HsM", func(d *WeatherMap) { d.HsM = d.HsM[2:] }},
		{"no wind", "UKn", func(d *WeatherMap) { d.UKn = nil }},
	} {
		d := sampleWeatherMap()
		tt.change(d)
		_, err := WeatherMapChart(d)
		var fe *FieldError
		if !errors.As(err, &fe) || !strings.Contains(fe.Field, tt.field) {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

// Interpolation on the map's grid is exact on a plane, and unknown beside what
// is not known.
func TestWeatherMapInterpolates(t *testing.T) {
	d := sampleWeatherMap()
	plane := make([]float64, 0, len(d.UKn))
	for _, lat := range d.LatDeg {
		for _, lon := range d.LonDeg {
			plane = append(plane, 3*lon-2*lat)
		}
	}
	for _, q := range [][2]float64{{-37.3, 33.2}, {-20, 47}, {2, 55}, {-38, 33}, {0.25, 54.9}} {
		if got, want := d.at(plane, q[0], q[1]), 3*q[0]-2*q[1]; !(math.Abs(got-want) <= 1e-9) {
			t.Errorf("%v: %g, want %g", q, got, want)
		}
	}
	plane[0] = math.NaN()
	for _, q := range [][2]float64{{-37.5, 33.5}, {-39, 40}, {-20, 56}} {
		if got := d.at(plane, q[0], q[1]); got == got {
			t.Errorf("%v: %g, want unknown", q, got)
		}
	}
}

// Pictures stand the right way up in every format: the upper half red, the lower
// blue, in its place on the sheet.
func TestPicturesStandUpright(t *testing.T) {
	red, blue := color.NRGBA{R: 0xd0, A: 0xff}, color.NRGBA{B: 0xd0, A: 0xff}
	c := Chart{Name: "upright", tall: 200, tallNarrow: 200, draw: func(s *sheet) {
		img := image.NewNRGBA(image.Rect(0, 0, 8, 8))
		for y := range 8 {
			for x := range 8 {
				img.Set(x, y, []color.NRGBA{red, blue}[y/4])
			}
		}
		s.c.DrawImage(vg.Rectangle{Min: vp(pt{100, 20}), Max: vp(pt{300, 180})}, img)
	}}
	check := func(t *testing.T, img image.Image) {
		t.Helper()
		at := func(x, y float64) (r, b uint32) { // points, y upwards
			k := float64(img.Bounds().Dx()) / WideWidth
			r, _, b, _ = img.At(int(x*k), int((200-y)*k)).RGBA()
			return r, b
		}
		if r, b := at(200, 150); !(r > 0xa000 && b < 0x4000) {
			t.Errorf("the upper half is not red: %x %x", r, b)
		}
		if r, b := at(200, 50); !(b > 0xa000 && r < 0x4000) {
			t.Errorf("the lower half is not blue: %x %x", r, b)
		}
		for _, q := range [][2]float64{{90, 100}, {310, 100}, {200, 10}, {200, 190}} {
			if r, b := at(q[0], q[1]); !(r > 0xf000 && b > 0xf000) {
				t.Errorf("the paper at %v is painted: %x %x", q, r, b)
			}
		}
	}
	var b bytes.Buffer
	if err := c.PNG(&b, Wide); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	check(t, img)
	t.Run("PDF", func(t *testing.T) {
		tool, err := exec.LookPath("pdftoppm")
		if err != nil {
			t.Skip("pdftoppm is not installed (Debian package poppler-utils): skipped")
		}
		name := filepath.Join(t.TempDir(), "upright")
		var b bytes.Buffer
		if err := c.PDF(&b, Wide); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name+".pdf", b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(tool, "-r", "72", "-png", "-singlefile", name+".pdf", name).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		f, err := os.Open(name + ".png")
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		img, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		check(t, img)
	})
}
