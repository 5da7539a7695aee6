package synth

import (
	"fmt"
	"math"
	"time"

	"foilledger/weather"
	"foilledger/weather/grid"
)

// Scene is made weather: the sum of its parts. It implements [weather.Source]
// everywhere and at all times; waves are a fixed sea that runs with the wind, as
// a scene has no history at a place. Waves that grow come from a forecast made
// of Fields.
type Scene struct {
	Start      time.Time
	BasePa     float64 // pressure without any part; 0 means 101325
	GustFactor float64 // gust over mean wind; 0 means no gusts
	HsM        float64
	PeriodS    float64 // 0 with waves means that of a fully developed sea is not known: left 0
	Parts      []Part
}

// air sums the parts up.
func (s *Scene) air(lonDeg, latDeg, tS float64) Air {
	var a Air
	for _, p := range s.Parts {
		p.Add(lonDeg, latDeg, tS, &a)
	}
	return a
}

func (s *Scene) basePa() float64 {
	if s.BasePa == 0 {
		return 101325
	}
	return s.BasePa
}

// At implements [weather.Source].
func (s *Scene) At(lonDeg, latDeg, tS float64) (weather.Sample, error) {
	if lonDeg-lonDeg != 0 || latDeg-latDeg != 0 || tS-tS != 0 || math.Abs(latDeg) > 90 {
		return weather.Sample{}, &weather.CoverageError{Kind: weather.NotFinite, Variable: "wind", LonDeg: lonDeg, LatDeg: latDeg}
	}
	a := s.air(lonDeg, latDeg, tS)
	w := weather.Sample{U: a.U, V: a.V, HsM: s.HsM, WavePeriodS: s.PeriodS, PressurePa: s.basePa() + a.PressurePa}
	if s.GustFactor > 0 {
		w.GustMS = w.TWSMS()*s.GustFactor + a.GustMS
	}
	if w.HsM > 0 {
		w.WaveFromRad = w.WindFromRad()
	}
	return w, nil
}

// Reference implements [weather.Source].
func (s *Scene) Reference() time.Time { return s.Start }

// SpanS implements [weather.Source]: no beginning and no end.
func (s *Scene) SpanS() (firstS, lastS float64) { return math.Inf(-1), math.Inf(1) }

// Fields samples the scene on a grid at the given times after Start: u, v,
// sea-level pressure and, with a gust factor, gusts for each time in turn.
func (s *Scene) Fields(shape grid.Shape, timesS []float64, member int) ([]*grid.Field, error) {
	if shape.NLat < 1 || shape.NLon < 1 {
		return nil, fmt.Errorf("grid of %d × %d points: must be at least 1 × 1", shape.NLon, shape.NLat)
	}
	qs := []grid.Quantity{grid.WindU, grid.WindV, grid.SeaLevelPressure}
	if s.GustFactor > 0 {
		qs = append(qs, grid.Gust)
	}
	var out []*grid.Field
	for _, t := range timesS {
		fs := make([]*grid.Field, len(qs))
		for k, q := range qs {
			fs[k] = &grid.Field{Shape: shape, Quantity: q, Member: member, Reference: s.Start,
				Valid: s.Start.Add(time.Duration(math.Round(t)) * time.Second), Values: make([]float32, shape.NLat*shape.NLon)}
		}
		for j := range shape.NLat {
			for i := range shape.NLon {
				w, err := s.At(shape.West+float64(i)*shape.DLon, shape.South+float64(j)*shape.DLat, t)
				if err != nil {
					return nil, err
				}
				n := j*shape.NLon + i
				fs[0].Values[n], fs[1].Values[n], fs[2].Values[n] = float32(w.U), float32(w.V), float32(w.PressurePa)
				if len(fs) > 3 {
					fs[3].Values[n] = float32(w.GustMS)
				}
			}
		}
		out = append(out, fs...)
	}
	return out, nil
}
