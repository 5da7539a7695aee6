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

// tune sets the margins and the hold time.
func (f *fitter) tune(s Step) (Step, error) {
	for range 6 {
		var bases []Card
		with := func(set func(*Card)) {
			b := s.base
			set(&b)
			bases = append(bases, b)
		}
		for _, x := range twsMarginsKn {
			with(func(c *Card) { c.TWSMarginMS = units.MS(x) })
		}
		for _, x := range twaMargins {
			with(func(c *Card) { c.TWAMarginRad = units.Rad(x) })
		}
		for _, x := range hsMarginsM {
			with(func(c *Card) { c.HsMarginM = x })
		}
		for _, x := range holdsMin {
			with(func(c *Card) { c.HoldS = 60 * x })
		}
		cards := make([]*Card, len(bases))
		for i := range bases {
			cards[i], _ = f.g.card(s.tree, &bases[i])
		}
		costs, err := f.costs(cards)
		if err != nil {
			return s, err
		}
		at := -1
		for i, c := range costs {
			if c < s.EstimateS-1e-6 {
				at, s.EstimateS = i, c
			}
		}
		if at < 0 {
			return s, nil
		}
		s.base, s.Card = bases[at], cards[at]
	}
	return s, nil
}
