package plots

import (
	"math"
)

// mercator is the stretched latitude of the Mercator projection on a sphere,
// in degrees of longitude at the equator. Beyond 85° it is held at 85°.
func mercator(latDeg float64) float64 {
	latDeg = math.Max(-85, math.Min(85, latDeg))
	return math.Log(math.Tan(math.Pi/4+latDeg*math.Pi/360)) * 180 / math.Pi
}

func unmercator(m float64) float64 {
	return (2*math.Atan(math.Exp(m*math.Pi/180)) - math.Pi/2) * 180 / math.Pi
}

// mapView maps places to a sheet.
type mapView struct {
	box
	west, east, south, north float64 // degrees; east may exceed 180
}

func (v mapView) at(lonDeg, latDeg float64) pt {
	// the copy of the longitude nearest the middle of the map
	mid := (v.west + v.east) / 2
	lon := mid + wrap180(lonDeg-mid)
	ms, mn := mercator(v.south), mercator(v.north)
	return pt{
		v.x0 + (lon-v.west)/(v.east-v.west)*v.w(),
		v.y0 + (mercator(latDeg)-ms)/(mn-ms)*v.h(),
	}
}

// extentOf fits the tracks of a report, or takes the extent given.
func extentOf(r *PassageReport) Extent {
	if r.Extent != nil {
		return *r.Extent
	}
	lon0 := r.Steps[0].LonDeg
	e := Extent{lon0, lon0, 90, -90}
	add := func(lonDeg, latDeg float64) {
		lon := lon0 + wrap180(lonDeg-lon0)
		e.WestDeg, e.EastDeg = math.Min(e.WestDeg, lon), math.Max(e.EastDeg, lon)
		e.SouthDeg, e.NorthDeg = math.Min(e.SouthDeg, latDeg), math.Max(e.NorthDeg, latDeg)
	}
	for _, p := range r.Steps {
		add(p.LonDeg, p.LatDeg)
	}
	for _, p := range r.Baselines[0].Steps {
		add(p.LonDeg, p.LatDeg)
	}
	pad := 0.07*math.Max(e.EastDeg-e.WestDeg, e.NorthDeg-e.SouthDeg) + 0.15
	e.WestDeg -= pad
	e.EastDeg += pad
	e.SouthDeg = math.Max(-84, e.SouthDeg-pad)
	e.NorthDeg = math.Min(84, e.NorthDeg+pad)
	return e
}

// MapExtent is the area that the maps of a report show, wide and narrow, for
// fitting a coast to them.
func MapExtent(r *PassageReport) Extent {
	e := extentOf(r)
	out := e
	for _, narrow := range []bool{false, true} {
		s := &sheet{box: box{0, 0, WideWidth, 0}, narrow: narrow}
		if narrow {
			s.box.x1 = NarrowWidth
		}
		x0, w, lo, hi := mapTop(s)
		v := fit(e, x0, 0, w, lo, hi)
		out.WestDeg, out.EastDeg = math.Min(out.WestDeg, v.west), math.Max(out.EastDeg, v.east)
		out.SouthDeg, out.NorthDeg = math.Min(out.SouthDeg, v.south), math.Max(out.NorthDeg, v.north)
	}
	return out
}

// fit makes a view of a width whose height suits the extent, within a share of
// the width, by widening the extent and never cutting it.
func fit(e Extent, x0, yTop, width, lowShare, highShare float64) mapView {
	dx := e.EastDeg - e.WestDeg
	ms, mn := mercator(e.SouthDeg), mercator(e.NorthDeg)
	share := math.Max(lowShare, math.Min(highShare, (mn-ms)/dx))
	h := share * width
	if want := (mn - ms) / share; want > dx { // too tall: widen
		e.WestDeg -= (want - dx) / 2
		e.EastDeg += (want - dx) / 2
	} else { // too flat: heighten
		add := (dx*share - (mn - ms)) / 2
		e.SouthDeg, e.NorthDeg = unmercator(ms-add), unmercator(mn+add)
	}
	return mapView{box{x0, yTop - h, x0 + width, yTop}, e.WestDeg, e.EastDeg, e.SouthDeg, e.NorthDeg}
}

func mapTop(s *sheet) (x0, width, lo, hi float64) {
	if s.narrow {
		return 36, s.box.w() - 36 - 8, 0.85, 1.25
	}
	return 44, s.box.w() - 44 - 12, 0.48, 0.66
}

// trackParts projects a track, and the parts of it with the leeward foil out.
func trackParts(v mapView, steps []Step) (all []pt, out [][]pt) {
	var cur []pt
	for _, p := range steps {
		q := v.at(p.LonDeg, p.LatDeg)
		all = append(all, q)
		if cur != nil {
			cur = append(cur, q)
		}
		ext, _ := p.leeward()
		switch {
		case ext > 0.01 && cur == nil:
			cur = []pt{q}
		case ext <= 0.01 && cur != nil:
			out = append(out, cur)
			cur = nil
		}
	}
	if len(cur) > 1 {
		out = append(out, cur)
	}
	return all, out
}

// apart reports whether two boats sail visibly different water.
func apart(a, b []Step) bool {
	for _, p := range a {
		best := math.Inf(1)
		for _, q := range b {
			dx := wrap180(p.LonDeg-q.LonDeg) * math.Cos(p.LatDeg*math.Pi/180)
			best = math.Min(best, math.Hypot(dx, p.LatDeg-q.LatDeg))
		}
		if best > 0.4 {
			return true
		}
	}
	return false
}
