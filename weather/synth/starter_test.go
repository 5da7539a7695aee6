package synth

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
	"foilledger/weather"
	"foilledger/weather/grib"
	"foilledger/weather/grid"
)

func starter(t *testing.T, kind string, box *[4]float64) (*Recipe, *Scene) {
	t.Helper()
	r, err := Starter(kind, box)
	if err != nil {
		t.Fatal(err)
	}
	s, err := r.Scene(-1)
	if err != nil {
		t.Fatalf("%s: %v", kind, err)
	}
	return r, s
}

// TestStarters: each kind shows what its name promises.
func TestStarters(t *testing.T) {
	at := func(s *Scene, lon, lat, h float64) weather.Sample {
		x, err := s.At(lon, lat, h*3600)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	from := func(x weather.Sample) float64 { return units.Deg(x.WindFromRad()) }
	band := func(id, quantity string, got, lo, hi float64) {
		t.Helper()
		validation.Band(t, validation.Row{Package: "weather/synth", ID: "starter-" + id, Quantity: quantity, Got: got,
			Source: "common practice", Kind: validation.Regression}, lo, hi)
	}
	_, s := starter(t, "steady", nil)
	band("steady", "steady wind: difference between two places and days, m/s", math.Abs(at(s, -40, 40, 0).TWSMS()-at(s, -12, 55, 70).TWSMS()), 0, 1e-9)
	_, s = starter(t, "turning", nil)
	band("turning", "turning wind: turn in 24 h, degrees", math.Mod(from(at(s, -30, 45, 24))-from(at(s, -30, 45, 0))+360, 360), 47.9, 48.1)
	_, s = starter(t, "swinging", nil)
	lo, hi := 360.0, 0.0
	for h := 0.0; h < 24; h += 0.25 {
		lo, hi = min(lo, from(at(s, -30, 45, h))), max(hi, from(at(s, -30, 45, h)))
	}
	band("swinging", "swinging wind: range of direction, degrees", hi-lo, 39.5, 40.1)

	r, s := starter(t, "sea-breeze", nil)
	b := r.SeaBreeze[0]
	day, night := at(s, b.LonDeg, b.LatDeg, 15-b.LonDeg/15), at(s, b.LonDeg, b.LatDeg, 27-b.LonDeg/15)
	band("breeze-day", "sea breeze: onshore wind at the coast in the afternoon, kn", units.Knots(day.U), 12, 20)
	band("breeze-night", "sea breeze: onshore wind at the coast late at night, kn", units.Knots(night.U), -8, -2)

	r, s = starter(t, "trade", nil)
	top, sum, n := 0.0, 0.0, 0.0
	for lat := r.South; lat <= r.North; lat += 0.1 {
		for lon := r.West; lon <= r.East; lon += 0.1 {
			v := units.Knots(at(s, lon, lat, 30).TWSMS())
			top, sum, n = max(top, v), sum+v, n+1
		}
	}
	band("trade-mean", "trade wind: mean, kn", sum/n, 16, 21)
	band("trade-squall", "trade wind: strongest in a squall, kn", top, 26, 40)

	r, s = starter(t, "low", nil)
	f := r.Low[0].Fix[1]
	deepest := math.Inf(1)
	top = 0
	for lat := r.South; lat <= r.North; lat += 0.25 {
		for lon := r.West; lon <= r.East; lon += 0.25 {
			x := at(s, lon, lat, f.Hour)
			top, deepest = max(top, units.Knots(x.TWSMS())), min(deepest, x.PressurePa/100)
		}
	}
	band("low-wind", "low: strongest wind, kn", top, 35, 60)
	band("low-depth", "low: departure of the deepest point from the recipe, hPa", deepest-f.HPa, 0, 2)

	r, s = starter(t, "front", nil)
	// Past a place 400 nm from the centre in the line of the front.
	f = r.Low[0].Fix[1]
	front := r.Low[0].Front[0]
	lon, lat := along(f.LonDeg, f.LatDeg, units.Rad(front.BearingDeg+front.SweepDegH*f.Hour), 400*units.MPerNM)
	before, after := from(at(s, lon+1.2, lat, f.Hour)), from(at(s, lon-1.2, lat, f.Hour))
	band("front", "cold front: veer across it 400 nm from the centre, degrees", math.Mod(after-before+360, 360), 40, 130)
}

func TestStarterPlacesSystemsInTheBox(t *testing.T) {
	for _, k := range Kinds {
		for _, box := range [][4]float64{{-55, 150, -25, -160}, {30, 5, 42, 30}} {
			r, _ := starter(t, k.Name, &box)
			width := math.Mod(box[3]-box[1]+360, 360)
			inside := func(what string, lat, lon float64) {
				if !(lat >= box[0] && lat <= box[2] && math.Mod(lon-box[1]+720, 360) <= width) {
					t.Errorf("%s in %v: %s at %g, %g", k.Name, box, what, lat, lon)
				}
			}
			for _, l := range r.Low {
				for _, f := range l.Fix {
					inside("low", f.LatDeg, f.LonDeg)
				}
			}
			for _, b := range r.SeaBreeze {
				inside("coast", b.LatDeg, b.LonDeg)
			}
			r.Hours, r.GridDeg = 0, 2
			fields, err := r.Fields()
			if err != nil {
				t.Fatal(err)
			}
			if sh := fields[0].Shape; math.Abs(float64(sh.NLon-1)*sh.DLon-width) > 2 {
				t.Errorf("%s in %v: %+v", k.Name, box, sh)
			}
		}
	}
	if _, err := Starter("hurricane", nil); err == nil || !strings.Contains(err.Error(), "sea-breeze") {
		t.Errorf("unknown kind: %v", err)
	}
}

// TestEccodesReadsMadeWeather encodes a short form of each kind, and of an
// ensemble, and compares what eccodes makes of each field with our own fields.
func TestEccodesReadsMadeWeather(t *testing.T) {
	tool, err := exec.LookPath("grib_get")
	if err != nil {
		t.Skip("grib_get is not installed (Debian package libeccodes-tools): skipped")
	}
	names := map[grid.Quantity]string{grid.WindU: "10u", grid.WindV: "10v", grid.Gust: "i10fg", grid.SeaLevelPressure: "prmsl"}
	worst := 0.0
	count := 0
	for i, k := range Kinds {
		r, _ := starter(t, k.Name, nil)
		r.Hours, r.StepH, r.GridDeg = 6, 3, 1
		if i%2 == 1 {
			r.Ensemble = EnsembleRecipe{Members: 2, Seed: 3}
		}
		fields, err := r.Fields()
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := grib.Encode2(&b, fields, grib.EncodeOptions{Bits: 16, Members: r.Ensemble.Members + 1, Packing: grib.Packing(i) % 7}); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "made.grib2")
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "-f", "-F", "%.9g", "-p", "shortName,validityDate,validityTime,perturbationNumber,min,max,average", path).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		if len(lines) != len(fields) {
			t.Fatalf("%s: eccodes sees %d of %d fields", k.Name, len(lines), len(fields))
		}
		for n, f := range fields {
			lo, hi, sum := math.Inf(1), math.Inf(-1), 0.0
			for _, v := range f.Values {
				lo, hi, sum = min(lo, float64(v)), max(hi, float64(v)), sum+float64(v)
			}
			member := "not_found"
			if f.Member >= 0 {
				member = strconv.Itoa(f.Member)
			}
			w := strings.Fields(lines[n])
			head := fmt.Sprintf("%s %s %d %s", names[f.Quantity], f.Valid.Format("20060102"), f.Valid.Hour()*100, member)
			if strings.Join(w[:4], " ") != head {
				t.Fatalf("%s field %d: eccodes has %q, want %s", k.Name, n+1, lines[n], head)
			}
			for q, want := range []float64{lo, hi, sum / float64(len(f.Values))} {
				got, err := strconv.ParseFloat(w[4+q], 64)
				if err != nil {
					t.Fatal(err)
				}
				step := math.Max(hi-lo, 1e-3) / 65535 // of the packing
				worst = max(worst, math.Abs(got-want)/(step+1e-6*math.Abs(want)))
			}
			count++
		}
	}
	validation.Check(t, validation.Row{Package: "weather/synth", ID: "eccodes-reads-made", Quantity: "least, largest and mean value of made fields, largest difference from eccodes in steps of the packing",
		Got: worst, Want: 0, Tol: 2, Source: "eccodes 2.28 grib_get", Kind: validation.Independent})
	if count < 60 {
		t.Errorf("only %d fields compared", count)
	}
}
