// Package ccsds codes and decodes the lossless data compression of CCSDS
// 121.0-B (adaptive entropy coding after Rice), as GRIB 2 uses it in data
// representation template 5.42.
//
// Source: CCSDS 121.0-B-3, Lossless Data Compression, Blue Book, August 2020.
// Section numbers in this package refer to it. Flag values are those of GRIB 2
// code table 5.42's octet 22 (WMO Manual on Codes I.2, template 5.42).
package ccsds

import "fmt"

// Flags of Params. They are the bits of octet 22 of template 5.42.
const (
	FlagSigned     = 1  // samples are signed
	Flag3Byte      = 2  // byte layout of the producer's buffer; no effect on the stream
	FlagMSB        = 4  // byte order of the producer's buffer; no effect on the stream
	FlagPreprocess = 8  // unit-delay predictor and mapper precede the coder
	FlagRestricted = 16 // short option identifiers for samples of up to 4 bits
	FlagPadRSI     = 32 // each reference sample interval starts on a byte
	FlagNotEnforce = 64 // block sizes outside 8, 16, 32 and 64 may occur
)

// Params are the constants of one coded stream; it does not carry them itself.
type Params struct {
	BitsPerSample int // 1 to 32
	BlockSize     int // samples per block: 8, 16, 32 or 64; with FlagNotEnforce any even number to 256
	RSI           int // blocks per reference sample interval, 1 to 65535
	Flags         int // sum of the Flag constants
}

// CorruptError says that a stream cannot be what its parameters claim.
type CorruptError struct {
	Sample int // index of the first sample that could not be decoded
	What   string
}

func (e *CorruptError) Error() string {
	return fmt.Sprintf("CCSDS stream is corrupt at sample %d: %s", e.Sample, e.What)
}

// ParamError says that a parameter is outside what the standard allows.
type ParamError struct {
	Name  string
	Value int
	Want  string
}

func (e *ParamError) Error() string {
	return fmt.Sprintf("CCSDS %s is %d, must be %s", e.Name, e.Value, e.Want)
}

const (
	segmentBlocks = 64 // a run of zero blocks never crosses a multiple of it (section 3.4.3)
	restOfSegment = 5  // fundamental sequence value that means "to the end of the segment"
)

// coder holds what the parameters imply.
type coder struct {
	n, j, rsi  int
	idLen      uint
	maxID      uint32 // identifier of the uncompressed option
	xmax       uint32 // largest mapped value
	preprocess bool
	signed     bool
	padRSI     bool
}

func (p Params) coder() (coder, error) {
	c := coder{n: p.BitsPerSample, j: p.BlockSize, rsi: p.RSI}
	if c.n < 1 || c.n > 32 {
		return c, &ParamError{"bits per sample", c.n, "1 to 32"}
	}
	if p.Flags&FlagNotEnforce != 0 {
		if c.j < 2 || c.j > 256 || c.j%2 != 0 {
			return c, &ParamError{"block size", c.j, "an even number from 2 to 256"}
		}
	} else if c.j != 8 && c.j != 16 && c.j != 32 && c.j != 64 {
		return c, &ParamError{"block size", c.j, "8, 16, 32 or 64"}
	}
	if c.rsi < 1 || c.rsi > 65535 {
		return c, &ParamError{"reference sample interval", c.rsi, "1 to 65535 blocks"}
	}
	switch {
	case c.n > 16:
		c.idLen = 5
	case c.n > 8:
		c.idLen = 4
	case p.Flags&FlagRestricted == 0:
		c.idLen = 3
	case c.n > 4:
		return c, &ParamError{"bits per sample", c.n, "at most 4 with the restricted set of options"}
	case c.n > 2:
		c.idLen = 2
	default:
		c.idLen = 1
	}
	c.maxID = 1<<c.idLen - 1
	c.xmax = uint32(1<<uint(c.n) - 1)
	c.preprocess = p.Flags&FlagPreprocess != 0
	c.signed = p.Flags&FlagSigned != 0
	c.padRSI = p.Flags&FlagPadRSI != 0
	return c, nil
}

// MaxSamples returns an upper bound of the number of samples that a stream of
// the given length can hold, so that a claimed count can be refused before
// memory is set aside for it.
func MaxSamples(streamBytes int, p Params) int64 {
	c, err := p.coder()
	if err != nil || streamBytes <= 0 {
		return 0
	}
	// The densest codes are a run of zero blocks (identifier, one bit, and a
	// fundamental sequence) and, for tiny blocks, the second extension with
	// two samples to a bit.
	total := int64(streamBytes) * 8
	most := 2*total + int64(c.j)
	for blocks := 1; blocks <= min(segmentBlocks, c.rsi); blocks++ {
		cost := int64(c.idLen) + 1 + int64(min(blocks, restOfSegment))
		most = max(most, (total/cost+1)*int64(blocks*c.j))
	}
	return most
}
