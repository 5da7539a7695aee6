package refit

import (
	"errors"
	"fmt"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"foilledger/vpp"
)

// Change gives one key of a boat file a new value, in the file's unit.
type Change struct {
	Key   string // dotted, as foils.area_m2 or rig.sail_set[0].main_area_m2
	Value any    // float64, string or []any of them
}

// String writes a change as it is given on a command line.
func (c Change) String() string { return c.Key + "=" + valueText(c.Value) }

func valueText(v any) string {
	switch x := v.(type) {
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	case []any:
		var parts []string
		for _, e := range x {
			parts = append(parts, valueText(e))
		}
		return "[" + strings.Join(parts, ",") + "]"
	}
	return fmt.Sprint(v)
}

// Variant is a boat that differs from the base boat by some changes.
type Variant struct {
	Name    string
	Changes []Change
}

// value returns the number that a change gives to a key.
func (v *Variant) value(key string) (float64, bool) {
	for _, c := range v.Changes {
		if x, ok := c.Value.(float64); ok && c.Key == key {
			return x, true
		}
	}
	return 0, false
}

// has reports whether a key is changed.
func (v *Variant) has(key string) bool {
	for _, c := range v.Changes {
		if c.Key == key {
			return true
		}
	}
	return false
}

// ParseChanges reads "foils.area_m2=1.8,foils.extension_steps=[0.5,1]".
func ParseChanges(s string) ([]Change, error) {
	var out []Change
	for _, part := range splitOutside(s, ',') {
		key, text, ok := strings.Cut(part, "=")
		key, text = strings.TrimSpace(key), strings.TrimSpace(text)
		if !ok || key == "" || text == "" {
			return nil, fmt.Errorf("change %q: want key=value, as foils.area_m2=1.8", strings.TrimSpace(part))
		}
		v, err := parseValue(text)
		if err != nil {
			return nil, fmt.Errorf("change of %s: %w", key, err)
		}
		for _, c := range out {
			if c.Key == key {
				return nil, fmt.Errorf("change of %s: given twice", key)
			}
		}
		out = append(out, Change{key, v})
	}
	return out, nil
}

// splitOutside splits at a separator that stands in no brackets.
func splitOutside(s string, sep byte) (out []string) {
	depth, from := 0, 0
	for i := range len(s) {
		switch s[i] {
		case '[':
			depth++
		case ']':
			depth--
		case sep:
			if depth == 0 {
				out = append(out, s[from:i])
				from = i + 1
			}
		}
	}
	return append(out, s[from:])
}

// parseValue reads a number, a list of numbers, or a word.
func parseValue(s string) (any, error) {
	if x, err := strconv.ParseFloat(s, 64); err == nil {
		if x-x != 0 {
			return nil, fmt.Errorf("%s is not a finite number", s)
		}
		return x, nil
	}
	if strings.HasPrefix(s, "[") {
		if !strings.HasSuffix(s, "]") {
			return nil, fmt.Errorf("%q: the list does not end with ]", s)
		}
		var out []any
		for _, e := range strings.Split(s[1:len(s)-1], ",") {
			x, err := strconv.ParseFloat(strings.TrimSpace(e), 64)
			if err != nil || x-x != 0 {
				return nil, fmt.Errorf("%q is not a list of numbers", s)
			}
			out = append(out, x)
		}
		return out, nil
	}
	return strings.Trim(s, `"`), nil
}

// VariantError says what is wrong with a file of variants.
type VariantError struct {
	File string
	Line int // 0: not known
	Msg  string
}

func (e *VariantError) Error() string {
	if e.Line > 0 {
		return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Msg)
	}
	return e.File + ": " + e.Msg
}

// ReadVariants reads a TOML file of variants:
//
//	[[variant]]
//	name = "longer foil"
//	changes = { "foils.span_m" = 3.0, "foils.area_m2" = 1.6 }
//
// Every error is a *VariantError.
func ReadVariants(data []byte, name string) ([]Variant, error) {
	var f struct {
		Variants []struct {
			Name    string         `toml:"name"`
			Changes map[string]any `toml:"changes"`
		} `toml:"variant"`
	}
	d := toml.NewDecoder(strings.NewReader(string(data))).DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		e := &VariantError{File: name, Msg: err.Error()}
		var strict *toml.StrictMissingError
		var de *toml.DecodeError
		switch {
		case errors.As(err, &strict) && len(strict.Errors) > 0:
			e.Line, _ = strict.Errors[0].Position()
			e.Msg = "unknown key " + strings.Join(strict.Errors[0].Key(), ".") + "; known are [[variant]] with name and changes"
		case errors.As(err, &de):
			e.Line, _ = de.Position()
			e.Msg = strings.TrimPrefix(de.Error(), "toml: ")
		}
		return nil, e
	}
	if len(f.Variants) == 0 {
		return nil, &VariantError{File: name, Msg: "there must be at least one [[variant]]"}
	}
	var out []Variant
	seen := map[string]bool{}
	for i, v := range f.Variants {
		bad := func(format string, a ...any) error {
			return &VariantError{File: name, Msg: fmt.Sprintf("variant %d: ", i+1) + fmt.Sprintf(format, a...)}
		}
		if strings.TrimSpace(v.Name) == "" {
			return nil, bad("name is missing")
		}
		if seen[v.Name] {
			return nil, bad("the name %q is used twice", v.Name)
		}
		seen[v.Name] = true
		w := Variant{Name: v.Name}
		keys := make([]string, 0, len(v.Changes))
		for k := range v.Changes {
			keys = append(keys, k)
		}
		sort.Strings(keys)
		for _, k := range keys {
			x, ok := plain(v.Changes[k])
			if !ok {
				return nil, bad("changes: %q: want a number, a list of numbers or a word; write dotted keys in quotes", k)
			}
			w.Changes = append(w.Changes, Change{k, x})
		}
		out = append(out, w)
	}
	return out, nil
}

// plain turns the numbers of a TOML value into float64; ok is false for what a
// change cannot be.
func plain(v any) (any, bool) {
	switch x := v.(type) {
	case int64:
		return float64(x), true
	case float64:
		return x, x-x == 0
	case string:
		return x, true
	case []any:
		out := make([]any, len(x))
		for i, e := range x {
			n, ok := plain(e)
			if _, number := n.(float64); !ok || !number {
				return nil, false
			}
			out[i] = n
		}
		return out, true
	}
	return nil, false
}

// Sweep is a row of values for one key.
type Sweep struct {
	Key    string
	Values []float64
}

// ParseSweep reads "foils.area_m2=1.2:2.0:0.2" (from, to, step) or
// "foils.area_m2=1.2,1.45,1.7".
func ParseSweep(s string) (Sweep, error) {
	key, text, ok := strings.Cut(s, "=")
	w := Sweep{Key: strings.TrimSpace(key)}
	fail := func() (Sweep, error) {
		return w, fmt.Errorf("sweep %q: want key=from:to:step or key=a,b,c, as foils.area_m2=1.2:2.0:0.2", s)
	}
	if !ok || w.Key == "" {
		return fail()
	}
	number := func(t string) float64 {
		x, err := strconv.ParseFloat(strings.TrimSpace(t), 64)
		if err != nil || x-x != 0 {
			ok = false
		}
		return x
	}
	if parts := strings.Split(text, ":"); len(parts) == 3 {
		from, to, step := number(parts[0]), number(parts[1]), number(parts[2])
		if !ok || !(step > 0) || !(to > from) || (to-from)/step > 200 {
			return fail()
		}
		for i := 0; ; i++ {
			x := from + float64(i)*step
			if x > to+1e-9*step {
				break
			}
			w.Values = append(w.Values, round9(x))
		}
		return w, nil
	}
	for _, t := range strings.Split(text, ",") {
		w.Values = append(w.Values, number(t))
	}
	if !ok || len(w.Values) < 1 {
		return fail()
	}
	for i := 1; i < len(w.Values); i++ {
		if !(w.Values[i] > w.Values[i-1]) {
			return w, fmt.Errorf("sweep of %s: the values must rise", w.Key)
		}
	}
	return w, nil
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
				c := Change{s.Key, x}
				name := c.String()
				if v.Name != "" {
					name = v.Name + ", " + name
				}
				next = append(next, Variant{name, append(append([]Change(nil), v.Changes...), c)})
			}
		}
		out = next
	}
	return out
}

// PumpKey is a key of variants that stands for where the rake pump is: its
// values are "cockpit" and "below".
const PumpKey = "pump"

// How long the sailor needs to get to a rake pump, each way: beside the helm, or
// below deck through the companionway and back into harness (common practice).
const (
	pumpCockpitS = 5.0
	pumpBelowS   = 45.0
)

// Build applies a variant to the text of the base boat's file. Keys that the
// boat file does not know are refused; errors are of type *vpp.FileError.
func (v *Variant) Build(base []byte, filename string, mass MassRule) (*vpp.Boat, error) {
	boat, err := vpp.LoadBoat(base, filename)
	if err != nil {
		return nil, err
	}
	var doc map[string]any
	if err := toml.Unmarshal(base, &doc); err != nil {
		return nil, &vpp.FileError{File: filename, Msg: err.Error()}
	}
	fail := func(key, hint, format string, a ...any) error {
		return &vpp.FileError{File: fmt.Sprintf("variant %q of %s", v.Name, filename), Key: key, Hint: hint, Msg: fmt.Sprintf(format, a...)}
	}
	for _, c := range v.Changes {
		if c.Key == PumpKey {
			reach, ok := map[any]float64{"cockpit": pumpCockpitS, "below": pumpBelowS}[c.Value]
			if !ok {
				return nil, fail(c.Key, "cockpit or below", "is %v", valueText(c.Value))
			}
			c = Change{"handling.reach_pump_s", reach}
		}
		if err := set(doc, c.Key, c.Value); err != nil {
			return nil, fail(c.Key, "", "%v", err)
		}
	}
	if boat.Foils != nil {
		if err := v.weigh(doc, boat, mass); err != nil {
			return nil, fail("foils.mass_kg", "", "%v", err)
		}
	}
	text, err := toml.Marshal(doc)
	if err != nil {
		return nil, fail("", "", "%v", err)
	}
	out, err := vpp.LoadBoat(text, filename)
	var fe *vpp.FileError
	if errors.As(err, &fe) {
		return nil, &vpp.FileError{File: fmt.Sprintf("variant %q of %s", v.Name, filename), Key: fe.Key, Msg: fe.Msg, Hint: fe.Hint}
	}
	return out, err
}

// set puts a value at a dotted key. The sections on the way must exist.
func set(doc map[string]any, key string, value any) error {
	parts := strings.Split(key, ".")
	at := doc
	for _, p := range parts[:len(parts)-1] {
		name, index := p, -1
		if n, rest, ok := strings.Cut(p, "["); ok {
			i, err := strconv.Atoi(strings.TrimSuffix(rest, "]"))
			if err != nil || i < 0 {
				return fmt.Errorf("%q is not a section", p)
			}
			name, index = n, i
		}
		next := at[name]
		if list, ok := next.([]any); ok && index >= 0 && index < len(list) {
			next = list[index]
		} else if index >= 0 {
			return fmt.Errorf("the boat file has no section %s", p)
		}
		t, ok := next.(map[string]any)
		if !ok {
			return fmt.Errorf("the boat file has no section %s", p)
		}
		at = t
	}
	at[parts[len(parts)-1]] = value
	return nil
}
