package grib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"
)

// sections2 is what the repeated sections of an edition 2 message have set.
type sections2 struct {
	discipline byte
	centre     int
	reference  time.Time
	timeErr    error

	grid    []byte
	product []byte
	repr    []byte
	reprN   int64 // true length of section 5
	gridN   int64

	bitmapAt, bitmapN int64 // of the last bitmap in the message; 0: none
	hasBitmap         bool
	sawBitmap         bool // section 6 has come for the present field
}

// smallest lengths of the sections, and how much of each is looked at.
const (
	sec1Min, sec3Min, sec4Min, sec5Min = 21, 14, 9, 11
	sectionMost                        = 1024
)

var errNoIdentification = errors.New("no identification section")

// message2 reads the sections of one edition 2 message of n bytes and delivers
// a field for each data section.
func (s *scanner) message2(at, n int64) error {
	head, err := s.src.bytes(at, 16)
	if err != nil {
		return err
	}
	m := &sections2{discipline: head[6], timeErr: errNoIdentification}
	end := at + n - 4
	sub := 0
	for pos := at + 16; pos < end; {
		damaged := func(format string, a ...any) error {
			return s.damaged2(at, n, sub+1, fmt.Sprintf(format, a...))
		}
		if pos+5 > end {
			return damaged("%d bytes before the end mark are no section", end-pos)
		}
		b, err := s.src.bytes(pos, 5)
		if err != nil {
			return err
		}
		length, number := int64(binary.BigEndian.Uint32(b)), b[4]
		if length < 5 || pos+length > end {
			return damaged("section %d of %d bytes does not fit", number, length)
		}
		b, err = s.src.bytes(pos, min(length, sectionMost))
		if err != nil {
			return err
		}
		least := map[byte]int64{1: sec1Min, 3: sec3Min, 4: sec4Min, 5: sec5Min, 6: 6}[number]
		if length < least {
			return damaged("section %d of %d bytes is too short", number, length)
		}
		switch number {
		case 1:
			m.identification(b)
		case 2: // local use
		case 3:
			m.grid, m.gridN = append(m.grid[:0], b...), length
			m.product, m.repr = nil, nil
		case 4:
			m.product = append(m.product[:0], b...)
			m.repr = nil
		case 5:
			m.repr, m.reprN = append(m.repr[:0], b...), length
			m.hasBitmap, m.sawBitmap = false, false
		case 6:
			m.sawBitmap = true
			if err := m.bitmap(b[5], pos, length); err != nil {
				return damaged("%v", err)
			}
		case 7:
			sub++
			if m.grid == nil || m.product == nil || m.repr == nil || !m.sawBitmap {
				return damaged("data section without the sections that describe it")
			}
			if err := s.field2(m, at, n, sub, pos+5, length-5); err != nil {
				return err
			}
			m.repr = nil
		default:
			return damaged("section number %d", number)
		}
		pos += length
	}
	if sub == 0 {
		return s.damaged2(at, n, 1, "no data section")
	}
	return nil
}

// damaged2 reports a message whose sections cannot be followed.
func (s *scanner) damaged2(at, n int64, sub int, what string) error {
	h := Header{Edition: 2, Message: s.messages, Sub: sub, Offset: at, Length: n, Member: -1, Refused: &CorruptError{at, what}}
	return s.deliver(&payload{h: h, msg: at})
}

func (m *sections2) identification(b []byte) {
	m.centre = int(binary.BigEndian.Uint16(b[5:]))
	m.reference, m.timeErr = dateTime(int(binary.BigEndian.Uint16(b[12:])), int(b[14]), int(b[15]), int(b[16]), int(b[17]), int(b[18]))
}

// bitmap reads section 6. Indicator 254 reuses the bitmap defined before in the
// same message.
func (m *sections2) bitmap(indicator byte, pos, length int64) error {
	switch indicator {
	case 0:
		m.hasBitmap, m.bitmapAt, m.bitmapN = true, pos+6, length-6
	case 254:
		if m.bitmapAt == 0 {
			return fmt.Errorf("bitmap indicator 254 before any bitmap")
		}
		m.hasBitmap = true
	case 255:
		m.hasBitmap = false
	default:
		m.hasBitmap = true
		m.bitmapAt = -int64(indicator)
	}
	return nil
}

// field2 describes the field whose data are n bytes at pos, and delivers it.
func (s *scanner) field2(m *sections2, at, length int64, sub int, pos, n int64) error {
	p := &payload{msg: at, dataAt: pos, dataLen: n}
	h := &p.h
	*h = Header{Edition: 2, Message: s.messages, Sub: sub, Offset: at, Length: length, Centre: m.centre, Member: -1, Reference: m.reference}
	h.refuse(m.timeErr)
	h.refuse(s.product2(h, m))
	h.refuse(s.grid2(p, m))
	if m.hasBitmap {
		h.Bitmap = true
		if m.bitmapAt < 0 {
			h.refuse(&UnsupportedError{"bitmap", fmt.Sprintf("indicator %d (defined by the centre)", -m.bitmapAt), "ask for the file with its own bitmap"})
		}
		p.bitmapAt, p.bitmapN = m.bitmapAt, m.bitmapN
	}
	h.refuse(s.packing2(p, m.repr))
	return s.deliver(p)
}

// grid2 reads section 3.
func (s *scanner) grid2(p *payload, m *sections2) error {
	b := m.grid
	h := &p.h
	h.Points = int64(binary.BigEndian.Uint32(b[6:]))
	template := int(binary.BigEndian.Uint16(b[12:]))
	if b[5] != 0 {
		h.Grid = fmt.Sprintf("source %d", b[5])
		return &UnsupportedError{"grid definition", fmt.Sprintf("source %d (not a template)", b[5]), gridHint}
	}
	if template != 0 {
		name := gridName2[template]
		if name == "" {
			name = "unknown"
		}
		h.Grid = fmt.Sprintf("3.%d %s", template, name)
		return &UnsupportedError{"grid", h.Grid, gridHint}
	}
	if len(b) < 72 {
		return errShort
	}
	u32 := func(i int) int64 { return int64(binary.BigEndian.Uint32(b[i:])) }
	const missing = math.MaxUint32
	ni, nj := u32(30), u32(34)
	if b[10] != 0 || ni == missing || nj == missing {
		h.Grid = "3.0 reduced lat/lon"
		return &UnsupportedError{"grid", h.Grid, gridHint}
	}
	unit := 1e-6
	if basic, sub := u32(38), u32(42); basic != 0 && basic != missing {
		if sub == 0 || sub == missing {
			return fmt.Errorf("basic angle %d with %d subdivisions", basic, sub)
		}
		unit = float64(basic) / float64(sub)
	}
	g := latLon{
		ni: ni, nj: nj, unit: unit, scan: int(b[71]),
		lat1: float64(signMagnitude32(b[46:])) * unit,
		lon1: float64(signMagnitude32(b[50:])) * unit,
		lat2: float64(signMagnitude32(b[55:])) * unit,
		lon2: float64(signMagnitude32(b[59:])) * unit,
	}
	if d := u32(63); d != missing && b[54]&0x20 != 0 {
		g.di = float64(d) * unit
	}
	if d := u32(67); d != missing && b[54]&0x10 != 0 {
		g.dj = float64(d) * unit
	}
	h.Grid = fmt.Sprintf("3.0 regular lat/lon %dx%d", ni, nj)
	if stated := h.Points; ni == 0 || nj == 0 || stated/ni != nj || stated%ni != 0 {
		return fmt.Errorf("grid of %d x %d with %d points", ni, nj, stated)
	}
	return s.regular(p, g)
}

// gridName2 names grid templates, WMO code table 3.1.
var gridName2 = map[int]string{
	0: "regular lat/lon", 1: "rotated lat/lon", 2: "stretched lat/lon", 3: "stretched and rotated lat/lon",
	4: "variable resolution lat/lon", 5: "variable resolution rotated lat/lon", 10: "Mercator",
	12: "transverse Mercator", 20: "polar stereographic", 30: "Lambert conformal", 31: "Albers equal area",
	40: "Gaussian lat/lon", 41: "rotated Gaussian", 42: "stretched Gaussian", 43: "stretched and rotated Gaussian",
	50: "spherical harmonics", 51: "rotated spherical harmonics", 52: "stretched spherical harmonics",
	53: "stretched and rotated spherical harmonics", 90: "space view", 100: "icosahedral triangles",
	101: "unstructured", 110: "equatorial azimuthal equidistant", 120: "azimuth-range", 140: "Lambert azimuthal equal area",
	204: "curvilinear orthogonal", 1000: "cross-section", 1100: "Hovmöller diagram", 1200: "time section",
	32768: "rotated lat/lon, staggered", 32769: "rotated lat/lon",
}
