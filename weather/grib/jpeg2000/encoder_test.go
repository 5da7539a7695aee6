package jpeg2000

import (
	"bytes"
	"encoding/binary"
	"math/bits"
)

// A plain encoder for tests: one layer, every resolution in precincts of the
// given size, all bit planes. It shares the tables and the geometry of the
// decoder and nothing else, so a round trip proves consistency, not truth;
// truth is the business of the open files.

type encodeOptions struct {
	levels, xcb, ycb, bits int
	order                  int
	precincts              []byte
	sop, eph               bool
	x0, y0                 int
	layers                 int // passes are spread evenly over them
}

func encode(x []int32, w, h int, o encodeOptions) []byte {
	var b bytes.Buffer
	put := func(v ...any) {
		for _, v := range v {
			_ = binary.Write(&b, binary.BigEndian, v)
		}
	}
	o.layers = max(o.layers, 1)
	style := byte(0)
	if o.precincts != nil {
		style |= 1
	}
	if o.sop {
		style |= 2
	}
	if o.eph {
		style |= 4
	}
	put(uint16(markSOC), uint16(markSIZ), uint16(41), uint16(0), uint32(o.x0+w), uint32(o.y0+h), uint32(o.x0), uint32(o.y0),
		uint32(o.x0+w), uint32(o.y0+h), uint32(0), uint32(0), uint16(1), byte(o.bits-1), byte(1), byte(1))
	put(uint16(markCOD), uint16(12+len(o.precincts)), style, byte(o.order), uint16(o.layers), byte(0),
		byte(o.levels), byte(o.xcb-2), byte(o.ycb-2), byte(0), byte(1), o.precincts)
	put(uint16(markQCD), uint16(4+3*o.levels), byte(2<<5))
	for i := range 1 + 3*o.levels {
		gain := 0 // table E.1
		if i > 0 {
			gain = []int{1, 1, 2}[(i-1)%3]
		}
		put(byte((o.bits + gain) << 3))
	}
	put(uint16(markSOT), uint16(10), uint16(0), uint32(0), byte(0), byte(1), uint16(markSOD))
	// The decoder's own layout of the tile; the body only has to look long
	// enough.
	c, err := parse(append(b.Bytes(), 0xff, 0xd9), 0)
	if err != nil {
		panic(err)
	}
	c.body = make([]byte, 1<<20)
	t, err := newTile(c)
	if err != nil {
		panic(err)
	}
	for i, v := range x {
		t.samples[i] = v - 1<<(o.bits-1)
	}
	t.forwardWavelet()
	b.Write(t.writePackets(o))
	put(uint16(markEOC))
	return b.Bytes()
}

// forwardWavelet is the reversible analysis (F.4), columns and then rows, by
// the lifting steps on mirrored coordinates.
func (t *tile) forwardWavelet() {
	width := t.x1 - t.x0
	for r := len(t.resolutions) - 1; r > 0; r-- {
		res, lower := t.resolutions[r], t.resolutions[r-1]
		for x := range res.w() {
			analyze(t.samples[x:], width, res.h(), lower.h(), res.y0&1)
		}
		for y := range res.h() {
			analyze(t.samples[y*width:], 1, res.w(), lower.w(), res.x0&1)
		}
	}
}

func analyze(s []int32, stride, n, lows, odd int) {
	if n == 0 {
		return
	}
	if n == 1 {
		s[0] <<= odd
		return
	}
	v := make([]int32, n)
	for i := range v {
		v[i] = s[i*stride]
	}
	at := func(i int) int32 {
		if i < 0 {
			i = -i
		}
		if i >= n {
			i = 2*(n-1) - i
		}
		return v[i]
	}
	for i := 1 - odd; i < n; i += 2 {
		v[i] -= (at(i-1) + at(i+1)) >> 1
	}
	for i := odd; i < n; i += 2 {
		v[i] += (at(i-1) + at(i+1) + 2) >> 2
	}
	for i, y := range v {
		if (i+odd)%2 == 0 {
			s[i/2*stride] = y
		} else {
			s[(lows+i/2)*stride] = y
		}
	}
}

type encodedBlock struct {
	planes, passes int
	data           []byte
}

func (t *tile) writePackets(o encodeOptions) []byte {
	width := t.x1 - t.x0
	done := map[*block]encodedBlock{}
	for r := range t.resolutions {
		res := &t.resolutions[r]
		for p := range res.prec {
			for k := range res.prec[p].parts {
				bd := &res.bands[k]
				for i := range res.prec[p].parts[k].blocks {
					blk := &res.prec[p].parts[k].blocks[i]
					at := (bd.atY+blk.y0-bd.y0)*width + bd.atX + blk.x0 - bd.x0
					done[blk] = encodeBlock(t.samples[at:], width, blk.w(), blk.h(), bd.orient)
				}
			}
		}
	}
	var out []byte
	told := map[*part][2][]int32{}
	number := 0
	err := t.eachPacket(func(r int, p *precinct, layer int) error {
		if o.sop {
			out = append(out, 0xff, 0x91, 0, 4, byte(number>>8), byte(number))
		}
		number++
		var h headerWriter
		h.bit(1)
		var body []byte
		for k := range p.parts {
			pt := &p.parts[k]
			bandPlanes := t.resolutions[r].bands[k].planes
			first := make([]int32, len(pt.blocks)) // layer of inclusion
			zeros := make([]int32, len(pt.blocks))
			for i := range pt.blocks {
				e := done[&pt.blocks[i]]
				first[i], zeros[i] = 0, int32(bandPlanes-e.planes)
				if e.passes == 0 {
					first[i] = int32(t.layers)
				}
			}
			if layer == 0 {
				told[pt] = [2][]int32{make([]int32, len(pt.inclusion.value)), make([]int32, len(pt.zeros.value))}
				pt.inclusion.prepare(first, pt.bw, pt.bh)
				pt.zeros.prepare(zeros, pt.bw, pt.bh)
			}
			for i := range pt.blocks {
				e, blk := done[&pt.blocks[i]], &pt.blocks[i]
				x, y := i%pt.bw, i/pt.bw
				if layer == 0 {
					pt.inclusion.write(told[pt][0], &h, x, y, int32(layer)+1)
				}
				if e.passes == 0 {
					if layer > 0 {
						pt.inclusion.write(told[pt][0], &h, x, y, int32(layer)+1)
					}
					continue
				}
				if layer == 0 {
					pt.zeros.write(told[pt][1], &h, x, y, int32(bandPlanes)+1)
				}
				// Passes and bytes are spread over the layers, the first taking
				// what is left over. Without passes of its own a later layer
				// has no bytes either.
				passes, n := e.passes/t.layers, len(e.data)/t.layers
				if passes == 0 {
					n = 0
				}
				from := len(e.data) - (t.layers-layer)*n
				if layer == 0 {
					passes, n, from = e.passes-passes*(t.layers-1), len(e.data)-n*(t.layers-1), 0
				} else if passes == 0 {
					h.bit(0)
					continue
				} else {
					h.bit(1)
				}
				h.passes(passes)
				need := bits.Len(uint(n)) - (bits.Len(uint(passes)) - 1)
				for blk.lblock < need {
					blk.lblock++
					h.bit(1)
				}
				h.bit(0)
				h.bits(n, blk.lblock+bits.Len(uint(passes))-1)
				body = append(body, e.data[from:from+n]...)
			}
		}
		out = append(out, h.finish()...)
		if o.eph {
			out = append(out, 0xff, 0x92)
		}
		out = append(out, body...)
		return nil
	})
	if err != nil {
		panic(err)
	}
	return out
}

// headerWriter mirrors headerBits.
type headerWriter struct {
	b    []byte
	cur  byte
	room uint
}

func (h *headerWriter) bit(v int) {
	if h.room == 0 {
		h.room = 8
	}
	h.room--
	h.cur |= byte(v) << h.room
	if h.room == 0 {
		h.b = append(h.b, h.cur)
		if h.cur == 0xff {
			h.room = 7
		}
		h.cur = 0
	}
}

func (h *headerWriter) bits(v, n int) {
	for n--; n >= 0; n-- {
		h.bit(v >> n & 1)
	}
}

func (h *headerWriter) passes(n int) {
	switch {
	case n == 1:
		h.bit(0)
	case n == 2:
		h.bits(2, 2)
	case n <= 5:
		h.bits(3<<2|(n-3), 4)
	case n <= 36:
		h.bits(15<<5|(n-6), 9)
	default:
		h.bits(511<<7|(n-37), 16)
	}
}

func (h *headerWriter) finish() []byte {
	if h.room > 0 || len(h.b) > 0 && h.b[len(h.b)-1] == 0xff {
		h.b = append(h.b, h.cur)
	}
	return h.b
}

// prepare fills a tag tree for writing with the minima of groups of leaves.
func (t *tagTree) prepare(leaves []int32, w, h int) {
	copy(t.value, leaves)
	for k := 1; k < len(t.levels); k++ {
		lw, lh := w, h
		w, h = (w+1)/2, (h+1)/2
		for y := range h {
			for x := range w {
				least := int32(1 << 30)
				for j := 2 * y; j < min(2*y+2, lh); j++ {
					for i := 2 * x; i < min(2*x+2, lw); i++ {
						least = min(least, t.value[t.levels[k-1].first+j*lw+i])
					}
				}
				t.value[t.levels[k].first+y*w+x] = least
			}
		}
	}
}

// write tells what below reads; told is the value that the reader knows so far.
func (t *tagTree) write(told []int32, h *headerWriter, x, y int, limit int32) {
	low := int32(0)
	for k := len(t.levels) - 1; k >= 0; k-- {
		n := t.levels[k].first + (y>>k)*t.levels[k].w + x>>k
		at := max(told[n], low)
		for !t.known[n] && at < limit {
			if at == t.value[n] {
				h.bit(1)
				t.known[n] = true
				break
			}
			h.bit(0)
			at++
		}
		told[n] = at
		low = at
	}
}

// encodeBlock is Annex D in the plainest form: one array each for significance,
// visits and refinements, contexts formed anew from the neighbours each time.
func encodeBlock(s []int32, stride, w, h, orient int) encodedBlock {
	mag := func(x, y int) uint32 { return uint32(max(s[y*stride+x], -s[y*stride+x])) }
	top := uint32(0)
	for y := range h {
		for x := range w {
			top |= mag(x, y)
		}
	}
	planes := bits.Len32(top)
	if planes == 0 {
		return encodedBlock{}
	}
	sig, visited, refined := make([]bool, w*h), make([]bool, w*h), make([]bool, w*h)
	is := func(x, y int) int {
		if x < 0 || y < 0 || x >= w || y >= h || !sig[y*w+x] {
			return 0
		}
		return 1
	}
	signed := func(x, y int) int {
		if is(x, y) == 0 {
			return 0
		}
		if s[y*stride+x] < 0 {
			return -1
		}
		return 1
	}
	label := func(x, y int) int {
		hh, v := is(x-1, y)+is(x+1, y), is(x, y-1)+is(x, y+1)
		d := is(x-1, y-1) + is(x+1, y-1) + is(x-1, y+1) + is(x+1, y+1)
		if orient == 1 {
			hh, v = v, hh
		}
		return zeroLabel(orient, hh, v, d)
	}
	around := func(x, y int) bool {
		n := 0
		for j := -1; j <= 1; j++ {
			for i := -1; i <= 1; i++ {
				if i != 0 || j != 0 {
					n += is(x+i, y+j)
				}
			}
		}
		return n > 0
	}
	e := newMQEncoder()
	codeSign := func(x, y int) {
		// Table D.3, written out.
		v := max(-1, min(1, signed(x, y-1)+signed(x, y+1)))
		hh := max(-1, min(1, signed(x-1, y)+signed(x+1, y)))
		type key struct{ h, v int }
		row := map[key][2]int{
			{1, 1}: {13, 0}, {1, 0}: {12, 0}, {1, -1}: {11, 0}, {0, 1}: {10, 0}, {0, 0}: {9, 0},
			{0, -1}: {10, 1}, {-1, 1}: {11, 1}, {-1, 0}: {12, 1}, {-1, -1}: {13, 1},
		}[key{hh, v}]
		bit := 0
		if s[y*stride+x] < 0 {
			bit = 1
		}
		e.encode(row[0], bit^row[1])
		sig[y*w+x] = true
	}
	passes := 0
	for plane := planes - 1; plane >= 0; plane-- {
		bit := func(x, y int) int { return int(mag(x, y) >> plane & 1) }
		each := func(f func(x, y int)) {
			for y0 := 0; y0 < h; y0 += 4 {
				for x := range w {
					for y := y0; y < min(y0+4, h); y++ {
						f(x, y)
					}
				}
			}
		}
		clear(visited)
		if plane < planes-1 {
			each(func(x, y int) {
				if !sig[y*w+x] && around(x, y) {
					e.encode(label(x, y), bit(x, y))
					if bit(x, y) == 1 {
						codeSign(x, y)
					}
					visited[y*w+x] = true
				}
			})
			each(func(x, y int) {
				if sig[y*w+x] && !visited[y*w+x] {
					cx := 14
					if refined[y*w+x] {
						cx = 16
					} else if around(x, y) {
						cx = 15
					}
					e.encode(cx, bit(x, y))
					refined[y*w+x] = true
				}
			})
			passes += 2
		}
		for y0 := 0; y0 < h; y0 += 4 {
			for x := range w {
				run := y0+4 <= h
				for y := y0; y < min(y0+4, h); y++ {
					run = run && !sig[y*w+x] && !visited[y*w+x] && !around(x, y)
				}
				y := y0
				if run {
					for y < y0+4 && bit(x, y) == 0 {
						y++
					}
					if y == y0+4 {
						e.encode(17, 0)
						continue
					}
					e.encode(17, 1)
					e.encode(18, (y-y0)>>1)
					e.encode(18, (y-y0)&1)
					codeSign(x, y)
					y++
				}
				for ; y < min(y0+4, h); y++ {
					if !sig[y*w+x] && !visited[y*w+x] {
						e.encode(label(x, y), bit(x, y))
						if bit(x, y) == 1 {
							codeSign(x, y)
						}
					}
				}
			}
		}
		passes++
	}
	return encodedBlock{planes, passes, e.flush()}
}

// mqEncoder is figures C.3 to C.12.
type mqEncoder struct {
	a, c  uint32
	ct    int
	out   []byte // out[0] stands before the first byte
	state [contextCount]int
	mps   [contextCount]int
}

func newMQEncoder() *mqEncoder {
	e := &mqEncoder{a: 0x8000, ct: 12, out: []byte{0}}
	e.state[0], e.state[17], e.state[18] = 4, 3, 46
	return e
}

func (e *mqEncoder) encode(cx, bit int) {
	r := rows[e.state[cx]]
	q := uint32(r.qe)
	e.a -= q
	if bit == e.mps[cx] {
		if e.a&0x8000 != 0 {
			e.c += q
			return
		}
		if e.a < q {
			e.a = q
		} else {
			e.c += q
		}
		e.state[cx] = int(r.mps)
	} else {
		if e.a < q {
			e.c += q
		} else {
			e.a = q
		}
		if r.switchSign {
			e.mps[cx] = 1 - e.mps[cx]
		}
		e.state[cx] = int(r.lps)
	}
	for {
		e.a <<= 1
		e.c <<= 1
		if e.ct--; e.ct == 0 {
			e.byteOut()
		}
		if e.a&0x8000 != 0 {
			return
		}
	}
}

func (e *mqEncoder) byteOut() {
	last := &e.out[len(e.out)-1]
	if *last != 0xff && e.c >= 0x8000000 {
		*last++
		e.c &= 0x7ffffff
	}
	if *last == 0xff {
		e.out = append(e.out, byte(e.c>>20))
		e.c &= 0xfffff
		e.ct = 7
		return
	}
	e.out = append(e.out, byte(e.c>>19))
	e.c &= 0x7ffff
	e.ct = 8
}

func (e *mqEncoder) flush() []byte {
	t := e.c + e.a
	e.c |= 0xffff
	if e.c >= t {
		e.c -= 0x8000
	}
	e.c <<= e.ct
	e.byteOut()
	e.c <<= e.ct
	e.byteOut()
	if e.out[len(e.out)-1] == 0xff {
		e.out = e.out[:len(e.out)-1]
	}
	return e.out[1:]
}
