package vpp

import (
	"bytes"
	"encoding/json"
	"math"
	"os/exec"
	"testing"
	"time"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"foilledger/testdata/validation"
	"foilledger/vpp/units"
)

// comparison is one steady state for which the five balances (four and the net
// force) are solved again by general-purpose solvers, with the sails, keel and
// ballast that the model chose.
type comparison struct {
	name  string
	m     *Model
	c     Condition
	f     FoilSetting
	p     Point
	at    choice
	x     [nUnknown]float64 // solution
	start [nUnknown + 1]float64
	speed speedState
	st    *setting
}

// comparisons are points over the three boats, from walking pace to flight.
func comparisons(t testing.TB) []*comparison {
	t.Helper()
	var l []*comparison
	for _, k := range []struct {
		boat               string
		tws, twa, hs       float64
		wave, ext, rakeDeg float64
	}{
		{"none", 6, 60, 0, 0, 0, 0},
		{"none", 12, 45, 1, 30, 0, 0},
		{"none", 16, 120, 0, 0, 0, 0},
		{"none", 20, 150, 2, 0, 0, 0},
		{"small", 10, 90, 0, 0, 1, 3},
		{"small", 16, 110, 0.5, 0, 1, 2},
		{"small", 14, 70, 1, 40, 1, 4},
		{"big", 9, 100, 0, 0, 0.5, 3},
		{"big", 16, 110, 0, 0, 0.75, 2},
		{"big", 18, 115, 0, 0, 1, 1},
	} {
		m := exampleBoat(t, k.boat)
		c := cond(k.tws, k.twa, k.hs)
		c.WaveFromBowRad = units.Rad(k.wave)
		q := &comparison{
			name: k.boat, m: m, c: c, f: FoilSetting{k.ext, units.Rad(k.rakeDeg)},
		}
		s := m.NewSolver()
		p, st := s.Solve(c, q.f, FoilSetting{})
		if st != Solved || !s.haveLast {
			t.Fatalf("%+v: %v, ruled by %q; the points compared are free of limits", k, st, p.RuledBy)
		}
		q.p, q.at, q.x, q.st = p, s.last.at, s.last.x, m.newSetting(q.f, FoilSetting{})
		q.speed.alloc()
		// All begin a few per cent away from the solution.
		q.start = [nUnknown + 1]float64{0.93*q.x[iHeel] + 0.005, 1.05 * q.x[iLeeway], q.x[iTrim] + 0.003, 0.96 * q.x[iLoad], 0.96 * p.BSPMS}
		l = append(l, q)
	}
	return l
}

// residuals of the five balances, over the weight.
func (q *comparison) residuals(dst, y []float64) {
	v := max(y[nUnknown], 0.3)
	q.m.prepare(&q.speed, q.st, &q.c, v)
	t := task{m: q.m, sp: &q.speed, st: q.st, sail: q.m.sails[q.at.sail], rs: &q.m.righting[q.at.rung], power: 1, side: 1}
	var b balance
	t.evaluate((*[nUnknown]float64)(y[:nUnknown]), &b, nil)
	copy(dst, b.res[:])
	dst[nUnknown] = b.net / t.weight()
}

// solveGonum finds the zero of the residuals with gonum's optimiser: least
// squares by BFGS with numerical derivatives.
func (q *comparison) solveGonum() (v float64, evaluations int, err error) {
	scale := [nUnknown + 1]float64{0.1, 0.05, 0.02, 0.2, 2}
	r := make([]float64, nUnknown+1)
	y := make([]float64, nUnknown+1)
	sum := func(z []float64) float64 {
		for i := range y {
			y[i] = q.start[i] + scale[i]*z[i]
		}
		evaluations++
		q.residuals(r, y)
		s := 0.0
		for _, e := range r {
			s += e * e
		}
		return 1e6 * s
	}
	res, err := optimize.Minimize(optimize.Problem{
		Func: sum,
		Grad: func(g, z []float64) { fd.Gradient(g, sum, z, &fd.Settings{Formula: fd.Central, Step: 1e-5}) },
	}, make([]float64, nUnknown+1), &optimize.Settings{GradientThreshold: 1e-7, MajorIterations: 400, FuncEvaluations: 20000,
		Converger: &optimize.FunctionConverge{Absolute: 1e-16, Iterations: 60}}, &optimize.BFGS{})
	if res == nil {
		return math.NaN(), evaluations, err
	}
	return q.start[nUnknown] + scale[nUnknown]*res.X[nUnknown], evaluations, nil
}

// solveNewton finds it with a general Newton method: gonum's numerical Jacobian
// and linear solver.
func (q *comparison) solveNewton() (v float64, ok bool) {
	y := append([]float64(nil), q.start[:]...)
	r := make([]float64, nUnknown+1)
	jac := mat.NewDense(nUnknown+1, nUnknown+1, nil)
	for range 60 {
		q.residuals(r, y)
		fd.Jacobian(jac, q.residuals, y, &fd.JacobianSettings{Formula: fd.Central, Step: 1e-6})
		var d mat.VecDense
		if d.SolveVec(jac, mat.NewVecDense(len(r), r)) != nil {
			return math.NaN(), false
		}
		k := 1.0
		for i, lim := range [...]float64{0.1, 0.05, 0.02, 0.15, 1} {
			if a := math.Abs(d.AtVec(i)); a*k > lim {
				k = lim / a
			}
		}
		step := 0.0
		for i := range y {
			y[i] -= k * d.AtVec(i)
			step = max(step, math.Abs(k*d.AtVec(i)))
		}
		if step < 1e-9 {
			return y[nUnknown], true
		}
	}
	return math.NaN(), false
}

// solveOurs is the model's own solution from the same start: the balances
// and the speed together, by Newton's method with dual numbers.
func (q *comparison) solveOurs(s *Solver) bool {
	s.set(q.c, q.f, FoilSetting{})
	nd := node{v: q.start[nUnknown], x: [nUnknown]float64(q.start[:nUnknown]), at: q.at}
	return s.settle(&nd) && math.Abs(nd.v-q.p.BSPMS) < units.MS(0.01)
}

// TestGeneralSolvers solves the same balances at the same points with gonum's
// optimiser and with a general Newton method: speeds agree to 0.01 kn.
func TestGeneralSolvers(t *testing.T) {
	var worst, worstNewton float64
	points := comparisons(t)
	for _, q := range points {
		if !q.solveOurs(q.m.NewSolver()) {
			t.Errorf("%s %+v: not found again from the start that the others get", q.name, q.c)
		}
		v, n, err := q.solveGonum()
		if err != nil {
			t.Errorf("%s %+v: %v", q.name, q.c, err)
		}
		w, ok := q.solveNewton()
		if !ok {
			t.Errorf("%s %+v: the general Newton method did not converge", q.name, q.c)
		}
		d, e := units.Knots(v-q.p.BSPMS), units.Knots(w-q.p.BSPMS)
		t.Logf("%-5s %4.1f kn at %3.0f°, %.1f m: %.4f kn; optimiser %+.6f kn (%d evaluations), Newton %+.8f kn", q.name, units.Knots(q.c.TWSMS), units.Deg(q.c.TWARad), q.c.HsM, units.Knots(q.p.BSPMS), d, n, e)
		worst, worstNewton = math.Max(worst, math.Abs(d)), math.Max(worstNewton, math.Abs(e))
		if math.IsNaN(d + e) {
			t.Fail()
		}
	}
	validation.Check(t, validation.Row{Package: "vpp", ID: "solver-gonum", Quantity: "speed by gonum's optimiser on the same balances, greatest difference over ten points", Got: worst, Want: 0, Tol: 0.01, Unit: "kn", Source: "gonum optimize (BFGS, least squares)", Kind: validation.Independent})
	validation.Check(t, validation.Row{Package: "vpp", ID: "solver-newton", Quantity: "speed by a Newton method on gonum's numerical Jacobian, greatest difference over ten points", Got: worstNewton, Want: 0, Tol: 0.01, Unit: "kn", Source: "gonum diff/fd and mat", Kind: validation.Independent})
}

// scipyAnswer is what testdata/balances.py writes.
type scipyAnswer struct {
	Version string `json:"version"`
	Points  []struct {
		X           []float64 `json:"x"`
		OK          bool      `json:"ok"`
		Evaluations int       `json:"evaluations"`
		Seconds     float64   `json:"seconds"`
		AtGiven     []float64 `json:"at_given"` // the script's residuals at our solution
	} `json:"points"`
	Surface []float64 `json:"surface"`
}

// surfaceQuery asks for a factor of the free surface at depth over chord, or twice
// the depth over span, and at g·length/U².
type surfaceQuery struct {
	Kind  string  `json:"kind"`
	Depth float64 `json:"depth"`
	Nu    float64 `json:"nu"`
}

var surfaceQueries = func() (l []surfaceQuery) {
	for _, d := range []float64{0.1, 0.3, 0.7, 1.5, 4} {
		for _, nu := range []float64{0.004, 0.02, 0.1, 0.35, 0.8} {
			l = append(l, surfaceQuery{"lift", d, nu}, surfaceQuery{"induced", d, nu})
		}
	}
	return l
}()

// askSciPy has the same points solved by testdata/balances.py, or skips with the
// reason when there is no SciPy.
func askSciPy(t testing.TB, points []*comparison, repeats int) scipyAnswer {
	t.Helper()
	python := ""
	for _, p := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(p, "-c", "import scipy").Run() == nil {
			python = p
			break
		}
	}
	if python == "" {
		t.Skip("no python3 with SciPy (Debian: python3-scipy): skipped")
	}
	var job struct {
		Points  []map[string]any `json:"points"`
		Surface []surfaceQuery   `json:"surface"`
		Repeats int              `json:"repeats"`
	}
	job.Repeats, job.Surface = repeats, surfaceQueries
	for _, q := range points {
		job.Points = append(job.Points, map[string]any{
			"boat": q.m.boat, "tws": q.c.TWSMS, "twa": q.c.TWARad, "hs": q.c.HsM, "wave_from_bow": q.c.waveAngle(),
			"extension": q.f.Extension, "rake": q.f.RakeRad, "sail": q.p.Sail, "cant": q.p.CantRad, "ballast": q.p.BallastKg,
			"start": q.start[:], "solution": append(append([]float64(nil), q.x[:]...), q.p.BSPMS),
		})
	}
	in, err := json.Marshal(job)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-W", "ignore", "-B", "testdata/balances.py")
	cmd.Stdin = bytes.NewReader(in)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	outBytes, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, stderr.String())
	}
	var a scipyAnswer
	if err := json.Unmarshal(outBytes, &a); err != nil {
		t.Fatal(err)
	}
	if len(a.Points) != len(points) {
		t.Fatalf("SciPy answered %d of %d points", len(a.Points), len(points))
	}
	return a
}

// TestSciPy: the equations written again in Python and solved by SciPy give the
// same speeds to 0.01 kn.
func TestSciPy(t *testing.T) {
	if testing.Short() {
		t.Skip("starts Python: skipped in short mode")
	}
	points := comparisons(t)
	a := askSciPy(t, points, 1)
	worst, residual := 0.0, 0.0
	for i, q := range points {
		r := a.Points[i]
		d := units.Knots(r.X[nUnknown] - q.p.BSPMS)
		most := 0.0
		for _, e := range r.AtGiven {
			most = math.Max(most, math.Abs(e))
		}
		t.Logf("%-5s %4.1f kn at %3.0f°, %.1f m, ext %.2f: %.4f kn, SciPy %+.5f kn (%d evaluations, converged %v); its residuals at our solution %.1e", q.name, units.Knots(q.c.TWSMS), units.Deg(q.c.TWARad), q.c.HsM, q.f.Extension, units.Knots(q.p.BSPMS), d, r.Evaluations, r.OK, most)
		if !r.OK || math.IsNaN(d+most) {
			t.Errorf("%s %+v: SciPy did not converge; its residuals at our solution: %.2e", q.name, q.c, r.AtGiven)
		}
		worst, residual = math.Max(worst, math.Abs(d)), math.Max(residual, most)
	}
	validation.Check(t, validation.Row{Package: "vpp", ID: "scipy-speed", Quantity: "speed by SciPy on the equations written again in Python, greatest difference over ten points", Got: worst, Want: 0, Tol: 0.01, Unit: "kn", Source: "scipy.optimize.root (hybr); vpp/testdata/balances.py", Kind: validation.Independent})
	validation.Check(t, validation.Row{Package: "vpp", ID: "scipy-residual", Quantity: "residuals over weight of the Python equations at the model's solutions, greatest of fifty", Got: residual, Want: 0, Tol: 5e-4, Source: "vpp/testdata/balances.py; its integrals by adaptive quadrature", Kind: validation.Independent})
	far := map[string]float64{}
	if len(a.Surface) != len(surfaceQueries) {
		t.Fatalf("%d answers on the free surface, want %d", len(a.Surface), len(surfaceQueries))
	}
	for i, q := range surfaceQueries {
		got := inducedFactor(q.Depth, q.Nu)
		if q.Kind == "lift" {
			got = boundedLiftFactor(q.Depth, q.Nu)
		}
		if d := math.Abs(got - a.Surface[i]); !(d <= far[q.Kind]) {
			far[q.Kind] = d
		}
	}
	validation.Check(t, validation.Row{Package: "vpp", ID: "scipy-surface-lift", Quantity: "lift factor under the free surface by adaptive quadrature, greatest difference over 25 depths and speeds", Got: far["lift"], Want: 0, Tol: 5e-4, Source: "scipy.integrate.quad (principal value)", Kind: validation.Independent})
	validation.Check(t, validation.Row{Package: "vpp", ID: "scipy-surface-induced", Quantity: "induced plus wave drag factor by adaptive quadrature, greatest difference over 25 depths and speeds", Got: far["induced"], Want: 0, Tol: 1e-5, Source: "scipy.integrate.quad with scipy.special.j1, ellipk, ellipe", Kind: validation.Independent})
}

// BenchmarkGeneralSolvers prints the agreement and the ratio of times side by side:
// the model's solver, gonum's optimiser, and SciPy where it is installed, each on
// the same balances from the same start.
func BenchmarkGeneralSolvers(b *testing.B) {
	points := comparisons(b)
	solvers := make([]*Solver, len(points))
	for i, q := range points {
		solvers[i] = q.m.NewSolver()
	}
	ours := make([]float64, len(points))
	b.Run("own", func(b *testing.B) {
		n := 0
		for b.Loop() {
			for i, q := range points {
				t0 := time.Now()
				if !q.solveOurs(solvers[i]) {
					b.Fatal("not solved")
				}
				if d := time.Since(t0).Seconds(); ours[i] == 0 || d < ours[i] {
					ours[i] = d
				}
				n++
			}
		}
		b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(n), "µs/point")
	})
	gonum := make([]float64, len(points))
	b.Run("gonum", func(b *testing.B) {
		n := 0
		for b.Loop() {
			for i, q := range points {
				t0 := time.Now()
				v, _, _ := q.solveGonum()
				if !(math.Abs(units.Knots(v-q.p.BSPMS)) <= 0.01) {
					b.Errorf("%s %+v: %v", q.name, q.c, units.Knots(v))
				}
				if d := time.Since(t0).Seconds(); gonum[i] == 0 || d < gonum[i] {
					gonum[i] = d
				}
				n++
			}
		}
		b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(n), "µs/point")
	})
	b.Run("scipy", func(b *testing.B) {
		a := askSciPy(b, points, 9) // once, whatever the benchmark's count
		b.Logf("SciPy %s; best times; the same five balances from the same start", a.Version)
		b.Logf("%-5s %9s %9s %5s %10s %10s %11s %10s %11s %9s", "boat", "wind", "sea", "ext", "own kn", "SciPy kn", "own µs", "gonum µs", "SciPy µs", "× SciPy")
		var so, ss, sg float64
		for i, q := range points {
			r := a.Points[i]
			b.Logf("%-5s %2.0f kn %3.0f° %7.1f m %5.2f %10.4f %10.4f %11.1f %10.0f %11.0f %9.0f", q.name, units.Knots(q.c.TWSMS), units.Deg(q.c.TWARad), q.c.HsM, q.f.Extension,
				units.Knots(q.p.BSPMS), units.Knots(r.X[nUnknown]), 1e6*ours[i], 1e6*gonum[i], 1e6*r.Seconds, r.Seconds/ours[i])
			so, ss, sg = so+ours[i], ss+r.Seconds, sg+gonum[i]
			if !(math.Abs(units.Knots(r.X[nUnknown]-q.p.BSPMS)) <= 0.01) {
				b.Errorf("%s %+v: speeds differ", q.name, q.c)
			}
		}
		if so > 0 {
			b.Logf("together: %.0f times SciPy, %.0f times gonum's optimiser", ss/so, sg/so)
			b.ReportMetric(ss/so, "×SciPy")
			b.ReportMetric(sg/so, "×gonum")
		}
	})
}
