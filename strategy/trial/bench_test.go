package trial

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"foilledger/route"
	"foilledger/strategy"
	"foilledger/testdata"
	"foilledger/vpp"
	"foilledger/weather/synth"
)

// demoStudy is the demo boat on a track in the demo's weather with errors.
func demoStudy(t testing.TB, via string, members int) *Study {
	t.Helper()
	text, err := testdata.Files.ReadFile("demo/weather.toml")
	if err != nil {
		t.Fatal(err)
	}
	var r synth.Recipe
	if err := toml.Unmarshal(text, &r); err != nil {
		t.Fatal(err)
	}
	set, err := OpenSet(t.Context(), SetOptions{Recipe: &r, Members: members, Seed: 1, Hold: true})
	if err != nil {
		t.Fatal(err)
	}
	points, err := route.ParseVia(via)
	if err != nil {
		t.Fatal(err)
	}
	track, err := route.NewTrack(points)
	if err != nil {
		t.Fatal(err)
	}
	text, err = testdata.Files.ReadFile("boats/small.toml")
	if err != nil {
		t.Fatal(err)
	}
	boat, err := vpp.LoadBoat(text, "small.toml")
	if err != nil {
		t.Fatal(err)
	}
	m, err := vpp.NewModel(boat, vpp.Factors{})
	if err != nil {
		t.Fatal(err)
	}
	// the cache that the tests of cmd/foilledger use too
	table, _, err := vpp.CachedTable(t.Context(), filepath.Join(os.TempDir(), "foilledger-test-cache"), m, vpp.DefaultGrid(), nil)
	if err != nil {
		t.Fatal(err)
	}
	sl, err := strategy.NewSailor(t.Context(), table, boat.Handling, nil, strategy.Options{WaveDirections: set.WaveDirections})
	if err != nil {
		t.Fatal(err)
	}
	return &Study{Track: track, Set: set, Boats: []Boat{{boat.Name, sl}}, Policies: Standard(), Ceiling: true}
}

// longVia is a track of 2 140 nautical miles, six to seven days.
const longVia = "41.0,-52.0; 44.2,-38.0; 47.0,-24.0; 49.3,-12.0; 46.0,-9.0; 43.5,-10.5"

// BenchmarkJob runs all standard policies and the ceiling in one weather after
// the other.
func BenchmarkJob(b *testing.B) {
	st := demoStudy(b, longVia, 100)
	all := st.Policies
	for _, bc := range []struct {
		name     string
		policies []Contender
		ceiling  bool
	}{{"everything", all, true}, {"ceiling", nil, true}, {"never", all[:1], false}, {"thresholds", all[2:3], false}, {"break-even", all[3:4], false}, {"re-plan", all[4:], false}} {
		b.Run(bc.name, func(b *testing.B) {
			st.Policies, st.Ceiling = bc.policies, bc.ceiling
			b.ReportAllocs()
			i := 0
			for b.Loop() {
				r, err := st.Job(context.Background(), i%st.Jobs())
				if err != nil {
					b.Fatal(err)
				}
				i++
				if len(r.Runs) > 0 && r.Runs[0].Outcome != Arrived {
					b.Fatal(r.Runs[0].Outcome)
				}
				if len(r.Runs) > 0 {
					b.ReportMetric(r.Runs[0].TimeS/86400, "days")
				}
			}
		})
	}
}
