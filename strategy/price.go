package strategy

import (
	"context"
	"fmt"
	"math"

	"foilledger/vpp"
)

// Kind is a kind of foil action.
type Kind uint8

// The kinds of foil action.
const (
	Deploy Kind = iota
	Retract
	Extend
	Shorten
	AddRake
	TakeOffRake
	kinds
)

var kindNames = [kinds]string{"deploy", "retract", "extend", "shorten", "add rake", "take off rake"}

func (k Kind) String() string { return kindNames[k] }

// Part is one action of a change of state and its share of the price.
type Part struct {
	Kind      Kind
	Side      Side
	From, To  uint8   // settings of that side before and after
	CeilingMS float64 // boat speed above which it cannot be done; +Inf: none
	WorkS     float64 // walking and working
	EffortJ   float64 // work of the person
	LostS     float64 // share of the change's time lost
}

// unattendedSpeed is the share of the boat's speed that is left while the
// sailor works at a foil and nobody trims (common practice, no source).
const unattendedSpeed = 0.97

// maxParts is the largest number of actions in one change: two on each side.
const maxParts = 4

// Price is what a change of foil state costs in given conditions.
type Price struct {
	TimeS     float64 // from easing the sails to sailing at 98 % of the new speed
	DistanceM float64 // covered meanwhile
	LostS     float64 // TimeS − DistanceM / new speed
	EffortJ   float64 // work of the person
	SlowMS    float64 // lowest boat speed on the way
	LetGo     bool    // sails let go, because easing is too slow or not enough
	parts     [maxParts]Part
	n         int
}

// Parts lists the actions in the order in which they are done.
func (p *Price) Parts() []Part { return p.parts[:p.n] }

// prices computes what changes of state cost from the surge curves of the boat.
type prices struct {
	*profiles
	states *States
	h      vpp.Handling
}

func newPrices(ctx context.Context, perf Performer, states *States, h vpp.Handling) (*prices, error) {
	if !(h.SustainedPowerW > 0) {
		return nil, fmt.Errorf("strategy: sustained power %g W, must be > 0", h.SustainedPowerW)
	}
	p, err := newProfiles(ctx, perf)
	if err != nil {
		return nil, err
	}
	return &prices{profiles: p, states: states, h: h}, nil
}

// add appends one action to the price. Walking there and back and the work at
// the person's sustained power make its duration.
func (pr *prices) add(p *Price, side Side, k Kind, from, to uint8, workJ, reachS, ceilingMS float64) {
	p.parts[p.n] = Part{
		Kind: k, Side: side, From: from, To: to, CeilingMS: ceilingMS,
		WorkS: 2*reachS + workJ/pr.h.SustainedPowerW, EffortJ: workJ,
	}
	p.n++
}

// listParts fills in the actions that turn one side's setting from into to.
// loadPer is the foil's normal load over the square of boat speed in the
// setting that the foil carries while its rake is changed; the windward foil
// carries none and has no ceiling.
func (pr *prices) listParts(p *Price, side Side, leeward bool, from, to uint8, loadPer float64) {
	if from == to {
		return
	}
	a, b := pr.states.Setting(from), pr.states.Setting(to)
	ceiling := func(ms float64) float64 {
		if !leeward {
			return math.Inf(1)
		}
		return ms
	}
	h := &pr.h
	travel := b.Extension - a.Extension
	// The rake that the foil has once it has moved: it comes out with its rake
	// taken off, and goes in without a change of rake.
	rake, mid := a.RakeRad, from
	switch {
	case a.Extension == 0:
		rake = pr.lowestRake()
		mid = pr.setting(b.Extension, rake, to)
		pr.add(p, side, Deploy, from, mid, travel*h.DeployWorkJ, h.ReachFoilS, ceiling(h.DeployCeilingMS))
	case b.Extension == 0:
		pr.add(p, side, Retract, from, to, -travel*h.RetractWorkJ, h.ReachFoilS, ceiling(h.RetractCeilingMS))
		return
	case travel > 0:
		mid = pr.setting(b.Extension, rake, to)
		pr.add(p, side, Extend, from, mid, travel*h.DeployWorkJ, h.ReachFoilS, ceiling(h.DeployCeilingMS))
	case travel < 0:
		mid = pr.setting(b.Extension, rake, to)
		pr.add(p, side, Shorten, from, mid, -travel*h.RetractWorkJ, h.ReachFoilS, ceiling(h.RetractCeilingMS))
	}
	d := b.RakeRad - rake
	if math.Abs(d) < 1e-9 {
		return
	}
	if !leeward {
		loadPer = 0
	}
	k, c := AddRake, h.AddRakeCeilingMS
	if d < 0 {
		k, c = TakeOffRake, h.TakeOffRakeCeilingMS
	} else if loadPer > 0 && h.MaxPumpLoadN > 0 {
		// Above this speed the load is more than a person can pump against.
		c = math.Min(c, math.Sqrt(h.MaxPumpLoadN/loadPer))
	}
	load := 0.0
	if leeward && p.n > 0 && p.parts[p.n-1].Side == side {
		// Done in the same slow-down as the move of the foil, at its speed.
		load = loadPer * square(math.Min(c, p.parts[p.n-1].CeilingMS))
	} else if leeward {
		load = loadPer * square(c)
	}
	if d < 0 {
		load = 0 // the load pushes the rake off
	}
	work := math.Abs(d) * (h.RakeWorkJPerRad + h.RakeLoadWorkJPerRadN*load)
	pr.add(p, side, k, mid, to, work, h.ReachPumpS, ceiling(c))
}

// setting finds the setting with an extension and a rake, or returns or when
// the boat's grid does not have it.
func (pr *prices) setting(extension, rakeRad float64, or uint8) uint8 {
	for i, f := range pr.states.settings {
		if i > 0 && f.Extension == extension && math.Abs(f.RakeRad-rakeRad) < 1e-9 {
			return uint8(i)
		}
	}
	return or
}

func (pr *prices) lowestRake() float64 {
	if len(pr.states.settings) < 2 {
		return 0
	}
	low := pr.states.settings[1].RakeRad
	for _, s := range pr.states.settings[2:] {
		low = math.Min(low, s.RakeRad)
	}
	return low
}

// blend mixes the share w of another price of the same change into p.
func (p *Price) blend(o *Price, w float64) {
	mix := func(a *float64, b float64) { *a += w * (b - *a) }
	mix(&p.TimeS, o.TimeS)
	mix(&p.DistanceM, o.DistanceM)
	mix(&p.LostS, o.LostS)
	mix(&p.EffortJ, o.EffortJ)
	mix(&p.SlowMS, o.SlowMS)
	scale := 1.0
	sum := 0.0
	for _, q := range p.Parts() {
		sum += q.LostS
	}
	if sum != 0 {
		scale = p.LostS / sum
	}
	for i := range p.n {
		p.parts[i].LostS *= scale
	}
}

func square(x float64) float64 { return x * x }

// change prices the change from state s0, in which the boat sails at v0, to
// s1, in which it will sail at v1, on the board with the wind from starboard or
// port, in the conditions of cell c.
//
// The actions are done in the order of their ceilings: the boat slows to the
// lowest, is held there while the work is done, speeds up to the next, and so
// on to its new steady speed. While the person works without a slow-down nobody
// trims, which costs the share 1 − unattendedSpeed of the speed. With unloaded
// set, the leeward foil too is handled while it is the windward one.
func (pr *prices) change(p *Price, s0, s1 State, starboardTack, unloaded bool, c *cell, v0, v1 float64) {
	*p = Price{}
	l0, w0 := pr.states.roles(s0, starboardTack)
	l1, w1 := pr.states.roles(s1, starboardTack)
	leeward := Starboard
	if starboardTack {
		leeward = Port
	}
	loadPer := 0.0
	if from, to := s0.On(leeward), s1.On(leeward); from != to {
		// The load to pump against is the larger of the two settings'.
		loadPer = math.Max(pr.mix(pr.loadPer, l0, w0, c), pr.mix(pr.loadPer, l1, w1, c))
		pr.listParts(p, leeward, !unloaded, from, to, loadPer)
	}
	other := Port + Starboard - leeward
	pr.listParts(p, other, false, s0.On(other), s1.On(other), 0)
	if p.n == 0 {
		return
	}
	// Insertion sort by ceiling, keeping the order of equals.
	for i := 1; i < p.n; i++ {
		for j := i; j > 0 && p.parts[j].CeilingMS < p.parts[j-1].CeilingMS; j-- {
			p.parts[j], p.parts[j-1] = p.parts[j-1], p.parts[j]
		}
	}
	if v1 < stoppedMS { // no way to make progress in the new state: all time is lost
		for i := range p.n {
			q := &p.parts[i]
			p.TimeS += q.WorkS
			p.EffortJ += q.EffortJ
			q.LostS = q.WorkS
		}
		p.LostS = p.TimeS
		return
	}
	v := v0
	p.SlowMS = v0
	for i := range p.n {
		q := &p.parts[i]
		lost := 0.0
		switch {
		case v > q.CeilingMS: // slow down in the old state
			t, d := pr.slow(l0, w0, c, v, q.CeilingMS, easedTime, easedDist)
			tl, dl := pr.slow(l0, w0, c, v, q.CeilingMS, looseTime, looseDist)
			if tl-dl/v1 < t-d/v1 {
				t, d = tl, dl
				p.LetGo = true
			}
			p.TimeS += t
			lost += t - d/v1
			v = q.CeilingMS
		case i > 0 && v < v1 && v < q.CeilingMS: // speed up in the new state
			next := math.Min(q.CeilingMS, v1)
			p.TimeS += pr.at(l1, w1, c, accelTime, v) - pr.at(l1, w1, c, accelTime, next)
			lost += pr.at(l1, w1, c, accelLost, v) - pr.at(l1, w1, c, accelLost, next)
			v = next
		}
		hold := v
		if v >= math.Min(v0, v1) { // sailing on, with nobody to trim
			hold *= unattendedSpeed
		}
		p.TimeS += q.WorkS
		lost += q.WorkS * (1 - hold/v1)
		p.SlowMS = math.Min(p.SlowMS, v)
		p.EffortJ += q.EffortJ
		q.LostS = lost
		p.LostS += lost
	}
	if v < v1 {
		p.TimeS += pr.at(l1, w1, c, accelTime, v)
		lost := pr.at(l1, w1, c, accelLost, v)
		p.parts[0].LostS += lost // the lowest ceiling made the slow-down
		p.LostS += lost
	}
	p.DistanceM = math.Max(0, (p.TimeS-p.LostS)*v1)
	if p.DistanceM == 0 {
		p.LostS = p.TimeS
	}
}

// slow returns time and distance from speed v down to target.
func (pr *prices) slow(l, w int, c *cell, v, target float64, time, dist int) (t, d float64) {
	t = pr.at(l, w, c, time, target) - pr.at(l, w, c, time, v)
	d = pr.at(l, w, c, dist, target) - pr.at(l, w, c, dist, v)
	return math.Max(t, 0), math.Max(d, 0)
}

// board prices one change of board in state st from the wind on one side to
// the other: the sails do not drive for the time of the tack or gybe, and then
// the boat speeds up with the foils' roles exchanged. v0 and v1 are the steady
// speeds before and after.
func (pr *prices) board(st State, toStarboard, tack bool, c *cell, v0, v1 float64) (lostS float64) {
	d := pr.h.GybeS
	if tack {
		d = pr.h.TackS
	}
	if v1 < stoppedMS {
		return d
	}
	l0, w0 := pr.states.roles(st, !toStarboard)
	l1, w1 := pr.states.roles(st, toStarboard)
	// The speed after coasting for d seconds: looseTime falls with speed.
	want := pr.at(l0, w0, c, looseTime, v0) + d
	lo, hi := 0.0, v0
	for range 20 {
		mid := (lo + hi) / 2
		if pr.at(l0, w0, c, looseTime, mid) > want {
			lo = mid
		} else {
			hi = mid
		}
	}
	v := (lo + hi) / 2
	_, dist := pr.slow(l0, w0, c, v0, v, looseTime, looseDist)
	lost := d - dist/v1
	if v < v1 {
		lost += pr.at(l1, w1, c, accelLost, v)
	}
	return math.Max(lost, 0)
}
