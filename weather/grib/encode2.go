package grib

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"time"

	"foilledger/weather/grid"
)

// Packing chooses how Encode2 stores values.
type Packing int

// The packings that Encode2 writes. Constant fields always become template 5.0
// without data.
const (
	PackSimple  Packing = iota // template 5.0
	PackIEEE                   // template 5.4, 32 bits, exact
	PackComplex                // template 5.2
	PackFirst                  // template 5.3, first-order differences
	PackSecond                 // template 5.3, second-order differences
	PackPNG                    // template 5.41, at most 16 bits
	PackCCSDS                  // template 5.42
	packings
)

func (p Packing) String() string {
	if p < 0 || p >= packings {
		return fmt.Sprintf("packing(%d)", int(p))
	}
	return [packings]string{"simple", "ieee", "complex", "complex-first", "complex-second", "png", "ccsds"}[p]
}

// EncodeOptions says how fields are written. The zero value writes simple
// packing of 16 bits.
type EncodeOptions struct {
	Packing Packing
	// Precision is the largest step between neighbouring packed values in the
	// unit of the field, as 0.01 for 1 cm/s; the step becomes the next lower
	// power of ten and the number of bits what the range needs. 0 leaves it to
	// Bits.
	Precision float64
	// Bits per value, 1 to 24, when Precision is 0; 0 means 16.
	Bits int
	// Centre is the originating centre; 0 means 255, unknown.
	Centre int
	// Members is the size of the ensemble written with members; 0 means one
	// more than the highest member among the fields.
	Members int
}

// Encode2 writes each field as one GRIB edition 2 message: grid template 3.0,
// product template 4.0 or, for members, 4.1, rows from south to north, NaN as a
// bitmap. The same fields and options give the same bytes. Positions are
// rounded to 1e-6 degrees and times to seconds.
func Encode2(w io.Writer, fields []*grid.Field, opt EncodeOptions) error {
	if opt.Members == 0 {
		for _, f := range fields {
			opt.Members = max(opt.Members, f.Member+1)
		}
	}
	var out bytes.Buffer
	for i, f := range fields {
		out.Reset()
		if err := encode2(&out, f, opt); err != nil {
			return fmt.Errorf("field %d (%v): %w", i+1, f.Quantity, err)
		}
		if _, err := w.Write(out.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

// place is where and as what a quantity is written.
type place struct {
	discipline, category, number byte
	surface                      byte
	value                        uint32 // of the surface, when it has one
}

// place2 is the inverse of quantity2.
var place2 = map[grid.Quantity]place{
	grid.WindU:            {0, 2, 2, 103, 10},
	grid.WindV:            {0, 2, 3, 103, 10},
	grid.WindSpeed:        {0, 2, 1, 103, 10},
	grid.WindFrom:         {0, 2, 0, 103, 10},
	grid.Gust:             {0, 2, 22, 103, 10},
	grid.WaveHeight:       {10, 0, 3, 1, 0},
	grid.WavePeakPeriod:   {10, 0, 34, 1, 0},
	grid.WaveMeanPeriod:   {10, 0, 15, 1, 0},
	grid.WaveFrom:         {10, 0, 14, 1, 0},
	grid.WindSeaHeight:    {10, 0, 5, 1, 0},
	grid.WindSeaPeriod:    {10, 0, 6, 1, 0},
	grid.WindSeaFrom:      {10, 0, 4, 1, 0},
	grid.SwellHeight:      {10, 0, 8, 1, 0},
	grid.SwellPeriod:      {10, 0, 9, 1, 0},
	grid.SwellFrom:        {10, 0, 7, 1, 0},
	grid.CurrentU:         {10, 1, 2, 160, 0},
	grid.CurrentV:         {10, 1, 3, 160, 0},
	grid.SeaLevelPressure: {0, 3, 1, 101, 0},
}

func encode2(out *bytes.Buffer, f *grid.Field, opt EncodeOptions) error {
	at, ok := place2[f.Quantity]
	if !ok {
		return &UnsupportedError{What: "quantity", Template: f.Quantity.String()}
	}
	if f.Partition != 0 {
		if f.Quantity != grid.SwellHeight && f.Quantity != grid.SwellPeriod && f.Quantity != grid.SwellFrom || f.Partition < 0 || f.Partition > 255 {
			return fmt.Errorf("partition %d", f.Partition)
		}
		at.surface, at.value = 241, uint32(f.Partition)
	}
	if err := checkField(f); err != nil {
		return err
	}
	// Section 0; the length follows at the end.
	out.WriteString("GRIB\x00\x00")
	out.Write([]byte{at.discipline, 2})
	out.Write(make([]byte, 8))
	centre := opt.Centre
	if centre == 0 {
		centre = 255
	}
	identification2(out, f, centre)
	if err := gridSection2(out, f.Shape); err != nil {
		return err
	}
	if err := productSection2(out, f, at, opt); err != nil {
		return err
	}
	if err := dataSections2(out, f, opt); err != nil {
		return err
	}
	out.WriteString("7777")
	b := out.Bytes()
	binary.BigEndian.PutUint64(b[8:], uint64(len(b)))
	return nil
}

// checkField refuses what no message can hold.
func checkField(f *grid.Field) error {
	if f.NLat < 1 || f.NLon < 1 || len(f.Values) != f.NLat*f.NLon || int64(len(f.Values)) > math.MaxInt32 {
		return fmt.Errorf("%d values for a grid of %d x %d", len(f.Values), f.NLon, f.NLat)
	}
	north := f.South + float64(f.NLat-1)*f.DLat
	if !(f.South >= -90 && north <= 90+1e-6) || !(f.West >= -360 && f.West < 360) {
		return fmt.Errorf("grid from latitude %g to %g and from longitude %g", f.South, north, f.West)
	}
	if f.NLat > 1 && !(f.DLat > 0) || f.NLon > 1 && !(f.DLon > 0 && f.DLon*float64(f.NLon-1) <= 360+1e-6) {
		return fmt.Errorf("grid steps %g, %g degrees", f.DLat, f.DLon)
	}
	if f.Member < -1 || f.Member > 254 {
		return fmt.Errorf("member %d", f.Member)
	}
	for i, v := range f.Values {
		if math.IsInf(float64(v), 0) {
			return fmt.Errorf("value %d is infinite", i)
		}
	}
	return nil
}

func u8(out *bytes.Buffer, v ...byte) { out.Write(v) }
func u16(out *bytes.Buffer, v int)    { out.Write(binary.BigEndian.AppendUint16(nil, uint16(v))) }
func u32(out *bytes.Buffer, v int64)  { out.Write(binary.BigEndian.AppendUint32(nil, uint32(v))) }

// s32 writes a sign-magnitude integer.
func s32(out *bytes.Buffer, v int64) {
	if v < 0 {
		v = -v | 0x80000000
	}
	u32(out, v)
}

func s16(out *bytes.Buffer, v int) {
	if v < 0 {
		v = -v | 0x8000
	}
	u16(out, v)
}

func identification2(out *bytes.Buffer, f *grid.Field, centre int) {
	u32(out, 21)
	u8(out, 1)
	u16(out, centre)
	u16(out, 0)
	kind := byte(1) // forecast products
	switch {
	case f.Member == 0:
		kind = 3
	case f.Member > 0:
		kind = 4
	}
	t := f.Reference.UTC()
	u8(out, 21, 0, 1) // tables version, no local tables, time is the start of the forecast
	u16(out, t.Year())
	u8(out, byte(t.Month()), byte(t.Day()), byte(t.Hour()), byte(t.Minute()), byte(t.Second()), 0, kind)
}

func microDegrees(v float64) int64 { return int64(math.Round(v * 1e6)) }

func gridSection2(out *bytes.Buffer, s grid.Shape) error {
	u32(out, 72)
	u8(out, 3, 0)
	u32(out, int64(s.NLat)*int64(s.NLon))
	u8(out, 0, 0)
	u16(out, 0)
	u8(out, 6, 255) // sphere of radius 6371229 m
	u32(out, math.MaxUint32)
	u8(out, 255)
	u32(out, math.MaxUint32)
	u8(out, 255)
	u32(out, math.MaxUint32)
	u32(out, int64(s.NLon))
	u32(out, int64(s.NLat))
	u32(out, 0)
	u32(out, math.MaxUint32)
	east := func(lon float64) int64 {
		v := microDegrees(lon) % 360e6
		if v < 0 {
			v += 360e6
		}
		return v
	}
	s32(out, microDegrees(s.South))
	s32(out, east(s.West))
	u8(out, 0x30)
	s32(out, microDegrees(s.South+float64(s.NLat-1)*s.DLat))
	s32(out, east(s.West+float64(s.NLon-1)*s.DLon))
	u32(out, microDegrees(s.DLon))
	u32(out, microDegrees(s.DLat))
	u8(out, scanNorth)
	return nil
}

func productSection2(out *bytes.Buffer, f *grid.Field, at place, opt EncodeOptions) error {
	step := f.Valid.Unix() - f.Reference.Unix()
	unit := byte(13)
	switch {
	case step%3600 == 0:
		unit, step = 1, step/3600
	case step%60 == 0:
		unit, step = 0, step/60
	}
	if step > math.MaxInt32 || step < -math.MaxInt32 {
		return fmt.Errorf("valid %v for a run of %v", f.Valid.Format(time.RFC3339), f.Reference.Format(time.RFC3339))
	}
	length, template, process := int64(34), 0, byte(2)
	if f.Member >= 0 {
		length, template, process = 37, 1, 4
	}
	u32(out, length)
	u8(out, 4)
	u16(out, 0)
	u16(out, template)
	u8(out, at.category, at.number, process, 255, 255)
	u16(out, 0xffff)
	u8(out, 255, unit)
	s32(out, step)
	u8(out, at.surface)
	switch at.surface {
	case 103, 160, 241:
		u8(out, 0)
		u32(out, int64(at.value))
	default:
		u8(out, 255)
		u32(out, math.MaxUint32)
	}
	u8(out, 255, 255)
	u32(out, math.MaxUint32)
	if f.Member >= 0 {
		kind := byte(3)
		if f.Member == 0 {
			kind = 1
		}
		u8(out, kind, byte(f.Member), byte(min(opt.Members, 255)))
	}
	return nil
}
