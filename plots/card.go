package plots

import (
	"fmt"
	"image/color"
	"math"
	"reflect"
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
	fits := true
	c.draw = func(s *sheet) { fits = drawCard(s, d) }
	// a trial run on nothing but the measure of the texts
	c.paint(&measure{}, Wide)
	if !fits {
		return Chart{}, fieldErr("RuleCard", "does not fit %.0f × %.0f mm; use fewer bands, shorter rules, or A4", w*25.4/72, h*25.4/72)
	}
	return c, nil
}

// drawCard reports whether everything found room.
func drawCard(s *sheet, d *RuleCard) bool {
	black, grey := color.RGBA{0, 0, 0, 255}, color.RGBA{0xd4, 0xd4, 0xd4, 255}
	let := func(size float64, bold bool) lettering { return lettering{size: size, bold: bold, col: black} }
	k := math.Min(1.3, s.box.w()/420) // A4 gets larger type
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
	para(let(9.5*k, false), "Read down: true wind speed (kn). Read across: true wind angle from the bow (°). Grey: leeward foil out, with its rake; below it, how long it must last to pay. White: foils in. Hatched: beyond a limit, foils in.", m)
	y -= 16 * k

	x0 := m + 46*k
	nx, ny := len(d.TWABandsDeg), len(d.TWSBandsKn)
	cw := (x1 - x0) / float64(nx)
	ch := math.Min(40*k, math.Max(27*k, (y-m-190*k)/float64(ny)))
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
	band := func(b Band) string { return fmt.Sprintf("%g–%g", b.From, b.To) }
	for j, b := range d.TWABandsDeg {
		put(let(10*k, true), x0+(float64(j)+0.5)*cw, y+8*k, band(b)+"°", cw)
	}
	rule := stroke{col: black, width: 0.8}
	for i, b := range d.TWSBandsKn {
		top0 := y - float64(i)*ch
		put(let(10*k, true), (m+x0)/2, top0-ch/2, band(b)+" kn", x0-m)
		for j, cell := range d.Cells[i] {
			q := box{x0 + float64(j)*cw, top0 - ch, x0 + float64(j+1)*cw, top0}
			mid := (q.x0 + q.x1) / 2
			switch {
			case cell.Refused:
				s.hatch(stroke{col: black, width: 0.4}, q, 4)
				put(lettering{size: 9 * k, col: black, halo: true}, mid, (q.y0+q.y1)/2, "in", cw)
			case !cell.Out:
				put(let(9*k, false), mid, (q.y0+q.y1)/2, "in", cw)
			default:
				s.fillBox(q, grey)
				out := "OUT " + trimZero(fmt.Sprintf("%.1f", cell.RakeDeg)) + "°"
				if cell.Extension < 0.99 {
					out = fmt.Sprintf("%.0f%% ", 100*cell.Extension) + trimZero(fmt.Sprintf("%.1f", cell.RakeDeg)) + "°"
				}
				if cell.BreakEvenMin > 0 {
					put(let(10*k, true), mid, q.y1-0.36*ch, out, cw)
					put(let(8*k, false), mid, q.y1-0.74*ch, span(cell.BreakEvenMin), cw)
				} else {
					put(let(10*k, true), mid, (q.y0+q.y1)/2, out, cw)
				}
			}
			s.frame(rule, q)
		}
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
	y -= 5 * k
	words := fmt.Sprintf("Following this card costs %.1f %% of passage time against the best possible.", d.RegretPercent)
	if d.FittedOn != "" {
		words += " Fitted on: " + d.FittedOn + "."
	}
	if d.TestedOn != "" {
		words += " Tested on: " + d.TestedOn + "."
	}
	para(let(8.5*k, false), words, m)
	y -= 3 * k
	all := ""
	for _, c := range append(append([]string(nil), Cautions...), d.Cautions...) {
		all += c + " "
	}
	para(let(7.5*k, false), all, m)
	para(let(7*k, false), "foilledger "+d.Version, m)
	return fits && y >= m/2
}
