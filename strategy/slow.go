package strategy

import (
	"fmt"
	"math"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// Slowing is how a boat is brought down to the speed at which a foil can be
// handled.
type Slowing struct {
	Way      SlowWay
	AngleRad float64 // true wind angle sailed meanwhile, for BearAway and Luff
}

// SlowWay names a way to slow down.
type SlowWay uint8

// The ways to slow down.
const (
	NoSlowing SlowWay = iota // the boat is slow enough
	EaseSails                // sails eased to the boat file's power fraction
	LetGoSails
	BearAway
	Luff
)

func (w SlowWay) String() string {
	return [...]string{"no slow-down", "ease the sails", "let the sails go", "bear away", "luff"}[w]
}

// way is one way to slow down, and how the boat is held while the work is done.
type way struct {
	Slowing
	timeS  float64
	alongM float64 // made good on the course meanwhile
	holdMS float64 // boat speed while the work is done
	made   float64 // share of it that is made good on the course
}

// angleWay is the nearest change of course, up and down, that slows a boat to
// a ceiling.
type angleWay struct {
	ceilingMS float64
	ways      [2]way
	ok        [2]bool
}

// slowTo chooses the cheapest way to slow a boat in state s0 from v to the
// ceiling and to hold it there for workS, against a new steady speed v1.
func (sc *scene) slowTo(s0 State, f0 *profile, v, ceiling, v1, workS float64) way {
	cost := func(w *way) float64 { return w.timeS - w.alongM/v1 + workS*(1-w.holdMS*w.made/v1) }
	t, d := f0.slowDown(profEasedTime, profEasedDist, v, ceiling)
	best := way{Slowing{Way: EaseSails}, t, d, ceiling, 1}
	t, d = f0.slowDown(profLooseTime, profLooseDist, v, ceiling)
	if w := (way{Slowing{Way: LetGoSails}, t, d, ceiling, 1}); cost(&w) < cost(&best) {
		best = w
	}
	// Another course costs at least what it makes good less than this one while
	// the work is done.
	if workS*(ceiling/v1)*(1-math.Cos(angleStepRad)) < best.timeS-best.alongM/v1 {
		a := sc.angle(s0, v, ceiling)
		for i := range a.ways {
			if a.ok[i] && cost(&a.ways[i]) < cost(&best) {
				best = a.ways[i]
			}
		}
	}
	return best
}

// The steps by which other courses are tried, and how far.
const (
	angleStepRad = 10 * math.Pi / 180
	angleSteps   = 8
)

// angle finds how a boat in state s0 slows from v to the ceiling by sailing
// higher or lower with full sails.
func (sc *scene) angle(s0 State, v, ceiling float64) *angleWay {
	role := sc.role(s0)
	for i := range sc.angles[role] {
		if a := &sc.angles[role][i]; a.ceilingMS == ceiling {
			return a
		}
	}
	a := angleWay{ceilingMS: ceiling}
	for i, dir := range [2]float64{-1, 1} {
		for k := 1; k <= angleSteps; k++ {
			c := sc.cond
			c.TWARad += dir * float64(k) * angleStepRad
			if c.TWARad < 0 || c.TWARad > math.Pi {
				break
			}
			if w, ok := sc.byAngle(role, c, v, ceiling); ok {
				w.made = math.Cos(float64(k) * angleStepRad)
				w.alongM *= w.made
				w.AngleRad = c.TWARad
				w.Way = Luff
				if dir > 0 {
					w.Way = BearAway
				}
				a.ways[i], a.ok[i] = w, true
				break
			}
		}
	}
	sc.angles[role] = append(sc.angles[role], a)
	return &sc.angles[role][len(sc.angles[role])-1]
}

// byAngle integrates the slow-down at full power in another condition.
func (sc *scene) byAngle(role int, c vpp.Condition, v, ceiling float64) (way, bool) {
	l, w := role/sc.pr.exts, role%sc.pr.exts
	perf := sc.pr.perf
	hold, ok := perf.Speed(l, w, c)
	if !ok || hold > ceiling {
		return way{}, false
	}
	const steps = 12
	out := way{holdMS: hold}
	h := (v - ceiling) / steps
	for i := range steps {
		u := v - (float64(i)+0.5)*h
		a := -perf.Accel(l, w, vpp.PowerFull, c, u)
		if !(a > slowFloor) {
			return way{}, false
		}
		out.timeS += h / a
		out.alongM += h / a * u
	}
	return out, true
}

// Describe says the slow-down in words, with the angle where there is one.
func (s Slowing) Describe() string {
	if s.Way == BearAway || s.Way == Luff {
		return s.Way.String() + " to " + degrees(s.AngleRad)
	}
	return s.Way.String()
}

func degrees(rad float64) string { return fmt.Sprintf("%.0f°", units.Deg(rad)) }
