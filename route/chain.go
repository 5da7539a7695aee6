package route

import (
	"context"
	"fmt"
	"math"
)

// Chain is the search along a given track: the stages one after the other, all
// states. Course[k].State is the state at the end of stage k−1; Course[0] is
// the departure. With NoCourse, Course reaches as far as the track can be
// sailed and Reason names the stage.
func Chain(ctx context.Context, mover Mover, stages []Stage, departures []Departure) (*Result, error) {
	if len(stages) == 0 {
		return nil, &TrackError{Msg: "no stages"}
	}
	S := mover.States()
	arrive := make([]float64, S*(len(stages)+1))
	pred := make([]int32, S*(len(stages)+1))
	for i := range arrive {
		arrive[i], pred[i] = math.Inf(1), -1
	}
	if len(departures) == 0 {
		return nil, fmt.Errorf("chain: no departure")
	}
	first := math.Inf(1)
	for _, d := range departures {
		if d.State < 0 || d.State >= S || !finite(d.TimeS) {
			return nil, fmt.Errorf("chain: departure in state %d of %d at %v s", d.State, S, d.TimeS)
		}
		arrive[d.State] = math.Min(arrive[d.State], d.TimeS)
		first = math.Min(first, d.TimeS)
	}
	sailor := mover.Sailor()
	r := &Result{RelaxedS: math.NaN(), LowerBoundS: math.Inf(-1)}
	var e Edge
	done := 0
	length := 0.0
	for k, st := range stages {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		e.set(WGS84, st.From, st.To)
		e.LengthM, e.BearingRad = st.LengthM, st.BearingRad
		e.Stage, e.Leg = k, st.Leg
		length += st.LengthM
		depart, to := arrive[k*S:(k+1)*S], arrive[(k+1)*S:(k+2)*S]
		from := pred[(k+1)*S : (k+2)*S]
		if err := sailor.Sail(&e, depart, to, from); err != nil {
			return nil, err
		}
		any := false
		for q, t := range to {
			if math.IsInf(t, 1) {
				continue
			}
			if f := from[q]; f < 0 || int(f) >= S || !(t >= depart[f]) {
				return nil, fmt.Errorf("chain: stage %d: the mover arrives at %v s in state %d from state %d that left at %v s", k, t, q, f, departOr(depart, f))
			}
			any = true
		}
		if !any {
			break
		}
		done = k + 1
	}
	best := 0
	for q := range S {
		if arrive[done*S+q] < arrive[done*S+best] {
			best = q
		}
	}
	r.Course = make([]Step, done+1)
	at := int32(best)
	for k := done; k >= 0; k-- {
		p, leg := stages[0].From, stages[0].Leg
		if k > 0 {
			p, leg = stages[k-1].To, stages[k-1].Leg
		}
		r.Course[k] = Step{Point: p, TimeS: arrive[k*S+int(at)], State: int(at), Leg: leg}
		at = pred[k*S+int(at)]
	}
	if v := mover.MaxSpeedMS(); v > 0 && !math.IsInf(v, 1) {
		r.LowerBoundS = first + length/v
	}
	if done < len(stages) {
		r.Status, r.ArrivalS = NoCourse, math.Inf(1)
		r.Reason = fmt.Sprintf("stage %d of %d cannot be sailed from %s", done+1, len(stages), FormatLatLon(stages[done].From))
		return r, nil
	}
	r.Status, r.ArrivalS = Found, arrive[done*S+best]
	return r, nil
}
