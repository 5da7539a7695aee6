package rulecard

import "foilledger/vpp/units"

// The margins and hold times that a card may have: round numbers that a person
// keeps in mind.
var (
	twsMarginsKn = []float64{0, 1, 2, 3}
	twaMargins   = []float64{0, 5, 10, 15} // degrees
	hsMarginsM   = []float64{0, 0.25, 0.5}
	holdsMin     = []float64{0, 15, 30, 60, 120}
)

// tune sets the margins and the hold time, one after the other, while that
// saves time.
func (f *fitter) tune(s Step) (Step, error) {
	for range 3 {
		before := s.EstimateS
		for _, v := range []struct {
			values []float64
			set    func(c *Card, x float64)
		}{
			{twsMarginsKn, func(c *Card, x float64) { c.TWSMarginMS = units.MS(x) }},
			{twaMargins, func(c *Card, x float64) { c.TWAMarginRad = units.Rad(x) }},
			{hsMarginsM, func(c *Card, x float64) { c.HsMarginM = x }},
			{holdsMin, func(c *Card, x float64) { c.HoldS = 60 * x }},
		} {
			var bases []Card
			var cards []*Card
			for _, x := range v.values {
				b := s.base
				v.set(&b, x)
				c, _ := f.g.card(s.tree, &b)
				bases, cards = append(bases, b), append(cards, c)
			}
			costs, err := f.costs(cards)
			if err != nil {
				return s, err
			}
			for i, c := range costs {
				if c < s.EstimateS-1e-6 {
					s.EstimateS, s.base, s.Card = c, bases[i], cards[i]
				}
			}
		}
		if s.EstimateS > before-1e-6 {
			break
		}
	}
	return s, nil
}
