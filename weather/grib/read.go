package grib

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"sync"
)

// Read finds the messages of a file and hands their fields on as rd says.
//
// Bytes that are no message are skipped with a warning. The error is a
// *NotGRIBError when there is no message at all; a *TruncatedError when the file
// ends within one, after all complete messages were delivered; the first
// refusal or damage among the wanted fields when rd.Refuse is nil; or what a
// callback returned. Read looks at ctx between fields.
func Read(ctx context.Context, r io.ReaderAt, size int64, rd Reading) error {
	warn, warned := rd.Warn, map[string]bool{}
	rd.Warn = func(w Warning) {
		// Files repeat the same oddity in every message: once is enough.
		if warn != nil && !warned[w.What] && len(warned) < mostWarnings {
			warned[w.What] = true
			warn(w)
		}
	}
	if rd.Want == nil {
		rd.Want = func(h Header) bool { return h.Refused == nil }
	}
	var firstRefusal error
	strict := rd.Refuse == nil
	if strict {
		rd.Refuse = func(_ Header, err error) error {
			if firstRefusal == nil {
				firstRefusal = err
			}
			return nil
		}
	}
	if rd.MaxPoints <= 0 {
		rd.MaxPoints = MaxUnprovenPoints
	}
	s := scanners.Get().(*scanner)
	defer scanners.Put(s)
	*s = scanner{src: window{r: r, size: size, mem: s.src.mem}, rd: rd, ctx: ctx, buf: s.buf}
	defer func() { s.src.r, s.rd, s.ctx, s.damaged = nil, Reading{}, nil, nil }()
	s.buf.trim()
	var atStart error
	s.damaged = func(err error) {
		if c, ok := err.(*CorruptError); ok && c.Offset == 0 {
			atStart = err
		}
		if strict && firstRefusal == nil {
			firstRefusal = err
		}
	}
	if err := s.run(); err != nil {
		return err
	}
	if s.truncated != nil {
		return s.truncated
	}
	if s.messages == 0 && atStart == nil {
		head, _ := s.src.upTo(0, 64)
		return &NotGRIBError{Size: size, Looks: looksLike(head, size)}
	}
	if firstRefusal == nil && s.messages == 0 {
		return atStart
	}
	return firstRefusal
}

// mostWarnings bounds the number of different warnings of one reading.
const mostWarnings = 1000

// scanner walks a file from message to message.
type scanner struct {
	src       window
	rd        Reading
	ctx       context.Context
	messages  int // messages of intact outline met so far
	truncated *TruncatedError
	damaged   func(error) // takes damage that leaves no message to speak of
	buf       buffers
}

// scanners keeps the buffers of earlier readings.
var scanners = sync.Pool{New: func() any { return new(scanner) }}

// buffers are reused from field to field and from file to file.
type buffers struct {
	data, bitmap []byte
	ints         []uint32
	floats       []float32 // for reordering
	values       []float32 // of a field that is only lent
}

// trim lets go of buffers that an unusually large field left behind.
func (b *buffers) trim() {
	const most = 1 << 24 // bytes
	if 4*(cap(b.ints)+cap(b.floats)+cap(b.values))+cap(b.data)+cap(b.bitmap) > most {
		*b = buffers{}
	}
}

var magic = []byte("GRIB")

func (s *scanner) run() error {
	pos := int64(0)
	for {
		if err := s.ctx.Err(); err != nil {
			return err
		}
		at, err := s.find(pos)
		if err != nil {
			return err
		}
		if at < 0 {
			s.warnSkipped(pos, s.src.size)
			return nil
		}
		n, bds, problem, err := s.outline(at)
		if err != nil {
			return err
		}
		if problem != nil {
			// The magic may be chance within junk or the message may be cut
			// short by a broken transfer: look for a later message.
			s.note(pos, at, problem)
			next, err := s.find(at + 1)
			if err != nil {
				return err
			}
			if next < 0 {
				return nil
			}
			pos = next
			continue
		}
		if t := s.truncated; t != nil {
			// What looked cut off was not the end of the file.
			s.damaged(&CorruptError{t.Offset, fmt.Sprintf("length %d reaches beyond the end of the file", t.Length)})
			s.truncated = nil
		}
		s.warnSkipped(pos, at)
		s.messages++
		head, err := s.src.bytes(at, 8)
		if err != nil {
			return err
		}
		if head[7] == 1 {
			err = s.message1(at, n, bds)
		} else {
			err = s.message2(at, n)
		}
		if err != nil {
			return err
		}
		pos = at + n
	}
}

// note keeps what is wrong with the candidate at at: the error when it proves
// to be the last, a warning in any case.
func (s *scanner) note(pos, at int64, problem error) {
	s.warnSkipped(pos, at)
	s.rd.Warn(Warning{at, problem.Error()})
	if t, ok := problem.(*TruncatedError); ok {
		if s.truncated == nil {
			s.truncated = t
		}
		return
	}
	s.damaged(problem)
}

func (s *scanner) warnSkipped(from, to int64) {
	if to <= from {
		return
	}
	// Padding with zeros between messages is common and harmless.
	for p := from; p < to; {
		b, err := s.src.upTo(p, min(to-p, windowSize))
		if err != nil || len(b) == 0 {
			break
		}
		for _, c := range b {
			if c != 0 {
				s.rd.Warn(Warning{from, fmt.Sprintf("%d bytes that are no GRIB message skipped", to-from)})
				return
			}
		}
		p += int64(len(b))
	}
}

// find returns the offset of the next "GRIB" at or after pos, or −1.
func (s *scanner) find(pos int64) (int64, error) {
	for pos < s.src.size {
		if err := s.ctx.Err(); err != nil {
			return 0, err
		}
		b, err := s.src.upTo(pos, windowSize)
		if err != nil {
			return 0, err
		}
		if i := bytes.Index(b, magic); i >= 0 {
			return pos + int64(i), nil
		}
		if len(b) < len(magic) || pos+int64(len(b)) >= s.src.size {
			break
		}
		pos += int64(len(b) - len(magic) + 1)
	}
	return -1, nil
}

// outline checks the start and the end of the message at at and returns its
// length, and for edition 1 the length of its data section when the message is
// too long for its own length field. problem says why there is no message.
func (s *scanner) outline(at int64) (n, bds int64, problem, err error) {
	left := s.src.size - at
	head, err := s.src.upTo(at, 16)
	if err != nil {
		return 0, 0, nil, err
	}
	if len(head) < 8 {
		return 0, 0, &TruncatedError{at, 0, left, s.messages}, nil
	}
	switch head[7] {
	case 1:
		n, bds, err = s.length1(at)
		if err != nil {
			return 0, 0, nil, err
		}
	case 2:
		if len(head) < 16 {
			return 0, 0, &TruncatedError{at, 0, left, s.messages}, nil
		}
		u := binary.BigEndian.Uint64(head[8:])
		if u > 1<<62 {
			return 0, 0, &CorruptError{at, fmt.Sprintf("length %d", u)}, nil
		}
		n = int64(u)
	default:
		return 0, 0, &CorruptError{at, fmt.Sprintf("edition %d", head[7])}, nil
	}
	if n < 12+4 {
		return 0, 0, &CorruptError{at, fmt.Sprintf("length %d", n)}, nil
	}
	if n > left {
		return 0, 0, &TruncatedError{at, n, left, s.messages}, nil
	}
	tail, err := s.src.fresh(at+n-4, 4)
	if err != nil {
		return 0, 0, nil, err
	}
	if string(tail) != "7777" {
		return 0, 0, &CorruptError{at, fmt.Sprintf("no end mark 7777 after %d bytes", n)}, nil
	}
	return n, bds, nil, nil
}
