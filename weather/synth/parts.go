package synth

import (
	"math"

	"foilledger/vpp/units"
)

// Air is the weather at a place as the parts of a scene sum it up.
type Air struct {
	U, V       float64 // m/s towards east and north at 10 m
	PressurePa float64 // departure from the scene's base pressure
	GustMS     float64 // added to what the gust factor gives
}

// blow adds a wind that blows towards a bearing.
func (a *Air) blow(speedMS, towardsRad float64) {
	sin, cos := math.Sincos(towardsRad)
	a.U += speedMS * sin
	a.V += speedMS * cos
}

// Part is one ingredient of made weather. Winds of the parts are added as
// vectors, pressures as departures.
type Part interface {
	Add(lonDeg, latDeg, tS float64, air *Air)
}

// moving is a part of which much depends on the time alone.
type moving interface {
	Part
	// then is the part at one time; nil where it does nothing then.
	then(tS float64) still
}

// still is a part at one time.
type still interface {
	add(p *spot, air *Air)
}

// addMoving is Add of a moving part.
func addMoving(m moving, lonDeg, latDeg, tS float64, air *Air) {
	if s := m.then(tS); s != nil {
		p := spotAt(lonDeg, latDeg)
		s.add(&p, air)
	}
}

// Wind is a wind that is the same everywhere: steady, turning at a constant
// rate, or swinging about its mean in direction and speed (invented shapes, for
// drills and tests).
type Wind struct {
	SpeedMS, FromRad   float64
	TurnRadS           float64 // clockwise
	SwingRad, SwingMS  float64 // amplitudes
	SwingPeriodS       float64 // 0 for no swing
	SwingSpeedPhaseRad float64 // by which the speed lags the direction
}

// Add implements [Part].
func (w Wind) Add(_, _, tS float64, air *Air) {
	from, speed := w.FromRad+w.TurnRadS*tS, w.SpeedMS
	if w.SwingPeriodS > 0 {
		a := 2 * math.Pi * tS / w.SwingPeriodS
		from += w.SwingRad * math.Sin(a)
		speed += w.SwingMS * math.Sin(a-w.SwingSpeedPhaseRad)
	}
	air.blow(max(0, speed), from+math.Pi)
}

// Fix is where a pressure system is at a time and how deep.
type Fix struct {
	TS             float64 // seconds after the scene's start
	LonDeg, LatDeg float64
	CentrePa       float64
}

// at interpolates a track of fixes; it stands still before and after.
func at(track []Fix, tS float64) (f Fix, eastMS, northMS float64) {
	n := len(track)
	if n == 0 {
		return Fix{}, 0, 0
	}
	if tS <= track[0].TS {
		return track[0], 0, 0
	}
	for k := 1; k < n; k++ {
		a, b := track[k-1], track[k]
		if tS > b.TS {
			continue
		}
		w := (tS - a.TS) / (b.TS - a.TS)
		dLon := units.Wrap180(b.LonDeg - a.LonDeg)
		f = Fix{tS, units.Wrap180(a.LonDeg + w*dLon), a.LatDeg + w*(b.LatDeg-a.LatDeg), a.CentrePa + w*(b.CentrePa-a.CentrePa)}
		mPerRad := earthM / (b.TS - a.TS)
		return f, units.Rad(dLon) * math.Cos(units.Rad(f.LatDeg)) * mPerRad, units.Rad(b.LatDeg-a.LatDeg) * mPerRad
	}
	return track[n-1], 0, 0
}

// Low is a moving low: the gradient wind of the Holland profile, reduced to the
// surface and turned inwards, with part of its own motion added in proportion to
// the wind, so that the side where both agree is the stronger one.
type Low struct {
	Track     []Fix
	OuterPa   float64 // pressure far away
	B, RmaxM  float64
	Reduction float64 // surface wind over gradient wind, about 0.8 (common practice)
	InflowRad float64 // about 20° over the sea (common practice)
	Motion    float64 // share of the motion that is added, 0.5 (common practice)
	Rho       float64 // 0 means 1.15 kg/m³
}

// Add implements [Part].
func (l Low) Add(lonDeg, latDeg, tS float64, air *Air) { addMoving(l, lonDeg, latDeg, tS, air) }

// stillLow is a low at one time.
type stillLow struct {
	*Low
	holland         Holland
	maxMS           float64
	centre          spot
	turnRad         float64 // from outwards to the wind
	eastMS, northMS float64 // motion
}

func (l Low) then(tS float64) still {
	c, eastMS, northMS := at(l.Track, tS)
	if !(l.OuterPa-c.CentrePa > 0) {
		return nil
	}
	rho := l.Rho
	if rho == 0 {
		rho = rhoAir
	}
	h := Holland{CentrePa: c.CentrePa, OuterPa: l.OuterPa, B: l.B, RmaxM: l.RmaxM, Rho: rho, F: math.Abs(Coriolis(c.LatDeg))}
	return &stillLow{Low: &l, holland: h, maxMS: h.MaxMS(), centre: spotAt(c.LonDeg, c.LatDeg), turnRad: hemisphere(c.LatDeg) * (math.Pi/2 + l.InflowRad), eastMS: eastMS, northMS: northMS}
}

func (l *stillLow) add(p *spot, air *Air) {
	r, out := polar(&l.centre, p)
	pa, v := l.holland.at(r)
	v *= l.Reduction
	air.PressurePa += pa - l.OuterPa
	air.blow(v, out-l.turnRad)
	share := l.Motion * v / l.maxMS
	air.U += share * l.eastMS
	air.V += share * l.northMS
}

// High is a moving high with a bell-shaped surplus of pressure, Δp exp(−(r/L)²).
// Its gradient wind is limited to fR/2, the strongest that can exist round a
// high.
type High struct {
	Track     []Fix // CentrePa is the pressure in the centre
	OuterPa   float64
	LengthM   float64
	Reduction float64 // surface wind over gradient wind
	OutRad    float64 // angle by which the wind blows outwards
	Rho       float64 // 0 means 1.15 kg/m³
}

// Add implements [Part].
func (h High) Add(lonDeg, latDeg, tS float64, air *Air) { addMoving(h, lonDeg, latDeg, tS, air) }

// stillHigh is a high at one time.
type stillHigh struct {
	*High
	centre     spot
	dp, rho, f float64
	turnRad    float64 // from outwards to the wind
}

func (h High) then(tS float64) still {
	c, _, _ := at(h.Track, tS)
	dp := c.CentrePa - h.OuterPa
	if !(dp > 0) {
		return nil
	}
	rho := h.Rho
	if rho == 0 {
		rho = rhoAir
	}
	return &stillHigh{High: &h, centre: spotAt(c.LonDeg, c.LatDeg), dp: dp, rho: rho, f: math.Abs(Coriolis(c.LatDeg)), turnRad: hemisphere(c.LatDeg) * (math.Pi/2 - h.OutRad)}
}

func (h *stillHigh) add(p *spot, air *Air) {
	r, out := polar(&h.centre, p)
	x := r / h.LengthM
	bell := h.dp * math.Exp(-x*x)
	air.PressurePa += bell
	vg := GeostrophicMS(2*x/h.LengthM*bell, h.rho, h.f)
	v, ok := GradientAnticyclonicMS(vg, h.f, r)
	if !ok {
		v = h.f * r / 2
	}
	air.blow(v*h.Reduction, out+h.turnRad)
}

// Front is a cold front as a moving trough: a straight line that hangs on the
// centre of a low, ahead of which the wind blows more along the line towards
// the pole and behind which more towards the equator, so that a westerly veers
// by a large angle within the width of the front. The wind along the line is
// geostrophic with the trough's pressure, −P exp(−|d|/D) with |d| rounded over
// the width; the line fades in over the first Fade metres from the low and out
// over the last.
type Front struct {
	Track      []Fix   // of the low's centre
	BearingRad float64 // in which the line trails from the centre, e.g. 200°
	SweepRadS  float64 // by which the bearing grows with time
	LengthM    float64
	FadeM      float64
	JumpMS     float64 // wind along the line, ahead minus behind, at the line
	DecayM     float64 // D
	WidthM     float64 // half width of the change
	GustMS     float64 // extra gust at the line
	Rho        float64 // 0 means 1.15 kg/m³
}

// Add implements [Part].
func (f Front) Add(lonDeg, latDeg, tS float64, air *Air) { addMoving(f, lonDeg, latDeg, tS, air) }

// stillFront is a front at one time.
type stillFront struct {
	*Front
	centre   spot
	lineRad  float64 // bearing in which the line trails
	side     float64 // hemisphere
	troughPa float64
}

func (f Front) then(tS float64) still {
	c, _, _ := at(f.Track, tS)
	rho := f.Rho
	if rho == 0 {
		rho = rhoAir
	}
	return &stillFront{Front: &f, centre: spotAt(c.LonDeg, c.LatDeg), lineRad: f.BearingRad + f.SweepRadS*tS, side: hemisphere(c.LatDeg),
		troughPa: f.JumpMS / 2 * rho * math.Abs(Coriolis(c.LatDeg)) * f.DecayM}
}

func (f *stillFront) add(p *spot, air *Air) {
	r, out := polar(&f.centre, p)
	off := bearing(&f.centre, p) - f.lineRad
	sinO, cosO := math.Sincos(off)
	sinR, cosR := math.Sincos(r / earthM)
	a := earthM * math.Atan2(sinR*cosO, cosR) // along the line from the centre
	across := earthM * math.Asin(sinR*sinO)   // to the right of it
	if a <= 0 || a >= f.LengthM {
		return
	}
	fade := smooth(a/f.FadeM) * smooth((f.LengthM-a)/f.FadeM)
	d := -across * f.side // ahead of the line, on its eastern side
	soft := math.Sqrt(d*d + f.WidthM*f.WidthM)
	near := math.Exp(-(soft - f.WidthM) / f.DecayM)
	air.PressurePa -= f.troughPa * near * fade
	// Towards the pole is against the direction in which the line trails.
	air.blow(f.JumpMS/2*d/soft*near*fade, out-off+math.Pi)
	air.GustMS += f.GustMS * near * math.Exp(-d*d/(2*f.WidthM*f.WidthM)) * fade
}

// smooth rises from 0 at x ≤ 0 to 1 at x ≥ 1.
func smooth(x float64) float64 {
	x = max(0, min(1, x))
	return x * x * (3 - 2*x)
}

// SeaBreeze blows onshore by day and, weaker, offshore by night along a straight
// coast, strongest at 15 h local solar time, turning clockwise through the day
// (anticlockwise in the south) and fading away from the coast. Shape and numbers
// are common practice.
type SeaBreeze struct {
	LonDeg, LatDeg float64 // a point of the coast
	InlandRad      float64 // bearing that points inland, at right angles to the coast
	PeakMS         float64
	NightShare     float64 // of the peak, by night
	ReachM         float64 // distance in which it falls to 1/e
	TurnRadH       float64 // per hour
	StartHourUTC   float64 // hour of day at the scene's start
}

// Add implements [Part].
func (b SeaBreeze) Add(lonDeg, latDeg, tS float64, air *Air) {
	c, p := spotAt(b.LonDeg, b.LatDeg), spotAt(lonDeg, latDeg)
	r, out := polar(&c, &p)
	off := math.Abs(r * math.Cos(out-b.InlandRad))
	hour := math.Mod(b.StartHourUTC+tS/3600+lonDeg/15+48, 24)
	x := hour - 15
	if x > 12 {
		x -= 24
	}
	if x < -12 {
		x += 24
	}
	day := math.Cos(math.Pi * x / 12)
	if day < 0 {
		day *= b.NightShare
	}
	// The turn starts again at 3 h in the night; it is faded with the strength
	// of the breeze so that nothing jumps.
	turn := b.TurnRadH * x * (1 + math.Cos(math.Pi*x/12)) / 2
	air.blow(b.PeakMS*day*math.Exp(-off/b.ReachM), b.InlandRad+hemisphere(latDeg)*turn)
}
