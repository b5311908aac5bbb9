package quantity

import (
	"fmt"
	"math"
)

// Hectares writes an area in m2 for people: in m2 below one hectare.
func Hectares(m2 float64) string {
	if m2 < 1e4 {
		return fmt.Sprintf("%.0f m2", m2)
	}
	return fmt.Sprintf("%.1f ha", m2/1e4)
}

// Chance writes a chance, 0 to 1, in per cent with some decimals. What is
// neither certain nor impossible is not rounded to be: 0.996 is over 99 %.
func Chance(p float64, decimals int) string {
	step := math.Pow(10, -float64(decimals)) // of the last figure, in per cent
	switch {
	case p > 0 && 100*p <= step/2:
		return fmt.Sprintf("under %.*f %%", decimals, step)
	case p < 1 && 100*p >= 100-step/2:
		return fmt.Sprintf("over %.*f %%", decimals, 100-step)
	}
	return fmt.Sprintf("%.*f %%", decimals, 100*p)
}

// Percent writes a chance with its standard error, both 0 to 1, in per cent.
func Percent(p, se float64) string { return fmt.Sprintf("%.1f %% (+- %.1f)", 100*p, 100*se) }
