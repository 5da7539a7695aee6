package plots

import (
	"fmt"
	"math"
)

// ledgerChart draws what the gain is made of as bars from a common zero.
func ledgerChart(r *PassageReport) Chart {
	rows := len(r.Ledger) + 1
	c := Chart{
		Name:  "ledger",
		Title: "What the time gained is made of",
		tall:  float64(80 + 26*rows), tallNarrow: float64(100 + 40*rows),
	}
	total := r.Baselines[0].TimeGainedMin
	c.Alt = "Bars of minutes gained or lost by cause: "
	for _, l := range r.Ledger {
		c.Alt += fmt.Sprintf("%s %s; ", l.Cause, signedNumber(l.Minutes, 1))
	}
	c.Alt += fmt.Sprintf("total %s minutes.", signedNumber(total, 1))
	c.draw = func(s *sheet) {
		y := s.title(c.Title)
		y = s.text(letAxis, marginTop, y, "minutes gained (+) or lost (−)", left, top).y0 - 8
		all := append(append([]LedgerRow{}, r.Ledger...), LedgerRow{"total", total})
		lo, hi, textW := 0.0, 0.0, 0.0
		for _, l := range all {
			lo, hi = math.Min(lo, l.Minutes), math.Max(hi, l.Minutes)
			textW = math.Max(textW, extent(letAxis, 0, 0, l.Cause, left, bottom).w())
		}
		x0 := marginTop + textW + 10
		lineH := 26.0
		if s.narrow {
			x0, lineH = marginTop, 40
		}
		numW := 52.0
		ax := axis{min: lo, max: math.Max(hi, lo+1), lo: x0 + 4, hi: s.box.x1 - marginR - numW}
		if lo < 0 {
			ax.lo += numW
		}
		zero := ax.at(0)
		top0 := y
		for i, l := range all {
			let := letAxis
			if i == len(all)-1 {
				let = letBold
				s.line(strokeAxis, pt{marginTop, y}, pt{s.box.x1 - marginR, y})
			}
			mid := y - lineH/2
			if s.narrow {
				s.text(let, marginTop, y-5, l.Cause, left, top)
				mid = y - 28
			} else {
				s.text(let, x0-8, mid, l.Cause, right, middle)
			}
			v := ax.at(l.Minutes)
			b := box{math.Min(zero, v), mid - 7, math.Max(zero, v), mid + 7}
			if l.Minutes < 0 {
				s.fillBox(b, tintBase)
				s.text(let, b.x0-4, mid, signedNumber(l.Minutes, 1), right, middle)
			} else {
				s.fillBox(b, tintPlan)
				s.text(let, b.x1+4, mid, signedNumber(l.Minutes, 1), left, middle)
			}
			if s.narrow {
				s.line(strokeZero, pt{zero, mid - 10}, pt{zero, mid + 10})
			}
			y -= lineH
		}
		if !s.narrow {
			s.line(strokeZero, pt{zero, top0}, pt{zero, y})
		}
	}
	return c
}
