package grib

import (
	"bytes"
	"fmt"
	"math"
	"testing"
	"time"

	"foilledger/weather/grid"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// madeField is an invented field for tests, smooth with a little noise.
func madeField(s grid.Shape, q grid.Quantity, missing bool) *grid.Field {
	ref := time.Date(2026, 3, 4, 6, 0, 0, 0, time.UTC)
	f := &grid.Field{Shape: s, Quantity: q, Member: -1, Reference: ref, Valid: ref.Add(9 * time.Hour), Values: make([]float32, s.NLat*s.NLon)}
	for j := range s.NLat {
		for i := range s.NLon {
			k := j*s.NLon + i
			f.Values[k] = float32(12*math.Sin(float64(i)/7)*math.Cos(float64(j)/5) + 0.2*math.Sin(float64(k*k%1013)))
			if missing && (i*3+j*5)%11 == 0 {
				f.Values[k] = float32(math.NaN())
			}
		}
	}
	return f
}

var smallShape = grid.Shape{South: 40, West: -12.5, DLat: 0.5, DLon: 0.25, NLat: 9, NLon: 13}

func mustEncode2(t testing.TB, opt EncodeOptions, f ...*grid.Field) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Encode2(&b, f, opt); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func mustEncode1(t testing.TB, opt EncodeOptions, f ...*grid.Field) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Encode1(&b, f, opt); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func mustDecode(t testing.TB, b []byte) []Decoded {
	t.Helper()
	d, w, err := Decode(b)
	if err != nil || len(w) != 0 {
		t.Fatalf("decode: %v, warnings %v", err, w)
	}
	return d
}

// drawField makes any field that the encoders accept.
func drawField(t *rapid.T, edition int) *grid.Field {
	unit := 1e-6
	quantities := place2Keys()
	if edition == 1 {
		unit = 1e-3
		quantities = quantities[:0]
		for q := range grid.SeaLevelPressure + 1 {
			if _, ok := place1[q]; ok {
				quantities = append(quantities, q)
			}
		}
	}
	angle := func(lo, hi float64, name string) float64 {
		return float64(rapid.Int64Range(int64(math.Ceil(lo/unit)), int64(math.Floor(hi/unit))).Draw(t, name)) * unit
	}
	var f grid.Field
	f.NLat = rapid.IntRange(1, 40).Draw(t, "nlat")
	f.NLon = rapid.IntRange(1, 40).Draw(t, "nlon")
	if f.NLat > 1 {
		f.DLat = angle(0.05, min(60, 160/float64(f.NLat)), "dlat")
	}
	if f.NLon > 1 {
		f.DLon = angle(0.05, min(60, 360/float64(f.NLon)), "dlon")
	}
	f.South = angle(-90, 90-float64(f.NLat-1)*f.DLat, "south")
	f.West = angle(-180, 179.99, "west")
	f.Quantity = rapid.SampledFrom(quantities).Draw(t, "quantity")
	if f.Quantity == grid.SwellHeight || f.Quantity == grid.SwellFrom || f.Quantity == grid.SwellPeriod {
		f.Partition = rapid.IntRange(0, 4).Draw(t, "partition")
	}
	f.Member = -1
	f.Reference = time.Date(rapid.IntRange(1899, 2101).Draw(t, "year"), 2, 28, 23, 30, 0, 0, time.UTC)
	step := rapid.SampledFrom([]time.Duration{0, time.Minute, time.Hour, 255 * time.Hour, 256 * time.Hour, 90 * time.Minute}).Draw(t, "step")
	if edition == 2 {
		f.Member = rapid.IntRange(-1, 60).Draw(t, "member")
		f.Reference = f.Reference.Add(7 * time.Second)
		step += rapid.SampledFrom([]time.Duration{0, time.Second, -time.Hour}).Draw(t, "extra")
	}
	f.Valid = f.Reference.Add(step)
	missing := rapid.IntRange(0, 3).Draw(t, "missing")
	kind := rapid.IntRange(0, 3).Draw(t, "kind")
	base := rapid.Float64Range(-1e5, 1e5).Draw(t, "base")
	amp := rapid.SampledFrom([]float64{0, 1e-3, 1, 40, 3000}).Draw(t, "amp")
	seed := rapid.Uint32().Draw(t, "seed")
	f.Values = make([]float32, f.NLat*f.NLon)
	for k := range f.Values {
		seed = seed*1664525 + 1013904223
		noise := float64(seed)/(1<<32) - 0.5
		wave := math.Sin(float64(k%f.NLon)/4) * math.Cos(float64(k/f.NLon)/3)
		switch kind {
		case 0:
			f.Values[k] = float32(base + amp*wave)
		case 1:
			f.Values[k] = float32(base + amp*noise)
		case 2:
			f.Values[k] = float32(base + amp*(wave+noise/20))
		default:
			f.Values[k] = float32(base + amp*float64(k))
		}
		if missing == 3 || missing > 0 && seed>>28 < uint32(4*missing) {
			f.Values[k] = float32(math.NaN())
		}
	}
	return &f
}

func place2Keys() []grid.Quantity {
	var out []grid.Quantity
	for q := range grid.SeaLevelPressure + 1 {
		if _, ok := place2[q]; ok {
			out = append(out, q)
		}
	}
	return out
}

func drawOptions(t *rapid.T) EncodeOptions {
	if rapid.Bool().Draw(t, "precise") {
		return EncodeOptions{Precision: rapid.SampledFrom([]float64{100, 1, 0.5, 0.1, 0.02}).Draw(t, "precision")}
	}
	return EncodeOptions{Bits: rapid.IntRange(0, 24).Draw(t, "bits")}
}

// tolerance is half a step of the packing, with the rounding of float32.
func tolerance(f *grid.Field, opt EncodeOptions) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range f.Values {
		if v == v {
			lo, hi = min(lo, float64(v)), max(hi, float64(v))
		}
	}
	if lo > hi {
		return 0
	}
	// The reference value is a float of 24 bits, an IBM float of at least 21.
	round := math.Ldexp(max(math.Abs(lo), math.Abs(hi)), -20)
	if opt.Precision > 0 {
		return opt.Precision/2 + round
	}
	n := opt.Bits
	if n == 0 {
		n = 16
	}
	return (hi-lo+round)/(math.Ldexp(1, n)-1) + math.Ldexp(max(math.Abs(lo), math.Abs(hi)), -24)
}

// sameField compares all but values exactly, positions within a tolerance, and
// values within tol, missing points exactly.
func sameField(got, want *grid.Field, posTol, tol float64) error {
	g, w := *got, *want
	g.Values, w.Values = nil, nil
	if d := cmp.Diff(w, g, cmpopts.EquateApprox(0, posTol), cmpopts.EquateEmpty()); d != "" {
		return fmt.Errorf("field differs (-want +got):\n%s", d)
	}
	if len(got.Values) != len(want.Values) {
		return fmt.Errorf("%d values, want %d", len(got.Values), len(want.Values))
	}
	for i, v := range want.Values {
		x := got.Values[i]
		if v != v && x != x {
			continue
		}
		if !(math.Abs(float64(x)-float64(v)) <= tol) {
			return fmt.Errorf("value %d is %g, want %g ± %.3g", i, x, v, tol)
		}
	}
	return nil
}

func TestEncode2RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawField(t, 2)
		opt := drawOptions(t)
		var base []Decoded
		for p := range packings {
			opt.Packing = p
			if p == PackPNG && (opt.Bits > 16 || opt.Precision > 0) {
				continue
			}
			var b, again bytes.Buffer
			if err := Encode2(&b, []*grid.Field{f, f}, opt); err != nil {
				t.Fatalf("%v: %v", p, err)
			}
			if err := Encode2(&again, []*grid.Field{f, f}, opt); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
				t.Fatalf("%v: a second run gave other bytes or %v", p, err)
			}
			d, w, err := Decode(b.Bytes())
			if err != nil || len(w) != 0 || len(d) != 2 {
				t.Fatalf("%v: %d fields, %v, %v", p, len(d), w, err)
			}
			tol := tolerance(f, opt)
			if p == PackIEEE {
				tol = 0
			}
			for _, x := range d {
				if err := sameField(x.Field, f, 2e-6, tol); err != nil {
					t.Fatalf("%v: %v", p, err)
				}
			}
			switch {
			case base == nil:
				base = d
			case p != PackIEEE:
				// The integers are the same, so the values must be to the bit.
				if err := sameField(d[0].Field, base[0].Field, 0, 0); err != nil {
					t.Fatalf("%v against simple packing: %v", p, err)
				}
			}
		}
	})
}

func TestEncode1RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawField(t, 1)
		opt := drawOptions(t)
		var b bytes.Buffer
		if err := Encode1(&b, []*grid.Field{f}, opt); err != nil {
			t.Fatal(err)
		}
		d, w, err := Decode(b.Bytes())
		if err != nil || len(w) != 0 || len(d) != 1 {
			t.Fatalf("%d fields, %v, %v", len(d), w, err)
		}
		if err := sameField(d[0].Field, f, 2e-3, tolerance(f, opt)); err != nil {
			t.Fatal(err)
		}
	})
}

// TestScanningModes stores the same field in all 16 orders of points, in both
// editions, and expects the same field back.
func TestScanningModes(t *testing.T) {
	put := func(b []byte, width int, deg float64, edition int) {
		unit := 1e6
		if edition == 1 {
			unit = 1e3
		}
		v := uint64(math.Abs(math.Round(deg * unit)))
		if deg < 0 {
			v |= 1 << (8*width - 1)
		}
		for i := range width {
			b[i] = byte(v >> (8 * (width - 1 - i)))
		}
	}
	for _, missing := range []bool{false, true} {
		want := madeField(smallShape, grid.WindU, missing)
		for scan := 0; scan < 256; scan += 16 {
			stored := *want
			stored.Values = make([]float32, len(want.Values))
			for k := range stored.Values {
				i, j := gridIndex(k, want.NLon, want.NLat, scan)
				stored.Values[k] = want.Values[j*want.NLon+i]
			}
			south, north := want.South, want.South+float64(want.NLat-1)*want.DLat
			west, east := want.West, want.West+float64(want.NLon-1)*want.DLon
			if scan&0x80 != 0 {
				west, east = east, west
			}
			if scan&0x40 == 0 {
				south, north = north, south
			}
			b2 := mustEncode2(t, EncodeOptions{Precision: 0.01}, &stored)
			g := b2[16+21:]
			put(g[46:], 4, south, 2)
			put(g[50:], 4, west+360, 2)
			put(g[55:], 4, north, 2)
			put(g[59:], 4, east+360, 2)
			g[71] = byte(scan)
			b1 := mustEncode1(t, EncodeOptions{Precision: 0.01}, &stored)
			g = b1[8+28:]
			put(g[10:], 3, south, 1)
			put(g[13:], 3, west, 1)
			put(g[17:], 3, north, 1)
			put(g[20:], 3, east, 1)
			g[27] = byte(scan)
			for edition, b := range map[int][]byte{1: b1, 2: b2} {
				d := mustDecode(t, b)
				if err := sameField(d[0].Field, want, 1e-9, 0.0051); err != nil {
					t.Errorf("edition %d, scanning mode %d, missing %v: %v", edition, scan, missing, err)
				}
			}
		}
	}
}

// TestLongitudes moves a grid around the Earth: the start is brought into
// [−180, 180) and the columns stay in order.
func TestLongitudes(t *testing.T) {
	for _, c := range []struct {
		west, wantWest float64
		dlon           float64
		nlon           int
		global         bool
	}{
		{0, 0, 1, 360, true},
		{-180, -180, 2.5, 144, true},
		{180, -180, 1, 20, false},
		{336.5, -23.5, 0.5, 60, false},
		{260, -100, 0.25, 50, false},
		{179.5, 179.5, 0.5, 10, false},
		{-0.25, -0.25, 0.25, 9, false},
		{0, 0, 1, 361, false},
		{100, 100, 0, 1, false},
	} {
		s := grid.Shape{South: -10, West: c.west, DLat: 1, DLon: c.dlon, NLat: 5, NLon: c.nlon}
		f := madeField(s, grid.WaveHeight, false)
		for edition, b := range map[int][]byte{1: mustEncode1(t, EncodeOptions{}, f), 2: mustEncode2(t, EncodeOptions{}, f)} {
			got := mustDecode(t, b)[0].Field
			if !(math.Abs(got.West-c.wantWest) <= 1e-9 && math.Abs(got.DLon-c.dlon) <= 1e-9) || got.Global() != c.global {
				t.Errorf("edition %d: start at %g: West %g, step %g, global %v; want %g, %g, %v", edition, c.west, got.West, got.DLon, got.Global(), c.wantWest, c.dlon, c.global)
			}
			if err := sameField(got, &grid.Field{Shape: got.Shape, Quantity: f.Quantity, Member: -1, Reference: f.Reference, Valid: f.Valid, Values: f.Values}, 0, 0.001); err != nil {
				t.Errorf("edition %d: start at %g: %v", edition, c.west, err)
			}
		}
	}
}

func TestEncodeRefuses(t *testing.T) {
	change := func(edit func(f *grid.Field)) *grid.Field {
		f := madeField(smallShape, grid.WindU, false)
		edit(f)
		return f
	}
	for _, c := range []struct {
		name string
		f    *grid.Field
		opt  EncodeOptions
	}{
		{"unknown quantity", change(func(f *grid.Field) { f.Quantity = grid.Other }), EncodeOptions{}},
		{"infinite value", change(func(f *grid.Field) { f.Values[3] = float32(math.Inf(1)) }), EncodeOptions{}},
		{"too few values", change(func(f *grid.Field) { f.Values = f.Values[:5] }), EncodeOptions{}},
		{"step not positive", change(func(f *grid.Field) { f.DLat = -1 }), EncodeOptions{}},
		{"step not a number", change(func(f *grid.Field) { f.DLon = math.NaN() }), EncodeOptions{}},
		{"beyond the pole", change(func(f *grid.Field) { f.South = 88 }), EncodeOptions{}},
		{"start not a number", change(func(f *grid.Field) { f.West = math.NaN() }), EncodeOptions{}},
		{"partition of a wind", change(func(f *grid.Field) { f.Partition = 1 }), EncodeOptions{}},
		{"member out of range", change(func(f *grid.Field) { f.Member = 300 }), EncodeOptions{}},
		{"too many bits", change(func(*grid.Field) {}), EncodeOptions{Bits: 25}},
		{"negative precision", change(func(*grid.Field) {}), EncodeOptions{Precision: -1}},
		{"precision not a number", change(func(*grid.Field) {}), EncodeOptions{Precision: math.NaN()}},
		{"precision beyond float", change(func(*grid.Field) {}), EncodeOptions{Precision: 1e-12}},
		{"unknown packing", change(func(*grid.Field) {}), EncodeOptions{Packing: packings}},
		{"no packing", change(func(*grid.Field) {}), EncodeOptions{Packing: -1}},
	} {
		var b bytes.Buffer
		if err := Encode2(&b, []*grid.Field{c.f}, c.opt); err == nil || b.Len() != 0 {
			t.Errorf("%s: edition 2 wrote %d bytes, error %v", c.name, b.Len(), err)
		}
		if err := Encode1(&b, []*grid.Field{c.f}, c.opt); err == nil || b.Len() != 0 {
			t.Errorf("%s: edition 1 wrote %d bytes, error %v", c.name, b.Len(), err)
		}
	}
}
