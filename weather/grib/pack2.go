package grib

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/bits"

	"foilledger/weather/grib/ccsds"
	"foilledger/weather/grid"
)

// dataSections2 writes sections 5 to 7.
func dataSections2(out *bytes.Buffer, f *grid.Field, opt EncodeOptions) error {
	if opt.Packing < 0 || opt.Packing >= packings {
		return &UnsupportedError{What: "packing", Template: opt.Packing.String()}
	}
	present, bitmap := split(f.Values)
	if opt.Packing == PackIEEE {
		section5(out, len(present), 4, 1)
		u8(out, 1)
		bitmapSection2(out, bitmap)
		u32(out, 5+4*int64(len(present)))
		u8(out, 7)
		for _, v := range present {
			u32(out, int64(math.Float32bits(v)))
		}
		return nil
	}
	q, err := quantise(present, opt)
	if err != nil {
		return err
	}
	packing := opt.Packing
	if q.bits == 0 || len(present) < 3 {
		packing = PackSimple
	}
	var data []byte
	switch packing {
	case PackSimple:
		section5(out, len(present), 0, 10)
		q.section5(out)
		data = packBits(q.x, q.bits)
	case PackComplex, PackFirst, PackSecond:
		order := int(packing - PackComplex)
		if q.bits+order > mostWidth {
			return fmt.Errorf("%d bits are too many for %v packing", q.bits, packing)
		}
		data = q.complexSections(out, order)
	case PackPNG:
		w, h := f.NLon, f.NLat
		if bitmap != nil {
			w, h = len(present), 1
		}
		data, err = q.pngSections(out, w, h)
	case PackCCSDS:
		p := ccsds.Params{BitsPerSample: q.bits, Flags: ccsds.FlagPreprocess | ccsds.FlagMSB | ccsds.Flag3Byte, BlockSize: 32, RSI: 128}
		section5(out, len(present), 42, 14)
		q.section5(out)
		u8(out, byte(p.Flags), byte(p.BlockSize))
		u16(out, p.RSI)
		data, err = ccsds.Encode(q.x, p)
	}
	if err != nil {
		return err
	}
	bitmapSection2(out, bitmap)
	u32(out, 5+int64(len(data)))
	u8(out, 7)
	out.Write(data)
	return nil
}

// section5 writes the head of section 5, to be followed by more bytes.
func section5(out *bytes.Buffer, values, template, more int) {
	u32(out, int64(11+more))
	u8(out, 5)
	u32(out, int64(values))
	u16(out, template)
}

// pngSections writes section 5 of template 5.41 and returns the image.
func (q quantised) pngSections(out *bytes.Buffer, w, h int) ([]byte, error) {
	var img image.Image
	r := image.Rect(0, 0, w, h)
	switch {
	case q.bits <= 8:
		q.bits = 8
		m := image.NewGray(r)
		for i, v := range q.x {
			m.Pix[i] = byte(v)
		}
		img = m
	case q.bits <= 16:
		q.bits = 16
		m := image.NewGray16(r)
		for i, v := range q.x {
			m.Pix[2*i], m.Pix[2*i+1] = byte(v>>8), byte(v)
		}
		img = m
	default:
		return nil, fmt.Errorf("%d bits are too many for PNG packing, at most 16", q.bits)
	}
	section5(out, len(q.x), 41, 10)
	q.section5(out)
	var b bytes.Buffer
	err := png.Encode(&b, img)
	return b.Bytes(), err
}

// groupUnit is the granularity of group lengths, mostUnits the longest group.
const (
	groupUnit = 4
	mostUnits = 60
)

// complexSections writes section 5 of template 5.2 (order 0) or 5.3 and returns
// the data. Groups are chosen by dynamic programming over lengths of up to 60
// units of 4 values, so that the total of bits is least.
func (q quantised) complexSections(out *bytes.Buffer, order int) []byte {
	x := make([]int64, len(q.x))
	for i, v := range q.x {
		x[i] = int64(v)
	}
	var descriptors []int64
	if order > 0 {
		descriptors = differences(x, order)
	}
	groups := splitGroups(x, q.bits)
	var top, maxWidth, minLength, maxLength int64 = 1, 0, math.MaxInt64, 0
	minWidth := int64(64)
	for i, g := range groups {
		top = max(top, g.ref)
		minWidth, maxWidth = min(minWidth, g.width), max(maxWidth, g.width)
		if i < len(groups)-1 {
			minLength, maxLength = min(minLength, g.length), max(maxLength, g.length)
		}
	}
	if len(groups) == 1 {
		minLength, maxLength = 0, 0
	}
	octets := 1
	for _, d := range descriptors {
		for max(d, -d) >= 1<<(8*octets-1) {
			octets++
		}
	}
	refBits := bits.Len64(uint64(top))
	widthBits := bits.Len64(uint64(maxWidth - minWidth))
	lengthBits := bits.Len64(uint64(maxLength-minLength) / groupUnit)

	template, more := 2, 36
	if order > 0 {
		template, more = 3, 38
	}
	section5(out, len(x), template, more)
	scale := q
	scale.bits = refBits
	scale.section5(out)
	u8(out, 1, 0) // general splitting, no missing values among the packed
	u32(out, math.MaxUint32)
	u32(out, math.MaxUint32)
	u32(out, int64(len(groups)))
	u8(out, byte(minWidth), byte(widthBits))
	u32(out, minLength)
	u8(out, groupUnit)
	u32(out, groups[len(groups)-1].length)
	u8(out, byte(lengthBits))
	var w bitWriter
	if order > 0 {
		u8(out, byte(order), byte(octets))
		for _, d := range descriptors {
			if d < 0 {
				d = -d | 1<<(8*octets-1)
			}
			w.put(uint64(d), 8*octets)
		}
	}
	for _, g := range groups {
		w.put(uint64(g.ref), refBits)
	}
	w.align()
	for _, g := range groups {
		w.put(uint64(g.width-minWidth), widthBits)
	}
	w.align()
	for i, g := range groups {
		n := int64(0)
		if i < len(groups)-1 {
			n = (g.length - minLength) / groupUnit
		}
		w.put(uint64(n), lengthBits)
	}
	w.align()
	for _, g := range groups {
		for _, v := range x[:g.length] {
			w.put(uint64(v-g.ref), int(g.width))
		}
		x = x[g.length:]
	}
	w.align()
	return w.b
}

// differences replaces x by its differences of the given order less their
// minimum and returns the first values of x and that minimum.
func differences(x []int64, order int) []int64 {
	descriptors := append([]int64(nil), x[:order]...)
	for range order {
		for i := len(x) - 1; i > 0; i-- {
			x[i] -= x[i-1]
		}
	}
	lo := int64(math.MaxInt64)
	for _, v := range x[order:] {
		lo = min(lo, v)
	}
	for i := range x {
		x[i] -= lo
	}
	clear(x[:order]) // not used by the decoder
	return append(descriptors, lo)
}

// group is a run of values written with the same width above a reference.
type group struct{ ref, width, length int64 }

// splitGroups finds the groups that need the fewest bits.
func splitGroups(x []int64, refBits int) []group {
	units := (len(x) + groupUnit - 1) / groupUnit
	lo, hi := make([]int64, units), make([]int64, units)
	for u := range units {
		part := x[u*groupUnit : min(len(x), (u+1)*groupUnit)]
		lo[u], hi[u] = part[0], part[0]
		for _, v := range part {
			lo[u], hi[u] = min(lo[u], v), max(hi[u], v)
		}
	}
	overhead := int64(refBits + 4 + 4)
	cost := make([]int64, units+1)
	from := make([]int32, units+1)
	for end := 1; end <= units; end++ {
		cost[end] = math.MaxInt64
		l, h := lo[end-1], hi[end-1]
		for start := end - 1; start >= max(0, end-mostUnits); start-- {
			l, h = min(l, lo[start]), max(h, hi[start])
			w := int64(bits.Len64(uint64(h - l)))
			c := cost[start] + overhead + w*groupUnit*int64(end-start)
			if c < cost[end] {
				cost[end], from[end] = c, int32(start)
			}
		}
	}
	var groups []group
	for end := units; end > 0; end = int(from[end]) {
		start := int(from[end])
		part := x[start*groupUnit : min(len(x), end*groupUnit)]
		l, h := part[0], part[0]
		for _, v := range part {
			l, h = min(l, v), max(h, v)
		}
		groups = append(groups, group{l, int64(bits.Len64(uint64(h - l))), int64(len(part))})
	}
	for a, b := 0, len(groups)-1; a < b; a, b = a+1, b-1 {
		groups[a], groups[b] = groups[b], groups[a]
	}
	return groups
}

// bitWriter appends integers of up to 56 bits.
type bitWriter struct {
	b   []byte
	acc uint64
	n   int // bits in acc
}

func (w *bitWriter) put(v uint64, n int) {
	if n > 32 {
		w.put(v>>32, n-32)
		v, n = v&math.MaxUint32, 32
	}
	w.acc = w.acc<<n | v
	for w.n += n; w.n >= 8; w.n -= 8 {
		w.b = append(w.b, byte(w.acc>>(w.n-8)))
	}
}

// align fills the last byte with zeros.
func (w *bitWriter) align() {
	if w.n > 0 {
		w.b = append(w.b, byte(w.acc<<(8-w.n)))
		w.n = 0
	}
}

// split takes the values that are not NaN and, when there are others, the
// bitmap of both.
func split(values []float32) (present []float32, bitmap []byte) {
	missing := 0
	for _, v := range values {
		if v != v {
			missing++
		}
	}
	if missing == 0 {
		return values, nil
	}
	present = make([]float32, 0, len(values)-missing)
	bitmap = make([]byte, (len(values)+7)/8)
	for i, v := range values {
		if v == v {
			bitmap[i>>3] |= 0x80 >> (i & 7)
			present = append(present, v)
		}
	}
	return present, bitmap
}

func bitmapSection2(out *bytes.Buffer, bitmap []byte) {
	u32(out, 6+int64(len(bitmap)))
	if bitmap == nil {
		u8(out, 6, 255)
		return
	}
	u8(out, 6, 0)
	out.Write(bitmap)
}

// packBits writes the lowest n bits of each of x one after another.
func packBits(x []uint32, n int) []byte {
	w := bitWriter{b: make([]byte, 0, (len(x)*n+7)/8)}
	for _, v := range x {
		w.put(uint64(v), n)
	}
	w.align()
	return w.b
}
