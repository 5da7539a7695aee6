package refit

import (
	"fmt"
	"strconv"
	"strings"
)

// Sweep is a row of values for one key: numbers that rise, lists of numbers or
// words.
type Sweep struct {
	Key    string
	Values []any
}

// ParseSweep reads "foils.area_m2=1.2:2.0:0.2" (from, to, step),
// "foils.area_m2=1.2,1.45,1.7", "foils.extension_steps=[1],[0.5,1]" or
// "pump=cockpit,below".
func ParseSweep(s string) (Sweep, error) {
	key, text, ok := strings.Cut(s, "=")
	w := Sweep{Key: strings.TrimSpace(key)}
	if !ok || w.Key == "" || strings.TrimSpace(text) == "" {
		return w, fmt.Errorf("sweep %q: want key=from:to:step or key=a,b,c, as foils.area_m2=1.2:2.0:0.2", s)
	}
	if strings.Contains(text, ":") {
		return w, w.step(text)
	}
	for _, t := range splitOutside(text, ',') {
		v, err := parseValue(strings.TrimSpace(t))
		if err != nil {
			return w, fmt.Errorf("sweep of %s: %w", w.Key, err)
		}
		w.Values = append(w.Values, v)
	}
	return w, w.check()
}

// step fills in the values of "from:to:step".
func (w *Sweep) step(text string) error {
	parts := strings.Split(text, ":")
	var x [3]float64
	ok := len(parts) == 3
	for i := 0; ok && i < 3; i++ {
		var err error
		x[i], err = strconv.ParseFloat(strings.TrimSpace(parts[i]), 64)
		ok = err == nil && x[i]-x[i] == 0
	}
	from, to, step := x[0], x[1], x[2]
	if !ok || !(step > 0) || !(to > from) || (to-from)/step > 200 {
		return fmt.Errorf("sweep of %s: %q is not from:to:step; the end must lie above the start and the step be above 0, with at most 200 steps, as 1.2:2.0:0.2", w.Key, text)
	}
	for i := 0; ; i++ {
		x := from + float64(i)*step
		if x > to+1e-9*step {
			return nil
		}
		w.Values = append(w.Values, round9(x))
	}
}

// check sees to it that there are values, all of one kind and none twice, and
// that numbers rise.
func (w *Sweep) check() error {
	if len(w.Values) == 0 {
		return fmt.Errorf("sweep of %s: there is no value", w.Key)
	}
	kind := func(v any) string {
		switch v.(type) {
		case float64:
			return "number"
		case []any:
			return "list"
		}
		return "word"
	}
	seen := map[string]bool{}
	for i, v := range w.Values {
		if kind(v) != kind(w.Values[0]) {
			return fmt.Errorf("sweep of %s: %s is a %s and %s a %s", w.Key, valueText(w.Values[0]), kind(w.Values[0]), valueText(v), kind(v))
		}
		if seen[valueText(v)] {
			return fmt.Errorf("sweep of %s: %s is given twice", w.Key, valueText(v))
		}
		seen[valueText(v)] = true
		if x, ok := v.(float64); ok && i > 0 && !(x > w.Values[i-1].(float64)) {
			return fmt.Errorf("sweep of %s: the values must rise", w.Key)
		}
	}
	return nil
}

// round9 takes the dust of binary fractions off a decimal number.
func round9(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 9, 64), 64)
	if err != nil {
		return x
	}
	return y
}

// Variants lists the variants of one or two sweeps: every pair of values.
func Variants(sweeps []Sweep) []Variant {
	out := []Variant{{}}
	for _, s := range sweeps {
		var next []Variant
		for _, v := range out {
			for _, x := range s.Values {
				cs := append(append([]Change(nil), v.Changes...), Change{s.Key, x})
				next = append(next, Variant{Name: changesText(cs), Changes: cs})
			}
		}
		out = next
	}
	return out
}
