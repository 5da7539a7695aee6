package strategy

import (
	"fmt"
	"time"

	"foilledger/vpp/units"
)

// Breach is one place where a voyage breaks a rule for the person.
type Breach struct {
	Rule  Rule
	TimeS float64 // seconds after the forecast's reference
	Words string  // what is broken and by how much
}

// Breaches lists where the changes of a voyage break the problem's rules: given
// rests, spacing, effort, number of changes and the rest quota. It is for
// schedules given by hand, which are priced as they are.
func (p *Problem) Breaches(lg *Log) []Breach {
	r := &p.person
	var out []Breach
	add := func(rule Rule, t float64, format string, a ...any) {
		out = append(out, Breach{rule, t, fmt.Sprintf(format, a...)})
	}
	done := 0.0 // of the change before
	day, work := int32(-1), 0.0
	for i := range lg.Changes {
		c := &lg.Changes[i]
		took := c.Price.TimeS - c.Price.WaitS
		for _, w := range r.Rests {
			if c.TimeS < w.ToS && c.TimeS+took > w.FromS {
				add(RuleGivenRests, c.TimeS, "the change falls into the rest from %s to %s", p.clock(w.FromS), p.clock(w.ToS))
			}
		}
		if i > 0 && c.TimeS < done+r.SpacingS-1 {
			add(RuleSpacing, c.TimeS, "%.0f min after the change before; the spacing is %.0f min", (c.TimeS-done)/60, r.SpacingS/60)
		}
		done = c.TimeS + took
		if r.Changes > 0 && i >= r.Changes {
			add(RuleChanges, c.TimeS, "change number %d; %d are wanted at the most", i+1, r.Changes)
		}
		if d := p.day(c.TimeS); d != day {
			day, work = d, 0
		}
		work += countedJ(c.Price.EffortJ)
		if r.EffortJ > 0 && work > r.EffortJ*(1+1e-9) {
			add(RuleEffort, c.TimeS, "brings the day's work to %.0f kJ; the limit is %.0f kJ", work/1e3, r.EffortJ/1e3)
		}
	}
	if r.RestS > 0 {
		if w := p.RestReport(lg).Least; w.RestS < r.RestS-1 {
			add(RuleRestQuota, w.FromS, "the 24 hours from then leave %.1f h of rest; %.1f h are wanted", w.RestS/units.SPerHour, r.RestS/units.SPerHour)
		}
	}
	return out
}

// clock writes a moment in UTC.
func (p *Problem) clock(tS float64) string {
	return p.wx.Reference().Add(time.Duration(tS * float64(time.Second))).UTC().Format("02 15:04")
}
