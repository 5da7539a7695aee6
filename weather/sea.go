package weather

import (
	"cmp"
	"math"
	"slices"

	"foilledger/weather/grid"
)

// peakPerMeanPeriod is Tp/T(m−1,0) of the Pierson-Moskowitz spectrum
// S ~ f⁻⁵ exp(−1.25 (fp/f)⁴): with x = fp/f the moments give
// Γ(5/4)·(5/4)^(−1/4). Services differ in which mean they call mean; the energy
// period m−1/m0 is the one that ECMWF gives.
var peakPerMeanPeriod = 1 / (math.Gamma(1.25) * math.Pow(1.25, -0.25))

func scaled(v []float32, by float64) []float32 {
	out := make([]float32, len(v))
	for i, x := range v {
		out[i] = float32(float64(x) * by)
	}
	return out
}

func fromSpeedAndDirection(speed, fromDeg []float32) (u, v []float32) {
	u, v = make([]float32, len(speed)), make([]float32, len(speed))
	for i := range speed {
		sin, cos := math.Sincos(float64(fromDeg[i]) * (math.Pi / 180))
		u[i], v[i] = float32(-float64(speed[i])*sin), float32(-float64(speed[i])*cos)
	}
	return u, v
}

// directionVectors turns directions in degrees into vectors that can be
// interpolated, weighted with the square of the height (the energy) where it is
// known, so that the direction of a flat patch does not count.
func directionVectors(fromDeg, height []float32) (east, north []float32) {
	east, north = make([]float32, len(fromDeg)), make([]float32, len(fromDeg))
	for i := range fromDeg {
		w := 1.0
		if height != nil {
			if h := float64(height[i]); h == h {
				w = h * h
			}
		}
		sin, cos := math.Sincos(float64(fromDeg[i]) * (math.Pi / 180))
		east[i], north[i] = float32(w*sin), float32(w*cos)
	}
	return east, north
}

// sea sums wave systems at one node by energy.
type sea struct {
	energy, top float64 // Σ H², and the largest H²
	periodS     float64 // of the system with the most energy
	east, north float64
}

func (s *sea) hsM() float64 { return math.Sqrt(s.energy) }

func (s *sea) add(hM, periodS, fromDeg float64) {
	if !(hM >= 0) {
		return // a system that is absent is coded as missing
	}
	e := hM * hM
	s.energy += e
	if e > s.top {
		s.top, s.periodS = e, periodS
	}
	if fromDeg == fromDeg {
		sin, cos := math.Sincos(fromDeg * (math.Pi / 180))
		s.east += e * sin
		s.north += e * cos
	}
}

// fromParts combines the wind sea and the swells of the bundle: heights by
// energy, Hs = √ΣH²; the period of the system with the most energy; directions
// as energy-weighted vectors. A node where every part is missing is missing.
func (b *bundle) fromParts(pick func(sea) (float32, float32), width int) ([][]float32, int) {
	type part struct{ h, t, d []float32 }
	var parts []part
	file, n := math.MaxInt, 0
	values := func(q grid.Quantity, p int) []float32 {
		it, ok := b.fields[partKey{q, p}]
		if !ok {
			return nil
		}
		return it.Values
	}
	keys := make([]partKey, 0, len(b.fields))
	_, whole := b.fields[partKey{grid.SwellHeight, 0}]
	for k, it := range b.fields {
		if k.q == grid.SwellHeight && whole && k.partition > 0 {
			continue // the whole swell is given beside its partitions
		}
		if k.q == grid.WindSeaHeight || k.q == grid.SwellHeight {
			keys = append(keys, k)
			file = min(file, it.file)
		}
	}
	slices.SortFunc(keys, func(a, b partKey) int { return cmp.Or(cmp.Compare(a.q, b.q), cmp.Compare(a.partition, b.partition)) })
	for _, k := range keys {
		p := part{h: b.fields[k].Values}
		n = len(p.h)
		if k.q == grid.WindSeaHeight {
			p.t, p.d = values(grid.WindSeaPeriod, k.partition), values(grid.WindSeaFrom, k.partition)
		} else {
			p.t, p.d = values(grid.SwellPeriod, k.partition), values(grid.SwellFrom, k.partition)
		}
		parts = append(parts, p)
	}
	if len(parts) == 0 {
		return nil, 0
	}
	at := func(v []float32, i int) float64 {
		if v == nil {
			return math.NaN()
		}
		return float64(v[i])
	}
	out := make([][]float32, width)
	for w := range out {
		out[w] = make([]float32, n)
	}
	for i := range n {
		var s sea
		known := false
		for _, p := range parts {
			h := at(p.h, i)
			known = known || h == h
			s.add(h, at(p.t, i), at(p.d, i))
		}
		a, c := pick(s)
		if !known {
			a, c = float32(math.NaN()), float32(math.NaN())
		}
		out[0][i] = a
		if width > 1 {
			out[1][i] = c
		}
	}
	return out, file
}
