package grib

import (
	"errors"
	"fmt"
)

// Flags of octet 14 of a data section with second-order packing.
const (
	secondMatrix    = 0x40
	secondBitmap    = 0x20
	secondWidths    = 0x10 // groups have different widths
	secondExtended  = 0x08 // general extended packing
	secondTurn      = 0x04 // rows run alternately
	secondOrderMask = 0x03 // of spatial differencing
	secondHead      = 25   // bytes of the section before the descriptors
)

// secondOrder is the general extended second-order packing of edition 1: groups
// with a first-order value each and second-order values of a width of its own,
// over differences of order 0 to 3. The layout is that of the ECMWF's GRIBEX
// library (octets 14 to 26 and the pointers N1, N2 and NL).
type secondOrder struct {
	scaling
	order      int
	groups     int
	firstWidth int
	widthBits  int
	lengthBits int
	diffBits   int
	// Where the parts start, in bytes behind the fixed part of the section.
	at, widths, lengthsAt, firstAt, secondAt int
}

// second1 sets the decoding of a data section with second-order packing; head
// is its beginning and n its length.
func (p *payload) second1(head []byte, sc scaling, pos, n int64) error {
	if n < secondHead+1 {
		return &CorruptError{p.msg, fmt.Sprintf("second-order data section of %d bytes", n)}
	}
	flags := head[13]
	kind := ""
	switch {
	case flags&secondMatrix != 0:
		kind = "of matrices"
	case flags&secondExtended == 0 && flags&secondBitmap != 0 && flags&secondWidths == 0:
		kind = "with constant width"
	case flags&secondExtended == 0 && flags&secondBitmap != 0:
		kind = "with secondary bitmap"
	case flags&secondExtended == 0:
		kind = "row by row"
	case flags&secondBitmap != 0 || flags&secondWidths == 0:
		kind = fmt.Sprintf("with flags %#x", flags)
	}
	if kind != "" {
		p.h.Packing = "second-order " + kind
		return &UnsupportedError{"packing", p.h.Packing + " (edition 1)", "repack with: grib_set -r -s packingType=grid_simple in out"}
	}
	u16 := func(i int) int { return int(head[i])<<8 | int(head[i+1]) }
	c := secondOrder{
		scaling: sc, order: int(flags & secondOrderMask), firstWidth: int(head[10]),
		groups:    u16(16) + int(head[20])<<16,
		widthBits: int(head[21]), lengthBits: int(head[22]),
		// The pointers count octets of the section from 1.
		firstAt: u16(11) - 1 - secondHead, secondAt: u16(14) - 1 - secondHead, lengthsAt: u16(23) - 1 - secondHead,
	}
	if c.order > 0 {
		c.diffBits = int(head[25])
		c.at = 1
	}
	c.widths = c.at + ((c.order+1)*c.diffBits+7)/8
	if c.order == 0 {
		c.widths = 0
	}
	size := int(n - secondHead)
	fits := func(at, width int) bool {
		return at >= 0 && width <= 32 && at+(c.groups*width+7)/8 <= size
	}
	if c.diffBits > 32 || !fits(c.widths, c.widthBits) || !fits(c.lengthsAt, c.lengthBits) || !fits(c.firstAt, c.firstWidth) || c.secondAt < 0 || c.secondAt > size {
		return &CorruptError{p.msg, "second-order descriptors do not fit the data section"}
	}
	wide := sc
	wide.bits = 63
	if err := wide.check(); err != nil {
		return &CorruptError{p.msg, err.Error()}
	}
	p.h.Packing = "second-order"
	if c.order > 0 {
		p.h.Packing += fmt.Sprintf(", differences of order %d", c.order)
	}
	if flags&secondTurn != 0 {
		p.lay.scan ^= scanTurn
	}
	p.dataAt, p.dataLen = pos+secondHead, n-secondHead
	p.unpack = func(dst []float32, data []byte) error { return unpackSecond(dst, data, c) }
	return nil
}

// unpackSecond decodes into dst; data starts behind the fixed part of the
// section and has padding behind it.
func unpackSecond(dst []float32, data []byte, c secondOrder) error {
	at := func(i int) bitReader {
		r := newBitReader(data)
		r.pos = 8 * i
		return r
	}
	var first [3]int64
	var bias int64
	if c.order > 0 {
		r := at(c.at)
		for i := range c.order {
			first[i] = int64(r.take(c.diffBits))
		}
		bias = signMagnitudeN(&r, c.diffBits)
	}
	if len(dst) < c.order {
		return errors.New("fewer values than orders of differencing")
	}
	a, b := c.linear()
	for i := range c.order {
		dst[i] = float32(a + b*float64(first[i]))
	}
	dst = dst[c.order:]
	// The last value and its last differences, up to order 3.
	var v, dv, ddv int64
	switch c.order {
	case 1:
		v = first[0]
	case 2:
		v, dv = first[1], first[1]-first[0]
	case 3:
		v, dv = first[2], first[2]-first[1]
		ddv = dv - (first[1] - first[0])
	}
	widths, lengths, refs, body := at(c.widths), at(c.lengthsAt), at(c.firstAt), at(c.secondAt)
	end := 8 * len(data)
	for range c.groups {
		width, length := int(widths.take(c.widthBits)), int64(lengths.take(c.lengthBits))
		ref := int64(refs.take(c.firstWidth)) + bias
		if length > int64(len(dst)) {
			return errGroups
		}
		if width > mostWidth || int64(body.pos)+length*int64(width) > int64(end) {
			return fmt.Errorf("group of %d values of %d bits does not fit", length, width)
		}
		out := dst[:length]
		dst = dst[length:]
		for i := range out {
			x := ref + int64(body.take(width))
			switch c.order {
			case 0:
				v = x
			case 1:
				v += x
			case 2:
				dv += x
				v += dv
			default:
				ddv += x
				dv += ddv
				v += dv
			}
			out[i] = float32(a + b*float64(v))
		}
	}
	if len(dst) != 0 {
		return errGroups
	}
	return nil
}
