package plots

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"time"
)

// Meteogram is the weather of a forecast at one place over time. Every list but
// Times is optional (nil) or as long as Times; NaN marks times at which the
// forecast does not know. Directions are where wind and waves come from and
// where the current sets, degrees clockwise from true north.
type Meteogram struct {
	Title  string
	LatDeg float64
	Note   string // small print: files, what is derived

	Times                     []time.Time
	TWSKn, WindFromDeg        []float64 `gaps:"nan"` // wanted
	GustKn                    []float64 `gaps:"nan"`
	HsM, PeriodS, WaveFromDeg []float64 `gaps:"nan"`
	CurrentKn, CurrentToDeg   []float64 `gaps:"nan"`
	PressureHPa               []float64 `gaps:"nan"`
	TWSLowKn, TWSHighKn       []float64 `gaps:"nan"` // of an ensemble: 10 and 90 % of the members
	HsLowM, HsHighM           []float64 `gaps:"nan"`
	Members                   int       // of the ensemble; 0: none
}

func (d *Meteogram) lists() map[string][]float64 {
	return map[string][]float64{"TWSKn": d.TWSKn, "WindFromDeg": d.WindFromDeg, "GustKn": d.GustKn, "HsM": d.HsM, "PeriodS": d.PeriodS,
		"WaveFromDeg": d.WaveFromDeg, "CurrentKn": d.CurrentKn, "CurrentToDeg": d.CurrentToDeg, "PressureHPa": d.PressureHPa,
		"TWSLowKn": d.TWSLowKn, "TWSHighKn": d.TWSHighKn, "HsLowM": d.HsLowM, "HsHighM": d.HsHighM}
}

// validate checks what the chart relies on.
func (d *Meteogram) validate() error {
	if err := finite("Meteogram", reflect.ValueOf(*d), ""); err != nil {
		return err
	}
	n := len(d.Times)
	if n < 2 {
		return fieldErr("Meteogram.Times", "has %d entries; a chart over time needs at least 2", n)
	}
	for i := 1; i < n; i++ {
		if !d.Times[i].After(d.Times[i-1]) {
			return fieldErr(fmt.Sprintf("Meteogram.Times[%d]", i), "%s is not after the one before", stamp(d.Times[i]))
		}
	}
	if d.TWSKn == nil || d.WindFromDeg == nil {
		return fieldErr("Meteogram.TWSKn", "empty; a meteogram needs the wind")
	}
	for name, l := range d.lists() {
		if l != nil && len(l) != n {
			return fieldErr("Meteogram."+name, "has %d values for %d times", len(l), n)
		}
	}
	for _, w := range d.TWSKn {
		if finiteNumber(w) {
			return nil
		}
	}
	return fieldErr("Meteogram.TWSKn", "has no value at all")
}

// known reports whether a list holds anything to draw.
func known(l []float64) bool {
	for _, v := range l {
		if finiteNumber(v) {
			return true
		}
	}
	return false
}

// full reports whether a list has no gap.
func full(l []float64) bool {
	for _, v := range l {
		if !finiteNumber(v) {
			return false
		}
	}
	return true
}

// meteoRow is one panel of a meteogram.
type meteoRow struct {
	title     string
	share     float64
	zero      bool
	lines     []meteoLine
	low, high []float64 // of the band of an ensemble
	barbs     bool
	arrows    []float64 // bearings towards which arrows point
	arrowCol  tint
}

type meteoLine struct {
	name string
	look stroke
	v    []float64
}

// rows lists the panels that the data allow.
func (d *Meteogram) rows() []meteoRow {
	rows := []meteoRow{{title: "wind at 10 m (kn)", share: 1.5, zero: true, barbs: true, low: d.TWSLowKn, high: d.TWSHighKn,
		lines: []meteoLine{{"mean wind", strokeWind, d.TWSKn}}}}
	if known(d.GustKn) {
		rows[0].lines = append(rows[0].lines, meteoLine{"gusts", strokeBase, d.GustKn})
	}
	if known(d.HsM) {
		r := meteoRow{title: "significant wave height (m)", share: 1, zero: true, low: d.HsLowM, high: d.HsHighM, arrowCol: tintSea,
			lines: []meteoLine{{"", strokeSea, d.HsM}}}
		for _, from := range d.WaveFromDeg {
			r.arrows = append(r.arrows, from+180)
		}
		rows = append(rows, r)
	}
	if known(d.PeriodS) {
		rows = append(rows, meteoRow{title: "wave period (s)", share: 0.7, zero: true, lines: []meteoLine{{"", strokeSea, d.PeriodS}}})
	}
	if known(d.CurrentKn) {
		rows = append(rows, meteoRow{title: "current (kn)", share: 0.7, zero: true, lines: []meteoLine{{"", strokePlan, d.CurrentKn}}, arrows: d.CurrentToDeg, arrowCol: tintPlan})
	}
	if known(d.PressureHPa) {
		rows = append(rows, meteoRow{title: "pressure at sea level (hPa)", share: 0.85, lines: []meteoLine{{"", strokeThin, d.PressureHPa}}})
	}
	return rows
}

// Heights of a meteogram, points.
const (
	meteoRoom   = 96.0 // of a panel of share 1
	barbRoom    = 40.0 // of the barbs above the wind
	arrowRoom   = 17.0 // of the arrows above a panel
	meteoBarb   = 22.0 // length of a barb
	markSpacing = 27.0 // between barbs and between arrows
)

// words explains the marks.
func (d *Meteogram) words(rows []meteoRow) string {
	w := "Barbs: from where the wind blows; half feather 5 kn, full 10, pennant 50; a ring is calm."
	var arrows []string
	for _, r := range rows {
		switch {
		case known(r.arrows) && r.arrowCol.name == tintSea.name:
			arrows = append(arrows, "where the waves run")
		case known(r.arrows):
			arrows = append(arrows, "where the current sets")
		}
	}
	if len(arrows) > 0 {
		w += " Arrows: to " + strings.Join(arrows, " and ") + "."
	}
	if d.Members > 0 && known(d.TWSLowKn) {
		w += fmt.Sprintf(" Shaded: 10 to 90 %% of the %d members.", d.Members)
	}
	if d.Note != "" {
		w += " " + d.Note
	}
	return w
}

// MeteogramChart draws the wind, gusts, sea, current and pressure of a place
// over time, each in its own panel, with barbs above the wind.
func MeteogramChart(d *Meteogram) (Chart, error) {
	if err := d.validate(); err != nil {
		return Chart{}, err
	}
	rows := d.rows()
	n := len(d.Times)
	c := Chart{Name: "meteogram", Title: d.Title}
	var names []string
	for _, r := range rows {
		names = append(names, r.title)
	}
	lo, hi := spanOf(d.TWSKn)
	c.Alt = fmt.Sprintf("Forecast at a place from %s to %s: %s against time. The mean wind is between %.0f and %.0f kn.",
		stamp(d.Times[0]), stamp(d.Times[n-1]), list(names), lo, hi)
	text := d.words(rows)
	for _, narrow := range []bool{false, true} {
		w := WideWidth
		if narrow {
			w = NarrowWidth
		}
		h := marginTop + float64(len(wrap(letTitle, d.Title, w-2*marginTop)))*(sizeTitle+4) + 8
		h += float64(len(wrap(letSmall, text, w-2*marginTop))) * (sizeSmall + 3.5)
		for _, r := range rows {
			h += r.share*meteoRoom + yTitleRoom + r.above()
		}
		h += xAxisRoom + 6
		if narrow {
			c.tallNarrow = math.Ceil(h)
		} else {
			c.tall = math.Ceil(h)
		}
	}
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.note(text, marginTop, y+4) + 2
		for i, r := range rows {
			y -= yTitleRoom + r.above()
			b := box{marginL, y - r.share*meteoRoom, s.box.x1 - marginR, y}
			r.draw(s, b, d, i == len(rows)-1)
			y = b.y0
		}
	}
	return c, nil
}

// above is the room of the marks above the panel.
func (r meteoRow) above() float64 {
	switch {
	case r.barbs:
		return barbRoom
	case known(r.arrows):
		return arrowRoom
	}
	return 0
}

func spanOf(lists ...[]float64) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, l := range lists {
		for _, v := range l {
			if finiteNumber(v) {
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
	}
	return lo, hi
}

func (r meteoRow) draw(s *sheet, b box, d *Meteogram, last bool) {
	lists := [][]float64{r.low, r.high}
	for _, l := range r.lines {
		lists = append(lists, l.v)
	}
	lo, hi := spanOf(lists...)
	if r.zero {
		lo, hi = 0, math.Max(hi, 1) // a flat calm is no reason to magnify noise
	} else if hi-lo < 4 {
		lo, hi = (lo+hi)/2-2, (lo+hi)/2+2
	}
	ya := linear(lo, hi, max(3, int(b.h()/30)), r.zero)
	// the title stands above the marks, not above the panel
	title := r.title
	p := newPanel(b, timeAxis(d.Times[0], d.Times[len(d.Times)-1], b.w()), ya)
	r.band(s, p, d.Times)
	p.drawGrid(s)
	var paths [][]pt
	var names []string
	var looks []stroke
	for _, l := range r.lines {
		var longest []pt
		for _, ps := range unbroken(p, d.Times, l.v) {
			s.clippedLine(l.look, p.box.grown(1), ps...)
			s.occupy(ps...)
			if len(ps) > len(longest) {
				longest = ps
			}
		}
		paths, names, looks = append(paths, longest), append(names, l.name), append(looks, l.look)
	}
	p.drawAxes(s, last)
	s.text(letAxis, p.x0-yTitleBack, p.y1+7+r.above(), title, left, bottom)
	if len(r.lines) > 1 {
		nameLines(s, p, names, looks, paths)
	}
	switch {
	case r.barbs:
		for _, i := range spaced(p, d.Times) {
			if kn, from := d.TWSKn[i], d.WindFromDeg[i]; finiteNumber(kn) && finiteNumber(from) {
				sin, cos := math.Sincos(from * math.Pi / 180)
				at := pt{p.x.at(unix(d.Times[i])), p.y1 + 4 + barbRoom/2}
				if math.Round(kn/5) > 0 { // turn about the middle of the staff
					at = pt{at.x - sin*meteoBarb/2, at.y - cos*meteoBarb/2}
				}
				s.barb(stroke{col: tintWind, width: 0.9}, at, kn, from, d.LatDeg < 0, meteoBarb)
			}
		}
	case known(r.arrows):
		for _, i := range spaced(p, d.Times) {
			if to := r.arrows[i]; finiteNumber(to) && finiteNumber(r.lines[0].v[i]) {
				s.arrow(r.arrowCol, pt{p.x.at(unix(d.Times[i])), p.y1 + 2 + arrowRoom/2}, to, 13)
			}
		}
	}
}

// band fills between the low and high members.
func (r meteoRow) band(s *sheet, p panel, times []time.Time) {
	if r.low == nil || r.high == nil {
		return
	}
	var up, down []pt
	flush := func() {
		for k := len(down) - 1; k >= 0; k-- {
			up = append(up, down[k])
		}
		s.fill(tintBandB, up...)
		up, down = nil, nil
	}
	for i, t := range times {
		if lo, hi := r.low[i], r.high[i]; finiteNumber(lo) && finiteNumber(hi) {
			up, down = append(up, p.at(unix(t), hi)), append(down, p.at(unix(t), lo))
		} else {
			flush()
		}
	}
	flush()
}

// unbroken cuts a line where values are missing.
func unbroken(p panel, times []time.Time, v []float64) [][]pt {
	var out [][]pt
	var cur []pt
	for i, x := range v {
		if !finiteNumber(x) {
			if len(cur) > 1 {
				out = append(out, cur)
			}
			cur = nil
			continue
		}
		cur = append(cur, p.at(unix(times[i]), x))
	}
	if len(cur) > 1 {
		out = append(out, cur)
	}
	return out
}

// spaced picks times for marks so that they keep their distance and are equally
// far apart in steps, clear of the ends of the panel.
func spaced(p panel, times []time.Time) []int {
	var out []int
	lastX := math.Inf(-1)
	for i, t := range times {
		x := p.x.at(unix(t))
		if x-lastX >= markSpacing-1e-6 && x <= p.x1-2 {
			out = append(out, i)
			lastX = x
		}
	}
	return out
}

// arrow draws an arrow about its middle that points to a bearing, north up.
func (s *sheet) arrow(col tint, at pt, toDeg, size float64) {
	sin, cos := math.Sincos(toDeg * math.Pi / 180)
	place := func(along, side float64) pt {
		return pt{at.x + along*sin + side*cos, at.y + along*cos - side*sin}
	}
	s.line(stroke{col: col, width: 1.1}, place(-size/2, 0), place(size/2-3, 0))
	s.fill(col, place(size/2, 0), place(size/2-5, 2.6), place(size/2-5, -2.6))
}
