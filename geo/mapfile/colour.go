package mapfile

import (
	"image/color"
	"math"
)

// The colours keep apart by lightness first and by blue against yellow second,
// the differences that red-green blindness, grey printing and glare leave.

// rgb is an opaque colour.
func rgb(hex uint32) color.NRGBA {
	return color.NRGBA{uint8(hex >> 16), uint8(hex >> 8), uint8(hex), 255}
}

// faded returns c with an alpha of 0 to 1.
func faded(c color.NRGBA, alpha float64) color.NRGBA {
	c.A = uint8(math.Round(255 * alpha))
	return c
}

// ramp are the colours of the chance picture from the edge of the map to the
// likeliest ground: lighter to darker without a turn, so that it also reads in
// grey.
var ramp = [...]color.NRGBA{
	rgb(0xFFF6CC), rgb(0xFFD98A), rgb(0xFBA55D), rgb(0xE06A64), rgb(0xA83C7E), rgb(0x5E2A86), rgb(0x24195E),
}

// rampAt returns the colour for ground of the given level: 0 the likeliest, 1
// the edge. Beyond 0.995 nothing is drawn.
func rampAt(level float64) color.NRGBA {
	if !(level < 0.995) {
		return color.NRGBA{}
	}
	x := (1 - math.Max(level, 0)) * float64(len(ramp)-1)
	i := min(int(x), len(ramp)-2)
	t := x - float64(i)
	mix := func(a, b uint8) uint8 { return uint8(math.Round(float64(a)*(1-t) + float64(b)*t)) }
	a, b := ramp[i], ramp[i+1]
	alpha := 0.30 + 0.38*(1-level)
	if level > 0.9 { // fade out toward the edge
		alpha *= (0.995 - level) / 0.095
	}
	return color.NRGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), uint8(255 * alpha)}
}

// Marks.
var (
	ink     = rgb(0x16161D)
	paper   = rgb(0xFFFFFF)
	padInk  = rgb(0x0B4F8A)
	noGo    = rgb(0xC8102E)
	seenBy  = rgb(0x0FA3A3)
	past    = rgb(0x6B7280)
	partInk = rgb(0x8A4B08)
)

// routeInks are the searchers' colours in order; each also has a dash pattern
// and a letter of its own.
var routeInks = [...]color.NRGBA{
	rgb(0xFFD23F), rgb(0x2D7DF6), rgb(0xC2247A), rgb(0x5EEAD4), rgb(0xFF8C42), rgb(0xB9A6FF),
}

func routeInk(i int) color.NRGBA { return routeInks[i%len(routeInks)] }

// routeLetter is A for the first searcher, then B, ... Z, A2, B2, ...
func routeLetter(i int) string {
	s := string(rune('A' + i%26))
	if i >= 26 {
		s += string(rune('1' + min(i/26, 8)))
	}
	return s
}

// areaInk is the line of an area's contour on a map over pictures: the more
// probable ground, the stronger.
func areaInk(probability float64) color.NRGBA {
	switch {
	case probability <= 0.5:
		return rgb(0xFFFFFF)
	case probability <= 0.75:
		return rgb(0xFFE680)
	case probability <= 0.9:
		return rgb(0xFFB347)
	}
	return rgb(0xF07A5A)
}

// straight is a colour whose RGBA is not premultiplied: the KML library writes
// those bytes, and KML wants the plain colour beside its alpha.
type straight struct{ c color.NRGBA }

func (s straight) RGBA() (r, g, b, a uint32) {
	return uint32(s.c.R) * 257, uint32(s.c.G) * 257, uint32(s.c.B) * 257, uint32(s.c.A) * 257
}
