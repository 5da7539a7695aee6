package weather

import (
	"fmt"
	"strings"
	"time"
)

// Input is a file that a forecast was made from.
type Input struct {
	File   string
	SHA256 string // hexadecimal
}

// Forecast is what a set of files holds: one field, or one per ensemble member.
type Forecast struct {
	// Members holds at least one field: the forecast itself, or the members of
	// an ensemble by rising number, the control run (0) first.
	Members []*Field
	// Deterministic is a single forecast that the files hold beside an ensemble;
	// nil otherwise.
	Deterministic *Field
	// Mean is the ensemble mean, when the files hold one.
	Mean *Field
	// Reference is the time from which all fields count: the newest run read.
	Reference time.Time
	Warnings  []string
	Inputs    []Input
}

// Main is the field to plan with when only one is wanted: the single forecast,
// else the control run, else the mean, else the first member.
func (f *Forecast) Main() *Field {
	switch {
	case f.Deterministic != nil:
		return f.Deterministic
	case f.Members[0].member == 0 || f.Mean == nil:
		return f.Members[0]
	}
	return f.Mean
}

func (f *Forecast) warn(format string, args ...any) {
	f.Warnings = append(f.Warnings, fmt.Sprintf(format, args...))
}

// report adds the warnings that tell what was assumed.
func (f *Forecast) report() {
	m := f.Main()
	if m.derived {
		f.warn("no waves in the forecast: derived from the wind (%s)", m.waveNote)
	} else if !m.Variables().Has(HasWaveHeight) {
		f.warn("no waves in the forecast: the sea counts as flat")
	}
	if v := m.Variables(); v.Has(HasWaveHeight) && !m.derived {
		if !v.Has(HasWavePeriod) {
			f.warn("no wave period in the forecast: that of a fully developed sea of the same height (Pierson and Moskowitz 1964)")
		}
		if !v.Has(HasWaveDirection) {
			f.warn("no wave direction in the forecast: the sea runs with the wind")
		}
	}
	for g := range groups {
		if n := m.filled[g]; n > 0 && (g == gWind || g == gHeight || g == gCurrent) {
			total := 0
			for _, l := range m.layers[g] {
				total += l.nodes() * len(l.timesS)
			}
			f.warn("%s: %d of %d node values along the coast filled from their nearest neighbours within one cell", g, n, total)
		}
	}
	windFirst, windLast := span(m.layers[gWind])
	if len(m.layers[gHeight]) > 0 && !m.derived {
		if first, last := span(m.layers[gHeight]); first > windFirst+edgeSlackS || last < windLast-edgeSlackS {
			f.warn("waves are given from %s to %s, the wind from %s to %s", stamp(m.time(first)), stamp(m.time(last)), stamp(m.time(windFirst)), stamp(m.time(windLast)))
		}
	}
	if len(m.layers[gCurrent]) > 0 {
		first, last := span(m.layers[gCurrent])
		f.warn("current counts as zero outside %v and %s to %s", m.layers[gCurrent][0].bounds(), stamp(m.time(first)), stamp(m.time(last)))
	}
	if len(f.Members) > 1 {
		first := f.Members[0]
		for _, o := range f.Members[1:] {
			if v, w := first.Variables(), o.Variables(); v != w {
				if more := w &^ v; more != 0 {
					f.warn("ensemble members differ in variables: member %d also holds %s", o.member, strings.Join(more.Names(), ", "))
				} else {
					f.warn("ensemble members differ in variables: member %d lacks %s", o.member, strings.Join((v&^w).Names(), ", "))
				}
				break
			}
		}
		a, b := first.SpanS()
		for _, o := range f.Members[1:] {
			if c, d := o.SpanS(); c != a || d != b {
				f.warn("ensemble members differ in time: member %d runs from %s to %s, member %d from %s to %s",
					f.Members[0].member, stamp(m.time(a)), stamp(m.time(b)), o.member, stamp(m.time(c)), stamp(m.time(d)))
				break
			}
		}
	}
}
