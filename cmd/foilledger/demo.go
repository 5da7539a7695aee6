package main

import (
	"context"
	"fmt"
	"time"

	"github.com/pelletier/go-toml/v2"
	"github.com/urfave/cli/v2"

	"foilledger/route"
	"foilledger/testdata"
	"foilledger/vpp"
	"foilledger/weather"
)

// demoFolder is where the demo writes when --out is not given.
const demoFolder = "foilledger-demo"

// demoPassage is demo/passage.toml: which of the embedded files make up the
// demo.
type demoPassage struct {
	Title    string    `toml:"title"`
	Boat     string    `toml:"boat"`
	Forecast string    `toml:"forecast"`
	Track    string    `toml:"track"`
	Depart   time.Time `toml:"depart"`
}

func demoCommand() *cli.Command {
	var o passageOptions
	return &cli.Command{
		Name:  "demo",
		Usage: "plan the embedded passage: an invented boat, track and forecast",
		Description: "Example:\n\n   foilledger demo --out demo\n\nThe boat, the passage and the weather are invented.\n\n" +
			exitCodes,
		Flags: passageFlags(&o),
		Action: func(c *cli.Context) error {
			if err := noArguments(c); err != nil {
				return err
			}
			if err := readPassageFlags(c, &o); err != nil {
				return err
			}
			if o.out == "" {
				o.out = demoFolder
			}
			return runDemo(c.Context, &o, streams{c.App.Writer, c.App.ErrWriter, o.quiet})
		},
	}
}

func runDemo(ctx context.Context, o *passageOptions, s streams) error {
	q, err := demoQuestion(ctx, o)
	if err != nil {
		return fmt.Errorf("the embedded demo: %w", err)
	}
	return answer(ctx, q, s)
}

// demoQuestion reads the demo from the binary, through the same readers as any
// other passage.
func demoQuestion(ctx context.Context, o *passageOptions) (*question, error) {
	read := func(name string) ([]byte, input, error) {
		b, err := testdata.Files.ReadFile(name)
		return b, input{name, sha256Hex(b)}, err
	}
	b, _, err := read("demo/passage.toml")
	if err != nil {
		return nil, err
	}
	var d demoPassage
	if err := toml.Unmarshal(b, &d); err != nil {
		return nil, err
	}
	q := &question{options: o}
	o.title, o.departure = d.Title, d.Depart.UTC()

	b, in, err := read(d.Boat)
	if err != nil {
		return nil, err
	}
	if q.boat, err = vpp.LoadBoat(b, d.Boat); err != nil {
		return nil, err
	}
	q.inputs = append(q.inputs, in)
	if b, in, err = read(d.Track); err != nil {
		return nil, err
	}
	if q.track, err = route.DecodeTrack(b); err != nil {
		return nil, err
	}
	q.inputs = append(q.inputs, in)
	if b, in, err = read(d.Forecast); err != nil {
		return nil, err
	}
	if q.forecast, err = weather.LoadBytes(ctx, d.Forecast, b, weather.Options{}); err != nil {
		return nil, err
	}
	q.inputs = append(q.inputs, in)
	return q, nil
}
