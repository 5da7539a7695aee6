package plots

import (
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// box is a rectangle on a sheet, points, y upwards.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) w() float64 { return b.x1 - b.x0 }
func (b box) h() float64 { return b.y1 - b.y0 }

func (b box) grown(d float64) box { return box{b.x0 - d, b.y0 - d, b.x1 + d, b.y1 + d} }

func (b box) overlaps(o box) bool {
	return b.x0 < o.x1 && o.x0 < b.x1 && b.y0 < o.y1 && o.y0 < b.y1
}

func (b box) inside(o box) bool {
	return b.x0 >= o.x0 && b.x1 <= o.x1 && b.y0 >= o.y0 && b.y1 <= o.y1
}

// pt is a point on a sheet, points, y upwards.
type pt struct{ x, y float64 }

// sheet is a drawing surface that remembers where text stands, so that labels
// can look for free room.
type sheet struct {
	c      draw.Canvas
	box    box
	narrow bool  // laid out for a telephone's width
	texts  []box // where text stands
	busy   []box // where labels should not go if they can help it
	marks  []box // the busy boxes of single marks
}

func newSheet(c vg.Canvas, w, h float64, narrow bool) *sheet {
	s := &sheet{c: draw.NewCanvas(c, vg.Length(w), vg.Length(h)), box: box{0, 0, w, h}, narrow: narrow}
	s.fillBox(s.box, tintPaper)
	return s
}

func vp(p pt) vg.Point { return vg.Point{X: vg.Length(p.x), Y: vg.Length(p.y)} }

func (k stroke) style() draw.LineStyle {
	st := draw.LineStyle{Color: k.col, Width: vg.Length(k.width)}
	for _, d := range k.dashes {
		st.Dashes = append(st.Dashes, vg.Length(d))
	}
	return st
}

// line draws a polyline without clipping.
func (s *sheet) line(k stroke, ps ...pt) {
	if len(ps) < 2 {
		return
	}
	s.c.SetLineStyle(k.style())
	s.c.Stroke(pathOf(ps, false))
}

// clippedLine draws the part of a polyline inside a box.
func (s *sheet) clippedLine(k stroke, clip box, ps ...pt) {
	if len(ps) < 2 {
		return
	}
	vs := make([]vg.Point, len(ps))
	for i, p := range ps {
		vs[i] = vp(p)
	}
	c := draw.Canvas{Canvas: s.c.Canvas, Rectangle: vg.Rectangle{Min: vp(pt{clip.x0, clip.y0}), Max: vp(pt{clip.x1, clip.y1})}}
	s.c.SetLineStyle(k.style())
	for _, part := range c.ClipLinesXY(vs) {
		s.c.Stroke(polyline(part, false))
	}
}

func pathOf(ps []pt, closed bool) vg.Path {
	vs := make([]vg.Point, len(ps))
	for i, p := range ps {
		vs[i] = vp(p)
	}
	return polyline(vs, closed)
}

func polyline(vs []vg.Point, closed bool) vg.Path {
	var p vg.Path
	for i, v := range vs {
		if i == 0 {
			p.Move(v)
		} else {
			p.Line(v)
		}
	}
	if closed {
		p.Close()
	}
	return p
}

func (s *sheet) fill(col color.Color, ps ...pt) {
	if len(ps) < 3 {
		return
	}
	s.c.SetColor(col)
	s.c.Fill(pathOf(ps, true))
}

func (s *sheet) fillBox(b box, col color.Color) {
	s.fill(col, pt{b.x0, b.y0}, pt{b.x1, b.y0}, pt{b.x1, b.y1}, pt{b.x0, b.y1})
}

func (s *sheet) frame(k stroke, b box) {
	s.c.SetLineStyle(k.style())
	s.c.Stroke(pathOf([]pt{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}, true))
}

// circle returns the corners of a circle drawn as a polygon: the PDF back end's
// arcs are unreliable.
func circle(c pt, r float64) []pt {
	n := 24 + int(r/3)
	if r < 3 {
		n = 10 // a tenth of a point from the circle
	}
	ps := make([]pt, n)
	for i := range ps {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		ps[i] = pt{c.x + r*cos, c.y + r*sin}
	}
	return ps
}

// dot draws a filled and outlined polygon.
func (s *sheet) dot(fill color.Color, edge stroke, ps []pt) {
	s.fill(fill, ps...)
	s.c.SetLineStyle(edge.style())
	s.c.Stroke(pathOf(ps, true))
}

// hatch fills a box with slanted lines: the look of "refused" and "never".
func (s *sheet) hatch(k stroke, b box, gap float64) {
	// The phase is tied to the sheet, so that neighbouring boxes join.
	h := b.h()
	first := math.Floor((b.x0-b.y0-h)/gap) * gap
	for d := first; d <= b.x1-b.y0; d += gap {
		// line x − y = d
		y0, y1 := math.Max(b.y0, b.x0-d), math.Min(b.y1, b.x1-d)
		if y1 > y0 {
			s.line(k, pt{y0 + d, y0}, pt{y1 + d, y1})
		}
	}
}

// type style of a text
type lettering struct {
	size float64
	bold bool
	col  color.Color
	halo bool // a paper-coloured ground under the text
}

var (
	letTitle = lettering{size: sizeTitle, bold: true, col: tintInk}
	letAxis  = lettering{size: sizeLabel, col: tintInk}
	letTick  = lettering{size: sizeTick, col: tintMuted}
	letSmall = lettering{size: sizeSmall, col: tintMuted}
	letBold  = lettering{size: sizeLabel, bold: true, col: tintInk}
)

func (l lettering) in(c color.Color) lettering { l.col = c; return l }

// Alignments: the share of the text's box that lies left of (below) its
// anchor.
const (
	left, centre, right = 0.0, 0.5, 1.0
	bottom, middle, top = 0.0, 0.5, 1.0
)

// extent is the box of a text of one line at an anchor.
func extent(l lettering, x, y float64, str string, ax, ay float64) box {
	f := fontOf(l.size, l.bold)
	face := fontCache.Lookup(f, f.Size)
	w := face.Width(str).Points()
	up, down := capHeight(l), descent(l)
	x0 := x - ax*w
	y0 := y - ay*(up+down)
	return box{x0, y0, x0 + w, y0 + up + down}
}

// capHeight and descent bound a line of text above and below its baseline; the
// font's own ascent has a gap above capitals that would waste room.
func capHeight(l lettering) float64 { return 0.74 * l.size }
func descent(l lettering) float64   { return 0.21 * l.size }

// text draws one line of text and remembers its place.
func (s *sheet) text(l lettering, x, y float64, str string, ax, ay float64) box {
	if str == "" {
		return box{x, y, x, y}
	}
	b := extent(l, x, y, str, ax, ay)
	if l.halo {
		s.fillBox(box{b.x0 - 1.5, b.y0 - 0.5, b.x1 + 1.5, b.y1 + 0.5}, tintPaper)
	}
	f := fontOf(l.size, l.bold)
	s.c.SetColor(l.col)
	s.c.FillString(fontCache.Lookup(f, f.Size), vp(pt{b.x0, b.y0 + descent(l)}), str)
	s.texts = append(s.texts, b)
	return b
}

// free reports whether a box has no text in it and lies on the sheet.
func (s *sheet) free(b box) bool {
	if !b.inside(s.box.grown(-1)) {
		return false
	}
	for _, t := range s.texts {
		if b.overlaps(t.grown(1.5)) {
			return false
		}
	}
	return true
}

// spot is one place where a label might go.
type spot struct {
	x, y, ax, ay float64
}

// label draws a text at the first spot that is free of text and, if there is
// one, clear of busy boxes too. It reports whether there was room.
func (s *sheet) label(l lettering, str string, within box, spots ...spot) bool {
	return s.labelClear(l, str, within, true, spots...) || s.labelClear(l, str, within, false, spots...)
}

// labelClear draws a text at the first free spot, and when clear is set only
// where no busy box is touched.
func (s *sheet) labelClear(l lettering, str string, within box, clear bool, spots ...spot) bool {
next:
	for _, p := range spots {
		b := extent(l, p.x, p.y, str, p.ax, p.ay)
		if !s.free(b) || !b.inside(within) {
			continue
		}
		if clear {
			for _, o := range s.busy {
				if b.overlaps(o) {
					continue next
				}
			}
		}
		s.text(l, p.x, p.y, str, p.ax, p.ay)
		return true
	}
	return false
}

// occupy marks the path of a line as busy.
func (s *sheet) occupy(ps ...pt) {
	for i := 1; i < len(ps); i++ {
		a, b := ps[i-1], ps[i]
		n := 1 + int(math.Hypot(b.x-a.x, b.y-a.y)/6)
		for k := 0; k <= n; k++ {
			f := float64(k) / float64(n)
			x, y := a.x+f*(b.x-a.x), a.y+f*(b.y-a.y)
			s.busy = append(s.busy, box{x - 1.2, y - 1.2, x + 1.2, y + 1.2})
		}
	}
}

// crosses reports whether a straight line runs through a text or close by.
func (s *sheet) crosses(a, b pt) bool {
	for k := range 13 {
		f := float64(k) / 12
		at := box{a.x + f*(b.x-a.x), a.y + f*(b.y-a.y), a.x + f*(b.x-a.x), a.y + f*(b.y-a.y)}
		if slices.ContainsFunc(s.texts, at.grown(2.5).overlaps) {
			return true
		}
	}
	return false
}

// avoid marks a point as busy.
func (s *sheet) avoid(p pt, r float64) {
	b := box{p.x - r, p.y - r, p.x + r, p.y + r}
	s.busy = append(s.busy, b)
	s.marks = append(s.marks, b)
}

// around lists the spots beside a point at a distance.
func around(p pt, d float64) []spot {
	return []spot{
		{p.x + d, p.y, left, middle}, {p.x, p.y + d, centre, bottom}, {p.x, p.y - d, centre, top}, {p.x - d, p.y, right, middle},
		{p.x + d, p.y + d, left, bottom}, {p.x - d, p.y + d, right, bottom}, {p.x + d, p.y - d, left, top}, {p.x - d, p.y - d, right, top},
	}
}

// wrap breaks a text into lines no wider than a width.
func wrap(l lettering, str string, width float64) []string {
	var lines []string
	line := ""
	start := 0
	flush := func(word string) {
		if word == "" {
			return
		}
		try := word
		if line != "" {
			try = line + " " + word
		}
		if line != "" && extent(l, 0, 0, try, left, bottom).w() > width {
			lines = append(lines, line)
			line = word
			return
		}
		line = try
	}
	for i, r := range str {
		if r == ' ' {
			flush(str[start:i])
			start = i + 1
		}
	}
	flush(str[start:])
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// length is how long a polyline is, in points.
func length(ps []pt) float64 {
	l := 0.0
	for i := 1; i < len(ps); i++ {
		l += math.Hypot(ps[i].x-ps[i-1].x, ps[i].y-ps[i-1].y)
	}
	return l
}
