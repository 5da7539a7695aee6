package main

import (
	"fmt"
	"math"

	"foilledger/plots"
	"foilledger/vpp"
	"foilledger/vpp/units"
)

// keyNumbers are the three numbers that the card's page answers with first.
func (res *cardResult) keyNumbers() []plots.KeyNumber {
	t := res.test[res.chosen-1]
	return []plots.KeyNumber{
		{Name: "Keeps", Value: fmt.Sprintf("%.0f %%", 100*(1-t.RegretShare())), More: fmt.Sprintf("of the %s that foils can gain, on passages not fitted to; 95 %% interval %.0f to %.0f", hoursMinutes(t.GainS), 100*(1-res.share.Hi), 100*(1-res.share.Lo))},
		{Name: "Costs", Value: fmt.Sprintf("%.0f min", t.LostS/60), More: fmt.Sprintf("against the best possible; 95 %% interval %s to %s", signedMin(res.lost.Lo/60), signedMin(res.lost.Hi/60))},
		{Name: "Rules", Value: fmt.Sprint(len(res.card.Rules)), More: fmt.Sprintf("%.1f changes per passage", t.Changes)},
	}
}

// keyNumbers are the three numbers that the page of variants answers with
// first: of the best variant, or of the next when none beats the boat as she is.
func (res *refitResult) keyNumbers() []plots.KeyNumber {
	b, name := res.best(), "Fastest variant"
	if b == 0 && len(res.cmp.Variants) > 1 {
		b, name = 1, "Nearest variant"
		for i := range res.cmp.Variants[1:] {
			if res.cmp.Variants[i+1].Gain > res.cmp.Variants[b].Gain {
				b = i + 1
			}
		}
	}
	c := &res.cmp.Variants[b]
	return []plots.KeyNumber{
		{Name: name, Value: res.labels[b], More: fmt.Sprintf("of %s", count(len(res.cmp.Variants)-1, "variant", "variants"))},
		{Name: "Gains per passage", Value: signedMin(c.Gain) + " min", More: "over the boat as she is; " + res.sureWords(c)},
		{Name: "Faster on", Value: fmt.Sprintf("%.0f %%", 100*c.Faster), More: "of " + count(res.cmp.Passages, "passage", "passages")},
	}
}

// clearGainKn is a gain in speed that anyone aboard notices.
const clearGainKn = 1.0

// speedsAnswer says in words and three numbers where a foil pays most and from
// which wind on, in the sea of the wind.
func speedsAnswer(t *vpp.Table) (string, []plots.KeyNumber) {
	if len(t.Settings()) == 1 {
		return "This boat has no foils. Move the wind and the sea, and see what she does.", nil
	}
	sea := seaCases[len(seaCases)-1]
	gain, _ := gainMaps(t, sea)
	var top, topKn, topDeg, lo, hi float64
	from := math.Inf(1)
	for i, row := range gain.Value {
		for j, g := range row {
			kn, deg := gain.TWSKn[i], gain.TWADeg[j]
			if g > top {
				top, topKn, topDeg = g, kn, deg
			}
			if g >= clearGainKn {
				if math.IsInf(from, 1) {
					from, lo, hi = kn, deg, deg
				}
				lo, hi = math.Min(lo, deg), math.Max(hi, deg)
			}
		}
	}
	if math.IsInf(from, 1) {
		return fmt.Sprintf("The foil gains less than %.0f kn everywhere; at most %.1f kn.", clearGainKn, top), nil
	}
	words := fmt.Sprintf("The foil gains most, %.1f kn, in %.0f kn of true wind at %.0f°; a knot or more from %.0f kn on, at angles between %.0f° and %.0f°. All in the sea that such a wind raises.", top, topKn, topDeg, from, lo, hi)
	_, _, best := fastestOut(t, sea, topKn, topDeg)
	return words, []plots.KeyNumber{
		{Name: "Largest gain", Value: fmt.Sprintf("+%.1f kn", top), More: fmt.Sprintf("over foils in; %.0f kn of true wind at %.0f°", topKn, topDeg)},
		{Name: "A knot or more", Value: fmt.Sprintf("from %.0f kn", from), More: fmt.Sprintf("of true wind; angles %.0f° to %.0f°", lo, hi)},
		{Name: "Best rake there", Value: fmt.Sprintf("%g°", tidy(units.Deg(best.RakeRad))), More: fmt.Sprintf("leeward foil out %.0f %%", 100*best.Extension)},
	}
}
