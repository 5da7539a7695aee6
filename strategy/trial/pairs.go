package trial

// PairSummary compares two policies on the weathers that both finished.
type PairSummary struct {
	A       string `json:"a"`
	B       string `json:"b"`
	N       int    `json:"n"`
	SavedBy Spread `json:"a_saves_min"` // time of b − time of a
	// Mean is the interval of the mean for this pair alone, Joint the one that
	// counts where several pairs are compared: with the level's probability the
	// joint intervals of all pairs of a boat hold.
	Mean  Interval `json:"mean_interval_min"`
	Joint Interval `json:"joint_interval_min"`
	AWins float64  `json:"a_wins_share"` // a tie counts half
	// Certain says that Mean does not hold 0, Clear that Joint does not.
	Certain bool `json:"certain"`
	Clear   bool `json:"certain_jointly"`
}

// Reversed is the comparison of b with a.
func (p PairSummary) Reversed() PairSummary {
	p.A, p.B = p.B, p.A
	s := p.SavedBy
	p.SavedBy = Spread{Median: -s.Median, P10: -s.P90, P90: -s.P10, Mean: -s.Mean}
	p.Mean, p.Joint = p.Mean.reversed(), p.Joint.reversed()
	p.AWins = 1 - p.AWins
	return p
}

// pairs compares every policy with every other one; common are the weathers that
// all finished.
func pairs(cols []column, common []int, weathers int, boot Bootstrap) (out []PairSummary) {
	var saved [][]float64
	for i := range cols {
		for j := i + 1; j < len(cols); j++ {
			saved = append(saved, savedMin(cols[i], cols[j], common))
		}
	}
	far := boot.farthest(saved)
	for i := range cols {
		for j := i + 1; j < len(cols); j++ {
			out = append(out, pair(cols[i], cols[j], weathers, boot, far))
		}
	}
	return out
}

// savedMin lists the minutes that a saves over b.
func savedMin(a, b column, at []int) []float64 {
	return scaled(Differences(pick(b, at, timeS), pick(a, at, timeS)), 1.0/60)
}

func pair(a, b column, weathers int, boot Bootstrap, far float64) PairSummary {
	both := arrivedAll([]column{a, b}, weathers)
	d := savedMin(a, b, both)
	p := PairSummary{A: a.name, B: b.name, N: len(both), SavedBy: NewSpread(d)}
	_, p.Mean = boot.Mean(d)
	p.Joint = boot.reaching(d, far)
	p.Certain = len(both) > 1 && !p.Mean.holds(0)
	p.Clear = len(both) > 1 && !p.Joint.holds(0)
	for _, v := range d {
		switch {
		case v*60 > tieS:
			p.AWins++
		case v*60 >= -tieS:
			p.AWins += 0.5
		}
	}
	if len(d) > 0 {
		p.AWins /= float64(len(d))
	}
	return p
}
