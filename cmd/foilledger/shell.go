package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/template"

	"github.com/urfave/cli/v2"
)

// completionCommand prints a script that lets a shell complete commands and
// options. bash and zsh ask the program itself at every press of the tab key,
// so their scripts never go stale; fish gets the whole list.
func completionCommand() *cli.Command {
	print := func(name, example string, write func(io.Writer, *cli.App) error) *cli.Command {
		return &cli.Command{
			Name:        name,
			Usage:       "print the script for " + name,
			Description: "Example:\n\n   " + example,
			Action: func(c *cli.Context) error {
				if err := noArguments(c); err != nil {
					return err
				}
				return write(c.App.Writer, newApp(io.Discard, io.Discard))
			},
		}
	}
	return &cli.Command{
		Name:        "completion",
		Usage:       "print a script that completes commands and options in bash, zsh or fish",
		Description: "Examples:\n\n   foilledger completion bash > ~/.local/share/bash-completion/completions/foilledger\n   foilledger completion fish > ~/.config/fish/completions/foilledger.fish",
		Action:      needsSubcommand,
		Subcommands: []*cli.Command{
			print("bash", "source <(foilledger completion bash)", fromTemplate(bashScript)),
			print("zsh", "foilledger completion zsh > \"${fpath[1]}/_foilledger\"", fromTemplate(zshScript)),
			print("fish", "foilledger completion fish > ~/.config/fish/completions/foilledger.fish", func(w io.Writer, app *cli.App) error {
				s, err := app.ToFishCompletion()
				if err != nil {
					return err
				}
				_, err = io.WriteString(w, s)
				return err
			}),
		},
	}
}

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
			app := newApp(io.Discard, io.Discard)
			withExamples(app.Commands)
			s, err := app.ToManWithSection(1)
			if err != nil {
				return err
			}
			_, err = io.WriteString(c.App.Writer, s)
			return err
		},
	}
}

// withExamples moves the commands' worked examples to where the manual page
// shows them; the exit codes stand at the page's top.
func withExamples(cmds []*cli.Command) {
	for _, c := range cmds {
		c.UsageText = strings.TrimSpace(strings.ReplaceAll(c.Description, exitCodes, ""))
		withExamples(c.Subcommands)
	}
}

// needsSubcommand answers a command that only holds others.
func needsSubcommand(c *cli.Context) error {
	var names []string
	for _, s := range c.Command.Subcommands {
		names = append(names, s.Name)
	}
	hint := "use one of " + strings.Join(names, ", ")
	if !c.Args().Present() {
		return usage(hint, "foilledger %s needs a subcommand", c.Command.Name)
	}
	name := c.Args().First()
	if s := nearest(name, c.Command.Subcommands); s != "" {
		hint = fmt.Sprintf("did you mean %q? %s", s, hint)
	}
	return usage(hint, "foilledger %s has no subcommand %q", c.Command.Name, name)
}

// fromTemplate fills a completion script with the options that take a value,
// after which the shell offers file names.
func fromTemplate(text string) func(io.Writer, *cli.App) error {
	t := template.Must(template.New("").Parse(text))
	return func(w io.Writer, app *cli.App) error {
		return t.Execute(w, strings.Join(valueOptions(app.Commands), "|"))
	}
}

func valueOptions(cmds []*cli.Command) []string {
	var out []string
	for _, c := range cmds {
		for _, f := range c.Flags {
			if d, ok := f.(cli.DocGenerationFlag); !ok || !d.TakesValue() {
				continue
			}
			for _, n := range f.Names() {
				out = append(out, strings.Repeat("-", min(len(n), 2))+n)
			}
		}
		out = append(out, valueOptions(c.Subcommands)...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

const bashScript = `# bash completion for foilledger
_foilledger() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}
  COMPREPLY=()
  case $before in
    {{.}}) return ;;
  esac
  local ask=("${COMP_WORDS[@]:0:COMP_CWORD}")
  [[ $word == -* ]] && ask+=("$word")
  local IFS=$'\n'
  COMPREPLY=($(compgen -W "$("${ask[@]}" --generate-bash-completion 2>/dev/null)" -- "$word"))
}
complete -o bashdefault -o default -F _foilledger foilledger
`

const zshScript = `#compdef foilledger
_foilledger() {
  local word=${words[CURRENT]} before=${words[CURRENT-1]}
  case $before in
    {{.}}) _files; return ;;
  esac
  local -a ask offered
  ask=("${(@)words[1,CURRENT-1]}")
  [[ $word == -* ]] && ask+=("$word")
  offered=("${(@f)$(_CLI_ZSH_AUTOCOMPLETE_HACK=1 "${(@)ask}" --generate-bash-completion 2>/dev/null)}")
  if [[ -n ${offered[1]} ]]; then
    _describe -V foilledger offered
  else
    _files
  fi
}
if [[ $funcstack[1] == _foilledger ]]; then _foilledger "$@"; else compdef _foilledger foilledger; fi
`
