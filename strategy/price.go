package strategy

import (
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
	LostS     float64 // share of the change's time lost: the three below
	SlowingS  float64 // lost while slowing down to the ceiling
	WorkingS  float64 // lost while working
	RegainS   float64 // lost while speeding up again
}

// maxParts is the largest number of actions in one change: two on each side.
const maxParts = 4

// Price is what a change of foil state costs in given conditions.
type Price struct {
	TimeS     float64 // from easing the sails to sailing at 98 % of the new speed
	DistanceM float64 // covered meanwhile along the course
	LostS     float64 // TimeS less the time for DistanceM in the new state
	EffortJ   float64 // work of the person
	SlowMS    float64 // lowest boat speed on the way
	Slow      Slowing // how the boat was slowed down
	WaitS     float64 // waited before the change, in TimeS and LostS
	Night     bool    // done in the dark
	// effectS is what the change puts the boat back against sailing on in the
	// new state at its pace of the moment: LostS, but for the current.
	effectS float64
	parts   [maxParts]Part
	n       int
}

// Parts lists the actions in the order in which they are done.
func (p *Price) Parts() []Part { return p.parts[:p.n] }

// move is one action on one side, worked out as far as it goes without the
// conditions.
type move struct {
	kind      Kind
	from, to  uint8
	workJ     float64 // unloaded
	rakeRad   float64 // rake added against the foil's load
	reachS    float64 // to the place of work and back
	leastS    float64 // walking and working, unloaded
	ceilingMS float64 // with the foil to leeward
}

// moves are the actions that turn one setting into another.
type moves struct {
	m [2]move
	n int
}

// prices computes what changes of state cost from the surge curves of the boat.
type prices struct {
	*profiles
	states *States
	h      vpp.Handling
	moves  []moves // [from·settings + to]
}

func newPrices(perf Performer, states *States, h vpp.Handling) (*prices, error) {
	if !(h.SustainedPowerW > 0) {
		return nil, fmt.Errorf("strategy: sustained power %g W, must be > 0", h.SustainedPowerW)
	}
	pr := &prices{profiles: newProfiles(perf), states: states, h: h}
	n := len(states.settings)
	pr.moves = make([]moves, n*n)
	for from := range n {
		for to := range n {
			pr.moves[from*n+to] = pr.listMoves(uint8(from), uint8(to))
		}
	}
	return pr, nil
}

// listMoves lists the actions that turn a side's setting from into to: first
// along the foil's travel, then in rake. A foil comes out with its rake taken
// off, and goes in as it is.
func (pr *prices) listMoves(from, to uint8) (ms moves) {
	if from == to {
		return ms
	}
	add := func(m move) {
		m.leastS = m.reachS + m.workJ/pr.h.SustainedPowerW
		ms.m[ms.n] = m
		ms.n++
	}
	h := &pr.h
	a, b := pr.states.Setting(from), pr.states.Setting(to)
	travel := b.Extension - a.Extension
	rake, mid := a.RakeRad, from
	switch {
	case a.Extension == 0:
		rake = pr.lowestRake()
		mid = pr.setting(b.Extension, rake, to)
		add(move{kind: Deploy, from: from, to: mid, workJ: travel * h.DeployWorkJ, reachS: 2 * h.ReachFoilS, ceilingMS: h.DeployCeilingMS})
	case b.Extension == 0:
		add(move{kind: Retract, from: from, to: to, workJ: -travel * h.RetractWorkJ, reachS: 2 * h.ReachFoilS, ceilingMS: h.RetractCeilingMS})
		return ms
	case travel > 0:
		mid = pr.setting(b.Extension, rake, to)
		add(move{kind: Extend, from: from, to: mid, workJ: travel * h.DeployWorkJ, reachS: 2 * h.ReachFoilS, ceilingMS: h.DeployCeilingMS})
	case travel < 0:
		mid = pr.setting(b.Extension, rake, to)
		add(move{kind: Shorten, from: from, to: mid, workJ: -travel * h.RetractWorkJ, reachS: 2 * h.ReachFoilS, ceilingMS: h.RetractCeilingMS})
	}
	d := b.RakeRad - rake
	if math.Abs(d) < 1e-9 {
		return ms
	}
	m := move{kind: AddRake, from: mid, to: to, workJ: math.Abs(d) * h.RakeWorkJPerRad, rakeRad: d, reachS: 2 * h.ReachPumpS, ceilingMS: h.AddRakeCeilingMS}
	if d < 0 { // the load helps to push the rake off
		m.kind, m.rakeRad, m.ceilingMS = TakeOffRake, 0, h.TakeOffRakeCeilingMS
	}
	add(m)
	if ms.n == 2 && ms.m[0].ceilingMS > ms.m[1].ceilingMS {
		ms.m[0].ceilingMS = ms.m[1].ceilingMS // the travel comes first
	}
	return ms
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

// scene is the wind, sea, light and board in which changes are priced.
type scene struct {
	pr        *prices
	cell      cell
	cond      vpp.Condition
	starboard bool    // wind from starboard
	slowWork  float64 // factor on action times, 1 by day
	night     bool
	flats     []*profile // by role, made as needed
	speeds    []float64  // by role, steady, m/s; −1 where not known yet
	coasts    [2][]coast // through a gybe, a tack; by role
	regains   []regain   // by role
	regained  []bool
	angles    [][]angleWay // by role
}

func (pr *prices) scene(cond vpp.Condition, starboard bool) *scene {
	n := len(pr.states.settings) * pr.exts
	return &scene{
		pr: pr, cell: pr.locate(cond.TWSMS, cond.TWARad, cond.HsM), cond: cond, starboard: starboard, slowWork: 1,
		flats: make([]*profile, n), angles: make([][]angleWay, n),
	}
}

// steady returns the steady speed of a role in the scene.
func (sc *scene) steady(role int) float64 {
	if sc.speeds == nil {
		sc.speeds = make([]float64, len(sc.flats))
		for i := range sc.speeds {
			sc.speeds[i] = -1
		}
	}
	if sc.speeds[role] < 0 {
		m := sc.pr.mixture(role, &sc.cell)
		sc.speeds[role] = m.steady()
	}
	return sc.speeds[role]
}

// flat returns the profile of a role in the scene.
func (sc *scene) flat(role int) *profile {
	f := sc.flats[role]
	if f == nil {
		f = new(profile)
		sc.pr.mix(role, &sc.cell, f)
		sc.flats[role] = f
	}
	return f
}

func (sc *scene) role(s State) int {
	l, w := sc.pr.states.roles(s, sc.starboard)
	return l*sc.pr.exts + w
}

// change prices the change from s0 to s1. The actions are done in the order of
// their ceilings: the boat slows to the lowest, is held there while the work is
// done, speeds up to the next, and so on to its new steady speed. While the
// person works without a slow-down nobody trims, which costs the share
// 1 − handling.unattended_speed of the speed. With unloaded set, the leeward foil too is
// handled while it is the windward one.
//
// Time and loss are against sailing at the new state's steady speed.
func (sc *scene) change(p *Price, s0, s1 State, unloaded bool) {
	*p = Price{}
	if s0 == s1 {
		return
	}
	pr := sc.pr
	leeward, windward := Starboard, Port
	if sc.starboard {
		leeward, windward = Port, Starboard
	}
	n := len(pr.states.settings)
	lee := &pr.moves[int(s0.On(leeward))*n+int(s1.On(leeward))]
	wind := &pr.moves[int(s0.On(windward))*n+int(s1.On(windward))]
	f0, f1 := sc.flat(sc.role(s0)), sc.flat(sc.role(s1))
	loadPer := 0.0
	if lee.n > 0 && !unloaded {
		// The load to pump against is the larger of the two settings'.
		loadPer = math.Max(float64(f0[profLoad]), float64(f1[profLoad]))
	}
	sc.list(p, leeward, lee, !unloaded, false, loadPer, f0.steady())
	sc.list(p, windward, wind, false, false, 0, 0)
	sc.run(p, s0, f0, f1)
	if unloaded || lee.n < 2 || lee.m[0].ceilingMS >= lee.m[1].ceilingMS {
		return
	}
	// The rake can also be set in the slow-down that the travel needs: the foil
	// is easier to pump there, but the boat is slow for longer.
	var q Price
	sc.list(&q, leeward, lee, true, true, loadPer, f0.steady())
	sc.list(&q, windward, wind, false, false, 0, 0)
	sc.run(&q, s0, f0, f1)
	if q.LostS < p.LostS {
		*p = q
	}
}

// list adds the actions of one side to the price, with their ceilings and work
// under load. together does the second at the first one's ceiling.
func (sc *scene) list(p *Price, side Side, ms *moves, loaded, together bool, loadPer, v0 float64) {
	h := &sc.pr.h
	for i := range ms.n {
		m := &ms.m[i]
		c := math.Inf(1)
		if loaded {
			c = m.ceilingMS
		}
		work := m.workJ
		if loaded && m.rakeRad > 0 {
			if loadPer > 0 && h.MaxPumpLoadN > 0 {
				// Above this speed the load is more than a person can pump against.
				c = math.Min(c, math.Sqrt(h.MaxPumpLoadN/loadPer))
			}
			if together {
				c = math.Min(c, ms.m[0].ceilingMS)
			}
			at := c
			if i == 0 {
				at = math.Min(c, v0) // no faster than the boat sails
			}
			work += m.rakeRad * h.RakeLoadWorkJPerRadN * loadPer * square(at)
		}
		q := &p.parts[p.n]
		*q = Part{Kind: m.kind, Side: side, From: m.from, To: m.to, CeilingMS: c,
			WorkS: (m.reachS + work/h.SustainedPowerW) * sc.slowWork, EffortJ: work}
		// Insertion by ceiling, keeping the order of equals.
		for j := p.n; j > 0 && p.parts[j].CeilingMS < p.parts[j-1].CeilingMS; j-- {
			p.parts[j], p.parts[j-1] = p.parts[j-1], p.parts[j]
		}
		p.n++
	}
}

// run works out the time that the listed actions take and lose.
func (sc *scene) run(p *Price, s0 State, f0, f1 *profile) {
	v0, v1 := f0.steady(), f1.steady()
	p.Night = sc.night
	for i := range p.n {
		p.EffortJ += p.parts[i].EffortJ
	}
	if v1 < stoppedMS { // no way to make progress in the new state: all time is lost
		for i := range p.n {
			q := &p.parts[i]
			p.TimeS += q.WorkS
			q.WorkingS, q.LostS = q.WorkS, q.WorkS
		}
		p.LostS = p.TimeS
		return
	}
	v := v0
	p.SlowMS = v0
	made := 1.0 // share of the speed that is made good on the course
	for i := range p.n {
		q := &p.parts[i]
		switch {
		case v > q.CeilingMS: // slow down in the old state; only the first part can
			work := 0.0
			for j := i; j < p.n && p.parts[j].CeilingMS == q.CeilingMS; j++ {
				work += p.parts[j].WorkS
			}
			w := sc.slowTo(s0, f0, v, q.CeilingMS, v1, work)
			p.Slow = w.Slowing
			p.TimeS += w.timeS
			q.SlowingS = w.timeS - w.alongM/v1
			v, made = w.holdMS, w.made
		case i > 0 && v < v1 && v < q.CeilingMS: // speed up in the new state
			next := math.Min(q.CeilingMS, v1)
			p.TimeS += f1.accel(profAccelTime, v) - f1.accel(profAccelTime, next)
			p.parts[0].RegainS += f1.accel(profAccelLost, v) - f1.accel(profAccelLost, next)
			v, made = next, 1
		}
		hold := v * made
		if v >= math.Min(v0, v1) { // sailing on, with nobody to trim
			hold *= sc.pr.h.UnattendedSpeed
		}
		p.TimeS += q.WorkS
		q.WorkingS = q.WorkS * (1 - hold/v1)
		p.SlowMS = math.Min(p.SlowMS, v)
	}
	if v < v1 {
		p.TimeS += f1.accel(profAccelTime, v)
		p.parts[0].RegainS += f1.accel(profAccelLost, v) // the lowest ceiling made the slow-down
	}
	for i := range p.n {
		q := &p.parts[i]
		q.LostS = q.SlowingS + q.WorkingS + q.RegainS
		p.LostS += q.LostS
	}
	p.LostS = math.Min(p.LostS, p.TimeS)
}

// addWorking adds time lost to the actions, in proportion to the work.
func (p *Price) addWorking(lostS float64) {
	sum := 0.0
	for _, q := range p.Parts() {
		sum += q.WorkS
	}
	p.LostS += lostS
	for i := range p.n {
		q := &p.parts[i]
		share := 1 / float64(p.n)
		if sum > 0 {
			share = q.WorkS / sum
		}
		q.WorkingS += lostS * share
		q.LostS += lostS * share
	}
}

// blend mixes the share w of another price of the same change into p.
func (p *Price) blend(o *Price, w float64) {
	mix := func(a *float64, b float64) { *a += w * (b - *a) }
	mix(&p.TimeS, o.TimeS)
	mix(&p.LostS, o.LostS)
	mix(&p.EffortJ, o.EffortJ)
	mix(&p.SlowMS, o.SlowMS)
	for i := range p.n {
		for j := range o.n {
			a, b := &p.parts[i], &o.parts[j]
			if a.Kind == b.Kind && a.Side == b.Side {
				mix(&a.WorkS, b.WorkS)
				mix(&a.EffortJ, b.EffortJ)
				mix(&a.LostS, b.LostS)
				mix(&a.SlowingS, b.SlowingS)
				mix(&a.WorkingS, b.WorkingS)
				mix(&a.RegainS, b.RegainS)
			}
		}
	}
}

func square(x float64) float64 { return x * x }
