package coast

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"foilledger/testdata/validation"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"pgregory.net/rapid"
)

func check(t *testing.T, id, quantity string, got, want, tol float64, unit, source string, kind validation.Kind) {
	t.Helper()
	validation.Check(t, validation.Row{Package: "route/coast", ID: id, Quantity: quantity, Got: got, Want: want, Tol: tol, Unit: unit, Source: source, Kind: kind})
}

func TestKnownPlaces(t *testing.T) {
	for _, c := range []struct {
		name     string
		lon, lat float64
		land     bool
	}{
		{"Paris", 2.35, 48.86, true},
		{"Bay of Biscay", -5, 46, false},
		{"Madrid", -3.7, 40.4, true},
		{"Chukotka across the antimeridian", -179, 68, true},
		{"Chukotka west of it", 179.5, 68, true},
		{"Bering Sea", 180, 58, false},
		{"Bering Sea, other name", -180, 58, false},
		{"Viti Levu", 178, -17.8, true},
		{"north pole", 30, 90, false},
		{"Antarctica", 60, -80, true},
		{"Antarctica on the antimeridian", -180, -87, true},
		{"Caspian Sea", 51, 41, false},
		{"mid Atlantic beyond 180", 320, 30, false},
		{"Tahiti", -149.4, -17.62, true},
		{"Ross Sea", -175, -72, false},
	} {
		for name, x := range map[string]*Index{"coarse": Coarse(), "fine": Fine()} {
			if got := x.Contains(orb.Point{c.lon, c.lat}); got != c.land {
				t.Errorf("%s, %s: land %v", c.name, name, got)
			}
		}
	}
	if Fine().Contains(orb.Point{math.NaN(), 0}) || Fine().Contains(orb.Point{0, 91}) {
		t.Error("NaN or latitude 91 is land")
	}
}

// unwrapped returns the rings of the embedded data with longitudes made
// continuous, the plain polygons that the index must agree with.
func unwrapped(t testing.TB, gz []byte) []orb.Ring {
	rings, err := decode(gz)
	if err != nil {
		t.Fatal(err)
	}
	var out []orb.Ring
	for _, r := range rings {
		o := orb.Ring{r[0]}
		for _, p := range r[1:] {
			prev := o[len(o)-1][0]
			o = append(o, orb.Point{prev + math.Remainder(p[0]-prev, 360), p[1]})
		}
		if end := o[len(o)-1][0] + math.Remainder(r[0][0]-o[len(o)-1][0], 360); math.Abs(end-o[0][0]) > 1 {
			o = append(o, orb.Point{end, r[0][1]}, orb.Point{end, -90}, orb.Point{o[0][0], -90}) // round the pole
		}
		out = append(out, append(o, o[0]))
	}
	return out
}

// planarContains asks orb/planar, an independent implementation.
func planarContains(rings []orb.Ring, bounds []orb.Bound, p orb.Point) bool {
	in := false
	for i, r := range rings {
		for _, turn := range []float64{-360, 0, 360} {
			q := orb.Point{p[0] + turn, p[1]}
			if bounds[i].Contains(q) && planar.RingContains(r, q) {
				in = !in
			}
		}
	}
	return in
}

func boundsOf(rings []orb.Ring) []orb.Bound {
	b := make([]orb.Bound, len(rings))
	for i, r := range rings {
		b[i] = r.Bound()
	}
	return b
}

func TestContainsAgreesWithPlanar(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, c := range []struct {
		name string
		x    *Index
		gz   []byte
		n    int
	}{{"coarse", Coarse(), coarseData, 2000}, {"fine", Fine(), fineData, 500}} {
		rings := unwrapped(t, c.gz)
		bounds := boundsOf(rings)
		land, wrong := 0, 0
		for i := range c.n {
			p := orb.Point{rng.Float64()*360 - 180, rng.Float64()*170 - 85}
			if i%2 == 0 { // close to a shore
				r := rings[rng.IntN(len(rings))]
				v := r[rng.IntN(len(r))]
				p = orb.Point{wrap180(v[0] + rng.NormFloat64()*.05), math.Max(-85, math.Min(89, v[1]+rng.NormFloat64()*.05))}
			}
			want := planarContains(rings, bounds, p)
			if want {
				land++
			}
			if got := c.x.Contains(p); got != want {
				wrong++
				// Coordinates are rounded to 1e-6°: only points that close to
				// an edge may differ.
				if _, d, ok := c.x.Nearest(p, 1); !ok || d > 0.2 {
					t.Errorf("%s %v: land %v, planar says %v", c.name, p, got, want)
				}
			}
		}
		check(t, "contains-planar-"+c.name, fmt.Sprintf("points of %d on which the index differs, %s land", c.n, c.name), float64(wrong), 0, 0.5, "", "orb/planar point in ring on the same polygons", validation.Independent)
		if land < c.n/5 || land > 4*c.n/5 {
			t.Errorf("%s: %d of %d points are land: the sample is lopsided", c.name, land, c.n)
		}
	}
}

// TestAgainstOtherEdition compares with the land polygons of another edition
// of Natural Earth that came by another way.
func TestAgainstOtherEdition(t *testing.T) {
	for _, c := range []struct {
		file string
		x    *Index
		nearM,
		tol float64
	}{
		{"ne_50m_land.geojson", Coarse(), 15e3, 0.002},
		{"ne_50m_land.geojson", Fine(), 15e3, 0.005},
		{"ne_110m_land.geojson", Coarse(), 80e3, 0.01},
	} {
		b, err := os.ReadFile(validation.SharedData(t, "geo", c.file))
		if err != nil {
			t.Fatal(err)
		}
		var fc struct {
			Features []struct {
				Geometry struct {
					Type        string
					Coordinates json.RawMessage
				}
			}
		}
		if err := json.Unmarshal(b, &fc); err != nil {
			t.Fatal(err)
		}
		var rings []orb.Ring
		for _, f := range fc.Features {
			var mp orb.MultiPolygon
			if f.Geometry.Type == "Polygon" {
				mp = make(orb.MultiPolygon, 1)
				err = json.Unmarshal(f.Geometry.Coordinates, &mp[0])
			} else {
				err = json.Unmarshal(f.Geometry.Coordinates, &mp)
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range mp {
				rings = append(rings, p[0]) // its holes are lakes, which are land here
			}
		}
		bounds := boundsOf(rings)
		rng := rand.New(rand.NewPCG(5, 6))
		n, far, near := 0, 0, 0
		points := 2000
		if testing.Short() {
			points = 400
		}
		for n < points {
			// Uniform on the sphere between 78 S (ice shelves differ beyond) and 84 N.
			p := orb.Point{rng.Float64()*360 - 180, math.Asin(rng.Float64()*(math.Sin(1.466)+math.Sin(1.36))-math.Sin(1.36)) * 180 / math.Pi}
			// Antarctica's ice shelves are sea in the fine set; the Caspian Sea
			// is a hole.
			if p[1] < -60 || (p[0] > 46 && p[0] < 56 && p[1] > 36 && p[1] < 48) {
				continue
			}
			n++
			if c.x.Contains(p) != planarContains(rings, bounds, p) {
				if _, _, ok := c.x.Nearest(p, c.nearM); ok {
					near++
				} else {
					far++
				}
			}
		}
		name := "coarse"
		if c.x == Fine() {
			name = "fine"
		}
		check(t, "other-edition-"+name+"-"+c.file[3:6], fmt.Sprintf("share of random points north of 60 S that differ and are over %.0f km from the shore, %s", c.nearM/1e3, name), float64(far)/float64(n), 0, 0.0005, "", "Natural Earth 2.0.0 "+c.file, validation.Independent)
		check(t, "other-edition-near-"+name+"-"+c.file[3:6], "share of random points that differ at all, "+name, float64(near+far)/float64(n), 0, c.tol, "", "Natural Earth 2.0.0 "+c.file, validation.Independent)
	}
}

// TestTouchesAgainstSteps sails random segments around real islands, also
// across the antimeridian, and looks at them every 100 m with orb/planar.
func TestTouchesAgainstSteps(t *testing.T) {
	rings := unwrapped(t, fineData)
	rng := rand.New(rand.NewPCG(7, 8))
	for _, c := range []struct {
		name                     string
		west, south, east, north float64
	}{
		{"Azores", -29, 38.2, -27, 39.1},
		{"Fiji", 176.5, -19.3, 181, -16},
		{"Balearics", 1.1, 38.6, 4.4, 40.2},
		{"Hawaii", -160.5, 18.8, -154.6, 22.4},
	} {
		box := orb.Bound{Min: orb.Point{c.west - .2, c.south - .2}, Max: orb.Point{c.east + .2, c.north + .2}}
		var local []orb.Ring
		var bounds []orb.Bound
		for _, r := range rings {
			for _, turn := range []float64{0, 360} {
				s := make(orb.Ring, len(r))
				for i, p := range r {
					s[i] = orb.Point{p[0] + turn, p[1]}
				}
				b := s.Bound()
				if !b.Intersects(box) {
					continue
				}
				inBox := 0
				for _, p := range s {
					if box.Contains(p) {
						inBox++
					}
				}
				if inBox > 0 {
					local, bounds = append(local, s), append(bounds, b)
				} else if planar.RingContains(s, box.Center()) {
					t.Fatalf("%s lies within land", c.name)
				}
			}
		}
		free, hit := 0, 0
		for range 100 {
			a := orb.Point{c.west + rng.Float64()*(c.east-c.west), c.south + rng.Float64()*(c.north-c.south)}
			b := orb.Point{a[0] + rng.NormFloat64()*.25, a[1] + rng.NormFloat64()*.25}
			if !box.Contains(b) {
				continue
			}
			touches := Fine().Touches(orb.Point{wrap180(a[0]), a[1]}, orb.Point{wrap180(b[0]), b[1]}, 0)
			kx, ky := scale(a[1])
			n := int(math.Ceil(math.Hypot((b[0]-a[0])*kx, (b[1]-a[1])*ky) / 100))
			ashore := false
			for k := 0; k <= n && !ashore; k++ {
				f := float64(k) / float64(max(n, 1))
				p := orb.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])}
				for i, r := range local {
					if bounds[i].Contains(p) && planar.RingContains(r, p) {
						ashore = !ashore
					}
				}
			}
			if touches {
				hit++
			} else {
				free++
			}
			if ashore && !touches {
				t.Errorf("%s: %v to %v is said to be free and is ashore within", c.name, a, b)
			}
			if touches && !ashore {
				// Allowed when it cuts a corner between two steps.
				if !cutsCorner(a, b) {
					t.Errorf("%s: %v to %v is said to touch land; no step is ashore or near", c.name, a, b)
				}
			}
		}
		if free < 5 || hit < 5 {
			t.Errorf("%s: %d free and %d touching segments: the sample is lopsided", c.name, free, hit)
		}
	}
}

// cutsCorner says whether the segment passes within 100 m of a shore.
func cutsCorner(a, b orb.Point) bool {
	for k := range 1001 {
		f := float64(k) / 1000
		p := orb.Point{wrap180(a[0] + f*(b[0]-a[0])), a[1] + f*(b[1]-a[1])}
		if _, _, ok := Fine().Nearest(p, 100); ok {
			return true
		}
	}
	return false
}

// TestClearance: a segment keeps off exactly when the nearest shore to every
// point of it is farther than the clearance.
func TestClearance(t *testing.T) {
	x := Fine()
	rapid.Check(t, func(t *rapid.T) {
		a := orb.Point{rapid.Float64Range(-29, -24).Draw(t, "lon"), rapid.Float64Range(36.8, 38.8).Draw(t, "lat")}
		b := orb.Point{a[0] + rapid.Float64Range(-.2, .2).Draw(t, "dlon"), a[1] + rapid.Float64Range(-.2, .2).Draw(t, "dlat")}
		clear := rapid.Float64Range(100, 30e3).Draw(t, "clear")
		least := math.Inf(1)
		for k := range 201 {
			f := float64(k) / 200
			p := orb.Point{a[0] + f*(b[0]-a[0]), a[1] + f*(b[1]-a[1])}
			if x.Contains(p) {
				least = 0
			}
			if _, d, ok := x.Nearest(p, 60e3); ok {
				least = math.Min(least, d)
			}
		}
		// Steps of up to 150 m and the local scale's 1 %.
		got := x.Touches(a, b, clear)
		if got && least > clear*1.01 || !got && least < clear*0.99-150 {
			t.Fatalf("%v %v keep off %v: touches %v, nearest shore %v", a, b, clear, got, least)
		}
	})
}

func TestNearestOutside(t *testing.T) {
	q, d, ok := Fine().NearestOutside(orb.Point{-25.5, 37.78}, 500, 100e3) // on São Miguel
	if !ok || d > 12e3 || Fine().Touches(q, q, 500) {
		t.Errorf("nearest water %v at %v m, ok %v", q, d, ok)
	}
	if q, d, ok := Fine().NearestOutside(orb.Point{-30, 45}, 500, 100e3); !ok || d != 0 || q != (orb.Point{-30, 45}) {
		t.Errorf("in mid ocean: %v %v %v", q, d, ok)
	}
	if _, _, ok := Fine().NearestOutside(orb.Point{100, 50}, 500, 100e3); ok {
		t.Error("water within 100 km of the middle of Asia")
	}
}

func TestMadePolygons(t *testing.T) {
	ice := NewIndex([][]orb.Point{{{-180, -55}, {180, -55}, {180, -90}, {-180, -90}}}, 5)
	hole := NewIndex([][]orb.Point{
		{{170, -10}, {-170, -10}, {-170, -10}, {-170, 10}, {170, 10}, {170, -10}},
		{{175, -5}, {-175, -5}, {-175, 5}, {175, 5}},
		{{1, 1}, {1, 1}, {2, 2}}, // no area: dropped
	}, 5)
	if hole.Vertices() != 8 {
		t.Errorf("%d vertices, want 8 after cleaning", hole.Vertices())
	}
	for _, c := range []struct {
		x    *Index
		p    orb.Point
		want bool
	}{
		{ice, orb.Point{0, -54}, false}, {ice, orb.Point{0, -56}, true}, {ice, orb.Point{-180, -60}, true}, {ice, orb.Point{179.9, -89}, true},
		{hole, orb.Point{172, 0}, true}, {hole, orb.Point{180, 0}, false}, {hole, orb.Point{-180, 7}, true}, {hole, orb.Point{-172, 0}, true}, {hole, orb.Point{160, 0}, false},
	} {
		if got := c.x.Contains(c.p); got != c.want {
			t.Errorf("%v inside: %v", c.p, got)
		}
	}
	for _, c := range []struct {
		x    *Index
		a, b orb.Point
		want bool
	}{
		{ice, orb.Point{10, -50}, orb.Point{50, -54.9}, false},
		{ice, orb.Point{10, -50}, orb.Point{50, -55.1}, true},
		{ice, orb.Point{150, -50}, orb.Point{-150, -54.9}, false},
		{ice, orb.Point{170, -54}, orb.Point{-150, -56}, true},
		{hole, orb.Point{176, 0}, orb.Point{-176, 4}, false},
		{hole, orb.Point{176, 0}, orb.Point{-174, 4}, true},
		{hole, orb.Point{160, 0}, orb.Point{-160, 0}, true},
		{hole, orb.Point{160, 11}, orb.Point{-160, 11}, false},
		{hole, orb.Point{160, 10}, orb.Point{-160, 10}, true}, // along the edge
	} {
		if got := c.x.Touches(c.a, c.b, 0); got != c.want {
			t.Errorf("%v to %v touches: %v", c.a, c.b, got)
		}
		if got := c.x.Touches(c.b, c.a, 0); got != c.want {
			t.Errorf("%v to %v touches: %v", c.b, c.a, got)
		}
	}
}

func TestPolygonsForDrawing(t *testing.T) {
	x := Coarse()
	for _, box := range [][4]float64{{-12, 42, 6, 52}, {140, -45, 195, -10}, {-180, -80, 180, 80}} {
		rings := x.Polygons(box[0], box[1], box[2], box[3])
		bounds := boundsOf(rings)
		rng := rand.New(rand.NewPCG(1, 1))
		land := 0
		for range 250 {
			p := orb.Point{box[0] + rng.Float64()*(box[2]-box[0]), box[1] + rng.Float64()*(box[3]-box[1])}
			in := false
			for i, r := range rings {
				if bounds[i].Contains(p) && planar.RingContains(r, p) {
					in = !in
				}
			}
			if want := x.Contains(orb.Point{wrap180(p[0]), p[1]}); in != want {
				t.Errorf("box %v: %v drawn as land %v, is %v", box, p, in, want)
			}
			if in {
				land++
			}
		}
		if land < 10 {
			t.Errorf("box %v: only %d points on land", box, land)
		}
	}
}

func TestDecodeDamaged(t *testing.T) {
	for n := range 20 {
		if _, err := decode(coarseData[:len(coarseData)*n/20]); err == nil {
			t.Errorf("cut to %d/20: no error", n)
		}
	}
}

var sink int

func count(b bool) {
	if b {
		sink++
	}
}

func BenchmarkContainsOcean(b *testing.B) {
	x := Fine()
	b.ResetTimer()
	for i := range b.N {
		count(x.Contains(orb.Point{-40 + float64(i&1023)*1e-2, 30}))
	}
}

func BenchmarkContainsCoast(b *testing.B) {
	x := Fine()
	b.ResetTimer()
	for i := range b.N {
		count(x.Contains(orb.Point{-4.8 + float64(i&1023)*1e-3, 48.3}))
	}
}

func BenchmarkTouches30nmOcean(b *testing.B) {
	x := Fine()
	b.ResetTimer()
	for i := range b.N {
		o := float64(i&1023) * 1e-2
		count(x.Touches(orb.Point{-40 + o, 30}, orb.Point{-40.5 + o, 30.3}, 100))
	}
}

func BenchmarkTouches30nmCoast(b *testing.B) {
	x := Fine()
	b.ResetTimer()
	for i := range b.N {
		o := float64(i&1023) * 1e-3
		count(x.Touches(orb.Point{-6 + o, 48.9}, orb.Point{-6.5 + o, 48.5}, 100))
	}
}

func BenchmarkBuildFine(b *testing.B) {
	for range b.N {
		sink += mustLoad(fineData).nx
	}
}
