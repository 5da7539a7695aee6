package main

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// sameByHand checks that the schedule given by hand arrives with the plan,
// within some seconds, with the same actions.
func sameByHand(ts *testscript.TestScript, _ bool, args []string) {
	var p passageJSON
	if err := json.Unmarshal([]byte(ts.ReadFile(args[0])), &p); err != nil {
		ts.Fatalf("%v", err)
	}
	tol, err := strconv.ParseFloat(args[1], 64)
	if err != nil {
		ts.Fatalf("%v", err)
	}
	h := p.ByHand
	if h == nil || len(h.Actions) == 0 || len(h.Actions) != len(p.Actions) {
		ts.Fatalf("by hand %+v, plan %+v", h, p.Actions)
	}
	if !(math.Abs(h.BehindPlanMin)*60 <= tol) || !(math.Abs(h.TimeGainedMin-p.Baselines[0].TimeGainedMin)*60 <= tol) {
		ts.Fatalf("by hand %.2f min behind the plan, gains %.2f min where the plan gains %.2f", h.BehindPlanMin, h.TimeGainedMin, p.Baselines[0].TimeGainedMin)
	}
	sum := 0.0
	for _, l := range h.Ledger {
		sum += l.Minutes
	}
	if !(math.Abs(sum-h.TimeGainedMin) <= 0.05) {
		ts.Fatalf("the ledger by hand sums to %.3f min, the gain is %.3f min", sum, h.TimeGainedMin)
	}
	for i, a := range h.Actions {
		if b := p.Actions[i]; a.Side != b.Side || a.Action != b.Action || a.To != b.To {
			ts.Fatalf("action %d: by hand %+v, plan %+v", i, a, b)
		}
	}
}

// quietIn checks that a plan has actions, and none of them between two times.
func quietIn(ts *testscript.TestScript, _ bool, args []string) {
	var p passageJSON
	if err := json.Unmarshal([]byte(ts.ReadFile(args[0])), &p); err != nil {
		ts.Fatalf("%v", err)
	}
	if len(p.Actions) == 0 {
		ts.Fatalf("no action at all")
	}
	for _, a := range p.Actions {
		if a.Time >= args[1] && a.Time < args[2] {
			ts.Fatalf("an action in the rest: %+v", a)
		}
	}
	rested := 0.0
	parse := func(s string) time.Time {
		t, err := time.Parse(time.RFC3339, s)
		if err != nil {
			ts.Fatalf("%v", err)
		}
		return t
	}
	from, to := parse(args[1]), parse(args[2])
	for _, n := range p.Rest.Naps {
		a, b := parse(n.From), parse(n.To)
		if a.Before(from) {
			a = from
		}
		if b.After(to) {
			b = to
		}
		rested += math.Max(0, b.Sub(a).Hours())
	}
	if want := to.Sub(from).Hours(); !(rested >= want-0.01) {
		ts.Fatalf("%.2f h of the rest of %.2f h are rest", rested, want)
	}
}

// narrow checks that text fits a terminal of 80 columns.
func narrow(ts *testscript.TestScript, _ bool, args []string) {
	for _, l := range strings.Split(ts.ReadFile(args[0]), "\n") {
		if n := len([]rune(l)); n > 80 {
			ts.Fatalf("%d columns: %s", n, l)
		}
	}
}
