package vpp

import (
	"math"
	"math/rand/v2"
	"testing"

	"foilledger/vpp/units"
)

// mostDrive is the greatest net force that any choice of sails, keel and ballast
// gives at one speed, as the crew ranks them: every one of them solved.
func mostDrive(s *Solver, v float64, from node) (rank float64, best choice) {
	rank = math.Inf(-1)
	s.m.prepare(&s.one, s.st, &s.cond, v)
	for a := range s.m.sails {
		for r := range s.m.righting {
			c := choice{int16(a), int16(r)}
			if !s.allowed(c) {
				continue
			}
			x := from.x
			var b balance
			// Overpowered sails are the crew's last resort; among those the order hangs
			// on the speed, and is not looked at.
			if s.balanceAt(&s.one, c, 1, &x, &b) && b.depower >= s.m.boat.Rig.MinDepower && s.rank(&b) > rank {
				rank, best = s.rank(&b), c
			}
		}
	}
	return rank, best
}

// TestNoBetterChoice: at the speed found no other sails, cant and ballast would
// drive the boat on. The solver looks at neighbouring choices only; here all are
// looked at.
func TestNoBetterChoice(t *testing.T) {
	n := 60
	if testing.Short() {
		n = 15
	}
	r := rand.New(rand.NewPCG(21, 1))
	for _, name := range []string{"none", "small", "big"} {
		m := exampleBoat(t, name)
		settings := m.Boat().Settings()
		s := m.NewSolver()
		worse, worst := 0, 0.0
		for range n {
			c := cond(4+30*r.Float64(), 35+145*r.Float64(), 0)
			if r.IntN(2) == 0 {
				c.HsM = 4 * r.Float64()
			}
			f := settings[r.IntN(len(settings))]
			p, st := s.Solve(c, f, FoilSetting{})
			if st != Solved && st != Refused || s.eq[0].bal.depower < m.boat.Rig.MinDepower {
				continue
			}
			eq := s.eq[0]
			rank, best := mostDrive(s, eq.v, eq)
			if d := rank - eq.order; d > 1e-5*m.hull.w0 {
				worse++
				worst = math.Max(worst, d/m.hull.w0)
				t.Logf("%s foils %.2f %.1f°, %.1f kn at %.0f°, %.1f m: at %.2f kn %s rung %d, but %s rung %d has %.4f of the weight more", name, f.Extension, units.Deg(f.RakeRad), units.Knots(c.TWSMS), units.Deg(c.TWARad), c.HsM,
					units.Knots(eq.v), p.Sail, eq.at.rung, s.m.sails[best.sail].name, best.rung, d/m.hull.w0)
			}
		}
		if worse > 0 {
			t.Errorf("%s: another choice is better at %d of %d points, by up to %.4f of the weight", name, worse, n, worst)
		}
	}
}
