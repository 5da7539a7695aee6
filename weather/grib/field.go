package grib

import (
	"fmt"

	"foilledger/weather/grid"
)

// payload is what is needed to decode one field once it is wanted.
type payload struct {
	h        Header
	msg      int64 // offset of the message
	lay      layout
	values   int64 // packed values
	unpack   func(dst []float32, data []byte) error
	peek     func(data []byte) error  // a last check before values are allocated; may be nil
	proven   func(dataLen int64) bool // data is long enough for values; nil: cannot be told
	dataAt   int64
	dataLen  int64
	bitmapAt int64 // 0: none
	bitmapN  int64 // bytes
}

// deliver asks whether the field is wanted, decodes it and hands it on. Damage
// found while decoding is a refusal of this field alone.
func (s *scanner) deliver(p *payload) error {
	if err := s.ctx.Err(); err != nil {
		return err
	}
	if !s.rd.Want(p.h) {
		return nil
	}
	if p.h.Refused != nil {
		return s.rd.Refuse(p.h, p.h.Refused)
	}
	values, err := s.values(p)
	if err != nil {
		if isRefusal(err) {
			p.h.Refused = err
			return s.rd.Refuse(p.h, err)
		}
		return err
	}
	return s.rd.Emit(p.h, &grid.Field{
		Shape:     p.h.Shape,
		Quantity:  p.h.Quantity,
		Partition: p.h.Partition,
		Member:    p.h.Member,
		Reference: p.h.Reference,
		Valid:     p.h.Valid,
		Values:    values,
	})
}

func isRefusal(err error) bool {
	switch err.(type) {
	case *UnsupportedError, *CorruptError:
		return true
	}
	return false
}

// values reads and decodes the data of p in the order of a grid.Field.
func (s *scanner) values(p *payload) ([]float32, error) {
	corrupt := func(format string, a ...any) error {
		return &CorruptError{p.msg, fmt.Sprintf(format, a...)}
	}
	points := p.h.Points
	if p.values > points {
		return nil, corrupt("%d packed values for %d points", p.values, points)
	}
	var bitmap []byte
	if p.bitmapAt != 0 {
		if (points+7)/8 > p.bitmapN {
			return nil, corrupt("bitmap of %d bytes for %d points", p.bitmapN, points)
		}
		b, err := s.src.into(&s.buf.bitmap, p.bitmapAt, (points+7)/8)
		if err != nil {
			return nil, err
		}
		bitmap = b
		present := countBits(bitmap, points)
		if p.values < 0 {
			p.values = present // edition 1 does not state it
		}
		if present != p.values {
			return nil, corrupt("bitmap marks %d points, section 5 states %d values", present, p.values)
		}
	} else {
		if p.values < 0 {
			p.values = points
		}
		if p.values != points {
			return nil, corrupt("%d packed values for %d points and no bitmap", p.values, points)
		}
	}
	if p.proven != nil && !p.proven(p.dataLen) {
		return nil, corrupt("%d values cannot be held by %d bytes of data", p.values, p.dataLen)
	}
	// A bitmap or one bit of data for each point is proof enough of the size.
	if points > s.rd.MaxPoints && points > 8*(p.dataLen+p.bitmapN) {
		return nil, &UnsupportedError{
			What:     "field of",
			Template: fmt.Sprintf("%d points in %d bytes", points, p.dataLen),
			Hint:     fmt.Sprintf("more than %d points are accepted only with one bit of data each", s.rd.MaxPoints),
		}
	}
	data, err := s.src.into(&s.buf.data, p.dataAt, p.dataLen)
	if err != nil {
		return nil, err
	}
	if p.peek != nil && p.values > 0 {
		if err := p.peek(data); err != nil {
			if isRefusal(err) {
				return nil, err
			}
			return nil, corrupt("%s: %v", p.h.Packing, err)
		}
	}
	var out []float32
	if s.rd.Scratch {
		if int64(cap(s.buf.values)) < points {
			s.buf.values = make([]float32, points)
		}
		out = s.buf.values[:points]
	} else {
		out = make([]float32, points)
	}
	if p.values > 0 { // else all points are missing and the data are void
		if err := p.unpack(out[:p.values], data); err != nil {
			if isRefusal(err) {
				return nil, err
			}
			return nil, corrupt("%s: %v", p.h.Packing, err)
		}
	}
	if bitmap != nil && p.values != points {
		spread(out, p.values, bitmap)
	}
	return p.lay.arrange(out, &s.buf), nil
}
