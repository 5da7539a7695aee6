// Package jpeg2000 decodes the narrow profile of JPEG 2000 that weather services
// write into GRIB 2 (data representation template 5.40): one tile, one
// component of up to 24 bits, reversible 5/3 wavelet, no quantization, code
// blocks of the plain style. Anything else is refused by name.
//
// Source: ITU-T Recommendation T.800 (08/2002), JPEG 2000 image coding system:
// core coding system, the same text as ISO/IEC 15444-1. Annexes, tables and
// equations in this package refer to it.
package jpeg2000

import (
	"fmt"
)

// Hint is the command that turns a GRIB file with a refused profile into one
// that is read.
const Hint = "grib_set -r -s packingType=grid_ccsds in.grib2 out.grib2"

// UnsupportedError names a feature outside the profile.
type UnsupportedError struct {
	What string
	Hint string
}

func (e *UnsupportedError) Error() string {
	return fmt.Sprintf("JPEG 2000 stream with %s is not read; try: %s", e.What, e.Hint)
}

func unsupported(format string, a ...any) error {
	return &UnsupportedError{What: fmt.Sprintf(format, a...), Hint: Hint}
}

// CorruptError says that a stream is damaged or ends early.
type CorruptError struct {
	Offset int // byte in the stream
	What   string
}

func (e *CorruptError) Error() string {
	return fmt.Sprintf("JPEG 2000 stream is corrupt at byte %d: %s", e.Offset, e.What)
}

// Info is what the main header says of an image.
type Info struct {
	Width, Height int
	Bits          int // of a sample
	Signed        bool
}

// Describe reads the main header only, so that a caller can compare the size
// with the one that it expects before memory is set aside.
func Describe(b []byte) (Info, error) {
	b, base, err := unwrap(b)
	if err != nil {
		return Info{}, err
	}
	c, err := parse(b, base)
	if err != nil {
		return Info{}, err
	}
	return c.info(), nil
}

// The memory that a stream may ask for is bounded by its length: constant areas
// compress without limit, but a stream of a few bytes is no weather field of
// many millions of points.
const (
	freeSamples    = 1 << 22
	samplesPerByte = 4096
	freeBlocks     = 1 << 16
	blocksPerByte  = 16
)

// Decode returns the samples of an image, row by row from the top. It accepts a
// bare codestream or one in a JP2 file, uses all processors for large images,
// and returns the same samples on one or many.
func Decode(b []byte) (samples []int32, width, height int, err error) {
	b, base, err := unwrap(b)
	if err != nil {
		return nil, 0, 0, err
	}
	c, err := parse(b, base)
	if err != nil {
		return nil, 0, 0, err
	}
	in := c.info()
	if n := int64(in.Width) * int64(in.Height); n > freeSamples+samplesPerByte*int64(len(b)) {
		return nil, 0, 0, &CorruptError{base, fmt.Sprintf("%d samples claimed by %d bytes", n, len(b))}
	}
	t, err := newTile(c)
	if err != nil {
		return nil, 0, 0, err
	}
	if err := t.readPackets(); err != nil {
		return nil, 0, 0, err
	}
	t.decodeBlocks()
	t.inverseWavelet()
	t.levelShift()
	return t.samples, in.Width, in.Height, nil
}

// unwrap finds the codestream in a JP2 file (Annex I): a sequence of boxes, each
// with a length and a type.
func unwrap(b []byte) (codestream []byte, base int, err error) {
	if len(b) < 12 || string(b[4:8]) != "jP  " {
		return b, 0, nil
	}
	for at := 0; at+8 <= len(b); {
		n, head := uint64(be32(b[at:])), 8
		if n == 1 && at+16 <= len(b) {
			n, head = uint64(be32(b[at+8:]))<<32|uint64(be32(b[at+12:])), 16
		}
		if n == 0 {
			n = uint64(len(b) - at)
		}
		if n < uint64(head) || n > uint64(len(b)-at) {
			return nil, 0, &CorruptError{at, "box length"}
		}
		if string(b[at+4:at+8]) == "jp2c" {
			return b[at+head : at+int(n)], at + head, nil
		}
		at += int(n)
	}
	return nil, 0, &CorruptError{len(b), "no codestream in the JP2 file"}
}

func be16(b []byte) int { return int(b[0])<<8 | int(b[1]) }

func be32(b []byte) uint32 {
	return uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[2])<<8 | uint32(b[3])
}
