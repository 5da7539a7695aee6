package grib

import (
	"errors"

	"foilledger/weather/grib/ccsds"
	"foilledger/weather/grib/jpeg2000"
)

// checkJPEG2000 compares the size of the image with the number of values.
func checkJPEG2000(data []byte, values int64) error {
	in, err := jpeg2000.Describe(data)
	if err != nil {
		return refusedJPEG2000(err)
	}
	return checkSize(in.Width, in.Height, values)
}

// unpackJPEG2000 decodes template 5.40: the integers are the samples of an
// image of one component, in the shape of the grid or, with a bitmap, as a
// single row. checkJPEG2000 has passed.
func unpackJPEG2000(dst []float32, data []byte, s scaling) error {
	img, _, _, err := jpeg2000.Decode(data)
	if err != nil {
		return refusedJPEG2000(err)
	}
	a, b := s.linear()
	for i, x := range img[:len(dst)] {
		dst[i] = float32(a + b*float64(x))
	}
	return nil
}

// refusedJPEG2000 turns the refusal of a profile into ours.
func refusedJPEG2000(err error) error {
	var u *jpeg2000.UnsupportedError
	if errors.As(err, &u) {
		return &UnsupportedError{"packing", "5.40 JPEG 2000 with " + u.What, repackHint}
	}
	return err
}

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
