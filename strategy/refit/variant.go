package refit

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"foilledger/vpp"
)

// Variant is a boat that differs from the base boat by some changes.
type Variant struct {
	Name    string
	Short   string // for tables and charts; may be ""
	Changes []Change
}

// ParseVariant reads "key=value,key=value", or "name: key=value,key=value".
func ParseVariant(s string) (Variant, error) {
	var v Variant
	if name, changes, ok := strings.Cut(s, ":"); ok && !strings.Contains(name, "=") {
		if v.Name = strings.TrimSpace(name); v.Name == "" {
			return v, fmt.Errorf("change %q: there is no name before the colon", s)
		}
		s = changes
	}
	var err error
	if v.Changes, err = ParseChanges(s); err == nil && v.Name == "" {
		v.Name = changesText(v.Changes)
	}
	return v, err
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

// ReadVariants reads a TOML file of variants:
//
//	[[variant]]
//	name = "longer foil"
//	short = "longer" # for tables and charts; may be left out
//	changes = { "foils.span_m" = 3.0, "foils.area_m2" = 1.6 }
//
//	[[sweep]]
//	key = "foils.span_m"
//	values = [2.4, 2.6, 2.8]
//
// Every error is a *vpp.FileError.
func ReadVariants(data []byte, name string) ([]Variant, []Sweep, error) {
	var f struct {
		Variants []struct {
			Name    string         `toml:"name"`
			Short   string         `toml:"short"`
			Changes map[string]any `toml:"changes"`
		} `toml:"variant"`
		Sweeps []struct {
			Key    string `toml:"key"`
			Values []any  `toml:"values"`
		} `toml:"sweep"`
	}
	d := toml.NewDecoder(strings.NewReader(string(data))).DisallowUnknownFields()
	if err := d.Decode(&f); err != nil {
		e := &vpp.FileError{File: name, Msg: err.Error()}
		var strict *toml.StrictMissingError
		var de *toml.DecodeError
		switch {
		case errors.As(err, &strict) && len(strict.Errors) > 0:
			e.Line, _ = strict.Errors[0].Position()
			e.Msg = "unknown key " + strings.Join(strict.Errors[0].Key(), ".") + "; known are [[variant]] with name, short and changes, and [[sweep]] with key and values"
		case errors.As(err, &de):
			e.Line, _ = de.Position()
			e.Msg = strings.TrimPrefix(de.Error(), "toml: ")
		}
		return nil, nil, e
	}
	if len(f.Variants)+len(f.Sweeps) == 0 {
		return nil, nil, &vpp.FileError{File: name, Msg: "there must be at least one [[variant]] or [[sweep]]"}
	}
	var out []Variant
	seen := map[string]bool{}
	for i, v := range f.Variants {
		bad := func(format string, a ...any) error {
			return &vpp.FileError{File: name, Msg: fmt.Sprintf("variant %d: ", i+1) + fmt.Sprintf(format, a...)}
		}
		switch {
		case strings.TrimSpace(v.Name) == "":
			return nil, nil, bad("name is missing")
		case seen[v.Name]:
			return nil, nil, bad("the name %q is used twice", v.Name)
		case len([]rune(v.Short)) > labelRunes:
			return nil, nil, bad("short is %q: at most %d characters", v.Short, labelRunes)
		case v.Short != "" && seen["short "+v.Short]:
			return nil, nil, bad("short %q is used twice", v.Short)
		}
		seen[v.Name], seen["short "+v.Short] = true, true
		w := Variant{Name: v.Name, Short: v.Short}
		keys := make([]string, 0, len(v.Changes))
		for k := range v.Changes {
			keys = append(keys, k)
		}
		sort.Strings(keys)
		for _, k := range keys {
			x, ok := plain(v.Changes[k])
			if !ok {
				return nil, nil, bad("changes: %q: want a number, a list of numbers or a word; write dotted keys in quotes", k)
			}
			w.Changes = append(w.Changes, Change{k, x})
		}
		out = append(out, w)
	}
	var sweeps []Sweep
	for i, w := range f.Sweeps {
		bad := func(format string, a ...any) error {
			return &vpp.FileError{File: name, Msg: fmt.Sprintf("sweep %d: ", i+1) + fmt.Sprintf(format, a...)}
		}
		if w.Key == "" {
			return nil, nil, bad("key is missing")
		}
		s := Sweep{Key: w.Key}
		for _, v := range w.Values {
			x, ok := plain(v)
			if !ok {
				return nil, nil, bad("values: want numbers, lists of numbers or words")
			}
			s.Values = append(s.Values, x)
		}
		if err := s.check(); err != nil {
			return nil, nil, bad("%v", err)
		}
		sweeps = append(sweeps, s)
	}
	return out, sweeps, nil
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
func (v *Variant) Build(base []byte, filename string, growth GrowthRule) (*vpp.Boat, error) {
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
	if err := v.fillRakes(doc); err != nil {
		return nil, fail("foils.rake_grid_deg", "", "%v", err)
	}
	if boat.Foils != nil {
		v.strengthen(doc, boat, growth)
		if err := v.weigh(doc, boat, growth); err != nil {
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

// fillRakes makes the rakes to consider follow the limits of the rake, when a
// variant changes these alone: rakes outside fall away, and beyond the old ones
// they go on in the step of the last two up to the limit.
func (v *Variant) fillRakes(doc map[string]any) error {
	foils, ok := doc["foils"].(map[string]any)
	if !ok || v.has("foils.rake_grid_deg") || !(v.has("foils.min_rake_deg") || v.has("foils.max_rake_deg")) {
		return nil
	}
	number := func(x any) float64 {
		n, _ := plain(x)
		f, _ := n.(float64)
		return f
	}
	lo, hi := number(foils["min_rake_deg"]), number(foils["max_rake_deg"])
	list, _ := foils["rake_grid_deg"].([]any)
	if len(list) == 0 || !(lo <= hi) {
		return fmt.Errorf("no rake lies from %g to %g", lo, hi)
	}
	step := 1.0
	if n := len(list); n > 1 {
		step = number(list[n-1]) - number(list[n-2])
	}
	if !(step > 0) || (hi-lo)/step > 100 {
		return fmt.Errorf("a step of %g from %g to %g: give foils.rake_grid_deg too", step, lo, hi)
	}
	first, last := number(list[0]), number(list[len(list)-1])
	var rakes []any
	add := func(x float64) {
		if x = round9(x); x >= lo && x <= hi && (len(rakes) == 0 || x > rakes[len(rakes)-1].(float64)) {
			rakes = append(rakes, x)
		}
	}
	add(lo)
	for k := math.Ceil((first - lo) / step); k >= 1; k-- {
		add(first - k*step)
	}
	for _, x := range list {
		add(number(x))
	}
	for x := last + step; x < hi; x += step {
		add(x)
	}
	add(hi)
	foils["rake_grid_deg"] = rakes
	return nil
}
