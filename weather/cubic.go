package weather

// cubic interpolates one number in space by the Catmull-Rom spline (E. Catmull
// and R. Rom, "A class of local interpolating splines", 1974) applied along
// rows and then across them: it passes through the nodes and its slope is
// continuous, so that the wind round a low is not cut into facets. A node that
// the stencil needs beyond an edge or a mask is continued in a straight line
// from the two nearest, which makes the spline linear towards open edges; along
// the coast the slope may therefore break from cell to cell.
func (f *frame) cubic(l *locus, at int) float64 {
	rowLen := f.shape.NLon * f.stride
	i := [4]int{l.i0 - 1, l.i0, l.i1, l.i1 + 1}
	if f.global {
		if i[0] < 0 {
			i[0] = f.shape.NLon - 1
		}
		if i[3] >= f.shape.NLon {
			i[3] = 0
		}
	}
	row := func(j int) float64 {
		r := at + j*rowLen
		b, c := float64(f.data[r+i[1]*f.stride]), float64(f.data[r+i[2]*f.stride])
		a, d := 2*b-c, 2*c-b
		if i[0] >= 0 {
			if v := float64(f.data[r+i[0]*f.stride]); v == v {
				a = v
			}
		}
		if i[3] < f.shape.NLon {
			if v := float64(f.data[r+i[3]*f.stride]); v == v {
				d = v
			}
		}
		return catmullRom(a, b, c, d, l.wx)
	}
	b, c := row(l.j0), row(l.j1)
	a, d := 2*b-c, 2*c-b
	if l.j0 > 0 {
		if v := row(l.j0 - 1); v == v {
			a = v
		}
	}
	if l.j1 < f.shape.NLat-1 {
		if v := row(l.j1 + 1); v == v {
			d = v
		}
	}
	return catmullRom(a, b, c, d, l.wy)
}

// catmullRom is the cubic through b (w = 0) and c (w = 1) with slopes (c−a)/2
// and (d−b)/2.
func catmullRom(a, b, c, d, w float64) float64 {
	return b + 0.5*w*(c-a+w*(2*a-5*b+4*c-d+w*(3*(b-c)+d-a)))
}
