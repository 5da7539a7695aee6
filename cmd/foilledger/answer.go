package main

import (
	"fmt"
	"io"
	"strings"

	"foilledger/plots"
)

// textAnswer is what a command says to a person: the short answer, then how it
// comes about, what to mind and what was written.
type textAnswer struct {
	headline, boat string
	details        func(w io.Writer)
	notes          []string
	out            string   // folder written to; "" when none was
	files          []string // the ones in it to look at
	next           string   // what to do with them; may be ""
}

// print prints the short answer, and the rest unless quiet was asked for.
func (a *textAnswer) print(s streams) {
	w := s.out
	fmt.Fprintf(w, "%s\n", wrap(a.headline, 78, ""))
	if s.quiet {
		return
	}
	fmt.Fprintf(w, "\nBoat   %s\n\n", a.boat)
	a.details(w)
	fmt.Fprintln(w)
	for _, n := range a.notes {
		fmt.Fprintf(w, "%s\n", wrap("Note: "+n, 78, "  "))
	}
	if a.out != "" {
		fmt.Fprintf(w, "Wrote %s to %s\n", strings.Join(a.files, ", "), a.out)
		if a.next != "" {
			fmt.Fprintf(w, "%s\n\n", a.next)
		}
	}
	fmt.Fprintf(w, "%s\n", wrap(caution, 78, ""))
}

// pageInputs lists files for a page.
func pageInputs(in []input) (out []plots.Input) {
	for _, x := range in {
		out = append(out, plots.Input{File: x.File, SHA256: x.SHA256})
	}
	return out
}

// section is a heading and a table below it, for a terminal.
func section(w io.Writer, title string, head []string, rows [][]string) {
	fmt.Fprintf(w, "\n%s\n\n", title)
	table(w, head, rows)
}
