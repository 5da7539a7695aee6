package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"
)

// helpWidth is the width to which help texts are set.
const helpWidth = 79

func init() {
	cli.HelpPrinter = func(w io.Writer, _ string, data any) {
		switch d := data.(type) {
		case *cli.App:
			printHelp(w, d.Name, d.Usage, "COMMAND [OPTIONS]", d.Description, d.Commands, optionRows("", d.VisibleFlags()))
		case *cli.Command:
			printHelp(w, fullName(d), d.Usage, synopsis(d), d.Description, d.Subcommands, optionRows(d.Name, d.VisibleFlags()))
		}
	}
	cli.VersionPrinter = func(c *cli.Context) { fmt.Fprintf(c.App.Writer, "%s %s\n", c.App.Name, c.App.Version) }
}

// fullName is a command's name with those of the commands above it.
func fullName(c *cli.Command) string {
	if c.HelpName != "" {
		return c.HelpName
	}
	return c.Name
}

// synopsis is what stands after a command's name.
func synopsis(c *cli.Command) string {
	switch {
	case c.ArgsUsage != "":
		return "[OPTIONS] " + c.ArgsUsage
	case len(c.Subcommands) > 0 && len(c.Flags) <= 1: // no more than --help
		return "COMMAND [OPTIONS]"
	}
	return "[OPTIONS]"
}

// optionRow is an option as help and manual show it.
type optionRow struct{ name, text string }

func optionRows(command string, flags []cli.Flag) []optionRow {
	var rows []optionRow
	for _, f := range flags {
		d, ok := f.(cli.DocGenerationFlag)
		if !ok {
			continue
		}
		r := optionRow{name: dashed(f.Names()[0]), text: d.GetUsage()}
		for _, n := range f.Names()[1:] {
			r.name += ", " + dashed(n)
		}
		if word := valueWord(command, f); word != "" {
			r.name += " " + word
		}
		if v := strings.Trim(d.GetDefaultText(), `"`); d.TakesValue() && !slices.Contains([]string{"", "0", "0s", "[]"}, v) {
			r.text += " (default: " + strings.TrimSuffix(v, "0m0s") + ")"
		}
		rows = append(rows, r)
	}
	return rows
}

// printHelp prints the help of the program or of one command, no wider than a
// terminal of 80 columns.
func printHelp(w io.Writer, name, does, takes, description string, cmds []*cli.Command, options []optionRow) {
	fmt.Fprintf(w, "%s\n\nUsage: %s %s\n\n", wrap(name+": "+does, helpWidth, "   "), name, takes)
	for _, l := range strings.Split(description, "\n") {
		if !strings.HasPrefix(l, " ") { // an example keeps its lines
			l = wrap(l, helpWidth, "")
		}
		fmt.Fprintln(w, l)
	}
	if len(cmds) > 0 {
		var rows []optionRow
		for _, c := range cmds {
			rows = append(rows, optionRow{c.Name, c.Usage})
		}
		fmt.Fprintf(w, "\nCommands\n\n")
		printRows(w, rows, 12)
	}
	fmt.Fprintf(w, "\nOptions\n\n")
	printRows(w, options, 24)
}

// printRows prints names and beside them, from a column on, what they mean.
func printRows(w io.Writer, rows []optionRow, column int) {
	indent := strings.Repeat(" ", column+2)
	for _, r := range rows {
		text := strings.ReplaceAll(wrap(r.text, helpWidth-len(indent), ""), "\n", "\n"+indent)
		if n := len([]rune(r.name)); n > column-2 {
			fmt.Fprintf(w, "  %s\n%s%s\n", r.name, indent, text)
		} else {
			fmt.Fprintf(w, "  %s%s%s\n", r.name, strings.Repeat(" ", column-n), text)
		}
	}
}
