package chance

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"

	"windfall/geo"
)

// Inscribed circles of known shapes (elementary geometry): a rectangle's has
// its shortest side for diameter, an equilateral triangle's side/sqrt(3), an
// L of two 100 m arms 2 (2 - sqrt 2) 100 m.
func TestWidest(t *testing.T) {
	var disc orb.Ring
	for k := range 361 {
		p := geo.Polar(250, float64(k))
		disc = append(disc, orb.Point{p.X + 40, p.Y})
	}
	withHole := rectangle(0, 0, 300, 100)
	withHole[0] = append(withHole[0], rectangle(100, 1, 299, 99)[0][0])
	for name, c := range map[string]struct {
		shape orb.MultiPolygon
		want  float64
	}{
		"square":    {rectangle(-50, -50, 50, 50), 100},
		"rectangle": {rectangle(0, 0, 900, 120), 120},
		"disc":      {orb.MultiPolygon{{disc}}, 500},
		"triangle":  {orb.MultiPolygon{{{{0, 0}, {600, 0}, {300, 300 * math.Sqrt(3)}, {0, 0}}}}, 600 / math.Sqrt(3)},
		"L":         {orb.MultiPolygon{{{{0, 0}, {1000, 0}, {1000, 100}, {100, 100}, {100, 1000}, {0, 1000}, {0, 0}}}}, 200 * (2 - math.Sqrt2)},
		"hole":      {withHole, 100},
		"two":       {append(rectangle(0, 0, 50, 50), rectangle(200, 0, 280, 80)...), 80},
	} {
		centre, got := Widest(c.shape)
		assert.InDelta(t, c.want, got, math.Max(0.5, c.want*0.002), name)
		z := Area("", Field, c.shape)
		assert.True(t, z.Contains(centre), name)
		assert.InDelta(t, got/2, edge(c.shape, centre), 1e-9, name)
	}
	_, none := Widest(nil)
	assert.Zero(t, none)
	assert.Equal(t, 50.0, Distance(rectangle(0, 0, 10, 10), geo.XY{X: 60, Y: 5}))
	assert.Zero(t, Distance(rectangle(0, 0, 10, 10), geo.XY{X: 6, Y: 5}))
}
