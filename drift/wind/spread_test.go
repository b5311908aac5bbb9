package wind_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"windfall/drift/wind"
)

func TestShapeSDDefaultGrowsToItsTop(t *testing.T) {
	var p wind.Profile
	for _, c := range []struct{ z, want float64 }{{-5, 0.5}, {0, 0.5}, {400, 0.9}, {1000, 1.5}, {2000, 2.5}, {9000, 2.5}} {
		assert.InDelta(t, c.want, p.ShapeSD(c.z), 1e-12, "z %v", c.z) // 0.5 + z/1000, capped, by hand
	}
}

func TestShapeSDFollowsItsTable(t *testing.T) {
	p := wind.Profile{Shape: []wind.SD{{Height: 10, SD: 1}, {Height: 110, SD: 2}}}
	for _, c := range []struct{ z, want float64 }{{0, 1}, {10, 1}, {60, 1.5}, {110, 2}, {500, 2}} {
		assert.InDelta(t, c.want, p.ShapeSD(c.z), 1e-12, "z %v", c.z)
	}
}

// A pure scale moves the component along the wind alone and a pure turn the one
// across, so the mean square over both is half of (speed x spread) squared.
func TestTotalSDAddsSpeedAndTurn(t *testing.T) {
	p := wind.Profile{Shape: []wind.SD{{Height: 0, SD: 0}}}
	assert.InDelta(t, 10*0.15/math.Sqrt2, p.TotalSD(50, 10, 0.15, 0), 1e-12)
	assert.InDelta(t, 10*(math.Pi/18)/math.Sqrt2, p.TotalSD(50, 10, 0, 10), 1e-12)
	p.Shape[0].SD = 3
	assert.InDelta(t, 5, p.TotalSD(0, 8, math.Sqrt2/2, 0), 1e-12) // 3 and 4 make 5
}
