package plots

import (
	"image/color"
	"math"
	"testing"
)

// lab converts sRGB to OKLab, the inverse of oklab.
//
// Source: B. Ottosson, "A perceptual color space for image processing", 2020
// (from memory; the round trip with the other direction is tested).
func lab(c color.Color) [3]float64 {
	r, g, b := linearRGB(c)
	l := math.Cbrt(0.4122214708*r + 0.5363325363*g + 0.0514459929*b)
	m := math.Cbrt(0.2119034982*r + 0.6806995451*g + 0.1073969566*b)
	s := math.Cbrt(0.0883024619*r + 0.2817188376*g + 0.6299787005*b)
	return [3]float64{
		0.2104542553*l + 0.7936177850*m - 0.0040720468*s,
		1.9779984951*l - 2.4285922050*m + 0.4505937099*s,
		0.0259040371*l + 0.7827717662*m - 0.8086757660*s,
	}
}

func linearRGB(c color.Color) (r, g, b float64) {
	f := func(v uint32) float64 {
		x := float64(v) / 0xffff
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	ri, gi, bi, _ := c.RGBA()
	return f(ri), f(gi), f(bi)
}

func distance(a, b [3]float64) float64 {
	return math.Sqrt(sq(a[0]-b[0]) + sq(a[1]-b[1]) + sq(a[2]-b[2]))
}

// seenBy simulates full colour blindness of the three kinds on linear RGB.
//
// Source: G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, "A
// Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE
// TVCG 15 (2009), 1291–1298, matrices of severity 1.0 (from memory; rows sum
// to 1, which is tested).
var seenBy = map[string][9]float64{
	"protanopia":   {0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
	"deuteranopia": {0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
	"tritanopia":   {1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900},
	"full sight":   {1, 0, 0, 0, 1, 0, 0, 0, 1},
}

func simulate(m [9]float64, c color.Color) color.RGBA {
	r, g, b := linearRGB(c)
	f := func(i int) uint8 { return gamma8(m[i]*r + m[i+1]*g + m[i+2]*b) }
	return color.RGBA{f(0), f(3), f(6), 0xff}
}

func TestOKLabRoundTrip(t *testing.T) {
	if w := oklab(1, 0, 0); w != (color.RGBA{255, 255, 255, 255}) {
		t.Errorf("lightness 1 is %v, want white", w)
	}
	for _, hue := range []float64{0, 60, 140, 220, 300} {
		sin, cos := math.Sincos(hue * math.Pi / 180)
		want := [3]float64{0.6, 0.06 * cos, 0.06 * sin}
		if d := distance(lab(oklab(0.6, 0.06, hue)), want); !(d <= 0.004) {
			t.Errorf("hue %g comes back %.4f away", hue, d)
		}
	}
	for name, m := range seenBy {
		for i := 0; i < 9; i += 3 {
			if s := m[i] + m[i+1] + m[i+2]; !(math.Abs(s-1) <= 2e-6) {
				t.Errorf("%s: row sums to %v", name, s)
			}
		}
	}
}

// The magnitude scale gets evenly darker, steps are of like size, and its ends
// stay apart for everyone.
func TestMagnitudeScale(t *testing.T) {
	const n = 20
	lo, hi := math.Inf(1), 0.0
	for i := range n {
		a, b := lab(magnitude(float64(i)/n)), lab(magnitude(float64(i+1)/n))
		if !(a[0]-b[0] >= 0.02) {
			t.Errorf("step %d: lightness falls by %.3f only", i, a[0]-b[0])
		}
		d := distance(a, b)
		lo, hi = math.Min(lo, d), math.Max(hi, d)
	}
	if !(hi/lo <= 1.6) {
		t.Errorf("largest step %.3f is %.2f times the smallest", hi, hi/lo)
	}
	for name, m := range seenBy {
		for i := range 5 {
			a, b := simulate(m, magnitude(float64(i)/5)), simulate(m, magnitude(float64(i+1)/5))
			if d := distance(lab(a), lab(b)); !(d >= 0.1) {
				t.Errorf("%s: fifths %d and %d are %.3f apart", name, i, i+1, d)
			}
		}
	}
}

// Loss and gain of one size are equally light but never look alike.
func TestSignedScale(t *testing.T) {
	for _, x := range []float64{0.25, 0.5, 1} {
		a, b := signed(x), signed(-x)
		if d := math.Abs(lab(a)[0] - lab(b)[0]); !(d <= 0.03) {
			t.Errorf("±%g differ in lightness by %.3f", x, d)
		}
		for name, m := range seenBy {
			if d := distance(lab(simulate(m, a)), lab(simulate(m, b))); !(d >= 0.08*x) {
				t.Errorf("%s: ±%g are %.3f apart", name, x, d)
			}
		}
	}
}

// Lines that share a chart stay apart in colour for everyone, and also in
// pattern; and all are readable on their ground, by day and by night.
func TestTints(t *testing.T) {
	lines := []tint{tintPlan, tintBase, tintWind, tintSea, tintActive}
	for name, m := range seenBy {
		for i, a := range lines {
			for _, b := range lines[:i] {
				for mode, pair := range map[string][2]color.RGBA{"light": {a.light, b.light}, "dark": {a.dark, b.dark}} {
					if d := distance(lab(simulate(m, pair[0])), lab(simulate(m, pair[1]))); !(d >= 0.035) {
						t.Errorf("%s, %s: %s and %s are %.3f apart", name, mode, a.name, b.name, d)
					}
				}
			}
		}
	}
	contrast := func(a, b color.Color) float64 {
		x, y := luminance(a), luminance(b)
		return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
	}
	// 4.5:1 is the least for text in W3C, Web Content Accessibility Guidelines
	// 2.1 (2018), success criterion 1.4.3.
	for _, a := range append(lines, tintInk, tintMuted) {
		if c := contrast(a.light, tintPaper.light); !(c >= 4.5) {
			t.Errorf("%s on paper: %.2f", a.name, c)
		}
		if c := contrast(a.dark, tintPaper.dark); !(c >= 4.5) {
			t.Errorf("%s in the dark: %.2f", a.name, c)
		}
	}
	seen := map[color.RGBA]string{}
	for _, a := range allTints {
		if o, ok := seen[a.light]; ok {
			t.Errorf("%s and %s are the same on paper, so the page cannot tell them apart", a.name, o)
		}
		seen[a.light] = a.name
	}
	patterns := map[string]bool{}
	for _, k := range seriesStrokes {
		patterns[dashKey(k)] = true
	}
	if len(patterns) != len(seriesStrokes) {
		t.Errorf("%d patterns for %d lines", len(patterns), len(seriesStrokes))
	}
}

func dashKey(k stroke) string {
	s := ""
	for _, d := range k.dashes {
		s += number(d, 0.1) + " "
	}
	return s
}
