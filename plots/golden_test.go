package plots

import (
	"bytes"
	"flag"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"
)

var updateGolden = flag.Bool("update", false, "write the pictures of testdata anew")

// Golden pictures catch what nobody meant to change. They say nothing about
// truth; the tolerance covers a rasteriser that rounds differently.
func TestGolden(t *testing.T) {
	for _, c := range goldenCharts() {
		t.Run(c.Name, func(t *testing.T) {
			var b bytes.Buffer
			if err := c.pngAt(&b, Wide, 36); err != nil {
				t.Fatal(err)
			}
			name := filepath.Join("testdata", c.Name+".png")
			if *updateGolden {
				if err := os.MkdirAll("testdata", 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(name, b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			a, err := png.Decode(&b)
			if err != nil {
				t.Fatal(err)
			}
			o, err := png.Decode(bytes.NewReader(want))
			if err != nil {
				t.Fatal(err)
			}
			if a.Bounds() != o.Bounds() {
				t.Fatalf("size %v, want %v", a.Bounds(), o.Bounds())
			}
			if share := differing(a, o); !(share <= 0.002) {
				t.Errorf("%.2f %% of the pixels differ visibly from %s", 100*share, name)
			}
		})
	}
}

// goldenCharts is one of every kind of chart.
func goldenCharts() []Chart {
	trial, err := TrialCharts(sampleTrial(40))
	if err != nil {
		panic(err)
	}
	bars, split, trade := sampleVariants()
	return append(append(sampleCharts(), trial...),
		must(VariantBarsChart("variants", bars)), must(SplitBarsChart("causes", split)), must(TradeOffChart("trade-off", trade)))
}

// differing is the share of pixels of which a channel is off by over 12 %.
func differing(a, b image.Image) float64 {
	n, off := 0, 0
	r := a.Bounds()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			n++
			r0, g0, b0, _ := a.At(x, y).RGBA()
			r1, g1, b1, _ := b.At(x, y).RGBA()
			far := func(p, q uint32) bool { return p > q+0x2000 || q > p+0x2000 }
			if far(r0, r1) || far(g0, g1) || far(b0, b1) {
				off++
			}
		}
	}
	return float64(off) / float64(n)
}

// The comparison must see a line that moved by two pixels.
func TestDifferingSeesAChange(t *testing.T) {
	draw := func(shift float64) image.Image {
		d := sampleLines()
		for i := range d.Lines[0].Y {
			d.Lines[0].Y[i] *= 1 + shift
		}
		c, err := LinesChart("x", d)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := c.pngAt(&b, Wide, 36); err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		return img
	}
	if s := differing(draw(0), draw(0)); s != 0 {
		t.Errorf("equal pictures differ by %v", s)
	}
	if s := differing(draw(0), draw(0.3)); !(s > 0.002) {
		t.Errorf("a moved line changes only %v of the pixels", s)
	}
}
