package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/urfave/cli/v2"
)

// everyCommand lists the commands with their words, those below others included.
func everyCommand() map[string]*cli.Command {
	out := map[string]*cli.Command{}
	var walk func(above string, cmds []*cli.Command)
	walk = func(above string, cmds []*cli.Command) {
		for _, c := range cmds {
			out[above+c.Name] = c
			walk(above+c.Name+" ", c.Subcommands)
		}
	}
	walk("", newApp(io.Discard, io.Discard).Commands)
	return out
}

// TestHelp asks that every help text fits 80 columns and shows an example, and
// that every option which takes a value says which, with no word left over.
func TestHelp(t *testing.T) {
	unused := map[string]bool{}
	for name := range valueWords {
		unused[name] = true
	}
	for name, c := range everyCommand() {
		var out strings.Builder
		if code := run(context.Background(), append(append([]string{"foilledger"}, strings.Fields(name)...), "--help"), &out, &out); code != 0 {
			t.Errorf("%s --help: exit code %d", name, code)
		}
		if !strings.Contains(out.String(), "Example") || !strings.Contains(out.String(), "foilledger "+name) {
			t.Errorf("%s --help shows no example", name)
		}
		for _, l := range strings.Split(out.String(), "\n") {
			if n := len([]rune(l)); n > 80 {
				t.Errorf("%s --help: %d columns: %s", name, n, l)
			}
		}
		for _, f := range c.Flags {
			option := f.Names()[0]
			delete(unused, option)
			delete(unused, c.Name+" --"+option)
			if d, ok := f.(cli.DocGenerationFlag); ok && d.TakesValue() && valueWord(c.Name, f) == "" {
				t.Errorf("%s --%s takes a value without a word for it", name, option)
			}
		}
	}
	for name := range unused {
		t.Errorf("no option of the word %q", name)
	}
}

// helpExamples are the commands that the help texts show, in their order.
func helpExamples() (lines []string) {
	var walk func(cmds []*cli.Command)
	walk = func(cmds []*cli.Command) {
		for _, c := range cmds {
			for _, l := range strings.Split(strings.ReplaceAll(c.Description, "\\\n", " "), "\n") {
				if strings.HasPrefix(l, "   foilledger ") {
					lines = append(lines, strings.TrimSpace(l))
				}
			}
			walk(c.Subcommands)
		}
	}
	walk(newApp(io.Discard, io.Discard).Commands)
	return lines
}

// TestHelpExamples starts every example of the help texts in a folder that holds
// the files which they name. Each must be taken as it stands: it ends well, or
// is still at work when it is cancelled. With FOILLEDGER_EXAMPLES=full, as CI
// sets it, all run to their end, with fewer weathers and longer stages than they
// ask for.
func TestHelpExamples(t *testing.T) {
	full := os.Getenv("FOILLEDGER_EXAMPLES") == "full"
	exampleFolder(t, full)
	quicker := map[string][]string{
		"demo": {"--stage", "60", "--sleep", "0"}, "passage": {"--stage", "60", "--sleep", "0"},
		"course": {"--stage", "60", "--sleep", "0", "--stages", "24", "--across", "9", "--refine-until", "30"},
		"trial":  {"--after-end", "hold", "--stage", "100", "--weathers", "7", "--every", "300h"},
		"card":   {"--after-end", "hold", "--stage", "100", "--weathers", "4", "--every", "250h", "--rules", "2"},
		"refit":  {"--after-end", "hold", "--stage", "100", "--weathers", "2", "--samples", "0"},
	}
	seen := map[string]bool{}
	for _, line := range helpExamples() {
		line, _, _ = strings.Cut(line, " >") // where its output goes
		line, _, _ = strings.Cut(line, " |")
		args := splitWords(line)
		ownFolders := args[1] == "trial" && !strings.HasPrefix(args[2], "-") // merge and replay take what was sailed
		if seen[line] || ownFolders && !full {
			continue
		}
		seen[line] = true
		for i, a := range args { // no work goes on in the folder of another
			if a == "--out" && slices.Contains([]string{"trial", "refit", "card"}, args[1]) && seen[args[i+1]] && !ownFolders {
				args[i+1] += "-other"
			}
			if a == "--out" {
				seen[args[i+1]] = true
			}
		}
		ctx := t.Context()
		if full && !ownFolders {
			args = append(args, quicker[args[1]]...)
		} else if !full {
			var cancel context.CancelFunc
			ctx, cancel = context.WithTimeout(ctx, 100*time.Millisecond)
			defer cancel()
		}
		var out, errOut strings.Builder
		code := run(ctx, args, &out, &errOut)
		if code == exitCancelled && !full {
			continue
		}
		if code != exitDone || out.Len() == 0 {
			t.Errorf("%s: exit code %d, %d bytes printed\n%s", line, code, out.Len(), errOut.String())
		}
	}
	if len(seen) < 25 {
		t.Errorf("only %d examples", len(seen))
	}
}

// exampleFolder makes the files that the examples name and goes there.
func exampleFolder(t *testing.T, full bool) {
	t.Helper()
	dir := t.TempDir()
	t.Chdir(dir)
	t.Setenv("XDG_CACHE_HOME", dir)
	if err := os.Symlink(sharedCache(t), filepath.Join(dir, "foilledger")); err != nil {
		t.Fatal(err)
	}
	from := func(name, in string) {
		b, err := os.ReadFile(filepath.Join(root(t), "testdata", filepath.FromSlash(in)))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	made := func(name string, args ...string) {
		run(context.Background(), append([]string{"foilledger", "forecast", "make", "--area", "30,-60; 60,0", "--grid", "3", "--out", name}, args...), io.Discard, os.Stderr)
	}
	from("boat.toml", "boats/small.toml")
	from("small.toml", "boats/small.toml")
	from("big.toml", "boats/big.toml")
	from("weather.toml", "demo/weather.toml")
	from("track.gpx", "demo/track.geojson") // told apart by content
	from("mine.toml", "policies/fresh-reach.toml")
	made("wind.grib2", "--kind", "steady", "--hours", "240", "--start", "2026-02-28T00:00:00Z")
	made("members.grib2", "--kind", "low", "--hours", "192", "--ensemble", "1")
	made("analysis.grib2", "--kind", "low", "--hours", "192")
	made("monday.grib2", "--kind", "low", "--hours", "192")
	made("tuesday.grib2", "--kind", "low", "--hours", "168", "--start", "2030-05-02T00:00:00Z")
	made("year.nc", "--kind", "steady", "--hours", "1400", "--step", "12", "--start", "2011-01-01T00:00:00Z") // told apart by content
	for _, name := range []string{"waves.grib2", "ens/run_1.grib2", "ens/run_2.grib2"} {
		made(name, "--kind", "steady", "--hours", "240", "--start", "2026-02-28T00:00:00Z")
	}
	if err := os.WriteFile("variants.toml", []byte("[[variant]]\nname = \"longer\"\nchanges = { \"foils.span_m\" = 3.0 }\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"1", "2", "3", "4"} {
		if !full {
			break
		}
		run(context.Background(), []string{"foilledger", "trial", "--boat", "boat.toml", "--track", "track.gpx", "--made", "weather.toml", "--weathers", "4",
			"--stage", "100", "--part", part + "/4", "--out", "part" + part}, io.Discard, os.Stderr)
	}
}
