package mapfile

import (
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgsvg"

	"windfall/geo"
	"windfall/geo/plane"
)

// The legend tells of what a picture shows: what lies beside it, and a field
// whose edge runs all round it, are left out.
func TestLegendTellsWhatIsInView(t *testing.T) {
	l := golden().ready()
	texts := func(view *plane.Box) string {
		var s []string
		for _, e := range legend(l, view) {
			s = append(s, e.text)
		}
		return strings.Join(s, "\n")
	}
	ground := []string{"searched already", "keep out", "barrier", "gate, stile, bridge", "cover; woods darker",
		"field, named places"}
	all := plane.Box{Min: geo.XY{X: -1e5, Y: -1e5}, Max: geo.XY{X: 1e5, Y: 1e5}}
	pad := plane.Box{Min: geo.XY{X: -1, Y: -1}, Max: geo.XY{X: 1, Y: 1}}
	for _, text := range ground {
		assert.Contains(t, texts(nil), text)
		assert.Contains(t, texts(&all), text)
		assert.NotContains(t, texts(&pad), text)
	}
	assert.Contains(t, texts(&pad), "\npad\n")
	assert.Equal(t, "3.0 ha", area(30_400))
	assert.Equal(t, "9999 m²", area(9999))
}

// Nothing is written over the pad's sign, nor beyond the frame.
func TestWordsKeepClear(t *testing.T) {
	draw := func(do func(k *canvas)) string {
		c := vgsvg.New(300, 300)
		do(newCanvas(c, vg.Rectangle{Max: vg.Point{X: 300, Y: 300}}, plane.Box{Min: geo.XY{X: -10, Y: -150},
			Max: geo.XY{X: 290, Y: 150}}, 1.7))
		var b strings.Builder
		_, err := c.WriteTo(&b)
		require.NoError(t, err)
		return b.String()
	}
	assert.NotContains(t, draw(func(k *canvas) { k.figure(302600, vg.Point{X: 2, Y: 155}, 0) }), "302 600")
	assert.Contains(t, draw(func(k *canvas) { k.figure(302700, vg.Point{X: 2, Y: 255}, 0) }), "302 700")

	for _, y := range []vg.Length{0, 300} {
		draw(func(k *canvas) {
			half := k.face(letters{size: 9})
			width := half.Width("sheepfold and barn")
			svg := draw(func(k *canvas) { k.halo("sheepfold and barn", vg.Point{X: 299, Y: y}) })
			assert.Contains(t, svg, "sheepfold and barn")
			x := regexp.MustCompile(`<text x="([-0-9.]+)"`).FindStringSubmatch(svg)
			require.NotNil(t, x)
			left, err := strconv.ParseFloat(x[1], 64)
			require.NoError(t, err)
			assert.LessOrEqual(t, left+width.Points(), 300.0)
		})
	}
}
