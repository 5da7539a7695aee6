// Package netcdf reads weather fields from NetCDF files in the classic formats
// (CDF-1, 64-bit offset and CDF-5) that follow the CF conventions, or come close.
//
// Sources: NetCDF Classic Format Specification and its CDF-5 extension
// (Unidata, NetCDF user's guide, appendix "File format specifications");
// NetCDF Climate and Forecast (CF) Metadata Conventions 1.11 (2023) for
// coordinates (chapters 4 and 5), packed data (8.1), missing data (2.5.1) and
// calendars (4.4.1). NetCDF-4 files, which are HDF5 inside, are refused with
// the command that converts them.
package netcdf

import (
	"fmt"
	"io"
	"time"

	"foilledger/weather/grid"
)

// Header is what a file says of one field without its values being read.
type Header struct {
	Format       string // "classic", "64-bit offset" or "CDF-5"
	Variable     string // name in the file
	StandardName string // CF standard name, "" when absent
	Units        string // as written in the file, "" when absent
	Level        string // such as "depth 0 m, first of 33"; "" when there is no such dimension
	Quantity     grid.Quantity
	Partition    int // swell partition from 1, else 0
	Member       int // −1 deterministic, 0 control, n perturbed member
	Reference    time.Time
	Valid        time.Time
	Shape        grid.Shape
	Packing      string   // storage type, such as "int16, scaled"
	Warnings     []string // what was assumed to read this variable; shared by its fields
}

// CorruptError says that a file is damaged or ends early.
type CorruptError struct {
	Offset int64 // byte in the file
	What   string
}

func (e *CorruptError) Error() string {
	return fmt.Sprintf("NetCDF file is corrupt at byte %d: %s", e.Offset, e.What)
}

// UnsupportedError names something that the reader refuses, and how to get
// round it where a way is known.
type UnsupportedError struct {
	What string
	Hint string // a command or a remedy, "" when none is known
}

func (e *UnsupportedError) Error() string {
	if e.Hint == "" {
		return e.What
	}
	return e.What + "; try: " + e.Hint
}

// Skipped is a variable that looks like weather and cannot be used.
type Skipped struct {
	Variable string
	Why      error
}

// Each calls want for every field of a file, variable by variable and in time
// order, and emit with the decoded field for those that want accepts. The field
// belongs to emit.
//
// A file that ends early yields its complete fields and then a *CorruptError.
// A file without any usable variable is an *UnsupportedError that names what
// was found. Use Open to learn of variables that were passed over.
func Each(r io.ReaderAt, size int64, want func(Header) bool, emit func(Header, *grid.Field) error) error {
	f, err := Open(r, size)
	if err != nil {
		return err
	}
	return f.Each(want, emit)
}

// Recognise reports whether a file that starts with head is NetCDF of any kind,
// NetCDF-4 included.
func Recognise(head []byte) bool {
	return len(head) >= 4 && string(head[:3]) == "CDF" && head[3] <= 5 ||
		len(head) >= len(hdf5Magic) && string(head[:len(hdf5Magic)]) == hdf5Magic
}
