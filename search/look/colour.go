package look

import (
	"math"
	"slices"
	"strings"
)

// Colour is a colour that a thing is said to have, in Oklab.
type Colour struct {
	Name string
	lab  [3]float64
}

// named are the colours that people name, in sRGB; middles of what goes by the
// name, choices of ours.
var named = map[string][3]uint8{
	"white": {235, 235, 232}, "silver": {190, 190, 195}, "grey": {130, 130, 130}, "gray": {130, 130, 130},
	"black": {25, 25, 27},
	"red":   {200, 30, 35}, "orange": {240, 110, 20}, "yellow": {240, 210, 30},
	"gold": {200, 160, 40}, "lime": {150, 230, 40},
	"green": {40, 120, 50}, "olive": {100, 105, 50}, "turquoise": {50, 190, 180},
	"cyan": {40, 190, 220}, "blue": {30, 60, 170},
	"purple": {110, 40, 150}, "violet": {110, 40, 150}, "magenta": {210, 40, 160},
	"pink": {240, 90, 160}, "brown": {110, 75, 45},
	"tan": {190, 160, 115}, "beige": {210, 195, 160},
}

// Colours reads the colours that a text names: "lime and black" names two.
func Colours(text string) []Colour {
	var out []Colour
	for _, w := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return r < 'a' || r > 'z' }) {
		rgb, ok := named[w]
		if !ok || slices.ContainsFunc(out, func(c Colour) bool { return c.Name == w }) {
			continue
		}
		l, a, b := oklab(rgb[0], rgb[1], rgb[2])
		out = append(out, Colour{w, [3]float64{float64(l), float64(a), float64(b)}})
	}
	return out
}

// Weights of the colour said, in the units of the score. A patch may be lit or
// shaded, and its soft edges mix with the ground, so that only the hue counts
// fully.
const (
	favoured  = 2.0  // most that the right colour adds
	hueSpread = 0.09 // Oklab
	grey      = 0.05 // chroma under which a colour has no hue
)

// favour returns what the colours said add to the score of a patch: up to
// favoured for the same hue, down to none at all.
func favour(cs []Colour, lab [3]float64) float64 {
	best := 0.0
	for _, c := range cs {
		d := [3]float64{lab[0] - c.lab[0], lab[1] - c.lab[1], lab[2] - c.lab[2]}
		l := d[0] / 3 // light and shade
		if math.Hypot(c.lab[1], c.lab[2]) < grey {
			l = d[0] / 1.5 // white, grey and black are told apart by it alone
		}
		best = max(best, favoured*math.Exp(-(d[1]*d[1]+d[2]*d[2]+l*l)/(2*hueSpread*hueSpread)))
	}
	return best
}

// srgb returns an Oklab colour as sRGB.
func srgb(c [3]float64) [3]uint8 {
	cube := func(v float64) float64 { return v * v * v }
	p := cube(c[0] + 0.3963377774*c[1] + 0.2158037573*c[2])
	q := cube(c[0] - 0.1055613458*c[1] - 0.0638541728*c[2])
	s := cube(c[0] - 0.0894841775*c[1] - 1.2914855480*c[2])
	var out [3]uint8
	for k, v := range [3]float64{
		4.0767416621*p - 3.3077115913*q + 0.2309699292*s,
		-1.2684380046*p + 2.6097574011*q - 0.3413193965*s,
		-0.0041960863*p - 0.7034186147*q + 1.7076147010*s,
	} {
		if v <= 0.0031308 {
			v *= 12.92
		} else {
			v = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		out[k] = uint8(math.Round(255 * math.Max(0, math.Min(1, v))))
	}
	return out
}
