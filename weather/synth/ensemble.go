package synth

import (
	"math"
	"math/rand/v2"

	"foilledger/vpp/units"
)

// drifting is a wind whose error grows with time.
type drifting struct {
	Wind
	speedMS2, turnRadS float64
}

func (d drifting) Add(lonDeg, latDeg, tS float64, air *Air) {
	w := d.Wind
	t := max(0, tS)
	w.SpeedMS = max(0, w.SpeedMS+d.speedMS2*t)
	w.FromRad += d.turnRadS * t
	w.Add(lonDeg, latDeg, tS, air)
}

// drawn makes the errors of one member.
type drawn struct {
	e   EnsembleRecipe
	rng *rand.Rand // nil for the base
}

func (r *Recipe) errors(member int) drawn {
	d := drawn{e: r.Ensemble}
	if member > 0 {
		d.rng = rand.New(rand.NewPCG(r.Ensemble.Seed, uint64(member)))
	}
	return d
}

// wind returns errors of speed and direction after a day, m/s and radians.
func (d drawn) wind() (speedMS, turnRad float64) {
	if d.rng == nil {
		return 0, 0
	}
	return units.MS(or(d.e.WindKnDay, 0.7)) * d.rng.NormFloat64(), units.Rad(or(d.e.TurnDegDay, 4)) * d.rng.NormFloat64()
}

// track converts the fixes and displaces them. sign is that of the departure of
// the centre's pressure: a deeper low, a higher high.
func (d drawn) track(fs []FixRecipe, sign float64) []Fix {
	var dist, bearing, depth float64
	if d.rng != nil {
		e, n := d.rng.NormFloat64(), d.rng.NormFloat64()
		dist = or(d.e.PositionNMDay, 30) * units.MPerNM * math.Hypot(e, n)
		bearing = math.Atan2(e, n)
		depth = sign * or(d.e.DepthHPaDay, 1.5) * 100 * d.rng.NormFloat64()
	}
	out := make([]Fix, 0, len(fs))
	for _, f := range fs {
		days := max(0, f.Hour/24)
		lon, lat := units.Wrap180(f.LonDeg), f.LatDeg
		if dist > 0 {
			lon, lat = along(lon, lat, bearing, dist*days)
		}
		out = append(out, Fix{f.Hour * 3600, lon, lat, f.HPa*100 + depth*days})
	}
	return out
}
