package strategy

import "math"

// Nap is an unbroken span in which the person can rest.
type Nap struct{ FromS, ToS float64 }

// RestWindow is the rest that 24 hours hold.
type RestWindow struct{ FromS, RestS float64 }

// RestReport is what a voyage leaves to the person.
type RestReport struct {
	Naps []Nap
	// Windows are the whole windows of 24 hours, at the person's steps.
	Windows []RestWindow
	// Least is the window of 24 hours, beginning at any minute, that holds the
	// least rest; it is NaN for a voyage shorter than that.
	Least RestWindow
	// EffortJ is the work of each day counted from the departure.
	EffortJ []float64
	// TurnsInRests is the number of tacks and gybes that fall into the given
	// rests.
	TurnsInRests float64
}

// RestReport counts the rest in the log of a voyage, by the spans of the log
// alone.
func (p *Problem) RestReport(lg *Log) RestReport {
	var rep RestReport
	gap := p.DepartS
	closeGap := func(t float64) {
		if t-gap >= p.person.NapS && t > gap {
			rep.Naps = append(rep.Naps, Nap{gap, t})
		}
	}
	end := p.DepartS
	for i := range lg.Entries {
		e := &lg.Entries[i]
		end = math.Max(end, e.EndS)
		idle := !e.Changing || e.waiting
		if idle && e.safe != nil {
			idle = e.safe()
		}
		if e.BoardS > 0 {
			idle = idle && e.Pace.Zigzag && e.LengthM > 0 && e.Pace.ChangesPerS*p.person.NapS <= 1
			for _, w := range p.person.Rests {
				if d := math.Min(e.EndS, w.ToS) - math.Max(e.StartS, w.FromS); d > 0 {
					if e.Pace.Zigzag {
						rep.TurnsInRests += e.Pace.ChangesPerS * d
					} else {
						rep.TurnsInRests++
					}
				}
			}
		}
		if !idle {
			closeGap(e.StartS)
			gap = math.Max(gap, e.EndS)
		}
	}
	closeGap(end)
	rest := func(from float64) float64 {
		sum := 0.0
		for _, n := range rep.Naps {
			sum += math.Max(0, math.Min(n.ToS, from+dayS)-math.Max(n.FromS, from))
		}
		return sum
	}
	ws := or(p.person.WindowS, 6*3600)
	for from := p.DepartS; from+dayS <= end; from += ws {
		rep.Windows = append(rep.Windows, RestWindow{from, rest(from)})
	}
	rep.Least = RestWindow{math.NaN(), math.NaN()}
	for from := p.DepartS; from+dayS <= end; from += 60 {
		if r := rest(from); !(r >= rep.Least.RestS) {
			rep.Least = RestWindow{from, r}
		}
	}
	rep.EffortJ = make([]float64, int(math.Ceil((end-p.DepartS)/dayS)))
	for i := range lg.Changes {
		c := &lg.Changes[i]
		if d := int(p.day(c.TimeS)); d >= 0 && d < len(rep.EffortJ) {
			rep.EffortJ[d] += c.Price.EffortJ
		}
	}
	return rep
}
