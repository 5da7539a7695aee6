package synth

import (
	"math"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

const pkg = "weather/synth"

const hollandSource = "G. J. Holland, Mon. Wea. Rev. 108, 1980, 1212-1218; "

func TestHollandMaximum(t *testing.T) {
	const source = hollandSource + "table of a national hazard model's unit test (B 1.3, rho 1.15, outer pressure 1010 hPa)"
	for pc, want := range map[string]struct{ hPa, ms float64 }{
		"880": {880, 73.527}, "890": {890, 70.643}, "900": {900, 67.635}, "910": {910, 64.487}, "920": {920, 61.178},
		"930": {930, 57.679}, "940": {940, 53.954}, "950": {950, 49.952}, "960": {960, 45.600}, "970": {970, 40.785},
		"980": {980, 35.321}, "990": {990, 28.840}, "1000": {1000, 20.393},
	} {
		h := Holland{CentrePa: want.hPa * 100, OuterPa: 101000, B: 1.3, RmaxM: 40e3, Rho: 1.15}
		validation.Check(t, validation.Row{Package: pkg, ID: "holland-vmax-" + pc, Quantity: "strongest cyclostrophic wind of a low of " + pc + " hPa",
			Got: h.MaxMS(), Want: want.ms, Tol: 0.001, Unit: "m/s", Source: source, Kind: validation.Published})
		// The profile has its maximum there.
		if !(h.CyclostrophicMS(40e3) > h.CyclostrophicMS(39e3) && h.CyclostrophicMS(40e3) > h.CyclostrophicMS(41e3)) {
			t.Errorf("%s hPa: no maximum at the radius of the strongest wind", pc)
		}
	}
}

func TestHollandProfile(t *testing.T) {
	const source = hollandSource + "profile computed from the published formula for the inputs of a national hazard model's test (953.30 and 1014.45 hPa, B 1.7, Rmax 50 km, 20.13 S, rho 1.15)"
	h := Holland{CentrePa: 95330, OuterPa: 101445, B: 1.7, RmaxM: 50e3, Rho: 1.15, F: math.Abs(Coriolis(-20.13))}
	for _, r := range []struct {
		id            string
		km            float64
		vg, cyclo, pa float64
	}{
		{"010", 10, 0.05, 0.17, 953.30}, {"025", 25, 33.14, 33.76, 955.67}, {"050", 50, 56.43, 57.67, 975.80},
		{"075", 75, 50.56, 52.41, 990.32}, {"100", 100, 42.78, 45.22, 998.25}, {"150", 150, 31.03, 34.59, 1005.70},
		{"200", 200, 23.34, 27.91, 1008.92}, {"300", 300, 14.07, 20.25, 1011.61}, {"500", 500, 5.74, 13.30, 1013.24},
	} {
		validation.Check(t, validation.Row{Package: pkg, ID: "holland-gradient-" + r.id, Quantity: "gradient wind at " + r.id + " km",
			Got: h.GradientMS(r.km * 1000), Want: r.vg, Tol: 0.006, Unit: "m/s", Source: source, Kind: validation.Analytic})
		validation.Check(t, validation.Row{Package: pkg, ID: "holland-cyclostrophic-" + r.id, Quantity: "cyclostrophic wind at " + r.id + " km",
			Got: h.CyclostrophicMS(r.km * 1000), Want: r.cyclo, Tol: 0.006, Unit: "m/s", Source: source, Kind: validation.Analytic})
		validation.Check(t, validation.Row{Package: pkg, ID: "holland-pressure-" + r.id, Quantity: "pressure at " + r.id + " km",
			Got: h.PressurePa(r.km*1000) / 100, Want: r.pa, Tol: 0.006, Unit: "hPa", Source: source, Kind: validation.Analytic})
	}
	if v := h.GradientMS(0); v != 0 {
		t.Errorf("wind in the centre %g", v)
	}
	// Far out the exact form would cancel; the wind must stay positive and fall.
	last := math.Inf(1)
	for r := 100e3; r < 5000e3; r *= 1.3 {
		v := h.GradientMS(r)
		if !(v > 0 && v < last) {
			t.Errorf("%g km: %g m/s after %g", r/1000, v, last)
		}
		last = v
	}
}

func TestBalances(t *testing.T) {
	f45 := Coriolis(45)
	const holton = "gradient wind equation, e.g. J. R. Holton, An Introduction to Dynamic Meteorology, section 3.2; computed"
	for _, r := range []struct {
		id, what  string
		got, want float64
		tol       float64
	}{
		{"gradient-low-500", "wind round a low, 45°, geostrophic 20 m/s, radius 500 km", GradientCyclonicMS(20, f45, 500e3), 15.400, 1e-3},
		{"gradient-low-1000", "the same at 1000 km", GradientCyclonicMS(20, f45, 1000e3), 17.148, 1e-3},
		{"gradient-low-30", "wind round a low, 30°, geostrophic 15 m/s, radius 1000 km", GradientCyclonicMS(15, Coriolis(30), 1000e3), 12.765, 1e-3},
		{"geostrophic-45", "geostrophic wind, 4 hPa per 200 km, 45°, rho 1.225", GeostrophicMS(400/200e3, 1.225, f45), 15.83, 5e-3},
	} {
		validation.Check(t, validation.Row{Package: pkg, ID: r.id, Quantity: r.what, Got: r.got, Want: r.want, Tol: r.tol, Unit: "m/s", Source: holton, Kind: validation.Analytic})
	}
	v, ok := GradientAnticyclonicMS(20, f45, 1000e3)
	validation.Check(t, validation.Row{Package: pkg, ID: "gradient-high-1000", Quantity: "wind round a high, 45°, geostrophic 20 m/s, radius 1000 km",
		Got: v, Want: 27.145, Tol: 1e-3, Unit: "m/s", Source: holton, Kind: validation.Analytic})
	if !ok {
		t.Error("no wind round a high at 1000 km")
	}
	v, ok = GradientAnticyclonicMS(15, Coriolis(30), 1000e3)
	validation.Check(t, validation.Row{Package: pkg, ID: "gradient-high-30", Quantity: "wind round a high, 30°, geostrophic 15 m/s, radius 1000 km",
		Got: v, Want: 21.113, Tol: 1e-3, Unit: "m/s", Source: holton, Kind: validation.Analytic})
	if !ok {
		t.Error("no wind round a high at 30°")
	}
	// The smallest radius of a high is 4Vg/f = 776 km.
	if _, ok := GradientAnticyclonicMS(20, f45, 775e3); ok {
		t.Error("a high of 775 km has a gradient wind")
	}
	if _, ok := GradientAnticyclonicMS(20, f45, 777e3); !ok {
		t.Error("a high of 777 km has no gradient wind")
	}
}

func TestPolar(t *testing.T) {
	for _, tt := range []struct {
		name                             string
		lonC, latC, lon, lat             float64
		wantKm, wantOutDeg, tolKm, tolDg float64
	}{
		{"north", 0, 40, 0, 41, 111.195, 0, 1e-3, 1e-9},
		{"south", 10, 40, 10, 39, 111.195, 180, 1e-3, 1e-9},
		{"east on the equator", 179.5, 0, -179.5, 0, 111.195, 90, 1e-3, 1e-9},
		{"west across 180", -179.5, 0, 179.5, 0, 111.195, 270, 1e-3, 1e-9},
		{"Formulary: 33°57'N 118°24'W to 40°38'N 73°47'W", -118.4, 33.95, -73 - 47.0/60, 40 + 38.0/60, 0.623585 * earthM / 1000, 94.0, 0.01, 0.6},
	} {
		r, out := polarAt(tt.lonC, tt.latC, tt.lon, tt.lat)
		if !(math.Abs(r/1000-tt.wantKm) <= tt.tolKm) {
			t.Errorf("%s: %g km, want %g", tt.name, r/1000, tt.wantKm)
		}
		if d := units.Wrap180(units.Deg(out) - tt.wantOutDeg); !(math.Abs(d) <= tt.tolDg) {
			t.Errorf("%s: out %g°, want %g°", tt.name, units.Deg(out), tt.wantOutDeg)
		}
		// along goes back to where polar came from.
		lon, lat := along(tt.lon, tt.lat, out+math.Pi, r)
		if !(math.Abs(units.Wrap180(lon-tt.lonC)) < 1e-9 && math.Abs(lat-tt.latC) < 1e-9) {
			t.Errorf("%s: back at %g, %g", tt.name, lon, lat)
		}
	}
}

func polarAt(lonC, latC, lonDeg, latDeg float64) (rM, outRad float64) {
	c, p := spotAt(lonC, latC), spotAt(lonDeg, latDeg)
	return polar(&c, &p)
}
