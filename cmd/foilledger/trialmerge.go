package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"sort"

	"github.com/urfave/cli/v2"

	"foilledger/strategy/trial"
)

func trialMergeCommand() *cli.Command {
	var o struct {
		common
		out     string
		between string
	}
	return &cli.Command{
		Name: "merge", Usage: "make the result of a trial from the parts that were run apart", ArgsUsage: "DIR…",
		Description: "Example:\n\n   foilledger trial merge --out trial part1 part2 part3 part4\n\n" + exitCodes,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Usage: "folder for the results", DefaultText: "the first DIR", Destination: &o.out},
			betweenFlag(&o.between),
			&cli.BoolFlag{Name: "json", Usage: "print the result as one JSON object on stdout", Destination: &o.json},
			&cli.BoolFlag{Name: "quiet", Aliases: []string{"q"}, Usage: "print only the short answer", Destination: &o.quiet},
		},
		Action: func(c *cli.Context) error {
			dirs := c.Args().Slice()
			if len(dirs) == 0 {
				return usage("name the folders that --out named for the parts", "no folders to merge")
			}
			if o.out == "" {
				o.out = dirs[0]
			}
			note, records, err := mergeTrial(dirs)
			if err != nil {
				return trialError(err)
			}
			return finishTrial(c.Context, note, records, o.between, o.out, o.json, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

// mergeTrial reads the journals in some folders.
func mergeTrial(dirs []string) (*trialNote, []trial.Record, error) {
	var paths []string
	for _, d := range dirs {
		found, err := filepath.Glob(filepath.Join(d, "runs-*.jsonl"))
		if err != nil {
			return nil, nil, err
		}
		sort.Strings(found)
		paths = append(paths, found...)
	}
	if len(paths) == 0 {
		return nil, nil, &commandError{code: exitUsage, hint: "name the folders that --out named for the parts", err: fmt.Errorf("no runs of a trial in %v", dirs)}
	}
	note := &trialNote{}
	records, fingerprint, err := trial.MergeRuns[trial.Record](paths, note)
	if err != nil {
		var je *trial.JournalError
		if errors.As(err, &je) && je.Other {
			return nil, nil, &commandError{code: exitFailed, hint: "keep each trial in a folder of its own", err: err}
		}
		return nil, nil, err
	}
	if note.fingerprint() != fingerprint {
		return nil, nil, &commandError{code: exitFailed, hint: "run the trial again", err: fmt.Errorf("%s was made by another version", paths[0])}
	}
	return note, records, nil
}
