package vpp

import "foilledger/vpp/units"

// FlyingLoad is the share of the weight on the hull below which the boat is
// said to fly: its foils carry more than half.
const FlyingLoad = 0.5

// Flight is the wind in which one foil state takes off and comes down, at one
// angle and sea.
type Flight struct {
	TakesOff bool // some wind within the limits lifts a boat that comes from below
	Flies    bool // some wind within the limits keeps a boat up that flies already
	// TakeOffTWSMS is the least true wind in which a boat that speeds up from low
	// speed ends up flying; TouchDownTWSMS the least in which one that flies stays
	// up. Between the two both states are steady. Both 0 when there is none.
	TakeOffTWSMS, TouchDownTWSMS float64
	// The boat speeds there, flying.
	TakeOffBSPMS, TouchDownBSPMS float64
}

// Flight searches the true wind speed, in steps of a knot and then to a
// hundredth, up to the boat's limit for foils out or 42 kn. c.TWSMS is ignored;
// the sea stays as it is. Where a boat that has taken off is slowed by a limit in
// more wind the first wind counts.
func (m *Model) Flight(c Condition, leeward, windward FoilSetting) Flight {
	s := m.pool.Get().(*Solver)
	defer m.pool.Put(s)
	var f Flight
	f.TakeOffTWSMS, f.TakeOffBSPMS, f.TakesOff = s.firstFlying(c, leeward, windward, false)
	f.TouchDownTWSMS, f.TouchDownBSPMS, f.Flies = s.firstFlying(c, leeward, windward, true)
	return f
}

func (s *Solver) firstFlying(c Condition, leeward, windward FoilSetting, above bool) (twsMS, bspMS float64, ok bool) {
	flies := func(tws float64) (float64, bool) {
		c.TWSMS = tws
		p, st := s.solveFrom(c, leeward, windward, above)
		return p.BSPMS, st == Solved && p.HullLoad < FlyingLoad
	}
	top := min(units.MS(42), s.m.boat.Limits.MaxFoilsOutTWSMS)
	step := units.MS(1)
	for hi := units.MS(3); hi <= top; hi += step {
		v, up := flies(hi)
		if !up {
			continue
		}
		lo := hi - step
		for hi-lo > units.MS(0.01) {
			mid := 0.5 * (lo + hi)
			if w, up := flies(mid); up {
				hi, v = mid, w
			} else {
				lo = mid
			}
		}
		return hi, v, true
	}
	return 0, 0, false
}

// Flight is Model.Flight read from the table, to a twentieth of a knot: the sea
// is c.HsM, c.TWSMS is ignored.
func (t *Table) Flight(l, w int, c Condition) Flight {
	first := func(at func(l, w int, c Condition) Steady) (twsMS, bspMS float64, ok bool) {
		flies := func(tws float64) (float64, bool) {
			c.TWSMS = tws
			s := at(l, w, c)
			return s.BSPMS, s.OK && s.HullLoad < FlyingLoad
		}
		g := t.data.Grid.TWSMS
		top := min(g[len(g)-1], t.boat.Limits.MaxFoilsOutTWSMS)
		step := units.MS(0.5)
		for hi := max(units.MS(3), g[0]); hi <= top; hi += step {
			v, up := flies(hi)
			if !up {
				continue
			}
			lo := hi - step
			for hi-lo > units.MS(0.05) {
				mid := 0.5 * (lo + hi)
				if u, up := flies(mid); up {
					hi, v = mid, u
				} else {
					lo = mid
				}
			}
			return hi, v, true
		}
		return 0, 0, false
	}
	var f Flight
	f.TakeOffTWSMS, f.TakeOffBSPMS, f.TakesOff = first(t.At)
	f.TouchDownTWSMS, f.TouchDownBSPMS, f.Flies = first(t.AtAbove)
	return f
}
