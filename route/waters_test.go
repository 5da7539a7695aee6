package route

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"foilledger/route/coast"
	"foilledger/testdata/validation"
	"foilledger/vpp/units"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// shoreAround returns the land in a box as plain polygons, for orb/planar.
func shoreAround(box orb.Bound) func(orb.Point) bool {
	rings := coast.Fine().Polygons(box.Min[0], box.Min[1], box.Max[0], box.Max[1])
	bounds := make([]orb.Bound, len(rings))
	for i, r := range rings {
		bounds[i] = r.Bound()
	}
	return func(p orb.Point) bool {
		if p[0] < box.Min[0] {
			p[0] += 360
		}
		in := false
		for i, r := range rings {
			if bounds[i].Contains(p) && planar.RingContains(r, p) {
				in = !in
			}
		}
		return in
	}
}

// TestLandIsNeverCrossed plans random passages between islands and looks at
// every course each 100 m, with polygons and an algorithm that the search does
// not use.
func TestLandIsNeverCrossed(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	w := &Waters{Land: coast.Fine(), KeepOffM: 500}
	looked, bent, landed, lost := 0, 0, 0, 0
	passages := 8
	if testing.Short() {
		passages = 3
	}
	for _, box := range []orb.Bound{
		{Min: orb.Point{-160.5, 18.5}, Max: orb.Point{-154.5, 22.5}}, // Hawaii
		{Min: orb.Point{176, -19.5}, Max: orb.Point{181.5, -15.5}},   // Fiji, across the antimeridian
		{Min: orb.Point{22.5, 36}, Max: orb.Point{27.5, 39}},         // Aegean
	} {
		ashore := shoreAround(orb.Bound{Min: orb.Point{box.Min[0] - 4, box.Min[1] - 4}, Max: orb.Point{box.Max[0] + 4, box.Max[1] + 4}})
		place := func() orb.Point {
			for {
				p := orb.Point{units.Wrap180(box.Min[0] + rng.Float64()*(box.Max[0]-box.Min[0])), box.Min[1] + rng.Float64()*(box.Max[1]-box.Min[1])}
				if w.CheckPlace("", p) == nil {
					return p
				}
			}
		}
		for range passages {
			a, b := place(), place()
			// A plain mover with a wind to bend courses.
			m := steady(10)
			m.speed = func(_ orb.Point, az, _ float64, _ int) float64 { return 8 + 2*math.Cos(2*az) }
			r, err := Search(context.Background(), m, []Mark{{Point: a}, {Point: b}}, []Departure{{0, 0}}, Options{Stages: 20, Lateral: 17, Waters: w, MaxRounds: 2})
			if err != nil {
				t.Fatal(err)
			}
			if r.Status != Found { // a bay too narrow for the mesh
				lost++
				t.Logf("%v to %v: %v, %s", a, b, r.Status, r.Reason)
				continue
			}
			if w.Blocked(a, b) {
				bent++
			}
			for k := 1; k < len(r.Course); k++ {
				l := LineBetween(r.Course[k-1].Point, r.Course[k].Point)
				for m := 0.0; m <= l.LengthM(); m += 100 {
					p, _ := l.At(m)
					looked++
					if ashore(p) {
						landed++
						t.Logf("%v to %v: ashore at %v", a, b, p)
					}
				}
			}
		}
	}
	if looked < 1000*passages || bent < passages/2 || lost > 1 {
		t.Errorf("%d places looked at, %d courses bent round land, %d not found", looked, bent, lost)
	}
	check(t, "land-never-crossed", "places ashore on random courses between islands, each 100 m", float64(landed), 0, 0.5, "", "orb/planar on the same polygons", validation.Independent)
}

func TestDetour(t *testing.T) {
	w := &Waters{Land: coast.Fine(), KeepOffM: 1000}
	for _, c := range []struct {
		name             string
		a, b             orb.Point
		loNM, hiNM       float64
		through          orb.Point
		withinM, aboutNM float64
	}{
		// Lengths by sea are common knowledge of the trade to some per cent.
		{"Biscay to the Balearic Sea through Gibraltar", orb.Point{-8, 45}, orb.Point{2.5, 41}, 1050, 1350, orb.Point{-5.6, 35.95}, 25e3, 0},
		{"round the Horn", orb.Point{-75, -45}, orb.Point{-64, -45}, 900, 1700, orb.Point{-67, -56.3}, 300e3, 0},
		{"round Britain's north", orb.Point{1.5, 54}, orb.Point{-8, 56}, 500, 800, orb.Point{-4, 59}, 150e3, 0},
	} {
		r, err := Search(context.Background(), steady(8), []Mark{{Point: c.a}, {Point: c.b}}, []Departure{{0, 0}}, Options{Stages: 50, Lateral: 21, Waters: w, MaxRounds: 2})
		if err != nil || r.Status != Found {
			t.Errorf("%s: %v %+v", c.name, err, r)
			continue
		}
		nm := r.ArrivalS * 8 / units.MPerNM
		validation.Band(t, validation.Row{Package: "route", ID: "by-sea-" + strings.ReplaceAll(strings.ToLower(c.name), " ", "-"), Quantity: "length by sea, " + c.name, Got: nm, Unit: "nm", Source: "common practice", Kind: validation.Behaviour}, c.loNM, c.hiNM)
		least := math.Inf(1)
		for i, s := range r.Course {
			d, _, _ := Inverse(s.Point, c.through)
			least = math.Min(least, d)
			if s.Leg != 0 {
				t.Errorf("%s: step %d says leg %d", c.name, i, s.Leg)
			}
		}
		if !(least < c.withinM) {
			t.Errorf("%s: passes %v m from %v", c.name, least, c.through)
		}
		t.Logf("%s: %.0f nm, detour %v, %d rounds", c.name, nm, r.Detour, len(r.Rounds))
	}
}

func TestEnclosedSea(t *testing.T) {
	r, err := Search(context.Background(), steady(8), []Mark{{Point: orb.Point{51, 42}}, {Point: orb.Point{34, 43.5}}}, []Departure{{0, 0}}, Options{Stages: 20, Lateral: 11, Waters: &Waters{Land: coast.Coarse()}})
	if err != nil || r.Status != NoCourse || !strings.Contains(r.Reason, "land") {
		t.Errorf("from the Caspian to the Black Sea: %v %+v", err, r)
	}
}

func TestPlaceOnLand(t *testing.T) {
	w := &Waters{Land: coast.Fine(), KeepOffM: 2000, Areas: []*Area{NewArea("shoal", []orb.Point{{-30, 40}, {-29, 40}, {-29, 41}, {-30, 41}})}}
	for _, c := range []struct {
		p    orb.Point
		want string
	}{
		{orb.Point{-25.5, 37.78}, "on land or within 1.1 nm of it; nearest open water"},
		{orb.Point{-29.5, 40.5}, `inside "shoal"`},
	} {
		_, err := Search(context.Background(), steady(5), []Mark{{Point: c.p}, {Point: orb.Point{-35, 35}}}, []Departure{{0, 0}}, Options{Waters: w})
		var pe *PlaceError
		if !errors.As(err, &pe) || !strings.Contains(err.Error(), "start") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: error %v", c.p, err)
			continue
		}
		if err := w.CheckPlace("", pe.Nearest); err != nil {
			t.Errorf("the water named is refused: %v", err)
		}
		if d, _, _ := Inverse(c.p, pe.Nearest); !(math.Abs(d-pe.DistM) < 1) || d > 80e3 {
			t.Errorf("nearest water %v m away", d)
		}
	}
	if err := w.CheckPlace("mark 1", orb.Point{0, 99}); err == nil {
		t.Error("latitude 99 passed")
	}
}

const areasFile = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"keep out","stroke":"red"},"geometry":{"type":"Polygon","coordinates":[[[-30,40],[-28,40],[-28,44],[-30,44],[-30,40]],[[-29.5,41],[-28.5,41],[-28.5,42],[-29.5,42],[-29.5,41]]]}},
{"type":"Feature","properties":{"max_wind_kn":20,"max_wave_m":3},"geometry":{"type":"MultiPolygon","coordinates":[[[[-24,40],[-22,40],[-22,44],[-24,44],[-24,40]]]]}},
{"type":"Feature","properties":{"name":"ice","ice_limit":"south"},"geometry":{"type":"LineString","coordinates":[[-180,-55],[180,-55]]}},
{"type":"Feature","properties":{"name":"bergs","ice_limit":"north"},"geometry":{"type":"LineString","coordinates":[[-55,46],[-48,42],[-40,48]]}}]}`

func TestAreas(t *testing.T) {
	path := filepath.Join(t.TempDir(), "areas.geojson")
	if err := os.WriteFile(path, []byte(areasFile), 0o644); err != nil {
		t.Fatal(err)
	}
	as, err := ReadAreas(path)
	if err != nil || len(as) != 4 {
		t.Fatal(err, as)
	}
	w := &Waters{Areas: as}
	for _, c := range []struct {
		name string
		a, b orb.Point
		want bool
	}{
		{"past it", orb.Point{-31, 39}, orb.Point{-27, 39.5}, false},
		{"through it", orb.Point{-31, 42}, orb.Point{-27, 42.5}, true},
		{"inside the hole", orb.Point{-29.3, 41.5}, orb.Point{-28.7, 41.6}, false},
		{"out of the hole", orb.Point{-29.3, 41.5}, orb.Point{-28.2, 41.6}, true},
		{"through an area with a limit", orb.Point{-25, 42}, orb.Point{-21, 42.5}, false},
		{"along 54.9 S for 3°", orb.Point{20, -54.9}, orb.Point{23, -54.9}, false},
		// A geodesic between points of one latitude bows to the pole by
		// D² tan φ/(8R): at 54.9 S and 30° of longitude 2.7°.
		{"along 54.9 S for 30°", orb.Point{20, -54.9}, orb.Point{50, -54.9}, true},
		{"across the ice limit", orb.Point{20, -54}, orb.Point{21, -56}, true},
		{"across it on the antimeridian", orb.Point{179, -54}, orb.Point{-179, -56}, true},
		{"among bergs", orb.Point{-47, 60}, orb.Point{-46, 61}, true},
		{"south of the bergs", orb.Point{-54, 44}, orb.Point{-50, 42}, false},
	} {
		if got := w.Blocked(c.a, c.b); got != c.want {
			t.Errorf("%s: blocked %v", c.name, got)
		}
		if got := w.Blocked(c.b, c.a); got != c.want {
			t.Errorf("%s, backwards: blocked %v", c.name, got)
		}
	}
	var got [2]float64
	m := limitProbe{steady(5), &got}
	if _, err := Search(context.Background(), m, []Mark{{Point: orb.Point{-25, 42}}, {Point: orb.Point{-21, 42}}}, []Departure{{0, 0}}, Options{Stages: 2, Lateral: 1, Waters: w, Workers: 1, MaxRounds: 1}); err != nil {
		t.Fatal(err)
	}
	check(t, "area-limit", "limit of wind handed to the mover inside an area", got[0], units.MS(20), 1e-12, "m/s", "the file's own number", validation.Analytic)
	if got[1] != 3 {
		t.Errorf("limit of waves %v, want 3", got[1])
	}

	for _, c := range []struct{ in, want string }{
		{`{"type":"Point","coordinates":[0,0]}`, "FeatureCollection"},
		{`{"type":"FeatureCollection","features":[]}`, "no area"},
		{`{"type":"Feature","properties":{"max_wind":3},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1]]]}}`, "max_wind is not known"},
		{`{"type":"Feature","properties":{"max_wave_m":-1},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1]]]}}`, "above 0"},
		{`{"type":"Feature","properties":{"avoid":false},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1]]]}}`, "does nothing"},
		{`{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[0,0],[1,0]]}}`, "LineString is no area"},
		{`{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,100]]]}}`, "vertex 3"},
		{`{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[[0,0],[0,0]]]}}`, "no area"},
		{`{"type":"Feature","properties":{"ice_limit":"east"},"geometry":{"type":"LineString","coordinates":[[0,0],[1,0]]}}`, "north"},
		{`{"type":"Feature","properties":{},"geometry":null}`, "feature 1"},
		{`{`, "GeoJSON"},
	} {
		if _, err := DecodeAreas([]byte(c.in)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", c.in, err, c.want)
		}
	}
}

// limitProbe keeps the limits of the last edge.
type limitProbe struct {
	testMover
	got *[2]float64
}

func (p limitProbe) Sailor() Sailor { return p }
func (p limitProbe) Sail(e *Edge, depart, arrive []float64, from []int32) error {
	*p.got = [2]float64{e.MaxWindMS, e.MaxWaveM}
	return p.testMover.Sail(e, depart, arrive, from)
}

// TestAreaIsAvoided: the way round is longer than the straight way and shorter
// than a bound worked by hand.
func TestAreaIsAvoided(t *testing.T) {
	a, b := orb.Point{-2, 0}, orb.Point{2, 0}
	wall := NewArea("wall", []orb.Point{{-0.1, -1}, {0.1, -1}, {0.1, 3}, {-0.1, 3}})
	r, err := Search(context.Background(), steady(10), []Mark{{Point: a}, {Point: b}}, []Departure{{0, 0}}, Options{Stages: 40, Lateral: 41, HalfWidthM: 250e3, MinGainS: 1, MaxRounds: 4, Waters: &Waters{Areas: []*Area{wall}}})
	if err != nil || r.Status != Found {
		t.Fatal(err, r)
	}
	leg, _, _ := Inverse(a, orb.Point{-0.1, -1})
	along, _, _ := Inverse(orb.Point{-0.1, -1}, orb.Point{0.1, -1})
	want := 2*leg + along
	// Corners lie between columns of the mesh, 11 km apart: the course turns up
	// to one column early, which costs at most about 11 km × (1/cos 27° − 1) at
	// both corners.
	validation.Band(t, validation.Row{Package: "route", ID: "area-avoided", Quantity: "way round a wall against the taut string", Got: r.ArrivalS * 10, Unit: "m", Source: "sum of the three geodesics of the taut string", Kind: validation.Analytic}, want-1, want+3000)
	for _, s := range r.Course {
		if wall.index.Contains(s.Point) {
			t.Errorf("course point %v is in the area", s.Point)
		}
	}
}

func BenchmarkBlocked(b *testing.B) {
	w := &Waters{Land: coast.Fine(), KeepOffM: 5000}
	for _, c := range []struct {
		name string
		p    orb.Point
	}{{"ocean", orb.Point{-40, 35}}, {"coast", orb.Point{-6, 48.6}}} {
		b.Run(c.name, func(b *testing.B) {
			q := orb.Point{c.p[0] - 0.5, c.p[1] + 0.3}
			d, az, _ := Inverse(c.p, q)
			b.ResetTimer()
			for range b.N {
				if w.blocked(c.p, q, d, az) {
					sink++
				}
			}
		})
	}
}
