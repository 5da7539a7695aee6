package refit

import "strings"

// labelRunes is the longest name that tables and charts show as it is.
const labelRunes = 18

// unitsOfKeys are the units that end a key of the boat file, longest first.
var unitsOfKeys = []struct{ suffix, unit string }{
	{"_kj_per_deg_per_tf", "kJ/°/tf"}, {"_kj_per_deg", "kJ/°"}, {"_per_deg", "1/°"}, {"_per_hour", "1/h"},
	{"_m2", "m²"}, {"_kg", "kg"}, {"_deg", "°"}, {"_kn", "kn"}, {"_tf", "tf"}, {"_kj", "kJ"}, {"_w", "W"}, {"_s", "s"}, {"_m", "m"},
}

// KeyWords says a key of the boat file in words, with its unit: "foil area" and
// "m²" for foils.area_m2. The unit is "" for a key without.
func KeyWords(key string) (words, unit string) {
	section, name := "", key
	if i := strings.LastIndex(key, "."); i >= 0 {
		section, name = key[:i], key[i+1:]
	}
	for _, u := range unitsOfKeys {
		if s, ok := strings.CutSuffix(name, u.suffix); ok {
			name, unit = s, u.unit
			break
		}
	}
	words = strings.ReplaceAll(name, "_", " ")
	switch section {
	case "handling":
		words = strings.TrimPrefix(words, "sustained ")
	case "foils":
		words = "foil " + words
	case "hull", "keel":
		words = section + " " + words
	}
	return words, unit
}

// ValueWords writes the value of a key with its unit: "1.8 m²".
func ValueWords(key string, value any) string {
	_, unit := KeyWords(key)
	if list, ok := value.([]any); ok {
		var parts []string
		for _, e := range list {
			parts = append(parts, valueText(e))
		}
		value = strings.Join(parts, " ")
	}
	return strings.TrimSpace(valueText(value) + " " + unit)
}

// Words writes a change in words: "foil area 1.8 m²".
func (c Change) Words() string {
	words, _ := KeyWords(c.Key)
	return words + " " + ValueWords(c.Key, c.Value)
}

// Labels gives each variant a short name for tables and charts: its own, the
// values of the swept keys, its name or its changes in words where these are
// short, and else a letter,
// which a table of what the letters stand for must go with. taken are names
// that are not free.
func Labels(vs []Variant, swept []string, taken ...string) []string {
	out := make([]string, len(vs))
	used := map[string]bool{}
	for _, t := range taken {
		used[t] = true
	}
	letters := 0
	letter := func() string {
		for {
			s := ""
			for n := letters; ; n = n/26 - 1 {
				s = string(rune('A'+n%26)) + s
				if n < 26 {
					break
				}
			}
			letters++
			if !used[s] {
				return s
			}
		}
	}
	for i := range vs {
		l := vs[i].Short
		if l == "" {
			l = vs[i].sweptLabel(swept)
		}
		if l == "" {
			l = vs[i].shortName()
		}
		if !used[l] {
			out[i] = l
		}
		used[l] = true
	}
	for i := range out {
		if out[i] == "" {
			out[i] = letter()
			used[out[i]] = true
		}
	}
	return out
}

// Sweeps reports whether a variant changes the swept keys, in their order, and
// no others.
func (v *Variant) Sweeps(swept []string) bool {
	if len(swept) == 0 || len(v.Changes) != len(swept) {
		return false
	}
	for i, c := range v.Changes {
		if c.Key != swept[i] {
			return false
		}
	}
	return true
}

// sweptLabel is the values of the swept keys; "" when the variant is not of the
// sweep or they are long.
func (v *Variant) sweptLabel(swept []string) string {
	if !v.Sweeps(swept) {
		return ""
	}
	var parts []string
	for _, c := range v.Changes {
		parts = append(parts, ValueWords(c.Key, c.Value))
	}
	l := strings.Join(parts, ", ")
	if len([]rune(l)) > labelRunes+4 {
		return ""
	}
	return l
}

// shortName is the name that the variant was given, or its changes in words; ""
// when that is long.
func (v *Variant) shortName() string {
	l := v.Name
	if !v.named() {
		l = v.words()
	}
	if len([]rune(l)) > labelRunes {
		return ""
	}
	return l
}

// named reports whether the variant has a name besides its changes.
func (v *Variant) named() bool { return v.Name != changesText(v.Changes) }

func (v *Variant) words() string {
	var parts []string
	for _, c := range v.Changes {
		parts = append(parts, c.Words())
	}
	if len(parts) == 0 {
		return "no change"
	}
	return strings.Join(parts, ", ")
}

// Legend says what a variant changes, in words, after the name that it was
// given; "" when its label says it all.
func (v *Variant) Legend(label string) string {
	words := v.words()
	switch {
	case label == words:
		return ""
	case v.named() && label != v.Name:
		return v.Name + ": " + words
	}
	return words
}
