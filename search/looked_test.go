package search_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/grid"
	"windfall/geo/plane"
	"windfall/search"
)

func survey(a ...search.Looked) search.Survey { return search.Survey{Areas: a} }

func even(n int) *grid.Map {
	m := &grid.Map{West: 0, South: 0, Cell: 10, NX: n, NY: n, P: make([]float64, n*n), Outside: 0.2}
	for i := range m.P {
		m.P[i] = 0.8 / float64(n*n)
	}
	return m
}

// Half the map looked at with a chance of 0.9: the POS is 0.4 x 0.9, and Bayes
// leaves 0.04, 0.4 and 0.2 of 0.64.
func TestLookedAt(t *testing.T) {
	m := even(10)
	west := search.Looked{Ground: plane.Rectangle(0, 0, 50, 100), Chance: 0.9}
	got, pos, err := search.LookedAt(m, survey(west))
	require.NoError(t, err)
	require.InDelta(t, 0.36, pos, 1e-12)
	require.InDelta(t, 0.2/0.64, got.Outside, 1e-12)
	sum := got.Outside
	for _, p := range got.P {
		sum += p
	}
	require.InDelta(t, 1, sum, 1e-12)
	require.InDelta(t, 0.04/0.64, got.P[0]*50, 1e-12)
	require.InDelta(t, 0.8/100, m.P[0], 1e-12, "the map before is as it was")

	// twice the same picture is no more than once, and a worse one adds nothing
	again, pos, err := search.LookedAt(m, survey(west, west, search.Looked{Ground: west.Ground, Chance: 0.3}))
	require.NoError(t, err)
	require.InDelta(t, 0.36, pos, 1e-12)
	require.Equal(t, got.P, again.P)

	// a quarter of a cell
	_, pos, err = search.LookedAt(m, survey(search.Looked{Ground: plane.Rectangle(0, 0, 5, 5), Chance: 1}))
	require.NoError(t, err)
	require.InDelta(t, 0.8/100/4, pos, 1e-12)
}

func TestLookedAtRefusesACertainNothing(t *testing.T) {
	m := even(4)
	m.Outside = 0
	for i := range m.P {
		m.P[i] = 1.0 / 16
	}
	_, _, err := search.LookedAt(m, survey(search.Looked{Ground: plane.Rectangle(-1, -1, 41, 41), Chance: 1}))
	require.ErrorContains(t, err, "leave no chance anywhere")
}

func TestUnseenFarFromAll(t *testing.T) {
	v := survey(search.Looked{Ground: plane.Rectangle(-120, -30, 70, 20), Chance: 0.6})
	v.Open = []search.Round{{At: geo.XY{X: 10}, Radius: 5}}
	f := v.Unseen()
	require.InDelta(t, 1, f(geo.XY{X: 13, Y: 3}), 1e-12, "what was found there is not judged yet")
	require.InDelta(t, 0.4, f(geo.XY{X: 15.1, Y: 0}), 1e-12)
	require.InDelta(t, 0.4, f(geo.XY{X: -119, Y: -29}), 1e-12)
	require.InDelta(t, 1, f(geo.XY{X: 71, Y: 0}), 1e-12)
	require.InDelta(t, 1, f(geo.XY{X: math.Inf(1)}), 1e-12)
}
