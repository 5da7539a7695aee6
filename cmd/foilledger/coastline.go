package main

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"

	"foilledger/plots"
	"foilledger/route/coast"
	"foilledger/vpp/units"
)

// coastline is the land inside a map's extent, as closed outlines: the finer
// data for maps up to some 600 nautical miles wide. Outlines are thinned to
// what a map of that width can show.
func coastline(e plots.Extent) [][]plots.Place {
	var out [][]plots.Place
	for _, c := range landRings(e) {
		ps := make([]plots.Place, 0, len(c))
		for _, p := range c {
			ps = append(ps, plots.Place{LonDeg: units.Wrap180(math.Round(p[0]*1e4) / 1e4), LatDeg: math.Round(p[1]*1e4) / 1e4})
		}
		out = append(out, ps)
	}
	return out
}

// landRings are the outlines without their repeated last place, longitudes
// continuous and in the range of the extent.
func landRings(e plots.Extent) []orb.Ring {
	width := e.EastDeg - e.WestDeg
	land := coast.Coarse
	if width < 12 {
		land = coast.Fine
	}
	pad := 0.02 * width
	tol := width / 1500 // about half a dot of a map 750 dots wide
	var out []orb.Ring
	for _, r := range land().Polygons(e.WestDeg-pad, e.SouthDeg-pad, e.EastDeg+pad, e.NorthDeg+pad) {
		c := simplify.DouglasPeucker(tol).Ring(r)
		if len(c) < 4 || area(c) < 4*tol*tol {
			continue
		}
		out = append(out, c[:len(c)-1])
	}
	return out
}

// area is the area of a ring in square degrees.
func area(r orb.Ring) float64 {
	sum := 0.0
	for i := range r[:len(r)-1] {
		sum += r[i][0]*r[i+1][1] - r[i+1][0]*r[i][1]
	}
	return math.Abs(sum) / 2
}
