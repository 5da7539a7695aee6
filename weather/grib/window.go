package grib

import (
	"errors"
	"fmt"
	"io"
)

const windowSize = 1 << 15

// window reads small pieces of a file through one buffer. Slices it returns
// are valid until the next call.
type window struct {
	r     io.ReaderAt
	size  int64
	start int64
	buf   []byte // content from start
	mem   []byte
	tail  [8]byte
}

// upTo returns up to n bytes at off, fewer at the end of the file.
func (w *window) upTo(off, n int64) ([]byte, error) {
	if off < 0 || off >= w.size {
		return nil, nil
	}
	n = min(n, w.size-off, windowSize)
	if off < w.start || off+n > w.start+int64(len(w.buf)) {
		if int64(len(w.mem)) < min(windowSize, w.size) {
			w.mem = make([]byte, min(windowSize, w.size))
		}
		want := min(int64(len(w.mem)), w.size-off)
		if err := readFull(w.r, w.mem[:want], off); err != nil {
			w.buf = nil
			return nil, err
		}
		w.start, w.buf = off, w.mem[:want]
	}
	return w.buf[off-w.start:][:n], nil
}

// bytes returns exactly n ≤ windowSize bytes at off.
func (w *window) bytes(off, n int64) ([]byte, error) {
	b, err := w.upTo(off, n)
	if err == nil && int64(len(b)) < n {
		err = io.ErrUnexpectedEOF
	}
	return b, err
}

// fresh returns n ≤ 8 bytes at off without moving the window.
func (w *window) fresh(off, n int64) ([]byte, error) {
	if off >= w.start && off+n <= w.start+int64(len(w.buf)) {
		return w.buf[off-w.start:][:n], nil
	}
	b := w.tail[:n]
	return b, readFull(w.r, b, off)
}

// into reads n bytes at off into *buf, which grows as needed. Eight zero bytes
// follow the result in memory, so that bit readers may load whole words; the
// capacity of the result includes them. n has been checked against the file.
func (w *window) into(buf *[]byte, off, n int64) ([]byte, error) {
	if n < 0 || off < 0 || off+n > w.size {
		return nil, io.ErrUnexpectedEOF
	}
	if int64(cap(*buf)) < n+padding {
		*buf = make([]byte, n+padding)
	}
	b := (*buf)[:n+padding]
	if n > 0 {
		if err := readFull(w.r, b[:n], off); err != nil {
			return nil, err
		}
	}
	clear(b[n:])
	return b[:n], nil
}

func readFull(r io.ReaderAt, b []byte, off int64) error {
	n, err := r.ReadAt(b, off)
	if n == len(b) {
		return nil
	}
	if err == nil || errors.Is(err, io.EOF) {
		err = io.ErrUnexpectedEOF
	}
	return fmt.Errorf("reading byte %d: %w", off+int64(n), err)
}
