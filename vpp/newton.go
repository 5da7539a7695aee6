package vpp

import "math"

const (
	// residualTol is where Newton's method stops: unbalanced force over weight.
	// Published points are promised 1e-6.
	residualTol   = 1e-8
	maxIterations = 40
	// maxStuck is how often the line search may end in its smallest step before a start
	// is given up: another one is worth more. A quick solve has one.
	maxStuck = 4
	// hopelessDepower is how far past the heel limit the first unknown may go, in
	// rad: there the sails are eased to 0.1 % of their lift and the boat is still
	// overpowered, so these sails are no answer at this speed.
	hopelessDepower = 2.8
)

// quickNorm is the norm of the residuals (their squares) below which a quick
// solve takes its last step unseen: 10⁻⁴ of the weight, some 10⁻⁷ after it.
// roughNorm is that for one whose net force is then below what is of interest, by
// more than what the step may get wrong of it.
const (
	quickNorm = 1e-8
	roughNorm = 1e-5
	roughNet  = 0.005 // of the weight
)

// step limits of the unknowns, per iteration.
var stepLimit = [nUnknown]float64{0.20, 0.6, 0.05, 0.35}

// scale weighs the four residuals into one norm for the line search; a moment of
// weight × 1 m is as serious as a force of the weight.
func norm(r *[nUnknown]float64) float64 {
	return r[0]*r[0] + r[1]*r[1] + r[2]*r[2]*0.04 + r[3]*r[3]
}

// solve runs damped Newton from x, which it updates, and leaves the balance at
// the solution in out. It returns the number of evaluations, and whether it
// converged. It allocates nothing.
func (t *task) solve(x *[nUnknown]float64, out *balance) (evaluations int, ok bool) {
	return t.newton(x, out, false)
}

// newton is solve; bold takes every step as it comes, which gets out of hollows
// of the residual where the careful line search sits down.
func (t *task) newton(x *[nUnknown]float64, out *balance, bold bool) (evaluations int, ok bool) {
	t.evaluate(x, out, nil)
	evaluations = 1
	n := norm(&out.res)
	var try balance
	limit, hard := maxIterations, maxStuck
	if t.quick && !t.must {
		limit, hard = 10, 1
	}
	stuck := 0
	for range limit {
		if x[iHeel] > t.m.boat.Limits.MaxHeelRad+hopelessDepower {
			return evaluations, false
		}
		if converged(&out.res) {
			return evaluations, true
		}
		d, regular := linSolve(&out.jac, &out.res)
		if !regular {
			return evaluations, false
		}
		k := 1.0
		for i := range d {
			lim := stepLimit[i]
			switch {
			case i == iLeeway:
				lim += 0.5 * math.Abs(x[i])
			case i == iHeel && x[i] > t.m.boat.Limits.MaxHeelRad:
				lim = 0.5
			}
			if a := math.Abs(d[i]); a*k > lim {
				k = lim / a
			}
		}
		if t.quick && k == 1 && n < roughNorm {
			// The step squares the residual: take it, and the net force with it,
			// without looking.
			net := out.net
			for i := range d {
				net -= out.dnt[i] * d[i]
			}
			if n < quickNorm || net < t.least-roughNet*t.m.hull.w0 {
				for i := range x {
					x[i] -= d[i]
				}
				out.net = net
				return evaluations, true
			}
		}
		if stuck == hard {
			return evaluations, false
		}
		best := math.Inf(1)
		var bestX [nUnknown]float64
		for half := 0; ; half++ {
			var y [nUnknown]float64
			for i := range y {
				y[i] = x[i] - k*d[i]
			}
			t.evaluate(&y, &try, nil)
			evaluations++
			tn := norm(&try.res)
			if tn < best {
				best, bestX = tn, y
			}
			if tn < n*(1-0.1*k) || half == 5 || bold && tn < 1e6 {
				if half == 5 && best != tn && !bold {
					y = bestX
					t.evaluate(&y, &try, nil)
					evaluations++
					tn = norm(&try.res)
				}
				if half == 5 {
					stuck++
				}
				*x, *out, n = y, try, tn
				break
			}
			k *= 0.5
		}
		if math.IsNaN(n) {
			return evaluations, false
		}
	}
	return evaluations, converged(&out.res)
}

func converged(r *[nUnknown]float64) bool {
	for _, v := range r {
		if !(math.Abs(v) <= residualTol) {
			return false
		}
	}
	return true
}

// linSolve solves a x = b by Gaussian elimination with partial pivoting.
func linSolve(a *[nUnknown][nUnknown]float64, b *[nUnknown]float64) (x [nUnknown]float64, ok bool) {
	m := *a
	x = *b
	for c := range nUnknown {
		p := c
		for r := c + 1; r < nUnknown; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[p][c]) {
				p = r
			}
		}
		if !(math.Abs(m[p][c]) > 1e-14) {
			return x, false
		}
		m[c], m[p] = m[p], m[c]
		x[c], x[p] = x[p], x[c]
		i := 1 / m[c][c]
		for r := c + 1; r < nUnknown; r++ {
			f := m[r][c] * i
			if f == 0 {
				continue
			}
			for k := c + 1; k < nUnknown; k++ {
				m[r][k] -= f * m[c][k]
			}
			x[r] -= f * x[c]
		}
	}
	for c := nUnknown - 1; c >= 0; c-- {
		s := x[c]
		for k := c + 1; k < nUnknown; k++ {
			s -= m[c][k] * x[k]
		}
		x[c] = s / m[c][c]
	}
	return x, true
}
