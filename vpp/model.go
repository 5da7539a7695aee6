package vpp

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"slices"
	"sync"

	"foilledger/vpp/units"
)

const gravity = units.G

// Model is a boat ready to be solved. It is immutable and safe for concurrent
// use.
type Model struct {
	boat          *Boat
	factors       Factors
	hull          hullData
	sails         []*sailData
	righting      []rightingSet
	lateralArea   float64
	lateralHeight float64 // of its centre over G
	lever         float64 // height of the hull's drag over G
	surgeMassKg   float64
	windage       float64 // wind at the height of the windage over wind at 10 m
	pool          sync.Pool
}

// rightingSet is one way to use keel and ballast: a rung of the ladder from none
// to all.
type rightingSet struct {
	cant      float64
	ballastKg float64
	trimKg    float64
	keel      finSide
}

// NewModel prepares a boat. A factor of 0 (the zero value) counts as 1; others
// must be finite and positive.
func NewModel(b *Boat, f Factors) (*Model, error) {
	if b == nil {
		return nil, fmt.Errorf("vpp: no boat")
	}
	fv := reflect.ValueOf(&f).Elem()
	for i := range fv.NumField() {
		if fv.Field(i).Float() == 0 {
			fv.Field(i).SetFloat(1)
		}
		if x := fv.Field(i).Float(); !(x > 0 && x < 100) {
			return nil, fmt.Errorf("vpp: factor %s is %v, must be above 0 and below 100", fv.Type().Field(i).Name, x)
		}
	}
	if len(b.Rig.SailSets) == 0 {
		return nil, fmt.Errorf("vpp: the boat has no sails")
	}
	surface() // tabulate outside any timing
	k := &b.Keel
	vol := math.Pi / 6 * k.BulbLengthM * k.BulbDiamM * k.BulbDiamM
	for _, s := range []struct{ span, chord, tc float64 }{
		{k.FinSpanM, k.FinChordM, k.FinTC},
		{b.Appendages.Board.SpanM, b.Appendages.Board.ChordM, b.Appendages.Board.TC},
		{b.Appendages.Rudder.SpanM, b.Appendages.Rudder.ChordM, b.Appendages.Rudder.TC},
	} {
		vol += 0.68 * s.span * s.chord * s.chord * s.tc // section area of common foils
	}
	m := &Model{boat: b, factors: f, hull: newHullData(b, vol)}
	for _, s := range b.Rig.SailSets {
		m.sails = append(m.sails, newSailData(b, s))
	}
	// Small to large, so that neighbours are alike.
	slices.SortStableFunc(m.sails, func(a, b *sailData) int { return cmp.Compare(a.area, b.area) })
	add := func(cant, ballast, trim float64) {
		m.righting = append(m.righting, rightingSet{
			cant: cant, ballastKg: ballast, trimKg: trim,
			keel: newFin(b, k.FinSpanM, k.FinChordM, k.FinXM, 0, cant),
		})
	}
	add(0, 0, 0)
	if k.MaxCantRad > 0 {
		add(k.MaxCantRad/2, 0, 0)
		add(k.MaxCantRad, 0, 0)
	}
	if b.Ballast.MassKg > 0 {
		add(k.MaxCantRad, b.Ballast.MassKg/2, 0)
		add(k.MaxCantRad, b.Ballast.MassKg, 0)
	}
	if b.Ballast.TrimMassKg > 0 {
		add(k.MaxCantRad, b.Ballast.MassKg, b.Ballast.TrimMassKg)
	}
	h := &b.Hull
	fins := k.FinSpanM*k.FinChordM + b.Appendages.Board.SpanM*b.Appendages.Board.ChordM + b.Appendages.Rudder.SpanM*b.Appendages.Rudder.ChordM
	hullLat := 0.75 * h.LengthWaterlineM * h.DraftM
	m.lateralArea = hullLat + fins
	m.lateralHeight = -h.CGHeightM - (hullLat*0.4*h.DraftM+fins*(h.DraftM+0.4*k.FinSpanM))/m.lateralArea
	m.lever = -0.5*h.DraftM - h.CGHeightM
	m.surgeMassKg = h.DisplacementKg * (1 + h.AddedMassFraction)
	m.windage = windProfile(max(b.Rig.WindageHeightM, 1), b.Rig.WindExponent)
	m.pool.New = func() any { return m.NewSolver() }
	return m, nil
}

// Boat returns the boat of the model; it must not be changed.
func (m *Model) Boat() *Boat { return m.boat }

// Factors returns the factors of the model.
func (m *Model) Factors() Factors { return m.factors }

// speedState is everything that depends on boat speed, foil settings, wind and
// sea, but not on the unknowns nor on the choice of sails, keel and ballast.
type speedState struct {
	v, q               float64
	hull               hullSpeed
	draft              [4]float64
	finDrag            float64 // profile, spray and junction drag of keel, bulb, board, rudder
	finLever           float64 // height of its centre over G, times the drag, N m
	cfFoil             float64
	cavPerM, cav0      float64 // cavitation number = cav0 + cavPerM·depth
	ventSpeed          float64
	smear              float64
	qAir               float64 // ½ρ ax|ax| at deck height
	foilLift, foilDrag float64
	seaHs, orbital     float64 // sea for which the orbital velocity at the foil stands
	gustAngle2         float64 // variance of the foil's angle of attack in waves
	wave               waveState
	wind               windState
	slices             [2]foilSlices
}

// foilSlices are the free-surface factors of one foil at one speed.
type foilSlices struct{ lift, induced *uniform }

type windState struct{ tws, cos, sin, v float64 }

// setting is a pair of foils at their settings.
type setting struct {
	foils     [2]foilSide // leeward, windward
	rudder    finSide
	board     finSide
	boardSpan float64
}

func (m *Model) newSetting(leeward, windward FoilSetting) *setting {
	b := m.boat
	s := &setting{}
	s.foils[0] = newFoilSide(b, leeward, +1)
	s.foils[1] = newFoilSide(b, windward, -1)
	r, d := &b.Appendages.Rudder, &b.Appendages.Board
	s.rudder = newFin(b, r.SpanM, r.ChordM, r.XM, r.YM, -r.CantRad)
	s.boardSpan = d.SpanM * (1 - leeward.Extension*(1-b.Appendages.BoardWithFoil))
	s.board = newFin(b, s.boardSpan, d.ChordM, d.XM, d.YM, -d.CantRad)
	return s
}

// prepare fills sp for one speed. It allocates nothing once sp has its slices.
func (m *Model) prepare(sp *speedState, st *setting, c *Condition, v float64) {
	b := m.boat
	sp.v = v
	sp.q = 0.5 * WaterDensity * v * v
	sp.hull = m.hull.atSpeed(b, v, m.factors.HullDrag)
	sp.draft = draftNodes(b, v/math.Sqrt(gravity*b.Hull.LengthWaterlineM))
	m.finDrag(sp, st)
	sp.foilLift, sp.foilDrag = m.factors.FoilLift, m.factors.FoilDrag
	sp.wave = newWaveState(m, *c, v)
	sp.wind = windState{c.TWSMS, math.Cos(c.TWARad), math.Sin(c.TWARad), v}
	ax := c.TWSMS*m.windage*sp.wind.cos + v
	sp.qAir = 0.5 * airDensity * ax * math.Abs(ax)
	if b.Foils == nil {
		return
	}
	f := b.Foils
	chord := f.ChordM()
	if c.HsM != sp.seaHs {
		sp.seaHs, sp.orbital = c.HsM, orbitalVelocity(c.HsM, bowLengths*b.Hull.LengthWaterlineM, foilDepthShare*f.SpanM)
	}
	sp.gustAngle2 = sp.orbital * sp.orbital / (v*v + slowAngle*sp.orbital*sp.orbital)
	sp.cfFoil = ittc57(v * chord / waterViscosity)
	sp.cavPerM = WaterDensity * gravity / sp.q
	sp.cav0 = (atmospherePress - vapourPressure) / sp.q
	sp.ventSpeed = 0.55 + 0.45/(1+v*v/100)
	// A logistic blur of scale δ has the standard deviation 1.81 δ; it stands for
	// ripples and for the Gaussian surface of the waves.
	sp.smear = math.Hypot(f.SurfaceSmearM, sp.wave.sigma*0.55)
	for i := range st.foils {
		g := &st.foils[i]
		if !g.out {
			continue
		}
		k := &sp.slices[i]
		if k.lift == nil {
			k.lift, k.induced = newSlice(), newSlice()
		}
		t := surface()
		t.slice(&t.lift, gravity*chord/(v*v), k.lift)
		t.slice(&t.induced, gravity*(g.main+g.tip)/(2*v*v), k.induced)
	}
}

// finDrag is the drag of keel, bulb, board and rudder that does not depend on
// the unknowns.
func (m *Model) finDrag(sp *speedState, st *setting) {
	b := m.boat
	sp.finDrag, sp.finLever = 0, 0
	root := -b.Hull.DraftM - b.Hull.CGHeightM
	add := func(d, depth float64) {
		sp.finDrag += d
		sp.finLever += d * (root - depth)
	}
	surf := func(span, chord, tc float64, pierces bool) {
		if span <= 0 {
			return
		}
		cd := 2 * (ittc57(sp.v*chord/waterViscosity) + b.Hull.Roughness) * foilFormFactor(tc)
		t := tc * chord
		d := sp.q * cd * span * chord
		d += sp.q * t * t * max(0, 0.75*tc-0.0003/(tc*tc)) // hull junction, Hoerner
		if pierces {
			d += 0.24 * sp.q * t * t // spray, Hoerner
		}
		add(d, 0.5*span)
	}
	k := &b.Keel
	surf(k.FinSpanM, k.FinChordM, k.FinTC, false)
	a := &b.Appendages
	surf(st.boardSpan, a.Board.ChordM, a.Board.TC, false)
	surf(a.Rudder.SpanM, a.Rudder.ChordM, a.Rudder.TC, true)
	// Bulb: ellipsoid-like body; wetted area 0.85 π d l.
	re := sp.v * k.BulbLengthM / waterViscosity
	cf := (ittc57(re) + b.Hull.Roughness) * bodyFormFactor(k.BulbDiamM/k.BulbLengthM)
	if k.BulbKg > 0 {
		add(sp.q*cf*0.85*math.Pi*k.BulbDiamM*k.BulbLengthM, k.ArmM*math.Cos(k.MaxCantRad))
	}
}
