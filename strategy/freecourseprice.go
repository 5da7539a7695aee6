package strategy

import (
	"math"
	"sync/atomic"

	"foilledger/vpp"
)

// freePrices are the times lost in changes of the leeward foil, with and
// without a change of board, at the nodes of the grid of conditions. They are
// worked out as they are asked for and may be used by several goroutines.
type freePrices struct {
	pr      *prices
	leeward []uint8
	nodes   []atomic.Pointer[freeNode]
}

// freeNode holds the times lost in one condition, [from·n + to] seconds ≥ 0.
type freeNode struct {
	loaded   []float32    // on one board, the foil at work
	unloaded []float32    // while it is now and then the windward one
	turn     [2][]float32 // with a gybe (0) or a tack (1)
}

func newFreePrices(pr *prices, leeward []uint8) *freePrices {
	return &freePrices{pr: pr, leeward: leeward, nodes: make([]atomic.Pointer[freeNode], pr.nodes)}
}

func (fp *freePrices) node(i int32) *freeNode {
	if n := fp.nodes[i].Load(); n != nil {
		return n
	}
	n := fp.fill(int(i))
	fp.nodes[i].Store(n) // whoever else made it made the same
	return n
}

func (fp *freePrices) fill(node int) *freeNode {
	g := &fp.pr.grid
	nj, nk := len(g.TWARad), len(g.HsM)
	cond := vpp.Condition{TWSMS: g.TWSMS[node/(nj*nk)], TWARad: g.TWARad[node/nk%nj], HsM: g.HsM[node%nk]}
	before, after := fp.pr.scene(cond, false), fp.pr.scene(cond, true)
	n := len(fp.leeward)
	out := &freeNode{loaded: make([]float32, n*n), unloaded: make([]float32, n*n)}
	out.turn[0], out.turn[1] = make([]float32, n*n), make([]float32, n*n)
	var p Price
	lost := func(sc *scene, from, to State, unloaded bool) float64 {
		sc.change(&p, from, to, unloaded)
		return math.Max(p.LostS, 0)
	}
	for i, a := range fp.leeward {
		for j, b := range fp.leeward {
			k := i*n + j
			out.loaded[k] = float32(lost(after, State{Port: a}, State{Port: b}, false))
			out.unloaded[k] = float32(lost(after, State{Port: a}, State{Port: b}, true))
			// Foil a at work to starboard, then foil b to port.
			both := State{Port: b, Starboard: a}
			foils := lost(before, State{Starboard: a}, both, true) + lost(after, both, State{Port: b}, true)
			for tack := range 2 {
				out.turn[tack][k] = float32(foils + math.Min(after.board(both, true, tack == 1), turnWindowS))
			}
		}
	}
	return out
}

// freeKind is what of a node is asked for.
type freeKind int

const (
	freeLoaded freeKind = iota
	freeUnloaded
	freeGybe
	freeTack
)

// lost interpolates a time lost.
func (fp *freePrices) lost(c *cell, kind freeKind, from, to int) float64 {
	k := from*len(fp.leeward) + to
	sum := float32(0)
	for b, w := range c.weight {
		if w == 0 {
			continue
		}
		n := fp.node(c.node[b])
		switch kind {
		case freeLoaded:
			sum += w * n.loaded[k]
		case freeUnloaded:
			sum += w * n.unloaded[k]
		default:
			sum += w * n.turn[kind-freeGybe][k]
		}
	}
	return float64(sum)
}

// tabledVMG is a performer whose angles of best speed made good are tabulated
// over wind and sea, filled as they are asked for. Between the nodes of its
// table an angle is interpolated where the neighbours agree within 10° and
// taken from the nearest otherwise, and the speed made good is the boat's at
// that angle: never more than the best.
type tabledVMG struct {
	Performer
	exts     int
	tws      []float64
	hs       []float64
	filled   []atomic.Uint64 // bits of the angle + 1, 0: unknown
	settings int
}

const vmgStepMS = 0.75

func newTabledVMG(p Performer) *tabledVMG {
	if t, ok := p.(*tabledVMG); ok {
		return t
	}
	g := p.Grid()
	t := &tabledVMG{Performer: p, exts: len(p.Extensions()), settings: len(p.Settings())}
	top := g.TWSMS[len(g.TWSMS)-1]
	for x := 0.0; x < top; x += vmgStepMS {
		t.tws = append(t.tws, x)
	}
	t.tws = append(t.tws, top)
	for i, h := range g.HsM {
		if i > 0 {
			t.hs = append(t.hs, (g.HsM[i-1]+h)/2)
		}
		t.hs = append(t.hs, h)
	}
	t.filled = make([]atomic.Uint64, t.settings*t.exts*2*len(t.tws)*len(t.hs))
	return t
}

func (t *tabledVMG) angle(l, w, up, i, j int) float64 {
	at := &t.filled[(((l*t.exts+w)*2+up)*len(t.tws)+i)*len(t.hs)+j]
	if b := at.Load(); b != 0 {
		return math.Float64frombits(b) - 1
	}
	a, _ := t.Performer.BestVMG(l, w, t.tws[i], t.hs[j], up == 1)
	at.Store(math.Float64bits(a + 1))
	return math.Float64frombits(math.Float64bits(a+1)) - 1
}

// BestVMG is that of the boat, from the table.
func (t *tabledVMG) BestVMG(l, w int, twsMS, hsM float64, upwind bool) (twaRad, vmgMS float64) {
	up := 0
	if upwind {
		up = 1
	}
	i, fi := bracket(t.tws, twsMS)
	j, fj := bracket(t.hs, hsM)
	i1, j1 := min(i+1, len(t.tws)-1), min(j+1, len(t.hs)-1)
	a := [4]float64{t.angle(l, w, up, i, j), t.angle(l, w, up, i1, j), t.angle(l, w, up, i, j1), t.angle(l, w, up, i1, j1)}
	lo, hi := math.Min(math.Min(a[0], a[1]), math.Min(a[2], a[3])), math.Max(math.Max(a[0], a[1]), math.Max(a[2], a[3]))
	if hi-lo < 10*math.Pi/180 {
		twaRad = (a[0]*(1-fi)+a[1]*fi)*(1-fj) + (a[2]*(1-fi)+a[3]*fi)*fj
	} else {
		k := 0
		if fi >= 0.5 {
			k = 1
		}
		if fj >= 0.5 {
			k += 2
		}
		twaRad = a[k]
	}
	v, _ := t.Performer.Speed(l, w, vpp.Condition{TWSMS: twsMS, TWARad: twaRad, HsM: hsM})
	return twaRad, v * math.Abs(math.Cos(twaRad))
}
