package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"
)

// manualCommand prints the man page made from the same help texts.
func manualCommand() *cli.Command {
	return &cli.Command{
		Name:        "manual",
		Usage:       "print the manual page in the format of man",
		Description: "Examples:\n\n   foilledger manual | man -l -\n   foilledger manual > /usr/local/share/man/man1/foilledger.1",
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			return writeManual(c.App.Writer, newApp(io.Discard, io.Discard))
		},
	}
}

// writeManual writes the manual page: every command with its example and every
// option, as the help texts have them.
func writeManual(w io.Writer, app *cli.App) error {
	var b strings.Builder
	fmt.Fprintf(&b, ".TH %s 1 \"\" \"%s %s\"\n.nh\n.ad l\n", app.Name, app.Name, roff(app.Version))
	fmt.Fprintf(&b, ".SH NAME\n%s \\- %s\n", app.Name, roff(app.Usage))
	fmt.Fprintf(&b, ".SH SYNOPSIS\n.B %s\nCOMMAND [OPTIONS]\n", app.Name)
	fmt.Fprintf(&b, ".SH DESCRIPTION\n%s", roffText(strings.ReplaceAll(app.Description, exitCodes, "")))
	b.WriteString("Options go before arguments. Every command takes \\fB\\-\\-help\\fP.\n.SH COMMANDS\n")
	roffCommands(&b, app.Name, app.Commands)
	b.WriteString(".SH EXIT STATUS\n")
	for _, s := range strings.Split(strings.TrimSuffix(strings.TrimPrefix(exitCodes, "Exit codes: "), "."), ", ") {
		code, meaning, _ := strings.Cut(s, " ")
		fmt.Fprintf(&b, ".TP\n.B %s\n%s\n", code, roff(meaning))
	}
	b.WriteString(".SH ENVIRONMENT\n.TP\n.B XDG_CACHE_HOME\nthe folder in which the folder foilledger with the computed speed tables stands, unless \\fB\\-\\-cache\\fP names another\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func roffCommands(b *strings.Builder, above string, cmds []*cli.Command) {
	for _, c := range cmds {
		name := above + " " + c.Name
		fmt.Fprintf(b, ".SS %s\n%s.\n.PP\n.B %s\n%s\n", roff(name), roff(c.Usage), roff(name), roff(synopsis(c)))
		b.WriteString(roffText(strings.ReplaceAll(c.Description, exitCodes, "")))
		for _, r := range optionRows(c.Name, c.VisibleFlags()) {
			option, word, _ := strings.Cut(r.name, " ")
			if word != "" {
				word = " " + roff(word)
			}
			fmt.Fprintf(b, ".TP\n\\fB%s\\fP%s\n%s\n", roff(option), word, roff(r.text))
		}
		roffCommands(b, name, c.Subcommands)
	}
}

// roffText sets a help text: examples and lists keep their lines.
func roffText(text string) string {
	var b strings.Builder
	kept := false
	b.WriteString(".PP\n")
	for _, l := range strings.Split(strings.TrimSpace(text), "\n") {
		switch indented := strings.HasPrefix(l, " "); {
		case l == "":
			if !kept {
				b.WriteString(".PP\n")
			}
			continue
		case indented && !kept:
			b.WriteString(".EX\n")
			kept = true
		case !indented && kept:
			b.WriteString(".EE\n.PP\n")
			kept = false
		}
		b.WriteString(roff(l) + "\n")
	}
	if kept {
		b.WriteString(".EE\n")
	}
	return b.String()
}

// roff guards what the formatter would take for its own.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "…", "...").Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s
}
