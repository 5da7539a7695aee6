package main

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/urfave/cli/v2"
)

var updateReadme = flag.Bool("update", false, "write the output shown in README.md anew")

// readmeBlock is a block of commands, or one of output with an optional comment
// before it that says which lines are shown.
var readmeBlock = regexp.MustCompile("(?s)(?:<!-- shown: ([^\n]*?) -->\n)?```(sh|text)\n(.*?)```")

// shownRange reads `from "…" until "…"`, either of which may be left out.
var shownRange = regexp.MustCompile(`^(?:from "([^"]+)")? ?(?:until "([^"]+)")?$`)

// TestReadmeIsCurrent runs every command that README.md shows in a block marked
// sh and compares the block marked text after it with what was printed; with
// -update it writes the output instead. A comment before the block, as
// <!-- shown: from "Ledger" until "Warnings" -->, shows the lines from the first
// that starts with the one text to before the first that starts with the other,
// and "…" for what is left out.
func TestReadmeIsCurrent(t *testing.T) {
	path := filepath.Join(root(t), "README.md")
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.Symlink(filepath.Join(root(t), "testdata"), filepath.Join(dir, "testdata")); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	ran, compared := 0, 0
	printed := ""
	have := string(b)
	want := readmeBlock.ReplaceAllStringFunc(have, func(block string) string {
		m := readmeBlock.FindStringSubmatch(block)
		if m[2] == "sh" {
			var n int
			printed, n = runBlock(t, m[3])
			ran += n
			return block
		}
		if printed == "" {
			return block
		}
		lines, err := shown(m[1], printed)
		if err != nil {
			t.Errorf("README.md: %s: %v", m[1], err)
			return block
		}
		compared++
		printed = ""
		return strings.TrimSuffix(block, m[3]+"```") + lines + "```"
	})
	if ran < 3 || compared < 1 {
		t.Errorf("%d commands run and %d outputs compared: README.md should hold more", ran, compared)
	}
	if want == have {
		return
	}
	if *updateReadme && !t.Failed() {
		if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Errorf("README.md shows (-) what the program does not print (+); renew it with go test ./cmd/foilledger -run TestReadmeIsCurrent -update\n%s",
		cmp.Diff(strings.Split(have, "\n"), strings.Split(want, "\n")))
}

// runBlock runs the commands of a block and returns what the last one printed,
// nothing when it needs data that is not here.
func runBlock(t *testing.T, block string) (printed string, ran int) {
	t.Helper()
	for _, line := range strings.Split(strings.TrimSpace(strings.ReplaceAll(block, "\\\n", " ")), "\n") {
		args := splitWords(line)
		if len(args) < 4 || !slices.Equal(args[:3], []string{"go", "run", "./cmd/foilledger"}) {
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
		if takesCache(args[1]) {
			args = append(args, "--cache", sharedCache(t))
		}
		var out, errOut strings.Builder
		if code := run(context.Background(), args, &out, &errOut); code != 0 {
			t.Errorf("%s: exit code %d\n%s", line, code, errOut.String())
		}
		printed = out.String()
		ran++
	}
	return printed, ran
}

// takesCache says whether a command keeps speed tables.
func takesCache(command string) bool {
	return slices.ContainsFunc(commands(), func(c *cli.Command) bool {
		return c.Name == command && slices.ContainsFunc(c.Flags, func(f cli.Flag) bool { return f.Names()[0] == "cache" })
	})
}

// shown cuts the lines that a block shows out of what was printed.
func shown(which, printed string) (string, error) {
	m := shownRange.FindStringSubmatch(which)
	if m == nil {
		return "", os.ErrInvalid
	}
	lines := strings.Split(strings.TrimRight(printed, "\n"), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	starts := func(text string) int {
		return slices.IndexFunc(lines, func(s string) bool { return strings.HasPrefix(s, text) })
	}
	var out []string
	if m[1] != "" {
		i := starts(m[1])
		if i < 0 {
			return "", os.ErrNotExist
		}
		if i > 0 {
			out = append(out, "…")
		}
		lines = lines[i:]
	}
	if m[2] != "" {
		i := starts(m[2])
		if i < 0 {
			return "", os.ErrNotExist
		}
		lines = append(lines[:i:i], "…")
		for len(lines) > 1 && lines[len(lines)-2] == "" {
			lines = append(lines[:len(lines)-2], "…")
		}
	}
	return strings.Join(append(out, lines...), "\n") + "\n", nil
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
