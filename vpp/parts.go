package vpp

// Resistance in the parts that a designer asks for, and the surge curve with
// them.

// The parts of the resistance, for [Drag].
const (
	DragWindage = iota
	DragHullFriction
	DragHullPressure // residuary when floating, pressure when planing
	DragAppendages   // profile, spray and junctions of keel, bulb, board and rudder
	DragAppendagesInduced
	DragFoilProfile
	DragFoilInduced  // as under a rigid surface
	DragFoilWaves    // what the free surface adds: waves made, and the biplane effect at speed
	DragFoilLoss     // stall, cavitation and ventilation
	DragFoilUnsteady // lift that comes and goes with the waves
	DragFoilSpray
	DragFoilJunction
	DragFoilAir // of the part that stands in the air, both foils
	DragFoilWindward
	DragWaves // added resistance of the sea
	DragBowImmersion
	NumDrag
)

// DragNames are the names of the parts of [Drag], in their order.
var DragNames = [NumDrag]string{
	"windage", "hull_friction", "hull_pressure", "appendages", "appendages_induced",
	"foil_profile", "foil_induced", "foil_waves", "foil_loss", "foil_unsteady", "foil_spray", "foil_junction", "foil_air",
	"foil_windward", "sea", "bow_immersion",
}

// Drag is the resistance by parts, N, positive when it brakes. Windage is
// negative when it drives. The parts sum to sail thrust less the net force.
type Drag [NumDrag]float64

// Sum is the whole resistance, N.
func (d *Drag) Sum() float64 {
	s := 0.0
	for _, x := range d {
		s += x
	}
	return s
}

// Map returns the parts by name.
func (d Drag) Map() map[string]float64 {
	m := make(map[string]float64, NumDrag)
	for i, n := range DragNames {
		m[n] = d[i]
	}
	return m
}

// tally receives the parts of one evaluation.
type tally struct {
	forces Forces
	drag   Drag
}

// tallyDrag splits the drag of one panel; first carries spray, junction and air.
func (g *foilSide) tallyDrag(sp *speedState, f *foilFlow, b, alpha, sinGamma d3, first bool, d *Drag) {
	s := b.v * sp.q * g.chord * sp.foilDrag
	lin, cl, vr := f.lift(sp, alpha, sinGamma)
	l := cl.v - g.designCL
	ind := cl.v * cl.v * f.indA.v
	rigid := ind * f.rigidShare
	qt2 := sp.q * g.thick * g.thick * sp.foilDrag
	var spray, junction, air float64
	if first {
		spray, junction = 0.24*qt2*f.pierce.v, g.junction*qt2*f.wetRoot.v
		air = max(0, g.main+g.tip-f.bMain.v-f.bTip.v) * g.airArea * sp.qAir
	}
	profile := s * (g.cdForm*sp.cfFoil + bucketK*l*l)
	loss := s * (lin.v - cl.v) * alpha.v * stallDrag
	unsteady := s * vr.v * (f.indA.v + bucketK)
	if g.side < 0 { // the idle foil in one sum, its air drag apart
		d[DragFoilWindward] += profile + s*ind + loss + unsteady + spray + junction
		d[DragFoilAir] += air
		return
	}
	d[DragFoilProfile] += profile
	d[DragFoilInduced] += s * rigid
	d[DragFoilWaves] += s * (ind - rigid)
	d[DragFoilLoss] += loss
	d[DragFoilUnsteady] += unsteady
	d[DragFoilSpray] += spray
	d[DragFoilJunction] += junction
	d[DragFoilAir] += air
}

// SurgePart is the boat held at one speed with its sails drawing: what drives it
// and what brakes it, and how it balances.
type SurgePart struct {
	BSPMS     float64
	OK        bool    // the balances were solved; else only BSPMS is set
	NetN      float64 // thrust less resistance: the boat speeds up when > 0
	ThrustN   float64 // of the sails
	Drag      Drag
	HeelRad   float64
	LeewayRad float64
	TrimRad   float64
	HullLoad  float64
	RiseM     float64
	FoilLiftN float64 // vertical, leeward foil
	FoilLoadN float64 // normal to the leeward foil
	Depower   float64
	Sail      string
	CantRad   float64
	BallastKg float64
}

// SurgeParts is the surge curve at a condition and foil state, with its parts,
// at the rising boat speeds given (m/s, above 0). Sails, keel cant and ballast
// are the best at each speed; limits are not applied. It returns nil for an
// input outside its range.
func (m *Model) SurgeParts(c Condition, leeward, windward FoilSetting, speedsMS []float64) []SurgePart {
	if m.checkInput(c, leeward, windward) != "" || len(speedsMS) == 0 {
		return nil
	}
	for i, v := range speedsMS {
		if !(v >= 0.1 && v <= 60) || i > 0 && !(v > speedsMS[i-1]) {
			return nil
		}
	}
	s := m.newSolver(speedsMS)
	s.set(c, leeward, windward)
	s.march(false)
	out := make([]SurgePart, len(speedsMS))
	for i := range s.nodes {
		nd := &s.nodes[i]
		out[i].BSPMS = nd.v
		if !nd.ok {
			continue
		}
		// The climb stops a little early; finish the balance.
		if !s.balanceAt(&s.sps[i], nd.at, 1, &nd.x, &nd.bal) {
			continue
		}
		p := s.point(nd, 1)
		out[i] = SurgePart{
			BSPMS: nd.v, OK: true, ThrustN: p.Forces[PartSails], Drag: p.Drag,
			NetN:    p.Forces[PartSails] - p.Drag.Sum(),
			HeelRad: p.HeelRad, LeewayRad: p.LeewayRad, TrimRad: p.TrimRad, HullLoad: p.HullLoad, RiseM: p.RiseM,
			FoilLiftN: p.FoilLiftN, FoilLoadN: p.FoilLoadN, Depower: p.Depower, Sail: p.Sail, CantRad: p.CantRad, BallastKg: p.BallastKg,
		}
	}
	return out
}
