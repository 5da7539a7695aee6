package grib

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"foilledger/weather/grid"
)

// split2 cuts an edition 2 message into its sections, without 0 and 8.
func split2(b []byte) [][]byte {
	var out [][]byte
	for pos := 16; pos+4 < len(b); {
		n := int(binary.BigEndian.Uint32(b[pos:]))
		out = append(out, bytes.Clone(b[pos:pos+n]))
		pos += n
	}
	return out
}

// join2 makes a message of a discipline from sections and sets their lengths.
func join2(discipline byte, sections ...[]byte) []byte {
	out := append([]byte("GRIB\x00\x00"), discipline, 2, 0, 0, 0, 0, 0, 0, 0, 0)
	for _, s := range sections {
		binary.BigEndian.PutUint32(s, uint32(len(s)))
		out = append(out, s...)
	}
	out = append(out, "7777"...)
	binary.BigEndian.PutUint64(out[8:], uint64(len(out)))
	return out
}

// headerOf returns the only header of a file, decoded or refused.
func headerOf(t *testing.T, b []byte) Header {
	t.Helper()
	var hs []Header
	err := Each(bytes.NewReader(b), int64(len(b)), func(h Header) bool { hs = append(hs, h); return false }, nil)
	if err != nil || len(hs) != 1 {
		t.Fatalf("%d headers, %v", len(hs), err)
	}
	return hs[0]
}

// TestProducts2 rewrites section 4 of a message and checks what it is taken for.
func TestProducts2(t *testing.T) {
	f := madeField(smallShape, grid.WindU, false)
	ref := f.Reference
	interval := func(end time.Time, process byte) []byte {
		b := []byte{byte(end.Year() >> 8), byte(end.Year()), byte(end.Month()), byte(end.Day()), byte(end.Hour()), byte(end.Minute()), byte(end.Second()), 1, 0, 0, 0, 0}
		return append(b, process, 2, 1, 0, 0, 0, 3, 255, 0, 0, 0, 0)
	}
	set := func(at int, v ...byte) func([]byte) []byte {
		return func(s []byte) []byte { copy(s[at:], v); return s }
	}
	with := func(template byte, more ...byte) func([]byte) []byte {
		return func(s []byte) []byte { s[8] = template; return append(s, more...) }
	}
	end := ref.Add(6 * time.Hour)
	for _, c := range []struct {
		name     string
		field    grid.Quantity
		edit     []func([]byte) []byte
		quantity grid.Quantity
		member   int
		kind     string
		valid    time.Time // zero: unchanged
		refused  string
	}{
		{"as written", grid.WindU, nil, grid.WindU, -1, "", time.Time{}, ""},
		{"template 4.1 high-resolution control", grid.WindU, []func([]byte) []byte{with(1, 0, 0, 20)}, grid.WindU, 0, "control", time.Time{}, ""},
		{"template 4.1 low-resolution control", grid.WindU, []func([]byte) []byte{with(1, 1, 7, 20)}, grid.WindU, 0, "control", time.Time{}, ""},
		{"template 4.1 member", grid.WindU, []func([]byte) []byte{with(1, 3, 7, 20)}, grid.WindU, 7, "member", time.Time{}, ""},
		{"template 4.1 multi-model", grid.WindU, []func([]byte) []byte{with(1, 4, 9, 20)}, grid.WindU, 9, "member", time.Time{}, ""},
		{"template 4.2 mean", grid.WaveHeight, []func([]byte) []byte{with(2, 0, 20)}, grid.WaveHeight, -1, "mean", time.Time{}, ""},
		{"template 4.2 weighted mean", grid.WaveHeight, []func([]byte) []byte{with(2, 1, 20)}, grid.WaveHeight, -1, "mean", time.Time{}, ""},
		{"template 4.2 spread is no wind", grid.WindU, []func([]byte) []byte{with(2, 4, 20)}, grid.Other, -1, "spread", time.Time{}, ""},
		{"template 4.2 maximum is no wind", grid.WindU, []func([]byte) []byte{with(2, 9, 20)}, grid.Other, -1, "maximum", time.Time{}, ""},
		{"template 4.8 highest gust", grid.Gust, []func([]byte) []byte{with(8, interval(end, 2)...)}, grid.Gust, -1, "", end, ""},
		{"template 4.8 mean wind is no wind", grid.WindU, []func([]byte) []byte{with(8, interval(end, 0)...)}, grid.Other, -1, "", end, ""},
		{"template 4.8 mean gust is no gust", grid.Gust, []func([]byte) []byte{with(8, interval(end, 0)...)}, grid.Other, -1, "", end, ""},
		{"template 4.11 highest gust of a member", grid.Gust, []func([]byte) []byte{with(11, append([]byte{3, 12, 20}, interval(end, 2)...)...)}, grid.Gust, 12, "member", end, ""},
		{"template 4.12 mean of highest gusts", grid.Gust, []func([]byte) []byte{with(12, append([]byte{0, 20}, interval(end, 2)...)...)}, grid.Gust, -1, "mean", end, ""},
		{"template 4.8 without end time", grid.Gust, []func([]byte) []byte{with(8, make([]byte, 24)...)}, grid.Gust, -1, "", ref.Add(9 * time.Hour), "date"},
		{"template 4.8 cut short", grid.Gust, []func([]byte) []byte{with(8, 1, 2, 3)}, grid.Other, -1, "", time.Time{}, "short"},
		{"template 4.103 is no significant height", grid.WaveHeight, []func([]byte) []byte{with(103)}, grid.Other, -1, "", time.Time{}, "4.103 waves of a period range"},
		{"template 4.99 is no significant height", grid.WaveHeight, []func([]byte) []byte{with(99)}, grid.Other, -1, "", time.Time{}, "4.99"},
		{"template 4.5 probability", grid.WindU, []func([]byte) []byte{with(5)}, grid.Other, -1, "", time.Time{}, "4.5 probability"},
		{"template 4.6 percentile", grid.WindU, []func([]byte) []byte{with(6)}, grid.Other, -1, "", time.Time{}, "4.6 percentile"},
		{"probability as a process", grid.WindU, []func([]byte) []byte{set(11, 5)}, grid.Other, -1, "", time.Time{}, ""},
		{"analysis error as a process", grid.WindU, []func([]byte) []byte{set(11, 7)}, grid.Other, -1, "", time.Time{}, ""},
		{"step in minutes", grid.WindU, []func([]byte) []byte{set(17, 0, 0, 0, 0, 90)}, grid.WindU, -1, "", ref.Add(90 * time.Minute), ""},
		{"step in hours", grid.WindU, []func([]byte) []byte{set(17, 1, 0, 0, 1, 4)}, grid.WindU, -1, "", ref.Add(260 * time.Hour), ""},
		{"step in days", grid.WindU, []func([]byte) []byte{set(17, 2, 0, 0, 0, 3)}, grid.WindU, -1, "", ref.Add(72 * time.Hour), ""},
		{"step in 3 h", grid.WindU, []func([]byte) []byte{set(17, 10, 0, 0, 0, 5)}, grid.WindU, -1, "", ref.Add(15 * time.Hour), ""},
		{"step in 6 h", grid.WindU, []func([]byte) []byte{set(17, 11, 0, 0, 0, 5)}, grid.WindU, -1, "", ref.Add(30 * time.Hour), ""},
		{"step in 12 h", grid.WindU, []func([]byte) []byte{set(17, 12, 0, 0, 0, 5)}, grid.WindU, -1, "", ref.Add(60 * time.Hour), ""},
		{"step in seconds", grid.WindU, []func([]byte) []byte{set(17, 13, 0, 0, 0, 5)}, grid.WindU, -1, "", ref.Add(5 * time.Second), ""},
		{"step back", grid.WindU, []func([]byte) []byte{set(17, 1, 0x80, 0, 0, 3)}, grid.WindU, -1, "", ref.Add(-3 * time.Hour), ""},
		{"step in months", grid.WindU, []func([]byte) []byte{set(17, 3, 0, 0, 0, 1)}, grid.WindU, -1, "", time.Time{}, "unit of time 3"},
		{"step beyond all years", grid.WindU, []func([]byte) []byte{set(17, 2, 0x7f, 0xff, 0xff, 0xff)}, grid.WindU, -1, "", time.Time{}, "step"},
		{"100 m wind", grid.WindU, []func([]byte) []byte{set(22, 103, 0, 0, 0, 0, 100)}, grid.Other, -1, "", time.Time{}, ""},
		{"10 m as 100 tenths", grid.WindU, []func([]byte) []byte{set(22, 103, 1, 0, 0, 0, 100)}, grid.WindU, -1, "", time.Time{}, ""},
		{"10 m as 1 ten", grid.WindU, []func([]byte) []byte{set(22, 103, 0x81, 0, 0, 0, 1)}, grid.WindU, -1, "", time.Time{}, ""},
		{"height missing", grid.WindU, []func([]byte) []byte{set(22, 103, 255, 255, 255, 255, 255)}, grid.Other, -1, "", time.Time{}, ""},
		{"wave model's wind at the surface", grid.WindU, []func([]byte) []byte{set(22, 1, 0, 0, 0, 0, 1)}, grid.WindU, -1, "", time.Time{}, ""},
		{"wind at 850 hPa", grid.WindU, []func([]byte) []byte{set(22, 100, 0, 0, 1, 0x4c, 0x08)}, grid.Other, -1, "", time.Time{}, ""},
		{"wind in a layer", grid.WindU, []func([]byte) []byte{set(22, 103, 0, 0, 0, 0, 10, 103, 0, 0, 0, 0, 30)}, grid.Other, -1, "", time.Time{}, ""},
		{"current at the surface", grid.CurrentU, []func([]byte) []byte{set(22, 1)}, grid.CurrentU, -1, "", time.Time{}, ""},
		{"current at 50 m", grid.CurrentU, []func([]byte) []byte{set(22, 160, 0, 0, 0, 0, 50)}, grid.Other, -1, "", time.Time{}, ""},
		{"current at 0.5 m", grid.CurrentU, []func([]byte) []byte{set(22, 160, 1, 0, 0, 0, 5)}, grid.CurrentU, -1, "", time.Time{}, ""},
		{"secondary wave direction", grid.WaveFrom, []func([]byte) []byte{set(10, 12)}, grid.Other, -1, "", time.Time{}, ""},
		{"primary wave direction", grid.WaveFrom, []func([]byte) []byte{set(10, 10)}, grid.WaveFrom, -1, "", time.Time{}, ""},
		{"primary wave period", grid.WavePeakPeriod, []func([]byte) []byte{set(10, 11)}, grid.WavePeakPeriod, -1, "", time.Time{}, ""},
		{"second swell by number", grid.SwellHeight, []func([]byte) []byte{set(10, 48)}, grid.SwellHeight, -1, "", time.Time{}, ""},
		{"surface pressure", grid.SeaLevelPressure, []func([]byte) []byte{set(10, 0), set(22, 1)}, grid.Other, -1, "", time.Time{}, ""},
		{"pressure at mean sea level", grid.SeaLevelPressure, []func([]byte) []byte{set(10, 0)}, grid.SeaLevelPressure, -1, "", time.Time{}, ""},
	} {
		f.Quantity = c.field
		b := mustEncode2(t, EncodeOptions{}, f)
		s := split2(b)
		for _, e := range c.edit {
			s[2] = e(s[2])
		}
		h := headerOf(t, join2(b[6], s...))
		valid := c.valid
		if valid.IsZero() {
			valid = f.Valid
		}
		if c.refused != "" {
			if h.Refused == nil || !strings.Contains(h.Refused.Error(), c.refused) {
				t.Errorf("%s: refused with %v, want %q", c.name, h.Refused, c.refused)
			}
			if strings.HasPrefix(h.Product, "4.1") && h.Quantity != grid.Other {
				t.Errorf("%s: is taken for %v", c.name, h.Quantity)
			}
			continue
		}
		if h.Refused != nil || h.Quantity != c.quantity || h.Member != c.member || h.EnsembleKind != c.kind || !h.Valid.Equal(valid) {
			t.Errorf("%s: %v member %d %q valid %v, refused %v; want %v, %d, %q, %v", c.name, h.Quantity, h.Member, h.EnsembleKind, h.Valid, h.Refused, c.quantity, c.member, c.kind, valid)
		}
	}
}

// TestRepeatedSections puts several fields into one message: sections 4 to 7
// repeated with the bitmap reused, then 3 to 7 with another grid, then 2 to 7.
func TestRepeatedSections(t *testing.T) {
	big := grid.Shape{South: -5, West: 100, DLat: 1, DLon: 1, NLat: 7, NLon: 8}
	fields := []*grid.Field{
		madeField(smallShape, grid.WindU, true),
		madeField(smallShape, grid.WindV, true), // the same points are missing
		madeField(smallShape, grid.Gust, false),
		madeField(big, grid.WindU, true),
		madeField(big, grid.WindV, false),
	}
	var s [][][]byte
	for _, f := range fields {
		s = append(s, split2(mustEncode2(t, EncodeOptions{}, f)))
	}
	local := append([]byte{0, 0, 0, 0, 2}, "what a centre adds"...)
	again := []byte{0, 0, 0, 0, 6, 254}
	list := [][]byte{s[0][0], local}
	list = append(list, s[0][1:]...)                      // 3 to 7
	list = append(list, s[1][2], s[1][3], again, s[1][5]) // 4 to 7, bitmap reused
	list = append(list, s[2][2:]...)                      // 4 to 7, no bitmap
	list = append(list, s[3][1:]...)                      // 3 to 7
	list = append(list, bytes.Clone(local))               // 2
	list = append(list, s[4][1:]...)                      // 3 to 7
	d := mustDecode(t, join2(0, list...))
	if len(d) != len(fields) {
		t.Fatalf("%d fields, want %d", len(d), len(fields))
	}
	for i, f := range fields {
		if err := sameField(d[i].Field, f, 1e-9, 1e-3); err != nil {
			t.Errorf("field %d: %v", i+1, err)
		}
		if d[i].Header.Sub != i+1 || d[i].Header.Message != 1 {
			t.Errorf("field %d is message %d, field %d", i+1, d[i].Header.Message, d[i].Header.Sub)
		}
	}
}

// TestBrokenOrder removes or doubles sections.
func TestBrokenOrder(t *testing.T) {
	b := mustEncode2(t, EncodeOptions{}, madeField(smallShape, grid.WindU, true))
	for _, drop := range []int{0, 1, 2, 3, 4, 5} {
		s := split2(b)
		s = append(s[:drop], s[drop+1:]...)
		d, _, err := Decode(join2(0, s...))
		var c *CorruptError
		if len(d) != 0 || !errors.As(err, &c) {
			t.Errorf("without section at %d: %d fields, %v", drop, len(d), err)
		}
	}
}

// TestRefusedGrids names grids that are not decoded.
func TestRefusedGrids(t *testing.T) {
	for template, name := range map[byte]string{
		1: "3.1 rotated", 10: "3.10 Mercator", 20: "3.20 polar", 30: "3.30 Lambert", 40: "3.40 Gaussian", 90: "3.90 space view", 100: "3.100 icosahedral", 101: "3.101 unstructured", 99: "3.99 unknown",
	} {
		s := split2(mustEncode2(t, EncodeOptions{}, madeField(smallShape, grid.WindU, false)))
		s[1][13] = template
		h := headerOf(t, join2(0, s...))
		var u *UnsupportedError
		if !errors.As(h.Refused, &u) || !strings.Contains(u.Error(), name) || u.Hint == "" {
			t.Errorf("template %d: %v", template, h.Refused)
		}
	}
	for kind, name := range map[byte]string{1: "Mercator", 3: "Lambert", 4: "Gaussian", 5: "polar stereographic", 10: "rotated", 192: "icosahedral", 77: "unknown"} {
		b := mustEncode1(t, EncodeOptions{}, madeField(smallShape, grid.WindU, false))
		b[8+28+5] = kind
		h := headerOf(t, b)
		var u *UnsupportedError
		if !errors.As(h.Refused, &u) || !strings.Contains(u.Error(), name) {
			t.Errorf("edition 1 type %d: %v", kind, h.Refused)
		}
	}
	b := mustEncode1(t, EncodeOptions{}, madeField(smallShape, grid.WindU, true))
	b[8+28+32+5] = 3
	if h := headerOf(t, b); h.Refused == nil || !strings.Contains(h.Refused.Error(), "bitmap number 3") {
		t.Errorf("predefined bitmap: %v", h.Refused)
	}
	b = mustEncode1(t, EncodeOptions{}, madeField(smallShape, grid.WindU, false))
	b[8+7] &^= 0x80
	b[8+6] = 3
	if h := headerOf(t, b); h.Refused == nil || !strings.Contains(h.Refused.Error(), "number 3 of the catalogue") {
		t.Errorf("catalogued grid: %v", h.Refused)
	}
}

// TestProducts1 rewrites the product section of edition 1.
func TestProducts1(t *testing.T) {
	f := madeField(smallShape, grid.WindU, false)
	ref := f.Reference
	for _, c := range []struct {
		name     string
		edit     func(p []byte)
		local    []byte
		quantity grid.Quantity
		part     int
		member   int
		kind     string
		valid    time.Time
		refused  string
	}{
		{"as written", func([]byte) {}, nil, grid.WindU, 0, -1, "", ref.Add(9 * time.Hour), ""},
		{"indicator 1", func(p []byte) { p[20] = 1 }, nil, grid.WindU, 0, -1, "", ref, ""},
		{"indicator 2 is no wind", func(p []byte) { p[19], p[20] = 12, 2 }, nil, grid.Other, 0, -1, "", ref.Add(12 * time.Hour), ""},
		{"indicator 2 gust", func(p []byte) { p[3], p[8], p[19], p[20] = 128, 49, 12, 2 }, nil, grid.Gust, 0, -1, "", ref.Add(12 * time.Hour), ""},
		{"indicator 3", func(p []byte) { p[19], p[20] = 12, 3 }, nil, grid.Other, 0, -1, "", ref.Add(12 * time.Hour), ""},
		{"indicator 4", func(p []byte) { p[19], p[20] = 12, 4 }, nil, grid.Other, 0, -1, "", ref.Add(12 * time.Hour), ""},
		{"indicator 5", func(p []byte) { p[19], p[20] = 12, 5 }, nil, grid.Other, 0, -1, "", ref.Add(12 * time.Hour), ""},
		{"indicator 10", func(p []byte) { p[18], p[19], p[20] = 1, 4, 10 }, nil, grid.WindU, 0, -1, "", ref.Add(260 * time.Hour), ""},
		{"indicator 113", func(p []byte) { p[20] = 113 }, nil, grid.WindU, 0, -1, "", ref, "time range indicator 113"},
		{"minutes", func(p []byte) { p[17] = 0 }, nil, grid.WindU, 0, -1, "", ref.Add(9 * time.Minute), ""},
		{"days", func(p []byte) { p[17] = 2 }, nil, grid.WindU, 0, -1, "", ref.Add(216 * time.Hour), ""},
		{"3 hours", func(p []byte) { p[17] = 10 }, nil, grid.WindU, 0, -1, "", ref.Add(27 * time.Hour), ""},
		{"6 hours", func(p []byte) { p[17] = 11 }, nil, grid.WindU, 0, -1, "", ref.Add(54 * time.Hour), ""},
		{"12 hours", func(p []byte) { p[17] = 12 }, nil, grid.WindU, 0, -1, "", ref.Add(108 * time.Hour), ""},
		{"quarters of an hour", func(p []byte) { p[17] = 13 }, nil, grid.WindU, 0, -1, "", ref.Add(135 * time.Minute), ""},
		{"seconds", func(p []byte) { p[17] = 254 }, nil, grid.WindU, 0, -1, "", ref.Add(9 * time.Second), ""},
		{"year 2000 is the end of a century", func(p []byte) { p[12], p[24], p[18] = 100, 20, 0 }, nil, grid.WindU, 0, -1, "", time.Date(2000, 3, 4, 6, 0, 0, 0, time.UTC), ""},
		{"13th month", func(p []byte) { p[13] = 13 }, nil, grid.WindU, 0, -1, "", ref, "date"},
		{"30 February", func(p []byte) { p[13], p[14] = 2, 30 }, nil, grid.WindU, 0, -1, "", ref, "date"},
		{"50 m wind", func(p []byte) { p[11] = 50 }, nil, grid.Other, 0, -1, "", ref.Add(9 * time.Hour), ""},
		{"wave model's wind at level 1/1", func(p []byte) { p[9], p[11] = 1, 1 }, nil, grid.WindU, 0, -1, "", ref.Add(9 * time.Hour), ""},
		{"third swell", func(p []byte) { p[8], p[9], p[11] = 105, 241, 3 }, nil, grid.SwellHeight, 3, -1, "", ref.Add(9 * time.Hour), ""},
		{"gust of NCEP", func(p []byte) { p[4], p[8], p[9], p[11] = 7, 180, 1, 0 }, nil, grid.Gust, 0, -1, "", ref.Add(9 * time.Hour), ""},
		{"code 180 of another centre", func(p []byte) { p[4], p[8], p[9], p[11] = 74, 180, 1, 0 }, nil, grid.Other, 0, -1, "", ref.Add(9 * time.Hour), ""},
		{"ECMWF waves", func(p []byte) { p[3], p[4], p[8], p[9] = 140, 98, 229, 102 }, nil, grid.WaveHeight, 0, -1, "", ref.Add(9 * time.Hour), ""},
		{"ECMWF member", func(p []byte) { p[4] = 98 }, []byte{1, 1, 11, 4, 11, '0', '0', '0', '1', 23, 50, 0}, grid.WindU, 0, 23, "member", ref.Add(9 * time.Hour), ""},
		{"ECMWF control", func(p []byte) { p[4] = 98 }, []byte{1, 1, 10, 4, 11, '0', '0', '0', '1', 0, 50, 0}, grid.WindU, 0, 0, "control", ref.Add(9 * time.Hour), ""},
		{"ECMWF forecast is no member", func(p []byte) { p[4] = 98 }, []byte{1, 1, 9, 4, 11, '0', '0', '0', '1', 0, 0, 0}, grid.WindU, 0, -1, "", ref.Add(9 * time.Hour), ""},
		{"ECMWF spread is no wind", func(p []byte) { p[4] = 98 }, []byte{1, 1, 18, 4, 11, '0', '0', '0', '1', 0, 50, 0}, grid.Other, 0, -1, "spread", ref.Add(9 * time.Hour), ""},
		{"ECMWF mean", func(p []byte) { p[4] = 98 }, []byte{1, 1, 17, 4, 11, '0', '0', '0', '1', 0, 50, 0}, grid.WindU, 0, -1, "mean", ref.Add(9 * time.Hour), ""},
		{"NCEP control", func(p []byte) { p[4], p[25] = 7, 2 }, []byte{1, 1, 2, 1, 255}, grid.WindU, 0, 0, "control", ref.Add(9 * time.Hour), ""},
		{"NCEP pair, positive", func(p []byte) { p[4], p[25] = 7, 2 }, []byte{1, 3, 2, 1, 255}, grid.WindU, 0, 3, "member", ref.Add(9 * time.Hour), ""},
		{"NCEP pair, negative", func(p []byte) { p[4], p[25] = 7, 2 }, []byte{1, 2, 2, 1, 255}, grid.WindU, 0, 4, "member", ref.Add(9 * time.Hour), ""},
	} {
		b := mustEncode1(t, EncodeOptions{}, f)
		c.edit(b[8:])
		if c.local != nil { // octets 29 to 40 are reserved
			more := append(make([]byte, 12), c.local...)
			b = append(b[:36:36], append(more, b[36:]...)...)
			b[10] = byte(28 + len(more))
			n := len(b)
			b[4], b[5], b[6] = byte(n>>16), byte(n>>8), byte(n)
		}
		h := headerOf(t, b)
		if c.refused != "" {
			if h.Refused == nil || !strings.Contains(h.Refused.Error(), c.refused) {
				t.Errorf("%s: refused with %v, want %q", c.name, h.Refused, c.refused)
			}
			continue
		}
		got := fmt.Sprint(h.Quantity, h.Partition, h.Member, h.EnsembleKind, h.Valid, h.Refused)
		if want := fmt.Sprint(c.quantity, c.part, c.member, c.kind, c.valid, error(nil)); got != want {
			t.Errorf("%s: %s; want %s", c.name, got, want)
		}
		if _, _, err := Decode(b); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// TestAllMissing has no value at all: every packing then gives a field of NaN.
func TestAllMissing(t *testing.T) {
	f := madeField(smallShape, grid.WaveHeight, false)
	for i := range f.Values {
		f.Values[i] = float32(math.NaN())
	}
	for p := range packings {
		b := mustEncode2(t, EncodeOptions{Packing: p}, f)
		if err := sameField(mustDecode(t, b)[0].Field, f, 1e-9, 0); err != nil {
			t.Errorf("%v: %v", p, err)
		}
	}
	// As other encoders write it: the template of the packing with 0 values.
	full := madeField(smallShape, grid.WaveHeight, true)
	for _, p := range []Packing{PackComplex, PackSecond, PackPNG, PackCCSDS} {
		s := split2(mustEncode2(t, EncodeOptions{Packing: p, Bits: 8}, full))
		clear(s[3][5:9])
		clear(s[4][6:])
		s[5] = s[5][:5]
		if p == PackComplex || p == PackSecond {
			clear(s[3][31:35])
			s[5] = append(s[5], make([]byte, 12)...)
		}
		if err := sameField(mustDecode(t, join2(10, s...))[0].Field, f, 1e-9, 0); err != nil {
			t.Errorf("%v without values: %v", p, err)
		}
	}
}
