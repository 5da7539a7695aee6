package ccsds

// Encode returns the coded stream of src. Samples must fit the sample width;
// a signed stream takes the two's complement of each sample. The last block is
// filled up by repeating the last sample, as the standard's decoders expect.
func Encode(src []uint32, p Params) ([]byte, error) {
	c, err := p.coder()
	if err != nil {
		return nil, err
	}
	if c.signed {
		lo, hi := -int64(1)<<uint(c.n-1), int64(1)<<uint(c.n-1)-1
		for _, v := range src {
			if x := int64(int32(v)); x < lo || x > hi {
				return nil, &ParamError{"sample", int(x), "within the sample width"}
			}
		}
	} else {
		for _, v := range src {
			if v > c.xmax {
				return nil, &ParamError{"sample", int(v), "within the sample width"}
			}
		}
	}
	e := encoder{coder: c, w: writer{buf: make([]byte, 0, len(src)*c.n/12+16)}}
	interval := c.j * c.rsi
	mapped := make([]uint32, 0, min(interval, len(src)+c.j))
	for at := 0; at < len(src); at += interval {
		raw := src[at:min(at+interval, len(src))]
		mapped = append(mapped[:0], raw...)
		for len(mapped)%c.j != 0 {
			mapped = append(mapped, raw[len(raw)-1])
		}
		switch {
		case !c.preprocess:
			for i := range mapped {
				mapped[i] &= c.xmax
			}
		case c.signed:
			mapSigned(mapped, c.n)
		default:
			mapUnsigned(mapped, c.xmax)
		}
		e.interval(mapped)
		if c.padRSI {
			e.w.align()
		}
	}
	return e.w.bytes(), nil
}

type encoder struct {
	coder
	w     writer
	lastK uint // option of the block before, where the search starts
}

func (e *encoder) interval(s []uint32) {
	blocks := len(s) / e.j
	for b := 0; b < blocks; {
		ref := e.preprocess && b == 0
		run := 0
		segmentEnd := min(blocks, b-b%segmentBlocks+segmentBlocks)
		for b+run < segmentEnd && zeros(s[(b+run)*e.j:(b+run+1)*e.j], ref && run == 0) {
			run++
		}
		if run > 0 {
			e.zeroRun(s[b*e.j], ref, run, b+run == segmentEnd)
			b += run
			continue
		}
		e.block(s[b*e.j:(b+1)*e.j], ref)
		b++
	}
}

func zeros(blk []uint32, ref bool) bool {
	if ref {
		blk = blk[1:]
	}
	for _, v := range blk {
		if v != 0 {
			return false
		}
	}
	return true
}

// zeroRun writes a run of zero blocks; one of five or more that reaches the end
// of its segment, or of the data, takes the short code for the rest of it.
func (e *encoder) zeroRun(first uint32, ref bool, run int, toEnd bool) {
	e.w.put(0, e.idLen+1)
	if ref {
		e.w.put(first, uint(e.n))
	}
	switch {
	case run < restOfSegment:
		e.w.fs(uint32(run - 1))
	case toEnd:
		e.w.fs(restOfSegment - 1)
	default:
		e.w.fs(uint32(run))
	}
}

// block writes one block under the option that takes fewest bits.
func (e *encoder) block(blk []uint32, ref bool) {
	s, refBits := blk, uint64(0)
	if ref {
		s, refBits = blk[1:], uint64(e.n)
	}
	best := uint64(e.j) * uint64(e.n) // uncompressed
	option := int(e.maxID)
	if e.maxID >= 2 {
		if k, cost := e.bestSplit(s); cost+refBits < best {
			best, option = cost+refBits, int(k)+1
		}
	}
	if cost := pairCost(blk, ref); cost != 0 && cost+1+refBits < best {
		option = 0
	}
	switch option {
	case 0:
		e.w.put(1, e.idLen+1)
		if ref {
			e.w.put(blk[0], uint(e.n))
		}
		for i := 0; i < len(blk); i += 2 {
			a, b := blk[i], blk[i+1]
			if ref && i == 0 {
				a = 0
			}
			e.w.fs((a+b)*(a+b+1)/2 + b)
		}
	case int(e.maxID):
		e.w.put(e.maxID, e.idLen)
		for _, v := range blk {
			e.w.put(v, uint(e.n))
		}
	default:
		k := uint(option - 1)
		e.w.put(uint32(option), e.idLen)
		if ref {
			e.w.put(blk[0], uint(e.n))
		}
		for _, v := range s {
			e.w.fs(v >> k)
		}
		if k > 0 {
			for _, v := range s {
				e.w.put(v&(1<<k-1), k)
			}
		}
	}
}

// bestSplit finds the number of low bits that codes s shortest. The cost has
// one minimum over k, so the search walks downhill from the last block's k.
func (e *encoder) bestSplit(s []uint32) (uint, uint64) {
	maxK := uint(e.maxID) - 2
	cost := func(k uint) uint64 {
		sum := uint64(len(s)) * uint64(k+1)
		for _, v := range s {
			sum += uint64(v >> k)
		}
		return sum
	}
	k := min(e.lastK, maxK)
	best := cost(k)
	for k < maxK {
		c := cost(k + 1)
		if c >= best {
			break
		}
		k, best = k+1, c
	}
	for k > 0 {
		c := cost(k - 1)
		if c >= best {
			break
		}
		k, best = k-1, c
	}
	e.lastK = k
	return k, best
}

// pairCost returns the bits of the second extension, 0 when it cannot code blk.
func pairCost(blk []uint32, ref bool) uint64 {
	var sum uint64
	for i := 0; i < len(blk); i += 2 {
		a, b := blk[i], blk[i+1]
		if ref && i == 0 {
			a = 0
		}
		if a > 12 || b > 12 || a+b > 12 {
			return 0
		}
		sum += uint64((a+b)*(a+b+1)/2+b) + 1
	}
	return sum
}

// mapUnsigned replaces each sample by its mapped distance from the one before
// (sections 4.2 and 4.3); the first stays as the reference.
func mapUnsigned(s []uint32, xmax uint32) {
	for i := len(s) - 1; i > 0; i-- {
		x, before := s[i], s[i-1]
		theta := min(before, xmax-before)
		switch {
		case x >= before && x-before <= theta:
			s[i] = 2 * (x - before)
		case x < before && before-x <= theta:
			s[i] = 2*(before-x) - 1
		case x >= before:
			s[i] = theta + (x - before)
		default:
			s[i] = theta + (before - x)
		}
	}
}

func mapSigned(s []uint32, n int) {
	// Shifting the range to start at zero leaves differences and limits as
	// they are; only the reference sample keeps its own bits.
	half := uint32(1) << uint(n-1)
	xmax := uint32(1<<uint(n) - 1)
	first := s[0] & xmax
	for i := range s {
		s[i] = (s[i] + half) & xmax
	}
	mapUnsigned(s, xmax)
	s[0] = first
}

// writer collects bits, most significant first.
type writer struct {
	buf []byte
	acc uint64 // pending bits, right-aligned
	n   uint   // number of them, below 8 between calls
}

func (w *writer) put(v uint32, k uint) {
	w.acc = w.acc<<k | uint64(v)
	w.n += k
	for w.n >= 8 {
		w.n -= 8
		w.buf = append(w.buf, byte(w.acc>>w.n))
	}
}

func (w *writer) fs(zeros uint32) {
	for zeros >= 32 {
		w.put(0, 32)
		zeros -= 32
	}
	w.put(1, uint(zeros)+1)
}

func (w *writer) align() {
	if w.n > 0 {
		w.put(0, 8-w.n)
	}
}

func (w *writer) bytes() []byte {
	w.align()
	return w.buf
}
