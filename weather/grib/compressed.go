package grib

import (
	"foilledger/weather/grib/ccsds"
)

// unpackCCSDS decodes template 5.42.
func (s *scanner) unpackCCSDS(dst []float32, data []byte, sc scaling, c ccsds.Params) error {
	if cap(s.buf.ints) < len(dst) {
		s.buf.ints = make([]uint32, len(dst))
	}
	x := s.buf.ints[:len(dst)]
	if err := ccsds.Decode(x, data, c); err != nil {
		return err
	}
	a, b := sc.linear()
	for i, v := range x {
		dst[i] = float32(a + b*float64(int64(v)))
	}
	return nil
}
