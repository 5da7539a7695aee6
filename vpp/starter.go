package vpp

import (
	"fmt"
	"reflect"
	"strings"
)

// StarterBoat returns the text of a starter boat file: every key with its unit,
// range and meaning. It parses, and describes an invented boat of 60 feet.
func StarterBoat() string {
	var b strings.Builder
	b.WriteString(`# Boat file. Lines that begin with # are comments.
#
# The unit of every number stands in its key's name: _m metres, _m2 square
# metres, _kg kilograms, _deg degrees, _kn knots, _tf tonnes-force, _kj
# kilojoules, _s seconds. Lengths along the boat are measured from the centre of
# gravity, forward positive; heights from the static waterline, up positive;
# side distances from the centreline. All values here are invented.

`)
	writeSection(&b, "", reflect.TypeOf(Boat{}))
	return b.String()
}

func writeSection(b *strings.Builder, path string, t reflect.Type) {
	// TOML wants the plain keys of a table before its sub-tables.
	for i := range t.NumField() {
		f := t.Field(i)
		switch f.Type.Kind() {
		case reflect.Float64, reflect.String:
			writeKey(b, f)
		case reflect.Slice:
			if f.Type.Elem().Kind() != reflect.Struct {
				writeKey(b, f)
			}
		}
	}
	for i := range t.NumField() {
		f := t.Field(i)
		key := join(path, f.Tag.Get("key"))
		help := f.Tag.Get("help")
		switch f.Type.Kind() {
		case reflect.Struct:
			fmt.Fprintf(b, "\n# %s.\n[%s]\n", help, key)
			writeSection(b, key, f.Type)
		case reflect.Pointer:
			fmt.Fprintf(b, "\n# %s.\n[%s]\n", help, key)
			writeSection(b, key, f.Type.Elem())
		case reflect.Slice:
			if f.Type.Elem() == reflect.TypeOf(SailSet{}) {
				writeSailSets(b, key, help)
			} else if f.Type.Elem().Kind() == reflect.Struct {
				fmt.Fprintf(b, "\n# %s.\n# Optional; an example:\n[[%s]]\n", help, key)
				writeSection(b, key, f.Type.Elem())
			}
		}
	}
}

func writeKey(b *strings.Builder, f reflect.StructField) {
	tag := f.Tag
	note := tag.Get("help")
	if lo := tag.Get("min"); lo != "" {
		note += fmt.Sprintf("; from %s to %s", lo, tag.Get("max"))
	}
	if opt := tag.Get("opt"); opt != "" {
		note += "; may be left out, then " + opt
	}
	v := tag.Get("eg")
	if f.Type.Kind() == reflect.String {
		v = fmt.Sprintf("%q", v)
	}
	fmt.Fprintf(b, "# %s\n%s = %s\n", note, tag.Get("key"), v)
}

// starterSails are the invented sail sets of the starter boat.
var starterSails = []struct {
	name, head     string
	main, headArea float64
	ce, eff        float64
	maxTWS         float64
}{
	{"3 reefs + small jib", "jib", 72, 50, 8.0, 18.5, 200},
	{"1 reef + jib", "jib", 125, 85, 10.6, 24, 200},
	{"2 reefs + small reacher", "reacher", 98, 130, 8.8, 23, 200},
	{"1 reef + reacher", "reacher", 125, 185, 9.8, 26, 200},
	{"full main + reacher", "reacher", 160, 230, 10.8, 29, 200},
	{"full main + spinnaker", "spinnaker", 160, 270, 12.2, 29, 200},
}

func writeSailSets(b *strings.Builder, key, help string) {
	fmt.Fprintf(b, "\n# %s; from small to large.\n", help)
	for i, s := range starterSails {
		fmt.Fprintf(b, "[[%s]]\n", key)
		t := reflect.TypeOf(SailSet{})
		for j := range t.NumField() {
			f := t.Field(j)
			k := f.Tag.Get("key")
			var v string
			switch k {
			case "name":
				v = fmt.Sprintf("%q", s.name)
			case "headsail":
				v = fmt.Sprintf("%q", s.head)
			case "main_area_m2":
				v = fmt.Sprint(s.main)
			case "headsail_area_m2":
				v = fmt.Sprint(s.headArea)
			case "ce_height_m":
				v = fmt.Sprint(s.ce)
			case "effective_height_m":
				v = fmt.Sprint(s.eff)
			case "max_tws_kn":
				v = fmt.Sprint(s.maxTWS)
			}
			if i == 0 {
				fmt.Fprintf(b, "# %s\n", f.Tag.Get("help"))
			}
			fmt.Fprintf(b, "%s = %s\n", k, v)
		}
		b.WriteByte('\n')
	}
}
