package vpp

import "math"

// Fluid properties at 15 °C. Sea water: ITTC Recommended Procedure
// 7.5-02-01-03 rev. 03 (density, kinematic viscosity, vapour pressure of fresh
// water, which the procedure also uses for the sea). Air: ISA, 15 °C, 101325 Pa.
const (
	WaterDensity    = 1026.021   // kg/m³
	waterViscosity  = 1.18831e-6 // m²/s
	vapourPressure  = 1705.1     // Pa
	airDensity      = 1.225      // kg/m³
	atmospherePress = 101325.0   // Pa
)

// seaWater returns density (kg/m³) and kinematic viscosity (m²/s) of sea water
// at 0..30 °C and practical salinity s (0..40) at the surface: UNESCO equation
// of state (EOS-80, Fofonoff & Millard 1983, UNESCO Tech. Pap. Mar. Sci. 44)
// and the viscosity fit of Millero (1974, The Sea vol. 5). The model itself uses
// the constants above; this is for other waters and for tests.
func seaWater(tC, s float64) (density, viscosity float64) {
	t := tC
	fresh := 999.842594 + t*(6.793952e-2+t*(-9.09529e-3+t*(1.001685e-4+t*(-1.120083e-6+t*6.536332e-9))))
	a := .824493 + t*(-4.0899e-3+t*(7.6438e-5+t*(-8.2467e-7+t*5.3875e-9)))
	b := -5.72466e-3 + t*(1.0227e-4-t*1.6546e-6)
	density = fresh + a*s + b*s*math.Sqrt(s) + 4.8314e-4*s*s
	mu := 1.002e-3 * math.Pow(10, (1.1709*(20-t)-.001827*(t-20)*(t-20))/(t+89.93))
	cl := density * s / 1806.55
	mu *= 1 + (5.185e-5*t+1.0675e-4)*math.Sqrt(cl) + (3.3e-5*t+2.591e-3)*cl
	return density, mu / density
}

// airDensityAt returns the density of moist air (kg/m³) by the ideal gas law
// for its dry and vapour parts; vapour pressure after Magnus (Alduchov &
// Eskridge 1996, J. Appl. Meteorol. 35).
func airDensityAt(tC, pressurePa, relHumidity float64) float64 {
	e := relHumidity * 610.94 * math.Exp(17.625*tC/(tC+243.04))
	k := tC + 273.15
	return (pressurePa-e)/(287.058*k) + e/(461.495*k)
}

// ittc57 is the ITTC-1957 model-ship correlation line (8th ITTC, Madrid 1957):
// CF = 0.075/(log₁₀ Re − 2)². Used for Re > 10⁵; held at Re = 10⁴ below, where
// no boat of this kind sails.
func ittc57(re float64) float64 {
	l := math.Log10(max(re, 1e4)) - 2
	return 0.075 / (l * l)
}

func ittc57D(re d3) d3 {
	if re.v < 1e4 {
		return con(ittc57(1e4))
	}
	l := math.Log10(re.v) - 2
	f := 0.075 / (l * l)
	return re.chain(f, -2*f/(l*re.v*math.Ln10))
}

// schoenherr solves the ATTC-1947 line 0.242/√CF = log₁₀(Re·CF), which Savitsky
// (1964) used.
func schoenherr(re float64) float64 {
	cf := ittc57(re)
	for range 50 {
		// Newton on g(c) = 0.242/√c − log₁₀(Re c).
		g := 0.242/math.Sqrt(cf) - math.Log10(re*cf)
		dg := -0.121/(cf*math.Sqrt(cf)) - 1/(cf*math.Ln10)
		step := g / dg
		cf -= step
		if math.Abs(step) < 1e-14 {
			break
		}
	}
	return cf
}

// foilFormFactor is 1+k of a lifting surface, both sides wetted: Hoerner (1965,
// Fluid-Dynamic Drag, ch. 6; from memory) 1 + 2 t/c + 60 (t/c)⁴.
func foilFormFactor(tc float64) float64 { return 1 + 2*tc + 60*tc*tc*tc*tc }

// bodyFormFactor is 1+k of a streamlined body of revolution: Hoerner (1965,
// ch. 6; from memory) 1 + 1.5 (d/l)^1.5 + 7 (d/l)³.
func bodyFormFactor(dl float64) float64 { return 1 + 1.5*math.Pow(dl, 1.5) + 7*dl*dl*dl }

// cavitationNumber is σ = (pa + ρ g h − pv)/(½ρV²) at depth h.
func cavitationNumber(vMS, depthM float64) float64 {
	return (atmospherePress + WaterDensity*gravity*depthM - vapourPressure) / (0.5 * WaterDensity * vMS * vMS)
}
