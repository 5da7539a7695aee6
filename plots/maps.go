package plots

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"reflect"

	"gonum.org/v1/plot/vg"
)

// mapPanel lays out a map chart: title, note, panel and a colour bar below.
func mapPanel(s *sheet, title, note string, f field) (panel, box) {
	y := s.title(title)
	y = s.note(note, marginTop, y+4)
	b := box{marginL, s.box.y0 + xAxisRoom + 46, s.box.x1 - marginR, y - yTitleRoom + 6}
	n := len(f.twa) - 1
	step := 30.0
	if s.narrow || f.twa[n]-f.twa[0] < 60 {
		step = niceStep(f.twa[n]-f.twa[0], 4)
		if step == 50 {
			step = 30
		}
	}
	xa := fixedAxis(f.twa[0], f.twa[n], step)
	xa.title = "true wind angle from the bow (°)"
	m := len(f.tws) - 1
	ya := fixedAxis(f.tws[0], f.tws[m], niceStep(f.tws[m]-f.tws[0], 6))
	ya.title = "true wind speed (kn)"
	p := newPanel(b, xa, ya)
	return p, box{b.x0, s.box.y0 + 22, b.x1, s.box.y0 + 32}
}

// shade paints a field as a picture of few colours; places without a value stay
// paper with hatching, and places of infinite value are grey.
func shade(s *sheet, p panel, f field, colour func(float64) color.Color) {
	for i := range len(f.tws) - 1 {
		for j := range len(f.twa) - 1 {
			c := box{p.x.at(f.twa[j]), p.y.at(f.tws[i]), p.x.at(f.twa[j+1]), p.y.at(f.tws[i+1])}
			xm, ym := (c.x0+c.x1)/2, (c.y0+c.y1)/2
			for k, q := range []box{{c.x0, c.y0, xm, ym}, {xm, c.y0, c.x1, ym}, {c.x0, ym, xm, c.y1}, {xm, ym, c.x1, c.y1}} {
				if math.IsNaN(f.v[i+k/2][j+k%2]) {
					s.hatch(stroke{col: tintMuted, width: 0.5}, q, 5)
				}
			}
		}
	}
	const perPt = 2
	w, h := int(p.w()*perPt), int(p.h()*perPt)
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	grey := color.NRGBA{0x80, 0x88, 0x92, 0x38}
	for py := range h {
		tws := p.y.min + (1-(float64(py)+0.5)/float64(h))*(p.y.max-p.y.min)
		for px := range w {
			v := f.at(tws, p.x.min+(float64(px)+0.5)/float64(w)*(p.x.max-p.x.min))
			switch {
			case math.IsNaN(v):
			case math.IsInf(v, 0):
				img.SetNRGBA(px, py, grey)
			default:
				img.Set(px, py, colour(v))
			}
		}
	}
	s.c.DrawImage(vg.Rectangle{Min: vp(pt{p.x0, p.y0}), Max: vp(pt{p.x1, p.y1})}, img)
}

// banded makes a colour function constant between levels that ascend, so that a
// reader can name the band of a place.
func banded(levels []float64, lo, hi float64, colour func(float64) color.Color) func(float64) color.Color {
	edges := append(append([]float64{lo}, levels...), hi)
	cols := make([]color.Color, len(edges)) // of the band below each edge
	for i := 1; i < len(edges); i++ {
		cols[i] = colour((edges[i-1] + edges[i]) / 2)
	}
	last := colour(hi)
	return func(v float64) color.Color {
		for i := 1; i < len(edges); i++ {
			if v < edges[i] {
				return cols[i]
			}
		}
		return last
	}
}

// contours draws levels with their values on the lines.
func contours(s *sheet, p panel, f field, levels []float64, name func(float64) string) {
	for _, lv := range levels {
		k := strokeContour
		if lv == 0 {
			k = stroke{col: tintInk, width: 2}
		}
		for _, ps := range contour(p, f, lv) {
			s.line(k, ps...)
			l := lettering{size: sizeSmall, col: tintInk, halo: true, bold: lv == 0}
			if text := extent(l, 0, 0, name(lv), centre, middle); length(ps) < 2.5*text.w() {
				continue
			}
			var spots []spot
			for _, sh := range []float64{0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9} {
				q := ps[int(sh*float64(len(ps)-1))]
				// texts too near each other hide the lines between them
				if s.free(extent(l, q.x, q.y, name(lv), centre, middle).grown(7)) {
					spots = append(spots, spot{q.x, q.y, centre, middle})
				}
			}
			s.label(l, name(lv), p.box.grown(-2), spots...)
		}
	}
}

// colourBar draws the scale of a map with its quantity and unit.
func colourBar(s *sheet, b box, title string, lo, hi, step float64, colour func(float64) color.Color, name func(float64) string) {
	barFill(s, b, lo, hi, colour)
	for i := math.Ceil(lo/step - 1e-9); i*step <= hi+1e-9*step; i++ {
		v := i * step
		x := b.x0 + (v-lo)/(hi-lo)*b.w()
		s.line(strokeAxis, pt{x, b.y0 - 3}, pt{x, b.y0})
		if e := extent(letTick, x, b.y0-5, name(v), centre, top); s.free(e) {
			s.text(letTick, x, b.y0-5, name(v), centre, top)
		}
	}
	s.text(letAxis, b.x0, b.y1+5, title, left, bottom)
}

// barFill paints the colours of a scale from lo to hi.
func barFill(s *sheet, b box, lo, hi float64, colour func(float64) color.Color) {
	const n = 240
	for i := 0; i < n; {
		at := func(k int) color.Color { return colour(lo + (float64(k)+0.5)/n*(hi-lo)) }
		j := i + 1
		for j < n && at(j) == at(i) {
			j++
		}
		s.fillBox(box{b.x0 + b.w()*float64(i)/n, b.y0, b.x0 + b.w()*float64(j)/n, b.y1}, at(i))
		i = j
	}
	s.frame(strokeAxis, b)
}

// GainMapChart draws the speed gained over foils in, with the zero line marked.
func GainMapChart(d *GainMap) (Chart, error) {
	if err := checkGrid("GainMap", d.TWSKn, d.TWADeg, d.Value); err != nil {
		return Chart{}, err
	}
	if err := finite("GainMap", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	f := field{d.TWSKn, d.TWADeg, d.Value}
	lo, hi := f.span()
	if lo > hi {
		return Chart{}, fieldErr("GainMap.Value", "has no value at all")
	}
	q := d.Quantity
	if q == "" {
		q = "speed gained over foils in (kn)"
	}
	c := Chart{
		Name: named(d.Name, "gain-map"), Title: d.Title,
		Alt:  fmt.Sprintf("Map of %s over true wind angle and true wind speed, from %s to %s, with the zero line marked; hatched where a limit refuses the foils.", q, signedNumber(lo, 1), signedNumber(hi, 1)),
		tall: 480, tallNarrow: 430,
	}
	c.draw = func(s *sheet) {
		m := math.Max(0.5, math.Max(hi, -lo))
		step := niceStep(m, 4)
		m = math.Ceil(m/step-1e-9) * step
		var levels, bandsAt []float64
		for i := math.Ceil(-m / step); i*step <= m; i++ {
			levels = append(levels, i*step)
			bandsAt = append(bandsAt, i*step, (i+0.5)*step)
		}
		colour := banded(bandsAt, -m, m, func(v float64) color.Color { return signed(v / m) })
		name := func(v float64) string { return signedNumber(v, decimals(step)) }
		p, bar := mapPanel(s, c.Title, fmt.Sprintf("Heavy line: no gain. Hatched: a limit refuses the foils. %s", seaWords(d.Sea, d.HsM)), f)
		shade(s, p, f, colour)
		p.drawAxes(s, true)
		s.frame(strokeAxis, p.box)
		contours(s, p, f, levels, name)
		colourBar(s, bar, q, -m, m, step, colour, name)
	}
	return c, nil
}

func decimals(step float64) int {
	if step >= 1 {
		return 0
	}
	return int(math.Ceil(-math.Log10(step) - 1e-9))
}
