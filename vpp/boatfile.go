package vpp

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"foilledger/vpp/units"
)

// FileError says what is wrong in a boat file, where, and what to do.
type FileError struct {
	File string
	Line int    // 1-based; 0 when the fault is something missing
	Key  string // dotted, as rig.sail_set[1].main_area_m2
	Msg  string
	Hint string
}

func (e *FileError) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d", e.Line)
	}
	b.WriteString(": ")
	if e.Key != "" {
		b.WriteString(e.Key + ": ")
	}
	b.WriteString(e.Msg)
	if e.Hint != "" {
		b.WriteString(" (" + e.Hint + ")")
	}
	return b.String()
}

// LoadBoat reads a boat file. The name is only used in messages. Every error is
// a *FileError.
func LoadBoat(data []byte, name string) (*Boat, error) {
	var doc map[string]any
	if err := toml.Unmarshal(data, &doc); err != nil {
		fe := &FileError{File: name, Msg: err.Error(), Hint: "see a starter boat file for the layout"}
		var de *toml.DecodeError
		if errors.As(err, &de) {
			fe.Line, _ = de.Position()
			fe.Key = strings.Join(de.Key(), ".")
			fe.Msg = strings.TrimPrefix(de.Error(), "toml: ")
		}
		return nil, fe
	}
	b := &Boat{}
	r := reader{file: name, lines: indexLines(data)}
	if err := r.table(doc, "", reflect.ValueOf(b).Elem()); err != nil {
		return nil, err
	}
	if err := r.check(b); err != nil {
		return nil, err
	}
	return b, nil
}

type reader struct {
	file  string
	lines map[string]int
}

func (r *reader) fail(key, hint, format string, args ...any) error {
	return &FileError{File: r.file, Line: r.line(key), Key: key, Msg: fmt.Sprintf(format, args...), Hint: hint}
}

// line finds the line of a key, or of the nearest table that holds it.
func (r *reader) line(key string) int {
	for k := key; k != ""; {
		if n, ok := r.lines[k]; ok {
			return n
		}
		i := strings.LastIndexAny(k, ".[")
		if i < 0 {
			return 0
		}
		k = k[:i]
	}
	return 0
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// table fills the struct v from the table m that stands at path.
func (r *reader) table(m map[string]any, path string, v reflect.Value) error {
	t := v.Type()
	known := map[string]int{}
	for i := range t.NumField() {
		known[t.Field(i).Tag.Get("key")] = i
	}
	var unknown []string
	for k := range m {
		if _, ok := known[k]; !ok {
			unknown = append(unknown, k)
		}
	}
	if len(unknown) > 0 {
		// The first in the file, so that the message does not depend on map order.
		sort.Slice(unknown, func(i, j int) bool {
			li, lj := r.line(join(path, unknown[i])), r.line(join(path, unknown[j]))
			return li < lj || li == lj && unknown[i] < unknown[j]
		})
		return r.fail(join(path, unknown[0]), nearestHint(unknown[0], known), "unknown key")
	}
	for i := range t.NumField() {
		f := t.Field(i)
		key := f.Tag.Get("key")
		if err := r.field(m, join(path, key), key, f, v.Field(i)); err != nil {
			return err
		}
	}
	return nil
}

func (r *reader) field(m map[string]any, full, key string, f reflect.StructField, v reflect.Value) error {
	raw, present := m[key]
	opt, optional := f.Tag.Lookup("opt")
	if !present && (f.Type.Kind() == reflect.Pointer || optional && opt == "") {
		return nil
	}
	if !present && !optional {
		return r.fail(full, "add it: "+firstOf(f.Tag.Get("help")), "required key is missing")
	}
	switch f.Type.Kind() {
	case reflect.Float64:
		if !present {
			x, err := strconv.ParseFloat(opt, 64)
			if err != nil {
				panic("vpp: default of " + full + ": " + err.Error())
			}
			v.SetFloat(x * unitOf(key))
			return nil
		}
		x, err := r.number(raw, full, f)
		if err != nil {
			return err
		}
		v.SetFloat(x * unitOf(key))
	case reflect.String:
		s, ok := raw.(string)
		if !ok {
			return r.fail(full, "put it in double quotes", "must be text, is %v", raw)
		}
		if strings.TrimSpace(s) == "" {
			return r.fail(full, "", "must not be empty")
		}
		v.SetString(s)
	case reflect.Struct:
		sub, ok := raw.(map[string]any)
		if !ok {
			return r.fail(full, "write ["+full+"] on a line of its own", "must be a section")
		}
		return r.table(sub, full, v)
	case reflect.Pointer:
		sub, ok := raw.(map[string]any)
		if !ok {
			return r.fail(full, "write ["+full+"] on a line of its own", "must be a section")
		}
		v.Set(reflect.New(f.Type.Elem()))
		return r.table(sub, full, v.Elem())
	case reflect.Slice:
		list, ok := raw.([]any)
		if !ok {
			return r.fail(full, "", "must be a list")
		}
		s := reflect.MakeSlice(f.Type, len(list), len(list))
		for i, e := range list {
			at := fmt.Sprintf("%s[%d]", full, i)
			if f.Type.Elem().Kind() == reflect.Struct {
				sub, ok := e.(map[string]any)
				if !ok {
					return r.fail(at, "write [["+full+"]] on a line of its own", "must be a section")
				}
				if err := r.table(sub, at, s.Index(i)); err != nil {
					return err
				}
				continue
			}
			x, err := r.number(e, at, f)
			if err != nil {
				return err
			}
			s.Index(i).SetFloat(x * unitOf(key))
		}
		v.Set(s)
	}
	return nil
}

// number checks one number against its range, both in the file's unit.
func (r *reader) number(raw any, full string, f reflect.StructField) (float64, error) {
	var x float64
	switch n := raw.(type) {
	case float64:
		x = n
	case int64:
		x = float64(n)
	default:
		return 0, r.fail(full, "write a plain number, the unit is in the key's name", "must be a number, is %v", raw)
	}
	lo, _ := strconv.ParseFloat(f.Tag.Get("min"), 64)
	hi, _ := strconv.ParseFloat(f.Tag.Get("max"), 64)
	if !(x >= lo && x <= hi) { // NaN fails too
		return 0, r.fail(full, firstOf(f.Tag.Get("help")), "is %v, must be from %v to %v", x, lo, hi)
	}
	return x, nil
}

// unitOf is what one unit of the key's value is in SI, read off the key's name.
func unitOf(key string) float64 {
	const degree = math.Pi / 180
	tf := tonnesForce(1)
	switch {
	case strings.HasSuffix(key, "_kj_per_deg_per_tf"):
		return 1000 / (degree * tf)
	case strings.HasSuffix(key, "_kj_per_deg"):
		return 1000 / degree
	case strings.HasSuffix(key, "_per_deg"):
		return 1 / degree
	case strings.HasSuffix(key, "_kj"):
		return 1000
	case strings.HasSuffix(key, "_deg"):
		return degree
	case strings.HasSuffix(key, "_kn"):
		return units.MSPerKnot
	case strings.HasSuffix(key, "_tf"):
		return tf
	}
	return 1
}

// firstOf cuts a help text at its first semicolon, for use in a hint.
func firstOf(s string) string {
	s, _, _ = strings.Cut(s, ";")
	return s
}

// nearestHint names the known key that is most like the unknown one.
func nearestHint(key string, known map[string]int) string {
	best, bestD := "", len(key)/2+1
	names := make([]string, 0, len(known))
	for k := range known {
		names = append(names, k)
	}
	sort.Strings(names)
	for _, k := range names {
		if d := EditDistance(key, k); d < bestD {
			best, bestD = k, d
		}
	}
	if best != "" {
		return "did you mean " + best + "?"
	}
	return "known here: " + strings.Join(names, ", ")
}

// EditDistance is the number of bytes to insert, drop or replace to make one word of
// the other (Levenshtein).
func EditDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diag := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			diag, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diag+cost)
		}
	}
	return row[len(b)]
}

// indexLines maps each dotted key of a TOML text to its line. It only needs to
// be right for texts that the TOML reader has accepted.
func indexLines(data []byte) map[string]int {
	idx := map[string]int{}
	seen := map[string]int{}
	path := ""
	for n, line := range strings.Split(string(data), "\n") {
		s := strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(s, "[["):
			name, _, _ := strings.Cut(s[2:], "]]")
			name = strings.TrimSpace(name)
			path = fmt.Sprintf("%s[%d]", name, seen[name])
			seen[name]++
			if _, ok := idx[name]; !ok {
				idx[name] = n + 1
			}
			idx[path] = n + 1
		case strings.HasPrefix(s, "["):
			name, _, ok := strings.Cut(s[1:], "]")
			if ok && !strings.ContainsAny(name, ",=") {
				path = strings.TrimSpace(name)
				idx[path] = n + 1
			}
		case s != "" && s[0] != '#':
			if key, _, ok := strings.Cut(s, "="); ok {
				key = strings.Trim(strings.TrimSpace(key), `"'`)
				full := join(path, key)
				if _, dup := idx[full]; !dup {
					idx[full] = n + 1
				}
			}
		}
	}
	return idx
}
