package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
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
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"checkpassage": checkPassage},
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

// TestReadmeIsCurrent runs every command that README.md shows in a block marked
// sh and compares the block marked text after it with what was printed. A line
// "…" stands for any number of lines.
func TestReadmeIsCurrent(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(root(t), "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile("(?s)```(sh|text)\n(.*?)```").FindAllStringSubmatch(string(b), -1)
	dir := t.TempDir()
	for _, name := range []string{"testdata"} {
		if err := os.Symlink(filepath.Join(root(t), name), filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(dir)
	ran, compared := 0, 0
	printed := ""
	for _, bl := range blocks {
		if bl[1] == "text" {
			if printed == "" {
				continue
			}
			compareText(t, bl[2], printed)
			compared++
			printed = ""
			continue
		}
		text := strings.ReplaceAll(bl[2], "\\\n", " ")
		for _, line := range strings.Split(strings.TrimSpace(text), "\n") {
			args := splitWords(line)
			if len(args) < 3 || args[0] != "go" || args[1] != "run" || args[2] != "./cmd/foilledger" {
				continue // go test and the like
			}
			if strings.Contains(line, "../shared/data") {
				data := os.Getenv("FOILLEDGER_DATA")
				if data == "" {
					data = filepath.Join(root(t), "..", "shared", "data")
				}
				if _, err := os.Stat(data); err != nil {
					t.Logf("not run, the open data folder is absent: %s", line)
					printed = ""
					continue
				}
				for i := range args {
					args[i] = strings.ReplaceAll(args[i], "../shared/data", data)
				}
			}
			args = append([]string{"foilledger"}, args[3:]...)
			switch args[1] {
			case "demo", "passage", "speeds":
				args = append(args, "--cache", sharedCache(t))
			}
			var out, errOut strings.Builder
			if code := run(t.Context(), args, &out, &errOut); code != 0 {
				t.Errorf("%s: exit code %d\n%s", line, code, errOut.String())
			}
			printed = out.String()
			ran++
		}
	}
	if ran < 3 || compared < 1 {
		t.Errorf("%d commands run and %d outputs compared: README.md should hold more", ran, compared)
	}
}

// compareText checks that want's lines occur in got in order; between "…" lines
// they must be consecutive.
func compareText(t *testing.T, want, got string) {
	t.Helper()
	at, loose := 0, true
	g := strings.Split(strings.TrimRight(got, "\n"), "\n")
	for _, w := range strings.Split(strings.TrimRight(want, "\n"), "\n") {
		if w == "…" {
			loose = true
			continue
		}
		for loose && at < len(g) && strings.TrimRight(g[at], " ") != strings.TrimRight(w, " ") {
			at++
		}
		if at >= len(g) || strings.TrimRight(g[at], " ") != strings.TrimRight(w, " ") {
			line := "the end"
			if at < len(g) {
				line = g[at]
			}
			t.Errorf("README.md promises\n\t%s\nbut the program prints\n\t%s\nIn full:\n%s", w, line, got)
			return
		}
		at++
		loose = false
	}
}

// splitWords splits a shell line into words, honouring double quotes.
func splitWords(s string) []string {
	var words []string
	var b strings.Builder
	quoted, any := false, false
	for _, r := range s {
		switch {
		case r == '"':
			quoted, any = !quoted, true
		case r == ' ' && !quoted:
			if any || b.Len() > 0 {
				words = append(words, b.String())
			}
			b.Reset()
			any = false
		default:
			b.WriteRune(r)
		}
	}
	if any || b.Len() > 0 {
		words = append(words, b.String())
	}
	return words
}
