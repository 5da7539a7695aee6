package grib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// complexPacking is what data templates 5.2 and 5.3 state beyond the scaling:
// values lie in groups, each with its own reference and width (WMO-No. 306,
// templates 5.2 and 7.2, 5.3 and 7.3).
type complexPacking struct {
	scaling
	missing    int // missing value management: 0 none, 1 primary, 2 primary and secondary
	groups     int64
	widthRef   int64
	widthBits  int
	lengthRef  int64
	lengthInc  int64
	lastLength int64
	lengthBits int
	order      int // of spatial differencing: 0, 1 or 2
	octets     int // of each extra descriptor
}

const mostWidth = 32 // bits of one value in a group

// readComplex reads section 5 of template 5.2 (order 0) or 5.3.
func readComplex(b []byte, sc scaling, differences bool) (c complexPacking, err error) {
	u32 := func(i int) int64 { return int64(binary.BigEndian.Uint32(b[i:])) }
	c = complexPacking{
		scaling: sc, missing: int(b[22]), groups: u32(31),
		widthRef: int64(b[35]), widthBits: int(b[36]),
		lengthRef: u32(37), lengthInc: int64(b[41]), lastLength: u32(42), lengthBits: int(b[46]),
	}
	if b[21] != 1 {
		return c, &UnsupportedError{"group splitting method", fmt.Sprintf("%d", b[21]), ""}
	}
	if c.missing > 2 {
		return c, &UnsupportedError{"missing value management", fmt.Sprintf("%d", c.missing), ""}
	}
	if c.widthBits > 32 || c.lengthBits > 32 {
		return c, fmt.Errorf("%d and %d bits for group widths and lengths", c.widthBits, c.lengthBits)
	}
	top := c.bits + 1
	if differences {
		c.order, c.octets = int(b[47]), int(b[48])
		if c.order != 1 && c.order != 2 {
			return c, &UnsupportedError{"spatial differencing", fmt.Sprintf("of order %d", c.order), ""}
		}
		if c.octets > 4 {
			return c, fmt.Errorf("extra descriptors of %d bytes", c.octets)
		}
		top = 63 // sums of differences may reach any integer
	}
	wide := c.scaling
	wide.bits = top
	return c, wide.check()
}

// headBytes is the least size of the data: descriptors, and references, widths
// and lengths of the groups, each list filled up to whole bytes.
func (c complexPacking) headBytes() int64 {
	n := int64(0)
	if c.order > 0 {
		n = int64((c.order + 1) * c.octets)
	}
	for _, w := range []int{c.bits, c.widthBits, c.lengthBits} {
		n += (c.groups*int64(w) + 7) / 8
	}
	return n
}

var errGroups = errors.New("group lengths do not sum to the number of values")

// unpackComplex decodes into dst, missing values as NaN. data has padding
// behind it and holds at least c.headBytes().
func unpackComplex(dst []float32, data []byte, c complexPacking) error {
	if c.groups == 0 {
		// No groups and no data: every value is the reference value.
		if c.missing != 0 || len(data) > 0 && c.order == 0 {
			return errors.New("no groups")
		}
		c.bits = 0
		unpackSimple(dst, data, c.scaling)
		return nil
	}
	d := difference{order: c.order}
	r := newBitReader(data)
	for i := range c.order {
		d.first[i] = signMagnitudeN(&r, 8*c.octets)
	}
	if c.order > 0 {
		d.bias = signMagnitudeN(&r, 8*c.octets)
	}
	refs, widths, lengths := r, r, r
	widths.pos += int(c.groups) * c.bits
	widths.align()
	lengths.pos = widths.pos + int(c.groups)*c.widthBits
	lengths.align()
	body := lengths
	body.pos += int(c.groups) * c.lengthBits
	body.align()
	end := 8 * len(data)

	a, b := c.linear()
	nan := float32(math.NaN())
	for g := int64(1); g <= c.groups; g++ {
		ref := int64(refs.take(c.bits))
		width := int(c.widthRef) + int(widths.take(c.widthBits))
		length := c.lengthRef + c.lengthInc*int64(lengths.take(c.lengthBits))
		if g == c.groups {
			length = c.lastLength
		}
		if length > int64(len(dst)) {
			return errGroups
		}
		if width > mostWidth || body.pos+int(length)*width > end {
			return fmt.Errorf("group %d: %d values of %d bits do not fit", g, length, width)
		}
		out := dst[:length]
		dst = dst[length:]
		// The all-ones pattern, of the value's width or else of the reference's,
		// marks missing values.
		if c.missing != 0 {
			if width == 0 {
				top := int64(1)<<c.bits - 1
				if ref == top || c.missing == 2 && ref == top-1 {
					for i := range out {
						out[i] = nan
					}
					continue
				}
				for i := range out {
					out[i] = float32(a + b*float64(d.next(ref)))
				}
				continue
			}
			primary := int64(1)<<width - 1
			secondary := primary
			if c.missing == 2 {
				secondary--
			}
			for i := range out {
				x := int64(body.take(width))
				if x >= secondary {
					out[i] = nan
				} else {
					out[i] = float32(a + b*float64(d.next(ref+x)))
				}
			}
			continue
		}
		if d.seen < c.order { // the first values are descriptors, not sums
			for i := range out {
				out[i] = float32(a + b*float64(d.next(ref+int64(body.take(width)))))
			}
			continue
		}
		d.group(out, body.b, body.pos, width, ref, a, b)
		body.pos += int(length) * width
	}
	if len(dst) != 0 {
		return errGroups
	}
	return nil
}

// signMagnitudeN reads an integer of n bits whose first is the sign.
func signMagnitudeN(r *bitReader, n int) int64 {
	if n == 0 {
		return 0
	}
	v := int64(r.take(n))
	if sign := int64(1) << (n - 1); v&sign != 0 {
		return -(v &^ sign)
	}
	return v
}

// difference undoes spatial differencing over the values that are not missing.
type difference struct {
	order int
	seen  int
	first [2]int64
	bias  int64 // overall minimum of the differences
	v, dv int64 // last value and last first-order difference
}

// next turns the next unpacked integer into the value.
func (d *difference) next(x int64) int64 {
	switch {
	case d.order == 0:
		return x
	case d.seen < d.order:
		v := d.first[d.seen]
		d.dv = v - d.v
		d.v = v
		d.seen++
	case d.order == 1:
		d.v += x + d.bias
	default:
		d.dv += x + d.bias
		d.v += d.dv
	}
	return d.v
}

// group decodes a whole group without missing values, once the first values
// are known.
func (d *difference) group(out []float32, buf []byte, at, width int, ref int64, a, b float64) {
	if width == 0 {
		for i := range out {
			out[i] = float32(a + b*float64(d.next(ref)))
		}
		return
	}
	pos, w, shift := uint(at), uint(width), uint(64-width)
	switch d.order {
	case 0:
		for i := range out {
			x := binary.BigEndian.Uint64(buf[pos>>3:]) << (pos & 7) >> shift
			out[i] = float32(a + b*float64(ref+int64(x)))
			pos += w
		}
	case 1:
		v, add := d.v, ref+d.bias
		for i := range out {
			x := binary.BigEndian.Uint64(buf[pos>>3:]) << (pos & 7) >> shift
			v += add + int64(x)
			out[i] = float32(a + b*float64(v))
			pos += w
		}
		d.v = v
	default:
		v, dv, add := d.v, d.dv, ref+d.bias
		for i := range out {
			x := binary.BigEndian.Uint64(buf[pos>>3:]) << (pos & 7) >> shift
			dv += add + int64(x)
			v += dv
			out[i] = float32(a + b*float64(v))
			pos += w
		}
		d.v, d.dv = v, dv
	}
}
