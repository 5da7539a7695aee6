package refit

import (
	"fmt"
	"math"

	"foilledger/vpp"
)

// MassRule says how the mass of a foil grows with its size when a variant does
// not give it: in proportion to area to the power Area and to span to the power
// Span.
//
// The default follows the weight equation of a transport wing (D. P. Raymer,
// "Aircraft Design: A Conceptual Approach", statistical group weights, from
// memory: weight ∝ (design weight × load factor)^0.557 × area^0.649 × aspect
// ratio^0.5 × control area^0.1) with the load and the control area in
// proportion to the area: area^1.306 × (span²/area)^0.5 = area^0.806 × span.
// Set both to 0 for a mass that stays.
type MassRule struct{ Area, Span float64 }

// DefaultMassRule is Raymer's.
var DefaultMassRule = MassRule{Area: 0.806, Span: 1}

// MassKg is the mass of a foil of another size.
func (m MassRule) MassKg(baseKg, areaRatio, spanRatio float64) float64 {
	return baseKg * math.Pow(areaRatio, m.Area) * math.Pow(spanRatio, m.Span)
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
func (v *Variant) weigh(doc map[string]any, base *vpp.Boat, rule MassRule) error {
	foils, ok := doc["foils"].(map[string]any)
	if !ok {
		return nil
	}
	f := base.Foils
	massKg, ok := v.value("foils.mass_kg")
	if !ok {
		ratio := func(key string, was float64) float64 {
			if x, ok := v.value(key); ok && x > 0 {
				return x / was
			}
			return 1
		}
		massKg = rule.MassKg(f.MassKg, ratio("foils.area_m2", f.AreaM2), ratio("foils.span_m", f.SpanM))
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
