// Command table runs the tests and writes the table of all checks against
// things outside the project to the file named by its argument, or to
// testdata/VALIDATION.md. Run it from the project's root:
//
//	go run ./testdata/validation/table
package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"

	"foilledger/testdata/validation"
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "table:", err)
		os.Exit(1)
	}
}

func run() error {
	out := filepath.Join("testdata", "VALIDATION.md")
	if len(os.Args) > 1 {
		out = os.Args[1]
	}
	dir, err := os.MkdirTemp("", "validation")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	cmd := exec.Command("go", "test", "-count=1", "./...")
	cmd.Env = append(os.Environ(), "FOILLEDGER_VALIDATION="+dir)
	cmd.Stdout, cmd.Stderr = os.Stderr, os.Stderr
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("the tests must pass first: %w", err)
	}
	names, err := filepath.Glob(filepath.Join(dir, "*.json"))
	if err != nil {
		return err
	}
	var rows []validation.Row
	for _, n := range names {
		b, err := os.ReadFile(n)
		if err != nil {
			return err
		}
		var r validation.Row
		if err := json.Unmarshal(b, &r); err != nil {
			return fmt.Errorf("%s: %w", n, err)
		}
		rows = append(rows, r)
	}
	sort.Slice(rows, func(i, j int) bool {
		if rows[i].Package != rows[j].Package {
			return rows[i].Package < rows[j].Package
		}
		return rows[i].ID < rows[j].ID
	})
	return os.WriteFile(out, []byte(render(rows)), 0o644)
}

func render(rows []validation.Row) string {
	var b strings.Builder
	b.WriteString("# Checks against things outside the project\n\n")
	b.WriteString("Generated from the tests by `go run ./testdata/validation/table`; do not edit.\n\n")
	b.WriteString("Kinds: *analytic*, a closed form or an identity; *published*, a number printed in the source named; *independent*, computed by another program or library; *symmetry*, two runs that must agree; *behaviour*, a band from common practice; *regression*, an earlier result of this project, which proves nothing about truth. A row passes when |got − want| ≤ tolerance.\n\n")
	count := map[validation.Kind]int{}
	for _, r := range rows {
		count[r.Kind]++
	}
	kinds := make([]string, 0, len(count))
	for k := range count {
		kinds = append(kinds, string(k))
	}
	sort.Strings(kinds)
	fmt.Fprintf(&b, "%d rows:", len(rows))
	for i, k := range kinds {
		if i > 0 {
			b.WriteString(",")
		}
		fmt.Fprintf(&b, " %d %s", count[validation.Kind(k)], k)
	}
	b.WriteString(".\n")
	pkg := ""
	for _, r := range rows {
		if r.Package != pkg {
			pkg = r.Package
			fmt.Fprintf(&b, "\n## %s\n\n| check | quantity | got | want | tolerance | unit | kind | source |\n| --- | --- | ---: | ---: | ---: | --- | --- | --- |\n", pkg)
		}
		fmt.Fprintf(&b, "| %s | %s | %.5g | %.7g | %.2g | %s | %s | %s |\n", r.ID, cell(r.Quantity), r.Got, r.Want, r.Tol, cell(r.Unit), r.Kind, cell(r.Source))
	}
	return b.String()
}

func cell(s string) string { return strings.ReplaceAll(s, "|", "\\|") }
