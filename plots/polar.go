package plots

import (
	"fmt"
	"math"
	"reflect"
	"slices"
)

// PolarChart draws boat speed against true wind angle: the bow points up, the
// wind comes down from the top at 0°, and the distance from the centre is boat
// speed. Foil states differ by line pattern and weight, true wind speeds by a
// label on each curve.
func PolarChart(d *PolarData) (Chart, error) {
	if err := finite("PolarData", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if len(d.Curves) == 0 {
		return Chart{}, fieldErr("PolarData.Curves", "empty")
	}
	var states []string
	maxKn := 0.0
	for i, cv := range d.Curves {
		if len(cv.Points) < 2 {
			return Chart{}, fieldErr(fmt.Sprintf("PolarData.Curves[%d].Points", i), "has %d; a curve needs at least 2", len(cv.Points))
		}
		if !slices.Contains(states, cv.State) {
			states = append(states, cv.State)
		}
		for _, q := range cv.Points {
			maxKn = math.Max(maxKn, q.BSPKn)
		}
	}
	c := Chart{
		Name: named(d.Name, "polar"), Title: d.Title,
		Alt: fmt.Sprintf("Polar diagram of boat speed (knots) against true wind angle (degrees) for %s. %s Fastest point %.1f kn.",
			list(states), seaWords(d.Sea, d.HsM), maxKn),
		wide: 460, tall: 770, tallNarrow: 600,
	}
	c.draw = func(s *sheet) { drawPolar(s, d, c.Title, states, maxKn) }
	return c, nil
}

// named is a chart's own name, or the usual one.
func named(own, usual string) string {
	if own != "" {
		return own
	}
	return usual
}

// seaWords says for which sea a chart holds.
func seaWords(sea string, hsM float64) string {
	switch {
	case sea != "":
		return "Sea: " + sea + "."
	case hsM == 0:
		return "Flat water."
	}
	return fmt.Sprintf("Significant wave height %.1f m.", hsM)
}

func list(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		str := words[0]
		for _, w := range words[1 : n-1] {
			str += ", " + w
		}
		return str + " and " + words[n-1]
	}
}

func drawPolar(s *sheet, d *PolarData, title string, states []string, maxKn float64) {
	y := s.title(title)
	y = s.note(fmt.Sprintf("Distance from the centre: boat speed (kn). Angle from the top: true wind angle (°). Number on a curve: true wind speed (kn). %s", seaWords(d.Sea, d.HsM)), marginTop, y+4)
	x := marginTop
	for i, st := range states {
		k := seriesStrokes[stateLook(i)]
		w := extent(letAxis, 0, 0, st, left, bottom).w()
		if x+34+w > s.box.x1-marginTop {
			x, y = marginTop, y-15
		}
		s.line(k, pt{x, y - 5}, pt{x + 26, y - 5})
		x = s.text(letAxis.in(k.col), x+31, y-1, st, left, top).x1 + 16
	}
	y -= 18
	room := box{46, 18, s.box.x1 - 34, y - 14}
	step := niceStep(maxKn, 5)
	outer := math.Ceil(maxKn/step-1e-9) * step
	r := math.Min(room.h()/2, room.w())
	o := pt{room.x0, room.y1 - r}
	at := func(deg, kn float64) pt {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		return pt{o.x + r*kn/outer*sin, o.y + r*kn/outer*cos}
	}
	arc := func(kn float64) []pt {
		var ps []pt
		for a := 0.0; a <= 180; a += 2 {
			ps = append(ps, at(a, kn))
		}
		return ps
	}
	for v := step; v <= outer+1e-9; v += step {
		s.line(strokeGrid, arc(v)...)
		for _, end := range []float64{0, 180} {
			q := at(end, v)
			s.text(letTick, q.x-5, q.y, number(v, step), right, middle)
		}
	}
	s.text(letTick, o.x-5, o.y, "0 kn", right, middle)
	for a := 0.0; a <= 180; a += 15 {
		s.line(strokeGrid, at(a, 0), at(a, outer))
		if math.Mod(a, 30) == 0 {
			q := at(a, outer)
			sin, cos := math.Sincos(a * math.Pi / 180)
			s.text(letTick, q.x+5*sin, q.y+5*cos, fmt.Sprintf("%.0f°", a), 0.5-0.5*sin, 0.5-0.5*cos)
		}
	}
	s.line(strokeAxis, at(0, outer), at(180, outer))
	s.line(strokeAxis, arc(outer)...)

	type curve struct {
		look stroke
		ps   []pt
		cv   PolarCurve
	}
	var cs []curve
	for _, cv := range d.Curves {
		i := stateLook(slices.Index(states, cv.State))
		var ps []pt
		for _, q := range smoothPolar(cv.Points) {
			ps = append(ps, at(q.TWADeg, q.BSPKn))
		}
		s.line(seriesStrokes[i], ps...)
		s.occupy(ps...)
		cs = append(cs, curve{seriesStrokes[i], ps, cv})
	}
	for _, c := range cs {
		l := lettering{size: sizeTick, bold: true, col: c.look.col}
		// beside the curve, from its middle outwards
		var spots []spot
		n := len(c.ps)
		for k := range n {
			j := n/2 + (k+1)/2*(1-2*(k%2))
			if j < 0 || j >= n {
				continue
			}
			q := c.ps[j]
			dx, dy := q.x-o.x, q.y-o.y
			m := math.Hypot(dx, dy) + 1e-9
			dx, dy = dx/m, dy/m
			spots = append(spots, spot{q.x + 3*dx, q.y + 3*dy, 0.5 - 0.5*dx, 0.5 - 0.5*dy}, spot{q.x - 3*dx, q.y - 3*dy, 0.5 + 0.5*dx, 0.5 + 0.5*dy})
		}
		s.label(l, fmt.Sprintf("%g", c.cv.TWSKn), s.box, spots...)
	}
}

// stateLook makes the first state (foils in) dashed rust and the second solid
// blue, as baseline and plan are elsewhere.
func stateLook(i int) int {
	switch i {
	case 0:
		return 1
	case 1:
		return 0
	}
	return i % len(seriesStrokes)
}

// smoothPolar adds points between the given ones along a monotone cubic in
// angle, so that a curve given every 10° does not look like a polygon. The
// given points stay on the curve and no new extremes appear.
//
// Source: F. N. Fritsch and R. E. Carlson, "Monotone Piecewise Cubic
// Interpolation", SIAM Journal on Numerical Analysis 17 (1980), 238–246; the
// slopes are the weighted harmonic means of F. N. Fritsch and J. Butland, "A
// Method for Constructing Local Monotone Piecewise Cubic Interpolants", SIAM
// Journal on Scientific and Statistical Computing 5 (1984), 300–304.
func smoothPolar(ps []PolarPoint) []PolarPoint {
	n := len(ps)
	if n < 3 {
		return ps
	}
	h, d, m := make([]float64, n-1), make([]float64, n-1), make([]float64, n)
	for i := range n - 1 {
		h[i] = ps[i+1].TWADeg - ps[i].TWADeg
		if h[i] <= 0 {
			return ps
		}
		d[i] = (ps[i+1].BSPKn - ps[i].BSPKn) / h[i]
	}
	m[0], m[n-1] = d[0], d[n-2]
	for i := 1; i < n-1; i++ {
		if d[i-1]*d[i] > 0 {
			w1, w2 := 2*h[i]+h[i-1], h[i]+2*h[i-1]
			m[i] = (w1 + w2) / (w1/d[i-1] + w2/d[i])
		}
	}
	var out []PolarPoint
	for i := range n - 1 {
		k := max(1, int(math.Ceil(h[i]/2)))
		for j := range k {
			t := float64(j) / float64(k)
			t2, t3 := t*t, t*t*t
			v := (2*t3-3*t2+1)*ps[i].BSPKn + (t3-2*t2+t)*h[i]*m[i] + (3*t2-2*t3)*ps[i+1].BSPKn + (t3-t2)*h[i]*m[i+1]
			out = append(out, PolarPoint{ps[i].TWADeg + t*h[i], v})
		}
	}
	return append(out, ps[n-1])
}
