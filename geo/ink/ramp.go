package ink

import (
	"image/color"
	"math"
)

// ramp are the colours of the chance picture from the edge of the map to the
// likeliest ground: lighter to darker without a turn, so that it also reads in
// grey.
var ramp = [...]color.NRGBA{
	RGB(0xFFF6CC), RGB(0xFFD98A), RGB(0xFBA55D), RGB(0xE06A64), RGB(0xA83C7E), RGB(0x5E2A86), RGB(0x24195E),
}

// edge is the level beyond which nothing is drawn.
const edge = 0.995

// Ramp returns the colour for ground of the given level: 0 the likeliest, 1
// the edge of the map. Beyond 0.995 it is transparent.
func Ramp(level float64) color.NRGBA {
	if !(level < edge) {
		return color.NRGBA{}
	}
	x := (1 - math.Max(level, 0)) * float64(len(ramp)-1)
	i := min(int(x), len(ramp)-2)
	t := x - float64(i)
	mix := func(a, b uint8) uint8 { return uint8(math.Round(float64(a)*(1-t) + float64(b)*t)) }
	a, b := ramp[i], ramp[i+1]
	alpha := 0.30 + 0.38*(1-level)
	if level > 0.9 { // fade out toward the edge
		alpha *= (edge - level) / 0.095
	}
	return color.NRGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), uint8(255 * alpha)}
}
