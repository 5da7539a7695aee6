package strategy

import "math"

// leastLost is a lower bound of the time that the change from s0 to s1 loses:
// the work on a loaded foil is done at its ceiling or below, all other work
// unattended at most at the faster of the two steady speeds.
func (sc *scene) leastLost(s0, s1 State, unloaded bool) float64 {
	pr := sc.pr
	n := len(pr.states.settings)
	v0, v1 := sc.steady(sc.role(s0)), sc.steady(sc.role(s1))
	if v1 < stoppedMS {
		return 0
	}
	lost := 0.0
	top := max(pr.h.UnattendedSpeed*max(v0, v1), min(v0, v1))
	for side := Port; side <= Starboard; side++ {
		ms := &pr.moves[int(s0.On(side))*n+int(s1.On(side))]
		lee := (side == Port) == sc.starboard
		for i := range ms.n {
			m := &ms.m[i]
			v := top
			if lee && !unloaded {
				v = min(v, m.ceilingMS)
				if v0 > m.ceilingMS && v0 > v1 {
					lost += longestChangeS * (1 - v0/v1) // what slowing down may gain
				}
			}
			if v <= v1 {
				lost += m.leastS * sc.slowWork * (1 - v/v1)
			} else {
				lost += longestChangeS * (1 - v/v1)
			}
		}
	}
	return lost
}

// mayGain reports whether the change from s0 to s1 can lose less than nothing.
func (sc *scene) mayGain(s0, s1 State) bool { return sc.steady(sc.role(s0)) > sc.steady(sc.role(s1)) }

// longestChangeS is longer than any change takes.
const longestChangeS = 3600

// coast is how a role comes out of a tack or gybe, in which the sails do not
// drive.
type coast struct {
	speedMS, distM float64
	known          bool
}

// coast lets a role coast for a tack or gybe. Many states share it.
func (sc *scene) coast(role int, tack bool) *coast {
	kind, d := 0, sc.pr.h.GybeS
	if tack {
		kind, d = 1, sc.pr.h.TackS
	}
	if sc.coasts[kind] == nil {
		sc.coasts[kind] = make([]coast, len(sc.flats))
	}
	c := &sc.coasts[kind][role]
	if c.known {
		return c
	}
	f := sc.pr.mixture(role, &sc.cell)
	v0 := f.steady()
	// The speed after coasting for d seconds: the time down to it falls with it.
	want := f.slow(profLooseTime, v0) + d
	lo, hi := 0, slowCells
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; float64(f.part(profLooseTime+mid)) > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	a, b := float64(f.part(profLooseTime+lo)), float64(f.part(profLooseTime+hi))
	v := float64(lo) * slowStepMS
	if a > b {
		v += math.Min(math.Max((a-want)/(a-b), 0), 1) * slowStepMS
	}
	*c = coast{v, math.Max(f.slow(profLooseDist, v)-f.slow(profLooseDist, v0), 0), true}
	return c
}

// regain is the part of a profile that says what speeding up again loses.
type regain [accelCells + 1]float32

// regain returns that part of a role's profile in the scene. Many states share
// it.
func (sc *scene) regain(role int) *regain {
	if sc.regains == nil {
		sc.regains = make([]regain, len(sc.flats))
		sc.regained = make([]bool, len(sc.flats))
	}
	r := &sc.regains[role]
	if !sc.regained[role] {
		sc.regained[role] = true
		for b, w := range sc.cell.weight {
			if w == 0 {
				continue
			}
			f := sc.pr.node(role, sc.cell.node[b])
			for i := range r {
				r[i] += w * f[profAccelLost+i]
			}
		}
	}
	return r
}

// board prices one change of board in state st from the wind on one side to
// the other: the sails do not drive for the time of the tack or gybe, and then
// the boat speeds up with the foils' roles exchanged.
func (sc *scene) board(st State, toStarboard, tack bool) (lostS float64) {
	pr := sc.pr
	d := pr.h.GybeS
	if tack {
		d = pr.h.TackS
	}
	l1, w1 := pr.states.roles(st, toStarboard)
	role := l1*pr.exts + w1
	v1 := sc.steady(role)
	if v1 < stoppedMS {
		return d
	}
	l0, w0 := pr.states.roles(st, !toStarboard)
	c := sc.coast(l0*pr.exts+w0, tack)
	lostS = d - c.distM/v1
	if i, r, ok := accelPlace(v1, c.speedMS); ok {
		f := sc.regain(role)
		lostS += float64(f[i] + r*(f[i+1]-f[i]))
	}
	return math.Max(lostS, 0)
}
