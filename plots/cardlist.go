package plots

import (
	"fmt"
	"image/color"
	"strings"
)

// drawCardList draws the card for a telephone: the rules one below the other, in
// type that is read without enlarging. It returns the height that is left over;
// negative where the sheet is too low.
func drawCardList(s *sheet, d *RuleCard) float64 {
	const m, body, small = 10.0, 12.0, 10.5
	black, grey := color.RGBA{0, 0, 0, 255}, color.RGBA{0xd4, 0xd4, 0xd4, 255}
	let := func(size float64, bold bool) lettering { return lettering{size: size, bold: bold, col: black} }
	y := s.box.y1 - m
	para := func(l lettering, x float64, str string) {
		for _, line := range wrap(l, str, s.box.x1-m-x) {
			y = s.text(l, x, y, line, left, top).y0 - 0.35*l.size
		}
	}
	para(let(15, true), m, d.Title)
	para(let(body, false), m, d.Boat)
	for _, r := range joined(d.Cells) {
		c := d.Cells[r.i0][r.j0]
		y -= 7
		head := fmt.Sprintf("%s kn, %s°", bandWords(Band{d.TWSBandsKn[r.i0].From, d.TWSBandsKn[r.i1-1].To}, openEnd),
			bandWords(Band{d.TWABandsDeg[r.j0].From, d.TWABandsDeg[r.j1-1].To}, 360))
		mark := box{m, y - 1.5*body, m + 12, y}
		if c.Out && !c.Refused {
			s.fillBox(mark, grey)
		}
		s.frame(stroke{col: black, width: 0.8}, mark)
		var words []string
		for _, l := range cellLines(c) {
			words = append(words, l.text)
		}
		said := strings.NewReplacer(", by ", " by ", ":, ", ": ").Replace(strings.Join(words, ", "))
		para(let(body, true), m+18, head+": "+said)
	}
	for _, part := range []struct {
		title string
		lines []string
	}{{"Slow down first", d.SlowFirst}, {"Keep in mind", d.Notes}} {
		if len(part.lines) == 0 {
			continue
		}
		y -= 9
		para(let(12, true), m, part.title)
		for _, l := range part.lines {
			para(let(body, false), m, "• "+l)
		}
	}
	y -= 9
	para(let(body, false), m, "By true wind speed and true wind angle from the bow. OUT: leeward foil out (BOTH: the windward one too) and its rake; the time is how long the wind must last for it to pay."+explained(d))
	para(let(body, false), m, costWords(d))
	para(let(small, false), m, cautionWords(d))
	para(let(small, false), m, "foilledger "+d.Version)
	return y - m
}
