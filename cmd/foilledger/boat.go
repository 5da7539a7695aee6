package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/urfave/cli/v2"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

type boatOptions struct {
	create string
	check  string
	json   bool
}

func boatCommand() *cli.Command {
	var o boatOptions
	return &cli.Command{
		Name:        "boat",
		Usage:       "write a starter boat file with every key explained, or check one",
		Description: "Examples:\n\n   foilledger boat --new my-boat.toml\n   foilledger boat --check my-boat.toml\n\n" + exitCodes,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "new", Usage: "write a starter boat file here; - prints it", Destination: &o.create},
			&cli.StringFlag{Name: "check", Usage: "check this boat file and say what is in it", Destination: &o.check},
			&cli.BoolFlag{Name: "json", Usage: "print the result of --check as one JSON object", Destination: &o.json},
		},
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			return runBoat(&o, streams{out: c.App.Writer, errOut: c.App.ErrWriter})
		},
	}
}

func runBoat(o *boatOptions, s streams) error {
	switch {
	case o.create == "" && o.check == "":
		return usage("use --new FILE or --check FILE", "nothing to do")
	case o.create != "" && o.check != "":
		return usage("use one of the two", "both --new and --check given")
	case o.create == "-":
		_, err := fmt.Fprint(s.out, vpp.StarterBoat())
		return err
	case o.create != "":
		f, err := os.OpenFile(o.create, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if errors.Is(err, fs.ErrExist) {
			return usage("choose another name, or remove the file first", "%s exists already", o.create)
		}
		if err != nil {
			return err
		}
		_, err = f.WriteString(vpp.StarterBoat())
		if err = errors.Join(err, f.Close()); err != nil {
			os.Remove(o.create)
			return err
		}
		fmt.Fprintf(s.out, "Wrote %s. Edit it, then: foilledger boat --check %s\n", o.create, o.create)
		return nil
	}
	boat, in, err := readBoat(o.check)
	if err != nil {
		return err
	}
	settings := boat.Settings()
	if o.json {
		type setting struct {
			Extension float64 `json:"extension"`
			RakeDeg   float64 `json:"rake_deg"`
		}
		out := struct {
			Name           string    `json:"name"`
			DisplacementKg float64   `json:"displacement_kg"`
			SailSets       []string  `json:"sail_sets"`
			Settings       []setting `json:"foil_settings"`
			Warnings       []string  `json:"warnings"`
			Inputs         []input   `json:"inputs"`
			Version        string    `json:"version"`
		}{Name: boat.Name, DisplacementKg: boat.Hull.DisplacementKg, Warnings: []string{}, Inputs: []input{in}, Version: version()}
		for _, x := range boat.Rig.SailSets {
			out.SailSets = append(out.SailSets, x.Name)
		}
		for _, x := range settings {
			out.Settings = append(out.Settings, setting{x.Extension, units.Deg(x.RakeRad)})
		}
		return printJSON(s.out, out)
	}
	fmt.Fprintf(s.out, "%s: good\n\n", o.check)
	fmt.Fprintf(s.out, "Boat           %s\n", boat.Name)
	fmt.Fprintf(s.out, "Displacement   %.0f kg\n", boat.Hull.DisplacementKg)
	fmt.Fprintf(s.out, "Sail sets      %d\n", len(boat.Rig.SailSets))
	if boat.Foils == nil {
		fmt.Fprintf(s.out, "Foils          none\n")
		return nil
	}
	fmt.Fprintf(s.out, "Foils          %.2f m² each, %.2f m long, %.0f kg each\n", boat.Foils.AreaM2, boat.Foils.SpanM, boat.Foils.MassKg)
	fmt.Fprintf(s.out, "Foil settings  %d on each side, in included: %d foil states\n", len(settings), len(settings)*len(settings))
	return nil
}
