package grib

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"runtime"
	"strings"
	"testing"

	"foilledger/weather/grid"
)

// smallFiles are files of two or three fields in every form that we write.
func smallFiles(t testing.TB) map[string][]byte {
	u := madeField(smallShape, grid.WindU, false)
	v := madeField(smallShape, grid.WaveHeight, true)
	flat := madeField(smallShape, grid.Gust, false)
	for i := range flat.Values {
		flat.Values[i] = 7
	}
	member := madeField(smallShape, grid.SeaLevelPressure, false)
	member.Member = 3
	out := map[string][]byte{"edition 1": mustEncode1(t, EncodeOptions{Precision: 0.01}, u, v)}
	for p := range packings {
		out["edition 2 "+p.String()] = mustEncode2(t, EncodeOptions{Packing: p, Bits: 12}, u, v, flat, member)
	}
	return out
}

// TestTruncation cuts every small file at every byte: what is returned is a
// beginning of the whole file's fields, and the loss is reported.
func TestTruncation(t *testing.T) {
	for name, b := range seeds(t) {
		whole := mustDecode(t, b)
		for n := range b {
			d, _, err := Decode(b[:n])
			complete := 0
			for complete < len(whole) && whole[complete].Header.Offset+whole[complete].Header.Length <= int64(n) {
				complete++
			}
			atEdge := n == 0 || complete > 0 && whole[complete-1].Header.Offset+whole[complete-1].Header.Length == int64(n)
			var cut *TruncatedError
			var not *NotGRIBError
			switch {
			case n < 4:
				if !errors.As(err, &not) {
					t.Fatalf("%s cut at %d: error %v, want not GRIB", name, n, err)
				}
			case atEdge:
				if err != nil {
					t.Fatalf("%s cut between messages at %d: %v", name, n, err)
				}
			default:
				// A stump shorter than the magic word is only junk.
				if n-int(ends(whole, complete)) < 4 {
					continue
				}
				if !errors.As(err, &cut) || cut.Complete != complete {
					t.Fatalf("%s cut at %d: error %v, want cut off after %d messages", name, n, err, complete)
				}
			}
			if len(d) != complete {
				t.Fatalf("%s cut at %d: %d fields, want %d", name, n, len(d), complete)
			}
			for i := range d {
				if err := sameField(d[i].Field, whole[i].Field, 0, 0); err != nil {
					t.Fatalf("%s cut at %d: %v", name, n, err)
				}
			}
		}
	}
}

func ends(d []Decoded, n int) int64 {
	if n == 0 {
		return 0
	}
	return d[n-1].Header.Offset + d[n-1].Header.Length
}

// TestDamage changes every byte of every small file in several ways: no panic,
// and every field that comes out is complete and finite.
func TestDamage(t *testing.T) {
	for name, b := range seeds(t) {
		for i := range b {
			for _, flip := range []byte{1 << (i % 8), b[i], b[i] ^ 0xff} { // a bit, all zeros, all ones
				c := bytes.Clone(b)
				c[i] ^= flip
				checkSafe(t, fmt.Sprintf("%s byte %d ^ %#x", name, i, flip), c)
			}
		}
	}
}

// checkSafe reads b and checks what holds for every input.
func checkSafe(t testing.TB, name string, b []byte) {
	t.Helper()
	err := Read(context.Background(), bytes.NewReader(b), int64(len(b)), Reading{
		Want: func(Header) bool { return true },
		Emit: func(h Header, f *grid.Field) error {
			if len(f.Values) != f.NLat*f.NLon || int64(len(f.Values)) != h.Points {
				t.Fatalf("%s: %d values for %d x %d", name, len(f.Values), f.NLon, f.NLat)
			}
			if !(f.West >= -180 && f.West < 180 && f.South >= -90.01 && f.South+float64(f.NLat-1)*f.DLat <= 90.01) ||
				f.NLat > 1 && !(f.DLat > 0) || f.NLon > 1 && !(f.DLon > 0) {
				t.Fatalf("%s: shape %+v", name, f.Shape)
			}
			for _, v := range f.Values {
				if math.IsInf(float64(v), 0) {
					t.Fatalf("%s: infinite value", name)
				}
			}
			return nil
		},
		Refuse:    func(Header, error) error { return nil },
		MaxPoints: 1 << 16,
	})
	var cut *TruncatedError
	var not *NotGRIBError
	var corrupt *CorruptError
	if err != nil && !errors.As(err, &cut) && !errors.As(err, &not) && !errors.As(err, &corrupt) {
		t.Fatalf("%s: unexpected kind of error: %v", name, err)
	}
}

// TestHugeClaims builds small files that claim 4 294 836 225 points. They must
// be refused without a large allocation.
func TestHugeClaims(t *testing.T) {
	base := madeField(smallShape, grid.WindU, false)
	flat := madeField(smallShape, grid.WindU, false)
	clear(flat.Values)
	files := map[string][]byte{"edition 2 constant": mustEncode2(t, EncodeOptions{}, flat)}
	for p := range packings {
		files["edition 2 "+p.String()] = mustEncode2(t, EncodeOptions{Packing: p, Bits: 8}, base)
	}
	for name, b := range files {
		claim2(b, 65535, 65535)
		files[name] = b
	}
	for name, f := range map[string]*grid.Field{"edition 1": base, "edition 1 constant": flat} {
		b := mustEncode1(t, EncodeOptions{Bits: 8}, f)
		g := b[8+28:]
		copy(g[6:10], []byte{0xff, 0xfe, 0xff, 0xfe})
		g[16] = 0 // no increments, so that the corners alone rule
		files[name] = b
	}
	// Groups without width can claim any number of values.
	b := mustEncode2(t, EncodeOptions{Packing: PackComplex, Bits: 8}, base)
	claim2(b, 65535, 65535)
	s5 := section2Of(b, 5)
	n := binary.BigEndian.Uint32(s5[31:])
	binary.BigEndian.PutUint32(s5[37:], math.MaxUint32/n)
	files["edition 2 complex, long groups"] = b
	for name, b := range files {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		d, _, err := Decode(b)
		runtime.ReadMemStats(&after)
		if err == nil || len(d) != 0 {
			t.Errorf("%s: no error", name)
		}
		if used := after.TotalAlloc - before.TotalAlloc; used > 1<<20 {
			t.Errorf("%s: %d bytes allocated for a file of %d", name, used, len(b))
		}
	}
}

// claim2 lets an edition 2 message claim ni x nj points within the same corners.
func claim2(b []byte, ni, nj uint32) {
	g := section2Of(b, 3)
	binary.BigEndian.PutUint32(g[6:], ni*nj)
	binary.BigEndian.PutUint32(g[30:], ni)
	binary.BigEndian.PutUint32(g[34:], nj)
	g[54] = 0
	s := section2Of(b, 5)
	binary.BigEndian.PutUint32(s[5:], ni*nj)
}

// section2Of returns the first section of the given number.
func section2Of(b []byte, number byte) []byte {
	for pos := 16; pos+5 < len(b); {
		n := int(binary.BigEndian.Uint32(b[pos:]))
		if b[pos+4] == number {
			return b[pos : pos+n]
		}
		pos += n
	}
	return nil
}

// TestProportion checks that a large constant field below the cap is read, and
// that one above it is refused by name.
func TestProportion(t *testing.T) {
	flat := madeField(smallShape, grid.WindU, false)
	clear(flat.Values)
	b := mustEncode2(t, EncodeOptions{}, flat)
	claim2(b, 1024, 1024)
	d, _, err := Decode(b)
	if err != nil || len(d) != 1 || len(d[0].Field.Values) != 1<<20 {
		t.Fatalf("constant field of a million points: %d fields, %v", len(d), err)
	}
	claim2(b, 1<<12+1, 1<<12)
	var u *UnsupportedError
	if _, _, err := Decode(b); !errors.As(err, &u) {
		t.Errorf("constant field above the cap: %v", err)
	}
}

// TestOtherFiles expects a clear error for what is not GRIB.
func TestOtherFiles(t *testing.T) {
	for name, c := range map[string]struct{ content, want string }{
		"empty":   {"", "empty file"},
		"page":    {"<!DOCTYPE html><html><body>404 not found", "HTML"},
		"netcdf":  {"CDF\x01\x00\x00\x00\x00", "NetCDF"},
		"hdf":     {"\x89HDF\r\n\x1a\n", "NetCDF-4"},
		"gzip":    {"\x1f\x8b\x08\x00", "gzip"},
		"bzip2":   {"BZh91AY", "bzip2"},
		"random":  {"\x13\x07\x88 some bytes of nothing", "no GRIB message"},
		"magic":   {"GRIBGRIBGRIBGRIBGRIBGRIB", "damaged"},
		"edition": {"GRIB\x00\x00\x40\x00 what was before edition 1 7777", "edition"},
	} {
		d, w, err := Decode([]byte(c.content))
		text := fmt.Sprint(err, w)
		if err == nil || len(d) != 0 || !strings.Contains(text, c.want) {
			t.Errorf("%s: error %v, warnings %v; want %q", name, err, w, c.want)
		}
	}
}

// TestJunkBetween puts other bytes before, between and after messages.
func TestJunkBetween(t *testing.T) {
	a := mustEncode2(t, EncodeOptions{}, madeField(smallShape, grid.WindU, false))
	b := mustEncode1(t, EncodeOptions{}, madeField(smallShape, grid.WindV, true))
	for name, c := range map[string]struct {
		junk     string
		warnings int
	}{
		"nothing":       {"", 0},
		"zeros":         {strings.Repeat("\x00", 300), 0},
		"bulletin":      {"\x01\r\r\n0042\r\r\nHTXX99 KWBC 010000\r\r\n", 3},
		"long":          {strings.Repeat("junk ", 20000), 1},
		"chance magic":  {"xxGRIBxxx\x02" + strings.Repeat("y", 30), 6},
		"chance magic2": {"GRIB\x00\x00\x00\x02\x00\x00\x00\x00\x00\x00\x00\x20 no end of a message here", 6},
	} {
		file := c.junk + string(a) + c.junk + string(b) + c.junk
		d, w, err := Decode([]byte(file))
		if err != nil || len(d) != 2 {
			t.Errorf("%s: %d fields, %v", name, len(d), err)
			continue
		}
		if len(w) > c.warnings || c.warnings > 0 && len(w) == 0 {
			t.Errorf("%s: %d warnings, want up to %d: %v", name, len(w), c.warnings, w)
		}
		if d[0].Field.Quantity != grid.WindU || d[1].Field.Quantity != grid.WindV {
			t.Errorf("%s: %v, %v", name, d[0].Field.Quantity, d[1].Field.Quantity)
		}
	}
}

// TestBadMessageBetween damages the middle one of three messages.
func TestBadMessageBetween(t *testing.T) {
	u, v, w := madeField(smallShape, grid.WindU, false), madeField(smallShape, grid.WindV, false), madeField(smallShape, grid.Gust, false)
	a, b, c := mustEncode2(t, EncodeOptions{}, u), mustEncode2(t, EncodeOptions{}, v), mustEncode2(t, EncodeOptions{}, w)
	for name, edit := range map[string]func(b []byte){
		"length too long":  func(b []byte) { b[9] = 1 },
		"length too short": func(b []byte) { b[15] -= 3 },
		"no end mark":      func(b []byte) { b[len(b)-1] = '8' },
		"section length":   func(b []byte) { b[16+3] = 200 },
		"value count":      func(b []byte) { section2Of(b, 5)[8]++ },
		"date":             func(b []byte) { section2Of(b, 1)[14] = 13 },
		"bitmap reused":    func(b []byte) { section2Of(b, 6)[5] = 254 },
	} {
		bad := bytes.Clone(b)
		edit(bad)
		file := bytes.Join([][]byte{a, bad, c}, nil)
		d, warnings, err := Decode(file)
		if err != nil || len(d) != 2 || d[1].Field.Quantity != grid.Gust || len(warnings) == 0 {
			t.Errorf("%s: %d fields, %v, warnings %v", name, len(d), err, warnings)
		}
		// Each reports the damage, or the loss, as an error at the end.
		n := 0
		err = Each(bytes.NewReader(file), int64(len(file)), func(Header) bool { return true }, func(Header, *grid.Field) error { n++; return nil })
		var corrupt *CorruptError
		if n != 2 || !errors.As(err, &corrupt) {
			t.Errorf("%s: Each emitted %d fields, error %v", name, n, err)
		}
	}
}

// TestEachStops checks that the caller's error ends the reading and is returned,
// and that unwanted fields are not read.
func TestEachStops(t *testing.T) {
	b := mustEncode2(t, EncodeOptions{}, madeField(smallShape, grid.WindU, false), madeField(smallShape, grid.WindV, false))
	stop := errors.New("stop")
	n := 0
	err := Each(bytes.NewReader(b), int64(len(b)), nil, func(Header, *grid.Field) error { n++; return stop })
	if !errors.Is(err, stop) || n != 1 {
		t.Errorf("%d fields, error %v", n, err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	err = Read(ctx, bytes.NewReader(b), int64(len(b)), Reading{Emit: func(Header, *grid.Field) error { cancel(); return nil }})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	err = Each(failing{bytes.NewReader(b), 150}, int64(len(b)), nil, func(Header, *grid.Field) error { return nil })
	if err == nil || !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("failing reader: %v", err)
	}
}

// failing is a reader that breaks beyond a position.
type failing struct {
	r  io.ReaderAt
	at int64
}

func (f failing) ReadAt(b []byte, off int64) (int, error) {
	if off+int64(len(b)) > f.at {
		return 0, io.ErrClosedPipe
	}
	return f.r.ReadAt(b, off)
}

// counting counts the bytes read.
type counting struct {
	r io.ReaderAt
	n int64
}

func (c *counting) ReadAt(b []byte, off int64) (int, error) {
	n, err := c.r.ReadAt(b, off)
	c.n += int64(n)
	return n, err
}

// TestReadsLittle lists a file of large fields without reading their data.
func TestReadsLittle(t *testing.T) {
	s := grid.Shape{South: -90, West: -180, DLat: 0.25, DLon: 0.25, NLat: 721, NLon: 1440}
	f := madeField(s, grid.WindU, false)
	b := mustEncode2(t, EncodeOptions{}, f, f, f)
	c := &counting{r: bytes.NewReader(b)}
	n := 0
	err := Each(c, int64(len(b)), func(h Header) bool { n++; return false }, func(Header, *grid.Field) error { return nil })
	if err != nil || n != 3 {
		t.Fatalf("%d headers, %v", n, err)
	}
	if c.n > 5*windowSize {
		t.Errorf("%d of %d bytes read for three headers", c.n, len(b))
	}
}

func FuzzGRIB2(f *testing.F) {
	for name, b := range seeds(f) {
		if strings.HasSuffix(name, ".grib2") {
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) { checkSafe(t, "fuzz", b) })
}

func FuzzGRIB1(f *testing.F) {
	for name, b := range seeds(f) {
		if strings.HasSuffix(name, ".grib1") {
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) { checkSafe(t, "fuzz", b) })
}
