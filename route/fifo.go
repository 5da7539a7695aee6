package route

import (
	"fmt"
	"math"
)

// CheckNoOvertaking sails the edge at many departures between firstS and
// lastS, stepS apart, from every state on its own, and returns an error when
// leaving later means arriving earlier by more than tolS. Earliest-arrival
// labels are exact only without that (D. E. Kaufman and R. L. Smith, Fastest
// paths in time-dependent networks, IVHS J. 1 (1993) 1-11). A mover may give up
// whoever has not arrived patienceS after the first departure: since every
// departure is sailed by itself here, one that was given up counts as arriving
// then, and a later one must not be sooner. 0 stands for no end.
func CheckNoOvertaking(mover Mover, e *Edge, firstS, lastS, stepS, tolS, patienceS float64) error {
	if patienceS <= 0 {
		patienceS = math.Inf(1)
	}
	S := mover.States()
	sailor := mover.Sailor()
	depart, arrive, from := make([]float64, S), make([]float64, S), make([]int32, S)
	before := make([]float64, S)
	for q := range S {
		for k := range depart {
			depart[k], before[k] = math.Inf(1), math.Inf(-1)
		}
		for i := 0; firstS+float64(i)*stepS <= lastS; i++ {
			depart[q] = firstS + float64(i)*stepS
			for k := range arrive {
				arrive[k], from[k] = math.Inf(1), -1
			}
			if err := sailor.Sail(e, depart, arrive, from); err != nil {
				return err
			}
			for k, t := range arrive {
				if !(t >= before[k]-tolS) {
					return fmt.Errorf("leaving in state %d at %v s arrives in state %d at %v s; leaving %v s earlier arrived at %v s", q, depart[q], k, t, stepS, before[k])
				}
				before[k] = math.Min(t, depart[q]+patienceS)
			}
		}
	}
	return nil
}

// NewEdge returns the edge from a to b on WGS84 with no limits, for tests of
// movers.
func NewEdge(a, b [2]float64) *Edge {
	e := new(Edge)
	e.set(WGS84, a, b)
	return e
}
