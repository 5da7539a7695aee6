package strategy

import (
	"math"
	"sync/atomic"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// The angles of best speed made good are kept at steps of vmgStepMS in wind
// speed and vmgStepM in wave height, and interpolated between: the speed made
// good is flat at its best, so that an angle that is off by a few tenths of a
// degree loses less than a ten-thousandth of it. Where neighbouring angles
// differ by more than vmgJumpRad the best jumps from one way of sailing to
// another: then the best of the neighbours' angles is taken.
const (
	vmgStepMS = 0.25
	vmgStepM  = 0.5
)

var vmgJumpRad = units.Rad(4)

// vmgAngles keeps the angles of best speed made good of one boat. It may be
// used by several goroutines.
type vmgAngles struct {
	perf  Performer
	exts  int
	winds int
	seas  int
	topMS float64
	topM  float64
	// by role, direction, wind and sea: the bits of the angle plus 1
	filled []atomic.Uint64
}

func newVMGAngles(perf Performer) *vmgAngles {
	g := perf.Grid()
	a := &vmgAngles{perf: perf, exts: len(perf.Extensions())}
	if n := len(g.TWSMS); n > 0 {
		a.topMS = g.TWSMS[n-1]
	}
	if n := len(g.HsM); n > 0 {
		a.topM = g.HsM[n-1]
	}
	a.winds = int(math.Ceil(a.topMS/vmgStepMS)) + 1
	a.seas = int(math.Ceil(a.topM/vmgStepM)) + 2
	a.filled = make([]atomic.Uint64, len(perf.Settings())*a.exts*2*a.winds*a.seas)
	return a
}

func (a *vmgAngles) node(l, w, up, i, k int) float64 {
	n := (((l*a.exts+w)*2+up)*a.winds+i)*a.seas + k
	if b := a.filled[n].Load(); b != 0 {
		return math.Float64frombits(b) - 1
	}
	twa, _ := a.perf.BestVMG(l, w, float64(i)*vmgStepMS, math.Min(float64(k)*vmgStepM, a.topM), up == 1)
	a.filled[n].Store(math.Float64bits(twa + 1)) // whoever else made it made the same
	return math.Float64frombits(math.Float64bits(twa+1)) - 1
}

// angle is the angle of Performer.BestVMG by the kept angles.
func (a *vmgAngles) angle(l, w int, twsMS, hsM float64, upwind bool) float64 {
	if !(twsMS >= vmgStepMS && twsMS < a.topMS) {
		return a.exact(l, w, twsMS, hsM, upwind)
	}
	up := 0
	if upwind {
		up = 1
	}
	x := twsMS / vmgStepMS
	i := min(int(x), a.winds-2)
	fx := x - float64(i)
	y := math.Min(hsM, a.topM) / vmgStepM
	k := int(y)
	fk := y - float64(k)
	var at [2][2]float64
	lo, hi := math.Inf(1), 0.0
	for di := range 2 {
		for dk := range 2 {
			if dk == 1 && fk == 0 {
				at[di][1] = at[di][0]
				continue
			}
			b := a.node(l, w, up, i+di, k+dk)
			at[di][dk] = b
			lo, hi = math.Min(lo, b), math.Max(hi, b)
		}
	}
	switch {
	case hi <= 0: // no way to make good anywhere near
		return 0
	case lo <= 0: // there may be one or not
		return a.exact(l, w, twsMS, hsM, upwind)
	case hi-lo > vmgJumpRad:
		best, made := at[0][0], -1.0
		for _, row := range at {
			for dk, b := range row {
				if dk == 1 && fk == 0 {
					continue
				}
				v, _ := a.perf.Speed(l, w, vpp.Condition{TWSMS: twsMS, TWARad: b, HsM: hsM})
				if m := v * math.Abs(math.Cos(b)); m > made {
					best, made = b, m
				}
			}
		}
		return best
	}
	near := at[0][0] + fx*(at[1][0]-at[0][0])
	far := at[0][1] + fx*(at[1][1]-at[0][1])
	return near + fk*(far-near)
}

func (a *vmgAngles) exact(l, w int, twsMS, hsM float64, upwind bool) float64 {
	twa, _ := a.perf.BestVMG(l, w, twsMS, hsM, upwind)
	return twa
}
