package main

import (
	"fmt"
	"sort"

	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// note lists what the result takes for granted, what ruled it, and what it
// warns of.
func (res *result) note(q *question) {
	res.noteAssumptions(q)
	res.noteLimits()
	res.noteEnds()
}

func (res *result) noteAssumptions(q *question) {
	o := &q.options.person
	res.assume = append(res.assume,
		"The boat departs with both foils in and sails the given track; on courses too close to the wind or too far off it she beats or gybes inside the corridor.",
		fmt.Sprintf("Foils change only at the ends of stages of at most %g nautical miles.", q.options.stageNM),
		fmt.Sprintf("Changes that gain less than %g min are left out; together they would have gained %.1f min more.", q.options.leastMin, res.thinnedS/60),
		"After a change the speed reached by accelerating is used, never the higher one that a boat already flying might keep.",
	)
	if o.night > 1 {
		res.assume = append(res.assume, fmt.Sprintf("In the dark an action takes %g times as long.", o.night))
	}
	power := q.boat.Handling.SustainedPowerW
	if o.powerW > 0 {
		power = o.powerW
	}
	res.assume = append(res.assume, fmt.Sprintf("One person sustains %.0f W at winch and pump.", power))
	if o.wantsRest() {
		text := fmt.Sprintf("Foils are left alone only where the boat's limits hold in gusts of %g times the mean wind, or in the forecast's gusts where it has them", o.gust)
		if len(q.forecast.Members) > 1 {
			text += fmt.Sprintf(", from the beginning of a rest to its end in %.0f %% or more of the forecast members", 100*o.share)
		}
		res.assume = append(res.assume, text+".")
		if o.sleepH > 0 {
			res.assume = append(res.assume, "The rest in every 24 hours holds for any 24 hours of the passage, whenever they begin.")
		}
	}
	if res.field.WavesDerived() {
		res.assume = append(res.assume, "The forecast has no waves: they are derived from its wind.")
	}
	if !res.field.Variables().Has(weather.HasWaveDirection) {
		res.assume = append(res.assume, "The waves run with the wind.")
	}
	if !res.field.Variables().Has(weather.HasCurrent) {
		res.assume = append(res.assume, "No current.")
	}
}

// noteLimits says which limits ruled, and for how long.
func (res *result) noteLimits() {
	var held, calm float64
	for _, s := range res.voyage.Stages {
		held += s.HeldS
		calm += s.CalmS
	}
	if held > 0 {
		res.warnings = append(res.warnings, fmt.Sprintf("a limit of the foils stops the plan for %.0f min in all", held/60))
	}
	if calm > 0 {
		res.warnings = append(res.warnings, fmt.Sprintf("the boat is becalmed or stopped by the current for %.1f h in all", calm/units.SPerHour))
	}
	g := res.problem.Grid()
	top := g.TWSMS[len(g.TWSMS)-1]
	var beyond float64
	ruled := map[string]float64{}
	for i := range res.log.Entries {
		e := &res.log.Entries[i]
		if e.Pace.TWSMS > top {
			beyond += e.EndS - e.StartS
		}
		if e.Changing {
			continue
		}
		if by := res.log.Steady(e).RuledBy; by != "" {
			ruled[by] += e.EndS - e.StartS
		}
	}
	if beyond > 0 {
		res.warnings = append(res.warnings, fmt.Sprintf("the wind is above the %.0f kn of the speed table for %.1f h; the table's last speeds are used", units.Knots(top), beyond/units.SPerHour))
	}
	names := make([]string, 0, len(ruled))
	for n := range ruled {
		names = append(names, n)
	}
	sort.Slice(names, func(i, j int) bool {
		a, b := ruled[names[i]], ruled[names[j]]
		return a > b || a == b && names[i] < names[j]
	})
	for _, n := range names {
		if share := 100 * ruled[n] / res.voyage.TimeS(); share >= 0.05 {
			res.limits = append(res.limits, fmt.Sprintf("%s: %s, %.1f %% of the passage", limitWords(n), hoursMinutes(ruled[n]), share))
		}
	}
	if res.rest.TurnsInRests >= 0.5 {
		res.warnings = append(res.warnings, fmt.Sprintf("about %.0f tacks or gybes fall into the given rests", res.rest.TurnsInRests))
	}
}

// noteEnds warns of passages that outlast the forecast.
func (res *result) noteEnds() {
	_, lastS := res.field.SpanS()
	for _, b := range res.bases {
		if over := b.voyage.ArriveS - lastS; over > 0 {
			res.warnings = append(res.warnings, fmt.Sprintf("the baseline %q arrives %.1f h after the forecast's end; it keeps the last step's weather until then", b.name, over/units.SPerHour))
		}
	}
	if over := res.voyage.ArriveS - lastS; over > 0 {
		res.warnings = append(res.warnings, fmt.Sprintf("the plan arrives %.1f h after the forecast's end; as asked with --after-end hold, the last step's weather is kept until then", over/units.SPerHour))
	}
}

// limitWords says what a limit does to the boat.
func limitWords(rule string) string {
	switch rule {
	case vpp.RuleHeel:
		return "heel: sails eased to hold the heel limit"
	case vpp.RuleOverpowered:
		return "overpowered: even the smallest sails are too much"
	case vpp.RuleFoilLoad:
		return "foil load: slowed so that a gust stays within the foil's limit"
	case vpp.RuleBowImmersion:
		return "bow immersions: slowed to keep them below their limit"
	case vpp.RuleWind:
		return "wind: too strong for foils out"
	case vpp.RuleSea:
		return "sea: too high for foils out"
	case vpp.RuleGrid:
		return "outside the speed table: its last values are used"
	case vpp.RuleUnsteady:
		return "unsteady flight: eased so that the foil stays in the water"
	}
	return rule
}
