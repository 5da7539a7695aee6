package grib

import (
	"encoding/binary"
	"fmt"
	"math"
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
	least, ok := map[int]int{0: 21, 4: 12}[template]
	if !ok {
		return &UnsupportedError{"packing", h.Packing, "repack with: grib_set -r -s packingType=grid_simple in out"}
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
	if sc.bits == 0 {
		h.Packing += ", constant"
	}
	p.proven = func(n int64) bool { return p.values*int64(sc.bits) <= 8*n }
	p.unpack = func(dst []float32, data []byte) error {
		unpackSimple(dst, data, sc)
		return nil
	}
	return nil
}

// packingName2 names data templates, WMO code table 5.0.
var packingName2 = map[int]string{
	0: "simple", 1: "matrix", 2: "complex", 3: "complex, spatial differences", 4: "IEEE", 40: "JPEG 2000", 41: "PNG",
	42: "CCSDS", 50: "spectral simple", 51: "spectral complex", 61: "simple, logarithmic", 200: "run length",
	40000: "JPEG 2000 (old)", 40010: "PNG (old)",
}
