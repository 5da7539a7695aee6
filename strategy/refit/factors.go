package refit

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"foilledger/vpp"
)

// Factors draws samples of the model's uncertain factors: a Latin hypercube
// (M. D. McKay, R. J. Beckman and W. J. Conover, "A comparison of three methods
// for selecting values of input variables", 1979), each factor normal on either
// side of 1 with nine in ten within its range, cut at two and a half standard
// deviations. The same n and seed give the same samples, for all variants.
func Factors(n int, seed uint64) []vpp.Factors {
	out := make([]vpp.Factors, n)
	for i := range out {
		out[i] = vpp.NoFactors()
	}
	rng := rand.New(rand.NewPCG(seed, 0x7265666974))
	normal := distuv.Normal{Sigma: 1}
	for k, r := range vpp.FactorRanges() {
		order := rng.Perm(n)
		for i := range out {
			u := (float64(order[i]) + rng.Float64()) / float64(n)
			z := math.Min(math.Max(normal.Quantile(u), -2.5), 2.5)
			out[i] = out[i].With(k, factorAt(r, z))
		}
	}
	return out
}

// ninety is the standard normal quantile that leaves one in twenty above.
const ninety = 1.6448536269514722

// factorAt is the factor z standard deviations from 1.
func factorAt(r vpp.FactorRange, z float64) float64 {
	if z < 0 {
		return 1 + z/ninety*(1-r.Low)
	}
	return 1 + z/ninety*(r.High-1)
}

// scoreOf is the inverse of factorAt.
func scoreOf(r vpp.FactorRange, x float64) float64 {
	if x < 1 {
		return ninety * (x - 1) / (1 - r.Low)
	}
	return ninety * (x - 1) / (r.High - 1)
}

// CoarseGrid is the grid of the speed tables of samples: every other wind and
// angle of the full grid, and flat water and two seas, at a fifth of the cost.
func CoarseGrid() vpp.Grid {
	g := vpp.DefaultGrid()
	thin := func(x []float64) (y []float64) {
		for i := range x {
			if i%2 == 0 || i == len(x)-1 {
				y = append(y, x[i])
			}
		}
		return y
	}
	return vpp.Grid{TWSMS: thin(g.TWSMS), TWARad: thin(g.TWARad), HsM: []float64{g.HsM[0], g.HsM[2], g.HsM[len(g.HsM)-1]}, VMS: g.VMS}
}
