package search

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"windfall/geo"
)

// Two go abreast: the same blocks, each with lanes of their own a spacing beside
// the other's; the third goes alone, the drone too.
func TestAbreast(t *testing.T) {
	p := Problem{Map: cloud(12, blob{geo.XY{X: 250, Y: 50}, 120, 80, 20, 1}), Searchers: append(walkers(3, geo.XY{}, 70), scout(geo.XY{}, 30)), Target: rocket}
	pl, err := Make(context.Background(), p, Options{Abreast: true})
	require.NoError(t, err)
	audit(t, p, pl)
	a, b := pl.Searchers[0].Blocks, pl.Searchers[1].Blocks
	require.Equal(t, []string{pl.Searchers[1].Name}, pl.Searchers[0].Abreast)
	require.Empty(t, pl.Searchers[2].Abreast)
	require.NotEmpty(t, a)
	require.Len(t, b, len(a))
	for k := range a {
		require.Equal(t, a[k].LaneM, b[k].LaneM)
		require.Equal(t, a[k].SpacingM, b[k].SpacingM)
		d := geo.XY{X: b[k].Begin.East - a[k].Begin.East, Y: b[k].Begin.North - a[k].Begin.North}
		if a[k].Kind == Lanes {
			require.InDelta(t, a[k].SpacingM/2, d.Norm(), 0.1)
			require.InDelta(t, 0, math.Remainder(d.BearingDeg()-a[k].SideDeg, 360), 1)
		}
	}
}

// A plan has no more blocks a walker than it may; what is enough lies within it
// and is no more than all of it.
func TestBlocksAndEnough(t *testing.T) {
	p := Problem{Map: cloud(12, blob{geo.XY{X: 200}, 60, 50, 20, 1}), Searchers: walkers(2, geo.XY{}, 150), Target: rocket}
	for n := 1; n <= 2; n++ {
		pl, err := Make(context.Background(), p, Options{Blocks: n})
		require.NoError(t, err)
		for _, r := range pl.Searchers {
			require.LessOrEqual(t, len(r.Blocks), n)
		}
		require.LessOrEqual(t, pl.Enough.POS, pl.POS+1e-9)
		require.LessOrEqual(t, pl.POS-pl.Enough.POS, littlePOS)
		require.Positive(t, pl.Enough.Minutes)
		require.Less(t, pl.Enough.Minutes, pl.Minutes, "so much time is not needed for so small a cloud")
	}
	require.Equal(t, []string{"A", "Z", "AA", "AB"}, []string{letter(0), letter(25), letter(26), letter(27)})
}

// The key stays while nothing changes that the plan hangs on, and no longer.
func TestKey(t *testing.T) {
	p := Problem{Map: cloud(20, blob{geo.XY{X: 200}, 60, 50, 0, 1}), Searchers: walkers(1, geo.XY{}, 40), Target: rocket, Terrain: hill{}}
	key := func(p Problem, o Options) string {
		k, err := Key(p, o)
		require.NoError(t, err)
		return k
	}
	was := key(p, Options{Seed: 1})
	require.Equal(t, was, key(p, Options{Seed: 1, Progress: func(int, int) {}}))
	require.NotEqual(t, was, key(p, Options{Seed: 2}))
	require.NotEqual(t, was, key(p, Options{Seed: 1, Blocks: 2}))
	flat, slow, moved := p, p, p
	flat.Terrain = nil
	require.NotEqual(t, was, key(flat, Options{Seed: 1}))
	slow.Searchers = walkers(1, geo.XY{}, 39)
	require.NotEqual(t, was, key(slow, Options{Seed: 1}))
	m := *p.Map
	m.P = append([]float64(nil), m.P...)
	m.P[0], m.P[1] = m.P[1], m.P[0]+1e-15
	moved.Map = &m
	require.NotEqual(t, was, key(moved, Options{Seed: 1}))
}

// After a change the blocks that are left go on: who stays begins with the rest
// of their block, and blocks of who leaves are walked by others or not at all.
func TestReplanKeepsBlocks(t *testing.T) {
	p := Problem{Map: cloud(12, blob{geo.XY{X: 250, Y: 50}, 150, 110, 20, 1}), Searchers: walkers(2, geo.XY{}, 90), Target: rocket}
	pl, err := Make(context.Background(), p, Options{})
	require.NoError(t, err)
	first := pl.Searchers[0].Blocks[0]
	at := (first.StartMin + 0.4*(first.EndMin-first.StartMin)) * 60
	next, err := Replan(context.Background(), p, pl, Change{At: at})
	require.NoError(t, err)
	require.NotNil(t, next.left)
	rest := next.left.blocks[0][0]
	if first.Kind == Lanes {
		require.Less(t, rest.N, first.Lanes)
		require.InDelta(t, first.LaneM, rest.Hi-rest.Lo, 0.1)
		last := next.left.layout.Corners(rest)
		require.InDelta(t, 0, last[len(last)-1].Sub(geo.XY{X: first.End.East, Y: first.End.North}).Norm(), 0.1)
	}
	again, err := Make(context.Background(), next, Options{})
	require.NoError(t, err)
	audit2 := again.Searchers[0].Legs
	require.NotEmpty(t, audit2)
	gone, err := Replan(context.Background(), p, pl, Change{At: at, Leaves: []string{"ana"}})
	require.NoError(t, err)
	require.Len(t, gone.left.blocks, 1)
	require.Greater(t, len(gone.left.blocks[0]), len(pl.Searchers[1].Blocks)-1)
}
