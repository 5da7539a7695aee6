package grib

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// padding is how many readable zero bytes follow packed data in memory.
const padding = 8

// signMagnitude16, 24, 32 and 8 read integers whose top bit is the sign.
func signMagnitude8(b byte) int {
	if b&0x80 != 0 {
		return -int(b & 0x7f)
	}
	return int(b)
}

func signMagnitude16(b []byte) int {
	v := int(binary.BigEndian.Uint16(b))
	if v&0x8000 != 0 {
		return -(v & 0x7fff)
	}
	return v
}

func signMagnitude24(b []byte) int {
	v := int(uint24(b))
	if v&0x800000 != 0 {
		return -(v & 0x7fffff)
	}
	return v
}

func signMagnitude32(b []byte) int64 {
	v := int64(binary.BigEndian.Uint32(b))
	if v&0x80000000 != 0 {
		return -(v & 0x7fffffff)
	}
	return v
}

func uint24(b []byte) uint32 {
	return uint32(b[0])<<16 | uint32(b[1])<<8 | uint32(b[2])
}

// ibmFloat reads the single precision float of the IBM System/360: sign, 7 bits
// of exponent to base 16 (excess 64), 24 bits of fraction (WMO-No. 306, part C,
// regulation 92.6.4). The result is exact.
func ibmFloat(b []byte) float64 {
	v := binary.BigEndian.Uint32(b)
	f := math.Ldexp(float64(v&0xffffff), 4*(int(v>>24&0x7f)-64)-24)
	if v>>31 != 0 {
		f = -f
	}
	return f
}

// putIBMFloat writes the largest IBM float that is ≤ v, so that a field's
// minimum never lies below its reference value. It reports false when |v| is
// out of range.
func putIBMFloat(b []byte, v float64) bool {
	if v == 0 {
		clear(b[:4])
		return true
	}
	a := math.Abs(v)
	exp := 64
	for a >= 1 {
		a /= 16
		exp++
	}
	for a < 1.0/16 && exp > 0 {
		a *= 16
		exp--
	}
	m := math.Floor(a * (1 << 24))
	if v < 0 {
		m = math.Ceil(a * (1 << 24))
	}
	if m >= 1<<24 {
		m /= 16
		exp++
	}
	if exp > 127 {
		return false
	}
	u := uint32(m) | uint32(exp)<<24
	if v < 0 {
		u |= 1 << 31
	}
	binary.BigEndian.PutUint32(b, u)
	return true
}

// bitReader takes unsigned integers of up to 57 bits from padded bytes.
// Reading past the end gives zeros and never panics.
type bitReader struct {
	b   []byte // with padding within the slice
	pos int    // in bits
}

// newBitReader reads from data, which must have padding behind it.
func newBitReader(data []byte) bitReader {
	return bitReader{b: data[:len(data)+padding]}
}

func (r *bitReader) take(n int) uint64 {
	i := r.pos >> 3
	if n == 0 || i > len(r.b)-8 {
		r.pos += n
		return 0
	}
	v := binary.BigEndian.Uint64(r.b[i:]) << (r.pos & 7) >> (64 - n)
	r.pos += n
	return v
}

// align moves to the next whole byte.
func (r *bitReader) align() { r.pos = (r.pos + 7) &^ 7 }

// countBits counts the set bits among the first n of b.
func countBits(b []byte, n int64) int64 {
	count := 0
	i := 0
	for ; int64(i+8)*8 <= n; i += 8 {
		count += bits.OnesCount64(binary.BigEndian.Uint64(b[i:]))
	}
	for ; int64(i+1)*8 <= n; i++ {
		count += bits.OnesCount8(b[i])
	}
	if rest := n - int64(i)*8; rest > 0 {
		count += bits.OnesCount8(b[i] >> (8 - rest))
	}
	return int64(count)
}

// spread moves the first n values of v, in order, to the points that bitmap
// marks and sets the others to NaN, in place from the end.
func spread(v []float32, n int64, bitmap []byte) {
	nan := float32(math.NaN())
	from := int(n)
	for to := len(v) - 1; to >= 0; to-- {
		if bitmap[to>>3]&(0x80>>(to&7)) != 0 {
			from--
			v[to] = v[from]
		} else {
			v[to] = nan
		}
	}
}
