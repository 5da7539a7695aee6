package plots

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"time"
)

// FieldError says which value of a report cannot be drawn.
type FieldError struct {
	Field string // "Steps[3].BSPKn"
	Msg   string
}

func (e *FieldError) Error() string { return "plots: " + e.Field + ": " + e.Msg }

func fieldErr(field, format string, args ...any) error {
	return &FieldError{field, fmt.Sprintf(format, args...)}
}

// finite walks a value and refuses NaN and Inf in every float64, except in
// fields tagged gaps:"nan" or gaps:"nan inf", in which they have a meaning.
func finite(path string, v reflect.Value, gaps string) error {
	switch v.Kind() {
	case reflect.Float64:
		x := v.Float()
		if math.IsNaN(x) && !strings.Contains(gaps, "nan") {
			return fieldErr(path, "is not a number")
		}
		if math.IsInf(x, 0) && !strings.Contains(gaps, "inf") {
			return fieldErr(path, "is infinite")
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if err := finite(fmt.Sprintf("%s[%d]", path, i), v.Index(i), gaps); err != nil {
				return err
			}
		}
	case reflect.Pointer:
		if !v.IsNil() && v.Type() != reflect.TypeFor[*time.Location]() {
			return finite(path, v.Elem(), gaps)
		}
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return nil
		}
		for i := range v.NumField() {
			f := v.Type().Field(i)
			name := f.Name
			if path != "" {
				name = path + "." + name
			}
			if err := finite(name, v.Field(i), f.Tag.Get("gaps")); err != nil {
				return err
			}
		}
	}
	return nil
}

// Validate reports the first value of the report that makes no sense, as a
// *FieldError.
func (r *PassageReport) Validate() error {
	if err := finite("", reflect.ValueOf(*r), ""); err != nil {
		return err
	}
	if r.Departure.IsZero() || !r.Arrival.After(r.Departure) {
		return fieldErr("Arrival", "%s is not after the departure %s", stamp(r.Arrival), stamp(r.Departure))
	}
	if len(r.Baselines) == 0 {
		return fieldErr("Baselines", "empty; the gain needs something to compare with")
	}
	if len(r.Steps) < 2 {
		return fieldErr("Steps", "has %d entries; a passage needs at least 2", len(r.Steps))
	}
	if err := checkSteps("Steps", r.Steps); err != nil {
		return err
	}
	for i, b := range r.Baselines {
		if err := checkSteps(fmt.Sprintf("Baselines[%d].Steps", i), b.Steps); err != nil {
			return err
		}
	}
	for i, a := range r.Actions {
		f := fmt.Sprintf("Actions[%d]", i)
		if err := checkPlace(f, a.LonDeg, a.LatDeg); err != nil {
			return err
		}
		if i > 0 && a.Time.Before(r.Actions[i-1].Time) {
			return fieldErr(f+".Time", "%s is before the action above it", stamp(a.Time))
		}
		if a.Side != "port" && a.Side != "starboard" {
			return fieldErr(f+".Side", "%q is neither port nor starboard", a.Side)
		}
	}
	sum := 0.0
	for _, l := range r.Ledger {
		sum += l.Minutes
	}
	if gain := r.Baselines[0].TimeGainedMin; len(r.Ledger) > 0 && !(math.Abs(sum-gain) <= 0.02) {
		return fieldErr("Ledger", "sums to %.3f min, but the time gained over %q is %.3f min", sum, r.Baselines[0].Name, gain)
	}
	for i, p := range r.Running {
		if i > 0 && p.Time.Before(r.Running[i-1].Time) {
			return fieldErr(fmt.Sprintf("Running[%d].Time", i), "%s is before the point above it", stamp(p.Time))
		}
	}
	if r.BoundGapMin < -0.02 {
		return fieldErr("BoundGapMin", "%.3f: no plan can be faster than its bound", r.BoundGapMin)
	}
	for i, c := range r.Coast {
		for _, p := range c {
			if err := checkPlace(fmt.Sprintf("Coast[%d]", i), p.LonDeg, p.LatDeg); err != nil {
				return err
			}
		}
	}
	if w := r.Wind; w != nil {
		if err := w.validate(); err != nil {
			return err
		}
	}
	if e := r.Extent; e != nil && !(e.EastDeg > e.WestDeg && e.NorthDeg > e.SouthDeg) {
		return fieldErr("Extent", "has no area")
	}
	return nil
}

func checkSteps(f string, steps []Step) error {
	for i, p := range steps {
		g := fmt.Sprintf("%s[%d]", f, i)
		if err := checkPlace(g, p.LonDeg, p.LatDeg); err != nil {
			return err
		}
		if i > 0 && p.Time.Before(steps[i-1].Time) {
			return fieldErr(g+".Time", "%s is before the step above it", stamp(p.Time))
		}
		if p.Board != "port" && p.Board != "starboard" {
			return fieldErr(g+".Board", "%q is neither port nor starboard", p.Board)
		}
		for name, e := range map[string]float64{"PortExt": p.PortExt, "StbdExt": p.StbdExt} {
			if e < 0 || e > 1 {
				return fieldErr(g+"."+name, "%g is outside 0 to 1", e)
			}
		}
	}
	return nil
}

func checkPlace(f string, lon, lat float64) error {
	if !(lat >= -90 && lat <= 90) {
		return fieldErr(f+".LatDeg", "%g is outside −90 to 90", lat)
	}
	if !(lon >= -180 && lon <= 180) {
		return fieldErr(f+".LonDeg", "%g is outside −180 to 180", lon)
	}
	return nil
}

func (w *WindGrid) validate() error {
	n := len(w.LonDeg) * len(w.LatDeg)
	if len(w.LonDeg) < 2 || len(w.LatDeg) < 2 || len(w.Times) == 0 {
		return fieldErr("Wind", "needs at least 2 × 2 places and one time")
	}
	for name, v := range map[string][][]float64{"UKn": w.UKn, "VKn": w.VKn, "HsM": w.HsM} {
		if name == "HsM" && v == nil {
			continue
		}
		if len(v) != len(w.Times) {
			return fieldErr("Wind."+name, "has %d times, not %d", len(v), len(w.Times))
		}
		for k := range v {
			if len(v[k]) != n {
				return fieldErr(fmt.Sprintf("Wind.%s[%d]", name, k), "has %d places, not %d", len(v[k]), n)
			}
		}
	}
	return nil
}

// checkGrid refuses axes that do not ascend and values of another shape.
func checkGrid(name string, tws, twa []float64, values ...[][]float64) error {
	for _, ax := range []struct {
		name string
		v    []float64
	}{{"TWSKn", tws}, {"TWADeg", twa}} {
		if len(ax.v) < 2 {
			return fieldErr(name+"."+ax.name, "has %d values; a map needs at least 2", len(ax.v))
		}
		for i, x := range ax.v {
			if !finiteNumber(x) || i > 0 && x <= ax.v[i-1] {
				return fieldErr(fmt.Sprintf("%s.%s[%d]", name, ax.name, i), "%g does not ascend", x)
			}
		}
	}
	for _, v := range values {
		if len(v) != len(tws) {
			return fieldErr(name, "has %d rows, not one for each of %d wind speeds", len(v), len(tws))
		}
		for i := range v {
			if len(v[i]) != len(twa) {
				return fieldErr(fmt.Sprintf("%s[%d]", name, i), "has %d values, not one for each of %d angles", len(v[i]), len(twa))
			}
		}
	}
	return nil
}

func finiteNumber(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
