package plots

import (
	"fmt"
	"image/color"
	"math"
)

// dayMin is the longest break-even time that is worth showing: nobody waits
// longer for a change to pay.
const dayMin = 1440

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
	hi = math.Min(hi, dayMin)
	if lo > hi {
		lo, hi = 10, 100 // it never pays anywhere: an empty map says so
	}
	name := d.Name
	if name == "" {
		name = "break-even-map"
	}
	sea := fmt.Sprintf("Significant wave height %.1f m.", d.HsM)
	if d.Sea != "" {
		sea = "Sea: " + d.Sea + "."
	}
	c := Chart{
		Name: name, Title: d.Title,
		Alt:  fmt.Sprintf("Map of the break-even time in minutes of %q over true wind angle and true wind speed; grey where it never pays or not within a day, hatched where a limit refuses it.", d.Action),
		tall: 480, tallNarrow: 430,
	}
	// logarithm inside, so that contours and colours are even in ratio
	lf := field{f.tws, f.twa, make([][]float64, len(f.v))}
	for i, row := range f.v {
		lf.v[i] = make([]float64, len(row))
		for j, x := range row {
			lf.v[i][j] = math.Log10(x)
			if x > dayMin {
				lf.v[i][j] = math.Inf(1)
			}
		}
	}
	c.draw = func(s *sheet) {
		l0, l1 := math.Log10(lo), math.Log10(hi)
		if l1-l0 < 0.3 {
			l0, l1 = l0-0.15, l1+0.15
		}
		var levels, marks []float64
		for _, m := range []float64{1, 2, 5, 10, 15, 20, 30, 60, 120, 240, 480, 1440} {
			if v := math.Log10(m); v >= l0 && v <= l1 {
				levels = append(levels, v)
				marks = append(marks, m)
			}
		}
		colour := banded(levels, l0, l1, func(v float64) color.Color { return magnitude(0.9 * (v - l0) / (l1 - l0)) })
		p, bar := mapPanel(s, c.Title, "Time for which conditions must last for it to pay. Grey: never pays, or not within a day. Hatched: refused by a limit. "+sea, lf)
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
