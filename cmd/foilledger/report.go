package main

import (
	"fmt"
	"math"
	"time"

	"github.com/paulmach/orb"

	"foilledger/plots"
	"foilledger/route"
	"foilledger/strategy"
	"foilledger/vpp/units"
)

// report turns the result into what the charts and the page show.
func (res *result) report(q *question) *plots.PassageReport {
	v := res.voyage
	title := q.options.title
	if title == "" {
		title = fmt.Sprintf("Passage from %s to %s", route.FormatLatLon(q.track.Points()[0]), route.FormatLatLon(q.track.Points()[len(q.track.Points())-1]))
	}
	rep := &plots.PassageReport{
		Title: title, Boat: q.boat.Name, Headline: res.headline(),
		Departure: timeAt(res.source, v.DepartS), Arrival: timeAt(res.source, v.ArriveS),
		DistanceNM: v.TotalM / units.MPerNM, PassageTimeH: v.TimeS() / units.SPerHour,
		BoundGapMin: res.boundGapS() / 60, Warnings: res.warnings, Assumptions: res.assume,
		Limits: res.limits, Caveats: plots.Caveats, Precision: res.precision(), RestWords: res.restWords(q),
		Version: version(), Command: commandLine(q.options.words), Steps: res.steps(res.log),
	}
	res.markRests(rep)
	if q.options.zone != "" {
		rep.LocalZone, _ = loadZone(q.options.zone) // was checked with the options
	}
	for k, b := range res.bases {
		rep.Baselines = append(rep.Baselines, plots.Baseline{Name: b.name, PassageTimeH: b.voyage.TimeS() / units.SPerHour,
			TimeGainedMin: (b.voyage.TimeS() - v.TimeS()) / 60, Steps: res.steps(b.log), Ledger: ledgerRows(res.ledgerOf(k))})
	}
	rep.Ledger = ledgerRows(res.ledger)
	rep.Running = running(res, res.problem, v, res.ledger)
	rep.Actions = res.actionRows(res.log, res.reasons)
	for _, c := range res.costs {
		if !math.IsNaN(c.costS) {
			rep.ConstraintCosts = append(rep.ConstraintCosts, plots.ConstraintCost{Name: c.name, Minutes: c.costS / 60})
		}
	}
	if sp := res.spread; sp != nil {
		rep.SpreadWords = sp.words()
		if len(sp.members) > 1 {
			lo, hi := sp.ends()
			rep.GainLowMin, rep.GainMidMin, rep.GainHighMin = lo/60, sp.gains(0.5)/60, hi/60
		}
		for _, m := range sp.members {
			rep.Members = append(rep.Members, plots.MemberGain{Number: m.number, GainedMin: m.gainS / 60})
		}
	}
	if h := res.hand; h != nil {
		rep.ByHand = &plots.ByHand{Name: h.name, Words: h.words(res), PassageTimeH: h.voyage.TimeS() / units.SPerHour, TimeGainedMin: h.gainedS(res) / 60,
			BehindMin: (h.voyage.TimeS() - v.TimeS()) / 60, EffortKJ: h.effortJ / 1000, Actions: res.actionRows(h.log, nil), Ledger: ledgerRows(h.ledger)}
	}
	rep.BreakMaps = res.evenCharts(res.problem.Sailor)
	names := res.problem.States()
	for _, e := range res.evens {
		row := plots.BreakEvenRow{Action: "deploy leeward foil", From: names.Describe(e.From), To: names.Describe(e.To),
			TWSKn: units.Knots(e.TWSMS), TWADeg: units.Deg(e.TWARad), HsM: e.HsM, LostS: e.Price.LostS, EffortKJ: e.Price.EffortJ / 1000,
			OldBSPKn: units.Knots(e.OldMS), NewBSPKn: units.Knots(e.NewMS), Refused: e.Refused}
		if !math.IsInf(e.TimeS, 1) {
			row.Pays, row.BreakEvenMin = true, e.TimeS/60
		}
		rep.BreakEven = append(rep.BreakEven, row)
	}
	for _, in := range q.inputs {
		rep.Inputs = append(rep.Inputs, plots.Input{File: in.File, SHA256: in.SHA256})
	}
	rep.Wind = windGrid(res, rep)
	rep.Coast = coastline(plots.MapExtent(rep))
	return rep
}

func ledgerRows(l *strategy.Ledger) []plots.LedgerRow {
	var out []plots.LedgerRow
	if l == nil {
		return nil
	}
	for _, i := range l.Items {
		out = append(out, plots.LedgerRow{Cause: i.Cause, Minutes: i.GainS / 60})
	}
	return out
}

// running is the time gained at the end of every stage.
func running(res *result, p *strategy.Problem, v *strategy.Voyage, l *strategy.Ledger) []plots.RunningPoint {
	out := []plots.RunningPoint{{Time: timeAt(res.source, v.DepartS)}}
	for k, g := range l.Running {
		out = append(out, plots.RunningPoint{Time: timeAt(res.source, v.Stages[k].ArriveS), DistanceNM: p.StageEndM(k) / units.MPerNM, GainedMin: g / 60})
	}
	return out
}

// actionRows lists the single actions of a log; reasons are by change, or nil.
func (res *result) actionRows(lg *strategy.Log, reasons []string) []plots.Action {
	var out []plots.Action
	for i := range lg.Changes {
		c := &lg.Changes[i]
		why := ""
		if reasons != nil {
			why = reasons[i]
		}
		for _, p := range c.Price.Parts() {
			a := res.actionJSON(c, p, why)
			out = append(out, plots.Action{Time: timeAt(res.source, c.TimeS), LatDeg: a.LatDeg, LonDeg: a.LonDeg,
				DistanceNM: a.DistanceNM, Side: a.Side, Action: a.Action, From: a.From, To: a.To, LostS: a.LostS, EffortKJ: a.EffortKJ,
				BSPBeforeKn: a.BSPKn, CeilingKn: a.CeilingKn, Reason: a.Reason, Night: c.Price.Night, Slowing: a.Slowing})
		}
	}
	return out
}

// markRests shows the naps of the plan: given rests as they are, or the longest
// unbroken spans in which nothing is to be done.
func (res *result) markRests(rep *plots.PassageReport) {
	for _, n := range res.rest.Naps {
		rep.Rests = append(rep.Rests, plots.Rest{From: timeAt(res.source, n.FromS), To: timeAt(res.source, n.ToS)})
	}
	for i := range rep.Steps {
		t := rep.Steps[i].Time
		for _, r := range rep.Rests {
			if !t.Before(r.From) && t.Before(r.To) {
				rep.Steps[i].Resting = true
			}
		}
	}
}

// steps turns a log into the rows of the charts.
func (res *result) steps(lg *strategy.Log) []plots.Step {
	var out []plots.Step
	names := res.problem.States()
	for i := range lg.Entries {
		e := &lg.Entries[i]
		st := lg.Steady(e)
		port, stbd := names.Setting(e.State.Port), names.Setting(e.State.Starboard)
		s := plots.Step{
			Time: timeAt(res.source, e.StartS), LatDeg: e.Place[1], LonDeg: e.Place[0], DistanceNM: e.StartM / units.MPerNM,
			BSPKn: units.Knots(e.Pace.BSPMS), SOGKn: units.Knots(e.LengthM / (e.EndS - e.StartS)),
			TWSKn: units.Knots(e.Pace.TWSMS), TWADeg: units.Deg(e.Pace.TWARad), WindFromDeg: units.Deg(e.Sample.WindFromRad()),
			HsM: e.Sample.HsM, WaveFromDeg: units.Deg(e.Sample.WaveFromRad), HeadingDeg: units.Deg(units.Wrap2Pi(e.CourseRad)),
			Board: boardName(e.Pace.Starboard >= 0.5), PortExt: port.Extension, StbdExt: stbd.Extension,
			PortRakeDeg: units.Deg(port.RakeRad), StbdRakeDeg: units.Deg(stbd.RakeRad),
			HeelDeg: units.Deg(st.HeelRad), TrimDeg: units.Deg(st.TrimRad), HullLoad: st.HullLoad, FoilLiftT: units.TonnesForce(st.FoilLiftN),
			BowImmersionsPerHour: st.BowImmersionsPerHour, Sail: st.Sail, RuledBy: st.RuledBy, Doing: doing(e),
			GustKn:    units.Knots(e.Sample.GustMS),
			CurrentKn: units.Knots(math.Hypot(e.Sample.CurrentU, e.Sample.CurrentV)),
		}
		if e.Changing {
			s.BSPKn = units.Knots(e.LengthM / (e.EndS - e.StartS))
		}
		if s.CurrentKn > 0 {
			s.CurrentToDeg = units.Deg(units.Wrap2Pi(math.Atan2(e.Sample.CurrentU, e.Sample.CurrentV)))
		}
		s.OutsideModel = st.Clamped
		out = append(out, s)
	}
	// The last moment: arrival.
	if n := len(out); n > 0 {
		e := &lg.Entries[n-1]
		last := out[n-1]
		last.Time = timeAt(res.source, e.EndS)
		p, _ := lg.End()
		last.LonDeg, last.LatDeg = p[0], p[1]
		last.DistanceNM = (e.StartM + e.LengthM) / units.MPerNM
		last.Doing = "arrived"
		out = append(out, last)
	}
	return out
}

func boardName(starboard bool) string {
	if starboard {
		return "starboard"
	}
	return "port"
}

func doing(e *strategy.Entry) string {
	switch {
	case e.Changing:
		return "changing foils"
	case e.Pace.Held:
		return "stopped by a limit"
	case e.LengthM == 0:
		return "becalmed"
	case e.Pace.Zigzag && e.Pace.Upwind():
		return "beating"
	case e.Pace.Zigzag:
		return "gybing downwind"
	}
	return "sailing"
}

// windGrid samples the wind for the map's barbs.
func windGrid(res *result, rep *plots.PassageReport) *plots.WindGrid {
	lo, hi := orb.Point{math.Inf(1), math.Inf(1)}, orb.Point{math.Inf(-1), math.Inf(-1)}
	base := rep.Steps[0].LonDeg
	for _, s := range rep.Steps {
		lon := base + units.Wrap180(s.LonDeg-base)
		lo = orb.Point{math.Min(lo[0], lon), math.Min(lo[1], s.LatDeg)}
		hi = orb.Point{math.Max(hi[0], lon), math.Max(hi[1], s.LatDeg)}
	}
	const nx, ny = 12, 8
	padX, padY := 0.08*(hi[0]-lo[0])+1, 0.15*(hi[1]-lo[1])+1
	g := &plots.WindGrid{}
	for i := range nx {
		g.LonDeg = append(g.LonDeg, lo[0]-padX+(hi[0]-lo[0]+2*padX)*float64(i)/(nx-1))
	}
	for j := range ny {
		lat := lo[1] - padY + (hi[1]-lo[1]+2*padY)*float64(j)/(ny-1)
		if lat > -89 && lat < 89 {
			g.LatDeg = append(g.LatDeg, lat)
		}
	}
	step := 6 * time.Hour
	end := rep.Arrival
	for t := rep.Departure; ; t = t.Add(step) {
		if t.After(end) {
			break
		}
		g.Times = append(g.Times, t)
		u := make([]float64, len(g.LatDeg)*len(g.LonDeg))
		v := make([]float64, len(u))
		tS := t.Sub(res.source.Reference()).Seconds()
		for j, lat := range g.LatDeg {
			for i, lon := range g.LonDeg {
				k := j*len(g.LonDeg) + i
				s, err := res.source.At(units.Wrap180(lon), lat, tS)
				if err != nil { // outside the forecast or on land: no barb there
					u[k], v[k] = math.NaN(), math.NaN()
					continue
				}
				u[k], v[k] = units.Knots(s.U), units.Knots(s.V)
			}
		}
		g.UKn = append(g.UKn, u)
		g.VKn = append(g.VKn, v)
	}
	return g
}
