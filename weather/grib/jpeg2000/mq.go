package jpeg2000

import "math/bits"

// The MQ arithmetic decoder (Annex C). The register D of the software used here
// is the smaller of the room left in the interval before it must be
// renormalized and of the code register; both are kept without D. As long as D
// stays positive a decision is the more probable symbol and costs one
// subtraction; all else is in decode. The decisions are those of figure C.15.

// row is a row of table C.2.
type row struct {
	qe         uint16
	mps, lps   uint8
	switchSign bool
}

var rows = [47]row{
	{0x5601, 1, 1, true}, {0x3401, 2, 6, false}, {0x1801, 3, 9, false}, {0x0ac1, 4, 12, false},
	{0x0521, 5, 29, false}, {0x0221, 38, 33, false}, {0x5601, 7, 6, true}, {0x5401, 8, 14, false},
	{0x4801, 9, 14, false}, {0x3801, 10, 14, false}, {0x3001, 11, 17, false}, {0x2401, 12, 18, false},
	{0x1c01, 13, 20, false}, {0x1601, 29, 21, false}, {0x5601, 15, 14, true}, {0x5401, 16, 14, false},
	{0x5101, 17, 15, false}, {0x4801, 18, 16, false}, {0x3801, 19, 17, false}, {0x3401, 20, 18, false},
	{0x3001, 21, 19, false}, {0x2801, 22, 19, false}, {0x2401, 23, 20, false}, {0x2201, 24, 21, false},
	{0x1c01, 25, 22, false}, {0x1801, 26, 23, false}, {0x1601, 27, 24, false}, {0x1401, 28, 25, false},
	{0x1201, 29, 26, false}, {0x1101, 30, 27, false}, {0x0ac1, 31, 28, false}, {0x09c1, 32, 29, false},
	{0x08a1, 33, 30, false}, {0x0521, 34, 31, false}, {0x0441, 35, 32, false}, {0x02a1, 36, 33, false},
	{0x0221, 37, 34, false}, {0x0141, 38, 35, false}, {0x0111, 39, 36, false}, {0x0085, 40, 37, false},
	{0x0049, 41, 38, false}, {0x0025, 42, 39, false}, {0x0015, 43, 40, false}, {0x0009, 44, 41, false},
	{0x0005, 45, 42, false}, {0x0001, 45, 43, false}, {0x5601, 46, 46, false},
}

// context is the adaptive state of one context: a row, the more probable symbol
// and a copy of the row's probability in the scale of the registers.
type context struct {
	q     int64
	mps   uint32
	state uint32 // index of two times the row plus mps
}

// contexts holds every state, so that a change of state is one copy.
var contexts, nextMPS, nextLPS = func() (all, mps, lps [94]context) {
	for i, r := range rows {
		for s := range 2 {
			all[2*i+s] = context{int64(r.qe) << 16, uint32(s), uint32(2*i + s)}
		}
	}
	for i, r := range rows {
		for s := range 2 {
			mps[2*i+s] = all[2*int(r.mps)+s]
			after := s
			if r.switchSign {
				after = 1 - s
			}
			lps[2*i+s] = all[2*int(r.lps)+after]
		}
	}
	return all, mps, lps
}()

const half = 0x8000 << 16 // the least interval, in the scale of the registers

// mq is a decoder over one codeword segment.
type mq struct {
	a, c int64 // interval and code register, both less D
	ct   uint  // shifts until the next byte
	data []byte
	pos  int
}

// init starts on a segment (figure C.20) and returns the first D.
func (m *mq) init(data []byte) int64 {
	*m = mq{data: data, pos: -1}
	m.pos = 0
	c := int64(m.at(0)) << 16
	c = m.byteIn(c)
	c <<= 7
	m.ct -= 7
	return m.settle(half, c)
}

// at returns a byte of the segment; beyond its end there are ones (C.3.4).
func (m *mq) at(i int) byte {
	if i < len(m.data) {
		return m.data[i]
	}
	return 0xff
}

// byteIn is figure C.19.
func (m *mq) byteIn(c int64) int64 {
	if m.at(m.pos) != 0xff {
		m.pos++
		m.ct = 8
		return c + int64(m.at(m.pos))<<8
	}
	next := m.at(m.pos + 1)
	if next > 0x8f {
		m.ct = 8
		return c + 0xff00
	}
	m.pos++
	m.ct = 7
	return c + int64(next)<<9
}

func (m *mq) settle(a, c int64) (d int64) {
	d = min(c, a-half)
	m.a, m.c = a-d, c-d
	return d
}

// decode makes the decision when D, after the context's probability was taken
// off it, is negative. It returns the symbol and the new D.
func (m *mq) decode(d int64, cx *context) (uint32, int64) {
	a, c := m.a+d, m.c+d
	q, symbol := cx.q, cx.mps
	if c < 0 { // lower subinterval (figure C.17)
		c += q
		if a < q {
			*cx = nextMPS[cx.state]
		} else {
			symbol ^= 1
			*cx = nextLPS[cx.state]
		}
		a = q
	} else if a < q { // figure C.16
		symbol ^= 1
		*cx = nextLPS[cx.state]
	} else {
		*cx = nextMPS[cx.state]
	}
	// Renormalization (figure C.18), as many shifts at once as one byte allows.
	shift := uint(bits.LeadingZeros32(uint32(a)))
	for shift > m.ct {
		a <<= m.ct & 63
		c <<= m.ct & 63
		shift -= m.ct
		c = m.byteIn(c)
	}
	a <<= shift & 63
	c <<= shift & 63
	m.ct -= shift
	d = min(c, a-half)
	m.a, m.c = a-d, c-d
	return symbol, d
}
