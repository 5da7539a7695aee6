package plots

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"reflect"

	"gonum.org/v1/plot/vg"
)

// field is a value over true wind angle (x) and speed (y).
type field struct {
	tws, twa []float64
	v        [][]float64 // [tws][twa]
}

// at is the value at a place inside the axes, on the same triangles as the
// contours, so that colour bands end exactly at the lines. Where a corner has no
// finite value it is the nearest corner's own.
func (f field) at(tws, twa float64) float64 {
	i, y := locate(f.tws, tws)
	j, x := locate(f.twa, twa)
	c := [4]float64{f.v[i][j], f.v[i][j+1], f.v[i+1][j+1], f.v[i+1][j]} // anticlockwise
	mid := (c[0] + c[1] + c[2] + c[3]) / 4
	x, y = x-0.5, y-0.5
	if !finiteNumber(mid) {
		switch {
		case x < 0 && y < 0:
			return c[0]
		case y < 0:
			return c[1]
		case x >= 0:
			return c[2]
		}
		return c[3]
	}
	// along the edge of the triangle that holds the place, and out from the middle
	edge := func(a, b, along, out float64) float64 {
		if out == 0 {
			return mid
		}
		t := 0.5 + along/(2*out)
		return mid + 2*out*(a+t*(b-a)-mid)
	}
	switch {
	case math.Abs(x) >= math.Abs(y) && x >= 0:
		return edge(c[1], c[2], y, x)
	case math.Abs(x) >= math.Abs(y):
		return edge(c[0], c[3], y, -x)
	case y >= 0:
		return edge(c[3], c[2], x, y)
	}
	return edge(c[0], c[1], x, -y)
}

// locate finds the interval of an ascending axis and the share along it.
func locate(ax []float64, x float64) (int, float64) {
	i := 0
	for i < len(ax)-2 && x >= ax[i+1] {
		i++
	}
	return i, math.Max(0, math.Min(1, (x-ax[i])/(ax[i+1]-ax[i])))
}

// span is the range of the finite values.
func (f field) span() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, row := range f.v {
		for _, x := range row {
			if finiteNumber(x) {
				lo, hi = math.Min(lo, x), math.Max(hi, x)
			}
		}
	}
	return lo, hi
}

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

// contour returns the segments along which a field has a value, joined into
// polylines, on the bilinear surface cut in triangles of the axes' cells.
func contour(p panel, f field, level float64) [][]pt {
	var segs [][2]pt
	for i := range len(f.tws) - 1 {
		for j := range len(f.twa) - 1 {
			type corner struct {
				pt
				v float64
			}
			at := func(di, dj int) corner {
				return corner{p.at(f.twa[j+dj], f.tws[i+di]), f.v[i+di][j+dj] - level}
			}
			cs := []corner{at(0, 0), at(0, 1), at(1, 1), at(1, 0)}
			m := corner{v: (cs[0].v + cs[1].v + cs[2].v + cs[3].v) / 4}
			m.pt = pt{(cs[0].x + cs[2].x) / 2, (cs[0].y + cs[2].y) / 2}
			if !finiteNumber(m.v) {
				continue
			}
			for k := range 4 {
				tri := [3]corner{cs[k], cs[(k+1)%4], m}
				var hit []pt
				for e := range 3 {
					a, b := tri[e], tri[(e+1)%3]
					if (a.v >= 0) != (b.v >= 0) {
						t := a.v / (a.v - b.v)
						hit = append(hit, pt{a.x + t*(b.x-a.x), a.y + t*(b.y-a.y)})
					}
				}
				if len(hit) == 2 {
					segs = append(segs, [2]pt{hit[0], hit[1]})
				}
			}
		}
	}
	return join(segs)
}

// join chains segments that share an end.
func join(segs [][2]pt) [][]pt {
	key := func(q pt) [2]int { return [2]int{int(math.Round(q.x * 100)), int(math.Round(q.y * 100))} }
	at := map[[2]int][]int{}
	for i, sg := range segs {
		at[key(sg[0])] = append(at[key(sg[0])], i)
		at[key(sg[1])] = append(at[key(sg[1])], i)
	}
	used := make([]bool, len(segs))
	grow := func(end pt) []pt {
		var ps []pt
		for {
			next := -1
			for _, i := range at[key(end)] {
				if !used[i] {
					next = i
					break
				}
			}
			if next < 0 {
				return ps
			}
			used[next] = true
			if key(segs[next][0]) == key(end) {
				end = segs[next][1]
			} else {
				end = segs[next][0]
			}
			ps = append(ps, end)
		}
	}
	var lines [][]pt
	for i, sg := range segs {
		if used[i] {
			continue
		}
		used[i] = true
		fwd, back := grow(sg[1]), grow(sg[0])
		line := make([]pt, 0, len(fwd)+len(back)+2)
		for k := len(back) - 1; k >= 0; k-- {
			line = append(line, back[k])
		}
		lines = append(lines, append(append(line, sg[0], sg[1]), fwd...))
	}
	return lines
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
			if len(ps) < 6 {
				continue
			}
			var spots []spot
			for _, sh := range []float64{0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9} {
				q := ps[int(sh*float64(len(ps)-1))]
				spots = append(spots, spot{q.x, q.y, centre, middle})
			}
			l := lettering{size: sizeSmall, col: tintInk, halo: true, bold: lv == 0}
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
		Name: "gain-map", Title: d.Title,
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
		p, bar := mapPanel(s, c.Title, fmt.Sprintf("Heavy line: no gain. Hatched: a limit refuses the foils. Significant wave height %.1f m.", d.HsM), f)
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

// BreakEvenChart draws how long conditions must last for an action to pay.
func BreakEvenChart(d *BreakEvenMap) (Chart, error) {
	if err := checkGrid("BreakEvenMap", d.TWSKn, d.TWADeg, d.Minutes); err != nil {
		return Chart{}, err
	}
	f := field{d.TWSKn, d.TWADeg, d.Minutes}
	for i, row := range d.Minutes {
		for j, x := range row {
			if x <= 0 || math.IsInf(x, -1) {
				return Chart{}, fieldErr(fmt.Sprintf("BreakEvenMap.Minutes[%d][%d]", i, j), "%g is not a time", x)
			}
		}
	}
	lo, hi := f.span()
	if lo > hi {
		lo, hi = 10, 100 // it never pays anywhere: an empty map says so
	}
	c := Chart{
		Name: "break-even-map", Title: d.Title,
		Alt:  fmt.Sprintf("Map of the break-even time in minutes of %q over true wind angle and true wind speed; grey where it never pays, hatched where a limit refuses it.", d.Action),
		tall: 480, tallNarrow: 430,
	}
	// logarithm inside, so that contours and colours are even in ratio
	lf := field{f.tws, f.twa, make([][]float64, len(f.v))}
	for i, row := range f.v {
		lf.v[i] = make([]float64, len(row))
		for j, x := range row {
			lf.v[i][j] = math.Log10(x)
		}
	}
	c.draw = func(s *sheet) {
		l0, l1 := math.Log10(lo), math.Log10(math.Min(hi, 1440))
		if l1-l0 < 0.3 {
			l0, l1 = l0-0.15, l1+0.15
		}
		var levels, marks []float64
		for _, m := range []float64{1, 2, 3, 5, 7, 10, 15, 20, 30, 45, 60, 90, 120, 240, 480, 720, 1440} {
			if v := math.Log10(m); v >= l0 && v <= l1 {
				levels = append(levels, v)
				marks = append(marks, m)
			}
		}
		colour := banded(levels, l0, l1, func(v float64) color.Color { return magnitude(0.9 * (v - l0) / (l1 - l0)) })
		p, bar := mapPanel(s, c.Title, fmt.Sprintf("Time for which conditions must last for the action to pay: %s. Grey: never pays. Hatched: refused by a limit. Significant wave height %.1f m.", d.Action, d.HsM), lf)
		shade(s, p, lf, colour)
		p.drawAxes(s, true)
		s.frame(strokeAxis, p.box)
		name := func(v float64) string {
			m := math.Round(math.Pow(10, v))
			if m >= 90 {
				return fmt.Sprintf("%g h", math.Round(m/6)/10)
			}
			return fmt.Sprintf("%.0f min", m)
		}
		contours(s, p, lf, levels, name)
		barFill(s, bar, l0, l1, colour)
		for i, v := range levels {
			x := bar.x0 + (v-l0)/(l1-l0)*bar.w()
			s.line(strokeAxis, pt{x, bar.y0 - 3}, pt{x, bar.y0})
			if e := extent(letTick, x, bar.y0-5, fmt.Sprint(marks[i]), centre, top); s.free(e) {
				s.text(letTick, x, bar.y0-5, fmt.Sprint(marks[i]), centre, top)
			}
		}
		s.text(letAxis, bar.x0, bar.y1+5, "break-even time (min)", left, bottom)
	}
	return c, nil
}

// SettingChart draws the best extension and rake over wind speed and angle:
// one cell for each pair of the axes, its fill the extension, its number the
// rake.
func SettingChart(d *SettingMap) (Chart, error) {
	if err := finite("SettingMap", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if err := checkGrid("SettingMap", d.TWSKn, d.TWADeg, d.Extension, d.RakeDeg); err != nil {
		return Chart{}, err
	}
	c := Chart{
		Name: "best-setting-map", Title: d.Title,
		Alt:  "Table of the fastest extension and rake of the leeward foil for each true wind speed and angle; cells without a number: foil in.",
		tall: 90 + 24*float64(len(d.TWSKn)), tallNarrow: 110 + 22*float64(len(d.TWSKn)),
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.note(fmt.Sprintf("Number: rake (°) of the leeward foil. Darker: further out. Blank: foil in. Significant wave height %.1f m.", d.HsM), marginTop, y+4)
		exts := map[float64]bool{}
		x := marginTop
		for _, row := range d.Extension {
			for _, e := range row {
				exts[math.Round(e*20)/20] = true
			}
		}
		for e := 0.05; e < 1.01; e += 0.05 {
			e := math.Round(e*20) / 20
			if !exts[e] {
				continue
			}
			b := box{x, y - 11, x + 16, y}
			s.fillBox(b, magnitude(settingShade(e)))
			s.frame(strokeAxis, b)
			x = s.text(letSmall, x+20, y-2, fmt.Sprintf("out %.0f %%", 100*e), left, top).x1 + 12
		}
		y -= 16
		b := box{marginL, s.box.y0 + xAxisRoom, s.box.x1 - marginR, y - yTitleRoom + 6}
		nx, ny := len(d.TWADeg), len(d.TWSKn)
		w, h := b.w()/float64(nx), b.h()/float64(ny)
		xa, ya := axis{min: -0.5, max: float64(nx) - 0.5, title: "true wind angle from the bow (°)"}, axis{min: -0.5, max: float64(ny) - 0.5, title: "true wind speed (kn)"}
		for j, v := range d.TWADeg {
			xa.ticks = append(xa.ticks, tick{v: float64(j), label: fmt.Sprintf("%g", v)})
		}
		for i, v := range d.TWSKn {
			ya.ticks = append(ya.ticks, tick{v: float64(i), label: fmt.Sprintf("%g", v)})
		}
		p := newPanel(b, xa, ya)
		let := lettering{size: sizeTick}
		for i := range ny {
			for j := range nx {
				cb := box{b.x0 + float64(j)*w, b.y0 + float64(i)*h, b.x0 + float64(j+1)*w, b.y0 + float64(i+1)*h}
				e := d.Extension[i][j]
				if e <= 0.01 {
					s.fillBox(cb, tintPaper)
				} else {
					col := magnitude(settingShade(e))
					s.fillBox(cb, col)
					for _, str := range []string{trimZero(fmt.Sprintf("%.1f", d.RakeDeg[i][j])), fmt.Sprintf("%.0f", d.RakeDeg[i][j])} {
						for _, sz := range []float64{sizeTick, sizeSmall, 7.5} {
							let.size, let.col = sz, readableOn(col)
							q := extent(let, (cb.x0+cb.x1)/2, (cb.y0+cb.y1)/2, str, centre, middle)
							if q.w() < cb.w()-1 && s.free(q) {
								s.text(let, (cb.x0+cb.x1)/2, (cb.y0+cb.y1)/2, str, centre, middle)
								goto next
							}
						}
					}
				}
			next:
				s.frame(strokeGrid, cb)
			}
		}
		p.drawAxes(s, true)
	}
	return c, nil
}

func settingShade(ext float64) float64 { return 0.02 + 0.62*ext }
