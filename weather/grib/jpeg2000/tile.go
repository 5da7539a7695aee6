package jpeg2000

import (
	"cmp"
	"fmt"
	"slices"
)

// tile is the only tile of an image: its geometry (Annex B) and its samples.
type tile struct {
	*codestream
	resolutions []resolution
	blocks      int
	samples     []int32 // coefficients, then samples; rows of the image's width
	scratch     []int32
}

// rect is an area, the upper ends excluded.
type rect struct{ x0, y0, x1, y1 int }

func (r rect) w() int      { return r.x1 - r.x0 }
func (r rect) h() int      { return r.y1 - r.y0 }
func (r rect) empty() bool { return r.x1 <= r.x0 || r.y1 <= r.y0 }

func (r rect) and(s rect) rect {
	return rect{max(r.x0, s.x0), max(r.y0, s.y0), min(r.x1, s.x1), min(r.y1, s.y1)}
}

// resolution is one resolution level (B.5 and B.6).
type resolution struct {
	rect
	ppx, ppy int // log2 of the precinct size
	px, py   int // precincts across and down
	bands    []band
	prec     []precinct // in raster order
}

// band is a subband (B.5, table B.1).
type band struct {
	rect
	orient int // 0 LL, 1 HL, 2 LH, 3 HH
	planes int // bit planes, M_b of equation E-2
	atX    int // where it stands in the image-sized array of coefficients
	atY    int
}

// precinct holds the code blocks of one precinct in each of its subbands.
type precinct struct {
	x, y  int // position on the reference grid, for the order of packets
	parts []part
}

type part struct {
	bw, bh    int // code blocks across and down
	blocks    []block
	inclusion tagTree
	zeros     tagTree
}

// block is a code block and what the packets say of it.
type block struct {
	rect
	included bool
	planes   int // bit planes that are not all zero
	lblock   int
	passes   int
	segments [][]byte
}

func ceilShift(v, n int) int {
	if n > 40 {
		if v > 0 {
			return 1
		}
		return 0
	}
	return (v + 1<<n - 1) >> n
}

// newTile lays out the tile. Memory is set aside only after the counts have been
// held against the length of the stream.
func newTile(c *codestream) (*tile, error) {
	t := &tile{codestream: c}
	corrupt := func(format string, a ...any) error {
		return &CorruptError{c.bodyOffset, fmt.Sprintf(format, a...)}
	}
	packets := 0
	for r := 0; r <= c.levels; r++ {
		res := resolution{ppx: 15, ppy: 15}
		if c.precincts != nil {
			res.ppx, res.ppy = int(c.precincts[r]&15), int(c.precincts[r]>>4)
		}
		down := c.levels - r
		res.rect = rect{ceilShift(c.x0, down), ceilShift(c.y0, down), ceilShift(c.x1, down), ceilShift(c.y1, down)}
		if !res.empty() {
			res.px = ceilShift(res.x1, res.ppx) - res.x0>>res.ppx
			res.py = ceilShift(res.y1, res.ppy) - res.y0>>res.ppy
		}
		// A packet takes a byte at least.
		if res.px > len(c.body) || res.py > len(c.body) {
			return nil, corrupt("more packets than bytes")
		}
		if packets += res.px * res.py * c.layers; packets > len(c.body) {
			return nil, corrupt("more packets than bytes")
		}
		t.resolutions = append(t.resolutions, res)
	}
	for r := range t.resolutions {
		if err := t.layBands(r); err != nil {
			return nil, err
		}
	}
	if most := freeBlocks + blocksPerByte*len(c.body); t.countBlocks() > most {
		return nil, corrupt("%d code blocks in %d bytes", t.countBlocks(), len(c.body))
	}
	for r := range t.resolutions {
		t.layPrecincts(r)
	}
	in := c.info()
	t.samples = make([]int32, in.Width*in.Height)
	return t, nil
}

// layBands works out the subbands of resolution r (equation B-15).
func (t *tile) layBands(r int) error {
	res := &t.resolutions[r]
	orients := []int{1, 2, 3}
	nb := t.levels - r + 1
	if r == 0 {
		orients, nb = []int{0}, t.levels
	}
	for i, o := range orients {
		b := band{orient: o}
		xo, yo := o&1, o>>1
		shift := func(v, o int) int {
			if o == 1 {
				if nb > 40 {
					return 0
				}
				v -= 1 << (nb - 1)
			}
			return ceilShift(v, nb)
		}
		b.rect = rect{shift(t.x0, xo), shift(t.y0, yo), shift(t.x1, xo), shift(t.y1, yo)}
		e := t.exponents[0]
		if r > 0 {
			e = t.exponents[1+3*(r-1)+i]
			lower := &t.resolutions[r-1]
			b.atX, b.atY = xo*lower.w(), yo*lower.h()
		}
		b.planes = t.guard + e - 1
		if b.planes > maxPlanes && !b.empty() {
			return unsupported("%d bit planes", b.planes)
		}
		res.bands = append(res.bands, b)
	}
	return nil
}

// blockSize returns log2 of the code block size in resolution r and of the
// precinct size in its subbands (equations B-17 and B-18).
func (t *tile) blockSize(r int) (xcb, ycb, ppx, ppy int) {
	res := &t.resolutions[r]
	ppx, ppy = res.ppx, res.ppy
	if r > 0 {
		ppx, ppy = ppx-1, ppy-1
	}
	return min(t.xcb, ppx), min(t.ycb, ppy), ppx, ppy
}

// countBlocks bounds the number of code blocks from above.
func (t *tile) countBlocks() int {
	n := 0
	for r := range t.resolutions {
		xcb, ycb, _, _ := t.blockSize(r)
		for _, b := range t.resolutions[r].bands {
			if !b.empty() {
				n += (ceilShift(b.x1, xcb) - b.x0>>xcb) * (ceilShift(b.y1, ycb) - b.y0>>ycb)
			}
		}
	}
	return n
}

func (t *tile) layPrecincts(r int) {
	res := &t.resolutions[r]
	xcb, ycb, ppx, ppy := t.blockSize(r)
	down := t.levels - r
	res.prec = make([]precinct, 0, res.px*res.py)
	firstX, firstY := res.x0>>res.ppx, res.y0>>res.ppy
	for j := range res.py {
		for i := range res.px {
			cx, cy := firstX+i, firstY+j
			// A precinct cut by the image's edge counts from the edge (B.12.1.3).
			p := precinct{
				x: max(t.x0, cx<<(res.ppx+down)), y: max(t.y0, cy<<(res.ppy+down)),
				parts: make([]part, len(res.bands)),
			}
			for k, b := range res.bands {
				area := rect{cx << ppx, cy << ppy, (cx + 1) << ppx, (cy + 1) << ppy}.and(b.rect)
				if !area.empty() {
					p.parts[k] = newPart(area, xcb, ycb)
					t.blocks += len(p.parts[k].blocks)
				}
			}
			res.prec = append(res.prec, p)
		}
	}
}

func newPart(area rect, xcb, ycb int) part {
	x0, y0 := area.x0>>xcb, area.y0>>ycb
	p := part{bw: ceilShift(area.x1, xcb) - x0, bh: ceilShift(area.y1, ycb) - y0}
	p.blocks = make([]block, 0, p.bw*p.bh)
	for j := range p.bh {
		for i := range p.bw {
			r := rect{(x0 + i) << xcb, (y0 + j) << ycb, (x0 + i + 1) << xcb, (y0 + j + 1) << ycb}.and(area)
			p.blocks = append(p.blocks, block{rect: r, lblock: 3})
		}
	}
	p.inclusion, p.zeros = newTagTree(p.bw, p.bh), newTagTree(p.bw, p.bh)
	return p
}

// eachPacket visits the packets in the order of the stream (B.12.1) until visit
// fails. With one component the last two orders are the same.
func (t *tile) eachPacket(visit func(r int, p *precinct, layer int) error) error {
	switch t.order {
	case orderLRCP:
		for l := range t.layers {
			for r := range t.resolutions {
				for k := range t.resolutions[r].prec {
					if err := visit(r, &t.resolutions[r].prec[k], l); err != nil {
						return err
					}
				}
			}
		}
		return nil
	case orderRLCP:
		for r := range t.resolutions {
			for l := range t.layers {
				for k := range t.resolutions[r].prec {
					if err := visit(r, &t.resolutions[r].prec[k], l); err != nil {
						return err
					}
				}
			}
		}
		return nil
	}
	type place struct {
		r int
		p *precinct
	}
	var places []place
	for r := range t.resolutions {
		for k := range t.resolutions[r].prec {
			places = append(places, place{r, &t.resolutions[r].prec[k]})
		}
	}
	if t.order != orderRPCL {
		slices.SortStableFunc(places, func(a, b place) int {
			return cmp.Or(cmp.Compare(a.p.y, b.p.y), cmp.Compare(a.p.x, b.p.x), cmp.Compare(a.r, b.r))
		})
	}
	for _, pl := range places {
		for l := range t.layers {
			if err := visit(pl.r, pl.p, l); err != nil {
				return err
			}
		}
	}
	return nil
}
