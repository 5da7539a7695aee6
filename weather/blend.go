package weather

import "math"

// The wind speed of two steps is kept in full while their directions differ by
// up to keepUntilCos and given up smoothly towards a reversal.
const keepUntilCos = -0.5 // cosine of 120°

// blendWind interpolates between the winds (u0, v0) and (u1, v1) of two steps;
// w in [0, 1] is the weight of the second.
//
// The mean of two vectors is shorter than the mean of their lengths: where a
// front or a low passes between two steps, plain interpolation of u and v shows
// a lull that does not exist (30 % at a turn of 90°). The direction is therefore
// that of the linear blend of the vectors and the speed is the linear blend of
// the speeds. When the two winds are opposed, the linear blend passes through
// zero and has no direction there; that is also what happens when the centre of
// a low goes over. So from a turn of 120° to one of 180° the speed goes over,
// by a smooth step in the cosine of the turn, to the length of the blended
// vector. The result is continuous in all its arguments.
func blendWind(u0, v0, u1, v1, w float64) (u, v float64) {
	u, v = u0+(u1-u0)*w, v0+(v1-v0)*w
	s0, s1 := math.Sqrt(u0*u0+v0*v0), math.Sqrt(u1*u1+v1*v1)
	length := math.Sqrt(u*u + v*v)
	if s0 == 0 || s1 == 0 || length == 0 {
		return u, v
	}
	keep := 1.0
	if dot, both := u0*u1+v0*v1, s0*s1; dot < keepUntilCos*both {
		x := max(0, (1+dot/both)/(1+keepUntilCos))
		keep = x * x * (3 - 2*x)
	}
	f := 1 + keep*((s0+(s1-s0)*w)/length-1)
	return u * f, v * f
}
