package synth

import (
	"math"
	"time"

	"foilledger/vpp/units"
	"foilledger/weather/grid"
)

// Recipe describes made weather in the units of a file that a person writes; the
// keys carry the unit. The zero value of a field takes the default told beside
// it.
type Recipe struct {
	Name    string    `toml:"name"`
	Start   time.Time `toml:"start"`
	Hours   float64   `toml:"hours"`
	StepH   float64   `toml:"step_h"` // 3
	South   float64   `toml:"south_deg"`
	North   float64   `toml:"north_deg"`
	West    float64   `toml:"west_deg"`
	East    float64   `toml:"east_deg"` // east of west_deg, across the antimeridian if need be
	GridDeg float64   `toml:"grid_deg"` // 1

	BaseHPa    float64 `toml:"base_hpa"`    // 1013.25
	GustFactor float64 `toml:"gust_factor"` // 0: no gusts written

	Wind      []WindRecipe      `toml:"wind"`
	Low       []LowRecipe       `toml:"low"`
	High      []HighRecipe      `toml:"high"`
	SeaBreeze []SeaBreezeRecipe `toml:"sea_breeze"`
	Squalls   []SquallsRecipe   `toml:"squalls"`
	Ensemble  EnsembleRecipe    `toml:"ensemble"`
}

// WindRecipe is a [Wind].
type WindRecipe struct {
	SpeedKn      float64 `toml:"speed_kn"`
	FromDeg      float64 `toml:"from_deg"`
	TurnDegH     float64 `toml:"turn_deg_h"`
	SwingDeg     float64 `toml:"swing_deg"`
	SwingKn      float64 `toml:"swing_kn"`
	SwingPeriodH float64 `toml:"swing_period_h"`
}

// FixRecipe is a [Fix].
type FixRecipe struct {
	Hour   float64 `toml:"hour"`
	LatDeg float64 `toml:"lat_deg"`
	LonDeg float64 `toml:"lon_deg"`
	HPa    float64 `toml:"hpa"`
}

// LowRecipe is a [Low], with the fronts that hang on it.
type LowRecipe struct {
	Fix       []FixRecipe   `toml:"fix"`
	OuterHPa  float64       `toml:"outer_hpa"`  // base_hpa
	B         float64       `toml:"b"`          // 1.2
	RmaxNM    float64       `toml:"rmax_nm"`    // 200
	Reduction float64       `toml:"reduction"`  // 0.8
	InflowDeg float64       `toml:"inflow_deg"` // 20
	Motion    float64       `toml:"motion"`     // 0.5
	Front     []FrontRecipe `toml:"front"`
}

// FrontRecipe is a [Front] that hangs on the centre of its low.
type FrontRecipe struct {
	BearingDeg float64 `toml:"bearing_deg"`
	SweepDegH  float64 `toml:"sweep_deg_h"`
	LengthNM   float64 `toml:"length_nm"` // 900
	FadeNM     float64 `toml:"fade_nm"`   // 150
	JumpKn     float64 `toml:"jump_kn"`
	DecayNM    float64 `toml:"decay_nm"` // 250
	WidthNM    float64 `toml:"width_nm"` // 30
	GustKn     float64 `toml:"gust_kn"`
}

// HighRecipe is a [High].
type HighRecipe struct {
	Fix       []FixRecipe `toml:"fix"`
	OuterHPa  float64     `toml:"outer_hpa"` // base_hpa
	LengthNM  float64     `toml:"length_nm"` // 500
	Reduction float64     `toml:"reduction"` // 0.8
	OutDeg    float64     `toml:"out_deg"`   // 20
}

// SeaBreezeRecipe is a [SeaBreeze].
type SeaBreezeRecipe struct {
	LatDeg     float64 `toml:"lat_deg"`
	LonDeg     float64 `toml:"lon_deg"`
	InlandDeg  float64 `toml:"inland_deg"`
	PeakKn     float64 `toml:"peak_kn"`
	NightShare float64 `toml:"night_share"` // 0.3
	ReachNM    float64 `toml:"reach_nm"`    // 20
	TurnDegH   float64 `toml:"turn_deg_h"`
}

// SquallsRecipe is a [Squalls].
type SquallsRecipe struct {
	SteerKn   float64 `toml:"steer_kn"`
	SteerFrom float64 `toml:"steer_from_deg"`
	CellNM    float64 `toml:"cell_nm"`   // 40
	Chance    float64 `toml:"chance"`    // 0.2
	RadiusNM  float64 `toml:"radius_nm"` // 6
	PeakKn    float64 `toml:"peak_kn"`   // 15
	LifeH     float64 `toml:"life_h"`    // 2
}

// EnsembleRecipe tells how members differ from the base: errors of position and
// depth of every system that grow in proportion to the time since the start, and
// of the speed and direction of plain winds. Each error is drawn once per member
// and system from a normal distribution.
type EnsembleRecipe struct {
	Members       int     `toml:"members"` // 0: no ensemble
	Seed          uint64  `toml:"seed"`
	PositionNMDay float64 `toml:"position_nm_day"` // 30
	DepthHPaDay   float64 `toml:"depth_hpa_day"`   // 1.5
	WindKnDay     float64 `toml:"wind_kn_day"`     // 0.7
	TurnDegDay    float64 `toml:"turn_deg_day"`    // 4
}

func or(v, def float64) float64 {
	if v == 0 {
		return def
	}
	return v
}

// Scene makes the weather of one member; a member ≤ 0 is the base without
// errors.
func (r *Recipe) Scene(member int) (*Scene, error) {
	if err := r.validate(); err != nil {
		return nil, err
	}
	base := or(r.BaseHPa, 1013.25)
	s := &Scene{Start: r.Start.UTC(), BasePa: base * 100, GustFactor: r.GustFactor}
	draw := r.errors(member)
	rad, ms, m := units.Rad, units.MS, func(nm float64) float64 { return nm * units.MPerNM }
	for _, w := range r.Wind {
		speed, turn := draw.wind()
		part := Wind{SpeedMS: ms(w.SpeedKn), FromRad: rad(w.FromDeg), TurnRadS: rad(w.TurnDegH) / 3600,
			SwingRad: rad(w.SwingDeg), SwingMS: ms(w.SwingKn), SwingPeriodS: w.SwingPeriodH * 3600}
		if member > 0 {
			s.Parts = append(s.Parts, drifting{part, speed / 86400, turn / 86400})
		} else {
			s.Parts = append(s.Parts, part)
		}
	}
	for _, l := range r.Low {
		track := draw.track(l.Fix, -1)
		s.Parts = append(s.Parts, Low{Track: track, OuterPa: or(l.OuterHPa, base) * 100, B: or(l.B, 1.2), RmaxM: m(or(l.RmaxNM, 200)),
			Reduction: or(l.Reduction, 0.8), InflowRad: rad(or(l.InflowDeg, 20)), Motion: or(l.Motion, 0.5)})
		for _, f := range l.Front {
			s.Parts = append(s.Parts, Front{Track: track, BearingRad: rad(f.BearingDeg), SweepRadS: rad(f.SweepDegH) / 3600,
				LengthM: m(or(f.LengthNM, 900)), FadeM: m(or(f.FadeNM, 150)), JumpMS: ms(f.JumpKn), DecayM: m(or(f.DecayNM, 250)),
				WidthM: m(or(f.WidthNM, 30)), GustMS: ms(f.GustKn)})
		}
	}
	for _, h := range r.High {
		s.Parts = append(s.Parts, High{Track: draw.track(h.Fix, 1), OuterPa: or(h.OuterHPa, base) * 100, LengthM: m(or(h.LengthNM, 500)),
			Reduction: or(h.Reduction, 0.8), OutRad: rad(or(h.OutDeg, 20))})
	}
	start := float64(s.Start.Hour()) + float64(s.Start.Minute())/60
	for _, b := range r.SeaBreeze {
		s.Parts = append(s.Parts, SeaBreeze{LonDeg: b.LonDeg, LatDeg: b.LatDeg, InlandRad: rad(b.InlandDeg), PeakMS: ms(b.PeakKn),
			NightShare: or(b.NightShare, 0.3), ReachM: m(or(b.ReachNM, 20)), TurnRadH: rad(b.TurnDegH), StartHourUTC: start})
	}
	for i, q := range r.Squalls {
		s.Parts = append(s.Parts, Squalls{Seed: r.Ensemble.Seed + uint64(max(member, 0))<<32 + uint64(i)<<16, SteerMS: ms(q.SteerKn), SteerToRad: rad(q.SteerFrom) + math.Pi,
			CellM: m(or(q.CellNM, 40)), Chance: or(q.Chance, 0.2), RadiusM: m(or(q.RadiusNM, 6)), PeakMS: ms(or(q.PeakKn, 15)),
			LifeS: or(q.LifeH, 2) * 3600, LatDeg: (r.South + r.North) / 2, LonDeg: r.West})
	}
	return s, nil
}

// Shape is the grid of the recipe.
func (r *Recipe) Shape() grid.Shape {
	d := or(r.GridDeg, 1)
	width := r.East - r.West
	for width < 0 {
		width += 360
	}
	s := grid.Shape{South: r.South, West: units.Wrap180(r.West), DLat: d, DLon: d,
		NLat: int(math.Floor((r.North-r.South)/d+1e-9)) + 1, NLon: int(math.Floor(width/d+1e-9)) + 1}
	if s.NLon > 1 && float64(s.NLon)*d > 360+1e-9 {
		s.NLon = int(math.Round(360 / d))
	}
	if s.NLat == 1 {
		s.DLat = 0
	}
	if s.NLon == 1 {
		s.DLon = 0
	}
	return s
}

// TimesS are the steps of the recipe, seconds after the start, the end included.
func (r *Recipe) TimesS() []float64 {
	step := or(r.StepH, 3) * 3600
	var out []float64
	for k := 0; ; k++ {
		t := float64(k) * step
		if t > r.Hours*3600+1e-6 {
			return out
		}
		out = append(out, t)
	}
}

// Fields makes the grid fields: of the base when the recipe has no ensemble,
// else of the control run (member 0, the base) and the members.
func (r *Recipe) Fields() ([]*grid.Field, error) {
	members := []int{-1}
	for m := range r.Ensemble.Members {
		if m == 0 {
			members = []int{0}
		}
		members = append(members, m+1)
	}
	var out []*grid.Field
	for _, m := range members {
		s, err := r.Scene(m)
		if err != nil {
			return nil, err
		}
		fs, err := s.Fields(r.Shape(), r.TimesS(), m)
		if err != nil {
			return nil, err
		}
		out = append(out, fs...)
	}
	return out, nil
}
