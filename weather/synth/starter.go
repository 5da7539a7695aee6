package synth

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"foilledger/vpp/units"
)

// Kinds of made weather that [Starter] knows, with what they are.
var Kinds = []struct{ Name, What string }{
	{"steady", "the same wind everywhere and always"},
	{"turning", "a wind that turns at a constant rate"},
	{"swinging", "a wind that swings about its mean in direction and speed"},
	{"sea-breeze", "a breeze onshore by day and offshore by night, over a light gradient wind"},
	{"trade", "a trade wind with drifting squalls"},
	{"low", "a moving low: Holland's profile with gradient wind and surface inflow"},
	{"front", "a moving low with a cold front"},
}

// area is a box in degrees, for the starters.
type area struct{ south, west, north, east float64 }

// point is a place by shares of the box, from its south-western corner.
func (a area) point(up, along float64) (latDeg, lonDeg float64) {
	width := a.east - a.west
	for width < 0 {
		width += 360
	}
	return a.south + up*(a.north-a.south), units.Wrap180(a.west + along*width)
}

var starterAreas = map[string]area{
	"":           {36, -46, 56, -10},
	"sea-breeze": {42, -10.5, 44, -8},
	"trade":      {12, -46, 20, -30},
}

// Starter returns a complete recipe of one of the [Kinds], to be used as it is
// or changed: invented weather with numbers of common practice. The box may be
// given (south, west, north, east in degrees); nil takes the kind's own. Systems
// are placed and move by shares of the box.
func Starter(kind string, box *[4]float64) (*Recipe, error) {
	if !slices.ContainsFunc(Kinds, func(k struct{ Name, What string }) bool { return k.Name == kind }) {
		var names []string
		for _, k := range Kinds {
			names = append(names, k.Name)
		}
		return nil, fmt.Errorf("no kind of weather %q; there are %s", kind, strings.Join(names, ", "))
	}
	a, ok := starterAreas[kind]
	if !ok {
		a = starterAreas[""]
	}
	if box != nil {
		a = area{box[0], box[1], box[2], box[3]}
	}
	r := &Recipe{Name: "made weather: " + kind, Start: time.Date(2030, 5, 1, 0, 0, 0, 0, time.UTC), Hours: 72, StepH: 3,
		South: a.south, North: a.north, West: a.west, East: a.east, GridDeg: 1}
	switch kind {
	case "steady":
		r.Wind = []WindRecipe{{SpeedKn: 16, FromDeg: 270}}
	case "turning":
		r.Wind = []WindRecipe{{SpeedKn: 16, FromDeg: 200, TurnDegH: 2}}
	case "swinging":
		r.Wind = []WindRecipe{{SpeedKn: 16, FromDeg: 225, SwingDeg: 20, SwingKn: 4, SwingPeriodH: 12}}
		r.StepH = 1
	case "sea-breeze":
		r.Wind = []WindRecipe{{SpeedKn: 4, FromDeg: 350}}
		lat, lon := a.point(0.5, 0.7)
		r.SeaBreeze = []SeaBreezeRecipe{{LatDeg: lat, LonDeg: lon, InlandDeg: 90, PeakKn: 16, TurnDegH: 5, ReachNM: 25}}
		r.StepH, r.GridDeg = 1, 0.1
	case "trade":
		r.Wind = []WindRecipe{{SpeedKn: 18, FromDeg: 75, SwingDeg: 6, SwingKn: 2, SwingPeriodH: 24}}
		r.Squalls = []SquallsRecipe{{SteerKn: 20, SteerFrom: 80, CellNM: 60, Chance: 0.25, RadiusNM: 12, PeakKn: 12, LifeH: 3}}
		r.StepH, r.GridDeg, r.GustFactor = 1, 0.2, 1.25
	case "low", "front":
		r.Wind = []WindRecipe{{SpeedKn: 8, FromDeg: 250}}
		low := LowRecipe{RmaxNM: 180, Motion: 0.3}
		for _, f := range []struct{ hour, up, along, hPa float64 }{{0, 0.55, 0.05, 998}, {36, 0.68, 0.45, 985}, {72, 0.8, 0.85, 980}} {
			lat, lon := a.point(f.up, f.along)
			low.Fix = append(low.Fix, FixRecipe{Hour: f.hour, LatDeg: lat, LonDeg: lon, HPa: f.hPa})
		}
		r.GustFactor = 1.3
		if kind == "front" {
			low.Front = []FrontRecipe{{BearingDeg: 195, SweepDegH: 0.3, JumpKn: 24, WidthNM: 30, GustKn: 10}}
			r.GridDeg, r.StepH = 0.5, 1
		}
		r.Low = []LowRecipe{low}
	}
	return r, nil
}
