package vpp

import (
	"math"
)

// Choices: which sails, keel cant and ballast are the best at one speed.

// firstChoice is the smallest sail set with everything to windward: a start from
// which the climb always finds its way.
func (s *Solver) firstChoice() choice {
	return choice{0, int16(min(2, len(s.m.righting)-1))}
}

func (s *Solver) index(c choice) int { return int(c.sail)*len(s.m.righting) + int(c.rung) }

// allowed reports whether there is such a choice, and whether the sails may be
// carried in this wind; the smallest may always.
func (s *Solver) allowed(c choice) bool {
	return c.sail >= 0 && int(c.sail) < len(s.m.sails) && c.rung >= 0 && int(c.rung) < len(s.m.righting) &&
		(c.sail == 0 || s.m.sails[c.sail].maxTWS >= s.cond.TWSMS)
}

// climb finds the best choice at one speed: all choices with sails that may be the best at the first node, after
// that uphill from the last node's choice, over all sail sets and the
// neighbouring rungs of keel and ballast, where a choice that was far behind is
// left alone for some nodes.
func (s *Solver) climb(nd *node, sp *speedState, i int, at choice, guess [nUnknown]float64, all bool) {
	nd.ok = false
	best := s.try(sp, i, at, &guess, nil)
	bi := at
	consider := func(c choice) {
		if !s.allowed(c) {
			return
		}
		k := &s.cand[s.index(c)]
		if k.done == i+1 || k.skip > i && !s.settling(best) {
			return
		}
		k = s.try(sp, i, c, &guess, best)
		if k.ok && (best == nil || !best.ok || k.rank > best.rank) {
			best, bi = k, c
		}
	}
	if all {
		for a := range s.m.sails {
			for r := range s.m.righting {
				if c := (choice{int16(a), int16(r)}); best == nil || !best.ok || s.promising(sp, c, bi, best) {
					consider(c)
				}
			}
		}
	} else {
		for from := (choice{-1, -1}); from != bi; {
			from = bi
			for a := range s.m.sails {
				if c := (choice{int16(a), from.rung}); best == nil || !best.ok || s.settling(best) || s.promising(sp, c, bi, best) {
					consider(c)
					s.otherRungs(i, c, best, consider)
				}
			}
			consider(choice{from.sail, from.rung + 1})
			consider(choice{from.sail, from.rung - 1})
		}
	}
	if best == nil || !best.ok {
		return
	}
	// A choice that trails by 6 % of the drive for each node can wait that long.
	unit := 0.06*math.Abs(best.rank) + 0.004*s.m.hull.w0
	for j := range s.cand {
		if k := &s.cand[j]; k.done == i+1 && k.ok {
			k.skip = i + 1 + min(int((best.rank-k.rank)/unit), 2)
			if s.hasty { // the order of the braking hardly hangs on the choice
				k.skip = i + 3
			}
			for l := range k.off {
				k.off[l] = k.x[l] - best.x[l]
			}
		}
	}
	nd.ok, nd.at, nd.x, nd.bal, nd.order = true, bi, best.x, best.bal, best.rank
	nd.net[PowerFull] = best.bal.net
}

// promising guesses, from the wind on the sails alone, whether another sail set
// may beat the one in use: at the heel of the best solution and eased until it
// heels the boat no more than the boat can stand, does it drive about as well?
func (s *Solver) promising(sp *speedState, c, used choice, best *candidate) bool {
	if c.sail == used.sail {
		return true
	}
	m := s.m
	cos := con(math.Cos(best.bal.phi))
	rig := &m.boat.Rig
	pull := func(sd *sailData, f float64) (drive, moment float64) {
		d, sf := sd.forces(&sp.wind, con(f), cos, 1, m.factors.SailPower, rig.MinDepower)
		return d.v, sf.v * (sd.ce*(1-rig.TwistDrop*(1-f)) - m.boat.Hull.CGHeightM)
	}
	drive, moment := pull(m.sails[used.sail], best.bal.depower)
	// Heel not used yet; 3 m is a generous metacentric height with keel and foil.
	moment += 3 * m.hull.w0 * max(0, m.boat.Limits.MaxHeelRad-best.bal.phi)
	moment = max(moment, 0)
	sd := m.sails[c.sail]
	lo, hi := 0.02, 1.0
	d, mo := pull(sd, hi)
	if mo > moment {
		for range 7 {
			mid := 0.5 * (lo + hi)
			if _, mo := pull(sd, mid); mo > moment {
				hi = mid
			} else {
				lo = mid
			}
		}
		d, _ = pull(sd, hi)
	}
	over := max(0, rig.MinDepower-hi) - max(0, rig.MinDepower-best.bal.depower)
	return d-2*m.hull.w0*over > drive-0.05*math.Abs(drive)-0.003*m.hull.w0
}

// closeBehind is how far behind the best, as a share of the weight, a choice is
// looked at with care where the boat settles.
const closeBehind = 0.02

// otherRungs looks at the other rungs of keel and ballast for sails that run
// close behind where the boat settles: smaller sails want less ballast.
func (s *Solver) otherRungs(i int, c choice, best *candidate, consider func(choice)) {
	if !s.settling(best) {
		return
	}
	k := &s.cand[s.index(c)]
	if k.done != i+1 || !k.ok || k.rank < best.rank-closeBehind*s.m.hull.w0 {
		return
	}
	for _, d := range [...]int16{-1, 1} {
		last := k.rank
		for n := (choice{c.sail, c.rung + d}); s.allowed(n); n.rung += d {
			consider(n)
			o := &s.cand[s.index(n)]
			if o.done != i+1 || !o.ok || !(o.rank > last) {
				break
			}
			last = o.rank
		}
	}
}

// settling reports whether the boat is about to settle with the choice k: its
// speed then hangs on the choice, and all are looked at with care.
func (s *Solver) settling(k *candidate) bool {
	return k != nil && k.ok && math.Abs(k.rank) < 0.015*s.m.hull.w0
}

// try solves one choice at node i, from the best solution at hand there shifted
// by what lay between the two when last both were solved.
func (s *Solver) try(sp *speedState, i int, c choice, guess *[nUnknown]float64, best *candidate) *candidate {
	k := &s.cand[s.index(c)]
	k.x = *guess
	if best != nil && best.ok {
		k.x = best.x
		if k.done == i {
			for j := range k.x {
				k.x[j] += k.off[j]
			}
		}
	}
	t := s.task(sp, c, 1)
	t.quick = true
	if best != nil && best.ok {
		t.least = best.rank
		if s.settling(best) {
			t.least -= closeBehind * s.m.hull.w0
		}
	}
	k.ok = s.balance(&t, &k.x, &k.bal, best == nil && !s.hasty || s.settling(best))
	k.rank = s.rank(&k.bal)
	k.done = i + 1
	return k
}
