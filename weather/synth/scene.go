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

func (s *Scene) basePa() float64 {
	if s.BasePa == 0 {
		return 101325
	}
	return s.BasePa
}

// moment is a scene at one time.
type moment struct {
	*Scene
	tS    float64
	still []still // by part; nil for those that do nothing, or do not say
	plain []Part  // by part; nil for those that are still
}

// at works out what depends on the time alone.
func (s *Scene) at(tS float64) *moment {
	m := &moment{Scene: s, tS: tS, still: make([]still, len(s.Parts)), plain: make([]Part, len(s.Parts))}
	for i, p := range s.Parts {
		if v, ok := p.(moving); ok {
			m.still[i] = v.then(tS)
		} else {
			m.plain[i] = p
		}
	}
	return m
}

// sample sums the parts up at a place.
func (m *moment) sample(p *spot) (weather.Sample, error) {
	if p.lonDeg-p.lonDeg != 0 || p.latDeg-p.latDeg != 0 || m.tS-m.tS != 0 || math.Abs(p.latDeg) > 90 {
		return weather.Sample{}, &weather.CoverageError{Kind: weather.NotFinite, Variable: "wind", LonDeg: p.lonDeg, LatDeg: p.latDeg}
	}
	var a Air
	for i, x := range m.still {
		if x != nil {
			x.add(p, &a)
		} else if q := m.plain[i]; q != nil {
			q.Add(p.lonDeg, p.latDeg, m.tS, &a)
		}
	}
	w := weather.Sample{U: a.U, V: a.V, HsM: m.HsM, WavePeriodS: m.PeriodS, PressurePa: m.basePa() + a.PressurePa}
	if m.GustFactor > 0 {
		w.GustMS = w.TWSMS()*m.GustFactor + a.GustMS
	}
	if w.HsM > 0 {
		w.WaveFromRad = w.WindFromRad()
	}
	return w, nil
}

// At implements [weather.Source].
func (s *Scene) At(lonDeg, latDeg, tS float64) (weather.Sample, error) {
	p := spotAt(lonDeg, latDeg)
	return s.at(tS).sample(&p)
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
		now := s.at(t)
		for j := range shape.NLat {
			p := spotAt(0, shape.South+float64(j)*shape.DLat)
			for i := range shape.NLon {
				p.lonDeg = shape.West + float64(i)*shape.DLon
				w, err := now.sample(&p)
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
