package route

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"foilledger/vpp/units"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/paulmach/orb"
	"pgregory.net/rapid"
)

func TestTrackErrors(t *testing.T) {
	for _, c := range []struct {
		name   string
		points []orb.Point
		wp     int
		want   string
	}{
		{"one point", []orb.Point{{1, 2}}, 0, "at least two"},
		{"NaN", []orb.Point{{1, 2}, {math.NaN(), 2}}, 2, "not finite"},
		{"identical", []orb.Point{{1, 2}, {3, 4}, {3, 4}}, 3, "same place as waypoint 2"},
		{"identical across the antimeridian", []orb.Point{{180, 2}, {-180, 2}}, 2, "same place"},
		{"swapped", []orb.Point{{50, -120}, {1, 2}}, 1, "swapped"},
		{"longitude", []orb.Point{{5, 5}, {1, 2}, {-400, 7}}, 3, "longitude"},
	} {
		_, err := NewTrack(c.points)
		var te *TrackError
		if !errors.As(err, &te) || te.Waypoint != c.wp || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want waypoint %d and %q", c.name, err, c.wp, c.want)
		}
	}
	for _, c := range []struct {
		in   string
		wp   int
		want string
	}{
		{"", 1, "empty"},
		{"50,-10; ;40,-20", 2, "empty"},
		{"50,-10; 44", 2, "not a latitude and a longitude"},
		{"50,-10; 44,x", 2, `longitude "x" is not a number`},
		{"50,-10; 44,-28; 138,-45", 3, "swapped"},
		{"NaN,-10", 1, "not finite"},
	} {
		_, err := ParseVia(c.in)
		var te *TrackError
		if !errors.As(err, &te) || te.Waypoint != c.wp || !strings.Contains(err.Error(), c.want) {
			t.Errorf("ParseVia(%q): error %v, want waypoint %d and %q", c.in, err, c.wp, c.want)
		}
	}
	got, err := ParseVia("50.0,-10.0; 44.0,-28.0; 38.0,-45.0;")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]orb.Point{{-10, 50}, {-28, 44}, {-45, 38}}, got); d != "" {
		t.Error(d)
	}
}

func TestStages(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 5).Draw(t, "n")
		var pts []orb.Point
		for i := range n {
			// Around the antimeridian and up to high latitudes.
			pts = append(pts, orb.Point{units.Wrap180(170 + 7*float64(i) + rapid.Float64Range(0, 6).Draw(t, "lon")), rapid.Float64Range(-89, 89).Draw(t, "lat")})
		}
		tr, err := NewTrack(pts)
		if err != nil {
			t.Fatal(err)
		}
		maxM := rapid.Float64Range(5e4, 3e6).Draw(t, "max")
		sum, leg := 0.0, 0
		st := tr.Stages(maxM)
		for i, s := range st {
			if s.LengthM > maxM*(1+1e-9) {
				t.Fatalf("stage %d is %v m, limit %v", i, s.LengthM, maxM)
			}
			d, _, _ := Inverse(s.From, s.To)
			if !(math.Abs(d-s.LengthM) < 1e-6) {
				t.Fatalf("stage %d: ends are %v m apart, length says %v", i, d, s.LengthM)
			}
			if !(math.Abs(s.StartM-sum) < 1e-5) {
				t.Fatalf("stage %d starts at %v, want %v", i, s.StartM, sum)
			}
			if i > 0 && (st[i-1].To != s.From || s.Leg < leg) {
				t.Fatalf("stage %d does not follow stage %d", i, i-1)
			}
			mid, b := tr.At(s.StartM + s.LengthM/2)
			half, _, _ := Inverse(s.From, mid)
			turn := units.Wrap2Pi(b - s.BearingRad + math.Pi)
			if !(math.Abs(half-s.LengthM/2) < 1e-6) || !(math.Abs(turn-math.Pi) < 1e-6) {
				t.Fatalf("stage %d: middle %v bearing %v, stage says %v", i, mid, b, s.BearingRad)
			}
			sum += s.LengthM
			leg = s.Leg
		}
		if !(math.Abs(sum-tr.LengthM()) < 1e-5) || leg != n-2 {
			t.Fatalf("stages sum to %v m on %d legs, track is %v m", sum, leg+1, tr.LengthM())
		}
	})
}

func TestTrackAt(t *testing.T) {
	tr, err := NewTrack([]orb.Point{{179, 0}, {-179, 0}, {-179, 1}})
	if err != nil {
		t.Fatal(err)
	}
	p, b := tr.At(tr.LegStartM(1) / 2)
	if !(math.Abs(math.Abs(p[0])-180) < 1e-9) || !(math.Abs(b-math.Pi/2) < 1e-9) {
		t.Errorf("middle of the first leg: %v bearing %v, want the antimeridian eastward", p, b)
	}
	if _, b := tr.At(tr.LegStartM(1)); !(b < 1e-9 || b > 2*math.Pi-1e-9) {
		t.Errorf("bearing at the corner = %v, want that of the leg to come", b)
	}
	for _, m := range []float64{-5, tr.LengthM() + 5} {
		p, _ := tr.At(m)
		want := tr.Points()[0]
		if m > 0 {
			want = tr.Points()[2]
		}
		if d, _, _ := Inverse(p, want); !(d < 1e-6) {
			t.Errorf("At(%v) = %v, want %v", m, p, want)
		}
	}
	if p, _ := tr.At(math.NaN()); !math.IsNaN(p[0]) {
		t.Errorf("At(NaN) = %v", p)
	}
}

const gpxRoute = `<?xml version="1.0"?>
<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="1" lon="2"><name>ignored</name></wpt>
<rte><name>west</name><rtept lat="50" lon="-10"><name>start</name></rtept><rtept lat="44.5" lon="-28"/></rte>
<trk><trkseg><trkpt lat="1" lon="1"/><trkpt lat="2" lon="2"/></trkseg></trk></gpx>`

func TestReadTrack(t *testing.T) {
	want := []orb.Point{{-10, 50}, {-28, 44.5}}
	for _, c := range []struct{ name, in, err string }{
		{"gpx route", gpxRoute, ""},
		{"gpx track of two segments", `<gpx><trk><trkseg><trkpt lat="50" lon="-10"/></trkseg><trkseg><trkpt lat="44.5" lon="-28"/></trkseg></trk></gpx>`, ""},
		{"LineString", `{"type":"LineString","coordinates":[[-10,50],[-28,44.5,0]]}`, ""},
		{"Feature", `{"type":"Feature","properties":{"name":"west"},"geometry":{"type":"LineString","coordinates":[[-10,50],[-28,44.5]]}}`, ""},
		{"FeatureCollection", "\xef\xbb\xbf" + ` {"type":"FeatureCollection","features":[{"type":"Feature","properties":null,"geometry":{"type":"Point","coordinates":[0,0]}},{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[-10,50],[-28,44.5]]}}]}`, ""},
		{"empty", " \n", "empty"},
		{"neither", "lat,lon", "neither GPX nor GeoJSON"},
		{"broken xml", "<gpx><rte>\n<rtept", "line 2"},
		{"broken json", "{\n\"type\":", "line 2"},
		{"no route", `<gpx></gpx>`, "no route"},
		{"loose", `<gpx><wpt lat="1" lon="2"/></gpx>`, "loose waypoints"},
		{"not gpx", `<html></html>`, "GPX"},
		{"no lat", `<gpx><rte><rtept lat="50" lon="-10"/><rtept lon="-10"/></rte></gpx>`, "waypoint 2"},
		{"bad number", `<gpx><rte><rtept lat="fifty" lon="-10"/></rte></gpx>`, "fifty"},
		{"identical", `<gpx><rte><rtept lat="50" lon="-10"/><rtept lat="50" lon="-10"/></rte></gpx>`, "waypoint 2"},
		{"two routes", `<gpx><rte/><rte/></gpx>`, "2 routes"},
		{"polygon only", `{"type":"Polygon","coordinates":[]}`, "no LineString"},
		{"short position", `{"type":"LineString","coordinates":[[-10,50],[-28]]}`, "waypoint 2"},
		{"topology", `{"type":"Topology"}`, "TopoJSON"},
		{"parts apart", `{"type":"MultiLineString","coordinates":[[[0,0],[1,1]],[[2,2],[3,3]]]}`, "part 2"},
	} {
		path := filepath.Join(t.TempDir(), "track")
		if err := os.WriteFile(path, []byte(c.in), 0o644); err != nil {
			t.Fatal(err)
		}
		tr, err := ReadTrack(path)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) || !strings.Contains(err.Error(), path) {
				t.Errorf("%s: error %v, want %q and the file's name", c.name, err, c.err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if d := cmp.Diff(want, tr.Points()); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
	}
	tr, err := DecodeTrack([]byte(gpxRoute))
	if err != nil || tr.Name != "west" || tr.WaypointName(0) != "start" || tr.WaypointName(1) != "" {
		t.Errorf("names not kept: %+v %v", tr, err)
	}
	if _, err := ReadTrack(filepath.Join(t.TempDir(), "absent")); !os.IsNotExist(err) {
		t.Errorf("absent file: %v", err)
	}
}

// TestWriteRead writes random tracks, many across the antimeridian, in both
// formats and reads them back.
func TestWriteRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 6).Draw(t, "n")
		var pts []orb.Point
		for i := range n {
			pts = append(pts, orb.Point{
				units.Wrap180(175 + 4*float64(i%3) + rapid.Float64Range(0, 3).Draw(t, "lon")),
				rapid.Float64Range(-60, 60).Draw(t, "lat"),
			})
			if math.Abs(pts[i][0]) == 180 { // a bend there cannot be told from a cut
				pts[i][0] = 179.5
			}
		}
		var g, j bytes.Buffer
		var ws []Waypoint
		for _, p := range pts {
			ws = append(ws, Waypoint{Point: p, Time: time.Date(2005, 3, 30, 0, 0, 0, 0, time.UTC), Desc: `a <b> & "c"`})
		}
		if err := WriteGPX(&g, GPX{Routes: []NamedPath{{Points: ws}}}); err != nil {
			t.Fatal(err)
		}
		if err := WriteGeoJSON(&j, []Feature{{Points: pts, Properties: map[string]any{"name": "x"}}}); err != nil {
			t.Fatal(err)
		}
		for _, b := range []*bytes.Buffer{&g, &j} {
			tr, err := DecodeTrack(b.Bytes())
			if err != nil {
				t.Fatalf("%v in\n%s", err, b)
			}
			if len(tr.points) != n {
				t.Fatalf("%d points written, %d read:\n%s", n, len(tr.points), b)
			}
			for i, p := range tr.points {
				if d, _, _ := Inverse(p, pts[i]); !(d < 0.2) {
					t.Fatalf("point %d moved by %v m", i, d)
				}
			}
		}
	})
}

func TestWriteGeoJSONCutsAtAntimeridian(t *testing.T) {
	var b bytes.Buffer
	err := WriteGeoJSON(&b, []Feature{
		{Points: []orb.Point{{179, 10}, {-179, 10}, {-178, 11}, {178, 12}}, Properties: map[string]any{"b": 1, "a": 2}},
		{Points: []orb.Point{{179, 10}, {-180, 10}}},
		{Points: []orb.Point{{1.23456789, 2}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Features []struct {
			Geometry struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	var multi [][][]float64
	if err := json.Unmarshal(got.Features[0].Geometry.Coordinates, &multi); err != nil {
		t.Fatal(err)
	}
	// The geodesic between two points of the same northern latitude passes
	// north of it, by about D²tan φ/(8R) = 0.0015°; between the last two by 0.007°.
	want := [][][]float64{{{179, 10}, {180, 10.0015}}, {{-180, 10.0015}, {-179, 10}, {-178, 11}, {-180, 11.507}}, {{180, 11.507}, {178, 12}}}
	if d := cmp.Diff(want, multi, cmpopts.EquateApprox(0, 0.001)); d != "" {
		t.Error(d)
	}
	var line [][]float64
	if err := json.Unmarshal(got.Features[1].Geometry.Coordinates, &line); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([][]float64{{179, 10}, {180, 10}}, line); d != "" {
		t.Errorf("a line that ends on the antimeridian: %s", d)
	}
	if got.Features[2].Geometry.Type != "Point" || !strings.Contains(b.String(), "1.234568") {
		t.Errorf("point not rounded:\n%s", &b)
	}
	if err := WriteGeoJSON(&b, []Feature{{Points: []orb.Point{{math.NaN(), 0}}}}); err == nil {
		t.Error("NaN was written")
	}
}

func TestWriteGPX(t *testing.T) {
	var b bytes.Buffer
	at := time.Date(2026, 1, 2, 3, 4, 5, 0, time.FixedZone("", 3600))
	w := Waypoint{Point: orb.Point{179.99999999, -5}, Time: at, Name: "foil out", Desc: "why"}
	if err := WriteGPX(&b, GPX{Name: "p", Waypoints: []Waypoint{w}, Tracks: []NamedPath{{Name: "t", Points: []Waypoint{w, w}}}}); err != nil {
		t.Fatal(err)
	}
	s := b.String()
	for _, want := range []string{`<wpt lat="-5.0000000" lon="-180.0000000">`, "<time>2026-01-02T02:04:05Z</time>", "<name>foil out</name>", `xmlns="http://www.topografix.com/GPX/1/1"`, "<trkseg>"} {
		if !strings.Contains(s, want) {
			t.Errorf("lacks %s:\n%s", want, s)
		}
	}
	if strings.Count(s, "<trkseg>") != 1 {
		t.Errorf("points are not in one segment:\n%s", s)
	}
	if err := xml.Unmarshal(b.Bytes(), new(any)); err != nil && err.Error() != "unknown type interface {}" {
		t.Error(err)
	}
	if err := WriteGPX(&b, GPX{Waypoints: []Waypoint{{Point: orb.Point{0, 95}}}}); err == nil {
		t.Error("latitude 95 was written")
	}
}

func TestFormatLatLon(t *testing.T) {
	for _, c := range []struct {
		p    orb.Point
		want string
	}{
		{orb.Point{-10.5, 50}, "50°00.0'N 010°30.0'W"},
		{orb.Point{359.99999, -0.99999}, "01°00.0'S 000°00.0'W"},
		{orb.Point{179.5, 4.125}, "04°07.5'N 179°30.0'E"},
	} {
		if got := FormatLatLon(c.p); got != c.want {
			t.Errorf("%v: %s, want %s", c.p, got, c.want)
		}
	}
}

func FuzzDecodeTrack(f *testing.F) {
	f.Add([]byte(gpxRoute))
	f.Add([]byte(`{"type":"MultiLineString","coordinates":[[[179,0],[180,0]],[[-180,0],[-179,0]]]}`))
	f.Add([]byte(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		tr, err := DecodeTrack(b)
		if err == nil && !(tr.LengthM() >= sameM) {
			t.Fatalf("accepted a track of length %v", tr.LengthM())
		}
	})
}
