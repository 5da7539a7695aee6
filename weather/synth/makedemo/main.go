// Command makedemo writes the demo forecast, testdata/demo/forecast.grib2, from
// its recipe, testdata/demo/weather.toml. Run it from the project's root:
//
//	go run ./weather/synth/makedemo
package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"github.com/pelletier/go-toml/v2"

	"foilledger/weather/grib"
	"foilledger/weather/grid"
	"foilledger/weather/synth"
)

const folder = "testdata/demo"

func main() {
	recipe, err := os.ReadFile(filepath.Join(folder, "weather.toml"))
	if err == nil {
		var out []byte
		if out, err = encode(recipe); err == nil {
			err = os.WriteFile(filepath.Join(folder, "forecast.grib2"), out, 0o644)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "makedemo:", err)
		os.Exit(1)
	}
}

// encode turns a recipe into a GRIB 2 file: wind to 10 bits (about 0.1 m/s) and
// pressure to 8 (about 0.3 hPa), which keeps the file small.
func encode(recipe []byte) ([]byte, error) {
	var r synth.Recipe
	dec := toml.NewDecoder(bytes.NewReader(recipe)).DisallowUnknownFields()
	if err := dec.Decode(&r); err != nil {
		return nil, err
	}
	fields, err := r.Fields()
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	for _, f := range fields {
		opt := grib.EncodeOptions{Bits: 10}
		if f.Quantity == grid.SeaLevelPressure {
			opt.Bits = 8
		}
		if err := grib.Encode2(&out, []*grid.Field{f}, opt); err != nil {
			return nil, err
		}
	}
	return out.Bytes(), nil
}
