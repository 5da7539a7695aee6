package grib

import "fmt"

// Smallest lengths of the edition 1 sections that are read.
const (
	pds1Min = 28
	gds1Min = 32
	bms1Min = 6
	bds1Min = 11
)

// length1 returns the length of the edition 1 message at at. Its length field
// has 24 bits; longer messages are written with the top bit set, the length in
// units of 120 bytes and the shortfall in the length field of the data section,
// which then reads less than 120 (common practice among centres). bds is the
// true length of the data section in that case, else 0.
func (s *scanner) length1(at int64) (n, bds int64, err error) {
	head, err := s.src.bytes(at, 8)
	if err != nil {
		return 0, 0, err
	}
	stated := int64(uint24(head[4:]))
	if stated&0x800000 == 0 {
		return stated, 0, nil
	}
	pos := at + 8
	pds, err := s.src.upTo(pos, 8)
	if err != nil || len(pds) < 8 {
		return stated, 0, err
	}
	flags := pds[7]
	pos += int64(uint24(pds))
	for _, flag := range []byte{0x80, 0x40} {
		if flags&flag != 0 {
			b, err := s.src.upTo(pos, 3)
			if err != nil || len(b) < 3 {
				return stated, 0, err
			}
			pos += int64(uint24(b))
		}
	}
	b, err := s.src.upTo(pos, 3)
	if err != nil || len(b) < 3 {
		return stated, 0, err
	}
	if short := int64(uint24(b)); short < 120 {
		n = (stated&0x7fffff)*120 - short + 4
		return n, at + n - 4 - pos, nil
	}
	return stated, 0, nil
}

// message1 reads the sections of one edition 1 message of n bytes.
func (s *scanner) message1(at, n, longBDS int64) error {
	p := &payload{msg: at, values: -1}
	h := &p.h
	*h = Header{Edition: 1, Message: s.messages, Sub: 1, Offset: at, Length: n, Product: "1", Member: -1, Packing: "simple"}
	end := at + n - 4
	if err := s.sections1(p, at+8, end, longBDS); err != nil {
		if !isRefusal(err) {
			return err
		}
		h.refuse(err)
	}
	return s.deliver(p)
}

// section1 returns up to most bytes of the section at pos and its length.
func (s *scanner) section1(msg, pos, end, least, most int64, name string) ([]byte, int64, error) {
	if pos+3 > end {
		return nil, 0, &CorruptError{msg, name + " section lies outside the message"}
	}
	b, err := s.src.bytes(pos, 3)
	if err != nil {
		return nil, 0, err
	}
	n := int64(uint24(b))
	if n < least || pos+n > end {
		return nil, 0, &CorruptError{msg, fmt.Sprintf("%s section of %d bytes", name, n)}
	}
	b, err = s.src.bytes(pos, min(n, most))
	return b, n, err
}

func (s *scanner) sections1(p *payload, pos, end, longBDS int64) error {
	h := &p.h
	pds, n, err := s.section1(p.msg, pos, end, pds1Min, 512, "product")
	if err != nil {
		return err
	}
	pds = append([]byte(nil), pds...) // outlives the window
	pos += n
	flags := pds[7]
	s.product1(h, pds)
	dec := signMagnitude16(pds[26:])

	if flags&0x80 == 0 {
		h.Grid = fmt.Sprintf("catalogued grid %d", pds[6])
		return &UnsupportedError{"grid", fmt.Sprintf("number %d of the catalogue, without a grid section", pds[6]), "ask for the file with grid description"}
	}
	gds, n, err := s.section1(p.msg, pos, end, gds1Min, 64, "grid")
	if err != nil {
		return err
	}
	pos += n
	h.refuse(s.grid1(p, gds))
	if flags&0x40 != 0 {
		bms, n, err := s.section1(p.msg, pos, end, bms1Min, 6, "bitmap")
		if err != nil {
			return err
		}
		h.Bitmap = true
		if k := int(bms[4])<<8 | int(bms[5]); k != 0 {
			h.refuse(&UnsupportedError{"bitmap", fmt.Sprintf("number %d of the originating centre", k), "ask for the file with its own bitmap"})
		}
		p.bitmapAt, p.bitmapN = pos+bms1Min, n-bms1Min
		pos += n
	}
	if longBDS != 0 {
		n = longBDS
		if n < bds1Min || pos+n > end {
			return &CorruptError{p.msg, fmt.Sprintf("data section of %d bytes", n)}
		}
	} else if _, n, err = s.section1(p.msg, pos, end, bds1Min, bds1Min, "data"); err != nil {
		return err
	}
	bds, err := s.src.bytes(pos, bds1Min)
	if err != nil {
		return err
	}
	sc := scaling{ref: ibmFloat(bds[6:]), bin: signMagnitude16(bds[4:]), dec: dec, bits: int(bds[10])}
	h.Bits = sc.bits
	if err := sc.check(); err != nil {
		return &CorruptError{p.msg, err.Error()}
	}
	if sc.bits > 32 {
		return &CorruptError{p.msg, fmt.Sprintf("%d bits per value", sc.bits)}
	}
	return s.packing1(p, bds[3], sc, pos, n)
}

// refuse keeps the first reason why the field cannot be decoded. An error of
// another kind tells of damage.
func (h *Header) refuse(err error) {
	if err == nil || h.Refused != nil {
		return
	}
	if !isRefusal(err) {
		err = &CorruptError{h.Offset, err.Error()}
	}
	h.Refused = err
}

// packing1 sets how the data section at pos of n bytes is decoded.
func (s *scanner) packing1(p *payload, flags byte, sc scaling, pos, n int64) error {
	switch {
	case flags&0x80 != 0:
		return &UnsupportedError{"data", "spherical harmonics", "convert to a latitude/longitude grid"}
	case flags&0x40 != 0:
		head, err := s.src.bytes(pos, min(n, secondHead+1))
		if err != nil {
			return err
		}
		return p.second1(head, sc, pos, n)
	case flags&0x10 != 0: // matrices
		return &UnsupportedError{"packing", "edition 1 with additional flags", ""}
	}
	unused := int64(flags & 0x0f)
	p.dataAt, p.dataLen = pos+bds1Min, n-bds1Min
	if sc.bits == 0 {
		p.h.Packing = "simple, constant"
	}
	// The values of a field with bitmap are counted when it is decoded.
	p.proven = func(dataLen int64) bool {
		return p.values*int64(sc.bits) <= 8*dataLen-unused || p.values == 0 || sc.bits == 0
	}
	p.unpack = func(dst []float32, data []byte) error {
		unpackSimple(dst, data, sc)
		return nil
	}
	return nil
}

// grid1 reads the grid section.
func (s *scanner) grid1(p *payload, b []byte) error {
	h := &p.h
	kind := b[5]
	ni, nj := int64(b[6])<<8|int64(b[7]), int64(b[8])<<8|int64(b[9])
	if kind != 0 {
		name := gridName1[kind]
		if name == "" {
			name = "unknown"
		}
		h.Grid = fmt.Sprintf("%d %s", kind, name)
		return &UnsupportedError{"grid", h.Grid + " (edition 1)", gridHint}
	}
	if ni == 0xffff || nj == 0xffff {
		h.Grid = "0 reduced lat/lon"
		return &UnsupportedError{"grid", h.Grid + " (edition 1)", gridHint}
	}
	const milli = 1e-3
	g := latLon{
		ni: ni, nj: nj, unit: milli, scan: int(b[27]),
		lat1: float64(signMagnitude24(b[10:])) * milli,
		lon1: float64(signMagnitude24(b[13:])) * milli,
		lat2: float64(signMagnitude24(b[17:])) * milli,
		lon2: float64(signMagnitude24(b[20:])) * milli,
	}
	if b[16]&0x80 != 0 {
		if di := int(b[23])<<8 | int(b[24]); di != 0xffff {
			g.di = float64(di) * milli
		}
		if dj := int(b[25])<<8 | int(b[26]); dj != 0xffff {
			g.dj = float64(dj) * milli
		}
	}
	h.Grid = fmt.Sprintf("0 regular lat/lon %dx%d", ni, nj)
	return s.regular(p, g)
}

// regular takes the geometry of a regular grid into the header.
func (s *scanner) regular(p *payload, g latLon) error {
	p.h.Scan = g.scan
	p.h.Points = g.ni * g.nj
	if g.scan&scanOther != 0 {
		return &UnsupportedError{"scanning mode", fmt.Sprintf("%d (staggered points)", g.scan), ""}
	}
	shape, warning, err := g.shape()
	if err != nil {
		return &CorruptError{p.msg, err.Error()}
	}
	if warning != "" {
		s.rd.Warn(Warning{p.msg, warning})
	}
	p.h.Shape = shape
	p.lay = layout{ni: shape.NLon, nj: shape.NLat, scan: g.scan}
	return nil
}

const gridHint = "interpolate to a regular latitude/longitude grid first"

// gridName1 names the data representation types of edition 1, code table 6.
var gridName1 = map[byte]string{
	1: "Mercator", 2: "gnomonic", 3: "Lambert conformal", 4: "Gaussian", 5: "polar stereographic",
	6: "Universal Transverse Mercator", 8: "Albers", 9: "Miller", 10: "rotated lat/lon",
	13: "oblique Lambert conformal", 14: "rotated Gaussian", 20: "stretched lat/lon", 24: "stretched Gaussian",
	30: "stretched and rotated lat/lon", 34: "stretched and rotated Gaussian", 50: "spherical harmonics",
	60: "rotated spherical harmonics", 70: "stretched spherical harmonics", 80: "stretched and rotated spherical harmonics",
	90: "space view", 192: "icosahedral",
}

// product1 reads the product section: parameter, level, times, member.
func (s *scanner) product1(h *Header, b []byte) {
	table, number, kind := int(b[3]), int(b[8]), int(b[9])
	h.Centre = int(b[4])
	h.Parameter = fmt.Sprintf("table %d: %d", table, number)
	value := float64(int(b[10])<<8 | int(b[11]))
	at := otherLevel
	switch {
	case kind == 1:
		at = surface
	case kind == 102:
		at = meanSea
	case kind == 105 && value == 10:
		at = tenMetres
	case kind == 160 && value <= 1:
		at = seaSurface
	case kind == 241:
		at = sequence
	}
	h.Level = levelName(kind, value, kind != 1 && kind != 102)
	h.Quantity, h.Partition = quantity1(h.Centre, table, number, at, int(value))
	s.member1(h, b)
	h.refuse(s.times1(h, b))
}

// times1 reads the reference time and the step.
func (s *scanner) times1(h *Header, b []byte) error {
	year := (int(b[24])-1)*100 + int(b[12])
	ref, err := dateTime(year, int(b[13]), int(b[14]), int(b[15]), int(b[16]), 0)
	if err != nil {
		return err
	}
	h.Reference = ref
	unit, err := unitSeconds(b[17], 1)
	if err != nil {
		return err
	}
	p1, p2 := int64(b[18]), int64(b[19])
	var step int64
	interval := false
	switch tri := b[20]; tri {
	case 0:
		step = p1
	case 1:
		step = 0
	case 2, 3, 4, 5:
		step, interval = p2, true
	case 10:
		step = p1<<8 | p2
	default:
		return &UnsupportedError{"time range indicator", fmt.Sprintf("%d", tri), ""}
	}
	if interval {
		h.Quantity, h.Partition = overInterval(h.Quantity, h.Partition, b[20] == 2)
	}
	h.Valid, err = after(ref, step, unit)
	return err
}

// member1 reads the ensemble member from the local part of the product section:
// the ECMWF's local definitions 1 and 30 (MARS labelling), where octet 43 is
// the type and octet 50 the number, and NCEP's ensemble extension (Office Note
// 388, appendix C, from memory), where octet 42 is 1 for a control, 2 and 3
// for a negative and a positive perturbation and octet 43 numbers the pairs:
// pair n becomes members 2n−1 (positive) and 2n (negative).
func (s *scanner) member1(h *Header, b []byte) {
	switch {
	case h.Centre == centreECMWF && len(b) >= 52 && (b[40] == 1 || b[40] == 30):
		switch b[42] {
		case 10:
			h.Member, h.EnsembleKind = 0, "control"
		case 11:
			h.Member, h.EnsembleKind = int(b[49]), "member"
		case 17:
			h.EnsembleKind = "mean"
		case 18:
			h.EnsembleKind = "spread"
		}
	case h.Centre == centreNCEP && b[25] == 2 && len(b) >= 45 && b[40] == 1:
		switch n := int(b[42]); b[41] {
		case 1:
			h.Member, h.EnsembleKind = 0, "control"
		case 2:
			h.Member, h.EnsembleKind = 2*n, "member"
		case 3:
			h.Member, h.EnsembleKind = 2*n-1, "member"
		case 5:
			h.EnsembleKind = "ensemble product"
		}
	}
	h.Quantity, h.Partition = ofEnsemble(h.Quantity, h.Partition, h.EnsembleKind)
}
