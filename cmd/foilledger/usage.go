package main

import (
	"regexp"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"foilledger/vpp"
)

// badValue is how the command-line library says that a value is no number or
// span of time.
var badValue = regexp.MustCompile(`^invalid value "(.*)" for flag -(\S+): `)

// onUsageError says in the words of the help texts what the command-line library
// found wrong with an option.
func onUsageError(c *cli.Context, err error, _ bool) error {
	name, flags := c.App.Name, c.App.Flags
	if c.Command != nil && len(c.Command.Flags) > 0 {
		name, flags = fullName(c.Command), c.Command.Flags
	}
	hint := "run " + name + " --help for its options"
	text := err.Error()
	if option, ok := strings.CutPrefix(text, "flag provided but not defined: "); ok {
		option = strings.TrimLeft(option, "-")
		var names []string
		for _, f := range flags {
			names = append(names, f.Names()[0])
		}
		if s := nearest(option, names); s != "" {
			hint = "did you mean --" + s + "? " + hint
		}
		return usage(hint, "%s has no option %s", strings.TrimPrefix(name, c.App.Name+" "), dashed(option))
	}
	word := func(option string) string {
		for _, f := range flags {
			if slices.Contains(f.Names(), option) {
				return valueWord(c.Command.Name, f)
			}
		}
		return ""
	}
	if option, ok := strings.CutPrefix(text, "flag needs an argument: -"); ok {
		option = strings.TrimLeft(option, "-")
		return usage(hint, "--%s needs a value: --%s %s", option, option, word(option))
	}
	if m := badValue.FindStringSubmatch(text); m != nil {
		switch word(m[2]) {
		case "SPAN":
			return usage("write it as 6h or 90m", "--%s %q: not a span of time", m[2], m[1])
		case "":
			return usage(hint, "--%s takes no value", m[2])
		case "N":
			return usage(hint, "--%s %q: not a whole number", m[2], m[1])
		}
		return usage(hint, "--%s %q: not a number", m[2], m[1])
	}
	return usage(hint, "%w", err)
}

// dashed is an option as it is written.
func dashed(name string) string { return strings.Repeat("-", min(len(name), 2)) + name }

// noArguments refuses what is left on the command line after the options, for
// options after an argument would silently become arguments.
func noArguments(c *cli.Context) error {
	if !c.Args().Present() {
		return nil
	}
	return usage("options go before any argument; quote lists such as --via \"lat,lon; lat,lon\"",
		"unexpected argument %q", c.Args().First())
}

// nearest is the word closest to a mistyped one; "" when none is close.
func nearest(name string, words []string) string {
	best, at := 3, ""
	for _, w := range words {
		if d := vpp.EditDistance(strings.ToLower(name), w); d < best && d < max(2, len(w)) {
			best, at = d, w
		}
	}
	return at
}

func commandNames(cmds []*cli.Command) []string {
	var names []string
	for _, c := range cmds {
		names = append(names, c.Name)
	}
	return names
}
