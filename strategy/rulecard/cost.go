package rulecard

import (
	"golang.org/x/sync/errgroup"

	"foilledger/vpp/units"
)

// leastGainMS is the speed that a box's advice must gain on the mean over foils
// in. It is small: in light air a twentieth of a knot is a hundredth of the speed,
// through many hours.
const leastGainMS = 0.02 * units.MSPerKnot

// unsound lists the boxes that put a foil out and were not met or do not gain by
// it in steady sailing. A card with such boxes would keep foils out where they
// only save the trouble of taking them in, or where nothing is known.
func (f *fitter) unsound(c *Card) (boxes []int) {
	type sum struct{ lengthM, inS, outS float64 }
	sums := make([]sum, len(c.Rules))
	for _, p := range f.ps {
		for k := range p.moments {
			m := &p.moments[k]
			for i := range c.Rules {
				r := &c.Rules[i]
				if !r.has(m.view.TWSMS, m.view.TWARad, m.view.HsM) {
					continue
				}
				s := &sums[i]
				s.lengthM += m.lengthM
				s.inS += m.costS[0]
				s.outS += m.costS[2*int(r.At(m.view.TWSMS, m.view.TWARad))+bit(r.Both)]
				break
			}
		}
	}
	for i := range sums {
		s := &sums[i]
		if c.Rules[i].Setting != 0 && !(s.outS > 0 && s.lengthM/s.outS-s.lengthM/s.inS >= leastGainMS) {
			boxes = append(boxes, i)
		}
	}
	return boxes
}

// costs is the mean time lost against the exact plan for each card.
func (f *fitter) costs(cards []*Card) ([]float64, error) {
	lost := make([][]float64, len(f.ps))
	eg, ctx := errgroup.WithContext(f.ctx)
	eg.SetLimit(f.opt.workers())
	for i, p := range f.ps {
		eg.Go(func() error {
			lost[i] = make([]float64, len(cards))
			for j, c := range cards {
				if err := ctx.Err(); err != nil {
					return err
				}
				t, err := p.estimate(c)
				if err != nil {
					return err
				}
				lost[i][j] = t - p.BestS
			}
			return nil
		})
	}
	if err := eg.Wait(); err != nil {
		return nil, err
	}
	out := make([]float64, len(cards))
	for j := range out {
		for i := range lost {
			out[j] += lost[i][j]
		}
		out[j] /= float64(len(f.ps))
	}
	return out, nil
}
