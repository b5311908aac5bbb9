package ink

import "math"

// RoundDown returns the greatest of 1, 2, 5 times a power of ten that is not
// over x, which must be above zero.
func RoundDown(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, k := range []float64{5, 2} {
		if k*p <= x {
			return k * p
		}
	}
	return p
}

// RoundUp returns the least of 1, 2, 5 times a power of ten that is not under
// x, which must be above zero, but for rounding.
func RoundUp(x float64) float64 { return roundUp(x, 1, 2, 5) }

// RoundUpFine is RoundUp with 2.5 among the figures.
func RoundUpFine(x float64) float64 { return roundUp(x, 1, 2, 2.5, 5) }

func roundUp(x float64, figures ...float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, k := range figures {
		if k*p >= x*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}
