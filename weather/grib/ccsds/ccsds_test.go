package ccsds_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"foilledger/testdata/validation"
	"foilledger/weather/grib/ccsds"
)

func params(p packed) ccsds.Params {
	return ccsds.Params{
		BitsPerSample: p.bits(), Flags: int(p.octets[21]), BlockSize: int(p.octets[22]),
		RSI: int(p.octets[23])<<8 | int(p.octets[24]),
	}
}

var openFiles = []string{
	"derived/gfs_20190106T12_f006_10uv_1p00_eccodes_ccsds.grib2",
	"derived/gdaswave_20211130T00_wcoast_eccodes_ccsds_bitmap.grib2",
	"derived/pseudoens_20110101T00_f000-024_10uv_neatl_0p25_6members_ccsds.grib2",
	"grib2/ifs_20240101T00_f000_0p4_ccsds_incl_constant.grib2",
}

func TestOpenFilesAgreeWithIndependentDecoder(t *testing.T) {
	decoded := 0
	for _, name := range openFiles {
		fields := sections(t, validation.SharedData(t, filepath.FromSlash(name)))
		refs := references(t, name)
		if len(fields) != len(refs) {
			t.Fatalf("%s: %d fields, want %d", name, len(fields), len(refs))
		}
		worstMean := 0.0
		for i, f := range fields {
			ref := refs[i]
			if f.template != 42 {
				t.Fatalf("%s field %d: template %d", name, i+1, f.template)
			}
			x := make([]uint32, f.values)
			if f.bits() > 0 {
				if err := ccsds.Decode(x, f.data, params(f)); err != nil {
					t.Fatalf("%s field %d: %v", name, i+1, err)
				}
				decoded++
			}
			values := spread(f, x)
			lo, hi, sum := math.Inf(1), math.Inf(-1), 0.0
			for _, v := range values {
				if !math.IsNaN(v) {
					lo, hi, sum = min(lo, v), max(hi, v), sum+v
				}
			}
			mean := sum / float64(f.values)
			tol := 1e-9 * max(1, math.Abs(ref.Max), math.Abs(ref.Min))
			for _, c := range []struct {
				what      string
				got, want float64
			}{{"minimum", lo, ref.Min}, {"maximum", hi, ref.Max}, {"mean", mean, ref.Mean}} {
				if !(math.Abs(c.got-c.want) <= tol) {
					t.Errorf("%s field %d: %s %v, want %v", name, i+1, c.what, c.got, c.want)
				}
			}
			worstMean = max(worstMean, math.Abs(mean-ref.Mean))
			for _, s := range append(ref.Samples, ref.NonMissing...) {
				got := values[int(*s[0])]
				if s[3] == nil {
					if !math.IsNaN(got) {
						t.Errorf("%s field %d point %v: %v, want missing", name, i+1, *s[0], got)
					}
				} else if !(math.Abs(got-*s[3]) <= tol) {
					t.Errorf("%s field %d point %v: %v, want %v", name, i+1, *s[0], got, *s[3])
				}
			}
		}
		validation.Check(t, validation.Row{
			Package: "weather/grib/ccsds", ID: "open-" + filepath.Base(name),
			Quantity: fmt.Sprintf("largest difference of a field's mean over %d fields", len(fields)),
			Got:      worstMean, Want: 0, Tol: 1e-6, Source: "eccodes 2.28 on the same file", Kind: validation.Independent,
		})
	}
	if decoded == 0 {
		t.Error("nothing was decoded")
	}
}

func spread(f packed, x []uint32) []float64 {
	values := make([]float64, f.points)
	k := 0
	for i := range values {
		if f.bitmap != nil && f.bitmap[i/8]>>(7-i%8)&1 == 0 {
			values[i] = math.NaN()
			continue
		}
		values[i] = f.scale(x[k])
		k++
	}
	return values
}

// Repacked by this encoder, a real field must not be longer than the stream
// that the independent encoder made of it, bar rounding to bytes.
func TestEncoderIsAsCompactAsIndependentEncoder(t *testing.T) {
	for _, name := range openFiles {
		ours, theirs := 0, 0
		for _, f := range sections(t, validation.SharedData(t, filepath.FromSlash(name))) {
			if f.bits() == 0 {
				continue
			}
			x := make([]uint32, f.values)
			if err := ccsds.Decode(x, f.data, params(f)); err != nil {
				t.Fatal(err)
			}
			b, err := ccsds.Encode(x, params(f))
			if err != nil {
				t.Fatal(err)
			}
			back := make([]uint32, len(x))
			if err := ccsds.Decode(back, b, params(f)); err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(x, back) {
				t.Fatalf("%s: round trip differs", name)
			}
			ours += len(b)
			theirs += len(f.data)
		}
		validation.Band(t, validation.Row{
			Package: "weather/grib/ccsds", ID: "size-" + filepath.Base(name),
			Quantity: "length of our coded data over the independent encoder's",
			Got:      float64(ours) / float64(theirs), Source: "libaec through eccodes 2.28, same samples", Kind: validation.Independent,
		}, 0.9, 1.0005)
	}
}

// Streams worked out by hand from the standard's sections 3 and 4.
func TestHandMadeStreams(t *testing.T) {
	p8 := ccsds.Params{BitsPerSample: 8, BlockSize: 8, RSI: 2, Flags: 14}
	plain := p8
	plain.Flags = 6
	for _, tc := range []struct {
		name string
		p    ccsds.Params
		bits string
		want []uint32
	}{
		{"zero run of two blocks with a reference", p8, "000 0 00000101 01", repeat(5, 16)},
		{"rest of segment", p8, "000 0 00000111 00001", repeat(7, 16)},
		{"short last block", p8, "000 0 00000111 1", repeat(7, 3)},
		{
			// At 0 there is no room below, so that the first 2 means two up;
			// after that 2 means one up.
			"fundamental sequence from the lower edge", p8,
			"001 00000000 001 001 001 001 001 001 001", []uint32{0, 2, 3, 4, 5, 6, 7, 8},
		},
		{
			"fundamental sequence from the middle", p8,
			"001 10000000 001 001 001 01 01 1 001", []uint32{128, 129, 130, 131, 130, 129, 129, 130},
		},
		{
			"split of two bits without predictor", plain,
			"011 1 01 1 1 001 1 1 1 00 01 10 11 00 01 10 11",
			[]uint32{0, 5, 2, 3, 8, 1, 2, 3},
		},
		{
			"second extension without predictor", plain,
			"000 1 1 01 001 0001", []uint32{0, 0, 1, 0, 0, 1, 2, 0},
		},
		{
			"uncompressed without predictor", plain,
			"111 00000001 00000010 00000011 00000100 00000101 00000110 00000111 11111111",
			[]uint32{1, 2, 3, 4, 5, 6, 7, 255},
		},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got := make([]uint32, len(tc.want))
			err := ccsds.Decode(got, packBits(tc.bits), tc.p)
			if err != nil || !slices.Equal(got, tc.want) {
				t.Errorf("got %v, %v; want %v", got, err, tc.want)
			}
		})
	}
}

func repeat(v uint32, n int) []uint32 { return slices.Repeat([]uint32{v}, n) }

func packBits(s string) (b []byte) {
	n := 0
	for _, c := range s {
		if c == ' ' {
			continue
		}
		if n%8 == 0 {
			b = append(b, 0)
		}
		b[n/8] |= byte(c-'0') << (7 - n%8)
		n++
	}
	return b
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := ccsds.Params{
			BitsPerSample: rapid.IntRange(1, 32).Draw(t, "bits"),
			BlockSize:     rapid.SampledFrom([]int{8, 16, 32, 64}).Draw(t, "block"),
			RSI:           rapid.IntRange(1, 200).Draw(t, "rsi"),
			Flags:         rapid.SampledFrom([]int{0, 8, 14, 15, 1, 40, 9 | 32}).Draw(t, "flags"),
		}
		if rapid.Bool().Draw(t, "odd block size") {
			p.Flags |= ccsds.FlagNotEnforce
			p.BlockSize = 2 * rapid.IntRange(1, 128).Draw(t, "half block")
		}
		if p.BitsPerSample <= 4 && rapid.Bool().Draw(t, "restricted") {
			p.Flags |= ccsds.FlagRestricted
		}
		x := samples(rapid.IntRange(0, 3000).Draw(t, "n"), p, rapid.Uint64().Draw(t, "seed"), rapid.IntRange(0, 4).Draw(t, "kind"))
		b, err := ccsds.Encode(x, p)
		if err != nil {
			t.Fatal(err)
		}
		if int64(len(x)) > ccsds.MaxSamples(len(b), p) && len(x) > 0 {
			t.Fatalf("%d samples in %d bytes, bound says %d", len(x), len(b), ccsds.MaxSamples(len(b), p))
		}
		got := make([]uint32, len(x))
		if err := ccsds.Decode(got, b, p); err != nil {
			t.Fatalf("%+v: %v", p, err)
		}
		if !slices.Equal(x, got) {
			t.Fatalf("%+v: round trip differs", p)
		}
	})
}

// samples makes data that drives the coder into each of its options.
func samples(n int, p ccsds.Params, seed uint64, kind int) []uint32 {
	r := rand.New(rand.NewPCG(seed, 1))
	x := make([]uint32, n)
	mask := int64(1)<<p.BitsPerSample - 1
	offset := int64(0)
	if p.Flags&ccsds.FlagSigned != 0 {
		offset = int64(1) << (p.BitsPerSample - 1)
	}
	v := r.Int64N(mask + 1)
	for i := range x {
		switch kind {
		case 0: // noise over the full width
			v = r.Int64N(mask + 1)
		case 1: // smooth
			v += r.Int64N(9) - 4
		case 2: // long flat stretches
			if r.IntN(300) == 0 {
				v = r.Int64N(mask + 1)
			}
		case 3: // nearly flat
			if r.IntN(6) == 0 {
				v += r.Int64N(3) - 1
			}
		case 4: // a mixture
			if i%500 < 250 {
				v += r.Int64N(1+mask/8) - mask/16
			}
		}
		v = max(0, min(mask, v))
		x[i] = uint32(int32(v - offset))
	}
	return x
}

func TestTruncationIsAlwaysNoticed(t *testing.T) {
	for kind := range 5 {
		p := ccsds.Params{BitsPerSample: 12, BlockSize: 16, RSI: 4, Flags: 14}
		x := samples(500, p, 3, kind)
		b, err := ccsds.Encode(x, p)
		if err != nil {
			t.Fatal(err)
		}
		for n := range b {
			got := make([]uint32, len(x))
			err := ccsds.Decode(got, b[:n], p)
			var ce *ccsds.CorruptError
			if err == nil && !slices.Equal(got, x) {
				t.Fatalf("kind %d, %d of %d bytes: wrong samples without an error", kind, n, len(b))
			}
			// The very last byte may hold nothing but filling.
			if n < len(b)-1 && !errors.As(err, &ce) {
				t.Fatalf("kind %d, %d of %d bytes: error %v", kind, n, len(b), err)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	good := ccsds.Params{BitsPerSample: 8, BlockSize: 8, RSI: 1, Flags: 8}
	for _, tc := range []struct {
		name string
		edit func(*ccsds.Params)
	}{
		{"no bits", func(p *ccsds.Params) { p.BitsPerSample = 0 }},
		{"33 bits", func(p *ccsds.Params) { p.BitsPerSample = 33 }},
		{"block size 10", func(p *ccsds.Params) { p.BlockSize = 10 }},
		{"odd block size", func(p *ccsds.Params) { p.BlockSize = 9; p.Flags |= ccsds.FlagNotEnforce }},
		{"no interval", func(p *ccsds.Params) { p.RSI = 0 }},
		{"restricted at 8 bits", func(p *ccsds.Params) { p.Flags |= ccsds.FlagRestricted }},
	} {
		p := good
		tc.edit(&p)
		var pe *ccsds.ParamError
		if err := ccsds.Decode(make([]uint32, 8), make([]byte, 9), p); !errors.As(err, &pe) {
			t.Errorf("%s: decoder says %v", tc.name, err)
		}
		if _, err := ccsds.Encode(make([]uint32, 8), p); !errors.As(err, &pe) {
			t.Errorf("%s: encoder says %v", tc.name, err)
		}
		if n := ccsds.MaxSamples(10, p); n != 0 {
			t.Errorf("%s: bound %d", tc.name, n)
		}
	}
	if _, err := ccsds.Encode([]uint32{256}, good); err == nil {
		t.Error("sample wider than 8 bits was encoded")
	}
	// A value beyond the width: option 1 with a fundamental sequence of 300.
	long := append(packBits("001 00000000"), make([]byte, 40)...)
	long = append(long, 0xff, 0xff)
	var ce *ccsds.CorruptError
	if err := ccsds.Decode(make([]uint32, 8), long, good); !errors.As(err, &ce) {
		t.Errorf("value beyond the width: %v", err)
	}
	// A run of zero blocks past the interval's end.
	if err := ccsds.Decode(make([]uint32, 64), packBits("000 0 00000000 001"), good); !errors.As(err, &ce) {
		t.Errorf("zero run past the interval: %v", err)
	}
}

// FuzzCCSDS starts from streams of our encoder, made here and kept in
// testdata/fuzz.
func FuzzCCSDS(f *testing.F) {
	for kind := range 5 {
		for _, n := range []int{1, 8, 12, 32} {
			p := ccsds.Params{BitsPerSample: n, BlockSize: 8, RSI: 3, Flags: 14}
			b, err := ccsds.Encode(samples(100, p, 5, kind), p)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(b, n, 8, 3, 14, 100)
		}
	}
	f.Fuzz(func(t *testing.T, b []byte, bits, block, rsi, flags, count int) {
		if count < 0 || count > 1<<16 {
			return
		}
		p := ccsds.Params{BitsPerSample: bits, BlockSize: block, RSI: rsi, Flags: flags}
		x := make([]uint32, count)
		if ccsds.Decode(x, b, p) != nil {
			return
		}
		if count > 0 && int64(count) > ccsds.MaxSamples(len(b), p) {
			t.Fatalf("%d samples from %d bytes, bound %d", count, len(b), ccsds.MaxSamples(len(b), p))
		}
		again, err := ccsds.Encode(x, p)
		if err != nil {
			t.Fatalf("decoded samples do not encode: %v", err)
		}
		back := make([]uint32, count)
		if err := ccsds.Decode(back, again, p); err != nil || !slices.Equal(x, back) {
			t.Fatalf("round trip: %v", err)
		}
	})
}

func BenchmarkDecode(b *testing.B) {
	for _, bits := range []int{8, 12, 16} {
		b.Run(fmt.Sprintf("smooth-%dbit", bits), func(b *testing.B) {
			p := ccsds.Params{BitsPerSample: bits, BlockSize: 32, RSI: 128, Flags: 14}
			r := rand.New(rand.NewPCG(1, 2))
			x := make([]uint32, 1<<20)
			for i := range x {
				amp := float64(int(1)<<bits) / 2
				x[i] = uint32(amp * (1 + 0.9*math.Sin(float64(i)/200) + 0.01*r.Float64()))
			}
			benchmarkDecode(b, x, p)
		})
	}
	b.Run("gfs", func(b *testing.B) {
		f := sections(b, validation.SharedData(b, filepath.FromSlash(openFiles[0])))[0]
		x := make([]uint32, f.values)
		if err := ccsds.Decode(x, f.data, params(f)); err != nil {
			b.Fatal(err)
		}
		benchmarkDecode(b, x, params(f))
	})
}

func benchmarkDecode(b *testing.B, x []uint32, p ccsds.Params) {
	src, err := ccsds.Encode(x, p)
	if err != nil {
		b.Fatal(err)
	}
	dst := make([]uint32, len(x))
	b.ResetTimer()
	for b.Loop() {
		if err := ccsds.Decode(dst, src, p); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(x))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mvalues/s")
	b.ReportMetric(float64(len(src))*8/float64(len(x)), "bits/value")
}

func BenchmarkEncode(b *testing.B) {
	p := ccsds.Params{BitsPerSample: 12, BlockSize: 32, RSI: 128, Flags: 14}
	x := samples(1<<20, p, 1, 1)
	for b.Loop() {
		if _, err := ccsds.Encode(x, p); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(x))*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mvalues/s")
}
