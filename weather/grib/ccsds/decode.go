package ccsds

import (
	"encoding/binary"
	"math/bits"
)

// Decode fills dst with the samples of src. A signed stream yields the two's
// complement of each sample. Bytes after the last block are ignored; a stream
// that ends before dst is full is a *CorruptError, and so is one whose values
// do not fit the sample width.
func Decode(dst []uint32, src []byte, p Params) error {
	c, err := p.coder()
	if err != nil {
		return err
	}
	d := decoder{coder: c, r: reader{src: src}, spill: make([]uint32, c.j)}
	interval := c.j * c.rsi
	for at := 0; at < len(dst); at += interval {
		end := min(at+interval, len(dst))
		if k, what := d.interval(dst[at:end]); what != "" {
			return &CorruptError{at + k, what}
		}
		if c.preprocess {
			if c.signed {
				unmapSigned(dst[at:end], c.n)
			} else {
				unmapUnsigned(dst[at:end], c.xmax)
			}
		} else if c.signed {
			shift := uint(32 - c.n)
			for i := at; i < end; i++ {
				dst[i] = uint32(int32(dst[i]<<shift) >> shift)
			}
		}
		if c.padRSI {
			d.r.align()
		}
	}
	return nil
}

type decoder struct {
	coder
	r     reader
	spill []uint32 // takes the last block when it is longer than the samples wanted
}

// interval decodes one reference sample interval, or as many samples of it as
// are wanted. It returns how far it came and what stopped it.
func (d *decoder) interval(out []uint32) (int, string) {
	for at, block := 0, 0; at < len(out); {
		blk := d.spill
		if at+d.j <= len(out) {
			blk = out[at : at+d.j]
		}
		ref := d.preprocess && block == 0
		if d.r.overrun() {
			return at, "stream ends early"
		}
		id := d.r.get(d.idLen)
		var ok bool
		switch id {
		case 0:
			if d.r.get(1) == 1 {
				ok = d.secondExtension(blk, ref)
				break
			}
			n := d.zeroRun(out[at:], ref, block)
			if n == 0 {
				return at, "run of zero blocks passes the end of its interval"
			}
			at += n * d.j
			block += n
			continue
		case d.maxID:
			ok = d.uncompressed(blk)
		default:
			ok = d.split(blk, ref, uint(id)-1)
		}
		if !ok {
			if d.r.overrun() {
				return at, "stream ends early"
			}
			return at, "value too large for the sample width"
		}
		if at+d.j > len(out) {
			copy(out[at:], blk)
		}
		at += d.j
		block++
	}
	if d.r.overrun() {
		return len(out), "stream ends early"
	}
	return len(out), ""
}

// zeroRun decodes the zero-block option (section 3.4.3) and returns the number
// of blocks, 0 when the run cannot be.
func (d *decoder) zeroRun(out []uint32, ref bool, block int) int {
	var first uint32
	if ref {
		first = d.r.get(uint(d.n))
	}
	fs, ok := d.r.fs()
	if !ok {
		return 0
	}
	left := d.rsi - block
	n := left
	switch {
	case fs+1 < restOfSegment:
		n = int(fs) + 1
	case fs+1 == restOfSegment:
		n = min(left, segmentBlocks-block%segmentBlocks)
	case fs <= segmentBlocks:
		n = int(fs)
	default:
		return 0
	}
	if n > left {
		return 0
	}
	z := out[:min(n*d.j, len(out))]
	clear(z)
	if ref {
		z[0] = first
	}
	return n
}

// secondExtension decodes pairs of samples (section 3.4.2): the fundamental
// sequence of a and b is (a+b)(a+b+1)/2 + b.
func (d *decoder) secondExtension(blk []uint32, ref bool) bool {
	i := 0
	var first uint32
	if ref {
		first = d.r.get(uint(d.n))
	}
	var or uint32
	for ; i+1 < len(blk); i += 2 {
		m, ok := d.r.fs()
		if !ok || m >= uint32(len(pairs)) {
			return false
		}
		blk[i], blk[i+1] = uint32(pairs[m][0]), uint32(pairs[m][1])
		or |= blk[i] | blk[i+1]
	}
	if ref {
		blk[0] = first
	}
	return or <= d.xmax
}

// pairs lists the pairs of the second extension by their code. Sums beyond 12
// cost more than any other option, so no coder writes them.
var pairs = func() (t [91][2]uint8) {
	m := 0
	for sum := 0; sum <= 12; sum++ {
		for b := 0; b <= sum; b++ {
			t[m] = [2]uint8{uint8(sum - b), uint8(b)}
			m++
		}
	}
	return t
}()

func (d *decoder) uncompressed(blk []uint32) bool {
	for i := range blk {
		blk[i] = d.r.get(uint(d.n))
	}
	return true
}

// split decodes the sample-splitting options (section 3.3): first the
// fundamental sequences of all high parts, then the k low bits of each.
func (d *decoder) split(blk []uint32, ref bool, k uint) bool {
	first := uint32(0)
	s := blk
	if ref {
		first = d.r.get(uint(d.n))
		s = blk[1:]
	}
	src, pos, acc, n := d.r.src, d.r.pos, d.r.acc, d.r.n
	var high uint32
	for i := range s {
		// Topped up to at least 56 bits, without a loop while eight bytes are
		// left.
		if n < 24 {
			if pos+8 <= len(src) {
				acc |= binary.BigEndian.Uint64(src[pos:]) >> (n & 63)
				pos += int((63 - n) >> 3)
				n |= 56
			} else {
				d.r.pos, d.r.acc, d.r.n = pos, acc, n
				d.r.fill()
				pos, acc, n = d.r.pos, d.r.acc, d.r.n
			}
		}
		z := uint(bits.LeadingZeros64(acc))
		if z >= n {
			d.r.pos, d.r.acc, d.r.n = pos, acc, n
			v, ok := d.r.fs()
			if !ok {
				return false
			}
			pos, acc, n = d.r.pos, d.r.acc, d.r.n
			z = uint(v)
		} else {
			acc <<= (z + 1) & 63
			n -= z + 1
		}
		high |= uint32(z)
		s[i] = uint32(z) << (k & 31)
	}
	if k > 0 {
		shift := (64 - k) & 63
		per := int(56 / k) // samples that a full accumulator holds
		for low := s; len(low) > 0; {
			if pos+8 <= len(src) {
				acc |= binary.BigEndian.Uint64(src[pos:]) >> (n & 63)
				pos += int((63 - n) >> 3)
				n |= 56
			} else {
				d.r.pos, d.r.acc, d.r.n = pos, acc, n
				d.r.fill()
				pos, acc, n = d.r.pos, d.r.acc, d.r.n
			}
			now := low[:min(per, len(low))]
			for i := range now {
				now[i] |= uint32(acc >> shift)
				acc <<= k & 63
			}
			n -= k * uint(len(now))
			low = low[len(now):]
		}
	}
	d.r.pos, d.r.acc, d.r.n = pos, acc, n
	if uint64(high)<<k > uint64(d.xmax) {
		return false
	}
	if k > uint(d.n) {
		for _, v := range s {
			if v > d.xmax {
				return false
			}
		}
	}
	if ref {
		blk[0] = first
	}
	return true
}

// unmapUnsigned undoes the mapper and the unit-delay predictor (sections 4.2
// and 4.3) in place; s[0] is the reference sample.
func unmapUnsigned(s []uint32, xmax uint32) {
	x := s[0]
	half := xmax>>1 + 1
	for i := 1; i < len(s); i++ {
		d := s[i]
		switch {
		case d>>1+d&1 <= min(x, xmax-x):
			x += d>>1 ^ -(d & 1)
		case x < half:
			x = d
		default:
			x = xmax - d
		}
		s[i] = x
	}
}

func unmapSigned(s []uint32, n int) {
	shift := uint(32 - n)
	xmax := int64(1)<<uint(n-1) - 1
	x := int64(int32(s[0]<<shift) >> shift)
	s[0] = uint32(int32(x))
	for i := 1; i < len(s); i++ {
		d := int64(s[i])
		theta := xmax - x
		if x < 0 {
			theta = x + xmax + 1
		}
		switch {
		case d>>1+d&1 <= theta:
			if d&1 == 0 {
				x += d >> 1
			} else {
				x -= (d + 1) >> 1
			}
		case x < 0:
			x = d - xmax - 1
		default:
			x = xmax - d
		}
		s[i] = uint32(int32(x))
	}
}

// reader hands out bits, most significant first. Beyond the end of src it
// yields zeros; overrun tells.
type reader struct {
	src []byte
	pos int    // next byte for acc; runs on past the end
	acc uint64 // unread bits, left-aligned
	n   uint   // number of unread bits in acc, bits below them may be set already
}

// fill tops acc up to at least 56 bits.
func (r *reader) fill() {
	if r.pos+8 <= len(r.src) {
		r.acc |= binary.BigEndian.Uint64(r.src[r.pos:]) >> r.n
		r.pos += int((63 - r.n) >> 3)
		r.n |= 56
		return
	}
	if r.n < 64 {
		// Bits below the n valid ones may stem from an eight-byte load that
		// the count did not credit; they are loaded again here.
		r.acc &^= ^uint64(0) >> r.n
	}
	for r.n < 56 {
		if r.pos < len(r.src) {
			r.acc |= uint64(r.src[r.pos]) << (56 - r.n)
		}
		r.pos++
		r.n += 8
	}
}

func (r *reader) overrun() bool { return r.pos*8-int(r.n) > len(r.src)*8 }

// get reads k bits, 1 to 32.
func (r *reader) get(k uint) uint32 {
	if r.n < k {
		r.fill()
	}
	v := uint32(r.acc >> (64 - k))
	r.acc <<= k
	r.n -= k
	return v
}

// fs reads a fundamental sequence: the number of zeros before a one. It fails
// at the end of the source.
func (r *reader) fs() (uint32, bool) {
	var zeros uint32
	for {
		r.fill()
		z := uint(bits.LeadingZeros64(r.acc))
		if z < r.n {
			r.acc = r.acc << z << 1
			r.n -= z + 1
			return zeros + uint32(z), true
		}
		zeros += uint32(r.n)
		r.acc, r.n = 0, 0
		if r.pos >= len(r.src) {
			return 0, false
		}
	}
}

// align skips to the next byte of the source.
func (r *reader) align() {
	k := r.n % 8
	r.acc <<= k
	r.n -= k
}
