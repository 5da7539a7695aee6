package route

import (
	"math"

	"foilledger/vpp/units"

	"github.com/paulmach/orb"
)

// Inverse is the inverse problem on e; see the function Inverse. The azimuth
// at the start is found by Newton's method on the longitude that it leads to,
// Karney (2013) section 4, kept inside a bracket that bisection shrinks, so
// that nearly antipodal pairs converge too. Between antipodal points one of
// the equally short geodesics is returned.
func (e *Ellipsoid) Inverse(a, b orb.Point) (distM, azAtARad, azAtBRad float64) {
	if !finite(a[0], a[1], b[0], b[1]) || math.Abs(a[1]) > 90 || math.Abs(b[1]) > 90 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	if a == b {
		return 0, 0, 0
	}
	// Canonical placing by the three symmetries of the ellipsoid:
	// 0 ≤ λ12 ≤ π, β1 ≤ 0, |β1| ≥ |β2|.
	lon12 := units.Wrap180(b[0] - a[0])
	sinSign, cosSign := 1.0, 1.0
	if lon12 < 0 {
		sinSign, lon12 = -1, -lon12
	}
	lat1, lat2 := a[1], b[1]
	swap := math.Abs(lat1) < math.Abs(lat2)
	if swap { // solve the way back; its azimuths reverse both signs, its λ12 one
		lat1, lat2 = lat2, lat1
		cosSign = -1
	}
	if lat1 > 0 {
		cosSign = -cosSign
		lat1, lat2 = -lat1, -lat2
	}
	pr := inversePair{e: e}
	s12 := pr.solve(lat1, lat2, lon12)
	s1, c1, s2, c2 := pr.salp1, pr.calp1, pr.salp2, pr.calp2
	if swap {
		s1, c1, s2, c2 = s2, c2, s1, c1
	}
	return s12, azimuth(sinSign*s1, cosSign*c1), azimuth(sinSign*s2, cosSign*c2)
}

// inversePair is one inverse problem in canonical placing.
type inversePair struct {
	e                          *Ellipsoid
	sbet1, cbet1, sbet2, cbet2 float64
	dn1, dn2                   float64
	slam, clam                 float64 // of the wanted longitude difference
	salp1, calp1, salp2, calp2 float64
	// left by lambda
	sig12, ssig1, csig1, ssig2, csig2, eps float64
}

const (
	maxNewton = 100
	machEps   = 0x1p-52
)

func (p *inversePair) solve(lat1, lat2, lon12 float64) float64 {
	e := p.e
	// Below a picometre from the equator squares would underflow.
	if math.Abs(lat1) < 1e-17 {
		lat1 = 0
	}
	if math.Abs(lat2) < 1e-17 {
		lat2 = 0
	}
	p.sbet1, p.cbet1 = e.reduced(lat1)
	p.sbet2, p.cbet2 = e.reduced(lat2)
	p.dn1 = math.Sqrt(1 + e.ep2*p.sbet1*p.sbet1)
	p.dn2 = math.Sqrt(1 + e.ep2*p.sbet2*p.sbet2)
	p.slam, p.clam = sincosDeg(lon12)
	lam := units.Rad(lon12)
	p.salp1, p.calp1, p.salp2, p.calp2 = 0, 1, 0, 1

	if lat1 == -90 || p.slam == 0 {
		// Along a meridian, unless that is no longer the shortest.
		p.salp1, p.calp1 = p.slam, p.clam
		p.salp2, p.calp2 = 0, 1
		p.ssig1, p.csig1 = norm2(p.sbet1, p.calp1*p.cbet1)
		p.ssig2, p.csig2 = norm2(p.sbet2, p.cbet2)
		p.setSigma()
		p.eps = e.n
		s, m := p.lengths()
		if p.sig12 < 1 || m >= 0 {
			return s * e.b
		}
	}
	if p.sbet1 == 0 && lon12 <= 180*(1-e.f) { // along the equator
		p.salp1, p.calp1, p.salp2, p.calp2 = 1, 0, 1, 0
		return e.a * lam
	}
	if s, ok := p.start(lam); ok {
		return s
	}
	p.newton()
	s, _ := p.lengths()
	return s * e.b
}

// start sets the first azimuth from the auxiliary sphere, Karney (2013)
// eqs (48) to (51). Lines below about 0.2 m are finished here, because there
// the sphere is exact to rounding.
func (p *inversePair) start(lam float64) (float64, bool) {
	e := p.e
	sbet12 := p.sbet2*p.cbet1 - p.cbet2*p.sbet1
	cbet12 := p.cbet2*p.cbet1 + p.sbet2*p.sbet1
	short := cbet12 >= 0 && sbet12 < 0.5 && p.cbet2*lam < 0.5
	bs, bc := p.sbet1+p.sbet2, p.cbet1+p.cbet2
	dnm := math.Sqrt(1 + e.ep2*bs*bs/(bs*bs+bc*bc))
	omg := lam / math.Sqrt(1-e.e2*bc*bc/4)
	if short {
		omg = lam / ((1 - e.f) * dnm)
	}
	if omg >= math.Pi { // beyond the antipode of the sphere
		p.salp1, p.calp1 = 1, 0
		return 0, false
	}
	somg, comg := math.Sincos(omg)
	salp := p.cbet2 * somg
	var calp float64
	if comg >= 0 {
		calp = sbet12 + p.cbet2*p.sbet1*somg*somg/(1+comg)
	} else {
		calp = p.sbet2*p.cbet1 + p.cbet2*p.sbet1 - p.cbet2*p.sbet1*somg*somg/(1-comg)
	}
	ssig := math.Hypot(salp, calp)
	csig := p.sbet1*p.sbet2 + p.cbet1*p.cbet2*comg
	if short && ssig < 3e-8 {
		p.salp1, p.calp1 = norm2(salp, calp)
		t := somg * somg / (1 + comg)
		p.salp2, p.calp2 = norm2(p.cbet1*somg, sbet12-p.cbet1*p.sbet2*t)
		return math.Atan2(ssig, csig) * e.b * dnm, true
	}
	if !(salp > 0) {
		p.salp1, p.calp1 = 1, 0
	} else {
		p.salp1, p.calp1 = norm2(salp, calp)
	}
	return 0, false
}

// newton turns the azimuth until the longitude fits.
func (p *inversePair) newton() {
	loS, loC := tiny, 1.0  // leads to too small a longitude
	hiS, hiC := tiny, -1.0 // leads to too large a longitude
	best := math.Inf(1)
	for range maxNewton {
		v, dv := p.lambda()
		if v > 0 {
			hiS, hiC = p.salp1, p.calp1
		} else {
			loS, loC = p.salp1, p.calp1
		}
		av := math.Abs(v)
		if av <= machEps || (av < 1e-13 && av >= best) {
			return
		}
		best = math.Min(best, av)
		if d := -v / dv; dv > 0 && math.Abs(d) < math.Pi {
			sd, cd := math.Sincos(d)
			ns, nc := norm2(p.salp1*cd+p.calp1*sd, p.calp1*cd-p.salp1*sd)
			// Inside the bracket: cot lo > cot new > cot hi.
			if ns > 0 && (nc*loS < loC*ns) && (nc*hiS > hiC*ns) {
				p.salp1, p.calp1 = ns, nc
				continue
			}
		}
		s, c := loS+hiS, loC+hiC
		if math.Hypot(s, c) < 1e-8 { // opposite directions: half-way is east
			s, c = 1, 0
		}
		s, c = norm2(s, c)
		if s == p.salp1 && c == p.calp1 {
			return
		}
		p.salp1, p.calp1 = s, c
	}
}

// lambda returns how far the geodesic that leaves at α1 overshoots the wanted
// longitude when it reaches the latitude of the second point, and the
// derivative by α1, Karney (2013) eq. (46).
func (p *inversePair) lambda() (v, dv float64) {
	e := p.e
	if p.sbet1 == 0 && p.calp1 == 0 {
		p.calp1 = -tiny
	}
	salp0 := p.salp1 * p.cbet1
	calp0 := math.Hypot(p.calp1, p.salp1*p.sbet1)
	somg1, comg1 := salp0*p.sbet1, p.calp1*p.cbet1
	p.ssig1, p.csig1 = norm2(p.sbet1, comg1)
	p.salp2, p.calp2 = p.salp1, math.Abs(p.calp1)
	if p.cbet2 != p.cbet1 {
		p.salp2 = salp0 / p.cbet2
	}
	if p.cbet2 != p.cbet1 || math.Abs(p.sbet2) != -p.sbet1 {
		d := (p.sbet1 - p.sbet2) * (p.sbet1 + p.sbet2)
		if p.cbet1 < -p.sbet1 {
			d = (p.cbet2 - p.cbet1) * (p.cbet1 + p.cbet2)
		}
		p.calp2 = math.Sqrt(math.Max(0, comg1*comg1+d)) / p.cbet2
	}
	somg2, comg2 := salp0*p.sbet2, p.calp2*p.cbet2
	p.ssig2, p.csig2 = norm2(p.sbet2, comg2)
	p.setSigma()
	somg := math.Max(0, comg1*somg2-somg1*comg2)
	comg := comg1*comg2 + somg1*somg2
	eta := math.Atan2(somg*p.clam-comg*p.slam, comg*p.clam+somg*p.slam)
	p.eps = epsilon(calp0 * calp0 * e.ep2)
	a3, c3 := e.series3(p.eps)
	b3 := sinSeries(p.ssig2, p.csig2, &c3) - sinSeries(p.ssig1, p.csig1, &c3)
	v = eta - e.f*a3*salp0*(p.sig12+b3)
	if p.calp2 == 0 {
		return v, -2 * (1 - e.f) * p.dn1 / p.sbet1
	}
	_, m := p.lengths()
	return v, m * (1 - e.f) / (p.calp2 * p.cbet2)
}

func (p *inversePair) setSigma() {
	p.sig12 = math.Atan2(math.Max(0, p.csig1*p.ssig2-p.ssig1*p.csig2), p.csig1*p.csig2+p.ssig1*p.ssig2)
}

// lengths returns the distance and the reduced length in units of the polar
// radius, Karney (2013) eqs (7), (15) and (40).
func (p *inversePair) lengths() (s12, m12 float64) {
	a1, a2 := 1+a1m1(p.eps), 1+a2m1(p.eps)
	k1, k2 := c1(p.eps), c2(p.eps)
	b1 := sinSeries(p.ssig2, p.csig2, &k1) - sinSeries(p.ssig1, p.csig1, &k1)
	b2 := sinSeries(p.ssig2, p.csig2, &k2) - sinSeries(p.ssig1, p.csig1, &k2)
	j := (a1-a2)*p.sig12 + (a1*b1 - a2*b2)
	s12 = a1 * (p.sig12 + b1)
	m12 = p.dn2*(p.csig1*p.ssig2) - p.dn1*(p.ssig1*p.csig2) - p.csig1*p.csig2*j
	return s12, m12
}
