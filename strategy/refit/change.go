package refit

import (
	"fmt"
	"strconv"
	"strings"
)

// Change gives one key of a boat file a new value, in the file's unit.
type Change struct {
	Key   string // dotted, as foils.area_m2 or rig.sail_set[0].main_area_m2
	Value any    // float64, string or []any of them
}

// String writes a change as it is given on a command line.
func (c Change) String() string { return c.Key + "=" + valueText(c.Value) }

// changesText writes changes as they are given on a command line.
func changesText(cs []Change) string {
	var parts []string
	for _, c := range cs {
		parts = append(parts, c.String())
	}
	return strings.Join(parts, ", ")
}

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
