package vpp

import "math"

// wallSidedGZ is the righting arm of a wall-sided body, (GM + ½ BM tan²φ) sin φ,
// valid until the deck edge dips or the chine comes out (D. R. Derrett, Ship
// Stability for Masters and Mates, wall-sided formula).
func wallSidedGZ(gm, bm, heelRad float64) float64 {
	t := math.Tan(heelRad)
	return (gm + 0.5*bm*t*t) * math.Sin(heelRad)
}

// stability is the form part of the righting moment, about the centre of gravity.
type stability struct {
	bm, bg    float64 // BM, and GM − BM
	invLimit4 float64 // of the sideways shift of the centre of buoyancy
}

// newStability reads GM from the boat file; BM follows from it and the heights
// of the centres, B a third of the draft below the waterline.
func newStability(h *Hull) stability {
	bg := -h.DraftM/3 - h.CGHeightM // B above G
	bm := h.GMM - bg
	return stability{bm: bm, bg: bg, invLimit4: math.Pow(h.GZFormLimitM, -4)}
}

// arm is the righting arm of the hull with the keel centred: the wall-sided
// shift of the centre of buoyancy, levelling off softly at the limit that the
// half beam sets, plus the height of B over G.
func (s *stability) arm(phi, sin, cos d3) d3 {
	tan := sin.div(cos)
	shift := tan.sq().scale(0.5).addc(1).mul(sin).scale(s.bm)
	return shift.softCap(con(s.invLimit4)).add(sin.scale(s.bg))
}

// cantedKeelMoment is what canting a mass m on arm r by cant to windward adds to
// the righting moment at heel phi: m g r [sin(φ+κ) − sin φ] (statics).
func cantedKeelMoment(massKg, armM, cantRad, heelRad float64) float64 {
	return massKg * gravity * armM * (math.Sin(heelRad+cantRad) - math.Sin(heelRad))
}

// ballastMoment is the righting moment of a mass at y to windward and z above
// the centre of gravity: m g (y cos φ − z sin φ) (statics).
func ballastMoment(massKg, yM, zM, heelRad float64) float64 {
	return massKg * gravity * (yM*math.Cos(heelRad) - zM*math.Sin(heelRad))
}
