package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"foilledger/plots"
	"foilledger/strategy/trial"
	"foilledger/vpp/units"
)

// The files of a trial beside its charts and schedules.
const (
	trialPage = "trial.html"
	trialData = "trial.json"
	trialRuns = "runs.csv"
	trialDiff = "pairs.csv"
)

// trialFiles lists what a trial writes.
func trialFiles(res *trialResult) []string {
	files := []string{trialPage, trialData, trialRuns, trialDiff}
	for b := range res.sum.Boats {
		if res.sum.Boats[b].Best >= 0 {
			files = append(files, worstName(res, b))
		}
	}
	return files
}

// writeTrial fills the output folder and puts it in place.
func writeTrial(ctx context.Context, dest *folder, res *trialResult) error {
	if err := dest.write(trialRuns, func(w io.Writer) error { return writeRuns(w, res) }); err != nil {
		return err
	}
	if err := dest.write(trialDiff, func(w io.Writer) error { return writePairs(w, res) }); err != nil {
		return err
	}
	for b := range res.sum.Boats {
		s := &res.sum.Boats[b]
		if s.Best < 0 {
			continue
		}
		if err := dest.write(worstName(res, b), func(w io.Writer) error {
			return res.note.writeSchedule(w, b, res.run(b, s.Best, s.Policies[s.Best].WorstWeather))
		}); err != nil {
			return err
		}
	}
	rep := res.report()
	if err := dest.write(trialPage, func(w io.Writer) error { return plots.WriteTrialPage(w, rep) }); err != nil {
		return err
	}
	charts, err := plots.TrialCharts(rep)
	if err != nil {
		return err
	}
	first := len(dest.names)
	if err := dest.writeCharts(charts); err != nil {
		return err
	}
	if err := dest.writePDF(charts); err != nil {
		return err
	}
	pictures := dest.names[first:]
	if err := dest.write(trialData, func(w io.Writer) error {
		j := res.json("")
		j.Files = append(trialFiles(res), pictures...)
		return printJSON(w, j)
	}); err != nil {
		return err
	}
	return dest.commit(ctx)
}

// report turns the result into what the charts and the page show.
func (res *trialResult) report() *plots.TrialReport {
	n := res.note
	r := &plots.TrialReport{Title: "Trial of foil policies", Weathers: res.sum.Weathers, Warnings: res.notes, Version: n.Version}
	for b := range res.sum.Boats {
		s := &res.sum.Boats[b]
		t := plots.TrialBoat{Boat: s.Boat, Headline: trialHeadline(s, res.sum.Weathers), Best: s.Best, CeilingPct: 100 * s.Policies[s.Best].CeilingShare}
		gained := res.gained(b)
		for i, p := range s.Policies {
			q := plots.TrialPolicy{Name: p.Name, Ceiling: p.Ceiling, GainedMin: gained[i], MedianH: p.TimeH.Median, MedianMin: p.GainedMin.Median, P10: p.GainedMin.P10, P90: p.GainedMin.P90,
				WonPct: 100 * p.WonShare, Changes: p.Changes.Mean, EffortKJ: p.EffortKJ.Mean, SlowMin: p.SlowMin.Mean, Lims: p.Breaches.Mean}
			if p.RegretMin != nil {
				q.RegretMin = p.RegretMin.Mean
			}
			t.Policies = append(t.Policies, q)
		}
		for _, p := range s.Pairs {
			if p.SavedBy.Mean < 0 {
				p = p.Reversed()
			}
			t.Pairs = append(t.Pairs, plots.TrialPair{A: p.A, B: p.B, MeanMin: p.SavedBy.Mean, LoMin: p.Joint.Lo, HiMin: p.Joint.Hi, AFasterPct: 100 * p.AWins, Certain: p.Clear})
		}
		if sp := s.Split; sp != nil {
			t.SplitA, t.SplitB = sp.A, sp.B
			add := func(name string, list []trial.Telling, m *trial.MeanWeather) {
				for _, x := range list {
					t.Telling = append(t.Telling, plots.TrialTelling{Faster: name, Weather: n.Weathers[x.Weather].Name, ByMin: math.Abs(x.SavedMin), TWSKn: x.TWSKn, SwingKn: x.SwingKn, TWADeg: x.TWADeg, HsM: x.HsM})
				}
				if m != nil {
					t.Telling = append(t.Telling, plots.TrialTelling{Faster: name, MeanOf: m.N, TWSKn: m.TWSKn, SwingKn: m.SwingKn, TWADeg: m.TWADeg, HsM: m.HsM})
				}
			}
			add(sp.A, sp.ForA, sp.MeanA)
			add(sp.B, sp.ForB, sp.MeanB)
		}
		if f := s.Search; f != nil && len(f.Best) > 0 {
			t.SearchNote = fmt.Sprintf("The best of %d sets of thresholds on %d weathers, tested on %d others. ", f.Tried, f.Training, f.Testing) + searchNote(f)
			for _, x := range f.Best {
				t.Search = append(t.Search, plots.TrialThreshold{Words: x.String(), TrainMin: x.TrainMin, TestMin: x.TestMin})
			}
		}
		r.Boats = append(r.Boats, t)
	}
	usual := make([]string, 0, len(n.Boats))
	for _, b := range n.Boats {
		usual = append(usual, b.Usual)
	}
	r.Policies = describePolicies(strings.Join(usual, "; "))
	for _, p := range n.Policies[len(trial.Standard()):] {
		r.Policies = append(r.Policies, p+": from a rule file.")
	}
	r.Facts = []string{
		fmt.Sprintf("A track of %.0f nautical miles, sailed with every policy in every one of %d weathers.", n.DistanceNM, res.sum.Weathers),
		"The policies see present conditions and, as the forecast, " + n.Forecast + "; the weather to come they do not see.",
		fmt.Sprintf("They decide between stages of at most %g nautical miles. Where a limit would stop the boat within a stage, the foils are in from its start, whatever the policy wants; that counts under limits.", n.StageNM),
		fmt.Sprintf("Intervals of differences: the largest studentised error of any of the pairs over bootstrap resamples, so that all hold at once with 95 %%; seed %d. "+trialDiff+" holds the studentised bootstrap interval of each pair alone too.", n.Seed),
	}
	for _, x := range res.replays("") {
		r.Replays = append(r.Replays, x.Command)
	}
	for _, in := range n.Inputs {
		r.Inputs = append(r.Inputs, plots.Input{File: in.File, SHA256: in.SHA256})
	}
	return r
}

// gained lists, for every policy of a boat, the time gained over the first one
// in every weather that all finished.
func (res *trialResult) gained(boat int) [][]float64 {
	s := &res.sum.Boats[boat]
	out := make([][]float64, len(s.Policies))
	for w := range res.note.Weathers {
		row := make([]float64, 0, len(out))
		base := res.run(boat, 0, w)
		for i := range out {
			r := res.run(boat, i, w)
			if r == nil || r.Outcome != trial.Arrived || base.Outcome != trial.Arrived {
				break
			}
			row = append(row, (base.TimeS-r.TimeS)/60)
		}
		if len(row) == len(out) {
			for i := range out {
				out[i] = append(out[i], row[i])
			}
		}
	}
	return out
}

func worstName(res *trialResult, b int) string {
	if len(res.sum.Boats) == 1 {
		return "worst-schedule.csv"
	}
	return fmt.Sprintf("worst-schedule-%d.csv", b+1)
}

// run finds the run of a policy, the ceiling after the others.
func (res *trialResult) run(boat, policy, weather int) *trial.Result {
	for i := range res.records {
		r := &res.records[i]
		if r.Boat == boat && r.Weather == weather {
			if policy < len(r.Runs) {
				return &r.Runs[policy]
			}
			return r.Ceiling
		}
	}
	return nil
}

// writeSchedule writes a run's changes as a schedule by hand. A setting of both
// sides at one place is two rows.
func (n *trialNote) writeSchedule(w io.Writer, boat int, r *trial.Result) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"distance_nm", "side", "extension", "rake_deg", "slow_down"}); err != nil {
		return err
	}
	f := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
	var last trial.Move
	if r == nil {
		r = &trial.Result{}
	}
	for _, m := range r.Moves {
		for _, side := range []struct {
			name     string
			was, now uint8
		}{{"port", last.Port, m.Port}, {"starboard", last.Starboard, m.Starboard}} {
			if side.was == side.now {
				continue
			}
			s := n.Boats[boat].Settings[side.now]
			rake := ""
			if s.Extension > 0 {
				rake = strconv.FormatFloat(s.RakeDeg, 'f', 6, 64)
			}
			if err := c.Write([]string{f(m.DistanceM / units.MPerNM), side.name, f(s.Extension), rake, "yes"}); err != nil {
				return err
			}
		}
		last = m
	}
	c.Flush()
	return c.Error()
}

// writeRuns writes one row per boat, weather and policy.
func writeRuns(w io.Writer, res *trialResult) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"boat", "weather", "departure_utc", "policy", "outcome", "passage_time_h", "time_gained_min", "regret_min", "changes", "actions", "effort_kj",
		"lost_min", "slow_min", "waited_min", "tacks_gybes", "tacks_gybes_min", "limit_breaches", "held_min", "calm_h", "foils_out_percent",
		"mean_tws_kn", "tws_swing_kn", "mean_twa_deg", "mean_hs_m"}); err != nil {
		return err
	}
	f := func(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
	for b, s := range res.sum.Boats {
		for k := range res.note.Weathers {
			var rec *trial.Record
			for i := range res.records {
				if r := &res.records[i]; r.Boat == b && r.Weather == k {
					rec = r
				}
			}
			if rec == nil {
				continue
			}
			runs := append([]trial.Result(nil), rec.Runs...)
			if rec.Ceiling != nil {
				runs = append(runs, *rec.Ceiling)
			}
			for i, p := range s.Policies {
				r := runs[i]
				row := []string{s.Boat, res.note.Weathers[k].Name, res.note.Weathers[k].Depart.Format(time.RFC3339), p.Name, "arrived"}
				if r.Outcome != trial.Arrived {
					row[4] = string(r.Outcome)
					for len(row) < 24 {
						row = append(row, "")
					}
				} else {
					gained, regret := "", ""
					if runs[0].Outcome == trial.Arrived {
						gained = f((runs[0].TimeS-r.TimeS)/60, 3)
					}
					if rec.Ceiling != nil && rec.Ceiling.Outcome == trial.Arrived {
						regret = f((r.TimeS-rec.Ceiling.TimeS)/60, 3)
					}
					row = append(row, f(r.TimeS/3600, 5), gained, regret, strconv.Itoa(r.Changes), strconv.Itoa(r.Actions), f(r.EffortJ/1000, 2),
						f(r.LostS/60, 3), f(r.SlowS/60, 3), f(r.WaitS/60, 3), f(r.Boards, 2), f(r.BoardS/60, 3), strconv.Itoa(r.Breaches), f(r.HeldS/60, 2), f(r.CalmS/3600, 3), f(100*r.OutS/r.TimeS, 2),
						f(units.Knots(rec.Features.TWSMS), 2), f(units.Knots(rec.Features.SwingMS), 2), f(units.Deg(rec.Features.TWARad), 1), f(rec.Features.HsM, 2))
				}
				if err := c.Write(row); err != nil {
					return err
				}
			}
		}
	}
	c.Flush()
	return c.Error()
}

// writePairs writes the comparisons of all policies with each other.
func writePairs(w io.Writer, res *trialResult) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"boat", "first", "second", "weathers", "saved_mean_min", "interval_lo_min", "interval_hi_min", "saved_median_min", "saved_p10_min", "saved_p90_min", "first_faster_share", "joint_interval_lo_min", "joint_interval_hi_min"}); err != nil {
		return err
	}
	f := func(x float64) string { return strconv.FormatFloat(x, 'f', 3, 64) }
	for _, s := range res.sum.Boats {
		for _, p := range s.Pairs {
			if err := c.Write([]string{s.Boat, p.A, p.B, strconv.Itoa(p.N), f(p.SavedBy.Mean), f(p.Mean.Lo), f(p.Mean.Hi), f(p.SavedBy.Median), f(p.SavedBy.P10), f(p.SavedBy.P90), f(p.AWins), f(p.Joint.Lo), f(p.Joint.Hi)}); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// writePDF adds charts as PDF.
func (f *folder) writePDF(charts []plots.Chart) error {
	names, err := plots.WriteFiles(f.temp, charts, "pdf")
	for _, n := range names {
		f.names = append(f.names, filepath.Base(n))
	}
	return err
}
