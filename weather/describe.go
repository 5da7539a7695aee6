package weather

import (
	"context"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"foilledger/vpp/units"
	"foilledger/weather/grib"
	"foilledger/weather/grid"
	"foilledger/weather/netcdf"
)

// FieldSummary describes one field of a file.
type FieldSummary struct {
	File      string    `json:"file"`
	Variable  string    `json:"variable"`  // quantity, or the file's own code in brackets when it is not used here
	Parameter string    `json:"parameter"` // code or name in the file
	Unit      string    `json:"unit"`
	Edition   int       `json:"edition"` // of GRIB; 0 for NetCDF
	Grid      string    `json:"grid"`
	Packing   string    `json:"packing"`
	Product   string    `json:"product,omitempty"`
	Level     string    `json:"level,omitempty"`
	Member    int       `json:"member"` // −1 when not of an ensemble
	Ensemble  string    `json:"ensemble,omitempty"`
	Reference time.Time `json:"reference_time"`
	Valid     time.Time `json:"valid_time"`
	Points    int       `json:"points"`
	Missing   int       `json:"missing"`
	// Min, Max and Mean are of the values that are there, in Unit; nil when
	// there is none or the field cannot be decoded. The mean is over grid
	// points, not over area.
	Min  *float64 `json:"min"`
	Max  *float64 `json:"max"`
	Mean *float64 `json:"mean"`
	// Refused says why the field cannot be decoded.
	Refused string `json:"refused,omitempty"`
}

// Description is what a set of files holds, field by field in file order.
type Description struct {
	Fields   []FieldSummary
	Warnings []string
	Inputs   []Input
}

// Describe reads all fields of the files, one at a time, and sums them up. It
// takes paths as [Load] does. A file that cannot be read to its end gives a
// warning when something before could be read; when nothing could be read of any
// file, the first error is returned.
func Describe(ctx context.Context, paths []string) (*Description, error) {
	files, err := expand(paths)
	if err != nil {
		return nil, err
	}
	d := &Description{}
	var first error
	for _, src := range files {
		n := len(d.Fields)
		err := d.file(ctx, src.name)
		if cerr := ctx.Err(); cerr != nil {
			return nil, cerr
		}
		if err != nil {
			what := err.Error()
			err = &FileError{src.name, err}
			told := slices.ContainsFunc(d.Warnings, func(w string) bool {
				return strings.HasPrefix(w, src.name+": ") && strings.HasSuffix(w, ": "+what)
			})
			if !told {
				d.Warnings = append(d.Warnings, err.Error())
			}
			if first == nil && len(d.Fields) == n {
				first = err
			}
		}
	}
	if len(d.Fields) == 0 && first != nil {
		return nil, first
	}
	return d, nil
}

func (d *Description) file(ctx context.Context, name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	sum, err := checksum(ctx, io.NewSectionReader(f, 0, info.Size()))
	if err != nil {
		return err
	}
	d.Inputs = append(d.Inputs, Input{name, sum})
	head := make([]byte, 16)
	n, err := f.ReadAt(head, 0)
	if err != nil && err != io.EOF {
		return err
	}
	if netcdf.Recognise(head[:n]) {
		return netcdf.Each(f, info.Size(), func(netcdf.Header) bool { return ctx.Err() == nil },
			func(h netcdf.Header, fld *grid.Field) error {
				s := FieldSummary{File: name, Variable: variable(h.Quantity, h.Variable), Parameter: h.Variable, Unit: h.Quantity.Unit(),
					Grid: gridText(h.Shape), Packing: h.Packing, Level: h.Level, Member: h.Member, Reference: h.Reference, Valid: h.Valid}
				if s.Unit == "" {
					s.Unit = h.Units
				}
				s.values(fld.Values)
				d.Fields = append(d.Fields, s)
				return ctx.Err()
			})
	}
	gribField := func(h grib.Header) FieldSummary {
		return FieldSummary{File: name, Variable: variable(h.Quantity, h.Parameter), Parameter: h.Parameter, Unit: h.Quantity.Unit(), Edition: h.Edition,
			Grid: h.Grid, Packing: h.Packing, Product: h.Product, Level: h.Level, Member: h.Member, Ensemble: h.EnsembleKind,
			Reference: h.Reference, Valid: h.Valid, Points: int(h.Points)}
	}
	return grib.Read(ctx, f, info.Size(), grib.Reading{
		Want: func(grib.Header) bool { return true },
		Emit: func(h grib.Header, fld *grid.Field) error {
			s := gribField(h)
			s.values(fld.Values)
			d.Fields = append(d.Fields, s)
			return nil
		},
		Scratch: true,
		Refuse: func(h grib.Header, err error) error {
			s := gribField(h)
			s.Refused = err.Error()
			d.Fields = append(d.Fields, s)
			return nil
		},
		Warn: func(w grib.Warning) { d.Warnings = append(d.Warnings, filepath.Base(name)+": "+w.String()) },
	})
}

// variable names a quantity, or its code when it is none that is used here.
func variable(q grid.Quantity, code string) string {
	if q == grid.Other {
		return "other (" + code + ")"
	}
	return q.String()
}

// values sums up the values of a field.
func (s *FieldSummary) values(v []float32) {
	s.Points = len(v)
	lo, hi, sum, n := math.Inf(1), math.Inf(-1), 0.0, 0
	for _, x := range v {
		if x != x {
			s.Missing++
			continue
		}
		y := float64(x)
		lo, hi, sum, n = min(lo, y), max(hi, y), sum+y, n+1
	}
	if n > 0 {
		mean := sum / float64(n)
		s.Min, s.Max, s.Mean = &lo, &hi, &mean
	}
}

// At is the weather at a place and one time of a series.
type At struct {
	Valid  time.Time
	Sample Sample
	Err    error // a *CoverageError when the field does not know
}

// Series returns the weather of a source at a place at the given times. Times
// that are not covered carry their error.
func Series(src Source, lonDeg, latDeg float64, times []time.Time) []At {
	out := make([]At, len(times))
	for i, t := range times {
		out[i].Valid = t.UTC()
		out[i].Sample, out[i].Err = src.At(lonDeg, latDeg, t.Sub(src.Reference()).Seconds())
	}
	return out
}

// Steps returns the times of the wind's steps.
func (f *Field) Steps() []time.Time {
	s := f.StepsS()
	out := make([]time.Time, len(s))
	for i, t := range s {
		out[i] = f.time(t)
	}
	return out
}

// SampleRow is a sample in the units and keys of the commands' JSON.
type SampleRow struct {
	Valid       time.Time `json:"valid_time"`
	U           float64   `json:"u_ms"`
	V           float64   `json:"v_ms"`
	TWSKn       float64   `json:"tws_kn"`
	WindFromDeg float64   `json:"wind_from_deg"`
	GustKn      *float64  `json:"gust_kn,omitempty"`
	HsM         *float64  `json:"hs_m,omitempty"`
	WavePeriodS *float64  `json:"wave_period_s,omitempty"`
	WaveFromDeg *float64  `json:"wave_from_deg,omitempty"`
	CurrentKn   *float64  `json:"current_kn,omitempty"`
	CurrentTo   *float64  `json:"current_to_deg,omitempty"`
	PressureHPa *float64  `json:"pressure_hpa,omitempty"`
}

// Row converts a sample; what is not in known is left out.
func (a At) Row(known Variables) SampleRow {
	s := a.Sample
	opt := func(has bool, v float64) *float64 {
		if !has {
			return nil
		}
		return &v
	}
	wave := known.Has(HasWaveHeight)
	cur := known.Has(HasCurrent) && (s.CurrentU != 0 || s.CurrentV != 0) // both 0: outside the current's forecast
	return SampleRow{
		Valid: a.Valid, U: s.U, V: s.V, TWSKn: units.Knots(s.TWSMS()), WindFromDeg: units.Deg(s.WindFromRad()),
		GustKn: opt(known.Has(HasGust) && s.GustMS > 0, units.Knots(s.GustMS)),
		HsM:    opt(wave, s.HsM), WavePeriodS: opt(wave && s.WavePeriodS > 0, s.WavePeriodS), WaveFromDeg: opt(wave, units.Deg(s.WaveFromRad)),
		CurrentKn: opt(cur, units.Knots(math.Hypot(s.CurrentU, s.CurrentV))), CurrentTo: opt(cur, units.Deg(fromRad(s.CurrentU, s.CurrentV))),
		PressureHPa: opt(known.Has(HasPressure) && s.PressurePa > 0, s.PressurePa/100),
	}
}
