package drift

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"windfall/geo"
)

func TestPointsOfACloud(t *testing.T) {
	c := &Cloud{
		Landings: []Landing{{At: geo.XY{X: 1}}, {At: geo.XY{X: 2}, Outcome: 1}, {At: geo.XY{X: 3}, Outcome: 1}},
		Parts:    []PartCloud{{Run: []int{0, 2}, Landings: []PartLanding{{At: geo.XY{Y: 1}}, {At: geo.XY{Y: 3}}}}},
	}
	tangled := func(l *Landing) bool { return l.Outcome == 1 }
	at, w := c.Points(nil)
	assert.Equal(t, []geo.XY{{X: 1}, {X: 2}, {X: 3}}, at)
	assert.Nil(t, w, "all equal")
	assert.Equal(t, 1.0, c.Weight(2))
	_, w = c.PartPoints(c.Parts[0])
	assert.Nil(t, w)
	c.Weights = []float64{0.2, 0.3, 0.5}
	at, w = c.Points(tangled)
	assert.Equal(t, []geo.XY{{X: 2}, {X: 3}}, at)
	assert.Equal(t, []float64{0.3, 0.5}, w)
	assert.Equal(t, 0.5, c.Weight(2))
	at, w = c.PartPoints(c.Parts[0])
	assert.Equal(t, []geo.XY{{Y: 1}, {Y: 3}}, at)
	assert.Equal(t, []float64{0.2, 0.5}, w, "each of its own run")
	at, w = c.Points(func(*Landing) bool { return false })
	assert.Empty(t, at)
	assert.Nil(t, w)
}
