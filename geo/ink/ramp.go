package ink

import (
	"image/color"
	"math"
)

// ramp are the colours of the chance picture from the edge of the map to the
// likeliest ground: one violet, CIE 1976 hue 312 degrees, whose lightness falls
// from 94 to 19 in equal steps, with as much chroma as the screen has there. The
// hue is one that fields, woods and water do not have, so that it stands out
// on pictures of the ground; in grey the lightness remains.
var ramp = [...]color.NRGBA{
	RGB(0xF4EAFB), RGB(0xDCC0F2), RGB(0xC396E9), RGB(0xA570D6), RGB(0x8350B5), RGB(0x60348C), RGB(0x3E1D5F),
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
