package synth

import (
	"math"

	"foilledger/vpp/units"
)

// Squalls sprinkles showers with gusts over the sea, as in the trade wind. They
// drift with a steering wind, live for some hours, blow along that wind and
// outwards from their centre. Where they are follows from the seed alone, so any
// place and time can be asked in any order. Numbers are common practice.
type Squalls struct {
	Seed           uint64
	SteerMS        float64
	SteerToRad     float64 // direction in which they drift
	CellM          float64 // one cell of CellM × CellM holds at most one squall at a time
	Chance         float64 // that a cell holds one during a life, 0 to 1
	RadiusM        float64
	PeakMS         float64 // strongest added wind; single squalls reach 50 to 100 % of it
	LifeS          float64
	LatDeg, LonDeg float64 // where the plane of the cells touches; distortion grows away from it
}

// Add implements [Part].
func (q Squalls) Add(lonDeg, latDeg, tS float64, air *Air) {
	sinS, cosS := math.Sincos(q.SteerToRad)
	mPerDeg := earthM * math.Pi / 180
	x := units.Wrap180(lonDeg-q.LonDeg)*mPerDeg*math.Cos(units.Rad(q.LatDeg)) - q.SteerMS*tS*sinS
	y := (latDeg-q.LatDeg)*mPerDeg - q.SteerMS*tS*cosS
	ix, iy := math.Floor(x/q.CellM), math.Floor(y/q.CellM)
	// Lives overlap by half: each has two generations, shifted by half a life.
	for gen := range 2 {
		k := math.Floor(tS/q.LifeS + float64(gen)/2)
		age := tS/q.LifeS + float64(gen)/2 - k
		envelope := math.Sin(math.Pi * age)
		envelope *= envelope
		for dx := -1.0; dx <= 1; dx++ {
			for dy := -1.0; dy <= 1; dy++ {
				h := hash(q.Seed, uint64(int64(ix+dx)), uint64(int64(iy+dy)), uint64(int64(k))*2+uint64(gen))
				if unit(&h) >= q.Chance {
					continue
				}
				cx := (ix + dx + unit(&h)) * q.CellM
				cy := (iy + dy + unit(&h)) * q.CellM
				strength := q.PeakMS * (0.5 + 0.5*unit(&h)) * envelope
				ex, ey := (x-cx)/q.RadiusM, (y-cy)/q.RadiusM
				bell := strength * math.Exp(-ex*ex-ey*ey)
				air.U += bell * (sinS + ex)
				air.V += bell * (cosS + ey)
				air.GustMS += bell * 0.3
			}
		}
	}
}

// hash mixes words (the finaliser of SplitMix64: G. L. Steele, D. Lea and C. H.
// Flood, "Fast splittable pseudorandom number generators", 2014).
func hash(words ...uint64) uint64 {
	h := uint64(0x9e3779b97f4a7c15)
	for _, w := range words {
		h = mix(h ^ w)
	}
	return h
}

func mix(z uint64) uint64 {
	z += 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// unit steps h on and returns a number in [0, 1).
func unit(h *uint64) float64 {
	*h = mix(*h)
	return float64(*h>>11) / (1 << 53)
}
