package jpeg2000

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Coefficient bit modelling (Annex D). The state of four samples of a column,
// one stripe high, is one word, so that a whole column without anything to do
// is passed over with one test. Its bits are:
//
//	0 to 17   significance of the samples in and around the column: bit
//	          3·row+col for rows −1 to 4 and the columns to the left, of the
//	          samples themselves, and to the right
//	18 to 21  coded in the significance pass of this bit plane
//	22 to 25  refined at least once
//	26 to 31  signs of this column, rows −1 to 4
//
// Words have a border of one column on each side and one stripe above and below.
const (
	sigAround  = 1<<18 - 1
	sigOwn     = 1<<4 | 1<<7 | 1<<10 | 1<<13
	visitedBit = 18
	visitedAll = 15 << visitedBit
	refinedBit = 22
	signBit    = 26
)

// maxPlanes leaves a bit for the sign and one for half of the last plane.
const maxPlanes = 30

// Context labels (tables D.1 to D.5).
const (
	ctxSign      = 9
	ctxRefine    = 14
	ctxRun       = 17
	ctxUniform   = 18
	contextCount = 19
)

// zeroContext is table D.1, by subband and by the nine bits of a 3 by 3
// neighbourhood as they stand in a word.
var zeroContext = func() (t [4][512]uint8) {
	for orient := range 4 {
		for f := range 512 {
			bit := func(i int) int { return f >> i & 1 }
			h, v, d := bit(3)+bit(5), bit(1)+bit(7), bit(0)+bit(2)+bit(6)+bit(8)
			if orient == 1 {
				h, v = v, h
			}
			t[orient][f] = uint8(zeroLabel(orient, h, v, d))
		}
	}
	return t
}()

func zeroLabel(orient, h, v, d int) int {
	if orient == 3 {
		switch hv := h + v; {
		case d >= 3:
			return 8
		case d == 2:
			return 6 + min(hv, 1)
		case d == 1:
			return 3 + min(hv, 2)
		default:
			return min(hv, 2)
		}
	}
	switch {
	case h == 2:
		return 8
	case h == 1 && v >= 1:
		return 7
	case h == 1 && d >= 1:
		return 6
	case h == 1:
		return 5
	case v > 0:
		return 2 + v
	default:
		return min(d, 2)
	}
}

// signContext is tables D.2 and D.3: the label, and the bit by which the decision
// is to be turned, in bit 7. Its index has the significance of the neighbours
// above, left, right and below in bits 1, 3, 5 and 7, and their signs in bits 0,
// 2, 4 and 6.
var signContext = func() (t [256]uint8) {
	for f := range 256 {
		one := func(i int) int { // contribution of the neighbour whose significance is bit i
			return (f >> i & 1) * (1 - 2*(f>>(i-1)&1))
		}
		v := max(-1, min(1, one(1)+one(7)))
		h := max(-1, min(1, one(3)+one(5)))
		turn := uint8(0)
		if h < 0 || h == 0 && v < 0 {
			h, v, turn = -h, -v, 0x80
		}
		label := ctxSign + v
		if h == 1 {
			label = ctxSign + 3 + v
		}
		t[f] = uint8(label) | turn
	}
	return t
}()

// coder decodes code blocks; its memory is reused from block to block.
type coder struct {
	mq     mq
	ctx    [contextCount]context
	w, h   int
	stride int // of flags
	flags  []uint32
	data   []uint32 // magnitudes with one fractional bit, sign in bit 31
	zero   *[512]uint8
	joined []byte
}

// decodeBlocks decodes every code block into its place among the coefficients.
// Blocks do not overlap, so the order in which workers take them does not matter.
func (t *tile) decodeBlocks() {
	type job struct {
		b   *band
		blk *block
	}
	jobs := make([]job, 0, t.blocks)
	for r := range t.resolutions {
		res := &t.resolutions[r]
		for p := range res.prec {
			for k := range res.prec[p].parts {
				blocks := res.prec[p].parts[k].blocks
				for i := range blocks {
					if blocks[i].passes > 0 {
						jobs = append(jobs, job{&res.bands[k], &blocks[i]})
					}
				}
			}
		}
	}
	width := t.x1 - t.x0
	work := func(c *coder, j job) {
		at := (j.b.atY+j.blk.y0-j.b.y0)*width + j.b.atX + j.blk.x0 - j.b.x0
		c.decode(j.blk, j.b.orient)
		c.store(t.samples[at:], width)
	}
	workers := min(runtime.GOMAXPROCS(0), len(jobs)/4)
	if workers < 2 {
		var c coder
		for _, j := range jobs {
			work(&c, j)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			var c coder
			for {
				i := int(next.Add(1)) - 1
				if i >= len(jobs) {
					return
				}
				work(&c, jobs[i])
			}
		})
	}
	wg.Wait()
}

// decode runs the coding passes of one block (D.3).
func (c *coder) decode(blk *block, orient int) {
	c.reset(blk.w(), blk.h())
	c.zero = &zeroContext[orient]
	for i := range c.ctx {
		c.ctx[i] = contexts[0]
	}
	c.ctx[0], c.ctx[ctxRun], c.ctx[ctxUniform] = contexts[2*4], contexts[2*3], contexts[2*46] // table D.7
	data := []byte(nil)
	if len(blk.segments) == 1 {
		data = blk.segments[0]
	} else {
		c.joined = c.joined[:0]
		for _, s := range blk.segments {
			c.joined = append(c.joined, s...)
		}
		data = c.joined
	}
	d := c.mq.init(data)
	kind, plane := 2, blk.planes-1
	for range blk.passes {
		switch kind {
		case 0:
			d = c.significance(d, plane)
		case 1:
			d = c.refinement(d, plane)
		case 2:
			d = c.cleanup(d, plane)
			plane--
		}
		kind = (kind + 1) % 3
	}
}

func (c *coder) reset(w, h int) {
	c.w, c.h, c.stride = w, h, w+2
	c.flags = zeroed(c.flags, c.stride*((h+3)/4+2))
	c.data = zeroed(c.data, w*h)
}

func zeroed(s []uint32, n int) []uint32 {
	if cap(s) < n {
		return make([]uint32, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// store writes the coefficients out. A coefficient whose last bit planes are
// absent lies in the middle of what they could make of it (E.1.1.2, r = 1/2);
// the fractional bit of a complete one falls away.
func (c *coder) store(out []int32, stride int) {
	for y := range c.h {
		row := out[y*stride:][:c.w]
		in := c.data[y*c.w:][:c.w]
		for x, v := range in {
			sign := int32(v) >> 31
			m := int32(v & 0x7fffffff >> 1)
			row[x] = (m ^ sign) - sign
		}
	}
}

// sign decodes the sign of row j of column i (D.3.2), whose word is f, and makes
// the sample significant all around. It returns the sign, the column's word and
// the decoder's D.
func (c *coder) sign(d int64, i, j int, f uint32) (uint32, uint32, int64) {
	around := f>>(3*j)&0xaa | f>>(signBit+j)&1 | f>>(signBit+j+2)&1<<6 |
		c.flags[i-1]>>(signBit+j+1)&1<<2 | c.flags[i+1]>>(signBit+j+1)&1<<4
	look := signContext[around]
	cx := &c.ctx[look&31]
	d -= cx.q
	s := cx.mps
	if d < 0 {
		s, d = c.mq.decode(d, cx)
	}
	s ^= uint32(look >> 7)
	c.flags[i-1] |= 1 << (5 + 3*j)
	c.flags[i+1] |= 1 << (3 + 3*j)
	f |= 1<<(4+3*j) | s<<(signBit+j+1)
	switch j {
	case 0:
		up := i - c.stride
		c.flags[up-1] |= 1 << 17
		c.flags[up] |= 1<<16 | s<<31
		c.flags[up+1] |= 1 << 15
	case 3:
		down := i + c.stride
		c.flags[down-1] |= 1 << 2
		c.flags[down] |= 1<<1 | s<<signBit
		c.flags[down+1] |= 1 << 0
	}
	return s, f, d
}

// significance is the significance propagation pass (D.3.1).
func (c *coder) significance(d int64, plane int) int64 {
	value := uint32(3) << plane
	for y := 0; y < c.h; y += 4 {
		i := (y/4+1)*c.stride + 1
		rows := min(4, c.h-y)
		for x := range c.w {
			f := c.flags[i+x]
			if f&sigAround == 0 {
				continue
			}
			for j := range rows {
				g := f >> (3 * j)
				if g&0x1ef == 0 || g&0x10 != 0 {
					continue
				}
				cx := &c.ctx[c.zero[g&0x1ef]]
				d -= cx.q
				bit := cx.mps
				if d < 0 {
					bit, d = c.mq.decode(d, cx)
				}
				if bit != 0 {
					var s uint32
					s, f, d = c.sign(d, i+x, j, f)
					c.data[(y+j)*c.w+x] = value | s<<31
				}
				f |= 1 << (visitedBit + j)
			}
			c.flags[i+x] = f
		}
	}
	return d
}

// refinement is the magnitude refinement pass (D.3.3).
func (c *coder) refinement(d int64, plane int) int64 {
	half := uint32(1) << plane
	for y := 0; y < c.h; y += 4 {
		i := (y/4+1)*c.stride + 1
		rows := min(4, c.h-y)
		for x := range c.w {
			f := c.flags[i+x]
			if f&sigOwn == 0 {
				continue
			}
			for j := range rows {
				g := f >> (3 * j)
				if g&0x10 == 0 || f>>(visitedBit+j)&1 != 0 {
					continue
				}
				label := ctxRefine
				if f>>(refinedBit+j)&1 != 0 {
					label = ctxRefine + 2
				} else if g&0x1ef != 0 {
					label = ctxRefine + 1
				}
				cx := &c.ctx[label]
				d -= cx.q
				bit := cx.mps
				if d < 0 {
					bit, d = c.mq.decode(d, cx)
				}
				// The half that stood for this plane becomes its bit, and a
				// new half is set below it.
				c.data[(y+j)*c.w+x] += half*2*bit - half
				f |= 1 << (refinedBit + j)
			}
			c.flags[i+x] = f
		}
	}
	return d
}

// cleanup is the cleanup pass (D.3.4).
func (c *coder) cleanup(d int64, plane int) int64 {
	value := uint32(3) << plane
	for y := 0; y < c.h; y += 4 {
		i := (y/4+1)*c.stride + 1
		rows := min(4, c.h-y)
		for x := range c.w {
			f := c.flags[i+x]
			j := 0
			run := false
			if f&(sigAround|visitedAll) == 0 && rows == 4 {
				cx := &c.ctx[ctxRun]
				d -= cx.q
				bit := cx.mps
				if d < 0 {
					bit, d = c.mq.decode(d, cx)
				}
				if bit == 0 {
					continue
				}
				run = true
				for range 2 {
					cx = &c.ctx[ctxUniform]
					d -= cx.q
					bit = cx.mps
					if d < 0 {
						bit, d = c.mq.decode(d, cx)
					}
					j = 2*j + int(bit)
				}
			}
			for ; j < rows; j++ {
				if !run {
					g := f >> (3 * j)
					if g&0x10 != 0 || f>>(visitedBit+j)&1 != 0 {
						continue
					}
					cx := &c.ctx[c.zero[g&0x1ef]]
					d -= cx.q
					bit := cx.mps
					if d < 0 {
						bit, d = c.mq.decode(d, cx)
					}
					if bit == 0 {
						continue
					}
				}
				run = false
				var s uint32
				s, f, d = c.sign(d, i+x, j, f)
				c.data[(y+j)*c.w+x] = value | s<<31
			}
			c.flags[i+x] = f &^ visitedAll
		}
	}
	return d
}
