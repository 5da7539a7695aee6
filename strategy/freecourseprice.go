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
