package strategy

import (
	"fmt"
	"math"
)

// The causes of time gained, in the order in which a ledger lists them. The
// slow-downs have one cause for each kind of action.
const (
	CausePays     = "sailing with foils that pay"
	CausePaysNot  = "foils out that do not pay"
	CauseBoards   = "tacks and gybes"
	CauseWeather  = "different weather met by being earlier or later"
	CauseStopped  = "stopped by a limit, calm or current"
	CauseHull     = "foils aboard: weight and windage"
	causeSlowdown = "changing foils: "
)

// Item is one line of a ledger.
type Item struct {
	Cause string
	GainS float64 // positive: gained
}

// Ledger splits the time gained over a baseline.
type Ledger struct {
	Items []Item
	// Running is the time gained at the end of every stage: so much later the
	// baseline passes there.
	Running []float64
	TotalS  float64
	// Phases splits the causes of changing foils by what the boat does
	// meanwhile; its gains sum to those items.
	Phases []Phase
}

// Phase is the time gained (negative: lost) in the phases of one kind of
// action.
type Phase struct {
	Kind                        Kind
	SlowingS, WorkingS, RegainS float64
	WaitingS                    float64
}

// NewLedger splits the time that voyage v gained over a baseline on the same
// stages. base is the baseline's problem (the same track and departure) and b
// its voyage.
//
// For each stage let Δv and Δb be the times that the two boats take, each in
// the weather that it meets, and Δb′ the time that the baseline boat would take
// if it started when v does. Then
//
//	Δb − Δv = (Δb − Δb′) + (Δb′ − Δv),
//
// where the first part is the different weather, and the second is split into
// what sailing in the foil state gains over the baseline boat, minus the time
// lost in changes, in tacks and gybes beyond the baseline's, and stopped. The
// parts sum to the total by construction.
func (p *Problem) NewLedger(v *Voyage, base *Problem, b *Voyage) (*Ledger, error) {
	if len(v.Stages) != len(b.Stages) || len(v.Stages) != len(p.course.legs) {
		return nil, fmt.Errorf("strategy: ledger of voyages with %d and %d stages", len(v.Stages), len(b.Stages))
	}
	gain := map[string]float64{}
	var phases [kinds]Phase
	lg := &Ledger{Running: make([]float64, 0, len(v.Stages))}
	for k := range v.Stages {
		leg := &p.course.legs[k]
		s := &v.Stages[k]
		// The baseline boat on this stage, starting when v does.
		cf, err := base.stayOn(k, b.Stages[k].State, s.DepartS)
		if err != nil {
			return nil, &PassageError{DistanceNM: leg.startM / 1852, Err: err}
		}
		if math.IsInf(cf.ArriveS, 1) {
			return nil, fmt.Errorf("strategy: the baseline boat is stopped at stage %d when it meets the plan's weather", k)
		}
		// v on this stage without its change.
		still := *s
		if s.Change.n > 0 {
			still, err = p.stayOn(k, s.State, s.DepartS)
			if err != nil {
				return nil, &PassageError{DistanceNM: leg.startM / 1852, Err: err}
			}
			if math.IsInf(still.ArriveS, 1) {
				still = *s // stopped without the change's delay: charge nothing to it
				still.SailS = s.ArriveS - s.DepartS - s.BoardS - s.HeldS - s.CalmS
			}
		}
		took := s.ArriveS - s.DepartS
		gain[CauseWeather] += (b.Stages[k].ArriveS - b.Stages[k].DepartS) - (cf.ArriveS - s.DepartS)
		gain[CauseBoards] += cf.BoardS - still.BoardS
		gain[CauseStopped] += cf.HeldS + cf.CalmS - still.HeldS - still.CalmS
		sailing := cf.SailS - still.SailS
		switch {
		case !s.State.Out():
			if sailing != 0 {
				gain[CauseHull] += sailing
			}
		case sailing >= 0:
			gain[CausePays] += sailing
		default:
			gain[CausePaysNot] += sailing
		}
		// What the change took beyond sailing on, shared by the actions.
		lost := took - (still.ArriveS - still.DepartS)
		shareOut(gain, &phases, &s.Change, lost)
		lg.Running = append(lg.Running, b.Stages[k].ArriveS-s.ArriveS)
	}
	for _, c := range causes() {
		if g, ok := gain[c]; ok && (g != 0 || c == CausePays) {
			lg.Items = append(lg.Items, Item{c, g})
			lg.TotalS += g
		}
	}
	for k := range phases {
		ph := phases[k]
		ph.Kind = Kind(k)
		if ph != (Phase{Kind: Kind(k)}) {
			lg.Phases = append(lg.Phases, ph)
		}
	}
	return lg, nil
}

// stayOn sails a stage in a state that the boat has already.
func (p *Problem) stayOn(n int, st State, t float64) (Stage, error) {
	s := p.states.Index(st)
	return p.sailStage(n, s, s, t, false, nil)
}

// shareOut charges the time lost in a change to the kinds of its actions in
// proportion to their shares of its price.
func shareOut(gain map[string]float64, phases *[kinds]Phase, c *Price, lost float64) {
	if lost == 0 {
		return
	}
	sum := 0.0
	for _, q := range c.Parts() {
		sum += math.Abs(q.LostS)
	}
	if c.n == 0 || sum == 0 {
		gain[CausePaysNot] -= lost
		return
	}
	waited := math.Min(c.WaitS, math.Max(lost, 0))
	for _, q := range c.Parts() {
		share := math.Abs(q.LostS) / sum
		gain[causeSlowdown+q.Kind.String()] -= lost * share
		ph := &phases[q.Kind]
		ph.WaitingS -= waited * share
		rest := (lost - waited) * share
		if q.LostS == 0 {
			ph.WorkingS -= rest
			continue
		}
		ph.SlowingS -= rest * q.SlowingS / q.LostS
		ph.WorkingS -= rest * q.WorkingS / q.LostS
		ph.RegainS -= rest * q.RegainS / q.LostS
	}
}

func causes() []string {
	c := []string{CausePays, CausePaysNot, CauseHull}
	for k := range kinds {
		c = append(c, causeSlowdown+k.String())
	}
	return append(c, CauseBoards, CauseStopped, CauseWeather)
}
