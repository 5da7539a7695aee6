package netcdf

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"foilledger/weather/grid"
)

const (
	// A field whose longitudes do not lie side by side in the file is read
	// with the whole variable, or the whole record, that it is in.
	maxScattered = 256 << 20 // bytes
	chunkBytes   = 1 << 20   // read at a time otherwise
)

// Each is Each on a file that is open already.
func (f *File) Each(want func(Header) bool, emit func(Header, *grid.Field) error) error {
	if len(f.plans) == 0 {
		return f.none()
	}
	var short error
	for _, p := range f.plans {
		err := f.eachOf(p, want, emit)
		var ce *CorruptError
		if errors.As(err, &ce) {
			if short == nil {
				short = err
			}
			continue // later variables may be whole
		}
		if err != nil {
			return err
		}
	}
	if short != nil {
		return short
	}
	for _, s := range f.skipped {
		var ce *CorruptError
		if errors.As(s.Why, &ce) {
			return s.Why
		}
	}
	return nil
}

// eachOf visits the fields of one variable in file order.
func (f *File) eachOf(p *plan, want func(Header) bool, emit func(Header, *grid.Field) error) error {
	var free []int
	for k := range p.axes {
		if k != p.lat && k != p.lon && (k == p.time.validAt || k == p.time.referenceAt || k == p.time.leadAt || k == p.memberAt) {
			if p.axes[k].n == 0 {
				return nil
			}
			free = append(free, k)
		}
	}
	rd := reader{c: f.c, p: p, u: newUnpacker(p.v, p.m)}
	at := make([]int64, len(p.axes)) // place on each axis
	for {
		h, ok := p.headerAt(at)
		if !ok || !rd.present(at) {
			return &CorruptError{f.c.size, fmt.Sprintf("file ends before field %v of variable %s", at, p.v.name)}
		}
		if want(h) {
			values, err := rd.read(at)
			if err != nil {
				return err
			}
			field := &grid.Field{
				Shape: h.Shape, Quantity: h.Quantity, Partition: h.Partition, Member: h.Member,
				Reference: h.Reference, Valid: h.Valid, Values: values,
			}
			if err := emit(h, field); err != nil {
				return &emitError{err}
			}
		}
		k := len(free) - 1
		for ; k >= 0; k-- {
			a := free[k]
			if at[a]++; at[a] < p.axes[a].n {
				break
			}
			at[a] = 0
		}
		if k < 0 {
			return nil
		}
	}
}

// emitError keeps an error of the caller from being taken for one of the file.
type emitError struct{ err error }

func (e *emitError) Error() string { return e.err.Error() }
func (e *emitError) Unwrap() error { return e.err }

// headerAt completes the header for a place on the axes; ok is false when the
// file ends before the coordinates that it needs.
func (p *plan) headerAt(at []int64) (h Header, ok bool) {
	h = p.header
	place := func(axis int, n int) (int64, bool) {
		if axis < 0 {
			return 0, n > 0
		}
		return at[axis], at[axis] < int64(n)
	}
	t := &p.time
	i, ok := place(t.referenceAt, len(t.reference))
	if !ok {
		return h, false
	}
	h.Reference = t.reference[i]
	switch {
	case t.valid != nil:
		i, ok = place(t.validAt, len(t.valid))
		if ok {
			h.Valid = t.valid[i]
		}
	case t.lead != nil:
		i, ok = place(t.leadAt, len(t.lead))
		if ok {
			h.Valid = h.Reference.Add(t.lead[i])
		}
	default:
		h.Valid = h.Reference
	}
	if p.memberAt >= 0 && p.members != nil && at[p.memberAt] >= int64(len(p.members)) {
		return h, false
	}
	i = 0
	if p.memberAt >= 0 {
		i = at[p.memberAt]
	}
	h.Member = p.memberNumber(i)
	return h, ok
}

// reader decodes the fields of one variable.
type reader struct {
	c    *contents
	p    *plan
	u    *unpacker
	raw  []byte // reused from field to field
	line []float64
	// Scattered layouts keep the part of the file that they are in.
	part     []byte
	partFrom int64
}

// span returns where a field begins and the bytes from there to its end.
func (rd *reader) span(at []int64) (begin, length int64) {
	p := rd.p
	begin = p.v.begin + p.fixed
	for k, a := range p.axes {
		begin += at[k] * a.stride
	}
	lat, lon := p.axes[p.lat], p.axes[p.lon]
	length = (lat.n-1)*lat.stride + (lon.n-1)*lon.stride + p.v.typ.size()
	if p.version >= 0 {
		length += (p.axes[p.version].n - 1) * p.axes[p.version].stride
	}
	return begin, length
}

func (rd *reader) present(at []int64) bool {
	for k, a := range rd.p.axes {
		// Places on the record axis are bounded by the file before their
		// offset is formed, so that it cannot overflow.
		most := rd.c.size / max(a.stride, 1)
		if at[k] > most || k == rd.p.version && a.n-1 > most {
			return false
		}
	}
	if rd.p.v.begin > rd.c.size {
		return false
	}
	begin, length := rd.span(at)
	return begin <= rd.c.size-length
}

// read returns the values of the field at a place on the axes, which is known to
// lie in the file.
func (rd *reader) read(at []int64) ([]float32, error) {
	s := rd.p.layout.shape
	out := make([]float32, s.NLat*s.NLon)
	versions := int64(1)
	if rd.p.version >= 0 {
		versions = rd.p.axes[rd.p.version].n
		for i := range out {
			out[i] = float32(math.NaN())
		}
	}
	for v := int64(0); v < versions; v++ {
		if rd.p.version >= 0 {
			at[rd.p.version] = v
		}
		begin, _ := rd.span(at)
		if err := rd.rows(begin, out, rd.p.version >= 0); err != nil {
			return nil, err
		}
	}
	if rd.p.version >= 0 {
		at[rd.p.version] = 0
	}
	return out, nil
}

// rows reads a field row by row into its place. With merge only values that
// are there are stored, so that streams complete each other.
func (rd *reader) rows(begin int64, out []float32, merge bool) error {
	p, l := rd.p, &rd.p.layout
	lat, lon := p.axes[p.lat], p.axes[p.lon]
	sz := p.v.typ.size()
	if len(rd.line) < l.fileCols {
		rd.line = make([]float64, l.fileCols)
	}
	line := rd.line[:l.fileCols]
	perRead := 1
	side := lon.stride == sz // columns lie side by side
	if side && lat.stride == sz*lon.n {
		perRead = int(max(1, min(lat.n, chunkBytes/lat.stride)))
	}
	for j := 0; j < l.fileRows; j += perRead {
		rows := min(perRead, l.fileRows-j)
		var b []byte
		var err error
		if side {
			b, err = rd.bytes(begin+int64(j)*lat.stride, int64(rows)*int64(l.fileCols)*sz)
		} else {
			b, err = rd.scattered(begin + int64(j)*lat.stride)
		}
		if err != nil {
			return err
		}
		for r := range rows {
			widen(line, b[int64(r)*lat.stride:], unsigned(p.v), lon.stride)
			rd.u.apply(line)
			row := out[l.row(j+r)*l.shape.NLon:][:l.shape.NLon]
			if !merge && !l.westward {
				for i := range row {
					row[i] = float32(line[i])
				}
				continue
			}
			for i, v := range line {
				if k := l.column(i); k < len(row) && !(merge && math.IsNaN(v)) {
					row[k] = float32(v)
				}
			}
		}
	}
	return nil
}

func (rd *reader) bytes(at, n int64) ([]byte, error) {
	if int64(cap(rd.raw)) < n {
		rd.raw = make([]byte, n)
	}
	b := rd.raw[:n]
	return b, rd.c.readAt(b, at)
}

// scattered returns the file's bytes from at on, up to the end of the variable
// or of its part in a record, which it keeps for the next call.
func (rd *reader) scattered(at int64) ([]byte, error) {
	v := rd.p.v
	if v.bytes > maxScattered {
		return nil, &UnsupportedError{
			What: fmt.Sprintf("variable %s is too large for a file in which longitudes do not lie side by side", v.name),
			Hint: "reorder its dimensions to time, latitude, longitude",
		}
	}
	from := v.begin
	if v.record {
		from += (at - v.begin) / rd.c.recordSz * rd.c.recordSz
	}
	if rd.part == nil || rd.partFrom != from {
		n := min(v.bytes, rd.c.size-from)
		if int64(len(rd.part)) != n {
			rd.part = make([]byte, n)
		}
		rd.partFrom = from
		if err := rd.c.readAt(rd.part, from); err != nil {
			rd.part = nil
			return nil, err
		}
	}
	return rd.part[at-from:], nil
}

// widen reads len(line) numbers of type t, stride bytes apart.
func widen(line []float64, b []byte, t nctype, stride int64) {
	if stride == t.size() {
		switch t {
		case typeShort:
			b = b[:2*len(line)]
			for i := range line {
				line[i] = float64(int16(binary.BigEndian.Uint16(b[2*i:])))
			}
			return
		case typeFloat:
			b = b[:4*len(line)]
			for i := range line {
				line[i] = float64(math.Float32frombits(binary.BigEndian.Uint32(b[4*i:])))
			}
			return
		}
	}
	for i := range line {
		line[i] = t.number(b[int64(i)*stride:])
	}
}
