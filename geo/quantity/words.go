package quantity

import "fmt"

// Hectares writes an area in m2 for people: in m2 below one hectare.
func Hectares(m2 float64) string {
	if m2 < 1e4 {
		return fmt.Sprintf("%.0f m2", m2)
	}
	return fmt.Sprintf("%.1f ha", m2/1e4)
}

// Percent writes a chance with its standard error, both 0 to 1, in per cent.
func Percent(p, se float64) string { return fmt.Sprintf("%.1f %% (+- %.1f)", 100*p, 100*se) }
