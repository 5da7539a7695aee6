package weather

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"foilledger/weather/grib"
	"foilledger/weather/grid"
	"foilledger/weather/netcdf"
)

// FileError says which file a reading error is about.
type FileError struct {
	File string
	Err  error
}

func (e *FileError) Error() string { return fmt.Sprintf("%s: %v", e.File, e.Err) }

// Unwrap returns the cause.
func (e *FileError) Unwrap() error { return e.Err }

// Load reads forecast files: GRIB 1, GRIB 2 and classic NetCDF, told apart by
// their content. A path is a file, a folder (all files in it that hold a
// forecast, by name, not its subfolders) or a pattern as in [filepath.Match].
//
// All files make one forecast. For each variable, grid and valid time the newest
// run wins, and among equal runs the file given first; a variable on several
// grids is taken, wherever a place and time is covered, from the newest run and
// of equal runs from the finest grid. Wind must be there ([NoWindError]).
//
// Only fields of the area and times in Options are decoded and kept. A file that
// ends within a field gives its complete fields and a warning; one that holds no
// complete field is an error. Errors about a file are a [FileError].
func Load(ctx context.Context, paths []string, opt Options) (*Forecast, error) {
	if err := opt.validate(); err != nil {
		return nil, err
	}
	files, err := expand(paths)
	if err != nil {
		return nil, err
	}
	r := newReader(ctx, opt)
	for i, f := range files {
		if err := r.read(i, f); err != nil {
			return nil, err
		}
	}
	only := ""
	if len(files) == 1 {
		only = files[0].name
	}
	return r.forecast(only)
}

// LoadBytes reads a forecast file from memory as [Load] does; name is what
// messages call it.
func LoadBytes(ctx context.Context, name string, data []byte, opt Options) (*Forecast, error) {
	if err := opt.validate(); err != nil {
		return nil, err
	}
	r := newReader(ctx, opt)
	if err := r.readFrom(0, source{name: name}, bytes.NewReader(data), int64(len(data))); err != nil {
		return nil, err
	}
	return r.forecast(name)
}

func newReader(ctx context.Context, opt Options) *reader {
	return &reader{ctx: ctx, opt: opt, kept: kept{seen: map[string]int{}}, sums: map[string]string{}}
}

// forecast makes the forecast of what was read; only names the file if there
// was but one.
func (r *reader) forecast(only string) (*Forecast, error) {
	if p := r.opt.MemberFiles; p != "" && r.members == 0 {
		return nil, fmt.Errorf("no forecast file's name matches the pattern of member files %q", p)
	}
	fc, err := build(r.ctx, r.kept, r.opt)
	if err != nil {
		var none *NoWindError
		if errors.As(err, &none) && r.windRefused != nil {
			return nil, r.windRefused
		}
		if only != "" && r.ctx.Err() == nil {
			return nil, &FileError{only, err}
		}
		return nil, err
	}
	fc.Inputs = r.inputs
	fc.Warnings = append(r.warnings, fc.Warnings...)
	return fc, nil
}

// reader collects fields from files.
type reader struct {
	ctx         context.Context
	opt         Options
	kept        kept
	inputs      []Input
	warnings    []string
	sums        map[string]string // name of the first file with a checksum
	windRefused error
	members     int // files taken as members so far
}

func (r *reader) warn(format string, args ...any) {
	r.warnings = append(r.warnings, fmt.Sprintf(format, args...))
}

// read takes in one file.
func (r *reader) read(index int, src source) error {
	f, err := os.Open(src.name)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return &FileError{src.name, err}
	}
	return r.readFrom(index, src, f, info.Size())
}

// readFrom takes in the content of one file.
func (r *reader) readFrom(index int, src source, f io.ReaderAt, size int64) error {
	fail := func(err error) error {
		if cerr := r.ctx.Err(); cerr != nil {
			return cerr
		}
		return &FileError{src.name, err}
	}
	head := make([]byte, 4096)
	n, err := f.ReadAt(head, 0)
	if err != nil && err != io.EOF {
		return fail(err)
	}
	head = head[:n]
	isNetCDF := netcdf.Recognise(head)
	if src.inFolder && !isNetCDF && !bytes.Contains(head, []byte("GRIB")) {
		r.warn("%s: no forecast file, passed over", src.name)
		return nil
	}
	in := Input{File: src.name}
	if !r.opt.NoSums {
		if in.SHA256, err = checksum(r.ctx, io.NewSectionReader(f, 0, size)); err != nil {
			return fail(err)
		}
		if first, ok := r.sums[in.SHA256]; ok {
			r.warn("%s: the same as %s, passed over", src.name, first)
			return nil
		}
		r.sums[in.SHA256] = src.name
	}
	r.inputs = append(r.inputs, in)
	before := len(r.kept.items) + len(r.kept.mean)
	take := &intake{reader: r, index: index, name: src.name}
	if r.opt.isMember(src.name) {
		r.members++
		take.member = r.members
	}
	if isNetCDF {
		err = take.netcdf(f, size)
	} else {
		err = take.grib(f, size)
	}
	take.tell()
	if err == nil {
		return nil
	}
	if got := len(r.kept.items) + len(r.kept.mean) - before; got > 0 && r.ctx.Err() == nil && cutOff(err) {
		// The decoder has warned of it, but not what it means.
		r.warnings = slices.DeleteFunc(r.warnings, func(w string) bool {
			return strings.HasPrefix(w, src.name+": ") && strings.HasSuffix(w, ": "+err.Error())
		})
		r.warn("%s: %v; the %d complete fields before that are used", src.name, err, got)
		return nil
	}
	return fail(err)
}

// cutOff reports whether err is about damage, before which fields may be good.
func cutOff(err error) bool {
	var t *grib.TruncatedError
	var c *netcdf.CorruptError
	return errors.As(err, &t) || errors.As(err, &c)
}

// intake takes the fields of one file.
type intake struct {
	*reader
	index   int
	name    string
	member  int            // that the file is by Options.MemberFiles; 0 when it is none
	refused map[string]int // message → fields
	notes   []string
}

// useful reports whether a quantity is used at all with these options.
func (in *intake) useful(q grid.Quantity) bool {
	switch q {
	case grid.Other:
		return false
	case grid.WaveHeight, grid.WavePeakPeriod, grid.WaveMeanPeriod, grid.WaveFrom,
		grid.WindSeaHeight, grid.WindSeaPeriod, grid.WindSeaFrom,
		grid.SwellHeight, grid.SwellPeriod, grid.SwellFrom:
		return in.opt.Waves != WavesFromWind
	}
	return true
}

// want decides from the header of a field whether to decode it.
func (in *intake) want(q grid.Quantity, shape grid.Shape, valid time.Time) bool {
	if in.ctx.Err() != nil || !in.useful(q) {
		return false
	}
	wind := q == grid.WindU || q == grid.WindSpeed
	k := &in.kept
	if !in.opt.wantsTime(valid) {
		if wind {
			k.outsideTime++
			if k.first.IsZero() || valid.Before(k.first) {
				k.first = valid
			}
			if valid.After(k.last) {
				k.last = valid
			}
		}
		return false
	}
	if shape.NLat > 0 && shape.NLon > 0 {
		if _, ok := in.opt.cropOf(shape); !ok {
			if wind {
				k.outsideArea++
				k.area = newFrame(grid.Shape{South: shape.South, West: shape.West, DLat: shape.DLat, DLon: shape.DLon, NLat: shape.NLat, NLon: shape.NLon}, nil, 0, 0).bounds()
			}
			return false
		}
	}
	return true
}

// take keeps the part of a decoded field that is needed.
func (in *intake) take(f *grid.Field, kind string) error {
	if err := in.ctx.Err(); err != nil {
		return err
	}
	c, ok := in.opt.cropOf(f.Shape)
	if !ok {
		return nil
	}
	f = c.apply(f)
	if in.member > 0 {
		f.Member = in.member
	}
	it := item{Field: f, file: in.index}
	if kind == "mean" && in.member == 0 {
		f.Member = -1
		in.kept.mean = append(in.kept.mean, it)
	} else {
		in.kept.items = append(in.kept.items, it)
	}
	return nil
}

// grib reads a GRIB file.
func (in *intake) grib(f io.ReaderAt, size int64) error {
	return grib.Read(in.ctx, f, size, grib.Reading{
		Want: func(h grib.Header) bool {
			name := h.Quantity.String()
			if h.Quantity == grid.Other {
				name = "parameter " + h.Parameter
			}
			in.kept.seen[name]++
			switch h.EnsembleKind {
			case "", "member", "control", "mean":
			default:
				return false // spread, probabilities and the like are no weather
			}
			return in.want(h.Quantity, h.Shape, h.Valid)
		},
		Emit:    func(h grib.Header, fld *grid.Field) error { return in.take(fld, h.EnsembleKind) },
		Scratch: true,
		Refuse: func(h grib.Header, err error) error {
			in.refuse(h.Quantity, err)
			return nil
		},
		Warn: func(w grib.Warning) { in.warn("%s: %v", filepath.Base(in.name), w) },
	})
}

// netcdf reads a NetCDF file.
func (in *intake) netcdf(f io.ReaderAt, size int64) error {
	nc, err := netcdf.Open(f, size)
	if err != nil {
		return err
	}
	for _, s := range nc.Skipped() {
		in.warn("%s: variable %s passed over: %v", filepath.Base(in.name), s.Variable, s.Why)
	}
	return nc.Each(
		func(h netcdf.Header) bool {
			name := h.Quantity.String()
			if h.Quantity == grid.Other {
				name = "variable " + h.Variable
			}
			in.kept.seen[name]++
			for _, w := range h.Warnings {
				if !slices.Contains(in.notes, w) {
					in.notes = append(in.notes, w)
				}
			}
			return in.want(h.Quantity, h.Shape, h.Valid)
		},
		func(h netcdf.Header, fld *grid.Field) error { return in.take(fld, "") })
}

// refuse notes a field that the forecast could have used and that cannot be
// decoded.
func (in *intake) refuse(q grid.Quantity, err error) {
	if in.refused == nil {
		in.refused = map[string]int{}
	}
	in.refused[fmt.Sprintf("%v: %v", q, err)]++
	if (q == grid.WindU || q == grid.WindV || q == grid.WindSpeed) && in.windRefused == nil {
		in.windRefused = &FileError{in.name, err}
	}
}

// tell turns what was noted into warnings.
func (in *intake) tell() {
	for _, n := range in.notes {
		in.warn("%s: %s", filepath.Base(in.name), n)
	}
	for _, what := range sortedKeys(in.refused) {
		in.warn("%s: %d fields not decoded: %s", filepath.Base(in.name), in.refused[what], what)
	}
}

// checksum is the SHA-256 of r in hexadecimal; it stops when ctx ends.
func checksum(ctx context.Context, r io.Reader) (string, error) {
	h := sha256.New()
	buf := make([]byte, 1<<20)
	for {
		if err := ctx.Err(); err != nil {
			return "", err
		}
		n, err := r.Read(buf)
		h.Write(buf[:n])
		if err == io.EOF {
			return hex.EncodeToString(h.Sum(nil)), nil
		}
		if err != nil {
			return "", err
		}
	}
}
