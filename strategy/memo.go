package strategy

// memo keeps the prices of changes at the start of one stage for a search that
// meets them many times. It is emptied when the search goes on to another
// stage.
type memo struct {
	leg  *leg
	bins []memoBin
	free [][]priced // rows to be used again
}

// memoBin holds the prices in one interval, by the state before.
type memoBin struct {
	k    int
	rows [][]priced
}

// priced is what a search needs of a price.
type priced struct {
	timeS, distanceM, effectS, effortJ float64
	known                              bool
}

// row returns the prices of changes from a state in interval k of a leg.
func (m *memo) row(l *leg, k, s0, states int) []priced {
	if m.leg != l {
		for i := range m.bins {
			b := &m.bins[i]
			for j, r := range b.rows {
				if r != nil {
					m.free = append(m.free, r)
					b.rows[j] = nil
				}
			}
		}
		m.leg, m.bins = l, m.bins[:0]
	}
	var b *memoBin
	for i := range m.bins {
		if m.bins[i].k == k {
			b = &m.bins[i]
		}
	}
	if b == nil {
		if len(m.bins) < cap(m.bins) {
			m.bins = m.bins[:len(m.bins)+1]
		} else {
			m.bins = append(m.bins, memoBin{})
		}
		b = &m.bins[len(m.bins)-1]
		b.k = k
		if b.rows == nil {
			b.rows = make([][]priced, states)
		}
	}
	if b.rows[s0] == nil {
		if n := len(m.free); n > 0 {
			b.rows[s0], m.free = m.free[n-1], m.free[:n-1]
			clear(b.rows[s0])
		} else {
			b.rows[s0] = make([]priced, states)
		}
	}
	return b.rows[s0]
}

// priceAt prices a change at the start of a leg. With a memo the parts of the
// price are left out.
func (p *Problem) priceAt(l *leg, k int, b *bin, s0, s1 int, q1 *binPace, out *Price) {
	s := &l.steps[0]
	if p.memo == nil {
		q0, _ := p.paceIn(s, k, s0)
		p.priceIn(s, k, b, s0, s1, q0, q1, out)
		return
	}
	c := &p.memo.row(l, k, s0, len(p.states.all))[s1]
	if !c.known {
		var full Price
		q0, _ := p.paceIn(s, k, s0)
		p.priceIn(s, k, b, s0, s1, q0, q1, &full)
		*c = priced{full.TimeS, full.DistanceM, full.effectS, full.EffortJ, true}
	}
	out.TimeS, out.DistanceM, out.effectS, out.EffortJ, out.n = c.timeS, c.distanceM, c.effectS, c.effortJ, 1
}
