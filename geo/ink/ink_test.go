package ink

import (
	"fmt"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// linear undoes the sRGB curve (IEC 61966-2-1).
func linear(v uint8) float64 {
	x := float64(v) / 255
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}

// luminance is relative luminance as WCAG 2 defines it.
func luminance(c color.NRGBA) float64 {
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

// contrast is the WCAG 2 contrast ratio, 1 to 21.
func contrast(a, b color.NRGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// deuteranope is how somebody without green cones sees c: the matrix for full
// deuteranopia of Machado, Oliveira and Fernandes 2009, A physiologically-based
// model for simulation of color vision deficiency (from memory), in linear RGB.
func deuteranope(c color.NRGBA) (r, g, b float64) {
	x, y, z := linear(c.R), linear(c.G), linear(c.B)
	return 0.367322*x + 0.860646*y - 0.227968*z, 0.280085*x + 0.672501*y + 0.047413*z, -0.011820*x + 0.042940*y + 0.968881*z
}

// lab is CIE 1976 L*a*b* for linear RGB under D65 (IEC 61966-2-1).
func lab(r, g, b float64) (l, a, bb float64) {
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	x := f((0.4124*r + 0.3576*g + 0.1805*b) / 0.95047)
	y := f(0.2126*r + 0.7152*g + 0.0722*b)
	z := f((0.0193*r + 0.1192*g + 0.9505*b) / 1.08883)
	return 116*y - 16, 500 * (x - y), 200 * (y - z)
}

// The ramp darkens all the way, also in grey and for a deuteranope.
func TestRampDarkens(t *testing.T) {
	for i := 1; i < len(ramp); i++ {
		assert.Less(t, luminance(ramp[i]), 0.85*luminance(ramp[i-1]), "step %d in grey", i)
		l0, _, _ := lab(deuteranope(ramp[i-1]))
		l1, _, _ := lab(deuteranope(ramp[i]))
		assert.Less(t, l1, l0-5, "step %d for a deuteranope", i)
	}
	assert.Zero(t, Ramp(1).A)
	assert.Zero(t, Ramp(math.NaN()).A)
	for x := 0.02; x < 1; x += 0.02 {
		assert.LessOrEqual(t, Ramp(x).A, Ramp(x-0.02).A, "less likely ground is never more opaque")
	}
}

// The ramp is of one hue and its steps are even, so that twice as far along it
// looks twice as dark; it spans more than the 7 to 1 that WCAG 2 asks of the
// clearest text.
func TestRampIsOneHueInEvenSteps(t *testing.T) {
	var last float64
	for i, c := range ramp {
		l, a, b := lab(linear(c.R), linear(c.G), linear(c.B))
		assert.InDelta(t, 312, math.Mod(math.Atan2(b, a)*180/math.Pi+360, 360), 2, "step %d", i)
		if i > 0 {
			assert.InDelta(t, 12.5, last-l, 0.6, "step %d", i)
		}
		last = l
	}
	assert.Greater(t, contrast(ramp[0], ramp[len(ramp)-1]), 7.0)
}

// Four searchers, the usual most, differ for a deuteranope by far more than
// the 2.3 that is just noticeable (Mahy, Van Eycken and Oosterlinck 1994).
func TestSearchersDifferWithoutGreen(t *testing.T) {
	for i := range 4 {
		for j := range i {
			l0, a0, b0 := lab(deuteranope(Searchers[i]))
			l1, a1, b1 := lab(deuteranope(Searchers[j]))
			d := math.Sqrt((l1-l0)*(l1-l0) + (a1-a0)*(a1-a0) + (b1-b0)*(b1-b0))
			assert.Greater(t, d, 20.0, "%d and %d", i, j)
		}
	}
}

// Letters on plates keep the contrast that WCAG 2 asks of text, 4.5.
func TestPlatesCanBeRead(t *testing.T) {
	for _, c := range Searchers {
		assert.Greater(t, contrast(On(c), c), 4.5, "%v", c)
	}
	assert.Greater(t, contrast(Dark, Paper), 15.0)
}

// Contours stand out from a dark picture of woods, 0x2E3B26, the likeliest the
// most, and every searcher has a colour.
func TestContoursStandOut(t *testing.T) {
	woods, last := RGB(0x2E3B26), math.Inf(1)
	for _, p := range []float64{0.5, 0.75, 0.9, 0.95} {
		c := contrast(Contour(p), woods)
		assert.Greater(t, c, 3.0, "%g", p)
		assert.Less(t, c, last, "%g", p)
		last = c
	}
	assert.Equal(t, Searcher(0), Searcher(len(Searchers)))
}

func TestRoundFigures(t *testing.T) {
	for x, want := range map[float64][3]float64{
		1: {1, 1, 1}, 4.9: {2, 5, 5}, 5: {5, 5, 5}, 99: {50, 100, 100}, 260: {200, 500, 500}, 0.023: {0.02, 0.05, 0.025},
	} {
		assert.InDeltaSlice(t, want[:], []float64{RoundDown(x), RoundUp(x), RoundUpFine(x)}, 1e-12, "%g", x)
	}
	assert.InDelta(t, 0.1, RoundUp(0.7/8), 1e-12)
}

func Example() {
	fmt.Println(RoundDown(0.3*1240), RoundUp(1240.0/8), Faded(RGB(0x0B4F8A), 0.5))
	// Output: 200 200 {11 79 138 128}
}
