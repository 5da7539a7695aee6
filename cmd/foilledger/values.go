package main

import (
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"foilledger/weather/synth"
)

// valueWords name what stands after an option, in help, manual and completion:
// its unit or its kind. Words between bars are the only ones that can be given.
// An option that means something else in one command has an entry of its own
// with the command's name before it.
var valueWords = map[string]string{
	"across": "N", "after-end": "refuse|hold", "area": "CORNERS", "at": "TIME", "avoid": "FILE",
	"between": "POLICIES", "boat": "FILE", "replay --boat": "N", "breeze": "KN",
	"cache": "DIR", "centres": "FIXES", "change": "KEY=VALUE", "changes": "N", "check": "FILE", "coast": "PLACE", "corridor": "NM",
	"depart": "TIME", "depart-every": "SPAN", "depart-until": "TIME",
	"effort": "KJ", "ensemble": "N", "every": "SPAN", "at --every": "H", "exactly": "N", "ext": "SHARE",
	"forecast": "FILE", "from": "PLACE", "front-bearing": "DEG", "front-gust": "KN", "front-jump": "KN",
	"grid": "DEG", "gust-factor": "RATIO", "gusts": "RATIO",
	"half-width": "NM", "hold-share": "SHARE", "hours": "H",
	"inflow": "DEG", "inland": "DEG", "issued": "FILE",
	"kind": kindWords(), "lat": "DEG", "latest-arrival": "TIME", "least-gain": "MIN", "load-area-power": "X", "lon": "DEG",
	"made": "FILE", "mark": "MARK", "mass-area-power": "X", "mass-span-power": "X", "max-gust": "KN", "max-wave": "M", "max-wind": "KN",
	"members": "PATTERN", "merge": "DIR",
	"nap": "MIN", "new": "FILE", "new-forecast-every": "SPAN", "night-factor": "RATIO", "not-north-of": "DEG", "not-south-of": "DEG",
	"off-land": "NM", "out": "DIR", "at --out": "FILE", "map --out": "FILE", "make --out": "FILE",
	"packing": strings.Join(packingNames(), "|"), "part": "K/N", "parts": "N", "peakedness": "B", "policy": "NAME", "power": "W",
	"radius": "NM", "rake": "DEG", "recipe": "FILE", "refine-until": "MIN", "rest": "FROM/TO or FILE", "rules": "FILE", "card --rules": "N",
	"sails": "NAMES", "sample-passages": "N", "samples": "N", "save-recipe": "FILE", "schedule": "FILE", "sea": "M",
	"see": "nothing|truth|mean|control|issued", "seed": "N", "shore": "fine|coarse|none", "sleep": "H", "spacing": "MIN",
	"squall-cell": "NM", "squall-chance": "SHARE", "squall-kn": "KN", "stage": "NM", "stages": "N", "start": "TIME", "step": "H",
	"sweep": "KEY=VALUES", "swing": "DEG", "swing-hours": "H", "swing-kn": "KN",
	"to": "PLACE", "track": "FILE", "train": "SHARE", "turn": "DEG/H", "twa": "DEG", "tws": "KN",
	"until": "TIME", "variants": "FILE", "via": "PLACES",
	"weather": "N", "weathers": "N", "wind": "KN", "wind-from": "DEG", "windward": "SHARE", "workers": "N", "worth": "MIN",
	"zone": "NAME",
}

func kindWords() string {
	var names []string
	for _, k := range synth.Kinds {
		names = append(names, k.Name)
	}
	return strings.Join(names, "|")
}

// valueWord is the word for what stands after an option of a command; "" for a
// switch.
func valueWord(command string, f cli.Flag) string {
	if d, ok := f.(cli.DocGenerationFlag); !ok || !d.TakesValue() {
		return ""
	}
	name := f.Names()[0]
	if w, ok := valueWords[command+" --"+name]; ok {
		return w
	}
	return valueWords[name]
}

// offer is what completion offers after options: the words that can be given,
// file names, or nothing.
type offer struct {
	Options []string // with their dashes
	Words   []string
	Files   bool
}

// offers groups the options of all commands that take a value by what may follow
// them. An option that takes a file in any command is offered files in all.
func offers(cmds []*cli.Command) []offer {
	files, plain := offer{Files: true}, offer{}
	chosen := map[string][]string{}
	var walk func([]*cli.Command)
	walk = func(cmds []*cli.Command) {
		for _, c := range cmds {
			for _, f := range c.Flags {
				word := valueWord(c.Name, f)
				for _, n := range f.Names() {
					n = dashed(n)
					switch {
					case word == "":
					case strings.Contains(word, "|"):
						chosen[n] = strings.Split(word, "|")
					case slices.ContainsFunc([]string{"FILE", "DIR", "PATTERN"}, func(s string) bool { return strings.Contains(word, s) }):
						files.Options = append(files.Options, n)
					default:
						plain.Options = append(plain.Options, n)
					}
				}
			}
			walk(c.Subcommands)
		}
	}
	walk(cmds)
	slices.Sort(files.Options)
	files.Options = slices.Compact(files.Options)
	slices.Sort(plain.Options)
	plain.Options = slices.DeleteFunc(slices.Compact(plain.Options), func(n string) bool { return slices.Contains(files.Options, n) })
	var out []offer
	for n, words := range chosen {
		out = append(out, offer{Options: []string{n}, Words: words})
	}
	slices.SortFunc(out, func(a, b offer) int { return strings.Compare(a.Options[0], b.Options[0]) })
	return append(out, files, plain)
}
