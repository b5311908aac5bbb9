package search

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/ground"
)

// The heaviest that is accepted: 24 searchers for six hours among 1500 covers and 400 ponds
// of a hundred corners each. The plan is the best so far, and says so.
func TestHeaviestProblem(t *testing.T) {
	if os.Getenv("WINDFALL_SLOW") == "" {
		t.Skip("half a minute; set WINDFALL_SLOW=1")
	}
	p := Problem{Map: cloud(10, blob{geo.XY{X: 250, Y: 50}, 190, 120, 20, 1}), Target: rocket, Ground: &ground.Ground{}}
	for i := range 16 {
		p.Searchers = append(p.Searchers, Searcher{Name: fmt.Sprint("w", i), Kind: Walker, Speed: 0.9,
			Start: geo.XY{X: 15 * float64(i)}, Available: 360 * 60})
	}
	for i := range 8 {
		d := scout(geo.XY{X: 10}, 360)
		d.Name = fmt.Sprint("d", i)
		p.Searchers = append(p.Searchers, d)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	somewhere := func(r float64) (ring []float64, at geo.XY) {
		at = geo.XY{X: rng.Float64()*1200 - 580, Y: rng.Float64()*1200 - 600}
		for k := range 100 {
			sn, cs := math.Sincos(float64(k) / 50 * math.Pi)
			ring = append(ring, at.X+r*cs, at.Y+r*sn)
		}
		return ring, at
	}
	for range 400 {
		if ring, at := somewhere(5); at.X > 400 || at.X < -30 || math.Abs(at.Y) > 30 { // not where they set out
			p.Ground.NoGo = append(p.Ground.NoGo, ground.NoGo{For: ground.All, Area: poly(ring...)})
		}
	}
	for range 1500 {
		ring, _ := somewhere([]float64{10, 30, 100}[rng.IntN(3)])
		p.Ground.Covers = append(p.Ground.Covers, ground.Cover{Class: []string{"crop", "scrub"}[rng.IntN(2)], Area: poly(ring...)})
	}
	pl, err := Make(context.Background(), p, Options{})
	require.NoError(t, err)
	require.Contains(t, pl.Cautions, shortOfWork)
	require.Contains(t, fmt.Sprint(pl.Cautions), "too many corners")
	require.Greater(t, pl.POS, 0.5)
}
