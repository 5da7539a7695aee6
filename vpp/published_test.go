package vpp

import (
	"fmt"
	"math"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// published records one check of this package.
func published(t *testing.T, id, quantity string, got, want, tol float64, unit, source string, kind validation.Kind) {
	t.Helper()
	validation.Check(t, validation.Row{Package: "vpp", ID: id, Quantity: quantity, Got: got, Want: want, Tol: tol, Unit: unit, Source: source, Kind: kind})
}

func TestPublishedFriction(t *testing.T) {
	const book = "E. C. Tupper, Introduction to Naval Architecture, Table 8.3 p. 191"
	for _, c := range []struct{ re, want float64 }{{1e5, .008333}, {5e5, .005482}, {1e6, .004688}, {5e6, .003397}, {1e7, .003000}, {5e7, .002309}, {5e8, .001671}, {1e9, .001531}, {5e9, .001265}, {1e10, .001172}} {
		published(t, fmt.Sprintf("ittc57-%.0e", c.re), fmt.Sprintf("ITTC-1957 friction coefficient at Re %.0e", c.re), ittc57(c.re), c.want, 1.2e-6, "", book, validation.Published)
	}
	for _, c := range []struct{ re, want float64 }{{1e6, .004409}, {1e8, .002072}} {
		published(t, fmt.Sprintf("schoenherr-%.0e", c.re), fmt.Sprintf("ATTC-1947 (Schoenherr) friction coefficient at Re %.0e", c.re), schoenherr(c.re), c.want, 1e-6, "", "0.242/√CF = log10(Re CF), solved by hand", validation.Analytic)
	}
}

func TestPublishedFluids(t *testing.T) {
	const ittc = "ITTC 7.5-02-01-03 (density of sea water, S_A 35.16504 g/kg)"
	published(t, "water-density", "density of sea water at 15 °C used by the model", WaterDensity, 1026.021, 1e-3, "kg/m³", ittc, validation.Published)
	for _, c := range []struct{ t, want float64 }{{1, 1028.0941}, {4, 1027.8336}, {10, 1027.0000}, {15, 1026.0210}, {20, 1024.8103}, {25, 1023.3873}, {30, 1021.7694}} {
		rho, _ := seaWater(c.t, 35)
		published(t, fmt.Sprintf("sea-density-%.0f", c.t), fmt.Sprintf("EOS-80 density at %.0f °C against ITTC's", c.t), rho, c.want, 0.06, "kg/m³", ittc+"; the two equations differ by up to 0.05", validation.Published)
	}
	for _, c := range []struct{ t, want float64 }{{0, 1.828e-6}, {10, 1.354e-6}, {20, 1.054e-6}, {30, .849e-6}} {
		_, nu := seaWater(c.t, 35)
		published(t, fmt.Sprintf("sea-viscosity-%.0f", c.t), fmt.Sprintf("kinematic viscosity of sea water at %.0f °C", c.t), nu*1e6, c.want*1e6, 0.012*c.want*1e6, "1e-6 m²/s", "E. C. Tupper, Introduction to Naval Architecture, Table 5.1", validation.Published)
	}
	_, nu := seaWater(15, 35)
	published(t, "sea-viscosity-15", "kinematic viscosity of sea water at 15 °C against ITTC's", nu*1e6, 1.18831, 0.012*1.18831, "1e-6 m²/s", "ITTC 7.5-02-01-03 rev. 03", validation.Published)
	published(t, "air-isa", "density of dry air at 15 °C, 101325 Pa", airDensityAt(15, 101325, 0), 1.225, 1e-3, "kg/m³", "International Standard Atmosphere", validation.Published)
	published(t, "cavitation-hoerner", "cavitation number times the square of the speed, at the surface", cavitationNumber(10, 0)*100, 195, 2, "m²/s²", "Hoerner 1975, Fluid-Dynamic Lift: −Cp,min ≈ 195/V²", validation.Published)
	for _, c := range []struct{ kn, want float64 }{{20, 2.020}, {30, .898}, {40, .505}} {
		published(t, fmt.Sprintf("cavitation-%.0f", c.kn), fmt.Sprintf("cavitation number at %.0f kn, 1 m deep", c.kn), cavitationNumber(units.MS(c.kn), 1), c.want, 1e-3, "", "(pa + ρgh − pv)/(½ρV²) with ITTC fluid data", validation.Analytic)
	}
}

// parentHull is hull 1 of the Delft series at 10 m waterline.
func parentHull() *delftHull {
	h := &delftHull{l: 10, b: 3.155, tc: .791, vol: 9.156, cp: .568, cm: .646, aw: 21.77, xb: 5.23, xf: 5.35, lcbPercent: -2.3}
	h.sc = delftWetted(h.l, h.b, h.tc, h.vol, h.cm)
	return h
}

func TestPublishedDelft(t *testing.T) {
	h := parentHull()
	published(t, "delft-wetted", "wetted area of the Delft parent hull", h.sc, 25.429, 0.01, "m²", "Keuning & Sonnenberg 1998, wetted area (from memory)", validation.Analytic)
	at := func(fns []float64, fn float64) int {
		for i, f := range fns {
			if f == fn {
				return i
			}
		}
		t.Fatalf("no Froude number %v", fn)
		return 0
	}
	for _, c := range []struct{ fn, k98, k08 float64 }{{.30, .002962, .003044}, {.40, .019151, .018904}, {.50, .079507, .079440}, {.60, .125405, .127300}} {
		published(t, fmt.Sprintf("delft98-%.2f", c.fn), fmt.Sprintf("residuary resistance over weight, parent hull, Fn %.2f, 1998 regression", c.fn), h.residuary98(at(delft98Fn, c.fn)), c.k98, 0.005*c.k98, "", "Keuning & Sonnenberg 1998 (table from memory)", validation.Analytic)
		published(t, fmt.Sprintf("delft08-%.2f", c.fn), fmt.Sprintf("residuary resistance over weight, parent hull, Fn %.2f, 2008 regression", c.fn), h.residuary08(at(delft08Fn, c.fn)), c.k08, 0.005*c.k08, "", "Keuning & Katgert 2008 (table from memory)", validation.Analytic)
	}
	// Tank data include keel and rudder: bare-hull values read low.
	const tank = "Gerritsma, Onnink & Versluis 1981, Delft Series 1, hull 1 (public data set Yacht Hydrodynamics); towed with keel and rudder"
	for _, c := range []struct{ fn, want, tol float64 }{{.30, 3.76, .25}, {.40, 20.11, .10}, {.45, 49.49, .12}} {
		published(t, fmt.Sprintf("delft-tank-%.2f", c.fn), fmt.Sprintf("1000 Rr/weight of hull 1 at Fn %.2f", c.fn), 1000*h.residuary08(at(delft08Fn, c.fn)), c.want, c.tol*c.want, "", tank, validation.Published)
	}
	for _, c := range []struct {
		i         int
		bt, cm, w float64
	}{{2, 3.9886, .646, .9937}, {4, 3.9886, .646, .9879}, {6, 3.9886, .646, .9826}, {2, 10, .75, .9301}, {4, 10, .75, .8297}} {
		published(t, fmt.Sprintf("delft-heeled-%.0f-%.0f", delftWetHeelDeg[c.i], c.bt), fmt.Sprintf("heeled over upright wetted area at %.0f°, B/Tc %.1f", delftWetHeelDeg[c.i], c.bt), delftWettedRatio(c.i, c.bt, c.cm), c.w, 1e-4, "", "Keuning & Sonnenberg 1998 (from memory)", validation.Analytic)
	}
	for i, want := range []float64{1.1051, 1.0895, 1.0498, 1.0026} {
		published(t, fmt.Sprintf("delft-draft-%d", 10*i), fmt.Sprintf("effective over geometric draught at %d° of heel", 10*i), effectiveDraft(i, .791/2, 3.9886, .6, .35), want, 1e-3, "", "Keuning & Sonnenberg 1998 (from memory)", validation.Analytic)
	}
}

// TestPublishedSavitsky is the worked example of Savitsky (1964), Table 1:
// 60 000 lb, LCG 29 ft, VCG 2 ft, beam 14 ft, deadrise 10°, thrust at 4° to the
// keel and 0.5 ft above the centre of gravity, 40 kn.
func TestPublishedSavitsky(t *testing.T) {
	const (
		lb, ft = 4.44822, 0.3048
		source = "Savitsky 1964, Marine Technology 1(1), Table 1"
	)
	p := &planing{beamM: 14 * ft, deadriseRad: units.Rad(10), density: 1.98 * 515.379, viscosity: 1.2e-5 * ft * ft, friction: schoenherr, roughness: 0.0004}
	w, v := 60000*lb, 67.5*ft
	lambda, df, d, _ := p.state(w, v, units.Rad(2))
	published(t, "savitsky-lambda", "mean wetted length over beam at 2° of trim", lambda, 3.85, 0.02*3.85, "", source+" (read from a graph)", validation.Published)
	published(t, "savitsky-friction", "friction drag at 2° of trim", df/lb, 7340, 0.025*7340, "lb", source, validation.Published)
	// The printed friction coefficients go with a viscosity of 1.0e-5 ft²/s.
	thin := *p
	thin.viscosity = 1.0e-5 * ft * ft
	// CF from the friction drag, Df = ½ρ Vm² λ b² (CF + ΔCF)/cos β.
	for _, c := range []struct{ tau, want float64 }{{2, .00174}, {3, .00184}} {
		l, f, _, _ := thin.state(w, v, units.Rad(c.tau))
		vm := v * math.Sqrt(1-savitskyDynamic(l, math.Pow(c.tau, 1.1), 10)/(l*math.Cos(units.Rad(c.tau))))
		cf := f*math.Cos(p.deadriseRad)/(0.5*p.density*vm*vm*l*p.beamM*p.beamM) - p.roughness
		published(t, fmt.Sprintf("savitsky-cf-%.0f", c.tau), fmt.Sprintf("friction coefficient at %.0f° of trim, viscosity 1.0e-5 ft²/s", c.tau), cf, c.want, 1.5e-5, "", source+"; its viscosity is not recovered, 1.0e-5 fits both", validation.Published)
	}
	published(t, "savitsky-drag", "total drag at 2° of trim", d/lb, 9446, 5, "lb", "the closed form by hand", validation.Analytic)
	tau := p.equilibriumTrim(w, v, 29*ft, 2*ft, units.Rad(4), 0.5*ft)
	published(t, "savitsky-trim", "trim in equilibrium", units.Deg(tau), 2.235, 0.1, "°", source+" with its fluid data uncertain", validation.Published)
	_, _, d, _ = p.state(w, v, tau)
	published(t, "savitsky-equilibrium-drag", "drag in equilibrium", d/lb, 9000, 0.025*9000, "lb", source+" with its fluid data uncertain", validation.Published)
}

func TestPublishedFoils(t *testing.T) {
	for _, c := range []struct{ a, prandtl, helm, sweep20 float64 }{{2, 3.1416, 2.6026, 2.5538}, {6, 4.7124, 4.5287, 4.3377}, {10, 5.2360, 5.1510, 4.8980}} {
		published(t, fmt.Sprintf("prandtl-%.0f", c.a), fmt.Sprintf("lift slope by Prandtl, aspect ratio %.0f", c.a), prandtlSlope(c.a), c.prandtl, 1e-4, "/rad", "Prandtl lifting line 2π/(1+2/A)", validation.Analytic)
		published(t, fmt.Sprintf("helmbold-%.0f", c.a), fmt.Sprintf("lift slope by Helmbold, aspect ratio %.0f", c.a), helmbold(c.a), c.helm, 1e-4, "/rad", "Helmbold 2πA/(2+√(A²+4))", validation.Analytic)
		published(t, fmt.Sprintf("swept-%.0f", c.a), fmt.Sprintf("lift slope with 20° of sweep, aspect ratio %.0f", c.a), sweptSlope(c.a, units.Rad(20), 1), c.sweep20, 1e-4, "/rad", "DATCOM / Lowry & Polhamus", validation.Analytic)
	}
	for _, c := range []struct{ h, want float64 }{{.25, .6667}, {.5, .8333}, {1, .9444}, {2, .9848}} {
		published(t, fmt.Sprintf("biplane-k-%.2f", c.h), fmt.Sprintf("lift factor under the surface at h/c %.2f, high Froude number", c.h), liftFactor2D(c.h, 0), c.want, 1e-4, "", "biplane image; quoted by Faltinsen 2005, sec. 6.8 (from memory)", validation.Analytic)
	}
	for _, c := range []struct{ fn, want float64 }{{1.5, .60}, {2, .62}, {2.5, .65}, {4, .76}, {6, .85}, {8, .90}, {10, .91}, {25, .92}} {
		published(t, fmt.Sprintf("hough-moran-%.1f", c.fn), fmt.Sprintf("lift factor at h/c 1, Froude number on depth %.1f", c.fn), liftFactor2D(1, 1/(c.fn*c.fn)), c.want, .05, "", "Hough & Moran 1969 in Faltinsen 2005 p. 199, digitised by others ±3 %", validation.Published)
	}
	for _, c := range []struct{ x, want float64 }{{.1, .6565}, {.2, .4842}, {.5, .2322}, {1, .0935}} {
		published(t, fmt.Sprintf("biplane-sigma-%.1f", c.x), fmt.Sprintf("Prandtl's biplane factor at gap/span %.1f", c.x), biplaneSigma(c.x), c.want, 1e-4, "", "Breslin 1957 closed form", validation.Analytic)
		if c.x <= .5 {
			published(t, fmt.Sprintf("prandtl-fit-%.1f", c.x), fmt.Sprintf("the same against Prandtl's fit at gap/span %.1f", c.x), biplaneSigma(c.x), (1-.66*c.x)/(1.055+3.7*c.x), 2e-3, "", "Prandtl, NACA TN 182, 1924 (fit from memory)", validation.Published)
		}
	}
	for _, c := range []struct{ u, h, want float64 }{{2, .6, 1.145}, {3, .6, 1.547}, {10, .6, 1.301}, {5, .3, 1.896}} {
		published(t, fmt.Sprintf("breslin-%.0f-%.1f", c.u, c.h), fmt.Sprintf("induced plus wave drag factor, span 2.4 m, depth %.1f m, %.0f m/s", c.h, c.u), inducedFactor(2*c.h/2.4, gravity*2.4/(2*c.u*c.u)), c.want, 2e-3, "", "Breslin 1957, integral evaluated by hand", validation.Analytic)
	}
}

func TestPublishedStability(t *testing.T) {
	const derrett = "D. R. Derrett, Ship Stability for Masters and Mates, p. 130 and 228"
	published(t, "gz-example-1", "righting moment, 6000 t, GM 0.5 m, BM 3 m, 25°", 6000*wallSidedGZ(.5, 3, units.Rad(25)), 2100, 10.5, "t m", derrett, validation.Published)
	box := stability{bm: 3, bg: -2} // KB 2 m, KG 4 m, no limit to the shift
	heel := con(units.Rad(5))
	sin, cos := heel.sincos()
	published(t, "gz-example-2", "righting moment, box 65×12×4 m, KG 4 m, 5°", 3198*box.arm(heel, sin, cos).v, 278.9, 3.5, "t m", derrett+", small-angle formula; wall-sided it is 1.1 % more", validation.Published)
	published(t, "gz-example-3", "righting arm of that box at 25° by the wall-sided formula", wallSidedGZ(1, 3, units.Rad(25)), .5605, 1e-4, "m", derrett+", formula", validation.Analytic)
	for _, c := range []struct{ phi, keel, tank float64 }{{0, 65.2, 21.6}, {10, 60.3, 20.2}, {20, 53.6, 18.3}} {
		published(t, fmt.Sprintf("cant-%.0f", c.phi), fmt.Sprintf("moment of 3000 kg on 3.6 m canted 38°, heel %.0f°", c.phi), cantedKeelMoment(3000, 3.6, units.Rad(38), units.Rad(c.phi))/1000, c.keel, .06, "kN m", "statics", validation.Analytic)
		published(t, fmt.Sprintf("ballast-%.0f", c.phi), fmt.Sprintf("moment of 1000 kg of water at 2.2 m, 0.6 m up, heel %.0f°", c.phi), ballastMoment(1000, 2.2, .6, units.Rad(c.phi))/1000, c.tank, .06, "kN m", "statics", validation.Analytic)
	}
}

// TestPublishedStaticHeel: an invented boat of the usual proportions, becalmed with
// its keel canted, heels as a measured one did.
func TestPublishedStaticHeel(t *testing.T) {
	m := exampleBoat(t, "none")
	k := &m.boat.Keel
	for _, c := range []struct{ cantDeg, wantDeg, tolDeg float64 }{{40, 28, 4}, {18, 10, 4}} {
		lo, hi := 0.0, units.Rad(60) // heel to windward
		for range 50 {
			mid := 0.5 * (lo + hi)
			phi := con(-mid)
			sin, cos := phi.sincos()
			if m.hull.w0*m.hull.stab.arm(phi, sin, cos).v+cantedKeelMoment(k.BulbKg, k.ArmM, units.Rad(c.cantDeg), -mid) > 0 {
				lo = mid
			} else {
				hi = mid
			}
		}
		published(t, fmt.Sprintf("static-heel-%.0f", c.cantDeg), fmt.Sprintf("heel at rest with the keel canted %.0f°, invented boat against a yacht of 60 ft", c.cantDeg), units.Deg(lo), c.wantDeg, c.tolDeg, "°", "stability note of a 60-foot yacht with canting keel, unnamed design office, 2002", validation.Published)
	}
}

// TestPublishedFoilLoading: no angle of attack loads a foil more than the tank
// found a foil with a full upper-surface cavity to bear.
func TestPublishedFoilLoading(t *testing.T) {
	for _, name := range []string{"small", "big"} {
		m := exampleBoat(t, name)
		var sp speedState
		sp.alloc()
		st := m.newSetting(FoilSetting{Extension: 1}, FoilSetting{})
		g := &st.foils[0]
		c := cond(0, 90, 0)
		most := 0.0
		for v := 2.0; v <= 29; v += 0.5 { // 95 ft/s
			m.prepare(&sp, st, &c, v)
			for _, deg := range []float64{0, 10, 20} {
				heel := con(units.Rad(deg))
				sin, cos := heel.sincos()
				f := g.flow(&sp, &sp.slices[0], heel, con(-0.5), sin.v, cos.v)
				for al := 2.0; al <= 30; al += 2 {
					n, _, _, _ := g.panelForce(&sp, &f, f.bMain, con(units.Rad(al)), f.sinMain)
					most = max(most, n.v/(f.bMain.v*g.chord))
				}
			}
		}
		validation.Band(t, validation.Row{Package: "vpp", ID: "foil-loading-" + name, Quantity: "greatest lift per area of the foil at any angle, up to 95 ft/s, boat file " + name, Got: most / 1000, Unit: "kPa",
			Source: "Benson & Land 1942, NACA tank: about 2200 lb/ft² (105 kPa) with the upper surface in a cavity", Kind: validation.Published}, 40, 105)
	}
}

func TestPublishedWind(t *testing.T) {
	for _, c := range []struct {
		id                    string
		aws, awa, bs, tws, tw float64
		kind                  validation.Kind
		source                string
	}{
		{"triangle-1", 10, 60, 5, 8.660, 90, validation.Published, "navigation text: apparent 10 kn at 60°, boat 5 kn gives 8 2/3 kn at 90°"},
		{"triangle-2", 16.09, 53.0, 25, 20, 140, validation.Analytic, "vector sum"},
		{"triangle-3", 16.788, 30.36, 6, 12, 45, validation.Analytic, "vector sum"},
	} {
		tws, twa := trueWind(units.MS(c.aws), units.Rad(c.awa), units.MS(c.bs))
		published(t, c.id+"-tws", fmt.Sprintf("true wind from apparent %.2f kn at %.1f°, boat %.0f kn", c.aws, c.awa, c.bs), units.Knots(tws), c.tws, .02, "kn", c.source, c.kind)
		published(t, c.id+"-twa", "its angle", units.Deg(twa), c.tw, .1, "°", c.source, c.kind)
		aws, awa := apparentWind(units.MS(c.tws), units.Rad(c.tw), units.MS(c.bs))
		if !(math.Abs(units.Knots(aws)-c.aws) <= .02) || !(math.Abs(units.Deg(awa)-c.awa) <= .1) {
			t.Errorf("%s: back to apparent wind %.3f kn at %.2f°", c.id, units.Knots(aws), units.Deg(awa))
		}
	}
	// Course 180°, 22 kn; apparent wind 20 kn from 70° on the port bow.
	const exam = "deck officers' examination question (public): listed answer from 051° true, 24.0 kn"
	tws, twa := trueWind(units.MS(20), units.Rad(70), units.MS(22))
	published(t, "triangle-exam-tws", "true wind, course 180° at 22 kn, apparent 20 kn from 70° to port", units.Knots(tws), 24.0, .2, "kn", exam, validation.Published)
	published(t, "triangle-exam-from", "where it comes from", 180-units.Deg(twa), 51, .5, "°", exam, validation.Published)
	for _, c := range []struct{ z, want float64 }{{2, .8377}, {20, 1.0792}, {30, 1.1285}} {
		published(t, fmt.Sprintf("profile-%.0f", c.z), fmt.Sprintf("wind at %.0f m over wind at 10 m, exponent 0.11", c.z), windProfile(c.z, .11), c.want, 1e-4, "", "power law; exponent of Hsu et al. 1994 (from memory)", validation.Analytic)
	}
}
