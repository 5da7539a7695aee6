package plots

import (
	"cmp"
	"math"
	"slices"
)

// nameLines writes each line's name beside it, in its colour, where there is
// room, trying near the right end first.
func nameLines(s *sheet, p panel, names []string, looks []stroke, lines [][]pt) {
	for i, ps := range lines {
		if len(ps) < 2 {
			continue
		}
		var spots []spot
		for k := range 40 {
			q := ps[(len(ps)-1)*(39-k)/39]
			spots = append(spots, spot{q.x, q.y + 5, right, bottom}, spot{q.x, q.y - 5, right, top},
				spot{q.x, q.y + 5, left, bottom}, spot{q.x, q.y - 5, left, top},
				spot{q.x, q.y + 12, centre, bottom}, spot{q.x, q.y - 12, centre, top})
		}
		l := letAxis.in(looks[i].col)
		l.halo = true // bands of any tint may lie under it
		s.label(l, names[i], p.box.grown(2), spots...)
	}
}

// nameWidth is the room right of a panel that nameEnds needs.
func nameWidth(names []string) float64 {
	w := 0.0
	for _, n := range names {
		w = math.Max(w, extent(letAxis, 0, 0, n, left, bottom).w())
	}
	return w + 20
}

// nameEnds writes each line's name right of the panel beside its end, pushed
// apart where ends are close, with a leader from the end to the name.
func nameEnds(s *sheet, p panel, names []string, looks []stroke, lines [][]pt) {
	type end struct {
		i    int
		from pt
		y    float64
	}
	var es []end
	for i, ps := range lines {
		if len(ps) > 0 && names[i] != "" {
			q := ps[len(ps)-1]
			q.y = math.Max(p.y0, math.Min(p.y1, q.y))
			es = append(es, end{i, q, q.y})
		}
	}
	slices.SortStableFunc(es, func(a, b end) int { return cmp.Compare(a.y, b.y) })
	gap := 1.2 * sizeLabel
	for range 200 { // push neighbours apart, evenly and within the panel
		for k := 1; k < len(es); k++ {
			if d := gap - (es[k].y - es[k-1].y); d > 0 {
				es[k].y += d / 2
				es[k-1].y -= d / 2
			}
		}
		if n := len(es); n > 0 {
			es[0].y = math.Max(es[0].y, p.y0+gap/2)
			es[n-1].y = math.Min(es[n-1].y, p.y1-gap/2)
		}
	}
	for _, e := range es {
		k := looks[e.i]
		s.line(stroke{col: k.col, width: 0.7}, pt{e.from.x + 1, e.from.y}, pt{p.x1 + 10, e.y})
		s.text(letAxis.in(k.col), p.x1+13, e.y, names[e.i], left, middle)
	}
}
