package strategy_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"github.com/paulmach/orb"
	"github.com/pelletier/go-toml/v2"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/testdata"
	"foilledger/vpp"
	"foilledger/vpp/units"
	"foilledger/weather"
	"foilledger/weather/synth"
)

// ocean is the small-foil boat with its real speed table in made weather over
// the North Atlantic, 0.5° and 3 h, nine days.
var ocean = sync.OnceValues(func() (*strategy.Sailor, error) {
	ctx := context.Background()
	file, err := testdata.Files.ReadFile("boats/small.toml")
	if err != nil {
		return nil, err
	}
	boat, err := vpp.LoadBoat(file, "small.toml")
	if err != nil {
		return nil, err
	}
	model, err := vpp.NewModel(boat, vpp.Factors{})
	if err != nil {
		return nil, err
	}
	dir := filepath.Join(os.TempDir(), "foilledger-test-cache")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	table, _, err := vpp.CachedTable(ctx, dir, model, vpp.DefaultGrid(), nil)
	if err != nil {
		return nil, err
	}
	text, err := testdata.Files.ReadFile("demo/weather.toml")
	if err != nil {
		return nil, err
	}
	var recipe synth.Recipe
	if err := toml.NewDecoder(bytes.NewReader(text)).Decode(&recipe); err != nil {
		return nil, err
	}
	recipe.Hours = 216
	recipe.GridDeg = 0.5
	recipe.South, recipe.North, recipe.West, recipe.East = 25, 65, -80, 10
	fields, err := recipe.Fields()
	if err != nil {
		return nil, err
	}
	fc, err := weather.NewForecast(ctx, fields, weather.Options{})
	if err != nil {
		return nil, err
	}
	return strategy.NewSailor(ctx, table, boat.Handling, fc.Main().HoldLast(), strategy.Options{})
})

// oceanMarks are nm nautical miles apart on a great circle eastbound.
func oceanMarks(nm float64) []route.Mark {
	a := orb.Point{-70, 38}
	b, _ := route.Direct(a, units.Rad(62), nm*units.MPerNM)
	return []route.Mark{{Name: "start", Point: a}, {Name: "finish", Point: b}}
}

func oceanSearch(b *testing.B, m *strategy.FreeCourse, nm float64, o route.Options) *route.Result {
	r, err := route.Search(context.Background(), m, oceanMarks(nm), m.Departures(6*3600), o)
	if err != nil {
		b.Fatal(err)
	}
	if r.Status != route.Found {
		b.Fatal(r.Status, r.Reason)
	}
	return r
}

// BenchmarkCourse is one search over the whole mesh: 3000 nautical miles, 100
// stages × 61 places across × 8 leeward settings × 2 boards, every edge within
// 75° of the axis and ten places across, on 1 worker and on all; and the whole
// refinement.
func BenchmarkCourse(b *testing.B) {
	sl, err := ocean()
	if err != nil {
		b.Fatal(err)
	}
	// The boat has seven settings: one is listed twice to make eight.
	m := sl.NewFreeCourse(strategy.FreeOptions{Leeward: []uint8{1, 2, 3, 4, 5, 6, 3}})
	for _, rounds := range []int{1, 12} {
		for _, workers := range []int{1, runtime.NumCPU()} {
			b.Run(fmt.Sprintf("rounds=%d/workers=%d/states=%d", rounds, workers, m.States()), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					r := oceanSearch(b, m, 3000, route.Options{Stages: 100, Lateral: 61, Fan: 10, MaxRounds: rounds, Workers: workers})
					edges := 0
					for _, x := range r.Rounds {
						edges += x.Edges
					}
					b.ReportMetric(float64(edges), "edges/op")
					b.ReportMetric(float64(len(r.Rounds)), "rounds/op")
					b.ReportMetric((r.ArrivalS-6*3600)/3600, "passage-h")
				}
			})
		}
	}
}
