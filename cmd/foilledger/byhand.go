package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"foilledger/strategy"
	"foilledger/vpp/units"
	"foilledger/weather"
)

// byHand is a passage sailed with a schedule given by hand, priced by the
// simulator of the plan.
type byHand struct {
	name    string
	problem *strategy.Problem
	voyage  *strategy.Voyage
	log     *strategy.Log
	ledger  *strategy.Ledger // over foils aboard, never used
	effortJ float64
	breaks  []breach
}

// breach is where the schedule breaks a rule for the person or a limit of the
// boat.
type breach struct {
	timeS       float64
	rule, words string
}

// readHand reads the schedule named by --schedule.
func readHand(path string) ([]strategy.HandAction, *input, error) {
	if path == "" {
		return nil, nil, nil
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, err
	}
	actions, err := strategy.ReadHandSchedule(strings.NewReader(string(b)), path)
	if err != nil {
		return nil, nil, usage("the columns are time_utc (or distance_nm, or lat_deg,lon_deg), side, extension, rake_deg and slow_down; "+scheduleName+" in a plan's folder is an example", "%w", err)
	}
	return actions, &input{filepath.Base(path), sha256Hex(b)}, nil
}

// sailByHand sails the schedule given by hand, or returns nil without one.
func sailByHand(q *question, res *result) (*byHand, error) {
	if q.hand == nil {
		return nil, nil
	}
	p, v, lg, err := res.problem.ByHand(q.hand)
	if err != nil {
		var refused *strategy.RefusedError
		if errors.As(err, &refused) {
			return nil, &commandError{code: exitNoPassage, hint: "move the action to another place, allow slow_down, or leave it out",
				err: fmt.Errorf("%s cannot be sailed:\n  %s", q.options.schedule, strings.ReplaceAll(err.Error(), "\n", "\n  "))}
		}
		return nil, err
	}
	if v.Status != strategy.Found {
		return nil, &commandError{code: exitNoPassage, hint: "take the foils in where limits forbid them",
			err: fmt.Errorf("%s cannot be sailed: the boat is stopped for two days by calm, current or a limit", q.options.schedule)}
	}
	o := &q.options.person
	ruled := p.For(o.person(res.source.Reference()))
	h := &byHand{name: filepath.Base(q.options.schedule), problem: p, voyage: v, log: lg}
	for _, b := range ruled.Breaches(lg) {
		rule := "the boat's limits"
		if !b.Limit {
			rule = o.ruleWords(b.Rule)
		}
		h.breaks = append(h.breaks, breach{b.TimeS, rule, b.Words})
	}
	for i := range lg.Changes {
		h.effortJ += lg.Changes[i].Price.EffortJ
	}
	return h, nil
}

// account splits what the schedule gains over foils never used, sailed on the
// same stages; there is no ledger where that outlasts the forecast.
func (h *byHand) account(ctx context.Context) error {
	b, err := h.problem.Best(ctx, strategy.FoilsIn, false, nil)
	var gap *weather.CoverageError
	if errors.As(err, &gap) {
		return nil
	}
	if err != nil || b.Status != strategy.Found {
		return err
	}
	h.ledger, err = h.problem.NewLedger(h.voyage, h.problem, b)
	return err
}

// gainedS is the time gained over the first baseline.
func (h *byHand) gainedS(res *result) float64 { return res.bases[0].voyage.TimeS() - h.voyage.TimeS() }

// words compares the schedule with the plan.
func (h *byHand) words(res *result) string {
	d := h.voyage.TimeS() - res.voyage.TimeS()
	than := fmt.Sprintf("%s more than the plan takes", hoursMinutes(d))
	switch {
	case d < -30:
		than = fmt.Sprintf("%s less than the plan takes, which keeps rules that this one may not", hoursMinutes(-d))
	case d < 30:
		than = "as long as the plan takes"
	}
	keeps := "It keeps the rules for the person and the boat's limits."
	if n := len(h.breaks); n > 0 {
		b := &h.breaks[0]
		keeps = fmt.Sprintf("It breaks the rules for the person or the boat's limits in %d places, first %s: %s.", n, timeAt(res.source, b.timeS).Format("Jan 02 15:04"), b.words)
		if n == 1 {
			keeps = fmt.Sprintf("It breaks %s %s: %s.", b.rule, timeAt(res.source, b.timeS).Format("Jan 02 15:04"), b.words)
		}
	}
	return fmt.Sprintf("The schedule %s takes %s, %s; it gains %s over leaving the foils in. %s", h.name, hoursMinutes(h.voyage.TimeS()), than, hoursMinutes(h.gainedS(res)), keeps)
}

// scheduleName is the plan's own schedule in the form that --schedule reads.
const scheduleName = "schedule.csv"

// writeSchedule writes the plan's changes as a schedule that can be edited and
// given back with --schedule: one row for every side that a change moves.
func writeSchedule(w io.Writer, res *result) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"time_utc", "side", "extension", "rake_deg", "slow_down"}); err != nil {
		return err
	}
	states := res.problem.States()
	for i := range res.log.Changes {
		ch := &res.log.Changes[i]
		for _, side := range []strategy.Side{strategy.Port, strategy.Starboard} {
			to := ch.To.On(side)
			if to == ch.From.On(side) {
				continue
			}
			f := states.Setting(to)
			row := []string{timeAt(res.source, ch.TimeS).Format(time.RFC3339), side.String(), strconv.FormatFloat(f.Extension, 'g', -1, 64), strconv.FormatFloat(units.Deg(f.RakeRad), 'g', 6, 64), "yes"}
			if f.Extension == 0 {
				row[3] = ""
			}
			if err := c.Write(row); err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}
