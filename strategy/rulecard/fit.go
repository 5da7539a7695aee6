package rulecard

import (
	"context"
	"errors"
	"math"
	"sort"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// Options of a fit. The zero value is usable.
type Options struct {
	// Rules is the largest number of rules; 0 means 12.
	Rules int
	// Beyond is by how many rules the curve of prices goes on beyond that; 0
	// means 4, negative none.
	Beyond int
	// The steps of the boxes' edges; 0 means 1 kn, 5° and 0.5 m.
	TWSStepMS, TWAStepRad, HsStepM float64
	// Workers is the number of goroutines; 0 means one per processor. The
	// result does not depend on it.
	Workers int
}

func (o *Options) rules() int { return orInt(o.Rules, 12) }

func (o *Options) most() int {
	switch {
	case o.Beyond < 0:
		return o.rules()
	case o.Beyond == 0:
		return o.rules() + 4
	}
	return o.rules() + o.Beyond
}

func orInt(x, otherwise int) int {
	if x > 0 {
		return x
	}
	return otherwise
}

func or(x, otherwise float64) float64 {
	if x > 0 {
		return x
	}
	return otherwise
}

// Step is a card with a given number of rules on the way of the fit.
type Step struct {
	Card *Card
	// EstimateS is the mean over the training passages of the time that
	// following the card costs against the exact plan, as estimated in the fit.
	EstimateS float64

	tree *node
	base Card // margins and hold time
}

// fitter holds a fit under way.
type fitter struct {
	ctx      context.Context
	ps       []*Passage
	g        grid
	settings []vpp.FoilSetting
	opt      Options
}

// Fit grows a card rule by rule: each step cuts the box whose cut saves the
// most time, as estimated over all passages with the price of every change,
// then moves all edges and settings while that saves more. It returns the best
// card found for each number of rules from 1 on; fewer steps than asked for
// when no cut saves anything.
//
// progress, when not nil, is told the number of rules done.
func Fit(ctx context.Context, ps []*Passage, opt Options, progress func(done, total int)) ([]Step, error) {
	if len(ps) == 0 {
		return nil, errors.New("rulecard: no passage to fit a card to")
	}
	f := &fitter{ctx: ctx, ps: ps, opt: opt, settings: ps[0].problem.Performer().Settings()}
	f.g.step = [axes]float64{or(opt.TWSStepMS, units.MS(1)), or(opt.TWAStepRad, units.Rad(5)), or(opt.HsStepM, 0.5)}
	base := usual
	base.Settings, base.TWSMarginMS, base.TWAMarginRad, base.HsMarginM, base.HoldS = f.settings, units.MS(1), units.Rad(5), 0.25, 30*60
	cur, err := f.start(base)
	if err != nil {
		return nil, err
	}
	steps := []Step{cur}
	for len(steps) < opt.most() {
		if progress != nil {
			progress(len(steps), opt.most())
		}
		next, ok, err := f.grow(steps[len(steps)-1])
		if err != nil {
			return nil, err
		}
		if !ok {
			break
		}
		if next, err = f.tune(next); err != nil {
			return nil, err
		}
		steps = append(steps, next)
	}
	return f.prune(steps)
}

// start is the best card of one rule.
func (f *fitter) start(base Card) (Step, error) {
	var trees []*node
	for i := range 2 * len(f.settings) {
		trees = append(trees, &node{advice: uint8(i)})
	}
	s, _, err := f.best(&base, trees, math.Inf(1))
	if err != nil {
		return s, err
	}
	return f.tune(s)
}

// best evaluates trees and returns the best one if it beats a bound.
func (f *fitter) best(base *Card, trees []*node, bound float64) (Step, bool, error) {
	var cards []*Card
	var of []*node
	for _, t := range trees {
		if c, ok := f.g.card(t, base); ok && f.sound(c) {
			cards, of = append(cards, c), append(of, t)
		}
	}
	costs, err := f.costs(cards)
	if err != nil {
		return Step{}, false, err
	}
	at := -1
	for i, c := range costs {
		if c < bound-1e-6 {
			at, bound = i, c
		}
	}
	if at < 0 {
		return Step{}, false, nil
	}
	return Step{Card: cards[at], EstimateS: bound, tree: of[at], base: *base}, true, nil
}

// cut is a way to cut a leaf, with its saving in steady sailing alone.
type cut struct {
	leaf, axis, at int
	lo, hi         uint8
	saving         float64
}

// candidatesPerStep is how many cuts are tried with the price of changes in
// each step.
const candidatesPerStep = 60

// beam is how many of the best cuts are refined before one is chosen.
const beam = 5

// grow cuts the leaf whose cut saves most.
func (f *fitter) grow(s Step) (Step, bool, error) {
	leaves, _ := f.g.leaves(s.tree)
	var all []cut
	for i := range leaves {
		all = append(all, f.leafCuts(i, &leaves[i])...)
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].saving > all[j].saving })
	all = all[:min(len(all), candidatesPerStep)]
	var trees []*node
	for _, c := range all {
		old := leaves[c.leaf].advice
		for _, pair := range [][2]uint8{{c.lo, c.hi}, {old, c.hi}, {c.lo, old}} {
			if pair[0] == pair[1] {
				continue
			}
			t := s.tree.clone()
			ls, _ := f.g.leaves(t)
			n := ls[c.leaf].node
			n.axis, n.at = c.axis, c.at
			n.lo, n.hi = &node{advice: pair[0]}, &node{advice: pair[1]}
			trees = append(trees, t)
		}
	}
	var cards []*Card
	n := 0
	for _, t := range trees {
		if c, _ := f.g.card(t, &s.base); f.sound(c) { // cuts lie inside their leaves
			cards, trees[n] = append(cards, c), t
			n++
		}
	}
	trees = trees[:n]
	costs, err := f.costs(cards)
	if err != nil {
		return s, false, err
	}
	order := make([]int, len(trees))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return costs[order[i]] < costs[order[j]] })
	best, found := s, false
	for _, i := range order[:min(beam, len(order))] {
		t, err := f.refine(Step{Card: cards[i], EstimateS: costs[i], tree: trees[i], base: s.base})
		if err != nil {
			return s, false, err
		}
		if t.EstimateS < best.EstimateS-1e-6 {
			best, found = t, true
		}
	}
	return best, found, nil
}

// leafCuts lists for every edge in a leaf the two advices that are fastest on
// its sides in steady sailing. A box that is cut by the sea is not cut again,
// so that the card stays a table of wind and angle with a note for the sea.
func (f *fitter) leafCuts(index int, l *place) (out []cut) {
	if l.from[axisHs] != 0 || l.to[axisHs] != endless {
		return nil
	}
	type sample struct {
		at    [axes]int
		costS []float64
	}
	var in []sample
	n := 2 * len(f.settings)
	whole := make([]float64, n)
	for _, p := range f.ps {
		for k := range p.moments {
			m := &p.moments[k]
			x := [axes]float64{m.view.TWSMS, m.view.TWARad, m.view.HsM}
			var at [axes]int
			inside := true
			for a := range axes {
				at[a] = int(x[a] / f.g.step[a])
				inside = inside && at[a] >= l.from[a] && (at[a] < l.to[a] || a == axisTWA && l.to[a] == f.g.everything().to[a])
			}
			if !inside {
				continue
			}
			in = append(in, sample{at, m.costS})
			for s, t := range m.costS {
				whole[s] += t
			}
		}
	}
	if len(in) < 2 {
		return nil
	}
	_, stay := least(whole)
	for a := range axes {
		sort.SliceStable(in, func(i, j int) bool { return in[i].at[a] < in[j].at[a] })
		below := make([]float64, n)
		above := append([]float64(nil), whole...)
		for i := 0; i < len(in); {
			edge := in[i].at[a]
			if i > 0 {
				lo, cl := least(below)
				hi, ch := least(above)
				if lo != hi {
					out = append(out, cut{leaf: index, axis: a, at: edge, lo: lo, hi: hi, saving: stay - cl - ch})
				}
			}
			for ; i < len(in) && in[i].at[a] == edge; i++ {
				for s, t := range in[i].costS {
					below[s] += t
					above[s] -= t
				}
			}
		}
	}
	return out
}

func least(x []float64) (at uint8, v float64) {
	for i := range x {
		if x[i] < x[at] {
			at = uint8(i)
		}
	}
	return at, x[at]
}

// refine moves edges and changes settings while that saves time.
func (f *fitter) refine(s Step) (Step, error) {
	for range 6 {
		var trees []*node
		leaves, _ := f.g.leaves(s.tree)
		for i := range leaves {
			for _, l := range neighbours(f.settings, leaves[i].advice) {
				t := s.tree.clone()
				ls, _ := f.g.leaves(t)
				ls[i].advice = l
				trees = append(trees, t)
			}
		}
		for i := range cuts(s.tree) {
			for _, d := range []int{-2, -1, 1, 2} {
				t := s.tree.clone()
				cuts(t)[i].at += d
				trees = append(trees, t)
			}
		}
		next, better, err := f.best(&s.base, trees, s.EstimateS)
		if err != nil || !better {
			return s, err
		}
		s = next
	}
	return s, nil
}

// prune takes cuts away again, the cheapest first, and keeps a card found so
// where it is better than the grown one of its size.
func (f *fitter) prune(steps []Step) ([]Step, error) {
	s := steps[len(steps)-1]
	for n := len(steps) - 1; n >= 1; n-- {
		var trees []*node
		for i := range cuts(s.tree) {
			if c := cuts(s.tree)[i]; c.lo.leaf() && c.hi.leaf() {
				for _, l := range []uint8{c.lo.advice, c.hi.advice, 0} {
					t := s.tree.clone()
					q := cuts(t)[i]
					*q = node{advice: l}
					trees = append(trees, t)
				}
			}
		}
		next, _, err := f.best(&s.base, trees, math.Inf(1))
		if err != nil {
			return nil, err
		}
		if s, err = f.refine(next); err != nil {
			return nil, err
		}
		if s, err = f.tune(s); err != nil {
			return nil, err
		}
		if s.EstimateS < steps[n-1].EstimateS {
			steps[n-1] = s
		} else {
			s = steps[n-1]
		}
	}
	return steps, nil
}
