package vpp

import "math"

// Waves. The condition gives a significant height only; the period is that of a
// fully developed sea after Pierson & Moskowitz (1964, J. Geophys. Res. 69):
// peak ωp² = 0.161 g/Hs, mean Tz = 0.71 Tp.

// peakFrequency is the peak of a fully developed sea, rad/s. From Hs = 0.2092
// U²/g and ωp = 0.877 g/U (U at 19.5 m).
func peakFrequency(hsM float64) float64 {
	return math.Sqrt(0.877 * 0.877 * 0.2092 * gravity / hsM)
}

// shortHs is the significant height of the waves not longer than lengthM: the
// part of a Pierson-Moskowitz spectrum above ω₁ = √(2πg/length), m₀(ω₁) = m₀ (1 −
// exp(−1.25 (ωp/ω₁)⁴)). Longer waves lift the boat with them. It rises with Hs
// and levels off, because the short waves of a developed sea are saturated.
func shortHs(hsM, lengthM float64) float64 {
	if hsM <= 0 {
		return 0
	}
	wp := peakFrequency(hsM)
	w1 := math.Sqrt(2 * math.Pi * gravity / lengthM)
	r := wp / w1
	return hsM * math.Sqrt(-math.Expm1(-1.25*r*r*r*r))
}

// staWave1 is added resistance in head seas by ITTC 7.5-04-01-01.1 (STAwave-1):
// (1/16) ρ g Hs² B √(B/L_BWL) (from memory). It holds for waves that do not lift
// the ship, so the model gives it the height of the short waves only.
func staWave1(hsM, beamM, entranceM float64) float64 {
	return WaterDensity * gravity / 16 * hsM * hsM * beamM * math.Sqrt(beamM/entranceM)
}

// encounterShare is added resistance over its head-sea value when the waves come
// from mu off the bow: ((1+cos μ)/2)^1.5, 1 ahead, 0.35 abeam, 0 astern. The
// shape is an assumption; published yacht data agree that stern-quartering seas
// add next to nothing (Gerritsma, Keuning & Onnink 1992, 12th HISWA symposium).
func encounterShare(muRad float64) float64 {
	return math.Pow(0.5*(1+math.Cos(muRad)), 1.5)
}

// orbitalVelocity is the standard deviation of the vertical velocity of the
// water at a depth, m/s, from the waves not longer than lengthM (longer ones lift
// the boat and its foil together): m₂ = ∫ω²S(ω)e^{−2ω²d/g}dω of a Pierson-Moskowitz
// spectrum S = 4m₀B ω⁻⁵ exp(−Bω⁻⁴), B = 1.25 ωp⁴, by linear wave theory. With u =
// ω⁻² it is 2m₀B∫exp(−Bu² − 2d/gu)du from 0 to ω₁⁻².
func orbitalVelocity(hsM, lengthM, depthM float64) float64 {
	if hsM <= 0 {
		return 0
	}
	wp := peakFrequency(hsM)
	b := 1.25 * wp * wp * wp * wp
	end := min(lengthM/(2*math.Pi*gravity), 4/math.Sqrt(b)) // e^{−16} beyond
	i := gauss(0, end, 2, func(u float64) float64 { return math.Exp(-b*u*u - 2*depthM/(gravity*u)) })
	return math.Sqrt(hsM * hsM / 8 * b * i)
}

const (
	// foilDepthShare is where along its span below the root a foil is taken to
	// feel the waves. Assumption.
	foilDepthShare = 0.25
	// slowAngle keeps the angle w/V finite at rest.
	slowAngle = 4.0
)

// waveState is sea and speed, ready for the solver.
type waveState struct {
	raw       float64 // added resistance at full hull load, N
	invVar2   float64 // 1/(2σ²) of the relative motion at the bow; 0 in flat water
	encounter float64 // encounters per second
	sigma     float64 // standard deviation of the relative motion at the bow, m
	surface   float64 // of the surface itself, m
}

const (
	// Waves up to this many waterline lengths are felt as resistance, and as bow
	// motion. Assumptions: a hull follows a wave three, five lengths long.
	resistLengths = 3.0
	bowLengths    = 5.0
)

// bowMotion is the standard deviation of the bow's motion relative to the water
// over that of the surface (Hs/4): 1.2 in head seas, 0.8 in following seas, where
// a fast boat runs into the backs of the waves ahead. Assumption; strip theory
// for slender hulls gives 1 to 1.5 near resonance.
func bowMotion(muRad float64) float64 { return 1.0 + 0.2*math.Cos(muRad) }

// encounterHz is how often the boat meets a wave, in a sea from mu off the bow.
func encounterHz(hsM, muRad, vMS float64) float64 {
	w := peakFrequency(hsM) / 0.71 // mean zero-crossing frequency
	e := w + w*w*vMS*math.Cos(muRad)/gravity
	// Never quite 0: a sea is no single wave.
	return math.Sqrt(e*e+0.04*w*w) / (2 * math.Pi)
}

func newWaveState(m *Model, c Condition, vMS float64) waveState {
	if c.HsM <= 0 {
		return waveState{}
	}
	mu := c.waveAngle()
	h := &m.boat.Hull
	var w waveState
	hs := shortHs(c.HsM, resistLengths*h.LengthWaterlineM)
	w.raw = m.factors.WaveDrag * staWave1(hs, h.BeamWaterlineM, h.BowEntranceM) * encounterShare(mu)
	w.surface = shortHs(c.HsM, bowLengths*h.LengthWaterlineM) / 4
	w.sigma = bowMotion(mu) * w.surface
	w.invVar2 = 1 / (2 * w.sigma * w.sigma)
	w.encounter = encounterHz(c.HsM, mu, vMS)
	return w
}

func (c Condition) waveAngle() float64 {
	if c.WaveFromBowRad == 0 {
		return c.TWARad
	}
	return math.Abs(c.WaveFromBowRad)
}

// immersion is the chance per encounter that the relative motion, taken as
// Gaussian, exceeds the bow's freeboard: exp(−f²/2σ²) (Rayleigh crests; Ochi
// 1964, SNAME Trans. 72), and 1 once the freeboard is gone.
func (w *waveState) immersion(freeboard d3) d3 {
	if w.invVar2 == 0 {
		return d3{}
	}
	f := freeboard.positive(0.05)
	return f.sq().scale(-w.invVar2).exp()
}
