package grib

import (
	"encoding/binary"
	"fmt"
	"math"
)

// scaling turns packed integers X into values: (R + X·2^E)·10^−D, WMO-No. 306,
// regulations 92.9.4 (edition 2) and 92.6 (edition 1).
type scaling struct {
	ref  float64
	bin  int // E
	dec  int // D
	bits int
}

// linear returns a and b so that the value is a + b·X.
func (s scaling) linear() (a, b float64) {
	d := math.Pow(10, -float64(s.dec))
	return s.ref * d, math.Ldexp(d, s.bin)
}

// check refuses scalings that cannot give finite values.
func (s scaling) check() error {
	a, b := s.linear()
	if s.bits == 0 {
		a, b = s.ref, 0
	}
	top := a + b*(math.Ldexp(1, s.bits)-1)
	if !(math.Abs(a) <= math.MaxFloat32 && math.Abs(top) <= math.MaxFloat32) {
		return fmt.Errorf("reference value %g, scales 2^%d and 10^%d with %d bits give no finite values", s.ref, s.bin, -s.dec, s.bits)
	}
	return nil
}

// unpackSimple decodes len(dst) integers of s.bits bits each. data must have
// padding behind it and hold them all.
func unpackSimple(dst []float32, data []byte, s scaling) {
	a, b := s.linear()
	n := len(dst)
	switch s.bits {
	case 0:
		// A constant field holds its value itself, whatever D says: the common
		// encoders leave D as it was and write the plain value.
		v := float32(s.ref)
		for i := range dst {
			dst[i] = v
		}
	case 8:
		// One table look-up instead of one multiplication.
		var table [256]float32
		for i := range table {
			table[i] = float32(a + b*float64(i))
		}
		for i, x := range data[:n] {
			dst[i] = table[x]
		}
	case 16:
		data = data[:2*n]
		for i := range dst {
			dst[i] = float32(a + b*float64(binary.BigEndian.Uint16(data[2*i:])))
		}
	default:
		unpackBits(dst, data, uint(s.bits), a, b)
	}
}

// unpackBits is the general case, 1 to 32 bits. One unaligned load of eight
// bytes holds at least 57 wanted bits: four values of up to 14 bits, two of up
// to 28, or one.
func unpackBits(dst []float32, data []byte, w uint, a, b float64) {
	buf := data[:len(data)+padding]
	shift := 64 - w
	pos := uint(0)
	switch {
	case w <= 14:
		for ; len(dst) >= 4; dst = dst[4:] {
			x := binary.BigEndian.Uint64(buf[pos>>3:]) << (pos & 7)
			x0 := x >> (shift & 63)
			x <<= w & 63
			x1 := x >> (shift & 63)
			x <<= w & 63
			x2 := x >> (shift & 63)
			x <<= w & 63
			x3 := x >> (shift & 63)
			d := (*[4]float32)(dst)
			d[0] = float32(a + b*float64(int32(x0)))
			d[1] = float32(a + b*float64(int32(x1)))
			d[2] = float32(a + b*float64(int32(x2)))
			d[3] = float32(a + b*float64(int32(x3)))
			pos += 4 * w
		}
	case w <= 28:
		for ; len(dst) >= 2; dst = dst[2:] {
			x := binary.BigEndian.Uint64(buf[pos>>3:]) << (pos & 7)
			x0 := x >> (shift & 63)
			x <<= w & 63
			x1 := x >> (shift & 63)
			d := (*[2]float32)(dst)
			d[0] = float32(a + b*float64(int32(x0)))
			d[1] = float32(a + b*float64(int32(x1)))
			pos += 2 * w
		}
	}
	for i := range dst {
		x := binary.BigEndian.Uint64(buf[pos>>3:]) << (pos & 7) >> (shift & 63)
		dst[i] = float32(a + b*float64(int64(x)))
		pos += w
	}
}

// unpackIEEE decodes template 5.4; size is 4 or 8 bytes.
func unpackIEEE(dst []float32, data []byte, size int) error {
	for i := range dst {
		var v float32
		if size == 4 {
			v = math.Float32frombits(binary.BigEndian.Uint32(data[4*i:]))
		} else {
			v = float32(math.Float64frombits(binary.BigEndian.Uint64(data[8*i:])))
		}
		if v-v != 0 { // NaN or infinite
			v = float32(math.NaN())
		}
		dst[i] = v
	}
	return nil
}
