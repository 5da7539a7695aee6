package vpp

import (
	"fmt"
	"strings"
)

// BestSetting is the setting of the leeward foil that sails fastest in the
// condition, among those of [Boat.Settings] (in is one of them) that no limit
// refuses, and the steady state there. With no setting solved the status says
// why, for foils in.
func (m *Model) BestSetting(c Condition, windward FoilSetting) (FoilSetting, Point, Status) {
	s := m.pool.Get().(*Solver)
	defer m.pool.Put(s)
	return s.BestSetting(c, windward)
}

// BestSetting is Model.BestSetting on this solver.
func (s *Solver) BestSetting(c Condition, windward FoilSetting) (FoilSetting, Point, Status) {
	var at FoilSetting
	best, status := s.Solve(c, at, windward)
	for _, set := range s.m.boat.Settings()[1:] {
		if p, st := s.Solve(c, set, windward); st == Solved && (status != Solved || p.BSPMS > best.BSPMS) {
			at, best, status = set, p, st
		}
	}
	return at, best, status
}

// WithSails returns the same boat with only the named sail sets aboard, in the
// order of the boat file. Names are matched without regard to case. An unknown
// name is an error that lists the known ones.
func (b *Boat) WithSails(names ...string) (*Boat, error) {
	c := *b
	c.Rig.SailSets = nil
	want := map[string]bool{}
	for _, n := range names {
		want[strings.ToLower(strings.TrimSpace(n))] = false
	}
	var known []string
	for _, s := range b.Rig.SailSets {
		key := strings.ToLower(s.Name)
		known = append(known, s.Name)
		if _, ok := want[key]; ok {
			want[key] = true
			c.Rig.SailSets = append(c.Rig.SailSets, s)
		}
	}
	for _, n := range names {
		if !want[strings.ToLower(strings.TrimSpace(n))] {
			return nil, fmt.Errorf("vpp: no sail set %q; the boat has: %s", n, strings.Join(known, "; "))
		}
	}
	if len(c.Rig.SailSets) == 0 {
		return nil, fmt.Errorf("vpp: no sail sets chosen; the boat has: %s", strings.Join(known, "; "))
	}
	return &c, nil
}

// WithFinerRakes is the boat with a rake halfway between each two of its grid.
func (b *Boat) WithFinerRakes() *Boat {
	c := *b
	if b.Foils == nil {
		return &c
	}
	f := *b.Foils
	f.RakesRad = nil
	for i, r := range b.Foils.RakesRad {
		if i > 0 {
			f.RakesRad = append(f.RakesRad, (b.Foils.RakesRad[i-1]+r)/2)
		}
		f.RakesRad = append(f.RakesRad, r)
	}
	c.Foils = &f
	return &c
}
