package grib

import (
	"encoding/binary"
	"fmt"
	"math"

	"foilledger/weather/grib/ccsds"
)

// packing2 reads section 5 and sets how the values are decoded.
func (s *scanner) packing2(p *payload, b []byte) error {
	h := &p.h
	p.values = int64(binary.BigEndian.Uint32(b[5:]))
	template := int(binary.BigEndian.Uint16(b[9:]))
	name := packingName2[template]
	if name == "" {
		name = "unknown"
	}
	h.Packing = fmt.Sprintf("5.%d %s", template, name)
	least, ok := map[int]int{0: 21, 2: 47, 3: 49, 4: 12, 40: 23, 41: 21, 42: 25}[template]
	if !ok {
		return &UnsupportedError{"packing", h.Packing, repackHint}
	}
	if len(b) < least {
		return errShort
	}
	if template == 4 {
		size := int64(map[byte]int{1: 4, 2: 8}[b[11]])
		if size == 0 {
			return &UnsupportedError{"packing", fmt.Sprintf("5.4 IEEE with precision code %d", b[11]), ""}
		}
		h.Bits = int(8 * size)
		p.proven = func(n int64) bool { return p.values*size <= n }
		p.unpack = func(dst []float32, data []byte) error { return unpackIEEE(dst, data, int(size)) }
		return nil
	}
	sc := scaling{
		ref:  float64(math.Float32frombits(binary.BigEndian.Uint32(b[11:]))),
		bin:  signMagnitude16(b[15:]),
		dec:  signMagnitude16(b[17:]),
		bits: int(b[19]),
	}
	h.Bits = sc.bits
	if sc.bits > 32 {
		return fmt.Errorf("%d bits per value", sc.bits)
	}
	if err := sc.check(); err != nil {
		return err
	}
	simple := func(dst []float32, data []byte) error {
		unpackSimple(dst, data, sc)
		return nil
	}
	switch template {
	case 2, 3:
		return s.complex2(p, b, sc, template == 3)
	case 0:
		p.proven = func(n int64) bool { return p.values*int64(sc.bits) <= 8*n }
		p.unpack = simple
	case 40:
		p.peek = func(data []byte) error { return checkJPEG2000(data, p.values) }
		p.unpack = func(dst []float32, data []byte) error { return unpackJPEG2000(dst, data, sc) }
	case 41:
		// Deflate shrinks at most 1032 to 1 (P. Deutsch, RFC 1951, 1996: 258
		// bytes for two bits).
		p.proven = func(n int64) bool { return p.values <= 8*1032*n || sc.bits == 0 }
		p.peek = func(data []byte) error { return checkPNG(data, p.values) }
		p.unpack = func(dst []float32, data []byte) error { return unpackPNG(dst, data, sc) }
	case 42:
		c := ccsds.Params{BitsPerSample: sc.bits, Flags: int(b[21]), BlockSize: int(b[22]), RSI: int(binary.BigEndian.Uint16(b[23:]))}
		p.proven = func(n int64) bool {
			return sc.bits == 0 || p.values == 0 || p.values <= ccsds.MaxSamples(int(min(n, math.MaxInt32)), c)
		}
		p.unpack = func(dst []float32, data []byte) error { return s.unpackCCSDS(dst, data, sc, c) }
	}
	if sc.bits == 0 {
		// Every value is the reference value and there is no data.
		h.Packing += ", constant"
		p.unpack, p.peek = simple, nil
	} else if template == 40 || template == 41 {
		// The samples may be wider than section 5 states.
		wide := sc
		wide.bits = 32
		return wide.check()
	}
	return nil
}

// complex2 sets the decoding of templates 5.2 and 5.3.
func (s *scanner) complex2(p *payload, b []byte, sc scaling, differences bool) error {
	c, err := readComplex(b, sc, differences)
	if err != nil {
		return err
	}
	switch c.order {
	case 1:
		p.h.Packing = "5.3 complex, first-order differences"
	case 2:
		p.h.Packing = "5.3 complex, second-order differences"
	}
	if c.missing != 0 {
		p.h.Packing += fmt.Sprintf(", missing values %d", c.missing)
	}
	p.proven = func(n int64) bool { return c.headBytes() <= n }
	p.unpack = func(dst []float32, data []byte) error { return unpackComplex(dst, data, c) }
	return nil
}

// packingName2 names data templates, WMO code table 5.0.
var packingName2 = map[int]string{
	0: "simple", 1: "matrix", 2: "complex", 3: "complex, spatial differences", 4: "IEEE", 40: "JPEG 2000", 41: "PNG",
	42: "CCSDS", 50: "spectral simple", 51: "spectral complex", 61: "simple, logarithmic", 200: "run length",
	40000: "JPEG 2000 (old)", 40010: "PNG (old)",
}

const repackHint = "repack with: grib_set -r -s packingType=grid_ccsds in out"
