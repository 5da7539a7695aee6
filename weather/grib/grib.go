// Package grib reads and writes gridded weather in the WMO's GRIB format,
// editions 1 and 2, as [grid.Field] values.
//
// The layout follows WMO-No. 306, Manual on Codes, volume I.2: part B (FM
// 92-XII GRIB, edition 2) and part C (FM 92-XI Ext. GRIB, edition 1). Reading
// works on an [io.ReaderAt]: the headers of a field come first, and only the
// fields that the caller wants are read and decoded, so memory follows what is
// decoded and not the size of the file. What a header claims is checked against
// the bytes that are there before anything is allocated.
//
// Everything that is not decoded is refused with an [UnsupportedError] that
// names it; a damaged message gives a [CorruptError], a file that ends within a
// message a [TruncatedError] after all complete messages have been delivered.
package grib

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"foilledger/weather/grid"
)

// MaxUnprovenPoints is the largest number of points accepted when the length of
// the data does not prove it: constant fields, run lengths and compressed
// images can claim any number in a few bytes. It covers a global grid of 0.065
// degrees. A field with at least one bit of data per point is not limited.
const MaxUnprovenPoints = 1 << 24

// Header is what a field says of itself before its values are decoded.
type Header struct {
	Edition   int
	Message   int   // number of the message in the file, from 1
	Sub       int   // number of the field in its message, from 1
	Offset    int64 // of the message, bytes from the start of the file
	Length    int64 // of the message, bytes
	Centre    int   // originating centre, WMO common code table C-11 (C-1)
	Quantity  grid.Quantity
	Partition int    // swell partition from 1; 0 is the whole swell or no swell
	Parameter string // "0/2/2" (discipline/category/number) or "table 128: 165"
	Grid      string // "3.0 regular lat/lon 361x181"
	Packing   string // "5.3 complex, second-order differences"
	Product   string // "4.1"
	Level     string // "10 m above ground"
	Scan      int    // scanning mode flags
	Bitmap    bool   // a bitmap marks missing points
	Bits      int    // per packed value

	Member       int    // −1 not a member, 0 control, n perturbed member
	EnsembleKind string // "", "member", "control", "mean", "spread" or another word
	Reference    time.Time
	Valid        time.Time // end of the interval where there is one

	Shape  grid.Shape
	Points int64 // points of the grid as the header claims

	// Refused is not nil when this field cannot be decoded: an
	// *UnsupportedError or a *CorruptError. The other parts are then as far as
	// they could be read.
	Refused error
}

// Warning is something that a careful user should know although reading went on.
type Warning struct {
	Offset int64 // bytes from the start of the file
	What   string
}

func (w Warning) String() string { return fmt.Sprintf("byte %d: %s", w.Offset, w.What) }

// UnsupportedError names something that is valid GRIB and not decoded here.
type UnsupportedError struct {
	What     string // "grid", "packing", …
	Template string // "3.30 Lambert conformal"
	Hint     string // what the user can do
}

func (e *UnsupportedError) Error() string {
	s := fmt.Sprintf("GRIB %s %s is not supported", e.What, e.Template)
	if e.Hint != "" {
		s += ": " + e.Hint
	}
	return s
}

// CorruptError tells where bytes contradict the format or each other.
type CorruptError struct {
	Offset int64 // of the message, bytes from the start of the file
	What   string
}

func (e *CorruptError) Error() string {
	return fmt.Sprintf("GRIB message at byte %d is damaged: %s", e.Offset, e.What)
}

// TruncatedError tells that the file ends within a message.
type TruncatedError struct {
	Offset   int64 // of the incomplete message
	Length   int64 // that the message claims; 0 when even that is cut off
	Have     int64 // bytes that are there
	Complete int   // complete messages before it
}

func (e *TruncatedError) Error() string {
	if e.Length == 0 {
		return fmt.Sprintf("GRIB file is cut off at byte %d, %d bytes into a message, after %d complete messages", e.Offset+e.Have, e.Have, e.Complete)
	}
	return fmt.Sprintf("GRIB file is cut off: the message at byte %d has %d of %d bytes, after %d complete messages", e.Offset, e.Have, e.Length, e.Complete)
}

// NotGRIBError tells that no GRIB message was found at all.
type NotGRIBError struct {
	Size  int64
	Looks string // "empty", "HTML", "NetCDF classic", …; "" when unknown
}

func (e *NotGRIBError) Error() string {
	if e.Looks != "" {
		return "not a GRIB file: it looks like " + e.Looks
	}
	return fmt.Sprintf("not a GRIB file: no GRIB message in %d bytes", e.Size)
}

// Reading says what to do with the fields of a file. Only Emit is required.
type Reading struct {
	// Want sees every header, in file order, and says whether to decode. Nil
	// wants every field that is not refused.
	Want func(Header) bool
	// Emit takes each wanted field. Its error ends the reading and is returned.
	Emit func(Header, *grid.Field) error
	// Refuse takes each wanted field that cannot be decoded; a nil result goes
	// on. Without Refuse, reading goes on and Read returns the first refusal
	// at the end.
	Refuse func(Header, error) error
	// Warn takes warnings as they come up, the same text once for a file.
	Warn func(Warning)
	// Scratch lets all fields share one array of values, which is only valid
	// until Emit returns: for callers that look at each field and keep none.
	Scratch bool
	// MaxPoints replaces MaxUnprovenPoints when positive.
	MaxPoints int64
}

// Each reads the fields of a GRIB file in file order: want sees each header and
// says whether to decode, emit takes the decoded field. A nil want takes all
// that can be decoded. See [Read] for errors.
func Each(r io.ReaderAt, size int64, want func(Header) bool, emit func(Header, *grid.Field) error) error {
	return Read(context.Background(), r, size, Reading{Want: want, Emit: emit})
}

// Decoded is a field with its header.
type Decoded struct {
	Header Header
	Field  *grid.Field
}

// Decode decodes all fields of b that can be decoded. Fields that are refused
// become warnings, unless nothing at all could be decoded: then the first
// refusal is the error. After a [TruncatedError] the complete fields are
// returned with it.
func Decode(b []byte) ([]Decoded, []Warning, error) {
	var out []Decoded
	var warnings []Warning
	var refused error
	err := Read(context.Background(), bytes.NewReader(b), int64(len(b)), Reading{
		Want: func(Header) bool { return true },
		Emit: func(h Header, f *grid.Field) error {
			out = append(out, Decoded{h, f})
			return nil
		},
		Refuse: func(h Header, err error) error {
			if refused == nil {
				refused = err
			}
			warnings = append(warnings, Warning{h.Offset, err.Error()})
			return nil
		},
		Warn: func(w Warning) { warnings = append(warnings, w) },
	})
	if err == nil && len(out) == 0 {
		err = refused
	}
	return out, warnings, err
}

// looksLike names the format of a file that is not GRIB from its first bytes.
func looksLike(head []byte, size int64) string {
	low := bytes.ToLower(bytes.TrimSpace(head))
	switch {
	case size == 0:
		return "an empty file"
	case bytes.HasPrefix(head, []byte("CDF")):
		return "NetCDF classic"
	case bytes.HasPrefix(head, []byte("\x89HDF")):
		return "HDF5 or NetCDF-4"
	case bytes.HasPrefix(low, []byte("<!doctype html")), bytes.HasPrefix(low, []byte("<html")):
		return "an HTML page, perhaps the error page of a download"
	case bytes.HasPrefix(low, []byte("<?xml")):
		return "XML, perhaps the error page of a download"
	case bytes.HasPrefix(head, []byte("\x1f\x8b")):
		return "a gzip archive: unpack it first"
	case bytes.HasPrefix(head, []byte("BZh")):
		return "a bzip2 archive: unpack it first"
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return "a zip archive: unpack it first"
	case bytes.HasPrefix(head, []byte("BUFR")):
		return "BUFR observations"
	}
	return ""
}

var errShort = errors.New("section too short")
