package strategy

import (
	"math"

	"foilledger/vpp"
	"foilledger/weather"
)

// Performer is the boat as the planner needs it; *vpp.Table is one.
type Performer interface {
	// Settings lists the foil settings of one side; index 0 is in.
	Settings() []vpp.FoilSetting
	// Extensions lists the extensions; index 0 is in.
	Extensions() []float64
	// Speed is the steady boat speed with leeward setting l and windward
	// extension w; ok is false when a limit refuses the foil state.
	Speed(l, w int, c vpp.Condition) (bspMS float64, ok bool)
	// Accel is the surge acceleration at boat speed vMS.
	Accel(l, w int, p vpp.Power, c vpp.Condition, vMS float64) float64
	// BestVMG is the true wind angle of the best speed made good against the
	// wind (upwind) or before it, and that speed made good (≥ 0).
	BestVMG(l, w int, twsMS, hsM float64, upwind bool) (twaRad, vmgMS float64)
	// At is the whole steady state.
	At(l, w int, c vpp.Condition) vpp.Steady
	// Grid is the grid of conditions on which the results are tabulated.
	Grid() vpp.Grid
}

// stoppedMS is the progress below which the boat counts as stopped.
const stoppedMS = 0.05

// Pace is how the boat moves along a course at one place and time.
type Pace struct {
	AlongMS   float64 // over the ground, along the course; 0 when stopped
	BSPMS     float64 // through the water, on the board sailed most
	TWSMS     float64 // over the water
	TWARad    float64 // 0…π, as sailed on that board
	HsM       float64
	Starboard float64 // share of the time with the wind from starboard, 0…1
	Zigzag    bool    // sailed on both boards by the best speed made good
	// ChangesPerS is how often the boat tacks or gybes to stay in its corridor.
	ChangesPerS float64
	// Held is set when a limit refuses the foil state here and now: the boat
	// makes no progress until conditions allow it again.
	Held bool
}

// Upwind reports whether the boat sails closer than a beam reach, so that a
// change of board is a tack.
func (p Pace) Upwind() bool { return p.TWARad < math.Pi/2 }

// wrapPi wraps an angle to [−π, π).
func wrapPi(a float64) float64 {
	if a >= math.Pi {
		a -= 2 * math.Pi
		if a >= math.Pi {
			a = math.Mod(a+math.Pi, 2*math.Pi) - math.Pi
		}
	} else if a < -math.Pi {
		a += 2 * math.Pi
		if a < -math.Pi {
			a = math.Mod(a-math.Pi, 2*math.Pi) + math.Pi
		}
	}
	return a
}

// seaState is a weather sample turned to what the boat feels: the wind over
// the moving water.
type seaState struct {
	twsMS, windFromRad, hsM, waveFromRad float64
	curU, curV                           float64
	hasWaveFrom                          bool
}

func (sl *Sailor) sea(s weather.Sample) seaState {
	wu, wv := s.U-s.CurrentU, s.V-s.CurrentV
	return seaState{
		twsMS: math.Hypot(wu, wv), windFromRad: math.Atan2(-wu, -wv),
		hsM: s.HsM, waveFromRad: s.WaveFromRad, hasWaveFrom: sl.opt.WaveDirections,
		curU: s.CurrentU, curV: s.CurrentV,
	}
}

// condition is what the boat model is asked for when heading headingRad.
func (s seaState) condition(twaRad, headingRad float64) vpp.Condition {
	c := vpp.Condition{TWSMS: s.twsMS, TWARad: twaRad, HsM: s.hsM}
	if s.hasWaveFrom {
		// Zero would mean "with the wind".
		c.WaveFromBowRad = math.Max(math.Abs(wrapPi(s.waveFromRad-headingRad)), 1e-9)
	}
	return c
}

// paceSea returns how the boat in state st moves along the course courseRad.
//
// On a course that the boat can sail directly it does so. On one closer to the
// wind than the angle of best speed made good, or further from it than that of
// the best speed made good before the wind, it sails on both boards in the
// shares that keep it on the course; the two boards may differ in speed and
// angle because different foils work on them. Changes of board come as often
// as a corridor of the width corridorM asks. A current is added as a vector:
// the heading is chosen so that the boat stays on the course.
func (sl *Sailor) paceSea(courseRad float64, sea seaState, st State) Pace {
	return sl.waters(sea).pace(courseRad, st)
}

// waters is the sea at one place and time. It keeps what the roles of the foils
// sail at their angles of best speed made good there, which many states share.
type waters struct {
	sl   *Sailor
	sea  seaState
	legs [2][2][]bestLeg // by board (0: wind from starboard), upwind (1) or not, by role
	made *slab[bestLeg]  // where they are taken from; nil: anew
}

// bestLeg is how a role sails at its angle of best speed made good.
type bestLeg struct {
	twaRad, bspMS float64
	// along and across a course that lies relRad from the wind, m/s, across to
	// the right
	relRad, alongMS, acrossMS float64
	known                     legKnown
}

// legKnown says what is known of a bestLeg.
type legKnown uint8

const (
	legAngle legKnown = 1 << iota
	legSpeed
	legHeld // a limit refuses the role there
	legMade // good on the course last asked for
)

func (sl *Sailor) waters(sea seaState) *waters { return &waters{sl: sl, sea: sea} }

// leg returns the leg of a role on a board, with its angle.
func (w *waters) leg(leeward, windward, board int, upwind bool) *bestLeg {
	up := 0
	if upwind {
		up = 1
	}
	legs := &w.legs[board][up]
	exts := w.sl.states.exts
	if *legs == nil {
		n := len(w.sl.states.settings) * exts
		if w.made != nil {
			*legs = w.made.take(n)
		} else {
			*legs = make([]bestLeg, n)
		}
	}
	g := &(*legs)[leeward*exts+windward]
	if g.known == 0 {
		g.twaRad, g.known = w.sl.vmg.angle(leeward, windward, w.sea.twsMS, w.sea.hsM, upwind), legAngle
	}
	return g
}

// fullLeg is leg with its speed; ok is false where a limit refuses the role.
func (w *waters) fullLeg(leeward, windward, board int, upwind bool) (g *bestLeg, ok bool) {
	g = w.leg(leeward, windward, board, upwind)
	if g.known&legSpeed == 0 {
		heading := w.sea.windFromRad - g.twaRad
		if board == 1 {
			heading = w.sea.windFromRad + g.twaRad
		}
		g.bspMS, ok = w.sl.perf.Speed(leeward, windward, w.sea.condition(g.twaRad, heading))
		if g.known |= legSpeed; !ok {
			g.known |= legHeld
		}
	}
	return g, g.known&legHeld == 0
}

// makeGood splits a leg's speed on a board along a course that lies relRad from
// the wind, and across it.
func (g *bestLeg) makeGood(relRad float64, board int) {
	if g.known&legMade != 0 && g.relRad == relRad {
		return
	}
	off := relRad - g.twaRad
	if board == 1 {
		off = relRad + g.twaRad
	}
	sin, cos := math.Sincos(off)
	g.relRad, g.alongMS, g.acrossMS = relRad, g.bspMS*cos, g.bspMS*sin
	g.known |= legMade
}

// pace is paceSea in these waters.
func (w *waters) pace(courseRad float64, st State) Pace {
	p := w.through(courseRad, st)
	if w.sea.curU == 0 && w.sea.curV == 0 {
		return p
	}
	along, across := w.sea.current(courseRad)
	// The course through the water that cancels the current's cross part, by
	// fixed-point iteration; it ends at a thousandth of a degree.
	drift := 0.0
	for range 20 {
		if p.AlongMS <= math.Abs(across) {
			// The current across is faster than the boat: it cannot hold the
			// course.
			p.AlongMS = 0
			return p
		}
		next := math.Asin(across / p.AlongMS)
		if math.Abs(next-drift) < 2e-5 {
			break
		}
		drift = next
		p = w.through(courseRad-drift, st)
	}
	p.AlongMS = p.AlongMS*math.Cos(drift) + along
	if p.AlongMS < stoppedMS {
		p.AlongMS = 0
	}
	return p
}

// current splits the current into its parts along a course and across it, to
// the right.
func (s seaState) current(courseRad float64) (along, across float64) {
	sin, cos := math.Sincos(courseRad)
	return s.curU*sin + s.curV*cos, s.curU*cos - s.curV*sin
}

// through is the pace through the water.
func (w *waters) through(courseRad float64, st State) Pace {
	rel := wrapPi(w.sea.windFromRad - courseRad) // positive: wind from starboard
	starboard := rel >= 0
	twa := math.Abs(rel)
	p := Pace{TWSMS: w.sea.twsMS, TWARad: twa, HsM: w.sea.hsM}
	board := 1
	if starboard {
		p.Starboard, board = 1, 0
	}
	l, wd := w.sl.states.roles(st, starboard)
	upwind := twa < math.Pi/2
	best := w.leg(l, wd, board, upwind).twaRad
	if (upwind && twa < best) || (!upwind && twa > best) {
		if z, ok := w.zigzag(rel, st, upwind); ok {
			return z
		}
	}
	v, ok := w.sl.perf.Speed(l, wd, w.sea.condition(twa, courseRad))
	p.BSPMS = v
	if !ok {
		p.Held = true
		return p
	}
	if v >= stoppedMS {
		p.AlongMS = v
	}
	return p
}

// zigzag sails a course that lies rel from the wind on both boards at their
// angles of best speed made good.
func (w *waters) zigzag(rel float64, st State, upwind bool) (Pace, bool) {
	var legs [2]*bestLeg // 0: wind from starboard, 1: wind from port
	held := false
	for b := range 2 {
		l, wd := w.sl.states.roles(st, b == 0)
		g, ok := w.fullLeg(l, wd, b, upwind)
		g.makeGood(rel, b)
		legs[b] = g
		held = held || !ok
	}
	cs, cp := legs[0].acrossMS, legs[1].acrossMS
	if cp-cs == 0 {
		return Pace{}, false
	}
	f := cp / (cp - cs)
	if !(f >= 0 && f <= 1) {
		return Pace{}, false
	}
	p := Pace{TWSMS: w.sea.twsMS, HsM: w.sea.hsM, Starboard: f, Zigzag: true, Held: held}
	most := legs[1]
	if f >= 0.5 {
		most = legs[0]
	}
	p.BSPMS, p.TWARad = most.bspMS, most.twaRad
	if held {
		return p, true
	}
	along := f*legs[0].alongMS + (1-f)*legs[1].alongMS
	if along >= stoppedMS {
		p.AlongMS = along
	}
	// Each cycle of two changes may use the whole corridor across.
	p.ChangesPerS = 2 * f * math.Abs(cs) / w.sl.opt.corridorM()
	return p, true
}
