package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"runtime"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/pelletier/go-toml/v2"

	"foilledger/testdata"
	"foilledger/vpp/units"
	"foilledger/weather"
	"foilledger/weather/grib"
)

func embedded(t *testing.T, name string) []byte {
	t.Helper()
	b, err := testdata.Files.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestReproduced: the committed forecast is what the recipe gives.
func TestReproduced(t *testing.T) {
	got, err := encode(embedded(t, "demo/weather.toml"))
	if err != nil {
		t.Fatal(err)
	}
	want := embedded(t, "demo/forecast.grib2")
	if len(want) > 300_000 {
		t.Errorf("the demo forecast has %d bytes, at most 300000 are allowed", len(want))
	}
	if bytes.Equal(got, want) {
		return
	}
	if runtime.GOARCH == "amd64" {
		t.Fatal("the demo forecast differs from what its recipe gives; run go run ./weather/synth/makedemo")
	}
	// Other processors may fuse multiplications and round the last bit
	// differently: a packed value may then differ by one step.
	a, _, err := grib.Decode(got)
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := grib.Decode(want)
	if err != nil {
		t.Fatal(err)
	}
	if len(a) != len(b) {
		t.Fatalf("%d fields, want %d", len(a), len(b))
	}
	for k := range a {
		for i, v := range a[k].Field.Values {
			if d := math.Abs(float64(v - b[k].Field.Values[i])); !(d < 0.2 || d < 50 && v > 1000) {
				t.Fatalf("field %d value %d: %g, want %g", k, i, v, b[k].Field.Values[i])
			}
		}
	}
}

// TestPassage: the weather covers the passage with room round it, and holds
// what the demo is to show.
func TestPassage(t *testing.T) {
	fc, err := weather.LoadBytes(context.Background(), "demo", embedded(t, "demo/forecast.grib2"), weather.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var passage struct {
		Depart   time.Time `toml:"depart"`
		Track    string    `toml:"track"`
		Forecast string    `toml:"forecast"`
	}
	if err := toml.Unmarshal(embedded(t, "demo/passage.toml"), &passage); err != nil {
		t.Fatal(err)
	}
	if passage.Forecast != "demo/forecast.grib2" {
		t.Errorf("forecast %q", passage.Forecast)
	}
	var track struct {
		Geometry struct{ Coordinates orb.LineString }
	}
	if err := json.Unmarshal(embedded(t, passage.Track), &track); err != nil {
		t.Fatal(err)
	}
	f := fc.Main()
	if !f.WavesDerived() || !f.Variables().Has(weather.HasPressure) {
		t.Errorf("variables %v", f.Variables().Names())
	}
	line := track.Geometry.Coordinates
	var room []orb.Point
	for _, p := range line {
		for _, d := range []orb.Point{{8, 0}, {-8, 0}, {0, 8}, {0, -8}} {
			room = append(room, orb.Point{p[0] + d[0], p[1] + d[1]})
		}
	}
	// 176 h at 10 kn and a day to spare: the slowest boat arrives.
	depart := passage.Depart.Sub(f.Reference()).Seconds()
	lengthNM := 0.0
	for k := 1; k < len(line); k++ {
		lengthNM += nm(line[k-1], line[k])
	}
	if !(lengthNM > 1500 && lengthNM < 2000) {
		t.Errorf("length %.0f nm", lengthNM)
	}
	slowest := depart + lengthNM/11*3600
	if err := f.Covers(room, depart, slowest+20*3600); err != nil {
		t.Error(err)
	}
	// Sail along at three speeds and look at the weather that is met. A true
	// wind angle is counted to the leg sailed.
	for _, kn := range []float64{11, 13.5, 16} {
		var light, fast, strong, close, running float64 // hours
		tS := depart
		for k := 1; k < len(line); k++ {
			d := nm(line[k-1], line[k])
			bearing := math.Atan2((line[k][0]-line[k-1][0])*math.Cos(units.Rad((line[k][1]+line[k-1][1])/2)), line[k][1]-line[k-1][1])
			for x := 0.0; x < d; x += kn / 4 {
				lon := line[k-1][0] + x/d*(line[k][0]-line[k-1][0])
				lat := line[k-1][1] + x/d*(line[k][1]-line[k-1][1])
				s, err := f.At(lon, lat, tS)
				if err != nil {
					t.Fatal(err)
				}
				tws := units.Knots(s.TWSMS())
				twa := math.Abs(units.Wrap180(units.Deg(s.WindFromRad() - bearing)))
				const h = 0.25
				switch {
				case tws < 9:
					light += h
				case twa < 65:
					close += h
				case twa < 140 && tws > 12:
					fast += h
				case twa > 145:
					running += h
				}
				if tws > 28 {
					strong += h
				}
				if tws > 42 || s.HsM > 6 || s.HsM > 0.5 && !(s.WavePeriodS > 2 && s.WavePeriodS < 14) {
					t.Fatalf("%.0f h: %.1f kn, %+v", tS/3600, tws, s)
				}
				tS += h * 3600
			}
		}
		t.Logf("%4.1f kn: light %.0f h, fast reaching %.0f h, strong %.0f h, close-hauled %.0f h, running %.0f h", kn, light, fast, strong, close, running)
		for name, v := range map[string]float64{"light": light, "fast reaching": fast, "strong": strong, "close-hauled": close, "running": running} {
			if !(v >= 3) {
				t.Errorf("%g kn: only %.1f h of %s", kn, v, name)
			}
		}
	}
}

// nm is the distance on the sphere in nautical miles.
func nm(a, b orb.Point) float64 {
	p, q := units.Rad(a[1]), units.Rad(b[1])
	s := math.Pow(math.Sin((q-p)/2), 2) + math.Cos(p)*math.Cos(q)*math.Pow(math.Sin(units.Rad(b[0]-a[0])/2), 2)
	return 2 * math.Asin(math.Sqrt(s)) * 6371008.8 / units.MPerNM
}
