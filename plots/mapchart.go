package plots

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// mapChart draws the passage on a chart with graticule and scale, and barbs of
// the wind met at the times of passing.
func mapChart(r *PassageReport) Chart {
	c := Chart{
		Name:  "map",
		Title: "The passage, with the wind met on the way",
		Alt: fmt.Sprintf("Map from %s %s to %s %s with the track, %s and wind barbs.",
			latitude(r.Steps[0].LatDeg), longitude(r.Steps[0].LonDeg),
			latitude(r.Steps[len(r.Steps)-1].LatDeg), longitude(r.Steps[len(r.Steps)-1].LonDeg),
			plural(len(r.Actions), "action", "actions")),
	}
	sizeMap(&c, r)
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		drawMap(s, r, y, true)
	}
	return c
}

const mapBelow = 54.0 // room below the map for labels and key

// sizeMap sets the chart's heights from the extent.
func sizeMap(c *Chart, r *PassageReport) {
	for _, narrow := range []bool{false, true} {
		s := &sheet{box: box{0, 0, WideWidth, 0}, narrow: narrow}
		if narrow {
			s.box.x1 = NarrowWidth
		}
		x0, w, lo, hi := mapTop(s)
		v := fit(extentOf(r), x0, 0, w, lo, hi)
		h := v.h() + mapBelow
		if len(r.Fronts) > 0 && !narrow {
			h += 12 // a second line of the key
		}
		if c.Title != "" {
			h += marginTop + 2*titleRoom
			if !narrow {
				h -= titleRoom
			}
		}
		if narrow {
			c.tallNarrow = math.Ceil(h - 8)
		} else {
			c.tall = math.Ceil(h)
		}
	}
}

// drawMap draws everything that stays still, and the barbs along the track when
// asked for; it returns the view for what moves.
func drawMap(s *sheet, r *PassageReport, yTop float64, barbs bool) mapView {
	x0, w, lo, hi := mapTop(s)
	v := fit(extentOf(r), x0, yTop-4, w, lo, hi)
	s.fillBox(v.box, tintWater)
	coast(s, v, r.Coast)
	graticule(s, v)
	nameFronts := drawFronts(s, v, r.Fronts)

	plan, out := trackParts(v, r.Steps)
	if b := r.Baselines[0]; len(b.Steps) > 1 && apart(r.Steps, b.Steps) {
		ps, _ := trackParts(v, b.Steps)
		s.clippedLine(strokeBase, v.box, ps...)
		s.occupy(ps...)
		nameLines(s, panel{box: v.box}, []string{"baseline"}, []stroke{strokeBase}, [][]pt{ps[len(ps)/3:]})
	}
	s.clippedLine(stroke{col: tintInk, width: 1.1}, v.box, plan...)
	for _, ps := range out {
		s.clippedLine(stroke{col: tintPlan, width: 3}, v.box, ps...)
	}
	s.occupy(plan...)
	for _, a := range r.Actions {
		q := v.at(a.LonDeg, a.LatDeg)
		glyph(s, a.Action, q, 4.5)
		s.avoid(q, 5)
	}
	ends(s, v, r)
	for _, m := range r.Marks {
		q := v.at(m.LonDeg, m.LatDeg)
		s.dot(tintPaper, strokeThin, circle(q, 2.5))
		s.label(letSmall.in(tintInk), m.Name, v.box, around(q, 6)...)
	}
	midnights(s, v, r.Steps)
	for i, a := range r.Actions {
		q := v.at(a.LonDeg, a.LatDeg)
		s.label(letSmall.in(tintActive), fmt.Sprint(i+1), v.box, append(around(q, 7), around(q, 12)...)...)
	}
	scaleBar(s, v)
	nameFronts()
	if barbs {
		barbsAlong(s, v, r.Steps)
	}
	s.frame(strokeAxis, v.box)
	mapKey(s, v, barbs)
	if len(r.Fronts) > 0 && !s.narrow {
		frontKey(s, v.x0, v.y0-41)
	}
	return v
}

func coast(s *sheet, v mapView, rings [][]Place) {
	c := draw.Canvas{Canvas: s.c.Canvas, Rectangle: vg.Rectangle{Min: vp(pt{v.x0, v.y0}), Max: vp(pt{v.x1, v.y1})}}
	for _, ring := range rings {
		if len(ring) < 3 {
			continue
		}
		ps := make([]vg.Point, 0, len(ring)+1)
		// from the copy nearest the map's middle, so that rings do not tear
		mid := (v.west + v.east) / 2
		lon := mid + wrap180(ring[0].LonDeg-mid)
		for _, p := range ring {
			lon += wrap180(p.LonDeg - lon)
			q := v.at(p.LonDeg, p.LatDeg)
			q.x = v.x0 + (lon-v.west)/(v.east-v.west)*v.w()
			ps = append(ps, vp(q))
		}
		in := c.ClipPolygonXY(ps)
		if len(in) < 3 {
			continue
		}
		s.c.SetColor(tintLand)
		s.c.Fill(polyline(in, true))
		s.c.SetLineStyle(stroke{col: tintShore, width: 0.7}.style())
		for _, part := range c.ClipLinesXY(append(ps, ps[0])) {
			s.c.Stroke(polyline(part, false))
		}
	}
}

// graticuleStep is the finest step whose lines stay a distance apart.
func graticuleStep(degPerPt, apartPt float64) float64 {
	for _, d := range []float64{0.25, 0.5, 1, 2, 5, 10, 15, 30} {
		if d/degPerPt >= apartPt {
			return d
		}
	}
	return 45
}

func graticule(s *sheet, v mapView) {
	step := graticuleStep((v.east-v.west)/v.w(), 62)
	for i := math.Ceil(v.west / step); i*step <= v.east; i++ {
		x := v.at(i*step, 0).x
		s.line(strokeGrid, pt{x, v.y0}, pt{x, v.y1})
		l := graticuleLabel(wrap180(i*step), "E", "W")
		if b := extent(letTick, x, v.y0-5, l, centre, top); s.free(b) {
			s.text(letTick, x, v.y0-5, l, centre, top)
		}
	}
	for i := math.Ceil(v.south / step); i*step <= v.north; i++ {
		y := v.at(v.west, i*step).y
		s.line(strokeGrid, pt{v.x0, y}, pt{v.x1, y})
		l := graticuleLabel(i*step, "N", "S")
		if b := extent(letTick, v.x0-4, y, l, right, middle); s.free(b) {
			s.text(letTick, v.x0-4, y, l, right, middle)
		}
	}
}

// barbsAlong draws the wind met, about every fifty points of track, where it
// runs through no text and no mark.
func barbsAlong(s *sheet, v mapView, steps []Step) {
	k := stroke{col: tintWind, width: 0.9}
	const staff, every = 24.0, 44.0
	d := math.Inf(1)
	var last pt
	for i, p := range steps {
		q := v.at(p.LonDeg, p.LatDeg)
		if i > 0 {
			d += math.Hypot(q.x-last.x, q.y-last.y)
		}
		last = q
		sin, cos := math.Sincos(p.WindFromDeg * math.Pi / 180)
		side := 0.42 * staff // of the feathers
		if p.LatDeg < 0 {
			side = -side
		}
		end := pt{q.x + staff*sin, q.y + staff*cos}
		tip := pt{end.x + side*cos, end.y - side*sin}
		if d < every || s.crosses(q, end) || s.crosses(end, tip) || slices.ContainsFunc(s.marks, box{q.x, q.y, q.x, q.y}.grown(1).overlaps) {
			continue
		}
		d = 0
		s.barb(k, q, p.TWSKn, p.WindFromDeg, p.LatDeg < 0, staff)
	}
}

// ends names departure and arrival.
func ends(s *sheet, v mapView, r *PassageReport) {
	for _, e := range []struct {
		p     Step
		words string
	}{
		{r.Steps[0], "departure " + shortStamp(r.Departure)},
		{r.Steps[len(r.Steps)-1], "arrival " + shortStamp(r.Arrival)},
	} {
		q := v.at(e.p.LonDeg, e.p.LatDeg)
		s.dot(tintPaper, stroke{col: tintInk, width: 1.5}, circle(q, 4))
		s.avoid(q, 5)
		spots := append(around(q, 9), spot{q.x, q.y + 22, right, bottom}, spot{q.x, q.y - 22, right, top}, spot{q.x, q.y + 22, left, bottom}, spot{q.x, q.y - 22, left, top})
		if !s.label(letSmall.in(tintInk), e.words, v.box.grown(-2), spots...) {
			s.label(letSmall.in(tintInk), shortStamp(e.p.Time), v.box.grown(-2), spots...)
		}
	}
}

// midnights marks where the plan is at 00 UTC of each day.
func midnights(s *sheet, v mapView, steps []Step) {
	first, last := steps[0].Time, steps[len(steps)-1].Time
	for t := first.UTC().Truncate(24 * time.Hour).Add(24 * time.Hour); t.Before(last); t = t.Add(24 * time.Hour) {
		p := stepAt(steps, t)
		q := v.at(p.LonDeg, p.LatDeg)
		s.dot(tintPaper, stroke{col: tintInk, width: 1}, circle(q, 2.2))
		s.avoid(q, 3)
		s.label(letSmall.in(tintInk), t.Format("2\u00a0Jan"), v.box.grown(-2), around(q, 8)...)
	}
}

// scaleBar draws a bar of a round number of nautical miles, true at the middle
// of the map, in the emptiest lower or upper corner.
func scaleBar(s *sheet, v mapView) {
	w, label := scaleOf(v)
	wb := math.Max(w, extent(letSmall, 0, 0, label, left, bottom).w())
	best, bestN := box{}, math.MaxInt
	for _, b := range []box{
		{v.x0 + 10, v.y0 + 8, v.x0 + 10 + wb, v.y0 + 28}, {v.x1 - 10 - wb, v.y0 + 8, v.x1 - 10, v.y0 + 28},
		{v.x0 + 10, v.y1 - 28, v.x0 + 10 + wb, v.y1 - 8}, {v.x1 - 10 - wb, v.y1 - 28, v.x1 - 10, v.y1 - 8},
	} {
		n := 0
		for _, o := range s.busy {
			if b.grown(4).overlaps(o) {
				n++
			}
		}
		for _, o := range s.texts {
			if b.grown(4).overlaps(o) {
				n += 1000
			}
		}
		if n < bestN {
			best, bestN = b, n
		}
	}
	drawScale(s, best.x0, best.y0+4, w, label)
	s.busy = append(s.busy, best)
	s.marks = append(s.marks, best)
}

// scaleOf is the length of a scale bar and what it says.
func scaleOf(v mapView) (w float64, label string) {
	lat := unmercator((mercator(v.south) + mercator(v.north)) / 2)
	ptPerNM := v.w() / (v.east - v.west) / 60 / math.Cos(lat*math.Pi/180)
	nm := niceStep(v.w()*0.26/ptPerNM, 1)
	if nm*ptPerNM > v.w()*0.34 {
		nm /= 2
	}
	return nm * ptPerNM, fmt.Sprintf("%g nm at %s", nm, graticuleLabel(math.Round(lat), "N", "S"))
}

func drawScale(s *sheet, x, y, w float64, label string) {
	s.line(stroke{col: tintInk, width: 1.4}, pt{x, y + 4}, pt{x, y}, pt{x + w, y}, pt{x + w, y + 4})
	s.line(stroke{col: tintInk, width: 1.4}, pt{x + w/2, y}, pt{x + w/2, y + 3})
	s.text(letSmall.in(tintInk), x, y+7, label, left, bottom)
}

// mapKey explains the marks below the map.
func mapKey(s *sheet, v mapView, barbs bool) {
	x, y := v.x0, v.y0-26
	s.line(stroke{col: tintPlan, width: 3}, pt{x, y - 4}, pt{x + 16, y - 4})
	b := s.text(letSmall, x+20, y, "foil out", left, top)
	x = b.x1 + 12
	s.line(stroke{col: tintInk, width: 1.1}, pt{x, y - 4}, pt{x + 16, y - 4})
	b = s.text(letSmall, x+20, y, "foils in", left, top)
	x = b.x1 + 12
	if s.narrow {
		glyphKey(s, x-6, y+1)
		x, y = v.x0, y-14
	} else {
		glyphKey(s, x, y+1)
		x += 190
	}
	words := "barbs: from where the wind blows; half feather 5 kn, full 10, pennant 50"
	if !barbs {
		words = ""
	}
	for _, l := range wrap(letSmall, words, s.box.x1-6-x) {
		y = s.text(letSmall, x, y, l, left, top).y0 - 2
	}
}
