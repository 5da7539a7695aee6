package main

import (
	"math"
	"time"

	"foilledger/plots"
	"foilledger/strategy"
	"foilledger/vpp/units"
)

// input is a file that went into a result.
type input struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
}

// passageJSON is the machine-readable result of passage and demo. Keys carry
// their units; keys may be added, never renamed.
type passageJSON struct {
	Boat         string         `json:"boat"`
	Departure    string         `json:"departure"`
	Arrival      string         `json:"arrival"`
	DistanceNM   float64        `json:"distance_nm"`
	PassageTimeH float64        `json:"passage_time_h"`
	Baselines    []baselineJSON `json:"baselines"`
	Ledger       []ledgerJSON   `json:"ledger"`
	Actions      []actionJSON   `json:"actions"`
	BoundGapMin  float64        `json:"bound_gap_min"`
	BoundGapPct  float64        `json:"bound_gap_percent"`
	OpenMin      float64        `json:"open_min"` // what another schedule under the rules could still gain
	EffortKJ     float64        `json:"effort_kj"`
	TacksGybes   int            `json:"tacks_and_gybes"`
	Constraints  []costJSON     `json:"constraints"`
	Rest         *restJSON      `json:"rest,omitempty"`
	Members      *membersJSON   `json:"members,omitempty"`
	ByHand       *byHandJSON    `json:"by_hand,omitempty"`
	Precision    []refinedJSON  `json:"precision,omitempty"`
	Limits       []string       `json:"limits"`
	Warnings     []string       `json:"warnings"`
	Assumptions  []string       `json:"assumptions"`
	Cautions     []string       `json:"cautions"`
	Inputs       []input        `json:"inputs"`
	Files        []string       `json:"files,omitempty"`
	Version      string         `json:"version"`
}

type baselineJSON struct {
	Name          string       `json:"name"`
	PassageTimeH  float64      `json:"passage_time_h"`
	TimeGainedMin float64      `json:"time_gained_min"`
	Ledger        []ledgerJSON `json:"ledger"`
}

// costJSON is a rule for the person; the cost is null where it could not be
// found.
type costJSON struct {
	Name    string   `json:"name"`
	CostMin *float64 `json:"cost_min"`
}

type restJSON struct {
	Naps           []napJSON `json:"naps"`
	LeastIn24hH    *float64  `json:"least_in_24h_h"` // in any 24 hours; null for shorter passages
	EffortPerDayKJ []float64 `json:"effort_per_day_kj"`
}

type napJSON struct {
	From string `json:"from"`
	To   string `json:"to"`
	// HoldShare is the share of the forecast members in which the foils left
	// alone hold from the nap's beginning to its end; 1 without members.
	HoldShare float64 `json:"hold_share"`
}

type membersJSON struct {
	Members    []memberJSON `json:"members"`
	Gained10   float64      `json:"time_gained_10_percent_min"`
	Gained50   float64      `json:"time_gained_50_percent_min"`
	Gained90   float64      `json:"time_gained_90_percent_min"`
	Stopped    int          `json:"stopped"`
	NotCovered int          `json:"not_covered"`
}

type memberJSON struct {
	Member        int     `json:"member"`
	PassageTimeH  float64 `json:"passage_time_h"`
	TimeGainedMin float64 `json:"time_gained_min"`
}

type byHandJSON struct {
	File          string       `json:"file"`
	Arrival       string       `json:"arrival"`
	PassageTimeH  float64      `json:"passage_time_h"`
	TimeGainedMin float64      `json:"time_gained_min"`
	BehindPlanMin float64      `json:"behind_plan_min"`
	EffortKJ      float64      `json:"effort_kj"`
	Actions       []actionJSON `json:"actions"`
	Ledger        []ledgerJSON `json:"ledger"` // over foils aboard, never used; empty where that outlasts the forecast
	Breaks        []breakJSON  `json:"breaks"` // where it breaks the rules for the person or the boat's limits
}

type breakJSON struct {
	Time string `json:"time"`
	Rule string `json:"rule"`
	What string `json:"what"`
}

type refinedJSON struct {
	What      string  `json:"what"`
	ChangeMin float64 `json:"change_min"`
}

type ledgerJSON struct {
	Cause   string  `json:"cause"`
	Minutes float64 `json:"minutes"`
}

type actionJSON struct {
	Time       string  `json:"time"`
	LatDeg     float64 `json:"lat_deg"`
	LonDeg     float64 `json:"lon_deg"`
	DistanceNM float64 `json:"distance_nm"`
	Side       string  `json:"side"`
	Action     string  `json:"action"`
	From       string  `json:"from"`
	To         string  `json:"to"`
	LostS      float64 `json:"lost_s"`
	EffortKJ   float64 `json:"effort_kj"`
	BSPKn      float64 `json:"bsp_kn"`
	CeilingKn  float64 `json:"ceiling_kn,omitempty"`
	Slowing    string  `json:"slow_down,omitempty"`
	Night      bool    `json:"night"`
	TWSKn      float64 `json:"tws_kn"`
	TWADeg     float64 `json:"twa_deg"`
	Reason     string  `json:"reason"`
}

func (res *result) json(q *question) passageJSON {
	v := res.voyage
	out := passageJSON{
		Boat:         q.boat.Name,
		Departure:    timeAt(res.source, v.DepartS).Format(time.RFC3339),
		Arrival:      timeAt(res.source, v.ArriveS).Format(time.RFC3339),
		DistanceNM:   v.TotalM / units.MPerNM,
		PassageTimeH: v.TimeS() / units.SPerHour,
		BoundGapMin:  res.boundGapS() / 60,
		BoundGapPct:  100 * res.boundGapS() / v.TimeS(),
		OpenMin:      res.best.OpenS / 60,
		TacksGybes:   res.boards(),
		Ledger:       []ledgerJSON{},
		Actions:      []actionJSON{},
		Warnings:     append([]string{}, res.warnings...),
		Assumptions:  append([]string{}, res.assume...),
		Cautions:     append([]string{}, plots.Cautions...),
		Inputs:       append([]input{}, q.inputs...),
		Version:      version(),
	}
	out.Constraints, out.Limits = []costJSON{}, append([]string{}, res.limits...)
	for k, b := range res.bases {
		out.Baselines = append(out.Baselines, baselineJSON{b.name, b.voyage.TimeS() / units.SPerHour, (b.voyage.TimeS() - v.TimeS()) / 60, ledgerJSONs(res.ledgerOf(k))})
	}
	out.Ledger = ledgerJSONs(res.ledger)
	out.Actions = res.actionsJSON(res.log, res.reasons)
	for _, c := range res.log.Changes {
		out.EffortKJ += c.Price.EffortJ / 1000
	}
	for _, c := range res.costs {
		j := costJSON{Name: c.name}
		if m := c.costS / 60; !math.IsNaN(m) {
			j.CostMin = &m
		}
		out.Constraints = append(out.Constraints, j)
	}
	out.Rest = res.restJSON()
	if sp := res.spread; sp != nil && len(sp.members) > 0 {
		out.Members = &membersJSON{Gained10: sp.gains(0.1) / 60, Gained50: sp.gains(0.5) / 60, Gained90: sp.gains(0.9) / 60, Stopped: sp.refused, NotCovered: sp.outside}
		for _, m := range sp.members {
			out.Members.Members = append(out.Members.Members, memberJSON{m.number, m.timeS / units.SPerHour, m.gainS / 60})
		}
	}
	if h := res.hand; h != nil {
		out.ByHand = &byHandJSON{h.name, timeAt(res.source, h.voyage.ArriveS).Format(time.RFC3339), h.voyage.TimeS() / units.SPerHour, h.gainedS(res) / 60,
			(h.voyage.ArriveS - v.ArriveS) / 60, h.effortJ / 1000, res.actionsJSON(h.log, nil), ledgerJSONs(h.ledger), []breakJSON{}}
		for _, b := range h.breaks {
			out.ByHand.Breaks = append(out.ByHand.Breaks, breakJSON{timeAt(res.source, b.timeS).Format(time.RFC3339), b.rule, b.words})
		}
	}
	for _, r := range res.refined {
		out.Precision = append(out.Precision, refinedJSON{r.What, r.ChangeS / 60})
	}
	return out
}

func ledgerJSONs(l *strategy.Ledger) []ledgerJSON {
	out := []ledgerJSON{}
	if l == nil {
		return out
	}
	for _, i := range l.Items {
		out = append(out, ledgerJSON{i.Cause, i.GainS / 60})
	}
	return out
}

func (res *result) restJSON() *restJSON {
	r := &restJSON{Naps: []napJSON{}, EffortPerDayKJ: []float64{}}
	for _, n := range res.rest.Naps {
		r.Naps = append(r.Naps, napJSON{timeAt(res.source, n.FromS).Format(time.RFC3339), timeAt(res.source, n.ToS).Format(time.RFC3339), n.Share})
	}
	if h := res.rest.Least.RestS / units.SPerHour; !math.IsNaN(h) {
		r.LeastIn24hH = &h
	}
	for _, e := range res.rest.EffortJ {
		r.EffortPerDayKJ = append(r.EffortPerDayKJ, e/1000)
	}
	return r
}

// actionsJSON lists the single actions of a log; reasons are by change, or nil.
func (res *result) actionsJSON(lg *strategy.Log, reasons []string) []actionJSON {
	out := []actionJSON{}
	for i := range lg.Changes {
		why := ""
		if reasons != nil {
			why = reasons[i]
		}
		for _, p := range lg.Changes[i].Price.Parts() {
			out = append(out, res.actionJSON(&lg.Changes[i], p, why))
		}
	}
	return out
}

func (res *result) actionJSON(c *strategy.Change, p strategy.Part, reason string) actionJSON {
	names := res.problem.States()
	a := actionJSON{
		Time:       timeAt(res.source, c.TimeS).Format(time.RFC3339),
		LatDeg:     c.Place[1],
		LonDeg:     c.Place[0],
		DistanceNM: c.DistanceM / units.MPerNM,
		Side:       p.Side.String(),
		Action:     p.Kind.String(),
		From:       names.Describe(p.From),
		To:         names.Describe(p.To),
		LostS:      p.LostS,
		EffortKJ:   p.EffortJ / 1000,
		BSPKn:      units.Knots(c.Pace.BSPMS),
		TWSKn:      units.Knots(c.Pace.TWSMS),
		TWADeg:     units.Deg(c.Pace.TWARad),
		Reason:     reason,
		Night:      c.Price.Night,
	}
	if p.CeilingMS < 1e3 {
		a.CeilingKn = units.Knots(p.CeilingMS)
		if c.Pace.BSPMS > p.CeilingMS && c.Price.Slow.Way != strategy.NoSlowing {
			a.Slowing = c.Price.Slow.Describe()
		}
	}
	return a
}

// boundGapS is how much later than the bound the plan arrives, ≥ 0.
func (res *result) boundGapS() float64 { return max(0, res.voyage.ArriveS-res.bound.ArriveS) }

// boards is the number of tacks and gybes.
func (res *result) boards() int {
	n := 0.0
	for _, s := range res.voyage.Stages {
		n += s.Boards
	}
	return int(n + 0.5)
}

// gainedS is the time gained over the first baseline.
func (res *result) gainedS() float64 { return res.bases[0].voyage.TimeS() - res.voyage.TimeS() }
