package rulecard

import (
	"math"
	"slices"

	"foilledger/vpp"
)

// axes of a condition.
const (
	axisTWS = iota
	axisTWA
	axisHs
	axes
)

// node is a tree of cuts; a leaf holds an advice. Thresholds are whole numbers
// of the grid's steps, so that a card has round numbers.
type node struct {
	axis, at int // cut at step number at of the axis; below goes left
	lo, hi   *node
	advice   Advice
}

func (n *node) leaf() bool { return n.lo == nil }

func (n *node) clone() *node {
	c := *n
	if !n.leaf() {
		c.lo, c.hi = n.lo.clone(), n.hi.clone()
	}
	return &c
}

// join takes cuts away between leaves that say the same.
func (n *node) join() {
	if n.leaf() {
		return
	}
	n.lo.join()
	n.hi.join()
	if a := n.lo.advice; n.lo.leaf() && n.hi.leaf() && a == n.hi.advice && a.Setting == a.Far {
		*n = node{advice: a}
	}
}

// region is a box in steps of the grid; to is exclusive.
type region struct{ from, to [axes]int }

// everything covers all conditions: angles end at 180°, the others do not end.
const endless = math.MaxInt32

func (g *grid) everything() region {
	return region{to: [axes]int{endless, int(math.Round(math.Pi / g.step[axisTWA])), endless}}
}

// grid holds the steps of the axes in SI units.
type grid struct{ step [axes]float64 }

// place is a leaf of a tree and its region.
type place struct {
	*node
	region
}

// leaves lists the leaves in order; ok is false when a cut leaves nothing.
func (g *grid) leaves(root *node) (out []place, ok bool) {
	ok = true
	var walk func(n *node, r region)
	walk = func(n *node, r region) {
		if n.leaf() {
			out = append(out, place{n, r})
			return
		}
		if n.at <= r.from[n.axis] || n.at >= r.to[n.axis] {
			ok = false
			return
		}
		a, b := r, r
		a.to[n.axis], b.from[n.axis] = n.at, n.at
		walk(n.lo, a)
		walk(n.hi, b)
	}
	walk(root, g.everything())
	return out, ok
}

// cuts lists the inner nodes in order.
func cuts(root *node) (out []*node) {
	if root.leaf() {
		return nil
	}
	out = append(out, root)
	return append(append(out, cuts(root.lo)...), cuts(root.hi)...)
}

// card turns a tree into a card; ok is false when a cut leaves nothing.
func (g *grid) card(root *node, base *Card) (*Card, bool) {
	ls, ok := g.leaves(root)
	if !ok {
		return nil, false
	}
	c := *base
	c.Rules = make([]Rule, len(ls))
	for i, l := range ls {
		span := func(a int) Span {
			s := Span{float64(l.from[a]) * g.step[a], float64(l.to[a]) * g.step[a]}
			if l.to[a] == endless {
				s.To = math.Inf(1)
			}
			return s
		}
		c.Rules[i] = Rule{TWSMS: span(axisTWS), TWARad: span(axisTWA), HsM: span(axisHs), Advice: l.advice}
		if l.to[axisTWA] == g.everything().to[axisTWA] {
			c.Rules[i].TWARad.To = math.Inf(1) // 180° itself belongs to the last box
		}
		c.Rules[i].taper(c.Settings)
	}
	return &c, true
}

// neighbours lists the advices that differ from one by one step, and in.
func neighbours(settings []vpp.FoilSetting, a Advice) (out []Advice) {
	out = append(out, Advice{Both: a.Both}, Advice{Both: !a.Both}, Advice{a.Setting, a.Far, a.ByWind, !a.Both})
	near, far := nextSettings(settings, a.Setting), nextSettings(settings, a.Far)
	if a.Setting == 0 {
		for _, l := range near {
			out = append(out, Advice{Setting: l, Far: l}, Advice{Setting: l, Far: l, Both: true})
		}
		return out
	}
	// The rakes at both ends: one goes by a step, or both do.
	ends := func(l, k uint8) {
		switch {
		case l == k:
			out = append(out, Advice{Setting: l, Far: k, Both: a.Both})
		case settings[l].Extension == settings[k].Extension:
			out = append(out, Advice{l, k, false, a.Both}, Advice{l, k, true, a.Both})
		}
	}
	for _, l := range append(near, a.Setting) {
		ends(l, l)
		for _, k := range append(far, a.Far) {
			if k != l {
				ends(l, k)
			}
		}
	}
	return slices.DeleteFunc(out, func(b Advice) bool { return b == a })
}

// nextSettings lists the settings that differ from l by one step in extension
// or rake; of in, every other one.
func nextSettings(settings []vpp.FoilSetting, l uint8) (out []uint8) {
	s := settings[l]
	same := func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }
	near := func(a, b, other float64) bool {
		return other > math.Min(a, b)+1e-9 && other < math.Max(a, b)-1e-9
	}
	for i := 1; i < len(settings); i++ {
		q := settings[i]
		between := false
		switch {
		case i == int(l):
			continue
		case l == 0:
		case same(q.Extension, s.Extension):
			for _, o := range settings[1:] {
				between = between || same(o.Extension, s.Extension) && near(s.RakeRad, q.RakeRad, o.RakeRad)
			}
		case same(q.RakeRad, s.RakeRad):
			for _, o := range settings[1:] {
				between = between || near(s.Extension, q.Extension, o.Extension)
			}
		default:
			between = true
		}
		if !between {
			out = append(out, uint8(i))
		}
	}
	return out
}
