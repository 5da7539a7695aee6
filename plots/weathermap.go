package plots

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"reflect"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// WeatherMap is the weather at one time over an area. The lists are row-major
// over LatDeg and LonDeg; NaN marks places that the forecast does not know.
type WeatherMap struct {
	Title  string
	Time   time.Time
	Note   string
	Extent Extent

	LonDeg      []float64 // ascending; may run past 180 across the antimeridian
	LatDeg      []float64 // ascending
	UKn, VKn    []float64 `gaps:"nan"` // wind towards east and north
	HsM         []float64 `gaps:"nan"` // optional
	PressureHPa []float64 `gaps:"nan"` // optional

	// Coast is optional: closed land outlines, each ring without repeating its
	// first place, longitudes continuous along a ring and in the range of Extent.
	Coast [][]Place
	Track []Place // optional
}

func (d *WeatherMap) validate() error {
	if err := finite("WeatherMap", reflect.ValueOf(*d), ""); err != nil {
		return err
	}
	e := d.Extent
	if !(e.WestDeg < e.EastDeg && e.SouthDeg < e.NorthDeg && e.SouthDeg >= -85 && e.NorthDeg <= 85) {
		return fieldErr("WeatherMap.Extent", "%+v: west must be west of east, south must be south of north, within 85° of the equator", e)
	}
	for name, l := range map[string][]float64{"LonDeg": d.LonDeg, "LatDeg": d.LatDeg} {
		if len(l) < 2 {
			return fieldErr("WeatherMap."+name, "has %d values; at least 2 are needed", len(l))
		}
		for i := 1; i < len(l); i++ {
			if !(l[i] > l[i-1]) {
				return fieldErr(fmt.Sprintf("WeatherMap.%s[%d]", name, i), "does not ascend")
			}
		}
	}
	n := len(d.LonDeg) * len(d.LatDeg)
	for name, l := range map[string][]float64{"UKn": d.UKn, "VKn": d.VKn, "HsM": d.HsM, "PressureHPa": d.PressureHPa} {
		if (l != nil || name == "UKn" || name == "VKn") && len(l) != n {
			return fieldErr("WeatherMap."+name, "has %d values for %d places", len(l), n)
		}
	}
	return nil
}

// at interpolates a list at a place, bilinearly; NaN outside and beside NaN.
func (d *WeatherMap) at(l []float64, lonDeg, latDeg float64) float64 {
	nx := len(d.LonDeg)
	if lonDeg < d.LonDeg[0] || lonDeg > d.LonDeg[nx-1] || latDeg < d.LatDeg[0] || latDeg > d.LatDeg[len(d.LatDeg)-1] {
		return math.NaN()
	}
	i, x := locate(d.LonDeg, lonDeg)
	j, y := locate(d.LatDeg, latDeg)
	a, b := l[j*nx+i], l[j*nx+i+1]
	c, e := l[(j+1)*nx+i], l[(j+1)*nx+i+1]
	return (1-y)*((1-x)*a+x*b) + y*((1-x)*c+x*e)
}

// field gives a list over the map's axes, the latitude stretched.
func (d *WeatherMap) field(l []float64) field {
	f := field{twa: d.LonDeg}
	nx := len(d.LonDeg)
	for j, lat := range d.LatDeg {
		f.tws = append(f.tws, mercator(lat))
		f.v = append(f.v, l[j*nx:(j+1)*nx])
	}
	return f
}

const (
	weatherBarb    = 23.0
	weatherBarbGap = 40.0
	weatherBelow   = 30.0 // for the graticule's labels
	weatherKey     = 34.0 // for the scale of the waves
)

// keyRoom is the height of the wave scale; on a narrow sheet it stands below the
// scale of distances.
func (d *WeatherMap) keyRoom(narrow bool) float64 {
	if narrow {
		return weatherKey + 20
	}
	return weatherKey - 10
}

func (d *WeatherMap) words() string {
	w := "Barbs: from where the wind blows; half feather 5 kn, full 10, pennant 50; a ring is calm."
	if known(d.HsM) && !full(d.HsM) {
		w += " Hatched: no waves known."
	}
	if len(d.isobars()) > 0 {
		w += " Lines: pressure at sea level, hPa."
	}
	if d.Note != "" {
		w += " " + d.Note
	}
	return w
}

// WeatherMapChart draws wind barbs over the height of the waves, with coast,
// graticule and isobars.
func WeatherMapChart(d *WeatherMap) (Chart, error) {
	if err := d.validate(); err != nil {
		return Chart{}, err
	}
	c := Chart{Name: "weather-map", Title: d.Title}
	e := d.Extent
	c.Alt = fmt.Sprintf("Map of the wind at %s from %s %s to %s %s", stamp(d.Time), latitude(e.SouthDeg), longitude(e.WestDeg), latitude(e.NorthDeg), longitude(e.EastDeg))
	waves := known(d.HsM)
	if waves {
		_, hi := spanOf(d.HsM)
		c.Alt += fmt.Sprintf(", over waves of up to %.1f m.", hi)
	} else {
		c.Alt += "."
	}
	text := d.words()
	view := func(s *sheet, yTop float64) mapView {
		x0, w, _, _ := mapTop(s)
		return fit(e, x0, yTop, w, 0.2, 1.1)
	}
	for _, narrow := range []bool{false, true} {
		s := &sheet{box: box{0, 0, WideWidth, 0}, narrow: narrow}
		if narrow {
			s.box.x1 = NarrowWidth
		}
		h := view(s, 0).h() + weatherBelow + marginTop + 24
		h += float64(len(wrap(letTitle, d.Title, s.box.w()-2*marginTop))) * (sizeTitle + 4)
		h += float64(len(wrap(letSmall, text, s.box.w()-2*marginTop))) * (sizeSmall + 3.5)
		if waves {
			h += d.keyRoom(narrow)
		}
		if narrow {
			c.tallNarrow = math.Ceil(h)
		} else {
			c.tall = math.Ceil(h)
		}
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.note(text, marginTop, y+4)
		v := view(s, y)
		s.fillBox(v.box, tintWater)
		if waves {
			d.drawWaves(s, v)
		}
		d.drawLand(s, v)
		graticule(s, v)
		if len(d.Track) > 1 {
			var ps []pt
			for _, q := range d.Track {
				ps = append(ps, v.at(q.LonDeg, q.LatDeg))
			}
			s.clippedLine(strokePlan, v.box, ps...)
			s.occupy(ps...)
		}
		d.drawBarbs(s, v)
		d.drawIsobars(s, v)
		s.frame(strokeAxis, v.box)
		w, label := scaleOf(v)
		if s.narrow {
			drawScale(s, v.x0, v.y0-weatherBelow-2, w, label)
		} else {
			drawScale(s, v.x1-w, v.y0-weatherBelow-8, w, label)
		}
	}
	return c, nil
}

// panel gives the map's rectangle as a panel over longitude and stretched
// latitude.
func (d *WeatherMap) panel(v mapView) panel {
	return newPanel(v.box, axis{min: v.west, max: v.east}, axis{min: mercator(v.south), max: mercator(v.north)})
}

// drawWaves shades the height of the waves in bands and draws their scale.
func (d *WeatherMap) drawWaves(s *sheet, v mapView) {
	_, hi := spanOf(d.HsM)
	step := niceStep(math.Max(hi, 0.5), 7)
	top := math.Max(2*step, math.Ceil(hi/step-1e-9)*step)
	var levels []float64
	for h := step; h < top-1e-9; h += step {
		levels = append(levels, h)
	}
	// The dark end of the scale would swallow the barbs.
	colour := banded(levels, 0, top, func(h float64) color.Color { return magnitude(0.02 + 0.55*h/top) })
	shadeMap(s, v, d, colour)
	y := v.y0 - weatherBelow - d.keyRoom(s.narrow) + 10
	bar := box{v.x0, y, v.x0 + math.Min(v.w(), 320), y + 10}
	colourBar(s, bar, "significant wave height (m)", 0, top, step, colour, func(h float64) string { return number(math.Abs(h), step) })
}

// drawBarbs draws the wind at places that keep their distance on the map, every
// other row set in by half.
func (d *WeatherMap) drawBarbs(s *sheet, v mapView) {
	k := stroke{col: tintInk, width: 0.85}
	gap := weatherBarbGap
	if s.narrow {
		gap = 34
	}
	rows, cols := math.Floor(v.h()/gap), math.Floor(v.w()/gap)
	dy, dx := v.h()/rows, v.w()/cols
	for j := range int(rows) {
		for i := range int(cols) {
			x, y := v.x0+(float64(i)+0.5)*dx, v.y0+(float64(j)+0.5)*dy
			if j%2 == 1 {
				if x += dx / 2; x > v.x1-dx/3 {
					continue
				}
			}
			lon := v.west + (x-v.x0)/v.w()*(v.east-v.west)
			ms, mn := mercator(v.south), mercator(v.north)
			lat := unmercator(ms + (y-v.y0)/v.h()*(mn-ms))
			u, w := d.at(d.UKn, lon, lat), d.at(d.VKn, lon, lat)
			if !finiteNumber(u) || !finiteNumber(w) || d.onLand(lon, lat) {
				continue
			}
			from := math.Atan2(-u, -w)
			kn := math.Hypot(u, w)
			at := pt{x, y}
			if math.Round(kn/5) > 0 { // centred, so that none leaves the map
				at = pt{x - math.Sin(from)*weatherBarb/2, y - math.Cos(from)*weatherBarb/2}
			}
			s.barb(k, at, kn, from*180/math.Pi, lat < 0, weatherBarb)
			s.avoid(pt{x, y}, weatherBarb/2)
		}
	}
}

// onLand reports whether a place lies within the outlines, by the even-odd rule.
func (d *WeatherMap) onLand(lonDeg, latDeg float64) bool {
	in := false
	for _, ring := range d.Coast {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			if (a.LatDeg > latDeg) != (b.LatDeg > latDeg) &&
				a.LonDeg+(latDeg-a.LatDeg)/(b.LatDeg-a.LatDeg)*(b.LonDeg-a.LonDeg) > lonDeg {
				in = !in
			}
		}
	}
	return in
}

// drawLand fills the outlines and draws the shore.
func (d *WeatherMap) drawLand(s *sheet, v mapView) {
	c := draw.Canvas{Canvas: s.c.Canvas, Rectangle: vg.Rectangle{Min: vp(pt{v.x0, v.y0}), Max: vp(pt{v.x1, v.y1})}}
	ms, mn := mercator(v.south), mercator(v.north)
	for _, ring := range d.Coast {
		var vs []vg.Point
		var ps []pt
		for _, p := range ring {
			q := pt{v.x0 + (p.LonDeg-v.west)/(v.east-v.west)*v.w(), v.y0 + (mercator(p.LatDeg)-ms)/(mn-ms)*v.h()}
			ps, vs = append(ps, q), append(vs, vp(q))
		}
		if len(ps) < 3 {
			continue
		}
		var in []pt
		for _, q := range c.ClipPolygonXY(vs) {
			in = append(in, pt{q.X.Points(), q.Y.Points()})
		}
		s.fill(tintLand, in...)
		s.clippedLine(stroke{col: tintShore, width: 0.7}, v.box, append(ps, ps[0])...)
	}
}

// isobars are the pressures to draw lines of, every few hectopascals.
func (d *WeatherMap) isobars() (hPa []float64) {
	lo, hi := spanOf(d.PressureHPa)
	step := 4.0
	if hi-lo > 60 {
		step = 8
	} else if hi-lo < 12 {
		step = 2
	}
	for i := math.Ceil(lo / step); i*step <= hi && hi-lo > 0.5; i++ {
		hPa = append(hPa, i*step)
	}
	return hPa
}

func (d *WeatherMap) drawIsobars(s *sheet, v mapView) {
	for _, level := range d.isobars() {
		for _, ps := range contour(d.panel(v), d.field(d.PressureHPa), level) {
			s.clippedLine(stroke{col: tintActive, width: 0.7}, v.box, ps...)
			if len(ps) < 12 {
				continue
			}
			var spots []spot
			for k := range 30 {
				q := ps[(len(ps)-1)*(k+1)/31]
				spots = append(spots, spot{q.x, q.y, centre, middle})
			}
			s.label(lettering{size: sizeSmall, col: tintActive, halo: true}, fmt.Sprintf("%.0f", level), v.box.grown(-4), spots...)
		}
	}
}

// shadeMap paints a picture of the waves over hatching, which shows where they
// are not known.
func shadeMap(s *sheet, v mapView, d *WeatherMap, colour func(float64) color.Color) {
	s.hatch(stroke{col: tintShore, width: 0.35}, v.box, 6)
	const perPt = 2
	w, h := int(v.w()*perPt), int(v.h()*perPt)
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	ms, mn := mercator(v.south), mercator(v.north)
	for py := range h {
		lat := unmercator(ms + (1-(float64(py)+0.5)/float64(h))*(mn-ms))
		for px := range w {
			lon := v.west + (float64(px)+0.5)/float64(w)*(v.east-v.west)
			if x := d.at(d.HsM, lon, lat); finiteNumber(x) {
				img.Set(px, py, colour(x))
			}
		}
	}
	s.c.DrawImage(vg.Rectangle{Min: vp(pt{v.x0, v.y0}), Max: vp(pt{v.x1, v.y1})}, img)
}
