package refit

import (
	"fmt"
	"math"

	"foilledger/vpp"
	"foilledger/vpp/units"
)

// GrowthRule says how what a foil weighs and what it bears grow with its size,
// when a variant does not give them: the mass in proportion to area to the power
// MassArea and to span to the power MassSpan, the limit of its load in
// proportion to area to the power LoadArea.
//
// The default is a foil built for the same load on each square metre. Its mass
// follows the weight equation of a transport wing (D. P. Raymer,
// "Aircraft Design: A Conceptual Approach", statistical group weights, from
// memory: weight ∝ (design weight × load factor)^0.557 × area^0.649 × aspect
// ratio^0.5 × control area^0.1) with the load and the control area in
// proportion to the area: area^1.306 × (span²/area)^0.5 = area^0.806 × span.
// A power of 0 leaves what it is about as it is.
type GrowthRule struct{ MassArea, MassSpan, LoadArea float64 }

// DefaultGrowth is Raymer's, at the same load on each square metre.
var DefaultGrowth = GrowthRule{MassArea: 0.806, MassSpan: 1, LoadArea: 1}

// MassKg is the mass of a foil of another size.
func (g GrowthRule) MassKg(baseKg, areaRatio, spanRatio float64) float64 {
	return baseKg * math.Pow(areaRatio, g.MassArea) * math.Pow(spanRatio, g.MassSpan)
}

// ratio is how many times as large a variant makes a key of the boat file that
// was was.
func (v *Variant) ratio(key string, was float64) float64 {
	if x, ok := v.value(key); ok && x > 0 && was > 0 {
		return x / was
	}
	return 1
}

// strengthen lets the limit of the foils' load follow their area, unless the
// variant gives it.
func (v *Variant) strengthen(doc map[string]any, base *vpp.Boat, rule GrowthRule) {
	limits, ok := doc["limits"].(map[string]any)
	grown := math.Pow(v.ratio("foils.area_m2", base.Foils.AreaM2), rule.LoadArea)
	if ok && grown != 1 && !v.has("limits.max_foil_load_tf") {
		limits["max_foil_load_tf"] = round9(units.TonnesForce(base.Limits.MaxFoilLoadN) * grown)
	}
}

// weigh sets the foils' mass of a variant and carries the difference into
// displacement, draft, freeboard and stability, except for those that the
// variant gives itself.
//
// The mass of the pair sits at the foils' roots. The hull sinks by the added
// volume over the waterplane, whose second moment stays; with the height of the
// centre of buoyancy above the keel by Morrish's rule, 5/6 T − V/(3 A)
// (A. Morrish, 1892; from memory), the metacentre and the centre of gravity
// follow from sums of moments. Heights in the file are above the waterline, so
// that all that stays with the hull comes down by the sinkage.
func (v *Variant) weigh(doc map[string]any, base *vpp.Boat, rule GrowthRule) error {
	foils, ok := doc["foils"].(map[string]any)
	if !ok {
		return nil
	}
	f := base.Foils
	massKg, ok := v.value("foils.mass_kg")
	if !ok {
		massKg = rule.MassKg(f.MassKg, v.ratio("foils.area_m2", f.AreaM2), v.ratio("foils.span_m", f.SpanM))
		if massKg != f.MassKg {
			massKg = math.Round(massKg*10) / 10
			foils["mass_kg"] = massKg
		}
	}
	added := 2 * (massKg - f.MassKg)
	if added == 0 {
		return nil
	}
	hull, ok := doc["hull"].(map[string]any)
	if !ok {
		return fmt.Errorf("the boat file has no hull")
	}
	h := &base.Hull
	w := h.DisplacementKg
	vol := w / vpp.WaterDensity
	volNew := (w + added) / vpp.WaterDensity
	sink := added / vpp.WaterDensity / h.WaterplaneAreaM2
	// Heights above the old waterline.
	buoyancy := func(draft, vol float64) float64 { // above the keel
		return 5.0/6*draft - vol/(3*h.WaterplaneAreaM2)
	}
	zb := buoyancy(h.DraftM, vol) - h.DraftM
	zm := h.CGHeightM + h.GMM
	bm := zm - zb
	draftNew := h.DraftM + sink
	zbNew := buoyancy(draftNew, volNew) - h.DraftM
	zmNew := zbNew + bm*vol/volNew
	cgNew := (w*h.CGHeightM + added*f.RootZM) / (w + added)
	put := func(key string, x float64) {
		if !v.has("hull." + key) {
			hull[key] = x
		}
	}
	put("displacement_kg", w+added)
	put("draft_m", draftNew)
	put("bow_freeboard_m", h.BowFreeboardM-sink)
	put("cg_height_m", cgNew-sink)
	put("metacentric_height_m", zmNew-cgNew)
	if !v.has("foils.root_z_m") {
		foils["root_z_m"] = f.RootZM - sink
	}
	return nil
}
