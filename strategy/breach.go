package strategy

import (
	"fmt"
	"math"
	"sort"
	"time"

	"foilledger/vpp/units"
)

// Breach is one place where a voyage breaks a rule for the person or comes up
// against a limit of the boat.
type Breach struct {
	Rule  Rule
	Limit bool    // a limit stops the boat; Rule says nothing
	TimeS float64 // seconds after the forecast's reference
	Words string  // what is broken and by how much
}

// Breaches lists, in the order of their times, where a voyage breaks the
// problem's rules and where a limit of the boat stops it. It is for schedules
// given by hand, which are priced as they are.
func (p *Problem) Breaches(lg *Log) []Breach {
	r := &p.person
	var out []Breach
	add := func(rule Rule, t float64, format string, a ...any) {
		out = append(out, Breach{Rule: rule, TimeS: t, Words: fmt.Sprintf(format, a...)})
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
	rep := p.RestReport(lg)
	if r.RestS > 0 && rep.Least.RestS < r.RestS-1 {
		add(RuleRestQuota, rep.Least.FromS, "the 24 hours from then leave %.1f h of rest; %.1f h are wanted", rep.Least.RestS/units.SPerHour, r.RestS/units.SPerHour)
	}
	for _, g := range rep.Given {
		for _, s := range lg.spans(g.FromS, g.ToS, func(e *Entry) bool {
			if e.alone == nil {
				return false
			}
			safe, _ := e.alone()
			return !safe
		}) {
			add(RuleRestState, s.FromS, "the foils cannot be left alone until %s", p.clock(s.ToS))
		}
		if share := or(p.opt.Probability, 1); g.Share < share-1e-9 {
			add(RuleRestState, g.FromS, "the foils hold through the rest until %s in %.0f %% of the forecast members; %.0f %% are wanted", p.clock(g.ToS), 100*g.Share, 100*share)
		}
	}
	held := func(e *Entry) bool { return e.Pace.Held && e.LengthM == 0 }
	for _, s := range lg.spans(p.DepartS, math.Inf(1), held) {
		out = append(out, Breach{Limit: true, TimeS: s.FromS, Words: fmt.Sprintf("limit %q stops the boat until %s", s.ruledBy, p.clock(s.ToS))})
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].TimeS < out[j].TimeS })
	return out
}

// logSpan is a span of a log in which something holds throughout.
type logSpan struct {
	Window
	ruledBy string // the limit that rules at its beginning
}

// spans lists the spans between two times in which every entry is one that is
// asked for.
func (lg *Log) spans(fromS, toS float64, is func(*Entry) bool) (out []logSpan) {
	for i := range lg.Entries {
		e := &lg.Entries[i]
		w := Window{max(e.StartS, fromS), min(e.EndS, toS)}
		if w.ToS <= w.FromS || !is(e) {
			continue
		}
		if n := len(out); n > 0 && w.FromS-out[n-1].ToS < 1 {
			out[n-1].ToS = w.ToS
		} else {
			out = append(out, logSpan{w, lg.Steady(e).RuledBy})
		}
	}
	return out
}

// clock writes a moment in UTC.
func (p *Problem) clock(tS float64) string {
	return p.wx.Reference().Add(time.Duration(tS * float64(time.Second))).UTC().Format("Jan 02 15:04")
}
