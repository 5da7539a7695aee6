package grib

import (
	"bytes"
	"fmt"
	"io"
	"math"

	"foilledger/weather/grid"
)

// code1 is where and as what a quantity is written in edition 1: a parameter
// of table 2 and a level.
type code1 struct {
	number, kind byte
	value        int
}

// place1 is the inverse of quantity1 for table 2.
var place1 = map[grid.Quantity]code1{
	grid.WindU:            {33, 105, 10},
	grid.WindV:            {34, 105, 10},
	grid.WindSpeed:        {32, 105, 10},
	grid.WindFrom:         {31, 105, 10},
	grid.WaveHeight:       {100, 1, 0},
	grid.WavePeakPeriod:   {108, 1, 0},
	grid.WaveFrom:         {107, 1, 0},
	grid.WindSeaHeight:    {102, 1, 0},
	grid.WindSeaPeriod:    {103, 1, 0},
	grid.WindSeaFrom:      {101, 1, 0},
	grid.SwellHeight:      {105, 1, 0},
	grid.SwellPeriod:      {106, 1, 0},
	grid.SwellFrom:        {104, 1, 0},
	grid.CurrentU:         {49, 1, 0},
	grid.CurrentV:         {50, 1, 0},
	grid.SeaLevelPressure: {2, 102, 0},
}

// Encode1 writes each field as one GRIB edition 1 message: regular
// latitude/longitude grid with rows from south to north, simple packing, NaN as
// a bitmap. Positions are rounded to 0.001 degrees; reference times must be
// whole minutes, steps at most 65535 hours or minutes. Members have no place in
// this form and are refused.
func Encode1(w io.Writer, fields []*grid.Field, opt EncodeOptions) error {
	var out bytes.Buffer
	for i, f := range fields {
		out.Reset()
		if err := encode1(&out, f, opt); err != nil {
			return fmt.Errorf("field %d (%v): %w", i+1, f.Quantity, err)
		}
		if _, err := w.Write(out.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func encode1(out *bytes.Buffer, f *grid.Field, opt EncodeOptions) error {
	at, ok := place1[f.Quantity]
	if !ok {
		return &UnsupportedError{What: "quantity", Template: f.Quantity.String() + " in edition 1"}
	}
	if f.Partition != 0 {
		if f.Partition < 0 || f.Partition > 255 || at.number < 104 || at.number > 106 {
			return fmt.Errorf("partition %d", f.Partition)
		}
		at.kind, at.value = 241, f.Partition
	}
	if opt.Packing != PackSimple {
		return &UnsupportedError{What: "packing", Template: fmt.Sprintf("%v in edition 1", opt.Packing)}
	}
	if f.Member >= 0 {
		return &UnsupportedError{What: "ensemble member", Template: "in edition 1", Hint: "write edition 2"}
	}
	if err := checkField(f); err != nil {
		return err
	}
	if f.NLat >= 0xffff || f.NLon >= 0xffff {
		return fmt.Errorf("grid of %d x %d", f.NLon, f.NLat)
	}
	if f.NLat > 1 && f.DLat >= 65 || f.NLon > 1 && f.DLon >= 65 {
		return fmt.Errorf("grid steps %g, %g degrees", f.DLat, f.DLon)
	}
	present, bitmap := split(f.Values)
	q, err := quantiseTo(present, opt, floorIBM)
	if err != nil {
		return err
	}
	out.WriteString("GRIB\x00\x00\x00\x01")
	if err := product1(out, f, at, q.dec, bitmap != nil, opt.Centre); err != nil {
		return err
	}
	gridSection1(out, f.Shape)
	if bitmap != nil {
		u24(out, 6+len(bitmap))
		u8(out, byte(8*len(bitmap)-len(f.Values)), 0, 0)
		out.Write(bitmap)
	}
	packed := packBits(q.x, q.bits)
	unused := 8*len(packed) - len(q.x)*q.bits
	if (bds1Min+len(packed))%2 == 1 { // sections have an even length
		packed = append(packed, 0)
		unused += 8
	}
	u24(out, bds1Min+len(packed))
	u8(out, byte(unused))
	s16(out, q.bin)
	var ref [4]byte
	if !putIBMFloat(ref[:], q.ref) {
		return fmt.Errorf("reference value %g", q.ref)
	}
	out.Write(ref[:])
	u8(out, byte(q.bits))
	out.Write(packed)
	out.WriteString("7777")
	b := out.Bytes()
	if len(b) >= 1<<23 {
		return fmt.Errorf("message of %d bytes is too long for edition 1", len(b))
	}
	b[4], b[5], b[6] = byte(len(b)>>16), byte(len(b)>>8), byte(len(b))
	return nil
}

func u24(out *bytes.Buffer, v int) { u8(out, byte(v>>16), byte(v>>8), byte(v)) }

func s24(out *bytes.Buffer, v int64) {
	if v < 0 {
		v = -v | 0x800000
	}
	u24(out, int(v))
}

// product1 writes the product section.
func product1(out *bytes.Buffer, f *grid.Field, at code1, dec int, bitmap bool, centre int) error {
	t := f.Reference.UTC()
	if t.Second() != 0 || t.Year() < 1 || t.Year() > 9999 {
		return fmt.Errorf("reference time %v", t)
	}
	step, unit := f.Valid.Unix()-f.Reference.Unix(), byte(1)
	if step%3600 == 0 {
		step /= 3600
	} else if step%60 == 0 {
		step, unit = step/60, 0
	} else {
		unit = 254
	}
	if step < 0 || step > 0xffff {
		return fmt.Errorf("step of %d units %d", step, unit)
	}
	if centre == 0 || centre > 255 {
		centre = 255
	}
	flags := byte(0x80)
	if bitmap {
		flags |= 0x40
	}
	u24(out, pds1Min)
	u8(out, 2, byte(centre), 255, 255, flags, at.number, at.kind)
	u16(out, at.value)
	century := (t.Year()-1)/100 + 1
	u8(out, byte(t.Year()-(century-1)*100), byte(t.Month()), byte(t.Day()), byte(t.Hour()), byte(t.Minute()), unit)
	if step <= 255 {
		u8(out, byte(step), 0, 0)
	} else {
		u16(out, int(step))
		u8(out, 10)
	}
	u16(out, 0)
	u8(out, 0, byte(century), 0)
	s16(out, dec)
	return nil
}

func gridSection1(out *bytes.Buffer, s grid.Shape) {
	milli := func(v float64) int64 { return int64(math.Round(v * 1e3)) }
	around := func(lon float64) int64 { // −180 to 180 degrees
		v := milli(lon) % 360e3
		if v > 180e3 {
			v -= 360e3
		}
		if v < -180e3 {
			v += 360e3
		}
		return v
	}
	u24(out, gds1Min)
	u8(out, 0, 255, 0)
	u16(out, s.NLon)
	u16(out, s.NLat)
	s24(out, milli(s.South))
	s24(out, around(s.West))
	u8(out, 0x80)
	s24(out, milli(s.South+float64(s.NLat-1)*s.DLat))
	s24(out, around(s.West+float64(s.NLon-1)*s.DLon))
	u16(out, int(milli(s.DLon)))
	u16(out, int(milli(s.DLat)))
	u8(out, scanNorth, 0, 0, 0, 0)
}

// floorIBM is the largest IBM float that is ≤ v.
func floorIBM(v float64) (float64, bool) {
	var b [4]byte
	if !putIBMFloat(b[:], v) {
		return 0, false
	}
	return ibmFloat(b[:]), true
}
