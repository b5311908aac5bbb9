package figure

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/geo"
	"windfall/geo/ink"
	"windfall/geo/plane"
)

// picture draws twice, wants the same bytes, and returns the decoded image.
func picture(t *testing.T, d func(*bytes.Buffer) error) image.Image {
	var a, b bytes.Buffer
	require.NoError(t, d(&a))
	require.NoError(t, d(&b))
	assert.Equal(t, a.Bytes(), b.Bytes())
	img, err := png.Decode(&a)
	require.NoError(t, err)
	return img
}

// pixels counts those whose colour is nearly c.
func pixels(img image.Image, c color.NRGBA) int {
	n := 0
	r := img.Bounds()
	near := func(a uint32, b uint8) bool { d := int(a>>8) - int(b); return d > -24 && d < 24 }
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			cr, cg, cb, _ := img.At(x, y).RGBA()
			if near(cr, c.R) && near(cg, c.G) && near(cb, c.B) {
				n++
			}
		}
	}
	return n
}

func TestChances(t *testing.T) {
	f := Chances{Title: "t", X: "x", Y: "chance", Ticks: []Tick{{0, "a"}, {1, "b"}, {2, "c"}}, Series: []Series{
		{"one", []Point{{0, 0.9, 0.01}, {1, 0.95, 0.01}, {2, 1, 0}}},
		{"two", []Point{{0, 0.5, 0.02}, {1, 0.6, 0.02}}},
	}}
	img := picture(t, func(b *bytes.Buffer) error { return f.Draw(b) })
	assert.Equal(t, 770, img.Bounds().Dx())
	assert.Greater(t, pixels(img, ink.Series[0]), 50)
	assert.Greater(t, pixels(img, ink.Series[1]), 50)
	assert.Zero(t, pixels(img, ink.Series[2]), "two series, two inks")
	many := f
	for range 10 {
		many.Series = append(many.Series, Series{"more", []Point{{0, 0.1, 0}}})
	}
	picture(t, func(b *bytes.Buffer) error { return many.Draw(b) })
	one := Chances{Series: []Series{{"", []Point{{4, 1, 0}}}}, Ticks: []Tick{{4, "4 s"}}}
	picture(t, func(b *bytes.Buffer) error { return one.Draw(b) })
}

// A title is cut to the room that the value leaves; a short one is not.
func TestFit(t *testing.T) {
	s := style(7.5)
	assert.Equal(t, "delay 6 s", fit(s, "delay 6 s", 100))
	cut := fit(s, "lean 8 deg, toward 180 deg, and what not", 100)
	assert.Regexp(t, "^lean 8 deg, .*…$", cut)
	assert.LessOrEqual(t, float64(s.Width(cut)), 100.0)
}

// Ticks are round and enough to read a value by.
func TestPercents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(0, 0.99).Draw(t, "lo")
		hi := lo + rapid.Float64Range(0.005, 1).Draw(t, "range")
		ticks := percents{}.Ticks(lo, hi)
		assert.True(t, len(ticks) >= 3 && len(ticks) <= 9, "%d", len(ticks))
		for _, k := range ticks {
			assert.True(t, k.Value >= lo-1e-9 && k.Value <= hi+1e-9)
			assert.LessOrEqual(t, len(k.Label), 7)
		}
	})
	assert.Equal(t, "94 %", percents{}.Ticks(0.9, 1)[2].Label, "steps of two from 90")
}

// Where bars would cover each other the first series alone has them, and says so.
func TestCrowdedBars(t *testing.T) {
	crowd := func(n int) int {
		f := Chances{Title: "t", X: "x", Y: "chance"}
		for k := range 3 {
			for i := range n {
				f.Add(string(rune('a'+k)), Point{X: float64(i), P: 0.5 + 0.1*float64(k), SE: 0.04})
			}
		}
		return pixels(picture(t, func(b *bytes.Buffer) error { return f.Draw(b) }), ink.Series[2])
	}
	few, many := crowd(16), crowd(17)
	assert.Less(t, many, few/2, "one column more, and no bars")
}

func TestClouds(t *testing.T) {
	field := plane.Polygons{plane.Rectangle(-100, -100, 100, 100)}
	area := plane.Polygons{{{{X: -30, Y: -30}, {X: 30, Y: -30}, {Y: 130}, {X: -30, Y: -30}}}}
	in := Panel{Title: "in", Points: []geo.XY{{X: 5}, {Y: 9}}, In: []bool{true, true}, Area: area}
	out := Panel{Title: "out", Points: []geo.XY{{X: 5}, {Y: 120}}, In: []bool{true, false}, Area: area}
	for k := range 60 {
		out.Points, out.In = append(out.Points, geo.XY{X: float64(k), Y: 110}), append(out.In, false)
	}
	draw := func(ps ...Panel) image.Image {
		c := Clouds{Title: "t", Field: field, Panels: ps}
		return picture(t, func(b *bytes.Buffer) error { return c.Draw(b) })
	}
	assert.Zero(t, pixels(draw(in), outside), "nothing outside, nothing red")
	assert.Greater(t, pixels(draw(in, out), outside), 20)
	assert.Greater(t, pixels(draw(in), ink.Field), 5000)
	var many []Panel
	for range 30 {
		many = append(many, in)
	}
	assert.Equal(t, draw(many...).Bounds(), draw(many[:MaxPanels]...).Bounds(), "no more than fit")
	bare := Clouds{Panels: []Panel{{Points: []geo.XY{{X: 1}}, Area: area}}}
	assert.Less(t, pixels(picture(t, func(b *bytes.Buffer) error { return bare.Draw(b) }), ink.Field), 900, "no field, no ground but the edges of letters")
}
