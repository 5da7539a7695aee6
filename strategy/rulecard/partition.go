package rulecard

import (
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"foilledger/vpp/units"
)

// partition finds the best ways to cut the plane of wind and angle by one line
// after another into a given number of boxes, for steady sailing: without the
// price of changes and without the sea. It is exact, by dynamic programming over
// all rectangles of a grid: the best cutting of a rectangle into n boxes is the
// best of all lines through it and of all ways to share n between its two sides.
type partition struct {
	f      *fitter
	xs, ys []int       // edges of the columns in steps of wind, of the rows in steps of angle
	sum    [][]float64 // time by advice, then by cell: cumulated from the first cell on
	gone   []float64   // distance, as sum
	leaf   []boxed     // by rectangle
	cost   [][]float32 // by number of boxes less one, by rectangle
}

// boxed is the best single box of a rectangle.
type boxed struct {
	cost   float64
	advice Advice
}

// leastShare is the share of all time that must lie between two neighbouring
// edges: where nearly nothing lies there is nothing to cut.
const leastShare = 0.006

// nearby are the conditions around each moment that count with it, and their
// weight: a card is for weather that was not met exactly so.
var nearby = [...]struct{ twsKn, twaDeg, weight float64 }{
	{-1, 0, 0.3}, {1, 0, 0.3}, {0, -5, 0.3}, {0, 5, 0.3}, {-1, -5, 0.15}, {1, 5, 0.15}, {-1, 5, 0.15}, {1, -5, 0.15},
}

// edges lists step numbers between which at least leastShare of the weight lies.
func edges(weight []float64, end int) []int {
	total := 0.0
	for _, w := range weight {
		total += w
	}
	out := []int{0}
	since := 0.0
	for i, w := range weight {
		if since >= leastShare*total {
			out, since = append(out, i), 0
		}
		since += w
	}
	return append(out, end)
}

func newPartition(f *fitter, most int) (*partition, error) {
	q := &partition{f: f}
	n := 2 * len(f.settings)
	type point struct {
		x, y    int
		lengthM float64
		costS   []float64
	}
	var points []point
	top := f.g.everything().to[axisTWA]
	add := func(twsMS, twaRad, lengthM float64, costS []float64) {
		points = append(points, point{int(twsMS / f.g.step[axisTWS]), min(int(twaRad/f.g.step[axisTWA]), top-1), lengthM, costS})
	}
	for _, p := range f.ps {
		for k := range p.moments {
			m := &p.moments[k]
			add(m.view.TWSMS, m.view.TWARad, m.lengthM, m.costS)
			if m.view.Zigzag {
				continue // the angle is chosen, and speed is not what counts
			}
			for _, d := range nearby {
				v := m.view
				v.TWSMS += units.MS(d.twsKn)
				v.TWARad += units.Rad(d.twaDeg)
				if v.TWSMS <= 0 || v.TWARad <= 0 || v.TWARad >= math.Pi {
					continue
				}
				costS := make([]float64, n)
				for i := range costS {
					costS[i] = d.weight * m.costS[i] * m.speedMS(&m.view, i) / math.Max(m.speedMS(&v, i), leastSpeedMS)
				}
				add(v.TWSMS, v.TWARad, d.weight*m.lengthM, costS)
			}
		}
	}
	var byX, byY []float64
	for _, p := range points {
		for len(byX) <= p.x {
			byX = append(byX, 0)
		}
		for len(byY) <= p.y {
			byY = append(byY, 0)
		}
		byX[p.x] += p.costS[0]
		byY[p.y] += p.costS[0]
	}
	q.xs, q.ys = edges(byX, endless), edges(byY, top)
	nx, ny := len(q.xs)-1, len(q.ys)-1
	q.gone = make([]float64, (nx+1)*(ny+1))
	for range n {
		q.sum = append(q.sum, make([]float64, (nx+1)*(ny+1)))
	}
	place := func(edges []int, at int) int {
		i, found := slices.BinarySearch(edges, at)
		if !found {
			i--
		}
		return i
	}
	for _, p := range points {
		c := (place(q.xs, p.x)+1)*(ny+1) + place(q.ys, p.y) + 1
		q.gone[c] += p.lengthM
		for i, t := range p.costS {
			q.sum[i][c] += t
		}
	}
	for _, s := range append([][]float64{q.gone}, q.sum...) {
		for x := 1; x <= nx; x++ {
			for y := 1; y <= ny; y++ {
				s[x*(ny+1)+y] += s[(x-1)*(ny+1)+y] + s[x*(ny+1)+y-1] - s[(x-1)*(ny+1)+y-1]
			}
		}
	}
	q.leaf = make([]boxed, (nx+1)*(nx+1)*(ny+1)*(ny+1))
	if err := q.each(func(x0, x1, y0, y1 int) { q.leaf[q.at(x0, x1, y0, y1)] = q.box(x0, x1, y0, y1) }); err != nil {
		return nil, err
	}
	q.cost = [][]float32{make([]float32, len(q.leaf))}
	for i := range q.leaf {
		q.cost[0][i] = float32(q.leaf[i].cost)
	}
	for len(q.cost) < most {
		out := slices.Clone(q.cost[len(q.cost)-1]) // as good with fewer
		if err := q.each(func(x0, x1, y0, y1 int) { q.more(out, x0, x1, y0, y1) }); err != nil {
			return nil, err
		}
		q.cost = append(q.cost, out)
	}
	return q, nil
}

// each calls do for every rectangle, on several goroutines.
func (q *partition) each(do func(x0, x1, y0, y1 int)) error {
	nx, ny := len(q.xs)-1, len(q.ys)-1
	eg, ctx := errgroup.WithContext(q.f.ctx)
	eg.SetLimit(q.f.opt.workers())
	for x0 := range nx {
		eg.Go(func() error {
			for x1 := x0 + 1; x1 <= nx; x1++ {
				if err := ctx.Err(); err != nil {
					return err
				}
				for y0 := range ny {
					for y1 := y0 + 1; y1 <= ny; y1++ {
						do(x0, x1, y0, y1)
					}
				}
			}
			return nil
		})
	}
	return eg.Wait()
}

// leastSpeedMS keeps a boat that hardly moves from counting for everything.
const leastSpeedMS = 0.5

// at is the place of a rectangle.
func (q *partition) at(x0, x1, y0, y1 int) int {
	nx, ny := len(q.xs), len(q.ys)
	return ((x0*nx+x1)*ny+y0)*ny + y1
}

func (q *partition) in(s []float64, x0, x1, y0, y1 int) float64 {
	w := len(q.ys)
	return s[x1*w+y1] - s[x0*w+y1] - s[x1*w+y0] + s[x0*w+y0]
}

// box finds the best advice for a rectangle.
func (q *partition) box(x0, x1, y0, y1 int) boxed {
	settings := q.f.settings
	inS, lengthM := q.in(q.sum[0], x0, x1, y0, y1), q.in(q.gone, x0, x1, y0, y1)
	best := boxed{cost: inS}
	try := func(cost float64, a Advice) {
		if cost < best.cost && (a.Setting == 0 || lengthM/cost-lengthM/inS >= leastGainMS) {
			best = boxed{cost, a}
		}
	}
	for i := range q.sum {
		try(q.in(q.sum[i], x0, x1, y0, y1), adviceOf(uint8(i)))
	}
	plain := best.advice
	if plain.Setting == 0 {
		return best
	}
	for l := range settings {
		for k := range settings {
			steps := q.f.tapers[[2]uint8{uint8(l), uint8(k)}]
			if len(steps) == 0 || settings[l].Extension != settings[plain.Setting].Extension {
				continue
			}
			r := Rule{TWSMS: Span{q.wind(x0), q.wind(x1)}, TWARad: Span{q.angle(y0), q.angle(y1)},
				Advice: Advice{Setting: uint8(l), Far: uint8(k), Both: plain.Both}, steps: steps}
			cost := 0.0
			for y := y0; y < y1 && cost < best.cost; y++ {
				cost += q.in(q.sum[2*int(r.At(0, (q.angle(y)+q.angle(y+1))/2))+bit(plain.Both)], x0, x1, y, y+1)
			}
			try(cost, r.Advice)
			r.ByWind, cost = true, 0
			for x := x0; x < x1 && cost < best.cost; x++ {
				cost += q.in(q.sum[2*int(r.At((q.wind(x)+q.wind(x+1))/2, 0))+bit(plain.Both)], x, x+1, y0, y1)
			}
			try(cost, r.Advice)
		}
	}
	return best
}

// wind is an edge in m/s; the last one is as strong as matters.
func (q *partition) wind(x int) float64 {
	return math.Min(float64(q.xs[x])*q.f.g.step[axisTWS], strongestMS)
}

func (q *partition) angle(y int) float64 { return float64(q.ys[y]) * q.f.g.step[axisTWA] }

// split calls do for every line through a rectangle with the places of its two
// sides.
func (q *partition) split(x0, x1, y0, y1 int, do func(axis, at, lo, hi int)) {
	for x := x0 + 1; x < x1; x++ {
		do(axisTWS, x, q.at(x0, x, y0, y1), q.at(x, x1, y0, y1))
	}
	for y := y0 + 1; y < y1; y++ {
		do(axisTWA, y, q.at(x0, x1, y0, y), q.at(x0, x1, y, y1))
	}
}

// more puts in its place the least cost of a rectangle for one box more than
// so far.
func (q *partition) more(out []float32, x0, x1, y0, y1 int) {
	n := len(q.cost)
	best := &out[q.at(x0, x1, y0, y1)]
	q.split(x0, x1, y0, y1, func(_, _, lo, hi int) {
		for a := range n {
			*best = min(*best, q.cost[a][lo]+q.cost[n-1-a][hi])
		}
	})
}

// tree is the best cutting into at most n boxes.
func (q *partition) tree(n int) *node {
	return q.part(0, len(q.xs)-1, 0, len(q.ys)-1, n)
}

func (q *partition) part(x0, x1, y0, y1, n int) *node {
	all := q.at(x0, x1, y0, y1)
	for n > 1 && q.cost[n-2][all] == q.cost[n-1][all] {
		n--
	}
	if n == 1 {
		return &node{advice: q.leaf[all].advice}
	}
	best, axis, at, share := float32(math.Inf(1)), 0, 0, 0
	q.split(x0, x1, y0, y1, func(a, i, lo, hi int) {
		for k := 1; k < n; k++ {
			if c := q.cost[k-1][lo] + q.cost[n-k-1][hi]; c < best {
				best, axis, at, share = c, a, i, k
			}
		}
	})
	if axis == axisTWS {
		return &node{axis: axis, at: q.xs[at], lo: q.part(x0, at, y0, y1, share), hi: q.part(at, x1, y0, y1, n-share)}
	}
	return &node{axis: axis, at: q.ys[at], lo: q.part(x0, x1, y0, at, share), hi: q.part(x0, x1, at, y1, n-share)}
}
