package route

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"github.com/paulmach/orb"
)

const maxTrackFile = 64 << 20

// ReadTrack reads a track from a file, told apart by content: GPX 1.1 (one
// route, or else one track, whose segments are joined) or GeoJSON (a
// LineString, or a MultiLineString whose parts join, bare or as the only line
// of a Feature or FeatureCollection). Errors are *TrackError naming the file,
// or what the operating system said.
func ReadTrack(path string) (*Track, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, maxTrackFile+1))
	if err != nil {
		return nil, err
	}
	if len(b) > maxTrackFile {
		return nil, &TrackError{File: path, Msg: "larger than 64 MB: not a track"}
	}
	t, err := DecodeTrack(b)
	if te := (*TrackError)(nil); errors.As(err, &te) {
		te.File = path
	}
	return t, err
}

// DecodeTrack is ReadTrack on the file's bytes.
func DecodeTrack(b []byte) (*Track, error) {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	head := bytes.TrimLeft(b, " \t\r\n")
	switch {
	case len(head) == 0:
		return nil, &TrackError{Msg: "the file is empty"}
	case head[0] == '<':
		return decodeGPX(b)
	case head[0] == '{':
		return decodeGeoJSONTrack(b)
	}
	return nil, &TrackError{Msg: "neither GPX nor GeoJSON", Hint: "GPX begins with <, GeoJSON with {"}
}

type gpxPoint struct {
	Lat  *float64 `xml:"lat,attr"`
	Lon  *float64 `xml:"lon,attr"`
	Name string   `xml:"name"`
}

type gpxFile struct {
	XMLName xml.Name `xml:"gpx"`
	Routes  []struct {
		Name   string     `xml:"name"`
		Points []gpxPoint `xml:"rtept"`
	} `xml:"rte"`
	Tracks []struct {
		Name     string `xml:"name"`
		Segments []struct {
			Points []gpxPoint `xml:"trkpt"`
		} `xml:"trkseg"`
	} `xml:"trk"`
	Waypoints []gpxPoint `xml:"wpt"`
}

func decodeGPX(b []byte) (*Track, error) {
	var g gpxFile
	dec := xml.NewDecoder(bytes.NewReader(b))
	// Names in another encoding do not matter here; coordinates are ASCII.
	dec.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return r, nil }
	if err := dec.Decode(&g); err != nil {
		if se := (*xml.SyntaxError)(nil); errors.As(err, &se) {
			return nil, &TrackError{Msg: fmt.Sprintf("not readable as GPX: line %d: %s", se.Line, se.Msg)}
		}
		return nil, &TrackError{Msg: "not readable as GPX: " + err.Error()}
	}
	var name string
	var pts []gpxPoint
	switch {
	case len(g.Routes) == 1:
		name, pts = g.Routes[0].Name, g.Routes[0].Points
	case len(g.Routes) > 1:
		return nil, &TrackError{Msg: fmt.Sprintf("holds %d routes", len(g.Routes)), Hint: "keep one"}
	case len(g.Tracks) == 1:
		name = g.Tracks[0].Name
		for _, s := range g.Tracks[0].Segments {
			pts = append(pts, s.Points...)
		}
	case len(g.Tracks) > 1:
		return nil, &TrackError{Msg: fmt.Sprintf("holds %d tracks", len(g.Tracks)), Hint: "keep one"}
	case len(g.Waypoints) > 0:
		return nil, &TrackError{Msg: fmt.Sprintf("holds %d loose waypoints but no route and no track", len(g.Waypoints)), Hint: "join them to a route first"}
	default:
		return nil, &TrackError{Msg: "holds no route and no track"}
	}
	points := make([]orb.Point, len(pts))
	names := make([]string, len(pts))
	for i, p := range pts {
		if p.Lat == nil || p.Lon == nil {
			return nil, &TrackError{Waypoint: i + 1, Msg: "lacks its lat or lon attribute"}
		}
		points[i] = orb.Point{*p.Lon, *p.Lat}
		names[i] = strings.TrimSpace(p.Name)
	}
	t, err := NewTrack(points)
	if err != nil {
		return nil, err
	}
	t.Name, t.names = strings.TrimSpace(name), names
	return t, nil
}

// geoObject is any GeoJSON object, RFC 7946.
type geoObject struct {
	Type        string          `json:"type"`
	Features    []geoObject     `json:"features"`
	Geometry    *geoObject      `json:"geometry"`
	Geometries  []geoObject     `json:"geometries"`
	Coordinates json.RawMessage `json:"coordinates"`
	Properties  map[string]any  `json:"properties"`
}

func decodeGeoJSON(b []byte) (*geoObject, error) {
	var o geoObject
	if err := json.Unmarshal(b, &o); err != nil {
		var se *json.SyntaxError
		if errors.As(err, &se) {
			line := 1 + bytes.Count(b[:min(int(se.Offset), len(b))], []byte("\n"))
			return nil, fmt.Errorf("not readable as GeoJSON: line %d: %v", line, se)
		}
		return nil, fmt.Errorf("not readable as GeoJSON: %v", err)
	}
	return &o, nil
}

// position reads one GeoJSON position; heights are dropped.
func position(c []float64) (orb.Point, bool) {
	if len(c) < 2 {
		return orb.Point{}, false
	}
	return orb.Point{c[0], c[1]}, true
}

func positions(cs [][]float64) ([]orb.Point, error) {
	out := make([]orb.Point, len(cs))
	for i, c := range cs {
		p, ok := position(c)
		if !ok {
			return nil, &TrackError{Waypoint: i + 1, Msg: "has fewer than two numbers"}
		}
		out[i] = p
	}
	return out, nil
}

type namedLine struct {
	name  string
	parts [][]orb.Point
}

// lines collects the lines of a GeoJSON object.
func (o *geoObject) lines(name string, out []namedLine) ([]namedLine, error) {
	switch o.Type {
	case "FeatureCollection", "GeometryCollection":
		for _, list := range [][]geoObject{o.Features, o.Geometries} {
			for i := range list {
				var err error
				if out, err = list[i].lines(name, out); err != nil {
					return nil, err
				}
			}
		}
	case "Feature":
		if o.Geometry == nil {
			return out, nil
		}
		if s, ok := o.Properties["name"].(string); ok {
			name = s
		}
		return o.Geometry.lines(name, out)
	case "LineString":
		var cs [][]float64
		if err := json.Unmarshal(o.Coordinates, &cs); err != nil {
			return nil, &TrackError{Msg: "LineString: " + err.Error()}
		}
		p, err := positions(cs)
		if err != nil {
			return nil, err
		}
		return append(out, namedLine{name, [][]orb.Point{p}}), nil
	case "MultiLineString":
		var cs [][][]float64
		if err := json.Unmarshal(o.Coordinates, &cs); err != nil {
			return nil, &TrackError{Msg: "MultiLineString: " + err.Error()}
		}
		l := namedLine{name: name}
		for _, c := range cs {
			p, err := positions(c)
			if err != nil {
				return nil, err
			}
			l.parts = append(l.parts, p)
		}
		return append(out, l), nil
	case "Point", "MultiPoint", "Polygon", "MultiPolygon":
	case "Topology":
		return nil, &TrackError{Msg: "is TopoJSON, not GeoJSON"}
	default:
		return nil, &TrackError{Msg: fmt.Sprintf("GeoJSON type %q is not known", o.Type)}
	}
	return out, nil
}

func decodeGeoJSONTrack(b []byte) (*Track, error) {
	o, err := decodeGeoJSON(b)
	if err != nil {
		return nil, &TrackError{Msg: err.Error()}
	}
	ls, err := o.lines("", nil)
	if err != nil {
		return nil, err
	}
	if len(ls) != 1 {
		e := &TrackError{Msg: fmt.Sprintf("holds %d lines", len(ls)), Hint: "exactly one LineString is wanted"}
		if len(ls) == 0 {
			e.Msg = "holds no LineString"
		}
		return nil, e
	}
	points, err := joinParts(ls[0].parts)
	if err != nil {
		return nil, err
	}
	t, err := NewTrack(points)
	if err != nil {
		return nil, err
	}
	t.Name = ls[0].name
	return t, nil
}

// joinParts undoes the cut at the antimeridian that RFC 7946 section 3.1.9
// asks for.
func joinParts(parts [][]orb.Point) ([]orb.Point, error) {
	var out []orb.Point
	for i, p := range parts {
		if i > 0 && len(p) > 0 && len(out) > 0 {
			a, b := out[len(out)-1], p[0]
			if d, _, _ := Inverse(a, b); !(d < sameM) {
				return nil, &TrackError{Msg: fmt.Sprintf("part %d of the MultiLineString does not begin where part %d ends", i+1, i)}
			}
			p = p[1:]
			if math.Abs(a[0]) == 180 && a[0] == -b[0] && len(out) > 1 && len(p) > 0 && cutOnly(out[len(out)-2], a, p[0]) {
				out = out[:len(out)-1]
			}
		}
		out = append(out, p...)
	}
	return out, nil
}

// cutOnly says whether the point c on the antimeridian exists for the cut
// only: it lies where the geodesic from a to b crosses, or the line straight
// in longitude and latitude.
func cutOnly(a, c, b orb.Point) bool {
	ra, rb := 180-math.Abs(a[0]), 180-math.Abs(b[0])
	if ra+rb <= 0 {
		return false
	}
	// Files round to 1e-6° or coarser, more in latitude on a steep line.
	tol := 1e-5 * (1 + math.Abs(b[1]-a[1])/(ra+rb))
	straight := a[1] + (b[1]-a[1])*ra/(ra+rb)
	return math.Abs(c[1]-straight) < tol || math.Abs(c[1]-antimeridianLat(a, b)) < tol
}
