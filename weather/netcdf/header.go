package netcdf

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

const (
	hdf5Magic = "\x89HDF\r\n\x1a\n"

	tagDimension = 0x0a
	tagVariable  = 0x0b
	tagAttribute = 0x0c

	maxEntries   = 1 << 16  // dimensions, variables or attributes in one list
	maxRank      = 64       // dimensions of one variable
	maxName      = 1 << 12  // bytes
	maxAttribute = 1 << 16  // bytes kept of one attribute
	maxHeader    = 64 << 20 // bytes
	maxExtent    = 1 << 46  // elements or bytes of one variable
)

// nctype is the storage type of a variable or an attribute.
type nctype uint32

const (
	typeByte nctype = 1 + iota
	typeChar
	typeShort
	typeInt
	typeFloat
	typeDouble
	typeUByte
	typeUShort
	typeUInt
	typeInt64
	typeUInt64
)

func (t nctype) size() int64 {
	switch t {
	case typeByte, typeChar, typeUByte:
		return 1
	case typeShort, typeUShort:
		return 2
	case typeInt, typeFloat, typeUInt:
		return 4
	case typeDouble, typeInt64, typeUInt64:
		return 8
	}
	return 0
}

func (t nctype) String() string {
	names := [...]string{"", "int8", "char", "int16", "int32", "float32", "float64", "uint8", "uint16", "uint32", "int64", "uint64"}
	if int(t) < len(names) {
		return names[t]
	}
	return fmt.Sprintf("type %d", uint32(t))
}

func (t nctype) floating() bool { return t == typeFloat || t == typeDouble }

// number reads one value; b holds at least t.size() bytes.
func (t nctype) number(b []byte) float64 {
	switch t {
	case typeByte:
		return float64(int8(b[0]))
	case typeUByte, typeChar:
		return float64(b[0])
	case typeShort:
		return float64(int16(binary.BigEndian.Uint16(b)))
	case typeUShort:
		return float64(binary.BigEndian.Uint16(b))
	case typeInt:
		return float64(int32(binary.BigEndian.Uint32(b)))
	case typeUInt:
		return float64(binary.BigEndian.Uint32(b))
	case typeFloat:
		return float64(math.Float32frombits(binary.BigEndian.Uint32(b)))
	case typeDouble:
		return math.Float64frombits(binary.BigEndian.Uint64(b))
	case typeInt64:
		return float64(int64(binary.BigEndian.Uint64(b)))
	case typeUInt64:
		return float64(binary.BigEndian.Uint64(b))
	}
	return math.NaN()
}

type dimension struct {
	name   string
	n      int64
	record bool
}

type attribute struct {
	typ  nctype
	text string
	nums []float64
}

// attributes by their name.
type attributes map[string]attribute

func (a attributes) text(name string) string { return strings.TrimSpace(a[name].text) }

// number returns the first value of an attribute; text that spells a number
// counts, since some writers store one so.
func (a attributes) number(name string) (float64, bool) {
	at, ok := a[name]
	if !ok {
		return 0, false
	}
	if len(at.nums) > 0 {
		return at.nums[0], true
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(at.text), 64)
	return v, err == nil
}

type variable struct {
	name   string
	dims   []int // indices into File.dims
	attrs  attributes
	typ    nctype
	begin  int64
	record bool  // the first dimension is the record dimension
	bytes  int64 // of the whole variable, or of its part in one record
}

// contents is a parsed header.
type contents struct {
	r        io.ReaderAt
	size     int64
	format   string
	dims     []dimension
	vars     []*variable
	byName   map[string]*variable
	records  int64
	recordSz int64 // bytes from one record to the next
}

func parse(r io.ReaderAt, size int64) (*contents, error) {
	c := &contents{r: r, size: size, byName: map[string]*variable{}}
	s := &scanner{r: r, size: size}
	magic := string(s.take(min(4, max(size, 0))))
	if s.err != nil {
		return nil, s.err
	}
	switch magic {
	case "CDF\x01":
		c.format = "classic"
	case "CDF\x02":
		c.format, s.wideOffset = "64-bit offset", true
	case "CDF\x05":
		c.format, s.wideOffset, s.wideCount = "CDF-5", true, true
	default:
		return nil, notClassic(r, size, magic)
	}
	records := s.recordCount()
	if err := c.parseDims(s); err != nil {
		return nil, err
	}
	s.attributes() // global ones: nothing in them is needed
	if err := c.parseVars(s); err != nil {
		return nil, err
	}
	if s.err != nil {
		return nil, s.err
	}
	c.layRecords(records)
	return c, nil
}

// notClassic says what a file is that does not start like a classic one. HDF5
// allows its signature at 0, 512, 1024, 2048 … bytes (HDF5 File Format
// Specification 3.0, section II.A).
func notClassic(r io.ReaderAt, size int64, magic string) error {
	b := make([]byte, len(hdf5Magic))
	for at := int64(0); at+int64(len(b)) <= size && at <= 1<<16; at = max(512, 2*at) {
		if _, err := r.ReadAt(b, at); err == nil && string(b) == hdf5Magic {
			return &UnsupportedError{
				What: "this is a NetCDF-4 (HDF5) file, and only the classic NetCDF formats are read (if it holds text variables, as expver of newer reanalyses, convert with -V and the names of the others)",
				Hint: "nccopy -k cdf5 in.nc out.nc",
			}
		}
	}
	switch {
	case strings.HasPrefix(magic, "CDF") && len(magic) == 4:
		return &UnsupportedError{What: fmt.Sprintf("NetCDF format version %q is not known", magic[3:])}
	case strings.HasPrefix(magic, "\x1f\x8b"):
		return &UnsupportedError{What: "this file is compressed with gzip", Hint: "gunzip in.nc.gz"}
	}
	return &CorruptError{0, "not a NetCDF file"}
}

func (c *contents) parseDims(s *scanner) error {
	n := s.list(tagDimension, 8)
	record := false
	for i := int64(0); i < n && s.err == nil; i++ {
		d := dimension{name: s.name(), n: s.count()}
		if d.n == 0 {
			if record {
				s.fail("two record dimensions")
			}
			d.record, record = true, true
		}
		if d.n > maxExtent {
			s.fail("dimension " + d.name + " is too long")
		}
		c.dims = append(c.dims, d)
	}
	return s.err
}

func (c *contents) parseVars(s *scanner) error {
	n := s.list(tagVariable, 20)
	for i := int64(0); i < n && s.err == nil; i++ {
		v := &variable{name: s.name()}
		rank := s.count()
		if rank > maxRank {
			s.fail(fmt.Sprintf("variable %s has %d dimensions", v.name, rank))
		}
		for k := int64(0); k < rank && s.err == nil; k++ {
			id := s.count()
			if id < 0 || id >= int64(len(c.dims)) {
				s.fail("variable " + v.name + " names a dimension that does not exist")
				break
			}
			v.dims = append(v.dims, int(id))
		}
		v.attrs = s.attributes()
		v.typ = nctype(s.u32())
		s.count() // the stored size wraps for large variables, so it is worked out below
		v.begin = s.offset()
		if s.err != nil {
			break
		}
		if v.typ.size() == 0 || v.typ > typeDouble && !s.wideCount {
			s.fail(fmt.Sprintf("variable %s has unknown type %d", v.name, uint32(v.typ)))
			break
		}
		v.bytes = v.typ.size()
		for k, id := range v.dims {
			d := c.dims[id]
			switch {
			case d.record && k == 0:
				v.record = true
			case d.record:
				s.fail("variable " + v.name + " has the record dimension in second place or later")
			case d.n > 0 && v.bytes > maxExtent/d.n:
				s.fail("variable " + v.name + " is too large")
			default:
				v.bytes *= d.n
			}
		}
		c.vars = append(c.vars, v)
		if c.byName[v.name] != nil {
			s.fail("two variables named " + v.name)
		}
		c.byName[v.name] = v
	}
	return s.err
}

// layRecords works out the size of a record and how many there are. Each
// variable's part of a record is padded to four bytes, unless it is the only
// record variable (format specification, "Note on padding").
func (c *contents) layRecords(claimed int64) {
	var parts, first, recordVars int64
	first = math.MaxInt64
	for _, v := range c.vars {
		if v.record {
			recordVars++
			first = min(first, v.begin)
			parts += (v.bytes + 3) &^ 3
			if recordVars == 1 {
				c.recordSz = v.bytes
			}
		}
	}
	if recordVars > 1 {
		c.recordSz = parts
	}
	c.records = claimed
	if claimed < 0 { // being written as a stream: the file's length tells
		c.records = 0
		if c.recordSz > 0 && first < c.size {
			c.records = (c.size - first) / c.recordSz
		}
	}
	for i := range c.dims {
		if c.dims[i].record {
			c.dims[i].n = c.records
		}
	}
}
