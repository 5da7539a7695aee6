package netcdf

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strings"
)

// scanner reads a header through a window, so that only the header is read.
type scanner struct {
	r          io.ReaderAt
	size, at   int64
	window     []byte // of the file, starting at from
	from       int64
	wideOffset bool // offsets take 8 bytes
	wideCount  bool // counts take 8 bytes
	err        error
}

func (s *scanner) fail(what string) {
	if s.err == nil {
		s.err = &CorruptError{s.at, what}
	}
}

// take returns the next n bytes, valid until the next call.
func (s *scanner) take(n int64) []byte {
	if s.err != nil {
		return nil
	}
	if n < 0 || n > s.size-s.at || s.at+n > maxHeader {
		s.fail("header ends early or is too long")
		return nil
	}
	if s.at < s.from || s.at+n > s.from+int64(len(s.window)) {
		want := min(max(n, 1<<14), s.size-s.at)
		b := make([]byte, want)
		k, err := s.r.ReadAt(b, s.at)
		if int64(k) < n {
			if err == nil || err == io.EOF {
				s.fail("header ends early")
			} else {
				s.err = err
			}
			return nil
		}
		s.window, s.from = b[:k], s.at
	}
	b := s.window[s.at-s.from:][:n]
	s.at += n
	return b
}

func (s *scanner) u32() uint32 {
	if b := s.take(4); b != nil {
		return binary.BigEndian.Uint32(b)
	}
	return 0
}

func (s *scanner) i64() int64 {
	if b := s.take(8); b != nil {
		return int64(binary.BigEndian.Uint64(b))
	}
	return 0
}

// count reads a count, which is never negative.
func (s *scanner) count() int64 {
	n := int64(0)
	if s.wideCount {
		n = s.i64()
	} else {
		n = int64(s.u32())
	}
	if n < 0 {
		s.fail("negative count")
		return 0
	}
	return n
}

// recordCount returns −1 for a file being written as a stream.
func (s *scanner) recordCount() int64 {
	if s.wideCount {
		if n := s.i64(); n >= 0 {
			return n
		}
		return -1
	}
	if n := s.u32(); n != math.MaxUint32 {
		return int64(n)
	}
	return -1
}

func (s *scanner) offset() int64 {
	n := int64(0)
	if s.wideOffset {
		n = s.i64()
	} else {
		n = int64(s.u32())
	}
	if n < 0 {
		s.fail("negative offset")
		return 0
	}
	return n
}

// list reads the start of a list and returns its length. An entry takes at
// least entryBytes, which bounds the length by what is left of the file.
func (s *scanner) list(tag uint32, entryBytes int64) int64 {
	got, n := s.u32(), s.count()
	switch {
	case s.err != nil || got == 0 && n == 0:
		return 0
	case got != tag && !(got == 0 && n == 0):
		s.fail(fmt.Sprintf("list tag %#x, want %#x", got, tag))
		return 0
	case n > maxEntries || n > (s.size-s.at)/entryBytes:
		s.fail(fmt.Sprintf("list of %d entries", n))
		return 0
	}
	return n
}

func (s *scanner) name() string {
	n := s.count()
	if n > maxName {
		s.fail("name is too long")
		return ""
	}
	name := string(s.take(n))
	s.take(-n & 3)
	return name
}

func (s *scanner) attributes() attributes {
	n := s.list(tagAttribute, 12)
	var a attributes
	for i := int64(0); i < n && s.err == nil; i++ {
		name := s.name()
		at := attribute{typ: nctype(s.u32())}
		count := s.count()
		sz := at.typ.size()
		if s.err == nil && (sz == 0 || count > maxExtent) {
			s.fail("attribute " + name + " has an unknown type or length")
		}
		if s.err != nil {
			break
		}
		total := count * sz
		if total > maxAttribute {
			// Long histories and the like: passed over, not kept.
			if total > s.size-s.at {
				s.fail("attribute " + name + " is longer than the file")
				break
			}
			s.at += total + -total&3
			continue
		}
		b := s.take(total)
		if s.err != nil {
			break
		}
		if at.typ == typeChar {
			at.text = strings.TrimRight(string(b), "\x00")
		} else {
			for k := int64(0); k < count; k++ {
				at.nums = append(at.nums, at.typ.number(b[k*sz:]))
			}
		}
		s.take(-total & 3)
		if a == nil {
			a = attributes{}
		}
		a[name] = at
	}
	return a
}
