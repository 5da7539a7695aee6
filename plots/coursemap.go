package plots

// Front is a line of equal time: where a boat that leaves with the plan can be
// at one moment at the furthest.
type Front struct {
	Label    string    // "9 Apr 12:00"
	Baseline bool      // of the first baseline; otherwise with foils
	Parts    [][]Place // pieces of the line
}

var (
	strokeFront     = stroke{col: tintPlan, width: 0.8}
	strokeFrontBase = stroke{col: tintBase, width: 0.8, dashes: []float64{3, 2.5}}
)

// drawFronts draws the lines of equal time below the tracks, and returns what
// names them once everything else has its place.
func drawFronts(s *sheet, v mapView, fronts []Front) (name func()) {
	type named struct {
		label string
		spots []spot
	}
	var names []named
	for _, f := range fronts {
		look := strokeFront
		if f.Baseline {
			look = strokeFrontBase
		}
		var spots []spot
		for _, part := range f.Parts {
			var ps []pt
			for _, p := range part {
				ps = append(ps, v.at(p.LonDeg, p.LatDeg))
			}
			s.clippedLine(look, v.box, ps...)
			for _, q := range []pt{ps[0], ps[len(ps)-1], ps[len(ps)/4], ps[3*len(ps)/4]} {
				spots = append(spots, spot{q.x, q.y, centre, bottom}, spot{q.x, q.y, centre, top})
			}
		}
		if !f.Baseline {
			names = append(names, named{f.Label, spots})
		}
	}
	return func() {
		for _, n := range names {
			s.label(letSmall.in(tintPlan), n.label, v.box.grown(-2), n.spots...)
		}
	}
}

// frontKey explains the lines of equal time, right of x.
func frontKey(s *sheet, x, y float64) {
	for _, k := range []struct {
		look  stroke
		words string
	}{{strokeFront, "equal time, foils"}, {strokeFrontBase, "baseline"}} {
		s.line(k.look, pt{x, y - 4}, pt{x + 16, y - 4})
		x = s.text(letSmall, x+20, y, k.words, left, top).x1 + 12
	}
}
