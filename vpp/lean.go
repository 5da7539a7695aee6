package vpp

import (
	"math"

	"foilledger/vpp/units"
)

// Lean is the set of terms of the model that stand outside their published
// range at a point: what the point leans on. The zero value leans on nothing.
type Lean uint16

// Term is one term of the model with the range in which its source vouches for
// it, and what the model does outside.
type Term struct {
	Name    string // short, as printed
	Range   string
	Outside string
	Source  string
}

const (
	leanHullForm Lean = 1 << iota
	leanFroude
	leanPlaningTrim
	leanPlaningLength
	leanPlaningSpeed
	leanHeel
	leanDraught
	leanSails
	leanFoilCaps
	leanFoilShallow
	leanFoilShort
	leanFins
	leanSeaAngle
	leanSeaHeight
	numTerms = iota
)

// terms in the order of the bits.
var terms = [numTerms]Term{
	{"hull form", "length/∇^⅓ 4.34 to 8.50, beam/draft 2.46 to 19.4, length/beam 2.73 to 5, Cp 0.52 to 0.60", "the regression is used as it stands", "Keuning & Katgert 2008 (Delft series; range from memory)"},
	{"floating hull too fast", "Froude number 0.15 to 0.75", "held at its value at 0.75 while the planing part takes over, to 0.80", "Keuning & Katgert 2008"},
	{"planing trim", "2° to 15°", "the equations go on; trim is held softly above 0.8°, and below 1° the forebody pushes back", "Savitsky 1964"},
	{"planing wetted length", "up to 4 beams", "the equations go on; held softly below the waterline length", "Savitsky 1964"},
	{"planing speed", "speed coefficient V/√(g·beam) 0.60 to 13", "the equations go on", "Savitsky 1964"},
	{"heel", "up to 35° (wetted area), 30° (effective draught)", "held at the end of the range", "Keuning & Sonnenberg 1998"},
	{"effective draught", "beam/draft up to 10, canoe draft over whole draft from 0.2, Froude number up to 0.45", "held at the edge of the range", "Keuning & Sonnenberg 1998"},
	{"sails close to the wind", "apparent wind angle 27° to 180°", "lift and drag fall straight to the values at 0°", "Hazen 1980 (from memory)"},
	{"foil near stall or cavity", "lift proportional to the angle of attack, within 1/1.3 of it", "lift levels off at stall, cavitation and ventilation limits; what is lost drags", "Hoerner 1975; limits from memory"},
	{"foil near the surface", "mean depth over half a chord", "linear theory goes on; tank tests show the flow separating there", "Benson & Land 1942"},
	{"short foil in the water", "immersed aspect ratio over 3", "lifting-line theory goes on, some 10 % too high at 2", "Prandtl 1918; Helmbold 1942"},
	{"fins near stall", "leeway under 8°", "lift levels off at CL 1.1; cross flow takes over", "Hoerner 1965"},
	{"sea not ahead", "waves within 45° of the bow", "an assumed law of the angle", "ITTC 7.5-04-01-01.1"},
	{"high sea", "Hs up to 2.25 √(length/100 m)", "waves longer than 3 lengths are left out, the rest counts", "ITTC 7.5-04-01-01.1 (limit from memory)"},
}

// Terms lists the terms of the model that can stand outside their range, in the
// order of the bits of [Lean].
func Terms() []Term { return append([]Term(nil), terms[:]...) }

// Has reports whether term i, in the order of [Terms], is in the set.
func (l Lean) Has(i int) bool { return i >= 0 && i < numTerms && l>>i&1 == 1 }

// Names lists the terms in the set; nil when it is empty.
func (l Lean) Names() []string {
	var n []string
	for i := range terms {
		if l.Has(i) {
			n = append(n, terms[i].Name)
		}
	}
	return n
}

// lean works out what a node leans on; it allocates nothing.
func (m *Model) lean(c *Condition, st *setting, nd *node) Lean {
	var l Lean
	set := func(bit Lean, on bool) {
		if on {
			l |= bit
		}
	}
	d := &m.hull.delft
	h := &m.boat.Hull
	b := &nd.bal
	fn := nd.v / math.Sqrt(gravity*d.l)
	if fn < blendHigh {
		slim := d.l / math.Cbrt(d.vol)
		bt, lb := d.b/d.tc, d.l/d.b
		set(leanHullForm, slim < 4.34 || slim > 8.50 || bt < 2.46 || bt > 19.4 || lb < 2.73 || lb > 5 || d.cp < 0.52 || d.cp > 0.60)
		set(leanFroude, fn > 0.75)
	}
	if fn > blendLow && b.bottomTrim != 0 {
		cv := nd.v / math.Sqrt(gravity*h.PlaningBeamM)
		set(leanPlaningTrim, b.bottomTrim < 2 || b.bottomTrim > 15)
		set(leanPlaningLength, b.lambda > 4)
		set(leanPlaningSpeed, cv < 0.60 || cv > 13)
	}
	set(leanHeel, math.Abs(b.phi) > units.Rad(30))
	set(leanDraught, d.b/d.tc > draftMaxBTc || d.tc/(d.tc+m.boat.Keel.FinSpanM) < draftMinTcT || fn > draftMaxFn)
	sail := m.sails[nd.at.sail]
	ax := c.TWSMS*sail.profile*math.Cos(c.TWARad) + nd.v
	ay := c.TWSMS * sail.profile * math.Sin(c.TWARad) * math.Cos(b.phi)
	set(leanSails, math.Atan2(ay, ax) < units.Rad(27))
	if st.foils[0].out && b.foilAspect > 0.05 {
		set(leanFoilCaps, b.foilCapShare > 1.3)
		set(leanFoilShallow, b.foilDepthC < 0.5)
		set(leanFoilShort, b.foilAspect < 3)
	}
	set(leanFins, math.Abs(nd.x[iLeeway]) > math.Tan(units.Rad(8)))
	if c.HsM > 0 {
		set(leanSeaAngle, c.waveAngle() > math.Pi/4)
		set(leanSeaHeight, c.HsM > 2.25*math.Sqrt(d.l/100))
	}
	return l
}
