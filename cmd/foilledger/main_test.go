package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"foilledger": main})
}

// rootDir is the project's root, found before any test changes folder.
var rootDir = func() string {
	dir, err := filepath.Abs(filepath.Join("..", ".."))
	if err != nil {
		panic(err)
	}
	return dir
}()

func root(testing.TB) string { return rootDir }

// sharedCache holds the speed tables of all scripts, so that each boat is
// solved once.
func sharedCache(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(os.TempDir(), "foilledger-test-cache")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

func TestScripts(t *testing.T) {
	data := os.Getenv("FOILLEDGER_DATA")
	if data == "" {
		data = filepath.Join(root(t), "..", "shared", "data")
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("ROOT", root(t))
			e.Setenv("CACHE", sharedCache(t))
			e.Setenv("DATA", data)
			return nil
		},
		Condition: func(c string) (bool, error) {
			if c == "opendata" {
				_, err := os.Stat(data)
				return err == nil, nil
			}
			if c == "root" {
				return os.Geteuid() == 0, nil
			}
			return false, nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"checkpassage": checkPassage, "samebyhand": sameByHand, "quietin": quietIn, "narrow": narrow,
		},
	})
}

// checkPassage reads a passage's JSON from stdout's file and checks what holds
// for every passage: the ledger sums to the first baseline's time gained, times
// are in order, every action has a reason, and every number is finite.
func checkPassage(ts *testscript.TestScript, _ bool, args []string) {
	var p passageJSON
	if err := json.Unmarshal([]byte(ts.ReadFile(args[0])), &p); err != nil {
		ts.Fatalf("%v", err)
	}
	sum := 0.0
	for _, l := range p.Ledger {
		sum += l.Minutes
	}
	if len(p.Baselines) == 0 || !(math.Abs(sum-p.Baselines[0].TimeGainedMin) <= 0.02) {
		ts.Fatalf("ledger sums to %v min, baselines %v", sum, p.Baselines)
	}
	if !(p.BoundGapMin >= 0) || !(p.DistanceNM > 0) || !(p.PassageTimeH > 0) || len(p.Inputs) == 0 || p.Version == "" {
		ts.Fatalf("incomplete: %+v", p)
	}
	last := p.Departure
	for _, a := range p.Actions {
		if a.Time < last || a.Time > p.Arrival || a.Reason == "" || a.From == a.To {
			ts.Fatalf("action %+v", a)
		}
		last = a.Time
	}
	for _, in := range p.Inputs {
		if len(in.SHA256) != 64 {
			ts.Fatalf("input %+v", in)
		}
	}
}
