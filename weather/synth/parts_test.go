package synth

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/pelletier/go-toml/v2"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
	"foilledger/weather"
	"foilledger/weather/grib"
)

var start = time.Date(2030, 5, 1, 0, 0, 0, 0, time.UTC)

func sample(t *testing.T, s *Scene, lon, lat, h float64) weather.Sample {
	t.Helper()
	w, err := s.At(lon, lat, h*3600)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func close(t *testing.T, name string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.6g, want %.6g ± %g", name, got, want, tol)
	}
}

// closeDeg compares directions.
func closeDeg(t *testing.T, name string, gotRad, wantDeg, tol float64) {
	t.Helper()
	close(t, name, units.Wrap180(units.Deg(gotRad)-wantDeg), 0, tol)
}

func TestPlainWinds(t *testing.T) {
	kn := units.MS
	for _, tt := range []struct {
		name             string
		w                Wind
		h, wantKn, wantD float64
	}{
		{"steady", Wind{SpeedMS: kn(15), FromRad: units.Rad(225)}, 7, 15, 225},
		{"turning", Wind{SpeedMS: kn(15), FromRad: units.Rad(350), TurnRadS: units.Rad(5) / 3600}, 6, 15, 20},
		{"swing at its height", Wind{SpeedMS: kn(15), FromRad: units.Rad(90), SwingRad: units.Rad(12), SwingPeriodS: 1200}, 300.0 / 3600, 15, 102},
		{"swing of speed, in step", Wind{SpeedMS: kn(15), FromRad: units.Rad(90), SwingMS: kn(3), SwingPeriodS: 1200}, 300.0 / 3600, 18, 90},
		{"never below calm", Wind{SpeedMS: kn(2), SwingMS: kn(5), SwingPeriodS: 1200}, 900.0 / 3600, 0, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			w := sample(t, &Scene{Start: start, Parts: []Part{tt.w}}, 3, 50, tt.h)
			close(t, "speed", units.Knots(w.TWSMS()), tt.wantKn, 1e-9)
			closeDeg(t, "from", w.WindFromRad(), tt.wantD, 1e-9)
		})
	}
}

func low(latDeg float64) Low {
	return Low{Track: []Fix{{0, -30, latDeg, 98000}}, OuterPa: 101300, B: 1.3, RmaxM: 150e3, Reduction: 0.8, InflowRad: units.Rad(20)}
}

func TestLowTurnsTheRightWay(t *testing.T) {
	for _, tt := range []struct {
		name             string
		lat              float64
		dLon, dLat, from float64
	}{
		// Buys Ballot: in the north the wind blows anticlockwise round a low, here
		// turned inwards by 20°.
		{"north, east of the centre", 45, 2, 0, 160},
		{"north, north of the centre", 45, 0, 2, 70},
		{"north, west of the centre", 45, -2, 0, 340},
		{"north, south of the centre", 45, 0, -2, 250},
		{"south, east of the centre", -45, 2, 0, 20},
		{"south, north of the centre", -45, 0, 2, 290},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l := low(tt.lat)
			w := sample(t, &Scene{Start: start, Parts: []Part{l}}, -30+tt.dLon, tt.lat+tt.dLat, 0)
			closeDeg(t, "from", w.WindFromRad(), tt.from, 1) // meridians converge
			r, _ := polarAt(-30, tt.lat, -30+tt.dLon, tt.lat+tt.dLat)
			h := Holland{CentrePa: 98000, OuterPa: 101300, B: 1.3, RmaxM: 150e3, Rho: rhoAir, F: math.Abs(Coriolis(tt.lat))}
			close(t, "speed", w.TWSMS(), 0.8*h.GradientMS(r), 1e-9)
			close(t, "pressure", w.PressurePa, 101325+h.PressurePa(r)-101300, 1e-6)
		})
	}
	// Mirror: north and south are mirror images.
	n := sample(t, &Scene{Start: start, Parts: []Part{low(45)}}, -28.3, 46.7, 0)
	s := sample(t, &Scene{Start: start, Parts: []Part{low(-45)}}, -28.3, -46.7, 0)
	close(t, "u", s.U, n.U, 1e-9)
	close(t, "v", s.V, -n.V, 1e-9)
	// Shifted by 360° and across the antimeridian.
	l := low(45)
	a := sample(t, &Scene{Start: start, Parts: []Part{l}}, -28.3, 46.7, 0)
	l.Track[0].LonDeg = 179
	b := sample(t, &Scene{Start: start, Parts: []Part{l}}, 180.7, 46.7, 0)
	close(t, "u", b.U, a.U, 1e-9)
	close(t, "v", b.V, a.V, 1e-9)
}

func TestMovingLowIsStrongerOnOneSide(t *testing.T) {
	l := low(45)
	l.Track = []Fix{{0, -30, 45, 98000}, {24 * 3600, -15, 45, 98000}} // eastwards
	l.Motion = 0.5
	right := sample(t, &Scene{Start: start, Parts: []Part{l}}, -22.5, 43.5, 12)
	left := sample(t, &Scene{Start: start, Parts: []Part{l}}, -22.5, 46.5, 12)
	if !(right.TWSMS() > left.TWSMS()+5) {
		t.Errorf("right of the track %.1f, left %.1f m/s", right.TWSMS(), left.TWSMS())
	}
}

func TestHigh(t *testing.T) {
	h := High{Track: []Fix{{0, -30, 40, 103300}}, OuterPa: 101300, LengthM: 900e3, Reduction: 0.8, OutRad: units.Rad(20)}
	s := &Scene{Start: start, Parts: []Part{h}}
	closeDeg(t, "from, east of a northern high", sample(t, s, -24, 40, 0).WindFromRad(), 340, 2.5)
	closeDeg(t, "from, north of it", sample(t, s, -30, 45, 0).WindFromRad(), 250, 1)
	close(t, "calm in the centre", sample(t, s, -30, 40, 0).TWSMS(), 0, 1e-6)
	// Never above the strongest gradient wind fR/2.
	for d := 0.1; d < 12; d += 0.3 {
		r, _ := polarAt(-30, 40, -30, 40+d)
		if v := sample(t, s, -30, 40+d, 0).TWSMS(); !(v <= 0.8*Coriolis(40)*r/2+1e-9) {
			t.Errorf("%.0f km: %g m/s", r/1000, v)
		}
	}
}

func TestFrontVeers(t *testing.T) {
	// A south-westerly with a front whose low is far to the north.
	f := Front{Track: []Fix{{0, -30, 55, 98000}, {24 * 3600, -15, 55, 98000}}, BearingRad: units.Rad(190), LengthM: 2500e3, FadeM: 300e3,
		JumpMS: 14, DecayM: 400e3, WidthM: 60e3, GustMS: 6}
	s := &Scene{Start: start, GustFactor: 1.3, Parts: []Part{Wind{SpeedMS: 9, FromRad: units.Rad(260)}, f}}
	var before, after weather.Sample
	lowest, gustiest, passage := math.Inf(1), 0.0, 0.0
	for h := 0.0; h <= 24; h += 0.25 {
		w := sample(t, s, -25, 46, h)
		if w.PressurePa < lowest {
			lowest, passage = w.PressurePa, h
		}
		gustiest = max(gustiest, w.GustMS-1.3*w.TWSMS())
	}
	if !(passage > 6 && passage < 18) {
		t.Fatalf("the trough passes at %g h", passage)
	}
	before, after = sample(t, s, -25, 46, passage-3), sample(t, s, -25, 46, passage+3)
	veer := units.Wrap180(units.Deg(after.WindFromRad() - before.WindFromRad()))
	if !(veer > 40 && veer < 120) {
		t.Errorf("veers by %.0f°", veer)
	}
	close(t, "gust at the line", gustiest, 6, 0.5)
	// In the south the wind backs.
	for i := range f.Track {
		f.Track[i].LatDeg = -55
	}
	f.BearingRad = units.Rad(350)
	s.Parts = []Part{Wind{SpeedMS: 9, FromRad: units.Rad(280)}, f}
	b, a := sample(t, s, -25, -46, passage-3), sample(t, s, -25, -46, passage+3)
	close(t, "mirrored", units.Wrap180(units.Deg(a.WindFromRad()-b.WindFromRad())), -veer, 1)
	// The wind along the line is in balance with the trough's pressure.
	f.Track = []Fix{{0, -30, 55, 98000}}
	f.BearingRad, f.WidthM, f.LengthM = units.Rad(180), 1e3, 4000e3
	p := func(lon float64) Air { var air Air; f.Add(lon, 40, 0, &air); return air }
	const d = 0.01
	dx := 2 * d * math.Pi / 180 * earthM * math.Cos(units.Rad(40))
	got := p(-28).V
	want := GeostrophicMS((p(-28+d).PressurePa-p(-28-d).PressurePa)/dx, rhoAir, Coriolis(55))
	validation.Check(t, validation.Row{Package: pkg, ID: "front-balance", Quantity: "wind along a front over geostrophic wind of its trough", Got: got / want, Want: 1, Tol: 0.03,
		Source: "geostrophic balance", Kind: validation.Analytic})
}

func TestSeaBreeze(t *testing.T) {
	b := SeaBreeze{LonDeg: 0, LatDeg: 45, InlandRad: units.Rad(90), PeakMS: 8, NightShare: 0.3, ReachM: 30e3, TurnRadH: units.Rad(6)}
	s := &Scene{Start: start, Parts: []Part{b}}
	noonish := sample(t, s, 0, 45, 15)
	close(t, "peak", noonish.TWSMS(), 8, 1e-9)
	closeDeg(t, "onshore", noonish.WindFromRad(), 270, 1e-6)
	night := sample(t, s, 0, 45, 3)
	close(t, "night", night.TWSMS(), 2.4, 1e-9)
	closeDeg(t, "offshore", night.WindFromRad(), 90, 1e-6)
	if later := sample(t, s, 0, 45, 18); !(units.Wrap180(units.Deg(later.WindFromRad())-270) > 10) {
		t.Errorf("at 18 h from %.0f°", units.Deg(later.WindFromRad()))
	}
	close(t, "30 km out", sample(t, s, -30e3/(earthM*math.Pi/180*math.Cos(units.Rad(45))), 45, 15).TWSMS(), 8/math.E, 0.01)
	// Continuous round the clock.
	last := sample(t, s, 0, 45, 0)
	for h := 0.0; h <= 48; h += 0.01 {
		w := sample(t, s, 0, 45, h)
		if d := math.Hypot(w.U-last.U, w.V-last.V); !(d < 0.1) {
			t.Fatalf("jump of %g m/s at %g h", d, h)
		}
		last = w
	}
}

func TestSqualls(t *testing.T) {
	q := Squalls{Seed: 7, SteerMS: 8, SteerToRad: units.Rad(250), CellM: 60e3, Chance: 0.3, RadiusM: 12e3, PeakMS: 9, LifeS: 7200, LatDeg: 15, LonDeg: -40}
	s := &Scene{Start: start, GustFactor: 1.2, Parts: []Part{Wind{SpeedMS: 8, FromRad: units.Rad(70)}, q}}
	hit, n, top := 0, 0, 0.0
	for h := 0.0; h < 72; h += 0.1 {
		w := sample(t, s, -41.3, 14.2, h)
		again := sample(t, s, -41.3, 14.2, h)
		if w != again {
			t.Fatal("not the same when asked again")
		}
		n++
		if w.TWSMS() > 10 {
			hit++
		}
		top = max(top, w.TWSMS())
	}
	if share := float64(hit) / float64(n); !(share > 0.005 && share < 0.3) || !(top > 11 && top < 20) {
		t.Errorf("squalls in %.1f %% of the time, up to %.1f m/s", 100*share, top)
	}
	q.Seed = 8
	other := &Scene{Start: start, GustFactor: 1.2, Parts: []Part{Wind{SpeedMS: 8, FromRad: units.Rad(70)}, q}}
	same := true
	for h := 0.0; h < 72; h += 1.1 {
		same = same && sample(t, s, -41.3, 14.2, h) == sample(t, other, -41.3, 14.2, h)
	}
	if same {
		t.Error("another seed gives the same weather")
	}
	// Nothing jumps in time.
	last := sample(t, s, -41.3, 14.2, 0)
	for h := 0.0; h <= 24; h += 0.005 {
		w := sample(t, s, -41.3, 14.2, h)
		if d := math.Hypot(w.U-last.U, w.V-last.V); !(d < 0.5) {
			t.Fatalf("jump of %g m/s at %g h", d, h)
		}
		last = w
	}
}

const recipeText = `
start = 2030-05-01T00:00:00Z
hours = 96
step_h = 12
south_deg = 35
north_deg = 55
west_deg = 170
east_deg = -160
grid_deg = 5
[[wind]]
speed_kn = 8
from_deg = 260
[[low]]
rmax_nm = 150
fix = [
  { hour = 0, lat_deg = 42, lon_deg = 172, hpa = 990 },
  { hour = 96, lat_deg = 50, lon_deg = -165, hpa = 975 },
]
[[low.front]]
bearing_deg = 200
jump_kn = 20
[ensemble]
members = 5
seed = 11
`

func recipe(t *testing.T) *Recipe {
	t.Helper()
	var r Recipe
	if err := toml.NewDecoder(strings.NewReader(recipeText)).DisallowUnknownFields().Decode(&r); err != nil {
		t.Fatal(err)
	}
	return &r
}

func TestEnsembleSpreadGrowsWithLead(t *testing.T) {
	r := recipe(t)
	spread := func(h float64) float64 {
		base, err := r.Scene(0)
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		for m := 1; m <= 40; m++ {
			s, err := r.Scene(m)
			if err != nil {
				t.Fatal(err)
			}
			a, b := s.Parts[1].(Low), base.Parts[1].(Low)
			fa, _, _ := at(a.Track, h*3600)
			fb, _, _ := at(b.Track, h*3600)
			d, _ := polarAt(fb.LonDeg, fb.LatDeg, fa.LonDeg, fa.LatDeg)
			sum += d * d
		}
		return math.Sqrt(sum/40) / units.MPerNM
	}
	close(t, "spread at the start", spread(0), 0, 1e-6)
	// 30 nm a day in each of two directions: 42 nm rms a day.
	close(t, "spread after a day", spread(24), 30*math.Sqrt2, 9)
	// Positions are displaced at the fixes and go straight in latitude and
	// longitude between them, so the growth is only about linear.
	close(t, "spread after three days", spread(72)/spread(24), 3, 0.2)
	a, err := r.Fields()
	if err != nil {
		t.Fatal(err)
	}
	b, err := r.Fields()
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(a, b); d != "" {
		t.Error("the same recipe gives different weather")
	}
	if len(a) != 6*9*3 || a[0].Member != 0 || a[len(a)-1].Member != 5 {
		t.Errorf("%d fields, members %d to %d", len(a), a[0].Member, a[len(a)-1].Member)
	}
	var buf bytes.Buffer
	if err := grib.Encode2(&buf, a, grib.EncodeOptions{}); err != nil {
		t.Fatal(err)
	}
	got, _, err := grib.Decode(buf.Bytes())
	if err != nil || len(got) != len(a) {
		t.Fatalf("%d fields back, %v", len(got), err)
	}
	for i := range got {
		if got[i].Field.Member != a[i].Member || !got[i].Field.Valid.Equal(a[i].Valid) || got[i].Field.Quantity != a[i].Quantity {
			t.Fatalf("field %d: %+v", i, got[i].Header)
		}
	}
}

func TestRecipeShape(t *testing.T) {
	s := recipe(t).Shape()
	if s.NLon != 7 || s.NLat != 5 || s.West != 170 {
		t.Errorf("%+v", s)
	}
	g := Recipe{South: -90, North: 90, West: 0, East: 360, GridDeg: 2}
	if s := g.Shape(); !s.Global() || s.NLon != 180 || s.NLat != 91 {
		t.Errorf("%+v", s)
	}
}

func TestRecipeErrors(t *testing.T) {
	for _, tt := range []struct {
		name, key string
		edit      func(*Recipe)
	}{
		{"reversed latitudes", "north_deg", func(r *Recipe) { r.North = 10 }},
		{"no start", "start", func(r *Recipe) { r.Start = time.Time{} }},
		{"NaN speed", "wind[0].speed_kn", func(r *Recipe) { r.Wind[0].SpeedKn = math.NaN() }},
		{"infinite length", "hours", func(r *Recipe) { r.Hours = math.Inf(1) }},
		{"fixes out of order", "low[0].fix[1].hour", func(r *Recipe) { r.Low[0].Fix[1].Hour = -5 }},
		{"no fixes", "low[0].fix", func(r *Recipe) { r.Low[0].Fix = nil }},
		{"peakedness", "low[0].b", func(r *Recipe) { r.Low[0].B = 9 }},
		{"front", "low[0].front[0].jump_kn", func(r *Recipe) { r.Low[0].Front[0].JumpKn = -1 }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := recipe(t)
			tt.edit(r)
			_, err := r.Scene(-1)
			if err == nil || !strings.Contains(err.Error(), tt.key) {
				t.Errorf("got %v, want it to name %s", err, tt.key)
			}
			var ke *KeyError
			if errors.As(err, &ke) && ke.Allowed == "" {
				t.Error("no allowed range")
			}
		})
	}
	s := &Scene{Start: start}
	if _, err := s.At(math.NaN(), 0, 0); err == nil {
		t.Error("NaN accepted")
	}
}
