package rulecard

import (
	"math"
	"sort"
)

// candidatesPerStep is how many cuts are tried with the price of changes in
// each step.
const candidatesPerStep = 60

// beam is how many of the best cuts are refined before one is chosen.
const beam = 3

// How long edges and settings are moved: until a pass saves less than so much,
// or so many passes.
const (
	refinePasses = 6
	refineLeastS = 2
)

// search finds cards of 1, 2, … rules.
func (f *fitter) search(base *Card, progress func(done, total int)) error {
	most := f.opt.most()
	p, err := newPartition(f, most)
	if err != nil {
		return err
	}
	begin := *base
	for n := 1; n <= most; n++ {
		if progress != nil {
			progress(n-1, most)
		}
		if n > 1 {
			begin = f.best[n-2].base
			next, ok, err := f.grow(f.best[n-2])
			if err != nil {
				return err
			}
			if ok {
				if next, err = f.tune(next); err != nil {
					return err
				}
				f.note(next)
			}
		}
		s, _, err := f.leastOf(&begin, []*node{f.mend(p.tree(n), base)}, math.Inf(1))
		if err != nil {
			return err
		}
		if s, err = f.polish(s); err != nil {
			return err
		}
		f.note(s)
		if n > 1 && (f.best[n-1].Card == nil || f.best[n-1].EstimateS > f.best[n-2].EstimateS) {
			f.best[n-1] = f.best[n-2] // one rule more saves nothing
		}
	}
	return nil
}

// mend takes the foils in where a tree's boxes are not sound.
func (f *fitter) mend(t *node, base *Card) *node {
	c, _ := f.g.card(t, base)
	ls, _ := f.g.leaves(t)
	for _, i := range f.unsound(c) {
		ls[i].advice = Advice{}
	}
	return t
}

// polish moves edges, settings, margins and hold time.
func (f *fitter) polish(s Step) (Step, error) {
	s, err := f.refine(s)
	if err != nil {
		return s, err
	}
	return f.tune(s)
}

// leastOf evaluates trees and returns the best one if it beats a bound.
func (f *fitter) leastOf(base *Card, trees []*node, bound float64) (Step, bool, error) {
	cards, trees := f.soundOnes(base, trees)
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
	return Step{Card: cards[at], EstimateS: bound, tree: trees[at], base: *base}, true, nil
}

// soundOnes makes cards of those trees that are sound.
func (f *fitter) soundOnes(base *Card, trees []*node) (cards []*Card, of []*node) {
	for _, t := range trees {
		if c, ok := f.g.card(t, base); ok && len(f.unsound(c)) == 0 {
			cards, of = append(cards, c), append(of, t)
		}
	}
	return cards, of
}

// grow cuts the box whose cut saves most.
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
		old, lo, hi := leaves[c.leaf].advice, adviceOf(c.lo), adviceOf(c.hi)
		for _, pair := range [][2]Advice{{lo, hi}, {old, hi}, {lo, old}} {
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
	cards, trees := f.soundOnes(&s.base, trees)
	costs, err := f.costs(cards)
	if err != nil {
		return s, false, err
	}
	order := make([]int, len(cards))
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

// refine moves edges and changes settings, one after the other, while that saves
// time.
func (f *fitter) refine(s Step) (Step, error) {
	for range refinePasses {
		before := s.EstimateS
		try := func(trees []*node) error {
			next, better, err := f.leastOf(&s.base, trees, s.EstimateS)
			if better {
				s = next
			}
			return err
		}
		for i := range s.Card.Rules {
			var trees []*node
			for _, a := range neighbours(f.settings, s.Card.Rules[i].Advice) {
				t := s.tree.clone()
				ls, _ := f.g.leaves(t)
				ls[i].advice = a
				trees = append(trees, t)
			}
			if err := try(trees); err != nil {
				return s, err
			}
		}
		for i := range cuts(s.tree) {
			var trees []*node
			for _, d := range []int{-4, -2, -1, 1, 2, 4} {
				t := s.tree.clone()
				cuts(t)[i].at += d
				trees = append(trees, t)
			}
			if err := try(trees); err != nil {
				return s, err
			}
		}
		if s.EstimateS > before-refineLeastS {
			break
		}
	}
	return s, nil
}
