package strategy

import "foilledger/vpp/units"

// SailStage sails one stage by itself: the boat comes to its start at departS
// in one state, changes to another there, and sails on. The stage's arrival is
// +Inf when the boat does not get through.
func (p *Problem) SailStage(n int, from, to State, departS float64) (Stage, error) {
	st, err := p.sailStage(n, p.states.Index(from), p.states.Index(to), departS, false, nil)
	if err != nil {
		return Stage{}, &PassageError{DistanceNM: p.course.legs[n].startM / units.MPerNM, Err: err}
	}
	return st, nil
}
