package jpeg2000

import "fmt"

// Markers (table A.2).
const (
	markSOC = 0xff4f
	markSIZ = 0xff51
	markCOD = 0xff52
	markCOC = 0xff53
	markTLM = 0xff55
	markPLM = 0xff57
	markPLT = 0xff58
	markQCD = 0xff5c
	markQCC = 0xff5d
	markRGN = 0xff5e
	markPOC = 0xff5f
	markPPM = 0xff60
	markPPT = 0xff61
	markCRG = 0xff63
	markCOM = 0xff64
	markSOT = 0xff90
	markSOP = 0xff91
	markEPH = 0xff92
	markSOD = 0xff93
	markEOC = 0xffd9
)

// Progression orders (table A.16).
const (
	orderLRCP = iota
	orderRLCP
	orderRPCL
	orderPCRL
	orderCPRL
)

// codestream is a parsed main header and the bodies of the tile-parts.
type codestream struct {
	x0, y0, x1, y1 int // image area on the reference grid
	bits           int
	signed         bool

	order      int
	layers     int
	levels     int    // decompositions
	xcb, ycb   int    // log2 of the code block size
	precincts  []byte // exponents by resolution, nil for the largest
	guard      int
	exponents  []int // by subband
	body       []byte
	bodyOffset int // of the first tile-part's body in the input, for messages
}

func (c *codestream) info() Info {
	return Info{Width: c.x1 - c.x0, Height: c.y1 - c.y0, Bits: c.bits, Signed: c.signed}
}

// parse reads the headers. base is where b starts in the caller's bytes.
func parse(b []byte, base int) (*codestream, error) {
	corrupt := func(at int, what string) error { return &CorruptError{base + at, what} }
	if len(b) < 4 || be16(b) != markSOC || be16(b[2:]) != markSIZ {
		return nil, corrupt(0, "no JPEG 2000 codestream")
	}
	c := &codestream{}
	var haveCOD, haveQCD, inTile bool
	var style, quantization []byte // of the component itself
	parts := 0
	partEnd := 0
	for at := 2; ; {
		if at+2 > len(b) {
			return nil, corrupt(at, "ends within the headers")
		}
		mark := be16(b[at:])
		if mark == markSOD {
			if !inTile {
				return nil, corrupt(at, "data before a tile")
			}
			if parts == 1 {
				c.bodyOffset = base + at + 2
				c.body = b[at+2 : partEnd]
			} else {
				c.body = append(c.body[:len(c.body):len(c.body)], b[at+2:partEnd]...)
			}
			at, inTile = partEnd, false
			if at == len(b) { // some encoders leave the end mark out
				break
			}
			continue
		}
		if mark == markEOC {
			if parts == 0 {
				return nil, corrupt(at, "ends without data")
			}
			break
		}
		if at+4 > len(b) {
			return nil, corrupt(at, "ends within the headers")
		}
		n := be16(b[at+2:])
		if mark < 0xff01 || n < 2 || at+2+n > len(b) {
			return nil, corrupt(at, fmt.Sprintf("marker %#x of length %d", mark, n))
		}
		s := b[at+4 : at+2+n]
		var err error
		switch mark {
		case markSIZ:
			if at != 2 {
				return nil, corrupt(at, "second image size")
			}
			err = c.parseSize(s)
		case markCOD:
			haveCOD = true
			err = c.parseStyle(s)
		case markQCD:
			haveQCD = true
			err = c.parseQuantization(s)
		case markSOT:
			if inTile {
				return nil, corrupt(at, "tile-part within a tile-part")
			}
			if partEnd, err = c.parseTilePart(s, at, len(b)); err == nil {
				parts++
				inTile = true
			}
		case markCOC: // overrides COD for the component, wherever it stands
			if len(s) < 1 || s[0] != 0 {
				return nil, corrupt(at, "component of the coding style")
			}
			style = s[1:]
		case markQCC:
			if len(s) < 1 || s[0] != 0 {
				return nil, corrupt(at, "component of the quantization")
			}
			quantization = s[1:]
		case markRGN:
			return nil, unsupported("a region of interest")
		case markPOC:
			return nil, unsupported("a change of progression order")
		case markPPM, markPPT:
			return nil, unsupported("packed packet headers")
		case markTLM, markPLM, markPLT, markCRG, markCOM:
		default:
			if mark >= markSOT {
				return nil, corrupt(at, fmt.Sprintf("marker %#x out of place", mark))
			}
		}
		if err != nil {
			return nil, located(err, base+at)
		}
		at += 2 + n
	}
	if style != nil && haveCOD {
		if err := c.parseBlockStyle(style); err != nil {
			return nil, located(err, base)
		}
	}
	if quantization != nil {
		haveQCD = true
		if err := c.parseQuantization(quantization); err != nil {
			return nil, located(err, base)
		}
	}
	if !haveCOD || !haveQCD {
		return nil, corrupt(0, "no coding style or no quantization")
	}
	if len(c.exponents) < 1+3*c.levels {
		return nil, corrupt(0, "too few subband exponents")
	}
	return c, nil
}

// segmentError is what is wrong within a marker segment; located adds the place.
type segmentError string

func (e segmentError) Error() string { return string(e) }

func located(err error, at int) error {
	if what, ok := err.(segmentError); ok {
		return &CorruptError{at, string(what)}
	}
	return err
}

// parseSize reads SIZ (A.5.1).
func (c *codestream) parseSize(s []byte) error {
	if len(s) < 39 || be16(s[34:]) == 0 || len(s) < 36+3*be16(s[34:]) {
		return segmentError("image size")
	}
	var v [8]int64
	for i := range v {
		v[i] = int64(be32(s[2+4*i:]))
	}
	x1, y1, x0, y0, tw, th, tx, ty := v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7]
	if x0 >= x1 || y0 >= y1 || x1 > 1<<31-1 || y1 > 1<<31-1 || tx > x0 || ty > y0 || tw == 0 || th == 0 || tx+tw <= x0 || ty+th <= y0 {
		return segmentError("image size")
	}
	if n := be16(s[34:]); n != 1 {
		return unsupported("%d components", n)
	}
	if tx+tw < x1 || ty+th < y1 {
		return unsupported("several tiles")
	}
	if s[37] != 1 || s[38] != 1 {
		return unsupported("subsampling %d by %d", s[37], s[38])
	}
	c.x0, c.y0, c.x1, c.y1 = int(x0), int(y0), int(x1), int(y1)
	c.bits, c.signed = int(s[36]&0x7f)+1, s[36]&0x80 != 0
	if c.bits > 24 {
		return unsupported("samples of %d bits", c.bits)
	}
	return nil
}

// parseStyle reads COD (A.6.1).
func (c *codestream) parseStyle(s []byte) error {
	if len(s) < 10 {
		return segmentError("coding style")
	}
	c.order, c.layers = int(s[1]), be16(s[2:])
	if c.order > orderCPRL || c.layers == 0 {
		return segmentError("coding style")
	}
	return c.parseBlockStyle(append([]byte{s[0]}, s[5:]...))
}

// parseBlockStyle reads what COD and COC have in common: the style bits and then
// table A.20.
func (c *codestream) parseBlockStyle(s []byte) error {
	if len(s) < 6 {
		return segmentError("coding style")
	}
	c.levels, c.xcb, c.ycb = int(s[1]), int(s[2]&15)+2, int(s[3]&15)+2
	if c.levels > 32 || c.xcb > 10 || c.ycb > 10 || c.xcb+c.ycb > 12 {
		return segmentError("coding style")
	}
	if s[4] != 0 {
		return unsupported("code block style %#02x", s[4])
	}
	if s[5] != 1 {
		return unsupported("the irreversible 9/7 wavelet")
	}
	c.precincts = nil
	if s[0]&1 != 0 {
		if len(s) < 7+c.levels {
			return segmentError("precinct sizes")
		}
		c.precincts = s[6 : 7+c.levels]
		for r, p := range c.precincts {
			if r > 0 && (p&15 == 0 || p>>4 == 0) {
				return segmentError("precinct sizes")
			}
		}
	}
	return nil
}

// parseQuantization reads QCD (A.6.4).
func (c *codestream) parseQuantization(s []byte) error {
	if len(s) < 2 {
		return segmentError("quantization")
	}
	if s[0]&31 != 0 {
		return unsupported("quantized coefficients")
	}
	c.guard = int(s[0] >> 5)
	c.exponents = c.exponents[:0]
	for _, e := range s[1:] {
		c.exponents = append(c.exponents, int(e>>3))
	}
	return nil
}

// parseTilePart reads SOT (A.4.2) and returns where the tile-part ends.
func (c *codestream) parseTilePart(s []byte, at, end int) (int, error) {
	if len(s) != 8 {
		return 0, segmentError("tile-part header")
	}
	if be16(s) != 0 {
		return 0, segmentError("tile beyond the only one")
	}
	n := int64(be32(s[2:]))
	if n == 0 { // to the end of the codestream
		if end >= 2 && end-2 > at+12 {
			return end, nil
		}
		return 0, segmentError("tile-part length")
	}
	if n < 14 || n > int64(end-at) {
		return 0, segmentError("tile-part ends beyond the stream")
	}
	return at + int(n), nil
}
