package strategy

import (
	"math"
	"time"
)

// wattsPerHP is one horsepower (550 foot-pounds per second) in watts.
const wattsPerHP = 745.69987

// KrendelPowerW is the mechanical power that a 35-year-old labourer sustains
// for a span: 0.35 − 0.092 log₁₀ t horsepower, t in minutes from 4 to 480
// (E. S. Krendel, "The mechanical power output of men", 1958; formula from
// memory). Outside that range the nearer end is used. At 20 years it is 15 %
// more, at 60 years 20 % less. It is for legs and arms; arms alone give 0.6 to
// 0.7 of it (from memory).
func KrendelPowerW(span time.Duration) float64 {
	t := math.Min(math.Max(span.Minutes(), 4), 480)
	return (0.35 - 0.092*math.Log10(t)) * wattsPerHP
}
