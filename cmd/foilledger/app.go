package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"
)

// streams are where a command writes: results to out, all else to errOut.
type streams struct {
	out, errOut io.Writer
	quiet       bool
}

// run is the whole program but for the process: it returns the exit code.
func run(ctx context.Context, args []string, out, errOut io.Writer) int {
	app := newApp(out, errOut)
	err := app.RunContext(ctx, args)
	if err == nil {
		return exitDone
	}
	if ctx.Err() != nil {
		err = ctx.Err()
	}
	e := explain(err)
	if e.code == exitCancelled && goesOn(args) {
		e.hint = "what was sailed so far is kept; the same command goes on from there"
	}
	report(errOut, wantsJSON(args), e)
	return e.code
}

// goesOn says whether a command keeps a journal by which it goes on after a
// stop.
func goesOn(args []string) bool {
	return len(args) > 2 && (args[1] == "trial" || args[1] == "refit") && strings.HasPrefix(args[2], "-") &&
		slices.ContainsFunc(args, func(a string) bool {
			return strings.HasPrefix(strings.TrimLeft(a, "-"), "out") && strings.HasPrefix(a, "-")
		})
}

// wantsJSON looks for --json in the raw arguments, because errors of parsing
// come before any command has seen its options.
func wantsJSON(args []string) bool {
	return slices.ContainsFunc(args, func(a string) bool { return a == "--json" || a == "-json" || a == "--json=true" })
}

func newApp(out, errOut io.Writer) *cli.App {
	app := &cli.App{
		Name:                      "foilledger",
		Usage:                     "when to put foils out, take them in and re-rake them on an ocean passage, and what it gains",
		Description:               "Example:\n\n   foilledger demo\n\n" + exitCodes + "\n\n" + caution,
		Version:                   version(),
		Writer:                    out,
		ErrWriter:                 errOut,
		HideHelpCommand:           true,
		Suggest:                   true,
		EnableBashCompletion:      true,
		DisableSliceFlagSeparator: true,
		ExitErrHandler:            func(*cli.Context, error) {},
		OnUsageError:              onUsageError,
		Commands:                  commands(),
		CommandNotFound:           nil,
		Action: func(c *cli.Context) error {
			if c.Args().Present() {
				name := c.Args().First()
				hint := "run foilledger --help for the list of commands"
				if s := nearest(name, commandNames(c.App.Commands)); s != "" {
					hint = fmt.Sprintf("did you mean %q? %s", s, hint)
				}
				return usage(hint, "there is no command %q", name)
			}
			return cli.ShowAppHelp(c)
		},
	}
	for _, c := range app.Commands {
		prepare(c)
	}
	return app
}

// prepare gives a command and its subcommands the habits that all share.
func prepare(c *cli.Command) {
	c.OnUsageError = onUsageError
	c.HideHelpCommand = true
	for _, s := range c.Subcommands {
		prepare(s)
	}
}

// version is the module's version or the commit it was built from.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && len(s.Value) >= 12 {
			return s.Value[:12]
		}
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	return "development"
}

// isTerminal reports whether w is a terminal, where progress may be shown.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	st, err := f.Stat()
	return err == nil && st.Mode()&os.ModeCharDevice != 0
}

// caution stands in the help, README, page and card.
const caution = "Not a substitute for a lookout, seamanship, the makers' and designers' limits, class and race rules, official charts and forecasts, or local regulations."
