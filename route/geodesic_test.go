package route

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"
)

const (
	vincenty1975 = "T. Vincenty, Direct and inverse solutions of geodesics on the ellipsoid, Survey Review XXII 176 (1975), table II"
	karneyTest   = "C. F. F. Karney, Test set for geodesics (2010), Zenodo 32156, WGS84"
)

func dms(d, m, s float64) float64 {
	if math.Signbit(d) {
		return d - m/60 - s/3600
	}
	return d + m/60 + s/3600
}

func TestVincentyLines(t *testing.T) {
	bessel := NewEllipsoid(6377397.155, 1/299.1528128)
	international := NewEllipsoid(6378388, 1/297.0)
	for _, c := range []struct {
		id             string
		e              *Ellipsoid
		lat1, lat2, dL float64
		s, a1, a2      float64
	}{
		{"a", bessel, dms(55, 45, 0), dms(-33, 26, 0), dms(108, 13, 0), 14110526.170, dms(96, 36, 8.79960), dms(137, 52, 22.01454)},
		{"c", international, dms(35, 16, 11.24862), dms(67, 22, 14.77638), dms(137, 47, 28.31435), 8084823.839, dms(15, 44, 23.74850), dms(144, 55, 39.92147)},
		{"e", international, dms(1, 0, 0), dms(1, 1, 15.18952), dms(179, 46, 17.84244), 19780006.558, dms(4, 59, 59.99995), dms(174, 59, 59.88481)},
	} {
		a, b := orb.Point{0, c.lat1}, orb.Point{c.dL, c.lat2}
		s, az1, az2 := c.e.Inverse(a, b)
		row := func(what string, got, want, tol float64, unit string) {
			validation.Check(t, validation.Row{
				Package: "route", ID: "vincenty-" + c.id + "-" + strings.ReplaceAll(what, " ", "-"), Quantity: "inverse line (" + c.id + "), " + what,
				Got: got, Want: want, Tol: tol, Unit: unit, Source: vincenty1975, Kind: validation.Published,
			})
		}
		// The table prints positions to 1e-5", which is 0.3 mm: distances can
		// agree to about a millimetre. In line (e), nearly antipodal, a
		// rounding of 1e-5" in longitude turns the azimuth by about 1e-3".
		angTol := 1e-4 / 3600
		if c.id == "e" {
			angTol = 2e-3 / 3600
		}
		row("distance", s, c.s, 1e-3, "m")
		row("azimuth at start", units.Deg(az1), c.a1, angTol, "deg")
		row("azimuth at end", units.Deg(az2), c.a2, angTol, "deg")
		p, azEnd := c.e.Direct(a, units.Rad(c.a1), c.s)
		row("direct latitude", p[1], c.lat2, angTol, "deg")
		row("direct longitude", p[0], c.dL, angTol, "deg")
		row("direct azimuth at end", units.Deg(azEnd), c.a2, angTol, "deg")
	}
}

func TestKarneyRows(t *testing.T) {
	for i, c := range []struct{ lat1, azi1, lat2, lon2, azi2, s12 float64 }{
		{36.530042355041, 176.125875162171, -48.164270779097768864, 5.762344694676510456, 175.334308316285410561, 9398502.0434687},
		{8.226828747671, 111.1269645725, -8.516119211674269, 178.68897958262922, 68.98279854495524, 19886305.6710041},
		{19.707097385334, 20.996796804557, 19.707739582810257, .000260256428101053, 20.996884567489088, 76.1478894},
	} {
		a, b := orb.Point{0, c.lat1}, orb.Point{c.lon2, c.lat2}
		s, az1, az2 := Inverse(a, b)
		p, azEnd := Direct(a, units.Rad(c.azi1), c.s12)
		row := func(what string, got, want, tol float64, unit string) {
			validation.Check(t, validation.Row{
				Package: "route", ID: fmt.Sprintf("geodtest-%d-%s", i+1, strings.ReplaceAll(what, " ", "-")), Quantity: fmt.Sprintf("test geodesic %d, %s", i+1, what),
				Got: got, Want: want, Tol: tol, Unit: unit, Source: karneyTest, Kind: validation.Independent,
			})
		}
		// The set's accuracy is 0.1 µm at best as printed to 7 decimals. An
		// azimuth error of δ moves the end by δ times the reduced length, so
		// the short third line is looser in azimuth.
		angTol := 1e-12
		if i == 1 {
			angTol = 1e-10 // nearly antipodal: reduced length near zero
		} else if i == 2 {
			angTol = 1e-8
		}
		row("distance", s, c.s12, 2e-8*10, "m")
		row("azimuth at start", units.Deg(az1), c.azi1, angTol, "deg")
		row("azimuth at end", units.Deg(az2), c.azi2, angTol, "deg")
		row("direct latitude", p[1], c.lat2, 2e-12, "deg")
		row("direct longitude", p[0], c.lon2, 2e-12, "deg")
		row("direct azimuth at end", units.Deg(azEnd), c.azi2, 1e-11, "deg")
	}
}

func TestQuarterMeridian(t *testing.T) {
	s, az, _ := Inverse(orb.Point{20, 0}, orb.Point{20, 90})
	validation.Check(t, validation.Row{
		Package: "route", ID: "quarter-meridian", Quantity: "equator to pole", Got: s, Want: 10001965.729, Tol: 1e-3, Unit: "m",
		Source: "NIMA TR8350.2 (2000), quarter meridian of WGS84", Kind: validation.Published,
	})
	if az != 0 {
		t.Errorf("azimuth to the pole = %v, want 0", az)
	}
	if s, az1, az2 := Inverse(orb.Point{5, 7}, orb.Point{5, 7}); s != 0 || az1 != 0 || az2 != 0 {
		t.Errorf("coincident points: %v %v %v, want zeros", s, az1, az2)
	}
	if s, _, _ := Inverse(orb.Point{5, 90}, orb.Point{-70, 90}); !(math.Abs(s) < 1e-6) {
		t.Errorf("the pole is %v m from itself", s)
	}
}

// TestInverseDirectAgree solves random pairs both ways, among them nearly
// antipodal, polar, equatorial and very short ones.
func TestInverseDirectAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon1"), rapid.Float64Range(-90, 90).Draw(t, "lat1")}
		b := orb.Point{rapid.Float64Range(-180, 180).Draw(t, "lon2"), rapid.Float64Range(-90, 90).Draw(t, "lat2")}
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 1: // near the antipode
			d := rapid.Float64Range(-1, 1)
			b = orb.Point{units.Wrap180(a[0] + 180 + d.Draw(t, "dlon")), math.Max(-90, math.Min(90, -a[1]+d.Draw(t, "dlat")))}
		case 2: // short
			d := rapid.Float64Range(-1e-5, 1e-5)
			b = orb.Point{a[0] + d.Draw(t, "dlon"), math.Max(-90, math.Min(90, a[1]+d.Draw(t, "dlat")))}
		case 3:
			a[1] = 0
		}
		s, az, _ := Inverse(a, b)
		p, _ := Direct(a, az, s)
		back, _, _ := Inverse(p, b)
		if !(back < 2e-8) {
			t.Fatalf("%v to %v: s %v az %v: direct misses by %v m", a, b, s, az, back)
		}
		if s > 20003931.5 {
			t.Fatalf("%v to %v: %v m is longer than half a meridian", a, b, s)
		}
		r, azB, azA := Inverse(b, a)
		if !(math.Abs(r-s) < 2e-8) {
			t.Fatalf("%v to %v: %v there, %v back", a, b, s, r)
		}
		_, _ = azA, azB
	})
}

// TestAgainstGeodSolve compares random lines with the command GeodSolve of
// GeographicLib, where that is installed.
func TestAgainstGeodSolve(t *testing.T) {
	bin, err := exec.LookPath("GeodSolve")
	if err != nil {
		t.Skip("GeodSolve is not installed (Debian package geographiclib-tools): skipped")
	}
	rng := rand.New(rand.NewPCG(1, 2))
	var in strings.Builder
	type pair struct{ a, b orb.Point }
	var pairs []pair
	for i := range 2000 {
		a := orb.Point{rng.Float64()*360 - 180, rng.Float64()*180 - 90}
		b := orb.Point{rng.Float64()*360 - 180, rng.Float64()*180 - 90}
		if i%4 == 1 {
			b = orb.Point{units.Wrap180(a[0] + 179 + 2*rng.Float64()), math.Max(-90, math.Min(90, -a[1]+rng.Float64()-.5))}
		}
		if i%4 == 2 {
			b = orb.Point{a[0] + rng.Float64()*1e-2, math.Max(-90, math.Min(90, a[1]+rng.Float64()*1e-2))}
		}
		pairs = append(pairs, pair{a, b})
		fmt.Fprintf(&in, "%.17g %.17g %.17g %.17g\n", a[1], a[0], b[1], b[0])
	}
	cmd := exec.Command(bin, "-i", "-p", "9")
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	sc := bufio.NewScanner(strings.NewReader(string(out)))
	worst, worstAz := 0.0, 0.0
	for i := 0; sc.Scan(); i++ {
		var az1, az2, s float64
		if _, err := fmt.Sscan(sc.Text(), &az1, &az2, &s); err != nil {
			t.Fatal(err)
		}
		got, g1, g2 := Inverse(pairs[i].a, pairs[i].b)
		if d := math.Abs(got - s); !(d <= worst) {
			worst = d
		}
		for _, d := range []float64{units.Deg(g1) - az1, units.Deg(g2) - az2} {
			// As a shift at 1000 km, or at the end of a shorter line.
			if d = math.Abs(units.Rad(units.Wrap180(d))) * math.Min(s, 1e6); !(d <= worstAz) {
				worstAz = d
			}
		}
	}
	validation.Check(t, validation.Row{
		Package: "route", ID: "geodsolve-distance", Quantity: "largest difference of 2000 distances", Got: worst, Want: 0, Tol: 2e-8, Unit: "m",
		Source: "GeographicLib GeodSolve (C. F. F. Karney)", Kind: validation.Independent,
	})
	// Near the antipode the azimuth is ill-conditioned: the reduced length
	// goes to zero.
	validation.Check(t, validation.Row{
		Package: "route", ID: "geodsolve-azimuth", Quantity: "largest difference of azimuths as a shift at 1000 km", Got: worstAz, Want: 0, Tol: 1e-4, Unit: "m",
		Source: "GeographicLib GeodSolve (C. F. F. Karney)", Kind: validation.Independent,
	})
}

func TestBadNumbersGiveNaN(t *testing.T) {
	for _, p := range []orb.Point{{math.NaN(), 0}, {0, math.Inf(1)}, {0, 91}} {
		if s, _, _ := Inverse(p, orb.Point{1, 2}); !math.IsNaN(s) {
			t.Errorf("Inverse from %v = %v, want NaN", p, s)
		}
		if q, _ := Direct(p, 1, 1000); !math.IsNaN(q[0]) {
			t.Errorf("Direct from %v = %v, want NaN", p, q)
		}
	}
}

var sink float64

func BenchmarkInverse(b *testing.B) {
	p, q := orb.Point{-10, 50}, orb.Point{-45, 38}
	for range b.N {
		q[0] += 1e-9
		s, _, _ := Inverse(p, q)
		sink += s
	}
}

func BenchmarkInverseAntipodal(b *testing.B) {
	p, q := orb.Point{-10, 30}, orb.Point{169.7, -30.1}
	for range b.N {
		s, _, _ := Inverse(p, q)
		sink += s
	}
}

func BenchmarkDirect(b *testing.B) {
	p := orb.Point{-10, 50}
	for range b.N {
		q, _ := Direct(p, 4.1, 3e6)
		sink += q[0]
	}
}

func BenchmarkLineAt(b *testing.B) {
	l := LineBetween(orb.Point{-10, 50}, orb.Point{-45, 38})
	for i := range b.N {
		q, _ := l.At(float64(i % 1000000))
		sink += q[0]
	}
}
