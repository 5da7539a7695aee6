package weather

import (
	"fmt"
	"math"
	"time"

	"foilledger/weather/grid"
)

// unstagger brings v onto the places of u where a model gives the two half a
// cell apart (an Arakawa C grid: A. Arakawa and V. R. Lamb, "Computational
// design of the basic dynamical processes of the UCLA general circulation
// model", 1977). Elsewhere items are returned as they are.
func unstagger(items []item) (out []item, warnings []string) {
	type key struct {
		q          grid.Quantity
		valid, ref int64
	}
	partner := map[grid.Quantity]grid.Quantity{grid.WindV: grid.WindU, grid.CurrentV: grid.CurrentU}
	us := map[key][]grid.Shape{}
	for _, it := range items {
		if it.Quantity == grid.WindU || it.Quantity == grid.CurrentU {
			k := key{it.Quantity, it.Valid.Unix(), it.Reference.Unix()}
			us[k] = append(us[k], it.Shape)
		}
	}
	moved := map[grid.Quantity][]time.Time{}
	out = items
	copied := false
	for n, it := range items {
		pu, ok := partner[it.Quantity]
		if !ok {
			continue
		}
		var target *grid.Shape
		for _, s := range us[key{pu, it.Valid.Unix(), it.Reference.Unix()}] {
			if sameShape(s, it.Shape) {
				target = nil
				break
			}
			if target == nil && apart(s, it.Shape) {
				target = &s
			}
		}
		if target == nil {
			continue
		}
		if !copied {
			out, copied = append([]item(nil), items...), true
		}
		f := *it.Field
		f.Shape, f.Values = *target, resample(it.Field, *target)
		out[n].Field = &f
		moved[it.Quantity] = append(moved[it.Quantity], it.Valid)
	}
	for _, q := range []grid.Quantity{grid.WindV, grid.CurrentV} {
		if ts := moved[q]; len(ts) > 0 {
			warnings = append(warnings, fmt.Sprintf("%v stands between the places of %v at %d steps: interpolated to them", q, partner[q], len(ts)))
		}
	}
	return out, warnings
}

// apart reports whether two grids of the same steps lie less than a cell apart.
func apart(a, b grid.Shape) bool {
	return a.NLat > 1 && a.NLon > 1 && b.NLat > 1 && b.NLon > 1 &&
		math.Abs(a.DLat-b.DLat) < 0.01*a.DLat && math.Abs(a.DLon-b.DLon) < 0.01*a.DLon &&
		math.Abs(a.South-b.South) < 0.999*a.DLat && math.Abs(wrap180(a.West-b.West)) < 0.999*a.DLon &&
		math.Abs(float64(a.NLat-b.NLat)) <= 1 && math.Abs(float64(a.NLon-b.NLon)) <= 1
}

// resample interpolates a field to other places, bilinearly; it is missing
// where the field is.
func resample(f *grid.Field, to grid.Shape) []float32 {
	fr := newFrame(f.Shape, []float64{0}, 1, 0)
	fr.put(0, 0, [][]float32{f.Values})
	fr.fillCoast(0, 1)
	out := make([]float32, to.NLat*to.NLon)
	for j := range to.NLat {
		for i := range to.NLon {
			var l locus
			v := math.NaN()
			// Places just beyond the edge take the value of the edge.
			lat := min(max(to.South+float64(j)*to.DLat, f.South), f.South+float64(f.NLat-1)*f.DLat)
			lon := to.West + float64(i)*to.DLon
			if !fr.global {
				if x := eastOf(f.West, lon); x > fr.eastDeg && x < fr.eastDeg+f.DLon {
					lon = f.West + fr.eastDeg
				} else if x > 360-f.DLon {
					lon = f.West
				}
			}
			if fr.locate(lon, lat, 0, true, &l) == 0 {
				v = fr.lerp1(&l, 0)
			}
			out[j*to.NLon+i] = float32(v)
		}
	}
	return out
}
