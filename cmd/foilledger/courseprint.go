package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"foilledger/vpp/units"
)

// courseJSON is the machine-readable result of course: that of passage, and
// what was searched.
type courseJSON struct {
	passageJSON
	Search     searchJSON      `json:"search"`
	Variants   []variantJSON   `json:"variants"`
	Course     []coursePoint   `json:"course"`
	Departures []departureJSON `json:"departures,omitempty"`
}

type searchJSON struct {
	PassageTimeH    float64     `json:"passage_time_h"`     // that the search itself found
	PlanEarlierMin  float64     `json:"plan_earlier_min"`   // the exact plan on the track without rules, against it
	Rounds          []roundJSON `json:"rounds"`             // of refinement
	LastGainMin     float64     `json:"last_gain_min"`      // of the last round
	FreeGapMin      float64     `json:"free_gap_min"`       // to free changes and turns on the last mesh
	TopSpeedGapH    float64     `json:"top_speed_gap_h"`    // to the shortest way at top speed
	ElsewhereMin    float64     `json:"elsewhere_min"`      // gained by sailing another course
	SailsCourse     string      `json:"sails_course"`       // which of the courses the plan sails
	BaselineCourse  string      `json:"baseline_course"`    // and the first baseline
	BaselineSearchH float64     `json:"baseline_search_h"`  // passage time that its search found
	WentRoundLand   bool        `json:"went_round_by_land"` // the mesh was laid along a way by sea
}

type roundJSON struct {
	PassageTimeH float64 `json:"passage_time_h"`
	HalfWidthNM  float64 `json:"half_width_nm"`
	Edges        int     `json:"edges"`
	Blocked      int     `json:"blocked"`
}

type variantJSON struct {
	Name         string  `json:"name"`
	Course       string  `json:"course"`
	PassageTimeH float64 `json:"passage_time_h"`
	DistanceNM   float64 `json:"distance_nm"`
}

type coursePoint struct {
	Time   string  `json:"time"`
	LatDeg float64 `json:"lat_deg"`
	LonDeg float64 `json:"lon_deg"`
}

type departureJSON struct {
	Departure    string   `json:"departure"`
	Arrival      string   `json:"arrival,omitempty"`
	PassageTimeH *float64 `json:"passage_time_h"`
	NeverH       *float64 `json:"foils_never_passage_time_h"`
	GainMin      *float64 `json:"time_gained_min"`
	Note         string   `json:"note,omitempty"`
}

func (res *courseResult) courseJSON(q *question) courseJSON {
	depart := res.voyage.DepartS
	out := courseJSON{passageJSON: res.json(q)}
	out.BoundGapMin = res.freeGapS() / 60
	out.BoundGapPct = 100 * res.freeGapS() / res.voyage.TimeS()
	s := res.search
	out.Search = searchJSON{
		PassageTimeH: res.searchS / units.SPerHour, PlanEarlierMin: (res.searchS - res.freeS) / 60, LastGainMin: s.LastGainS / 60,
		FreeGapMin: res.freeGapS() / 60, TopSpeedGapH: (res.voyage.ArriveS - s.LowerBoundS) / units.SPerHour, ElsewhereMin: res.elsewhereS / 60,
		SailsCourse: res.track.name, BaselineCourse: res.basePath.name, BaselineSearchH: (res.never.ArrivalS - depart) / units.SPerHour,
		WentRoundLand: s.Detour,
	}
	for _, r := range s.Rounds {
		if !math.IsInf(r.ArrivalS, 0) {
			out.Search.Rounds = append(out.Search.Rounds, roundJSON{(r.ArrivalS - depart) / units.SPerHour, r.HalfWidthM / units.MPerNM, r.Edges, r.Blocked})
		}
	}
	out.Variants = []variantJSON{}
	for _, v := range res.variants {
		out.Variants = append(out.Variants, variantJSON{v.name, v.course, v.timeS / units.SPerHour, v.distanceNM})
	}
	for i, p := range res.track.track.Points() {
		m := res.track.track.LegStartM(i)
		out.Course = append(out.Course, coursePoint{timeAt(res.source, res.log.TimeAt(m)).Format(time.RFC3339), p[1], p[0]})
	}
	for _, d := range res.departures {
		out.Departures = append(out.Departures, d.json(res))
	}
	return out
}

// freeGapS is how much later the plan arrives than a boat to which changes,
// tacks and gybes were free would: on the same track, or on the last mesh of
// the search, whichever is earlier.
func (res *courseResult) freeGapS() float64 {
	bound := res.bound.ArriveS
	if !math.IsNaN(res.search.RelaxedS) {
		bound = math.Min(bound, res.search.RelaxedS)
	}
	return math.Max(0, res.voyage.ArriveS-bound)
}

// printCourse prints the course: the short answer first.
func printCourse(s streams, q *question, res *courseResult) error {
	if q.options.json {
		j := res.courseJSON(q)
		if q.options.out != "" {
			j.Files = courseFiles(res)
		}
		return printJSON(s.out, j)
	}
	printPlan(s, q, res.result)
	w := s.out
	fmt.Fprintf(w, "\nThe course\n\n")
	say := func(name, format string, a ...any) { fmt.Fprintln(w, fact(name, fmt.Sprintf(format, a...))) }
	say("Sailed", "%s, %.0f nm; the baseline sails %s, %.0f nm", res.track.name, res.voyage.TotalM/units.MPerNM, res.basePath.name, res.bases[0].voyage.TotalM/units.MPerNM)
	say("Elsewhere", "%s of the time gained comes from sailing another course", hoursMinutes(res.elsewhereS))
	say("Search", "%s in %d rounds, the last gained %.1f min; the exact plan on the course sailed is %s without rules for the person", hoursMinutes(res.searchS), len(res.search.Rounds), res.search.LastGainS/60, earlierLater(res.searchS-res.freeS))
	say("Bound", "%.1f min above free and instant changes and turns on the same mesh", res.freeGapS()/60)
	if s.quiet {
		return nil
	}
	fmt.Fprintf(w, "\nWays to sail it (every change made, without rules for the person)\n\n")
	var rows [][]string
	for _, v := range res.variants {
		rows = append(rows, []string{v.name, strings.Replace(v.course, "the course found for the foils", "the foils' course", 1), hoursMinutes(v.timeS), fmt.Sprintf("%.0f", v.distanceNM), fmt.Sprintf("%+.0f", (v.timeS-res.freeS)/60)})
	}
	table(w, []string{"<what", "<course", "time", "nm", "min"}, rows)
	fmt.Fprintf(w, "\nmin: minutes later than with foils and course free.\n")
	printDepartures(w, res)
	printEnd(s, q)
	return nil
}

func earlierLater(s float64) string {
	if s >= 0 {
		return fmt.Sprintf("%.1f min earlier", s/60)
	}
	return fmt.Sprintf("%.1f min later", -s/60)
}

// noteCourse adds what a search takes for granted and what went wrong in it.
func (fi *finder) noteCourse(res *courseResult) {
	res.assume[0] = "The boat departs with both foils in; the course is the best of a mesh of positions, refined around the best course found; on courses too close to the wind or too far off it she beats or gybes inside the corridor."
	res.assume = append(res.assume,
		"The search leaves the rules for the person out; the plan on the course found keeps them.",
		"Beating and gybing inside the corridor may come nearer to land than the course does.",
		"The search has the windward foil in, and both out while beating or gybing downwind; the plan on the course found is free in both.",
		"The ledger compares the plan on the baseline's course with the baseline; what the plan gains beyond that is sailing another course.")
	if res.search.Detour {
		res.warnings = append(res.warnings, "land bars all of the mesh around the shortest lines: it was laid along a way by sea")
	}
	if d := res.freeS - res.searchS; d > planTolerance*res.freeS {
		res.warnings = append(res.warnings, fmt.Sprintf("the plan is %.0f min later than the search expected; search with more --stages", d/60))
	}
	if !fi.limited {
		return
	}
	over := map[string]float64{}
	worst := map[string]float64{}
	for i := range res.log.Entries {
		e := &res.log.Entries[i]
		check := func(what string, v, limit, area float64) {
			if limit <= 0 {
				limit = math.Inf(1)
			}
			if limit = math.Min(limit, area); v > limit {
				over[what] += e.EndS - e.StartS
				worst[what] = math.Max(worst[what], v)
			}
		}
		wind, gust, wave := fi.waters.LimitsAt(e.Place)
		check("wind (kn)", units.Knots(math.Hypot(e.Sample.U, e.Sample.V)), fi.o.maxWindKn, units.Knots(wind))
		check("gusts (kn)", units.Knots(e.Sample.GustMS), fi.o.maxGustKn, units.Knots(gust))
		check("waves (m)", e.Sample.HsM, fi.o.maxWaveM, wave)
	}
	for _, what := range []string{"wind (kn)", "gusts (kn)", "waves (m)"} {
		if over[what] > 0 {
			res.warnings = append(res.warnings, fmt.Sprintf("the plan meets more than the limit of %s for %.0f min, at most %.1f: the search samples it every 10 nm and half hour", what, over[what]/60, worst[what]))
		}
	}
	if fi.o.maxGustKn > 0 && !hasGust(res) {
		res.warnings = append(res.warnings, "the forecast has no gusts: --max-gust did nothing")
	}
}

// planTolerance is how much later than the search's own time the exact plan on
// its track may be without a warning, as a share of the passage time: the
// search samples pace in cells of 10 nm and half an hour, the plan in cells of
// 2.5 nm and a quarter.
const planTolerance = 0.01

func hasGust(res *courseResult) bool {
	for i := range res.log.Entries {
		if res.log.Entries[i].Sample.GustMS > 0 {
			return true
		}
	}
	return false
}
