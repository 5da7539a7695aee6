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

// cubicPair is cubic for two numbers that stand together. Well inside the grid,
// and where no node of the stencil is missing, it is one weighted sum.
func (f *frame) cubicPair(l *locus, at int) (u, v float64) {
	if l.i0 > 0 && l.i1 == l.i0+1 && l.i1 < f.shape.NLon-1 && l.j0 > 0 && l.j1 == l.j0+1 && l.j1 < f.shape.NLat-1 {
		x0, x1, x2, x3 := catmullRomWeights(l.wx)
		y0, y1, y2, y3 := catmullRomWeights(l.wy)
		s := f.stride
		row := s * f.shape.NLon
		r := at + (l.j0-1)*row + (l.i0-1)*s
		for _, y := range [4]float64{y0, y1, y2, y3} {
			d := f.data[r : r+3*s+2 : r+3*s+2]
			u += y * ((x0*float64(d[0]) + x1*float64(d[s])) + (x2*float64(d[2*s]) + x3*float64(d[3*s])))
			v += y * ((x0*float64(d[1]) + x1*float64(d[s+1])) + (x2*float64(d[2*s+1]) + x3*float64(d[3*s+1])))
			r += row
		}
		if u == u && v == v {
			return u, v
		}
	}
	return f.cubic(l, at), f.cubic(l, at+1)
}

// catmullRomWeights are the weights of the four nodes at w.
func catmullRomWeights(w float64) (a, b, c, d float64) {
	w2 := w * w
	w3 := w2 * w
	return w2 - 0.5*(w+w3), 1 - 2.5*w2 + 1.5*w3, 0.5*w + 2*w2 - 1.5*w3, 0.5 * (w3 - w2)
}

// catmullRom is the cubic through b (w = 0) and c (w = 1) with slopes (c−a)/2
// and (d−b)/2.
func catmullRom(a, b, c, d, w float64) float64 {
	return b + 0.5*w*(c-a+w*(2*a-5*b+4*c-d+w*(3*(b-c)+d-a)))
}
