package main

import (
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
	EffortKJ     float64        `json:"effort_kj"`
	TacksGybes   int            `json:"tacks_and_gybes"`
	Warnings     []string       `json:"warnings"`
	Assumptions  []string       `json:"assumptions"`
	Cautions     []string       `json:"cautions"`
	Inputs       []input        `json:"inputs"`
	Files        []string       `json:"files,omitempty"`
	Version      string         `json:"version"`
}

type baselineJSON struct {
	Name          string  `json:"name"`
	PassageTimeH  float64 `json:"passage_time_h"`
	TimeGainedMin float64 `json:"time_gained_min"`
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
		TacksGybes:   res.boards(),
		Ledger:       []ledgerJSON{},
		Actions:      []actionJSON{},
		Warnings:     append([]string{}, res.warnings...),
		Assumptions:  append([]string{}, res.assume...),
		Cautions:     append([]string{}, plots.Cautions...),
		Inputs:       append([]input{}, q.inputs...),
		Version:      version(),
	}
	for _, b := range res.bases {
		out.Baselines = append(out.Baselines, baselineJSON{b.name, b.voyage.TimeS() / units.SPerHour, (b.voyage.TimeS() - v.TimeS()) / 60})
	}
	for _, i := range res.ledger.Items {
		out.Ledger = append(out.Ledger, ledgerJSON{i.Cause, i.GainS / 60})
	}
	for i, c := range res.log.Changes {
		for _, p := range c.Price.Parts() {
			out.Actions = append(out.Actions, res.actionJSON(&res.log.Changes[i], p, res.reasons[i]))
		}
		out.EffortKJ += c.Price.EffortJ / 1000
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
	}
	if p.CeilingMS < 1e3 {
		a.CeilingKn = units.Knots(p.CeilingMS)
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
