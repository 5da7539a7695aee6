package waves

import "math"

// PiersonMoskowitz returns the spectral density S(ω) in m²·s of the fully
// developed sea under u195MS at 19.5 m (Pierson and Moskowitz 1964): α g² ω⁻⁵
// exp(−β (g/Uω)⁴).
func PiersonMoskowitz(omega, u195MS float64) float64 {
	if !(omega > 0) || !(u195MS > 0) {
		return 0
	}
	w0 := g / u195MS
	return 8.1e-3 * g * g * math.Pow(omega, -5) * math.Exp(-0.74*math.Pow(w0/omega, 4))
}

// JONSWAP returns the spectral density S(f) in m²/Hz of a growing sea under
// u10MS over fetchM: K. Hasselmann et al., "Measurements of wind-wave growth and
// swell decay during the Joint North Sea Wave Project", 1973, with the mean peak
// enhancement 3.3 and the α(F) fit. Its integral is up to a quarter higher in Hs
// than the growth law [JONSWAPGrowth]: the two published fits do not agree.
func JONSWAP(fHz, u10MS, fetchM float64) float64 {
	if !(fHz > 0) || !(u10MS > 0) || !(fetchM > 0) {
		return 0
	}
	x := g * fetchM / (u10MS * u10MS)
	alpha := 0.076 * math.Pow(x, -0.22)
	fp := 3.5 * g / u10MS * math.Pow(x, -0.33)
	sigma := 0.07
	if fHz > fp {
		sigma = 0.09
	}
	r := math.Exp(-(fHz - fp) * (fHz - fp) / (2 * sigma * sigma * fp * fp))
	return alpha * g * g * math.Pow(2*math.Pi, -4) * math.Pow(fHz, -5) *
		math.Exp(-1.25*math.Pow(fp/fHz, 4)) * math.Pow(3.3, r)
}

// JONSWAPGrowth is the integral growth law of the same work: m0 g²/U⁴ = 1.6e-7 X,
// Hs = 4√m0, fp U/g = 3.5 X^−0.33, capped at m0 g²/U⁴ = 3.64e-3 and fp U/g =
// 0.133.
func JONSWAPGrowth(u10MS, fetchM float64) Sea {
	if !(u10MS > 0) || !(fetchM > 0) {
		return Sea{}
	}
	x := g * fetchM / (u10MS * u10MS)
	m0 := min(1.6e-7*x, 3.64e-3) * math.Pow(u10MS, 4) / (g * g)
	fp := max(3.5*math.Pow(x, -0.33), 0.133) * g / u10MS
	return Sea{HsM: 4 * math.Sqrt(m0), PeakS: 1 / fp}
}

// Moment integrates fⁿ S(f) from lo to hi by the midpoint rule in log f with n
// intervals.
func Moment(order float64, s func(f float64) float64, lo, hi float64, intervals int) float64 {
	d := math.Log(hi/lo) / float64(intervals)
	var sum float64
	for i := range intervals {
		f := lo * math.Exp((float64(i)+0.5)*d)
		sum += math.Pow(f, order) * s(f) * f * d
	}
	return sum
}
