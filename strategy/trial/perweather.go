package trial

// PerWeather adds up the values of each weather, scaled so that the mean over
// weathers is the mean over values. What values of the same weather share does
// not average out over them: it is the sums that can be resampled, not the
// values. weather is that of each value; those of one weather follow each other.
func PerWeather(x []float64, weather []int) []float64 {
	var sums []float64
	for i, v := range x {
		if i == 0 || weather[i] != weather[i-1] {
			sums = append(sums, 0)
		}
		sums[len(sums)-1] += v
	}
	for k := range sums {
		sums[k] *= float64(len(sums)) / float64(len(x))
	}
	return sums
}
