package vpp

import (
	"math"

	"foilledger/vpp/units"
)

// Sail coefficients against apparent wind angle. Main, jib and spinnaker: G. S.
// Hazen (1980), "A model of sail aerodynamics for diverse rig types", SNAME New
// England Sailing Yacht Symposium; values from memory. Below 27° they fall
// linearly to 0 at 0° (common practice, not in Hazen); a spinnaker there has
// collapsed, and keeps its drag of 50° (assumption). Reacher: a flat headsail
// flown off the wind, between jib and spinnaker; invented.
var builtinSailTypes = map[string]SailType{
	"main":      hazen("main", []float64{0, 1.5, 1.5, .95, .85, 0}, []float64{0, .02, .15, .80, 1.00, .90}),
	"jib":       hazen("jib", []float64{0, 1.5, .5, .3, 0, 0}, []float64{0, .02, .25, .15, 0, 0}),
	"spinnaker": hazen("spinnaker", []float64{0, 0, 1.5, 1.0, .85, 0}, []float64{.25, .25, .25, .90, 1.20, .66}),
	"reacher":   hazen("reacher", []float64{0, 1.1, 1.4, .85, .5, 0}, []float64{0, .10, .17, .45, .60, .35}),
}

func hazen(name string, cl, cd []float64) SailType {
	t := SailType{Name: name, CL: cl, CD: cd}
	for _, d := range []float64{0, 27, 50, 80, 100, 180} {
		t.AWARad = append(t.AWARad, units.Rad(d))
	}
	return t
}

const (
	// closeHauled is the apparent wind angle at which sails are taken to have
	// no separated flow: the first column of Hazen's table.
	closeHauled = 27 * math.Pi / 180
	// hazenViscous is the quadratic viscous drag of sails: CDI = CL²(1/πAR + 0.005)
	// (Hazen 1980, from memory).
	hazenViscous = 0.005
	// floggingCD is the drag coefficient of a sail let go, on its area: a flag
	// along the wind (after Hoerner 1965, ch. 3; value from memory).
	floggingCD = 0.10
)

// sailData is a sail set ready for the solver: lift and parasitic drag areas
// (coefficient times area) over the apparent wind angle.
type sailData struct {
	name     string
	area     float64
	clA, cdA *uniform
	keep     *uniform // the part of cdA that flattening leaves
	induced  float64  // CDI·area = (CL·area)²·induced
	ce       float64  // height of the centre of effort
	profile  float64  // wind at that height over wind at 10 m
	maxTWS   float64
}

func newSailData(b *Boat, s SailSet) *sailData {
	main := builtinSailTypes["main"]
	head := builtinSailTypes[s.Headsail]
	for _, t := range b.Rig.CoefficientSets {
		if t.Name == s.Headsail {
			head = t
		}
		if t.Name == "main" {
			main = t
		}
	}
	mix := func(m, h []float64) *uniform {
		cm, ch := newCurve(main.AWARad, m), newCurve(head.AWARad, h)
		// Every 3°, so that 27° is a point.
		return newUniform(0, math.Pi, 61, func(x float64) float64 {
			fm, _ := cm.at(x)
			fh, _ := ch.at(x)
			return s.MainAreaM2*fm + s.HeadsailAreaM2*fh
		})
	}
	area := s.MainAreaM2 + s.HeadsailAreaM2
	cdA := mix(main.CD, head.CD)
	attached, _ := cdA.at(closeHauled)
	return &sailData{
		name: s.Name, area: area,
		clA: mix(main.CL, head.CL), cdA: cdA,
		keep: newUniform(0, math.Pi, len(cdA.y), func(x float64) float64 {
			cd, _ := cdA.at(x)
			return min(cd, attached) * (1 - aftShare(x))
		}),
		// CDI·A = CL²A(A/πh² + 0.005) = (CL A)²(1/πh² + 0.005/A)
		induced: 1/(math.Pi*s.EffHeightM*s.EffHeightM) + hazenViscous/area,
		ce:      s.CEHeightM,
		profile: windProfile(s.CEHeightM, b.Rig.WindExponent),
		maxTWS:  s.MaxTWSMS,
	}
}

// windProfile is wind at height z over wind at 10 m by the power law; exponent
// 0.11 over the open sea (Hsu, Meindl & Gilhousen 1994, J. Appl. Meteorol. 33).
func windProfile(zM, exponent float64) float64 { return math.Pow(zM/10, exponent) }

// sailForces is the force of sails at heel phi and lift fraction f (x derivative
// along the heel unknown): drive along the boat, and side force square to the
// mast. In the heeled plane the apparent wind is (W cos TWA + V, W sin TWA cos φ)
// (exact geometry; see Kerwin 1978, MIT Rep. 78-11). power is the share of force
// in use; what is not in use flogs.
//
// Depowering with the wind forward is flattening and twisting: it leaves the
// parasitic drag as it is (Kerwin 1978), down to the lift fraction minF, below
// which the sails are let go and it fades too. What the tables have above the drag
// close-hauled is separation behind sails sheeted for the greatest force: eased,
// they lose it as they lose lift (assumption; Kerwin's reef factor R, force and
// drag both with R², says the same of sails made smaller). With the wind abaft the
// beam sails work by their drag, and are eased by showing less of them: then all
// of it falls as lift does.
func (s *sailData) forces(w *windState, f d3, cosPhi d3, power, factor, minF float64) (drive, side d3) {
	ax := w.tws*s.profile*w.cos + w.v
	ay := cosPhi.scale(w.tws * s.profile * w.sin)
	v2 := ay.sq().addc(ax*ax + 1e-9)
	beta := math.Atan2(ay.v, ax)
	// dβ = ax·d(ay)/v²
	db := ax / v2.v
	l, dl := s.clA.at(beta)
	d, dd := s.cdA.at(beta)
	k := power * factor
	clA := ay.chain(l*k, dl*db*k).mul(f)
	r, dr := s.keep.at(beta)
	hold := con(1)
	if u := 1 - f.v/minF; u > 0 {
		hold = f.chain(1-u*u, 2*u/minF)
	}
	flog := hold.scale(-power).addc(1).scale(floggingCD * s.area)
	kept := ay.chain(r, dr*db)
	parasitic := ay.chain(d, dd*db).sub(kept).mul(f).add(kept).scale(k)
	cdA := parasitic.mul(hold).add(flog).add(clA.sq().scale(s.induced / factor))
	// q·(sin β, cos β) = ½ρ·V·(ay, ax)
	qv := v2.sqrt().scale(0.5 * airDensity)
	qs, qc := qv.mul(ay), qv.scale(ax)
	drive = clA.mul(qs).sub(cdA.mul(qc))
	side = clA.mul(qc).add(cdA.mul(qs))
	return drive, side
}

// aftShare rises from 0 at 60° of apparent wind angle to 1 at 120°, smoothly.
func aftShare(awaRad float64) float64 {
	return smoothStep((awaRad - math.Pi/3) / (math.Pi / 3))
}

// apparentWind returns speed and angle of the apparent wind from true wind and
// boat speed, boat upright: AWS e^{iAWA} = TWS e^{iTWA} + V.
func apparentWind(twsMS, twaRad, vMS float64) (awsMS, awaRad float64) {
	x, y := twsMS*math.Cos(twaRad)+vMS, twsMS*math.Sin(twaRad)
	return math.Hypot(x, y), math.Atan2(y, x)
}

// trueWind is the inverse of apparentWind.
func trueWind(awsMS, awaRad, vMS float64) (twsMS, twaRad float64) {
	x, y := awsMS*math.Cos(awaRad)-vMS, awsMS*math.Sin(awaRad)
	return math.Hypot(x, y), math.Atan2(y, x)
}
