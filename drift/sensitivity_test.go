package drift

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// With one input left to vary, its share is the whole (the definition of a
// first-order Sobol index), and shares sum to 1.
func TestSensitivityOfOneInput(t *testing.T) {
	f := small()
	f.Outcomes = []Chance{{"nominal", 1}}
	zero := ptr(0)
	f.Spread = Spread{LeanDeg: zero, Impulse: zero, Delay: zero, Drag: zero, YawWavelength: zero, Mass: zero,
		DeviceCdS: zero, OpeningDelay: zero, WindSpeed: zero, WindShape: zero}
	m, err := Prepare(f)
	require.NoError(t, err)
	c, err := m.Run(context.Background(), Options{Runs: 2000, Seed: 1})
	require.NoError(t, err)
	s, err := m.Sensitivity(c)
	require.NoError(t, err)
	require.Len(t, s, 3)
	assert.Equal(t, "wind direction", s[1].Name)
	assert.InDelta(t, 1, s[1].Share, 0.02) // what is left is curvature of third order
}

// The variance of the landings with one input frozen at its median falls by
// about that input's share: freezing is a second, independent way to it, exact
// for inputs that act alone.
func TestSensitivityAgainstFreezing(t *testing.T) {
	f := small()
	run := func(f Flight) (float64, *Cloud, *Model) {
		m, err := Prepare(f)
		require.NoError(t, err)
		c, err := m.Run(context.Background(), Options{Runs: 16000, Seed: 1})
		require.NoError(t, err)
		s := c.Scatter(nil)
		return sq(s.SemiMajor) + sq(s.SemiMinor), c, m
	}
	whole, c, m := run(f)
	s, err := m.Sensitivity(c)
	require.NoError(t, err)
	sum := 0.0
	share := map[string]float64{}
	for _, x := range s {
		sum += x.Share
		share[x.Name] = x.Share
	}
	assert.InDelta(t, 1, sum, 0.02)
	f.Spread.LeanDeg = ptr(0)
	still, _, _ := run(f)
	// Freezing takes the first-order part and its interplay with others.
	assert.GreaterOrEqual(t, 1-still/whole, share["rail lean"]-0.02)
	assert.LessOrEqual(t, 1-still/whole, share["rail lean"]+share["together"]+0.02)
	f = small()
	f.Outcomes = []Chance{{"nominal", 1}}
	still, _, _ = run(f)
	assert.InDelta(t, 1-still/whole, share["outcome"], share["together"]+0.02)
}
