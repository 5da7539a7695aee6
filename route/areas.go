package route

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"foilledger/route/coast"
	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// Area is a part of the sea to keep out of, or with limits inside it.
type Area struct {
	Name      string
	Forbidden bool
	// Limits inside the area; +Inf when there is none.
	MaxWindMS, MaxGustMS, MaxWaveM float64

	index *coast.Index
}

// AreaError says what is wrong with a file of areas.
type AreaError struct {
	File    string
	Feature int // counted from 1; 0 when the whole file is to blame
	Msg     string
	Hint    string
}

func (e *AreaError) Error() string {
	var b strings.Builder
	if e.File != "" {
		b.WriteString(e.File + ": ")
	}
	if e.Feature > 0 {
		fmt.Fprintf(&b, "feature %d: ", e.Feature)
	}
	b.WriteString(e.Msg)
	if e.Hint != "" {
		b.WriteString(" (" + e.Hint + ")")
	}
	return b.String()
}

// ReadAreas reads areas from a GeoJSON file; see DecodeAreas. Errors are
// *AreaError naming the file and the feature, or what the operating system
// said.
func ReadAreas(path string) ([]*Area, error) {
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
		return nil, &AreaError{File: path, Msg: "larger than 64 MB"}
	}
	as, err := DecodeAreas(b)
	if ae := (*AreaError)(nil); errors.As(err, &ae) {
		ae.File = path
	}
	return as, err
}

// DecodeAreas reads areas from GeoJSON: a Feature or a FeatureCollection whose
// geometries are Polygon or MultiPolygon, or LineString for an ice limit.
// Properties:
//
//	name         text
//	max_wind_kn  largest mean wind inside
//	max_gust_kn  largest gust inside
//	max_wave_m   largest significant wave height inside
//	avoid        true: keep out. Without it an area with no limit is kept
//	             out of, one with a limit is not.
//	ice_limit    on a LineString: "north" or "south", the side that is
//	             forbidden, between the line's end longitudes. A parallel
//	             around the Earth runs from longitude −180 to 180.
//
// Other properties are ignored, but not misspelt ones that begin with max_.
func DecodeAreas(b []byte) ([]*Area, error) {
	o, err := decodeGeoJSON(b)
	if err != nil {
		return nil, &AreaError{Msg: err.Error()}
	}
	features := []geoObject{*o}
	switch o.Type {
	case "FeatureCollection":
		features = o.Features
	case "Feature":
	default:
		return nil, &AreaError{Msg: fmt.Sprintf("GeoJSON type %q", o.Type), Hint: "a FeatureCollection or a Feature is wanted"}
	}
	var out []*Area
	for i := range features {
		a, err := features[i].area()
		if err != nil {
			return nil, &AreaError{Feature: i + 1, Msg: err.Error()}
		}
		if a.Name == "" {
			a.Name = fmt.Sprintf("area %d", i+1)
		}
		out = append(out, a)
	}
	if len(out) == 0 {
		return nil, &AreaError{Msg: "holds no area"}
	}
	return out, nil
}

func (o *geoObject) area() (*Area, error) {
	if o.Type != "Feature" || o.Geometry == nil {
		return nil, errors.New("not a Feature with a geometry")
	}
	a := &Area{MaxWindMS: math.Inf(1), MaxGustMS: math.Inf(1), MaxWaveM: math.Inf(1)}
	limited, ice := false, ""
	avoid, avoidGiven := false, false
	for key, v := range o.Properties {
		limit := func(dst *float64, factor float64) error {
			x, ok := v.(float64)
			if !ok || !(x > 0) {
				return fmt.Errorf("%s must be a number above 0, is %v", key, v)
			}
			*dst, limited = x*factor, true
			return nil
		}
		var err error
		switch key {
		case "name":
			a.Name, _ = v.(string)
		case "max_wind_kn":
			err = limit(&a.MaxWindMS, units.MSPerKnot)
		case "max_gust_kn":
			err = limit(&a.MaxGustMS, units.MSPerKnot)
		case "max_wave_m":
			err = limit(&a.MaxWaveM, 1)
		case "avoid":
			if avoid, avoidGiven = v.(bool); !avoidGiven {
				err = fmt.Errorf("avoid must be true or false, is %v", v)
			}
		case "ice_limit":
			if ice, _ = v.(string); ice != "north" && ice != "south" {
				err = fmt.Errorf(`ice_limit must be "north" or "south", is %v`, v)
			}
		default:
			if strings.HasPrefix(key, "max_") {
				err = fmt.Errorf("%s is not known; known are max_wind_kn, max_gust_kn, max_wave_m", key)
			}
		}
		if err != nil {
			return nil, err
		}
	}
	a.Forbidden = avoid || (!avoidGiven && !limited)
	if !a.Forbidden && !limited {
		return nil, errors.New("avoid is false and there is no limit: the area does nothing")
	}
	rings, err := o.Geometry.areaRings(ice)
	if err != nil {
		return nil, err
	}
	a.index = areaIndex(rings)
	if a.index.Vertices() < 3 {
		return nil, errors.New("the polygon has no area")
	}
	return a, nil
}

// NewArea returns a forbidden area from rings; holes are rings inside rings.
func NewArea(name string, rings ...[]orb.Point) *Area {
	return &Area{Name: name, Forbidden: true, MaxWindMS: math.Inf(1), MaxGustMS: math.Inf(1), MaxWaveM: math.Inf(1), index: areaIndex(rings)}
}

func areaIndex(rings [][]orb.Point) *coast.Index {
	n := 0
	for _, r := range rings {
		n += len(r)
	}
	if n > 2000 {
		return coast.NewIndex(rings, 1)
	}
	return coast.NewIndex(rings, 5)
}

func (o *geoObject) areaRings(ice string) ([][]orb.Point, error) {
	var polygons [][][][]float64
	var err error
	switch {
	case o.Type == "LineString" && ice != "":
		return o.iceRing(ice)
	case ice != "":
		return nil, fmt.Errorf("ice_limit stands on a LineString, this is a %s; a Polygon is kept out of as it is", o.Type)
	case o.Type == "Polygon":
		polygons = make([][][][]float64, 1)
		err = json.Unmarshal(o.Coordinates, &polygons[0])
	case o.Type == "MultiPolygon":
		err = json.Unmarshal(o.Coordinates, &polygons)
	default:
		return nil, fmt.Errorf("a %s is no area", o.Type)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %v", o.Type, err)
	}
	var rings [][]orb.Point
	for _, p := range polygons {
		for _, r := range p {
			ring, err := areaPoints(r)
			if err != nil {
				return nil, err
			}
			rings = append(rings, ring)
		}
	}
	return rings, nil
}

func areaPoints(cs [][]float64) ([]orb.Point, error) {
	ps, err := positions(cs)
	if err != nil {
		return nil, err
	}
	for i, p := range ps {
		if err := checkPoint(p); err != nil {
			return nil, fmt.Errorf("vertex %d: %s", i+1, err.Error())
		}
	}
	return ps, nil
}

// iceRing closes a line along the pole of the forbidden side.
func (o *geoObject) iceRing(side string) ([][]orb.Point, error) {
	var cs [][]float64
	if err := json.Unmarshal(o.Coordinates, &cs); err != nil {
		return nil, fmt.Errorf("LineString: %v", err)
	}
	ps, err := areaPoints(cs)
	if err != nil {
		return nil, err
	}
	if len(ps) < 2 {
		return nil, errors.New("an ice limit needs at least two points")
	}
	pole := 90.0
	if side == "south" {
		pole = -90
	}
	ring := append([]orb.Point(nil), ps...)
	for i := len(ps) - 1; i >= 0; i-- { // back along the pole under the same longitudes
		ring = append(ring, orb.Point{ps[i][0], pole})
	}
	return [][]orb.Point{ring}, nil
}
