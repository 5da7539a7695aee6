package plots

import (
	"fmt"
	"image/color"
	"math"
	"reflect"
	"slices"
	"strings"
)

// Paper is the sheet of a rule card, portrait.
type Paper int

const (
	// A5 is 148 × 210 mm.
	A5 Paper = iota
	// A4 is 210 × 297 mm.
	A4
)

// size of a sheet in points (ISO 216: 1 pt = 25.4/72 mm).
func (p Paper) size() (w, h float64) {
	const perMM = 72 / 25.4
	if p == A4 {
		return 210 * perMM, 297 * perMM
	}
	return 148 * perMM, 210 * perMM
}

// CardChart lays out the rule card on one sheet, in black, white and one grey,
// so that a monochrome printer loses nothing. It fails when something does not
// fit, rather than clip it.
func CardChart(d *RuleCard, paper Paper) (Chart, error) {
	if err := finite("RuleCard", reflect.ValueOf(*d), ""); err != nil {
		return Chart{}, err
	}
	if len(d.TWSBandsKn) == 0 || len(d.TWABandsDeg) == 0 || len(d.Cells) != len(d.TWSBandsKn) {
		return Chart{}, fieldErr("RuleCard.Cells", "has %d rows for %d wind bands and %d angle bands", len(d.Cells), len(d.TWSBandsKn), len(d.TWABandsDeg))
	}
	for i, row := range d.Cells {
		if len(row) != len(d.TWABandsDeg) {
			return Chart{}, fieldErr(fmt.Sprintf("RuleCard.Cells[%d]", i), "has %d cells for %d angle bands", len(row), len(d.TWABandsDeg))
		}
	}
	w, h := paper.size()
	c := Chart{
		Name: map[Paper]string{A5: "card-a5", A4: "card-a4"}[paper], Title: d.Title,
		Alt:  fmt.Sprintf("Rule card for %s: foils in or out and rake by true wind speed and true wind angle.", d.Boat),
		wide: w, tall: h, tallNarrow: h * NarrowWidth / w,
	}
	low := 0.0
	list := func(s *sheet) { low = drawCardList(s, d) }
	c.draw = list
	c.paint(&measure{}, Narrow)
	c.tallNarrow -= low
	// The largest type and the highest rows that fit, found on nothing but the
	// measure of the texts.
	for _, scale := range []float64{1, 0.92, 0.85} {
		for _, row := range []float64{40, 36, 32, 28, 25, 22} {
			fits := false
			c.draw = func(s *sheet) {
				if s.narrow {
					list(s)
				} else {
					fits = drawCard(s, d, scale, row)
				}
			}
			if c.paint(&measure{}, Wide); fits {
				return c, nil
			}
		}
	}
	return Chart{}, fieldErr("RuleCard", "does not fit %.0f × %.0f mm; use fewer bands, shorter rules, or A4", w*25.4/72, h*25.4/72)
}

// drawCard draws the card with its type scaled and rows of a height in points
// on A5. It reports whether everything found room.
func drawCard(s *sheet, d *RuleCard, scale, row float64) bool {
	black, grey := color.RGBA{0, 0, 0, 255}, color.RGBA{0xd4, 0xd4, 0xd4, 255}
	let := func(size float64, bold bool) lettering { return lettering{size: size, bold: bold, col: black} }
	room := math.Min(1.3, s.box.w()/420) // A4 gets larger type
	k := scale * room
	const m = 20.0
	x1 := s.box.x1 - m
	y := s.box.y1 - m
	para := func(l lettering, str string, x float64) {
		for _, line := range wrap(l, str, x1-x) {
			y = s.text(l, x, y, line, left, top).y0 - 0.3*l.size
		}
	}
	para(let(15*k, true), d.Title, m)
	para(let(9.5*k, false), d.Boat, m)
	y -= 3 * k
	para(let(9.5*k, false), "Down: true wind speed. Across: true wind angle from the bow. Grey: leeward foil OUT (BOTH: the windward one too) and its rake; below, how long the wind must last for it to pay. White: foils in."+explained(d), m)
	y -= 16 * k

	x0 := m + 50*k
	nx, ny := len(d.TWABandsDeg), len(d.TWSBandsKn)
	cw := (x1 - x0) / float64(nx)
	ch := row * room
	fits := true
	put := func(l lettering, x, y float64, str string, room float64) {
		for ; l.size > 6.5; l.size -= 0.5 {
			if extent(l, x, y, str, centre, middle).w() <= room-3 {
				s.text(l, x, y, str, centre, middle)
				return
			}
		}
		fits = false
	}
	for j, b := range d.TWABandsDeg {
		put(let(10*k, true), x0+(float64(j)+0.5)*cw, y+8*k, bandWords(b, 360)+"°", cw)
	}
	rule := stroke{col: black, width: 0.8}
	for i, b := range d.TWSBandsKn {
		put(let(10*k, true), (m+x0)/2, y-(float64(i)+0.5)*ch, bandWords(b, openEnd)+" kn", x0-m)
	}
	for _, r := range joined(d.Cells) {
		q := box{x0 + float64(r.j0)*cw, y - float64(r.i1)*ch, x0 + float64(r.j1)*cw, y - float64(r.i0)*ch}
		cell := d.Cells[r.i0][r.j0]
		switch {
		case cell.Refused:
			s.hatch(stroke{col: black, width: 0.4}, q, 4)
		case cell.Out:
			s.fillBox(q, grey)
		}
		lines := cellLines(cell)
		if len(lines) > 2 && q.h() < 36*k && strings.HasPrefix(lines[1].text, "by ") { // low: the steps beside the rakes
			one := cellLine{lines[0].text + " " + lines[1].text, lines[0].size, true}
			if extent(let(one.size*k, true), 0, 0, one.text, centre, middle).w() <= q.w()-3 {
				lines = append([]cellLine{one}, lines[2:]...)
			}
		}
		pitch := math.Min(12*k, q.h()/(float64(len(lines))+0.3))
		for n, l := range lines {
			size := math.Min(l.size*k, pitch/1.02)
			if size < 6.5 {
				fits = false
			}
			look := let(size, l.bold)
			look.halo = cell.Refused
			put(look, (q.x0+q.x1)/2, (q.y0+q.y1)/2+(float64(len(lines)-1)/2-float64(n))*pitch, l.text, q.w())
		}
		s.frame(rule, q)
	}
	y -= float64(ny)*ch + 14*k
	if len(d.SlowFirst) > 0 {
		para(let(11*k, true), "Slow down first", m)
		y -= 2 * k
		for _, r := range d.SlowFirst {
			s.text(let(9.5*k, false), m, y, "•", left, top)
			para(let(9.5*k, false), r, m+9*k)
			y -= 1.5 * k
		}
	}
	if len(d.Notes) > 0 {
		y -= 3 * k
		para(let(11*k, true), "Keep in mind", m)
		y -= 2 * k
		for _, r := range d.Notes {
			s.text(let(9.5*k, false), m, y, "•", left, top)
			para(let(9.5*k, false), r, m+9*k)
			y -= 1.5 * k
		}
	}
	y -= 5 * k
	para(let(8.5*k, false), costWords(d), m)
	y -= 3 * k
	para(let(7.5*k, false), cautionWords(d), m)
	para(let(7*k, false), "foilledger "+d.Version, m)
	return fits && y >= m/2
}

// bandWords writes a band: "13–18", or "30 +" where it has no end.
func bandWords(b Band, end float64) string {
	if b.To >= end {
		return fmt.Sprintf("%g +", b.From)
	}
	return fmt.Sprintf("%g–%g", b.From, b.To)
}

// openEnd is where a band of wind counts as having no end, knots.
const openEnd = 90.0

// explained explains the marks that are on a card and not on every card.
func explained(d *RuleCard) string {
	var angle, wind, leave, refused bool
	for _, row := range d.Cells {
		for _, c := range row {
			refused = refused || c.Refused
			for _, a := range c.advices() {
				angle = angle || a.Out && a.EachDeg > 0
				wind = wind || a.Out && a.EachKn > 0
				leave = leave || !a.Out && a.Leave
			}
		}
	}
	out := ""
	if angle {
		out += " 5…2° by 12°: rake 5° at the box's lower angle (at 40° when it begins lower), a step less every 12°, down to 2°."
	}
	if wind {
		out += " 5…2° by 2 kn: 5° in the box's least wind, a step less every 2 kn."
	}
	if leave {
		out += " LEE IN: leeward foil in, the windward one as it is."
	}
	if refused {
		out += " Hatched: beyond a limit, foils in."
	}
	return out
}

// costWords says what following the card costs.
func costWords(d *RuleCard) string {
	words := fmt.Sprintf("Following this card costs %.1f %% of passage time against the best possible.", d.RegretPercent)
	if d.KeptPercent > 0 {
		words += fmt.Sprintf(" It keeps %.0f %% of what foils can gain.", d.KeptPercent)
	}
	if d.FittedOn != "" {
		words += " Fitted on: " + d.FittedOn + "."
	}
	if d.TestedOn != "" {
		words += " Tested on: " + d.TestedOn + "."
	}
	return words
}

func cautionWords(d *RuleCard) string {
	return strings.Join(slices.Concat(Cautions, d.Cautions), " ")
}

// advices lists what a cell says.
func (c *RuleCell) advices() []CardAdvice {
	out := []CardAdvice{c.CardAdvice}
	if c.Sea != nil {
		out = append(out, c.Sea.CardAdvice)
	}
	return out
}

// cells is a rectangle of cells, half-open.
type cells struct{ i0, j0, i1, j1 int }

// joined lists the rectangles of the cells that belong together.
func joined(all [][]RuleCell) []cells {
	var out []cells
	at := map[int]int{}
	for i, row := range all {
		for j, c := range row {
			if n, ok := at[c.Box]; ok && c.Box != 0 {
				out[n].i1, out[n].j1 = max(out[n].i1, i+1), max(out[n].j1, j+1)
				continue
			}
			at[c.Box] = len(out)
			out = append(out, cells{i, j, i + 1, j + 1})
		}
	}
	return out
}

// cellLine is one line of a cell's text.
type cellLine struct {
	text string
	size float64
	bold bool
}

func cellLines(c RuleCell) []cellLine {
	if c.Refused {
		return []cellLine{{"in", 9, false}}
	}
	var out []cellLine
	say := func(a *CardAdvice, size float64, bold bool) {
		out = append(out, cellLine{settingWords(a), size, bold})
		switch {
		case a.Out && a.EachDeg > 0:
			out = append(out, cellLine{fmt.Sprintf("by %.0f°", a.EachDeg), 8, false})
		case a.Out && a.EachKn > 0:
			out = append(out, cellLine{fmt.Sprintf("by %.2g kn", a.EachKn), 8, false})
		}
	}
	if c.Out {
		say(&c.CardAdvice, 10, true)
	} else {
		say(&c.CardAdvice, 9, false)
	}
	if c.Out && c.BreakEvenMin > 0 {
		out = append(out, cellLine{span(c.BreakEvenMin), 8, false})
	}
	if a := c.Sea; a != nil {
		out = append(out, cellLine{fmt.Sprintf("sea > %g m:", a.AboveM), 8, false})
		say(&a.CardAdvice, 9, true)
	}
	return out
}

// settingWords is a setting in as few letters as can be.
func settingWords(a *CardAdvice) string {
	switch {
	case !a.Out && a.Leave:
		return "LEE IN"
	case !a.Out:
		return "in"
	}
	word := "OUT"
	if a.Both {
		word = "BOTH"
	}
	if a.Extension < 0.99 {
		word += fmt.Sprintf(" %.0f%%", 100*a.Extension)
	}
	rake := func(deg float64) string { return trimZero(fmt.Sprintf("%.1f", deg)) }
	word += " " + rake(a.RakeDeg)
	if a.EachDeg > 0 || a.EachKn > 0 {
		word += "…" + rake(a.RakeFarDeg)
	}
	return word + "°"
}
