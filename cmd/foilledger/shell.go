package main

import (
	"fmt"
	"io"
	"strings"
	"text/template"

	"github.com/urfave/cli/v2"
)

// completionCommand prints a script that lets a shell complete commands, options
// and what follows them. The shells ask the program itself for its commands and
// options at every press of the tab key.
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
		Description: "Examples:\n\n   foilledger completion bash \\\n      > ~/.local/share/bash-completion/completions/foilledger\n   foilledger completion fish > ~/.config/fish/completions/foilledger.fish",
		Action:      needsSubcommand,
		Subcommands: []*cli.Command{
			print("bash", "source <(foilledger completion bash)", fromTemplate(bashScript)),
			print("zsh", "foilledger completion zsh > \"${fpath[1]}/_foilledger\"", fromTemplate(zshScript)),
			print("fish", "foilledger completion fish > ~/.config/fish/completions/foilledger.fish", fromTemplate(fishScript)),
		},
	}
}

// needsSubcommand answers a command that only holds others.
func needsSubcommand(c *cli.Context) error {
	names := commandNames(c.Command.Subcommands)
	hint := "use one of " + strings.Join(names, ", ")
	if !c.Args().Present() {
		return usage(hint, "foilledger %s needs a subcommand", c.Command.Name)
	}
	name := c.Args().First()
	if s := nearest(name, names); s != "" {
		hint = fmt.Sprintf("did you mean %q? %s", s, hint)
	}
	return usage(hint, "foilledger %s has no subcommand %q", c.Command.Name, name)
}

// fromTemplate fills a completion script with what follows each option that
// takes a value.
func fromTemplate(text string) func(io.Writer, *cli.App) error {
	t := template.Must(template.New("").Funcs(template.FuncMap{"join": strings.Join}).Parse(text))
	return func(w io.Writer, app *cli.App) error { return t.Execute(w, offers(app.Commands)) }
}

const bashScript = `# bash completion for foilledger
_foilledger() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}
  COMPREPLY=()
  [[ $word == "=" ]] && word=
  [[ $before == "=" ]] && before=${COMP_WORDS[COMP_CWORD-2]}
  case $before in
{{- range .}}
    {{join .Options "|"}})
      {{if .Words}}COMPREPLY=($(compgen -W "{{join .Words " "}}" -- "$word")){{else if not .Files}}compopt +o bashdefault +o default 2>/dev/null{{end}}
      return ;;
{{- end}}
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
{{- range .}}
    {{join .Options "|"}})
      {{if .Words}}compadd {{join .Words " "}}{{else if .Files}}_files{{else}}_message 'a value'{{end}}
      return ;;
{{- end}}
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

const fishScript = `# fish completion for foilledger
function __foilledger
  set -l words (commandline -opc)
  set -l word (commandline -ct)
  switch $words[-1]
{{- range .}}
    case {{join .Options " "}}
      {{if .Words}}printf '%s\n' {{join .Words " "}}{{else if .Files}}__fish_complete_path $word{{end}}
      return
{{- end}}
  end
  string match -q -- '-*' $word; and set -a words $word
  set -l offered (env _CLI_ZSH_AUTOCOMPLETE_HACK=1 $words --generate-bash-completion 2>/dev/null)
  if test (count $offered) -gt 0
    string replace ':' \t -- $offered
  else
    __fish_complete_path $word
  end
end
complete -c foilledger -f -a '(__foilledger)'
`
