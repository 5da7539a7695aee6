package refit

import (
	"strings"

	"foilledger/strategy/trial"
)

// Marginal is what one more unit of a swept dimension is worth between two
// neighbouring values.
type Marginal struct {
	Key        string
	At         string // what else the two variants change, in words; "" when nothing
	From, To   float64
	MinPerUnit float64 // minutes gained per passage and unit of the key
	// Interval is by itself; by Joint those of all values of the list hold at once.
	Interval, Joint trial.Interval
}

// Marginals lists the marginal values along the sweep of one key: between every
// two variants that differ in nothing else.
func (c *Comparison) Marginals(vs []Variant, key string) (out []Marginal) {
	var values [][]float64
	for i := range vs {
		a, ok := vs[i].value(key)
		if !ok {
			continue
		}
		next := -1
		for j := range vs {
			b, ok := vs[j].value(key)
			if !ok || !(b > a) || !sameBut(&vs[i], &vs[j], key) {
				continue
			}
			if next >= 0 {
				if was, _ := vs[next].value(key); was <= b {
					continue
				}
			}
			next = j
		}
		if next < 0 {
			continue
		}
		b, _ := vs[next].value(key)
		d := trial.Differences(c.Variants[next+1].gains, c.Variants[i+1].gains)
		for k := range d {
			d[k] /= b - a
		}
		m := Marginal{Key: key, At: vs[i].besides(key), From: a, To: b}
		m.MinPerUnit = trial.NewSpread(d).Mean
		out, values = append(out, m), append(values, d)
	}
	each, joint := c.intervals(values)
	for i := range out {
		out[i].Interval, out[i].Joint = each[i], joint[i]
	}
	return out
}

// sameBut reports whether two variants change the same keys to the same values
// but for one.
func sameBut(a, b *Variant, key string) bool {
	if len(a.Changes) != len(b.Changes) {
		return false
	}
	for _, c := range a.Changes {
		found := c.Key == key
		for _, d := range b.Changes {
			found = found || d.Key == c.Key && valueText(d.Value) == valueText(c.Value)
		}
		if !found {
			return false
		}
	}
	return true
}

// besides says in words what a variant changes but for one key.
func (v *Variant) besides(key string) string {
	var parts []string
	for _, c := range v.Changes {
		if c.Key != key {
			parts = append(parts, c.Words())
		}
	}
	return strings.Join(parts, ", ")
}
