package chance

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"windfall/geo"
	"windfall/geo/plane"
)

// Inscribed circles of known shapes (elementary geometry): a rectangle's has
// its shortest side for diameter, an equilateral triangle's side/sqrt(3), an
// L of two 100 m arms 2 (2 - sqrt 2) 100 m.
func TestWidest(t *testing.T) {
	var disc plane.Ring
	for k := range 361 {
		disc = append(disc, geo.Polar(250, float64(k)).Add(geo.XY{X: 40}))
	}
	withHole := rectangle(0, 0, 300, 100)
	withHole[0] = append(withHole[0], rectangle(100, 1, 299, 99)[0][0])
	for name, c := range map[string]struct {
		shape plane.Polygons
		want  float64
	}{
		"square":    {rectangle(-50, -50, 50, 50), 100},
		"rectangle": {rectangle(0, 0, 900, 120), 120},
		"disc":      {plane.Polygons{{disc}}, 500},
		"triangle":  {plane.Polygons{{{{}, {X: 600}, {X: 300, Y: 300 * math.Sqrt(3)}, {}}}}, 600 / math.Sqrt(3)},
		"L":         {plane.Polygons{{{{}, {X: 1000}, {X: 1000, Y: 100}, {X: 100, Y: 100}, {X: 100, Y: 1000}, {Y: 1000}, {}}}}, 200 * (2 - math.Sqrt2)},
		"hole":      {withHole, 100},
		"two":       {append(rectangle(0, 0, 50, 50), rectangle(200, 0, 280, 80)...), 80},
	} {
		centre, got := Widest(c.shape)
		assert.InDelta(t, c.want, got, math.Max(0.5, c.want*0.002), name)
		z := Area("", Field, c.shape)
		assert.True(t, z.Contains(centre), name)
		assert.InDelta(t, got/2, c.shape.Edge(centre), 1e-9, name)
	}
	_, none := Widest(nil)
	assert.Zero(t, none)
}
