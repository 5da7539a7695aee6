package plots

import (
	_ "embed"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"reflect"
)

//go:embed page/speeds.js
var speedsJS string

// Validate reports the first value of the report that makes no sense, as a
// *FieldError.
func (r *SpeedsReport) Validate() error {
	for _, v := range []struct {
		name string
		x    any
	}{{"Shape", r.Shape}, {"Settings", r.Settings}, {"TWSKn", r.TWSKn}, {"TWADeg", r.TWADeg}, {"HsM", r.HsM}, {"Cells", r.Cells}} {
		if err := finite(v.name, reflect.ValueOf(v.x), ""); err != nil {
			return err
		}
	}
	if len(r.Settings) == 0 || r.Settings[0].Extension != 0 {
		return fieldErr("Settings", "the first one must be foils in")
	}
	n := len(r.Settings)
	for _, ax := range []struct {
		name string
		v    []float64
		min  int
	}{{"TWSKn", r.TWSKn, 2}, {"TWADeg", r.TWADeg, 2}, {"HsM", r.HsM, 1}} {
		n *= len(ax.v)
		if len(ax.v) < ax.min {
			return fieldErr(ax.name, "has %d values; at least %d are needed", len(ax.v), ax.min)
		}
		for i := 1; i < len(ax.v); i++ {
			if ax.v[i] <= ax.v[i-1] {
				return fieldErr(fmt.Sprintf("%s[%d]", ax.name, i), "%g does not ascend", ax.v[i])
			}
		}
	}
	if len(r.Cells) != n {
		return fieldErr("Cells", "has %d, not %d settings × %d wind speeds × %d angles × %d seas", len(r.Cells), len(r.Settings), len(r.TWSKn), len(r.TWADeg), len(r.HsM))
	}
	for i, t := range r.Tables {
		if err := t.validate(fmt.Sprintf("Tables[%d]", i)); err != nil {
			return err
		}
	}
	if r.Shape.LengthM <= 0 || r.Shape.BeamM <= 0 {
		return fieldErr("Shape", "length %g m and beam %g m cannot be drawn", r.Shape.LengthM, r.Shape.BeamM)
	}
	return nil
}

// speedsData is the table as the page's script reads it: each quantity as
// little-endian 16-bit integers in base64, with the value of one unit.
type speedsData struct {
	Settings [][2]float64      `json:"settings"`
	TWS      []float64         `json:"tws"`
	TWA      []float64         `json:"twa"`
	Hs       []float64         `json:"hs"`
	Table    map[string]packed `json:"table"`
	Rules    []string          `json:"rules"` // by the number in table "rule"
	Sails    []string          `json:"sails"` // by the number in table "sail"
	Shape    BoatShape         `json:"shape"`
}

type packed struct {
	Unit float64 `json:"unit"`
	Data string  `json:"data"`
}

// pack stores values in units, held to the range of 16 bits.
func pack(cells []SpeedCell, unit float64, value func(SpeedCell) float64) packed {
	b := make([]byte, 2*len(cells))
	for i, c := range cells {
		v := math.Max(-32768, math.Min(32767, math.Round(value(c)/unit)))
		binary.LittleEndian.PutUint16(b[2*i:], uint16(int16(v)))
	}
	return packed{unit, base64.StdEncoding.EncodeToString(b)}
}

func newSpeedsData(r *SpeedsReport) speedsData {
	d := speedsData{TWS: r.TWSKn, TWA: r.TWADeg, Hs: r.HsM, Shape: r.Shape, Rules: []string{""}}
	for _, s := range r.Settings {
		d.Settings = append(d.Settings, [2]float64{s.Extension, s.RakeDeg})
	}
	index := map[string]int{"": 0}
	for _, c := range r.Cells {
		if _, ok := index[c.RuledBy]; !ok {
			index[c.RuledBy] = len(d.Rules)
			d.Rules = append(d.Rules, c.RuledBy)
		}
	}
	sail := map[string]int{}
	for _, c := range r.Cells {
		if _, ok := sail[c.Sail]; !ok {
			sail[c.Sail] = len(d.Sails)
			d.Sails = append(d.Sails, c.Sail)
		}
	}
	d.Table = map[string]packed{
		"ok":     pack(r.Cells, 1, func(c SpeedCell) float64 { return map[bool]float64{true: 1}[c.OK] }),
		"rule":   pack(r.Cells, 1, func(c SpeedCell) float64 { return float64(index[c.RuledBy]) }),
		"bsp":    pack(r.Cells, 0.01, func(c SpeedCell) float64 { return c.BSPKn }),
		"heel":   pack(r.Cells, 0.05, func(c SpeedCell) float64 { return c.HeelDeg }),
		"trim":   pack(r.Cells, 0.01, func(c SpeedCell) float64 { return c.TrimDeg }),
		"leeway": pack(r.Cells, 0.01, func(c SpeedCell) float64 { return c.LeewayDeg }),
		"rise":   pack(r.Cells, 0.001, func(c SpeedCell) float64 { return c.RiseM }),
		"load":   pack(r.Cells, 0.001, func(c SpeedCell) float64 { return c.HullLoad }),
		"lift":   pack(r.Cells, 0.01, func(c SpeedCell) float64 { return c.FoilLiftT }),
		"above":  pack(r.Cells, 0.01, func(c SpeedCell) float64 { return c.AboveKn }),
		"sail":   pack(r.Cells, 1, func(c SpeedCell) float64 { return float64(sail[c.Sail]) }),
		"bow":    pack(r.Cells, 0.1, func(c SpeedCell) float64 { return c.BowImmersionsPerHour }),
	}
	return d
}

type speedsPage struct {
	*SpeedsReport
	frame
	Charts []inlined
}

// WriteSpeedsPage writes one self-contained HTML page on which a person moves
// wind, angle, sea, extension and rake and sees what the boat does. It fails
// with a *FieldError when the report does not pass Validate, and with an error
// when the table is too large for MaxPageBytes.
func WriteSpeedsPage(w io.Writer, r *SpeedsReport) error {
	if err := r.Validate(); err != nil {
		return err
	}
	p := &speedsPage{SpeedsReport: r, frame: newFrame(speedsJS, newSpeedsData(r), r.KeyNumbers...), Charts: inlineAll(r.Charts)}
	return render(w, "speeds", p, "give it fewer settings or a coarser grid")
}
