package trial

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"foilledger/strategy"
	"foilledger/vpp/units"
)

// RuleFile is a policy that a person writes in a file: a list of rules, of
// which the first one whose conditions hold decides.
type RuleFile struct {
	Name      string
	DwellS    float64 // least time between two changes
	Otherwise string  // when no rule applies: "in" or "keep"
	Rules     []Rule

	file string
}

// Rule is one rule. A range that is not given holds everything.
type Rule struct {
	Line                     int // in the file
	TWSMS, TWARad, BSPMS, Hs Range
	Foils                    string  // "in", "out" or "any": the leeward foil as it is
	LastsS                   float64 // for how long the ranges of wind and angle must be expected to hold
	Do                       string  // "out", "in" or "keep"
	Extension                float64 // for out; 0: the furthest
	RakeRad                  float64 // for out; NaN: the fastest at the moment
}

// Range is a closed range.
type Range struct{ Lo, Hi float64 }

// Has reports whether x is in the range.
func (r Range) Has(x float64) bool { return x >= r.Lo && x <= r.Hi }

var everything = Range{math.Inf(-1), math.Inf(1)}

// RuleError says what is wrong in a rule file, and where.
type RuleError struct {
	File string
	Line int // 0: something is missing
	Key  string
	Msg  string
}

func (e *RuleError) Error() string {
	s := e.File
	if e.Line > 0 {
		s = fmt.Sprintf("%s:%d", e.File, e.Line)
	}
	if e.Key != "" {
		s += ": " + e.Key
	}
	return s + ": " + e.Msg
}

// ReadRules reads a rule file (TOML). Every error is a *RuleError. Its keys:
//
//	name = "…"              what the policy is called
//	dwell_min = 30          least time between two changes, minutes; 0 if left out
//	otherwise = "in"        when no rule applies: "in" (the default) or "keep"
//
//	[[rule]]                the first one whose conditions hold decides
//	tws_kn = [14, 28]       true wind speed, knots
//	twa_deg = [80, 140]     true wind angle from the bow as sailed, degrees
//	bsp_kn = [0, 12]        boat speed, knots
//	hs_m = [0, 4]           significant wave height, metres
//	foils = "in"            only while the leeward foil is "in" or "out"; "any"
//	lasts_min = 40          only when wind speed and angle are expected to stay in
//	                        their ranges this long, by the newest forecast
//	do = "out"              "out", "in" or "keep"
//	extension = 1           with "out": one of the boat's; the furthest if left out
//	rake_deg = 3            with "out": one of the boat's; the fastest if left out
func ReadRules(data []byte, name string) (*RuleFile, error) {
	lines := ruleLines(data)
	fail := func(key, format string, a ...any) error {
		line := lines[key]
		for k := key; line == 0 && strings.Contains(k, "."); {
			k = k[:strings.LastIndex(k, ".")]
			line = lines[k]
		}
		return &RuleError{File: name, Line: line, Key: key, Msg: fmt.Sprintf(format, a...)}
	}
	var doc map[string]any
	if err := toml.Unmarshal(data, &doc); err != nil {
		e := &RuleError{File: name, Msg: err.Error()}
		var de *toml.DecodeError
		if errors.As(err, &de) {
			e.Line, _ = de.Position()
			e.Msg = strings.TrimPrefix(de.Error(), "toml: ")
		}
		return nil, e
	}
	f := &RuleFile{Otherwise: "in", file: name}
	number := func(key string, v any, lo, hi float64) (float64, error) {
		x, ok := toFloat(v)
		if !ok {
			return 0, fail(key, "%v is not a number", v)
		}
		if !(x >= lo && x <= hi) {
			return 0, fail(key, "%g: must be from %g to %g", x, lo, hi)
		}
		return x, nil
	}
	word := func(key string, v any, allowed ...string) (string, error) {
		s, ok := v.(string)
		for _, a := range allowed {
			if ok && s == a {
				return s, nil
			}
		}
		return "", fail(key, "%v: must be %s", v, strings.Join(allowed, ", "))
	}
	var err error
	for _, k := range sortedKeys(doc) {
		v := doc[k]
		switch k {
		case "name":
			var ok bool
			if f.Name, ok = v.(string); !ok || f.Name == "" {
				return nil, fail(k, "must be a text")
			}
		case "dwell_min":
			if f.DwellS, err = number(k, v, 0, 1440); err != nil {
				return nil, err
			}
			f.DwellS *= 60
		case "otherwise":
			if f.Otherwise, err = word(k, v, "in", "keep"); err != nil {
				return nil, err
			}
		case "rule":
		default:
			return nil, fail(k, "unknown key; known are name, dwell_min, otherwise and [[rule]]")
		}
	}
	if f.Name == "" {
		return nil, fail("name", "missing")
	}
	list, ok := doc["rule"].([]any)
	if !ok || len(list) == 0 {
		return nil, fail("rule", "there must be at least one [[rule]]")
	}
	for i, item := range list {
		at := fmt.Sprintf("rule[%d]", i+1)
		t, ok := item.(map[string]any)
		if !ok {
			return nil, fail(at, "must be a table")
		}
		r := Rule{Line: lines[at], TWSMS: everything, TWARad: everything, BSPMS: everything, Hs: everything, Foils: "any", RakeRad: math.NaN()}
		span := func(key string, v any, hi float64, unit func(float64) float64) (Range, error) {
			l, ok := v.([]any)
			if !ok || len(l) != 2 {
				return Range{}, fail(key, "must be two numbers, as [12, 28]")
			}
			a, err := number(key, l[0], 0, hi)
			if err != nil {
				return Range{}, err
			}
			b, err := number(key, l[1], 0, hi)
			if err != nil {
				return Range{}, err
			}
			if b < a {
				return Range{}, fail(key, "[%g, %g]: the first must not be above the second", a, b)
			}
			return Range{unit(a), unit(b)}, nil
		}
		for _, k := range sortedKeys(t) {
			v, key := t[k], at+"."+k
			switch k {
			case "tws_kn":
				r.TWSMS, err = span(key, v, 100, units.MS)
			case "twa_deg":
				r.TWARad, err = span(key, v, 180, units.Rad)
			case "bsp_kn":
				r.BSPMS, err = span(key, v, 100, units.MS)
			case "hs_m":
				r.Hs, err = span(key, v, 30, func(x float64) float64 { return x })
			case "foils":
				r.Foils, err = word(key, v, "any", "in", "out")
			case "lasts_min":
				r.LastsS, err = number(key, v, 0, 2880)
				r.LastsS *= 60
			case "do":
				r.Do, err = word(key, v, "out", "in", "keep")
			case "extension":
				r.Extension, err = number(key, v, 0.01, 1)
			case "rake_deg":
				var deg float64
				deg, err = number(key, v, -20, 20)
				r.RakeRad = units.Rad(deg)
			default:
				err = fail(key, "unknown key; known are tws_kn, twa_deg, bsp_kn, hs_m, foils, lasts_min, do, extension, rake_deg")
			}
			if err != nil {
				return nil, err
			}
		}
		if r.Do == "" {
			return nil, fail(at+".do", "missing")
		}
		if r.Do != "out" && (r.Extension != 0 || !math.IsNaN(r.RakeRad)) {
			return nil, fail(at+".do", "extension and rake_deg belong to do = \"out\"")
		}
		f.Rules = append(f.Rules, r)
	}
	return f, nil
}

func toFloat(v any) (float64, bool) {
	switch x := v.(type) {
	case float64:
		return x, x-x == 0
	case int64:
		return float64(x), true
	}
	return 0, false
}

func sortedKeys(m map[string]any) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// ruleLines finds the line of every key of a rule file; rules count from 1.
func ruleLines(data []byte) map[string]int {
	lines := map[string]int{}
	prefix, rules := "", 0
	for i, text := range strings.Split(string(data), "\n") {
		s := strings.TrimSpace(text)
		switch {
		case strings.HasPrefix(s, "[["):
			rules++
			prefix = fmt.Sprintf("rule[%d]", rules)
			lines[prefix] = i + 1
			prefix += "."
		case strings.HasPrefix(s, "["):
			prefix = strings.Trim(s, "[] ") + "."
			lines[strings.TrimSuffix(prefix, ".")] = i + 1
		case strings.HasPrefix(s, "#"):
		default:
			if k, _, ok := strings.Cut(s, "="); ok {
				lines[prefix+strings.Trim(strings.TrimSpace(k), `"'`)] = i + 1
			}
		}
	}
	return lines
}

// For returns the policy of the rules for a boat. An error, of type *RuleError,
// names a rule whose extension or rake the boat does not have.
func (f *RuleFile) For(states *strategy.States) (strategy.Policy, error) {
	p := &rulePolicy{file: f}
	n := states.Len()
	for _, r := range f.Rules {
		var fits []uint8
		furthest := 0.0
		for i := uint8(1); int(i) < n; i++ {
			furthest = math.Max(furthest, states.Setting(i).Extension)
		}
		want := r.Extension
		if want == 0 {
			want = furthest
		}
		var have []string
		for i := uint8(1); int(i) < n; i++ {
			s := states.Setting(i)
			have = append(have, states.Describe(i))
			if math.Abs(s.Extension-want) < 0.006 && (math.IsNaN(r.RakeRad) || math.Abs(s.RakeRad-r.RakeRad) < 1e-6) {
				fits = append(fits, i)
			}
		}
		if r.Do == "out" && len(fits) == 0 {
			return nil, &RuleError{File: f.file, Line: r.Line, Key: "extension, rake_deg", Msg: "the boat has no such setting; it has " + strings.Join(have, "; ")}
		}
		p.fits = append(p.fits, fits)
	}
	return p, nil
}

// rulePolicy is a rule file for one boat.
type rulePolicy struct {
	file *RuleFile
	fits [][]uint8 // settings by rule
}

func (p *rulePolicy) Name() string           { return p.file.Name }
func (p *rulePolicy) Begin(*strategy.States) {}

func (p *rulePolicy) Decide(v *strategy.View) strategy.State {
	if v.SinceS < p.file.DwellS && !v.Held {
		return v.State
	}
	for i := range p.file.Rules {
		r := &p.file.Rules[i]
		if !r.applies(v) {
			continue
		}
		switch r.Do {
		case "keep":
			return v.State
		case "in":
			return strategy.State{}
		}
		if set, ok := p.best(v, p.fits[i]); ok {
			return strategy.State{}.With(v.Leeward(), set)
		}
		return strategy.State{} // a limit refuses every setting of the rule
	}
	if p.file.Otherwise == "keep" && !v.Held {
		return v.State
	}
	return strategy.State{}
}

// best is the fastest of some settings; one that is set already is kept while
// no other is faster by a fiftieth.
func (p *rulePolicy) best(v *strategy.View, fits []uint8) (set uint8, ok bool) {
	fastest := 0.0
	for _, i := range fits {
		s, allowed := v.Steady(i)
		if !allowed {
			continue
		}
		if i == v.State.On(v.Leeward()) {
			s *= 1.02
		}
		if s > fastest || !ok {
			set, fastest, ok = i, s, true
		}
	}
	return set, ok
}

func (r *Rule) applies(v *strategy.View) bool {
	out := v.State.On(v.Leeward()) != 0
	if !r.TWSMS.Has(v.TWSMS) || !r.TWARad.Has(v.TWARad) || !r.BSPMS.Has(v.BSPMS) || !r.Hs.Has(v.HsM) ||
		(r.Foils == "in" && out) || (r.Foils == "out" && !out) {
		return false
	}
	if r.LastsS == 0 {
		return true
	}
	for _, m := range v.Outlook(r.LastsS) {
		if m.TimeS <= v.TimeS+r.LastsS && (!r.TWSMS.Has(m.TWSMS) || !r.TWARad.Has(m.TWARad)) {
			return false
		}
	}
	return true
}
