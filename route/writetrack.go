package route

import (
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// Waypoint is a place with what is to be said about it. A zero Time and empty
// texts are left out of files.
type Waypoint struct {
	Point      orb.Point
	Time       time.Time
	Name, Desc string
}

// NamedPath is a chain of waypoints with a name.
type NamedPath struct {
	Name, Desc string
	Points     []Waypoint
}

// GPX is the content of a GPX 1.1 file.
type GPX struct {
	Name, Desc string
	Time       time.Time // of the document; left out when zero
	Waypoints  []Waypoint
	Routes     []NamedPath
	Tracks     []NamedPath
}

type xmlPoint struct {
	Lat  string `xml:"lat,attr"`
	Lon  string `xml:"lon,attr"`
	Time string `xml:"time,omitempty"`
	Name string `xml:"name,omitempty"`
	Desc string `xml:"desc,omitempty"`
}

type xmlRoute struct {
	Name   string     `xml:"name,omitempty"`
	Desc   string     `xml:"desc,omitempty"`
	Points []xmlPoint `xml:"rtept"`
}

type xmlTrack struct {
	Name   string     `xml:"name,omitempty"`
	Desc   string     `xml:"desc,omitempty"`
	Points []xmlPoint `xml:"trkseg>trkpt"`
}

type xmlMetadata struct {
	Name string `xml:"name,omitempty"`
	Desc string `xml:"desc,omitempty"`
	Time string `xml:"time,omitempty"`
}

type xmlGPX struct {
	XMLName   xml.Name     `xml:"http://www.topografix.com/GPX/1/1 gpx"`
	Version   string       `xml:"version,attr"`
	Creator   string       `xml:"creator,attr"`
	Metadata  *xmlMetadata `xml:"metadata"`
	Waypoints []xmlPoint   `xml:"wpt"`
	Routes    []xmlRoute   `xml:"rte"`
	Tracks    []xmlTrack   `xml:"trk"`
}

func xmlTime(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

func xmlPoints(ws []Waypoint) ([]xmlPoint, error) {
	out := make([]xmlPoint, len(ws))
	for i, w := range ws {
		if err := checkPoint(w.Point); err != nil {
			err.Waypoint = i + 1
			return nil, err
		}
		out[i] = xmlPoint{
			Lat: strconv.FormatFloat(w.Point[1], 'f', 7, 64),
			// Rounding may reach 180, which GPX does not allow.
			Lon:  strconv.FormatFloat(units.Wrap180(math.Round(w.Point[0]*1e7)/1e7), 'f', 7, 64),
			Time: xmlTime(w.Time), Name: w.Name, Desc: w.Desc,
		}
	}
	return out, nil
}

// WriteGPX writes g as GPX 1.1 with coordinates to 1e-7 degrees (1 cm) and
// times in UTC to the second. Places that are not on Earth are refused before
// anything is written.
func WriteGPX(w io.Writer, g GPX) error {
	x := xmlGPX{Version: "1.1", Creator: "foilledger"}
	if g.Name != "" || g.Desc != "" || !g.Time.IsZero() {
		x.Metadata = &xmlMetadata{g.Name, g.Desc, xmlTime(g.Time)}
	}
	var err error
	if x.Waypoints, err = xmlPoints(g.Waypoints); err != nil {
		return err
	}
	for _, r := range g.Routes {
		p, err := xmlPoints(r.Points)
		if err != nil {
			return err
		}
		x.Routes = append(x.Routes, xmlRoute{r.Name, r.Desc, p})
	}
	for _, t := range g.Tracks {
		p, err := xmlPoints(t.Points)
		if err != nil {
			return err
		}
		x.Tracks = append(x.Tracks, xmlTrack{t.Name, t.Desc, p})
	}
	b, err := xml.MarshalIndent(x, "", "  ")
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "%s%s\n", xml.Header, b)
	return err
}

// Feature is one line or one point for WriteGeoJSON: a line when it has more
// than one point.
type Feature struct {
	Points     []orb.Point
	Properties map[string]any
}

// WriteGeoJSON writes a FeatureCollection (RFC 7946). Coordinates are rounded
// to 1e-6 degrees (0.1 m); lines that cross the antimeridian are cut there
// into a MultiLineString. Straight lines in GeoJSON are straight in longitude
// and latitude: Densify long geodesics first.
func WriteGeoJSON(w io.Writer, features []Feature) error {
	type geometry struct {
		Type        string `json:"type"`
		Coordinates any    `json:"coordinates"`
	}
	type feature struct {
		Type       string         `json:"type"`
		Properties map[string]any `json:"properties"`
		Geometry   geometry       `json:"geometry"`
	}
	out := struct {
		Type     string    `json:"type"`
		Features []feature `json:"features"`
	}{"FeatureCollection", []feature{}}
	for i, f := range features {
		if len(f.Points) == 0 {
			return fmt.Errorf("feature %d has no points", i+1)
		}
		for k, p := range f.Points {
			if err := checkPoint(p); err != nil {
				err.Waypoint = k + 1
				return err
			}
		}
		g := geometry{Type: "Point"}
		if parts := cutAtAntimeridian(f.Points); len(f.Points) == 1 {
			p := f.Points[0]
			g.Coordinates = [2]float64{round6(units.Wrap180(p[0])), round6(p[1])}
		} else if len(parts) == 1 {
			g = geometry{"LineString", parts[0]}
		} else {
			g = geometry{"MultiLineString", parts}
		}
		out.Features = append(out.Features, feature{"Feature", f.Properties, g})
	}
	b, err := json.MarshalIndent(out, "", " ")
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "%s\n", b)
	return err
}

func round6(x float64) float64 { return math.Round(x*1e6)/1e6 + 0 }

// cutAtAntimeridian rounds the points and cuts the line where it crosses
// ±180°, at the latitude where the geodesic does.
func cutAtAntimeridian(points []orb.Point) [][][2]float64 {
	var parts [][][2]float64
	var part [][2]float64
	for i, p := range points {
		lon := units.Wrap180(p[0])
		if i > 0 {
			prev := units.Wrap180(points[i-1][0])
			if d := lon - prev; math.Abs(d) > 180 {
				side := 180.0
				if d > 0 { // from west longitudes to east ones
					side = -180
				}
				lat := round6(antimeridianLat(points[i-1], p))
				if prev != side {
					part = append(part, [2]float64{side, lat})
				}
				if len(part) > 1 {
					parts = append(parts, part)
				}
				part = nil
				if lon != -side {
					part = [][2]float64{{-side, lat}}
				}
			}
		}
		part = append(part, [2]float64{round6(lon), round6(p[1])})
	}
	if len(part) > 1 || len(parts) == 0 {
		parts = append(parts, part)
	}
	return parts
}

// antimeridianLat is the latitude at which the geodesic from a to b crosses
// ±180°, by bisection on the distance.
func antimeridianLat(a, b orb.Point) float64 {
	l := LineBetween(a, b)
	east := units.Wrap180(a[0]) > 0
	lo, hi := 0.0, l.LengthM()
	for range 50 {
		m := (lo + hi) / 2
		if p, _ := l.At(m); (p[0] > 0) == east {
			lo = m
		} else {
			hi = m
		}
	}
	p, _ := l.At((lo + hi) / 2)
	return p[1]
}
