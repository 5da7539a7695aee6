package main

import (
	"context"
	"strings"

	"github.com/urfave/cli/v2"

	"foilledger/vpp"
)

type speedsOptions struct {
	common
	boat            string
	sails           string
	tws, twa        float64
	sea             float64
	ext, rake       float64
	windward        float64
	out             string
	details         bool
	point, extGiven bool
}

func speedsCommand() *cli.Command {
	var o speedsOptions
	return &cli.Command{
		Name:  "speeds",
		Usage: "speeds of a boat in its foil states: one operating point, or tables and charts",
		Description: "Examples:\n\n   foilledger speeds --boat boat.toml --tws 16 --twa 110 --ext 1 --rake 4\n   foilledger speeds --boat boat.toml --tws 16 --twa 110 --details --out why\n   foilledger speeds --boat boat.toml --out speeds\n\n" +
			"With --tws and --twa it solves one operating point; without --ext and --rake the\nfastest setting within the limits. A state that a limit of the boat refuses, or\nin which she makes no way, is printed too, with exit code 3. --details adds what drives\nand what brakes, the winds of take-off and touch-down, and what each uncertain\nfactor of the model would change; --out writes the surge curve behind it.\nWithout them it tabulates the boat.\n\n" +
			exitCodes,
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "boat", Usage: "boat file (TOML)", Destination: &o.boat},
			&cli.StringFlag{Name: "sails", Usage: "sail sets that may be used, by name, separated by semicolons", DefaultText: "all of the boat file", Destination: &o.sails},
			&cli.Float64Flag{Name: "tws", Usage: "true wind speed, knots: one operating point", Destination: &o.tws},
			&cli.Float64Flag{Name: "twa", Usage: "true wind angle from the bow, degrees", Destination: &o.twa},
			&cli.Float64Flag{Name: "sea", Usage: "significant wave height, metres; the waves run with the wind", Destination: &o.sea},
			&cli.Float64Flag{Name: "ext", Usage: "extension of the leeward foil, 0 in to 1 out", DefaultText: "the fastest", Destination: &o.ext},
			&cli.Float64Flag{Name: "rake", Usage: "rake of the leeward foil, degrees", DefaultText: "the fastest", Destination: &o.rake},
			&cli.Float64Flag{Name: "windward", Usage: "extension of the windward foil, 0 in to 1 out", Destination: &o.windward},
			&cli.BoolFlag{Name: "details", Usage: "print the parts of the forces and what the model is unsure of", Destination: &o.details},
			&cli.StringFlag{Name: "out", Usage: "folder for tables, charts and page", Destination: &o.out},
		}, commonFlags(&o.common)...),
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			o.point = c.IsSet("tws") || c.IsSet("twa")
			o.extGiven = c.IsSet("ext") || c.IsSet("rake")
			switch {
			case o.boat == "":
				return usage("give a boat file with --boat", "no boat file given")
			case o.point && (!c.IsSet("tws") || !c.IsSet("twa")):
				return usage("give both --tws and --twa", "one operating point needs wind speed and angle")
			case c.IsSet("rake") && !c.IsSet("ext"):
				return usage("give --ext too, 0 in to 1 out", "--rake without --ext")
			case !o.point && (o.extGiven || c.IsSet("sea") || c.IsSet("windward")):
				return usage("add --tws and --twa", "--sea, --ext, --rake and --windward belong to one operating point")
			}
			for _, r := range []struct {
				name      string
				v, lo, hi float64
				unit      string
			}{{"tws", o.tws, 0, 80, " kn"}, {"twa", o.twa, 0, 180, "°"}, {"sea", o.sea, 0, 20, " m"}, {"ext", o.ext, 0, 1, ""}, {"rake", o.rake, -20, 20, "°"}, {"windward", o.windward, 0, 1, ""}} {
				if !(r.v >= r.lo && r.v <= r.hi) {
					return usage("", "--%s %g: must be from %g to %g%s", r.name, r.v, r.lo, r.hi, r.unit)
				}
			}
			return runSpeeds(c.Context, &o, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

func runSpeeds(ctx context.Context, o *speedsOptions, s streams) error {
	boat, in, err := readBoat(o.boat)
	if err != nil {
		return err
	}
	if boat, err = chooseSails(boat, o.sails); err != nil {
		return err
	}
	var dest *folder
	if o.out != "" {
		if dest, err = newFolder(o.out); err != nil {
			return err
		}
		defer dest.discard()
	}
	if o.point {
		return speedsPoint(ctx, o, boat, in, dest, s)
	}
	f, err := buildFleet(ctx, boat, o.cache, newProgress(s))
	if err != nil {
		return err
	}
	m, err := vpp.NewModel(boat, vpp.NoFactors())
	if err != nil {
		return err
	}
	if dest != nil {
		if err := writeSpeeds(ctx, dest, boat, m, f.table, in, newProgress(s)); err != nil {
			return err
		}
	}
	return printSpeeds(o, boat, in, f.table, s)
}

// chooseSails leaves the named sail sets aboard; all when names is empty.
func chooseSails(boat *vpp.Boat, names string) (*vpp.Boat, error) {
	var list []string
	for _, n := range strings.Split(names, ";") {
		if n = strings.TrimSpace(n); n != "" {
			list = append(list, n)
		}
	}
	if len(list) == 0 {
		return boat, nil
	}
	b, err := boat.WithSails(list...)
	if err != nil {
		return nil, usage("write the names as in the boat file, separated by semicolons", "--sails: %s", strings.TrimPrefix(err.Error(), "vpp: "))
	}
	return b, nil
}
