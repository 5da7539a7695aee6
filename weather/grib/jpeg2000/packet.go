package jpeg2000

import (
	"fmt"
	"math/bits"
)

// tagTree codes an array of counts through the minima of 2 by 2 groups (B.10.2).
// Nodes are stored level by level, the leaves first.
type tagTree struct {
	levels []tagLevel
	value  []int32 // what is known to be the least value
	known  []bool  // the value is exact
}

type tagLevel struct{ first, w int }

func newTagTree(w, h int) tagTree {
	var t tagTree
	n := 0
	for {
		t.levels = append(t.levels, tagLevel{n, w})
		n += w * h
		if w*h <= 1 {
			break
		}
		w, h = (w+1)/2, (h+1)/2
	}
	t.value, t.known = make([]int32, n), make([]bool, n)
	return t
}

// below reads as many bits as tell whether the value of leaf (x, y) is below
// limit.
func (t *tagTree) below(r *headerBits, x, y int, limit int32) bool {
	low := int32(0)
	for k := len(t.levels) - 1; k >= 0; k-- {
		n := t.levels[k].first + (y>>k)*t.levels[k].w + x>>k
		v := max(t.value[n], low)
		for !t.known[n] && v < limit {
			if r.bit() == 1 {
				t.known[n] = true
			} else {
				v++
			}
		}
		t.value[n] = v
		low = v
	}
	return t.known[t.levels[0].first+y*t.levels[0].w+x] && low < limit
}

// headerBits reads a packet header, where a zero bit is stuffed after each byte
// of ones (B.10.1).
type headerBits struct {
	b    []byte
	pos  int
	last byte
	n    uint // bits left in last
	over bool
}

func (r *headerBits) bit() int {
	if r.n == 0 {
		r.n = 8
		if r.last == 0xff {
			r.n = 7
		}
		r.last = 0
		if r.pos < len(r.b) {
			r.last = r.b[r.pos]
		} else {
			r.over = true
			r.last = 0x55 // alternating, so that no loop over bits runs away
		}
		r.pos++
	}
	r.n--
	return int(r.last>>r.n) & 1
}

func (r *headerBits) bits(n int) int {
	v := 0
	for range n {
		v = v<<1 | r.bit()
	}
	return v
}

// finish steps to the byte after the header.
func (r *headerBits) finish() int {
	if r.last == 0xff {
		r.pos++
	}
	return r.pos
}

// passes reads the number of coding passes (table B.4).
func (r *headerBits) passes() int {
	if r.bit() == 0 {
		return 1
	}
	if r.bit() == 0 {
		return 2
	}
	if n := r.bits(2); n < 3 {
		return 3 + n
	}
	if n := r.bits(5); n < 31 {
		return 6 + n
	}
	return 37 + r.bits(7)
}

// readPackets reads all packets and hands their bytes to the code blocks.
func (t *tile) readPackets() error {
	at := 0
	return t.eachPacket(func(r int, p *precinct, layer int) error {
		n, what := t.packet(t.body[at:], &t.resolutions[r], p, layer)
		if what != "" {
			return &CorruptError{t.bodyOffset + at, fmt.Sprintf("packet of resolution %d, layer %d: %s", r, layer, what)}
		}
		at += n
		return nil
	})
}

// packet reads one packet and returns its length, or what is wrong.
func (t *tile) packet(b []byte, res *resolution, p *precinct, layer int) (int, string) {
	at := 0
	if len(b) >= 6 && be16(b) == markSOP && be16(b[2:]) == 4 {
		at = 6
	}
	type piece struct {
		blk *block
		n   int
	}
	var pieces []piece
	h := headerBits{b: b, pos: at}
	if h.bit() == 1 {
		for k := range p.parts {
			part := &p.parts[k]
			for i := range part.blocks {
				blk := &part.blocks[i]
				n, what := t.blockHeader(&h, part, blk, i%max(part.bw, 1), i/max(part.bw, 1), layer, res.bands[k].planes)
				if what != "" {
					return 0, what
				}
				if h.over {
					return 0, "stream ends early"
				}
				if n >= 0 {
					pieces = append(pieces, piece{blk, n})
				}
			}
		}
	}
	at = h.finish()
	if h.over || at > len(b) {
		return 0, "stream ends early"
	}
	if len(b) >= at+2 && be16(b[at:]) == markEPH {
		at += 2
	}
	for _, pc := range pieces {
		if pc.n > len(b)-at {
			return 0, "stream ends early"
		}
		if pc.n > 0 {
			pc.blk.segments = append(pc.blk.segments, b[at:at+pc.n])
		}
		at += pc.n
	}
	return at, ""
}

// blockHeader reads what a packet header says of one code block (B.10): the
// number of bytes that it contributes, −1 when it is not in the packet.
func (t *tile) blockHeader(h *headerBits, part *part, blk *block, x, y, layer, bandPlanes int) (int, string) {
	if blk.included {
		if h.bit() == 0 {
			return -1, ""
		}
	} else {
		if !part.inclusion.below(h, x, y, int32(layer)+1) {
			return -1, ""
		}
		zero := int32(0)
		for !part.zeros.below(h, x, y, zero+1) {
			zero++
			if int(zero) > bandPlanes || h.over {
				return 0, "more empty bit planes than there are"
			}
		}
		blk.included = true
		blk.planes = bandPlanes - int(zero)
	}
	passes := h.passes()
	for h.bit() == 1 {
		if blk.lblock++; blk.lblock > 32 {
			return 0, "code block length"
		}
	}
	n := h.bits(blk.lblock + bits.Len(uint(passes)) - 1)
	if blk.passes += passes; blk.passes > max(0, 3*blk.planes-2) {
		return 0, "more coding passes than bit planes allow"
	}
	return n, ""
}
