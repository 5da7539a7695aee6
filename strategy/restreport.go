package strategy

import "math"

// Nap is an unbroken span in which the person can rest.
type Nap struct {
	FromS, ToS float64
	// Share of the members in which the foil state left on holds from its
	// beginning to its end; 1 without members.
	Share float64
}

// RestWindow is the rest that 24 hours hold.
type RestWindow struct{ FromS, RestS float64 }

// RestReport is what a voyage leaves to the person.
type RestReport struct {
	Naps []Nap
	// Given are the given rests that the voyage meets.
	Given []Nap
	// Least are the 24 hours that hold the least rest, whenever they begin; it
	// is NaN for a voyage shorter than that.
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
	var hold members
	closeGap := func(t float64) {
		if t-gap >= p.person.NapS && t > gap {
			rep.Naps = append(rep.Naps, Nap{gap, t, p.share(hold)})
		}
	}
	end := p.DepartS
	for i := range lg.Entries {
		e := &lg.Entries[i]
		end = math.Max(end, e.EndS)
		idle := !e.Changing || e.waiting
		var here members
		if idle && e.alone != nil {
			idle, here = e.alone()
		}
		if e.BoardS > 0 {
			idle = idle && e.Pace.Zigzag && e.LengthM > 0 && e.Pace.ChangesPerS*p.person.NapS <= 1
			rep.TurnsInRests += p.turnsInRests(e)
		}
		switch next := hold.and(here); {
		case !idle:
			closeGap(e.StartS)
			gap, hold = math.Max(gap, e.EndS), nil
		case p.enough(next):
			hold = next
		default: // another nap
			closeGap(e.StartS)
			gap, hold = e.StartS, here
		}
	}
	closeGap(end)
	for _, w := range p.person.Rests {
		if w.FromS < end && w.ToS > p.DepartS {
			rep.Given = append(rep.Given, Nap{math.Max(w.FromS, p.DepartS), math.Min(w.ToS, end), p.share(p.holdersIn(lg, w))})
		}
	}
	rep.Least = p.leastRest(rep.Naps, end)
	rep.EffortJ = make([]float64, int(math.Ceil((end-p.DepartS)/dayS)))
	for i := range lg.Changes {
		c := &lg.Changes[i]
		if d := int(p.day(c.TimeS)); d >= 0 && d < len(rep.EffortJ) {
			rep.EffortJ[d] += c.Price.EffortJ
		}
	}
	return rep
}

// leastRest finds the 24 hours with the least rest: they end where a nap begins
// or begin where one ends, or are the first or the last of the voyage.
func (p *Problem) leastRest(naps []Nap, endS float64) RestWindow {
	least := RestWindow{math.NaN(), math.NaN()}
	try := func(from float64) {
		if from < p.DepartS || from+dayS > endS {
			return
		}
		sum := 0.0
		for _, n := range naps {
			sum += math.Max(0, math.Min(n.ToS, from+dayS)-math.Max(n.FromS, from))
		}
		if !(sum >= least.RestS) {
			least = RestWindow{from, sum}
		}
	}
	try(p.DepartS)
	for _, n := range naps {
		try(n.FromS - dayS)
		try(n.ToS)
	}
	try(endS - dayS)
	return least
}

// turnsInRests is the number of tacks and gybes of an entry that fall into the
// given rests.
func (p *Problem) turnsInRests(e *Entry) (n float64) {
	for _, w := range p.person.Rests {
		if d := math.Min(e.EndS, w.ToS) - math.Max(e.StartS, w.FromS); d > 0 {
			if e.Pace.Zigzag {
				n += e.Pace.ChangesPerS * d
			} else {
				n++
			}
		}
	}
	return n
}

// holdersIn returns the members in which the foils hold through a given rest.
func (p *Problem) holdersIn(lg *Log, w Window) (all members) {
	for i := range lg.Entries {
		e := &lg.Entries[i]
		if e.alone != nil && e.EndS > w.FromS && e.StartS < w.ToS && e.Pace.AlongMS > 0 {
			_, here := e.alone()
			all = all.and(here)
		}
	}
	return all
}
