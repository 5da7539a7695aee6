package jpeg2000

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"foilledger/testdata/validation"
)

// image makes a field with smooth parts, steps and noise.
func image(w, h, bits int, seed uint64) []int32 {
	r := rand.New(rand.NewPCG(seed, 7))
	x := make([]int32, w*h)
	amp := math.Ldexp(1, bits) - 1
	noise := 0.02 * r.Float64() * float64(r.IntN(3))
	for j := range h {
		for i := range w {
			v := 0.5 + 0.35*math.Sin(float64(i)/9+float64(seed%7))*math.Cos(float64(j)/11) + noise*(r.Float64()-0.5)
			if (i/13+j/17)%5 == 0 {
				v = 0
			}
			x[j*w+i] = int32(math.Round(amp * max(0, min(1, v))))
		}
	}
	return x
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := encodeOptions{
			levels: rapid.IntRange(0, 6).Draw(t, "levels"),
			xcb:    rapid.IntRange(2, 6).Draw(t, "xcb"),
			ycb:    rapid.IntRange(2, 6).Draw(t, "ycb"),
			bits:   rapid.IntRange(1, 24).Draw(t, "bits"),
			order:  rapid.IntRange(0, 4).Draw(t, "order"),
			sop:    rapid.Bool().Draw(t, "sop"),
			eph:    rapid.Bool().Draw(t, "eph"),
			x0:     rapid.IntRange(0, 9).Draw(t, "x0"),
			y0:     rapid.IntRange(0, 9).Draw(t, "y0"),
			layers: rapid.IntRange(1, 4).Draw(t, "layers"),
		}
		if rapid.Bool().Draw(t, "precincts") {
			for range o.levels + 1 {
				o.precincts = append(o.precincts, byte(rapid.IntRange(3, 7).Draw(t, "ppx")|rapid.IntRange(3, 7).Draw(t, "ppy")<<4))
			}
		}
		w, h := rapid.IntRange(1, 70).Draw(t, "w"), rapid.IntRange(1, 70).Draw(t, "h")
		x := image(w, h, o.bits, rapid.Uint64Range(0, 50).Draw(t, "seed"))
		b := encode(x, w, h, o)
		got, gw, gh, err := Decode(b)
		if err != nil || gw != w || gh != h || !slices.Equal(got, x) {
			t.Fatalf("%+v %d by %d: %v, equal %v", o, w, h, err, slices.Equal(got, x))
		}
	})
}

// The shapes that a field with a bitmap has, and others that break off a
// dimension early.
func TestNarrowImages(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {1, 500}, {500, 1}, {2, 3}, {3, 2}, {10000, 1}, {1, 65}, {64, 64}, {65, 129}} {
		for _, levels := range []int{0, 1, 5, 12} {
			x := image(size[0], size[1], 12, 3)
			got, w, h, err := Decode(encode(x, size[0], size[1], encodeOptions{levels: levels, xcb: 6, ycb: 6, bits: 12}))
			if err != nil || w != size[0] || h != size[1] || !slices.Equal(got, x) {
				t.Errorf("%v, %d levels: %v", size, levels, err)
			}
		}
	}
}

// One worker and several give the same samples.
func TestWorkersAgree(t *testing.T) {
	x := image(300, 300, 16, 1)
	b := encode(x, 300, 300, encodeOptions{levels: 3, xcb: 5, ycb: 5, bits: 16})
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, procs := range []int{1, 2, 5} {
		runtime.GOMAXPROCS(procs)
		got, _, _, err := Decode(b)
		if err != nil || !slices.Equal(got, x) {
			t.Fatalf("%d workers: %v, equal %v", procs, err, slices.Equal(got, x))
		}
	}
}

// Streams of another encoder, over the options that it has.
func TestIndependentEncoder(t *testing.T) {
	tool, err := exec.LookPath("opj_compress")
	if err != nil {
		t.Skip("opj_compress is not installed (Debian's libopenjp2-tools): skipped")
	}
	const w, h = 217, 143
	cases := 0
	for _, tc := range []struct {
		name  string
		bits  int
		w, h  int
		extra string
	}{
		{"plain", 12, w, h, ""},
		{"16 bits", 16, w, h, ""},
		{"8 bits", 8, w, h, ""},
		{"one row", 12, 3000, 1, ""},
		{"one column", 12, 1, 300, ""},
		{"one level", 12, w, h, "-n 1"},
		{"eight levels", 12, w, h, "-n 8"},
		{"blocks 32 by 16", 12, w, h, "-b 32,16"},
		{"blocks 4 by 256", 12, w, h, "-b 4,256"},
		{"RLCP", 12, w, h, "-p RLCP -c [64,64],[32,32]"},
		{"RPCL with precincts", 12, w, h, "-p RPCL -c [64,64],[32,32]"},
		{"PCRL with precincts", 12, w, h, "-p PCRL -c [64,64],[32,32]"},
		{"CPRL with precincts", 12, w, h, "-p CPRL -c [64,64],[32,32]"},
		{"layers", 12, w, h, "-r 20,10,5,1"},
		{"layers, RPCL", 12, w, h, "-r 20,10,1 -p RPCL -c [128,64]"},
		{"SOP and EPH", 12, w, h, "-SOP -EPH -r 10,1"},
		{"offset image", 12, w, h, "-d 3,5"},
		{"tile parts", 12, w, h, "-TP R"},
	} {
		x := image(tc.w, tc.h, tc.bits, 5)
		dir := t.TempDir()
		raw, out := filepath.Join(dir, "x.raw"), filepath.Join(dir, "x.j2k")
		var buf bytes.Buffer
		for _, v := range x {
			if tc.bits <= 8 {
				buf.WriteByte(byte(v))
			} else {
				_ = binary.Write(&buf, binary.BigEndian, uint16(v))
			}
		}
		if err := os.WriteFile(raw, buf.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		args := append([]string{"-i", raw, "-o", out, "-F", fmt.Sprintf("%d,%d,1,%d,u", tc.w, tc.h, tc.bits)}, strings.Fields(tc.extra)...)
		if tc.w == 1 || tc.h == 1 {
			args = append(args, "-n", "1")
		}
		if msg, err := exec.Command(tool, args...).CombinedOutput(); err != nil {
			t.Errorf("%s: %v %s", tc.name, err, msg)
			continue
		}
		b, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		got, gw, gh, err := Decode(b)
		if err != nil || gw != tc.w || gh != tc.h || !slices.Equal(got, x) {
			t.Errorf("%s: %d by %d, %v, equal %v", tc.name, gw, gh, err, slices.Equal(got, x))
			continue
		}
		cases++
	}
	validation.Check(t, validation.Row{
		Package: "weather/grib/jpeg2000", ID: "independent-encoder",
		Quantity: "option sets of another encoder that decode to the very samples",
		Got:      float64(cases), Want: 18, Source: "OpenJPEG's opj_compress", Kind: validation.Independent,
	})
}

func TestRefusals(t *testing.T) {
	good := encode(image(20, 20, 8, 1), 20, 20, encodeOptions{levels: 2, xcb: 4, ycb: 4, bits: 8})
	siz, cod, qcd := 4, 4+2+41-2, 4+41+2+12
	if be16(good[cod:]) != markCOD || be16(good[qcd:]) != markQCD {
		t.Fatalf("layout of the sample: %x", good[:80])
	}
	edit := func(at int, v ...byte) []byte {
		b := bytes.Clone(good)
		copy(b[at:], v)
		return b
	}
	insert := func(v ...byte) []byte { return slices.Concat(good[:cod], v, good[cod:]) }
	for _, tc := range []struct {
		name, want string
		b          []byte
	}{
		{"three components", "3 components", slices.Concat(edit(siz+2+34-2+2, 0, 3)[:siz], []byte{0, 47}, edit(siz+2+34, 0, 3)[siz+2:cod], []byte{7, 1, 1, 7, 1, 1}, good[cod:])},
		{"several tiles", "several tiles", edit(siz+2+18, 0, 0, 0, 10)},
		{"subsampling", "subsampling", edit(siz+2+37, 2)},
		{"32 bits", "samples of 32 bits", edit(siz+2+36, 31)},
		{"lazy blocks", "code block style 0x01", edit(cod+4+8, 1)},
		{"9/7 wavelet", "irreversible", edit(cod+4+9, 0)},
		{"quantization", "quantized", edit(qcd+4, 0x42)},
		{"region of interest", "region", insert(0xff, 0x5e, 0, 5, 0, 0, 1)},
		{"progression change", "progression", insert(0xff, 0x5f, 0, 2)},
		{"packed headers", "packed packet headers", insert(0xff, 0x60, 0, 2)},
	} {
		_, _, _, err := Decode(tc.b)
		var ue *UnsupportedError
		if !errors.As(err, &ue) || !strings.Contains(ue.What, tc.want) || ue.Hint != Hint {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
	for _, tc := range []struct {
		name string
		b    []byte
	}{
		{"empty", nil},
		{"text", []byte("GRIB is not this")},
		{"four billion samples", edit(siz+2+2, 0x7f, 0xff, 0xff, 0xff, 0, 0, 0, 20, 0, 0, 0, 0, 0, 0, 0, 0, 0x7f, 0xff, 0xff, 0xff)},
		{"empty image", edit(siz+2+2, 0, 0, 0, 0)},
		{"tile 1", edit(qcd+2+4+3*2+4, 0, 1)},
	} {
		_, _, _, err := Decode(tc.b)
		var ce *CorruptError
		if !errors.As(err, &ce) {
			t.Errorf("%s: %v", tc.name, err)
		}
	}
}

func TestBoxed(t *testing.T) {
	x := image(20, 20, 8, 1)
	b := encode(x, 20, 20, encodeOptions{levels: 2, xcb: 4, ycb: 4, bits: 8})
	boxed := slices.Concat([]byte("\x00\x00\x00\x0cjP  \r\n\x87\n\x00\x00\x00\x0cftypjp2 "), []byte{0, 0, 0, 0}, []byte("jp2c"), b)
	if got, _, _, err := Decode(boxed); err != nil || !slices.Equal(got, x) {
		t.Errorf("%v", err)
	}
	var ce *CorruptError
	if _, _, _, err := Decode(boxed[:24]); !errors.As(err, &ce) {
		t.Errorf("no codestream: %v", err)
	}
}

// Cut anywhere, a stream is refused; only the end mark may be missing.
func TestTruncation(t *testing.T) {
	x := image(40, 30, 12, 2)
	b := encode(x, 40, 30, encodeOptions{levels: 3, xcb: 4, ycb: 4, bits: 12})
	for n := range b {
		got, _, _, err := Decode(b[:n])
		var ce *CorruptError
		if err == nil && !slices.Equal(got, x) || err != nil && !errors.As(err, &ce) {
			t.Fatalf("%d of %d bytes: %v", n, len(b), err)
		}
		if err == nil && n < len(b)-3 {
			t.Fatalf("%d of %d bytes passed", n, len(b))
		}
	}
}

// FuzzJPEG2000 starts from code streams of the encoder of these tests, made here
// and kept in testdata/fuzz.
func FuzzJPEG2000(f *testing.F) {
	for _, o := range []encodeOptions{
		{levels: 2, xcb: 4, ycb: 4, bits: 8},
		{levels: 0, xcb: 2, ycb: 6, bits: 1},
		{levels: 3, xcb: 4, ycb: 4, bits: 12, order: orderPCRL, precincts: []byte{0x33, 0x33, 0x44, 0x44}, sop: true, eph: true, x0: 3, y0: 1},
	} {
		f.Add(encode(image(21, 13, o.bits, 4), 21, 13, o))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		in, derr := Describe(b)
		if int64(in.Width)*int64(in.Height) > 1<<18 {
			return // lawful up to a bound, and slow
		}
		x, w, h, err := Decode(b)
		if err != nil {
			return
		}
		if derr != nil || w != in.Width || h != in.Height || len(x) != w*h {
			t.Fatalf("%d by %d, header %+v, %v", w, h, in, derr)
		}
		lo, hi := int32(0), int32(1)<<in.Bits-1
		if in.Signed {
			lo, hi = -1<<(in.Bits-1), 1<<(in.Bits-1)-1
		}
		for _, v := range x {
			if v < lo || v > hi {
				t.Fatalf("sample %d outside %d bits", v, in.Bits)
			}
		}
	})
}
