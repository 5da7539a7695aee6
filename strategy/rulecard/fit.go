package rulecard

import (
	"context"
	"errors"
	"runtime"
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

func (o *Options) workers() int { return orInt(o.Workers, runtime.GOMAXPROCS(0)) }

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
	tapers   map[[2]uint8][]uint8 // settings between two of one extension
	best     []Step               // found so far, by number of rules less one; no card: none
}

// Fit returns the best card found for each number of rules from 1 on. Each begins
// as the cutting of wind and angle into so many boxes that is the best in steady
// sailing, or as the card of one rule less with the box cut whose cut saves the
// most; then edges, settings, margins and hold time are moved while that saves
// time, as estimated over all passages with the price of every change.
//
// progress, when not nil, is told how much is done.
func Fit(ctx context.Context, ps []*Passage, opt Options, progress func(done, total int)) ([]Step, error) {
	if len(ps) == 0 {
		return nil, errors.New("rulecard: no passage to fit a card to")
	}
	f := &fitter{ctx: ctx, ps: ps, opt: opt, settings: ps[0].problem.Performer().Settings(), best: make([]Step, opt.most())}
	f.g.step = [axes]float64{or(opt.TWSStepMS, units.MS(1)), or(opt.TWAStepRad, units.Rad(5)), or(opt.HsStepM, 0.5)}
	base := usual
	base.Settings, base.TWSMarginMS, base.TWAMarginRad, base.HsMarginM, base.HoldS = f.settings, units.MS(1), units.Rad(5), 0.25, 30*60
	f.tapers = map[[2]uint8][]uint8{}
	for l := range f.settings {
		for k := range f.settings {
			if f.settings[l].Extension == f.settings[k].Extension {
				r := Rule{Advice: Advice{Setting: uint8(l), Far: uint8(k)}}
				r.taper(f.settings)
				f.tapers[[2]uint8{uint8(l), uint8(k)}] = r.steps
			}
		}
	}
	if err := f.search(&base, progress); err != nil {
		return nil, err
	}
	out := f.best
	for len(out) > 1 && out[len(out)-1].Card == out[len(out)-2].Card {
		out = out[:len(out)-1]
	}
	return out, nil
}

// note keeps a card if it is the best of its size. Boxes side by side that say
// the same are one.
func (f *fitter) note(s Step) {
	t := s.tree.clone()
	t.join()
	if c, ok := f.g.card(t, &s.base); ok && len(c.Rules) < len(s.Card.Rules) {
		s.tree, s.Card = t, c
	}
	if b := &f.best[len(s.Card.Rules)-1]; b.Card == nil || s.EstimateS < b.EstimateS {
		*b = s
	}
}

// cut is a way to cut a leaf, with its saving in steady sailing alone.
type cut struct {
	leaf, axis, at int
	lo, hi         uint8
	saving         float64
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
