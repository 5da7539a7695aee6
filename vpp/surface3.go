package vpp

// surface3 interpolates a quantity over sea, wind speed and wind angle: a
// monotone cubic (see curve) along each axis, blended as Hermite patches without
// twist. It passes through its points, has continuous slopes, and along any grid
// line stays between the neighbouring values.
type surface3 struct {
	hs, tws, twa *axis
	// For each (sea, wind speed, angle): value and its slopes per interval unit
	// along angle and wind speed; then the same for the slope along the sea.
	c []patch
}

type patch struct{ f, fa, fw, s, sa, sw float64 }

func (u *surface3) index(h, w, a int) int {
	return (h*len(u.tws.x)+w)*len(u.twa.x) + a
}

// newSurface3 makes the surface through values, ordered sea, wind speed, angle.
func newSurface3(hs, tws, twa *axis, values []float64) *surface3 {
	u := &surface3{hs: hs, tws: tws, twa: twa, c: make([]patch, len(values))}
	nh, nw, na := len(hs.x), len(tws.x), len(twa.x)
	for i, v := range values {
		u.c[i].f = v
	}
	line := func(ax *axis, n int, at func(i int) int, get func(p *patch) float64, set func(p *patch, m float64)) {
		if n < 2 {
			return
		}
		y, m := make([]float64, n), make([]float64, n)
		for i := range n {
			y[i] = get(&u.c[at(i)])
		}
		slopes(ax.x, y, m)
		for i := range n {
			set(&u.c[at(i)], m[i])
		}
	}
	value := func(p *patch) float64 { return p.f }
	seaSlope := func(p *patch) float64 { return p.s }
	for w := range nw {
		for a := range na {
			line(hs, nh, func(i int) int { return u.index(i, w, a) }, value, func(p *patch, m float64) { p.s = m })
		}
	}
	for h := range nh {
		for w := range nw {
			at := func(i int) int { return u.index(h, w, i) }
			line(twa, na, at, value, func(p *patch, m float64) { p.fa = m })
			line(twa, na, at, seaSlope, func(p *patch, m float64) { p.sa = m })
		}
		for a := range na {
			at := func(i int) int { return u.index(h, i, a) }
			line(tws, nw, at, value, func(p *patch, m float64) { p.fw = m })
			line(tws, nw, at, seaSlope, func(p *patch, m float64) { p.sw = m })
		}
	}
	return u
}

// spot is a place on the three axes.
type spot struct {
	h, w, a    int
	th, tw, ta float64
	in         bool
}

func (u *surface3) spot(hs, tws, twa float64) spot {
	var s spot
	var i1, i2, i3 bool
	s.h, s.th, i1 = u.hs.find(hs)
	s.w, s.tw, i2 = u.tws.find(tws)
	s.a, s.ta, i3 = u.twa.find(twa)
	s.in = i1 && i2 && i3
	return s
}

func (u *surface3) at(s *spot) float64 {
	na := len(u.twa.x)
	dw := u.tws.x[s.w+1] - u.tws.x[s.w]
	da := u.twa.x[s.a+1] - u.twa.x[s.a]
	// Hermite weights along wind speed and angle.
	w0, w1, v0, v1 := hermiteWeights(s.tw)
	a0, a1, b0, b1 := hermiteWeights(s.ta)
	v0, v1, b0, b1 = v0*dw, v1*dw, b0*da, b1*da
	i := u.index(s.h, s.w, s.a)
	p := u.c[i : i+na+2]
	p00, p01, p10, p11 := &p[0], &p[1], &p[na], &p[na+1]
	f := w0*(a0*p00.f+a1*p01.f+b0*p00.fa+b1*p01.fa) + w1*(a0*p10.f+a1*p11.f+b0*p10.fa+b1*p11.fa) +
		v0*(a0*p00.fw+a1*p01.fw) + v1*(a0*p10.fw+a1*p11.fw)
	if s.th == 0 || len(u.hs.x) < 2 {
		return f
	}
	sl := w0*(a0*p00.s+a1*p01.s+b0*p00.sa+b1*p01.sa) + w1*(a0*p10.s+a1*p11.s+b0*p10.sa+b1*p11.sa) +
		v0*(a0*p00.sw+a1*p01.sw) + v1*(a0*p10.sw+a1*p11.sw)
	i += len(u.tws.x) * na
	p = u.c[i : i+na+2]
	p00, p01, p10, p11 = &p[0], &p[1], &p[na], &p[na+1]
	g := w0*(a0*p00.f+a1*p01.f+b0*p00.fa+b1*p01.fa) + w1*(a0*p10.f+a1*p11.f+b0*p10.fa+b1*p11.fa) +
		v0*(a0*p00.fw+a1*p01.fw) + v1*(a0*p10.fw+a1*p11.fw)
	gl := w0*(a0*p00.s+a1*p01.s+b0*p00.sa+b1*p01.sa) + w1*(a0*p10.s+a1*p11.s+b0*p10.sa+b1*p11.sa) +
		v0*(a0*p00.sw+a1*p01.sw) + v1*(a0*p10.sw+a1*p11.sw)
	h0, h1, k0, k1 := hermiteWeights(s.th)
	dh := u.hs.x[s.h+1] - u.hs.x[s.h]
	return h0*f + h1*g + dh*(k0*sl+k1*gl)
}

// hermiteWeights are the cubic Hermite weights of the two values and the two
// slopes at t.
func hermiteWeights(t float64) (f0, f1, m0, m1 float64) {
	u := 1 - t
	f1 = t * t * (3 - 2*t)
	return 1 - f1, f1, t * u * u, -t * t * u
}
