package plots

import (
	"fmt"
	"math"
	"time"
)

// run is a span of a passage in which the leeward foil's extension stays.
type run struct {
	from, to       time.Time
	ext            float64
	rakeLo, rakeHi float64
}

func runsOf(steps []Step) []run {
	var rs []run
	for i, p := range steps {
		e, rake := p.leeward()
		end := p.Time
		if i+1 < len(steps) {
			end = steps[i+1].Time
		}
		if n := len(rs); n > 0 && math.Abs(rs[n-1].ext-e) < 0.01 {
			l := &rs[n-1]
			l.to = end
			l.rakeLo, l.rakeHi = math.Min(l.rakeLo, rake), math.Max(l.rakeHi, rake)
			continue
		}
		rs = append(rs, run{p.Time, end, e, rake, rake})
	}
	return rs
}

func (r run) words() []string {
	if r.ext <= 0.01 {
		return []string{"foils in", "in"}
	}
	out := "out"
	if r.ext < 0.99 {
		out = fmt.Sprintf("out %.0f %%", 100*r.ext)
	}
	short := func(x float64) string { return trimZero(fmt.Sprintf("%.1f", x)) }
	rake := short(r.rakeLo)
	if r.rakeHi-r.rakeLo > 0.05 {
		rake += "–" + short(r.rakeHi)
	}
	return []string{out + ", rake " + rake + "°", out + " " + rake + "°", out}
}

func trimZero(s string) string {
	if len(s) > 2 && s[len(s)-2:] == ".0" {
		return s[:len(s)-2]
	}
	return s
}

// bands tints the panel where the leeward foil is out.
func bands(s *sheet, p panel, runs []run) {
	for _, r := range runs {
		if t, out := bandTint(r.ext); out {
			s.fillBox(box{p.x.at(unix(r.from)), p.y0, p.x.at(unix(r.to)), p.y1}, t)
		}
	}
}

// strip writes the leeward foil's state in words along a narrow band, each word
// only where its whole span has room for it.
func strip(s *sheet, b box, x axis, runs []run) {
	for _, r := range runs {
		x0, x1 := x.at(unix(r.from)), x.at(unix(r.to))
		rb := box{x0, b.y0, x1, b.y1}
		if t, out := bandTint(r.ext); out {
			s.fillBox(rb, t)
			s.line(strokePlan, pt{x0, b.y0}, pt{x1, b.y0})
		}
		for _, w := range r.words() {
			e := extent(letSmall, (x0+x1)/2, (b.y0+b.y1)/2, w, centre, middle)
			if e.w()+4 <= rb.w() && s.free(e) {
				s.text(letSmall.in(tintInk), (x0+x1)/2, (b.y0+b.y1)/2, w, centre, middle)
				break
			}
		}
	}
	s.frame(stroke{col: tintGrid, width: 0.6}, b)
}

func unix(t time.Time) float64 { return float64(t.UnixNano()) / 1e9 }

// glyph draws the mark of an action: a triangle up for out, down for in, a
// diamond for rake.
func glyph(s *sheet, action string, c pt, r float64) {
	edge := stroke{col: tintPaper, width: 0.8}
	switch kindOf(action) {
	case kindOut:
		s.dot(tintActive, edge, []pt{{c.x - r, c.y - 0.8*r}, {c.x + r, c.y - 0.8*r}, {c.x, c.y + r}})
	case kindIn:
		s.dot(tintActive, edge, []pt{{c.x - r, c.y + 0.8*r}, {c.x + r, c.y + 0.8*r}, {c.x, c.y - r}})
	default:
		s.dot(tintActive, edge, []pt{{c.x - r, c.y}, {c.x, c.y - r}, {c.x + r, c.y}, {c.x, c.y + r}})
	}
}

type actionKind int

func kindOf(action string) actionKind {
	switch action {
	case "deploy", "extend":
		return kindOut
	case "retract", "shorten":
		return kindIn
	}
	return kindRake
}

// glyphKey explains the marks in one line and returns the y below.
func glyphKey(s *sheet, x, y float64) float64 {
	for _, k := range []struct{ action, words string }{{"deploy", "further out"}, {"retract", "further in"}, {"rake", "rake"}} {
		glyph(s, k.action, pt{x + 5, y - 4}, 4)
		b := s.text(letSmall, x+12, y-1, k.words, left, top)
		x = b.x1 + 14
	}
	return y - 14
}

// rests shades the spans in which nothing is touched; the first with room for it
// is named.
func rests(s *sheet, r *PassageReport, p panel) {
	named := false
	for _, q := range r.Rests {
		b := box{p.x.at(math.Max(unix(q.From), p.x.min)), p.y0, p.x.at(math.Min(unix(q.To), p.x.max)), p.y0 + 5}
		if b.w() <= 0 {
			continue
		}
		s.fillBox(b, tintMuted)
		s.busy = append(s.busy, b)
		named = named || s.labelClear(letSmall, "rest", p.box, true, spot{(b.x0 + b.x1) / 2, b.y1 + 2, centre, bottom})
	}
}
