package compass

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Degrees of the points after WMO-No. 306, code table 0700 (eight directions,
// 45 degrees each from north-east) and the compass card's halves of them.
func TestParse(t *testing.T) {
	for s, want := range map[string]Direction{
		"240": {Deg: 240}, "047 deg": {Deg: 47}, "240°": {Deg: 240}, "240 degrees": {Deg: 240}, "12.5 true": {Deg: 12.5},
		"240 mag": {Deg: 240, Magnetic: true}, "240 deg magnetic": {Deg: 240, Magnetic: true}, "360": {Deg: 360}, "0": {},
		"N": {SD: ofEight}, "sw": {Deg: 225, SD: ofEight}, "South-West": {Deg: 225, SD: ofEight}, "NNE": {Deg: 22.5, SD: ofSixteen},
		"north north west": {Deg: 337.5, SD: ofSixteen}, "E": {Deg: 90, SD: ofEight}, "wnw": {Deg: 292.5, SD: ofSixteen},
	} {
		got, err := Parse(s)
		require.NoError(t, err, s)
		assert.Equal(t, want, got, s)
	}
	for _, s := range []string{"", "NES", "SNW", "abc", "-5", "361", "NaN", "inf", "12 rad", "mag", "1e400"} {
		_, err := Parse(s)
		assert.ErrorContains(t, err, "is not a direction; write", s)
	}
}

// The spread of a point is that of an even draw over its width.
func TestSpreadOfAPoint(t *testing.T) {
	for width, sd := range map[float64]float64{45: ofEight, 22.5: ofSixteen} {
		sum, n := 0.0, 10_000
		for i := range n {
			x := width * ((float64(i)+0.5)/float64(n) - 0.5)
			sum += x * x
		}
		assert.InDelta(t, math.Sqrt(sum/float64(n)), sd, 1e-6)
	}
}

func TestNameIsTheNearestPoint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(-720, 720).Draw(t, "deg")
		d, err := Parse(Name(deg))
		require.NoError(t, err)
		off := math.Remainder(d.Deg-deg, 360)
		assert.LessOrEqual(t, math.Abs(off), 11.25+1e-9)
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"240 mag", "SW", "12°", "north", "1e9"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := Parse(s); err == nil && !(d.Deg >= 0 && d.Deg <= 360) {
			t.Fatalf("%q gives %v", s, d)
		}
	})
}

func ExampleParse() {
	d, _ := Parse("SSW")
	fmt.Printf("%g deg, %.1f either way\n", d.Deg, d.SD)
	// Output: 202.5 deg, 6.5 either way
}
