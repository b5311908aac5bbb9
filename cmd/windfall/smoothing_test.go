package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
)

// The areas of the example's map against those of 600 000 runs: the table of
// docs/map.md. Slow: a minute on two free cores.
func TestSmoothingError(t *testing.T) {
	if os.Getenv("WINDFALL_SLOW") == "" {
		t.Skip("WINDFALL_SLOW=1 go test -v -run TestSmoothingError ./cmd/windfall")
	}
	f, err := flightfile.Read(garza)
	require.NoError(t, err)
	m, err := drift.Prepare(f.Flight)
	require.NoError(t, err)
	levels := []float64{0.5, 0.75, 0.9, 0.95}
	areas := func(seed uint64, runs int) []grid.Area {
		c, err := m.Run(context.Background(), drift.Options{Runs: runs, Seed: seed})
		require.NoError(t, err)
		pts := make([]geo.XY, runs)
		for i, l := range c.Landings {
			pts[i] = l.At
		}
		g, err := grid.From(c.Frame, pts, nil, grid.Options{})
		require.NoError(t, err)
		return g.Contours(levels)
	}
	truth := areas(1000, 600_000)
	const clouds = 8
	for _, k := range []struct {
		runs   int
		within float64 // %, of the mean error
	}{{2000, 5.5}, {5000, 4}, {20000, 2.2}} {
		line := fmt.Sprintf("%6d runs", k.runs)
		for i, p := range levels {
			var mean, square float64
			for s := range clouds {
				e := 100 * (areas(uint64(s), k.runs)[i].AreaM2/truth[i].AreaM2 - 1)
				mean, square = mean+e/clouds, square+e*e/clouds
			}
			line += fmt.Sprintf("  %2.0f %%: %+.1f (rms %.1f)", 100*p, mean, math.Sqrt(square))
			assert.InDelta(t, 0, mean, k.within, "%d runs, %g", k.runs, p)
		}
		t.Log(line)
	}
}
