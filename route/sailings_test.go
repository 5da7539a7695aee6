package route

import (
	"math"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

const (
	bowditch  = "N. Bowditch, The American Practical Navigator (2019), vol. 1, ch. 12, art. "
	formulary = "E. Williams, Aviation Formulary V1.46, worked examples"
)

func check(t *testing.T, id, quantity string, got, want, tol float64, unit, source string, kind validation.Kind) {
	t.Helper()
	validation.Check(t, validation.Row{Package: "route", ID: id, Quantity: quantity, Got: got, Want: want, Tol: tol, Unit: unit, Source: source, Kind: kind})
}

// arcNM turns an arc into nautical miles as the sailings do, one per minute.
func arcNM(rad float64) float64 { return units.Deg(rad) * 60 }

func TestGreatCircleSailing(t *testing.T) {
	a, b := orb.Point{116, -22}, orb.Point{31, -20}
	d, c := GreatCircle(a, b)
	_, back := GreatCircle(b, a)
	check(t, "bowditch-1208-1-distance", "great circle 22 S 116 E to 20 S 31 E, distance", arcNM(d), 4693.5, 0.1, "nm", bowditch+"1208", validation.Published)
	check(t, "bowditch-1208-1-course", "the same, initial course", units.Deg(c), 360-(180-72.99)-0, 0.01, "deg", bowditch+"1208 (S 72.99 W)", validation.Published)
	// The printed final course, 287.4, is an erratum; the closed form gives 289.351.
	check(t, "great-circle-final-course", "the same, final course", units.Deg(units.Wrap2Pi(back+math.Pi)), 289.351, 0.001, "deg", "spherical trigonometry", validation.Analytic)
	d, c = GreatCircle(orb.Point{-122, 28}, orb.Point{151, -24})
	check(t, "bowditch-1208-2-distance", "great circle 28 N 122 W to 24 S 151 E, distance", arcNM(d), 5913.2, 0.1, "nm", bowditch+"1208", validation.Published)
	check(t, "bowditch-1208-2-course", "the same, initial course", units.Deg(c), 247.3, 0.05, "deg", bowditch+"1208", validation.Published)
}

func TestSouthernGreatCircle(t *testing.T) {
	const src = "spherical trigonometry: vertex cos φv = cos φ sin C; parallel DLo cos φ; composite cos DLo = tan φ / tan φL"
	a, b := orb.Point{0, -55}, orb.Point{120, -55}
	d, c := GreatCircle(a, b)
	check(t, "south-great-circle", "55 S, 120° of longitude, great circle", arcNM(d), 3574.08, 0.01, "nm", src, validation.Analytic)
	check(t, "south-course", "the same, start course", units.Deg(c), 144.823, 0.001, "deg", src, validation.Analytic)
	vertex := math.Acos(math.Cos(units.Rad(55)) * math.Sin(c))
	check(t, "south-vertex", "the same, latitude of the vertex", units.Deg(vertex), 70.705, 0.001, "deg", src, validation.Analytic)
	// Composite: great circles to the limiting parallel of 60 S and along it.
	dLo := math.Acos(math.Tan(units.Rad(55)) / math.Tan(units.Rad(60)))
	leg, _ := GreatCircle(a, orb.Point{units.Deg(dLo), -60})
	total := 2*arcNM(leg) + arcNM((units.Rad(120)-2*dLo)*math.Cos(units.Rad(60)))
	check(t, "south-composite", "the same, not south of 60 S", total, 3804.98, 0.01, "nm", src, validation.Analytic)
}

func TestMidLatitudeSailing(t *testing.T) {
	// Mid-latitude sailing: l = D cos C, p = D sin C, DLo = p / cos Lm. The
	// rhumb line of the ellipsoid must come back to the course.
	from := orb.Point{dms(151, 37, 0), dms(15, 17, 0)}
	c, d := units.Rad(70), 1253.0
	lat := from[1] + d*math.Cos(c)/60
	lon := from[0] + d*math.Sin(c)/60/math.Cos(units.Rad((lat+from[1])/2))
	check(t, "bowditch-1218-1-lat", "mid-latitude from 15-17.0 N 151-37.0 E, 1253 nm on 070, latitude", lat, dms(22, 25.6, 0), 0.1/60, "deg", bowditch+"1218", validation.Published)
	check(t, "bowditch-1218-1-lon", "the same, longitude", lon, dms(172, 21.2, 0), 0.1/60, "deg", bowditch+"1218", validation.Published)
	// Mid-latitude neglects the change of cos φ along the way (0.1° here) and
	// the ellipsoid's unequal degrees (another 0.3°).
	got := units.Deg(RhumbCourse(from, orb.Point{lon, lat}))
	check(t, "midlat-against-rhumb", "course of the ellipsoid's rhumb line to that end", got, 70, 0.4, "deg", bowditch+"1218", validation.Published)
}

func TestMercatorSailing(t *testing.T) {
	parts := func(lat float64) float64 { return units.Deg(IsometricLatitude(lat)) * 60 }
	a, b := orb.Point{-dms(66, 28.9, 0), dms(32, 14.7, 0)}, orb.Point{-dms(75, 42.2, 0), dms(36, 58.7, 0)}
	check(t, "bowditch-1219-1-m", "difference of meridional parts 32-14.7 N to 36-58.7 N", parts(b[1])-parts(a[1]), 343.7, 0.05, "'", bowditch+"1219", validation.Published)
	c := RhumbCourse(a, b)
	check(t, "bowditch-1219-1-course", "Mercator sailing, course", units.Deg(c), 301.8, 0.05, "deg", bowditch+"1219", validation.Published)
	// The book multiplies with the secant of the course rounded to 0.1°: up to 0.8 nm.
	check(t, "bowditch-1219-1-distance", "Mercator sailing, distance", (b[1]-a[1])*60/math.Cos(c), 538.9, 0.8, "nm", bowditch+"1219", validation.Published)
	a, b = orb.Point{dms(18, 23.1, 0), -dms(33, 53.3, 0)}, orb.Point{-dms(73, 49.4, 0), dms(40, 27.1, 0)}
	c = RhumbCourse(a, b)
	check(t, "bowditch-1220-course", "Mercator 33-53.3 S 18-23.1 E to 40-27.1 N 73-49.4 W, course", units.Deg(c), 310.9, 0.05, "deg", bowditch+"1220", validation.Published)
	check(t, "bowditch-1220-distance", "the same, distance", (b[1]-a[1])*60/math.Cos(c), 6811.5, 0.5, "nm", bowditch+"1220", validation.Published)
	// 75-31.7 N 79-08.7 W, 263.5 nm on 155.
	c = units.Rad(155)
	a = orb.Point{-dms(79, 8.7, 0), dms(75, 31.7, 0)}
	lat := a[1] + 263.5*math.Cos(c)/60
	lon := a[0] + (parts(lat)-parts(a[1]))*math.Tan(c)/60
	check(t, "bowditch-1219-2-lat", "Mercator from 75-31.7 N 79-08.7 W, 263.5 nm on 155, latitude", lat, dms(71, 32.9, 0), 0.05/60, "deg", bowditch+"1219", validation.Published)
	check(t, "bowditch-1219-2-lon", "the same, longitude", lon, -dms(72, 34.1, 0), 0.15/60, "deg", bowditch+"1219", validation.Published)
	a, b = orb.Point{-dms(73, 50, 0), dms(40, 28, 0)}, orb.Point{-dms(72, 45, 0), dms(39, 51, 0)}
	check(t, "draper-mercator-course", "Mercator 40-28 N 73-50 W to 39-51 N 72-45 W, course", units.Deg(RhumbCourse(a, b)), 180-dms(53, 26, 0), 0.02, "deg", "E. G. Draper, Lectures in Navigation (1918)", validation.Published)
}

func TestFormularyExamples(t *testing.T) {
	lax, jfk := orb.Point{-dms(118, 24, 0), dms(33, 57, 0)}, orb.Point{-dms(73, 47, 0), dms(40, 38, 0)}
	d, c := GreatCircle(lax, jfk)
	check(t, "formulary-distance", "33-57 N 118-24 W to 40-38 N 73-47 W", d, 0.623585, 1e-6, "rad", formulary, validation.Published)
	check(t, "formulary-course", "the same, initial course", c, 1.150035, 1e-6, "rad", formulary, validation.Published)
	// The example multiplies sines rounded to six digits: 1e-3 nm.
	x, along := CrossTrack(lax, jfk, orb.Point{-116.5, 34.5})
	check(t, "formulary-cross-track", "cross track of 34-30 N 116-30 W", arcNM(x), 7.4512, 0.002, "nm", formulary, validation.Published)
	check(t, "formulary-along-track", "the same, along track", arcNM(along), 99.588, 0.001, "nm", formulary, validation.Published)
}

func TestRhumb(t *testing.T) {
	// Along a meridian the rhumb line is the geodesic; along the equator too.
	for _, p := range [][2]orb.Point{{{10, 20}, {10, 55}}, {{-170, 0}, {150, 0}}} {
		g, _, _ := Inverse(p[0], p[1])
		r, _ := Rhumb(p[0], p[1])
		if !(math.Abs(r-g) < 1e-3) {
			t.Errorf("rhumb %v = %v m, geodesic %v m", p, r, g)
		}
	}
	// The two branches join: nearly along the parallel of 55 S, and along it.
	a := orb.Point{0, -55}
	r0, _ := Rhumb(a, orb.Point{120, -55})
	r1, c := Rhumb(a, orb.Point{120, -55.0001})
	if !(math.Abs(r0-r1) < 20) || !(math.Abs(c-math.Pi/2) < 1e-5) {
		t.Errorf("along the parallel %v m, nearly so %v m on %v rad", r0, r1, c)
	}
	g, _, _ := Inverse(a, orb.Point{120, -55})
	if !(g < r0) {
		t.Errorf("geodesic %v is not shorter than the rhumb line %v", g, r0)
	}
}
