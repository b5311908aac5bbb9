package sources

import (
	"fmt"
	"math"
)

// Limits of what is taken for wind on this planet. The strongest jet streams
// measured are near 130 m/s; radiosondes burst below 50 km.
const (
	maxSpeed     = 150.0   // m/s
	minElevation = -500.0  // m; the Dead Sea shore is at -430
	maxElevation = 60000.0 // m
)

// at makes the error of a place in a file.
func at(name string, line int, format string, args ...any) error {
	return fmt.Errorf("%s:%d: %s", name, line, fmt.Sprintf(format, args...))
}

// checkWind tells what is wrong with a speed in m/s and a direction in degrees.
func checkWind(from, speed float64) error {
	switch {
	case math.IsNaN(speed) || speed < 0:
		return fmt.Errorf("wind speed %.4g m/s is below zero; write zero or more", speed)
	case speed > maxSpeed:
		return fmt.Errorf("wind speed %.4g m/s (%.4g kn) is beyond any wind on Earth; write at most %g m/s", speed,
			speed/knot, maxSpeed)
	case math.IsNaN(from) || from < 0 || from > 360:
		return fmt.Errorf("wind direction %.4g is no bearing; write 0 to 360 degrees", from)
	}
	return nil
}

const knot = 1852.0 / 3600 // m/s, by definition

// clip shortens text for messages.
func clip(s string) string { return clipAt(s, 40) }
