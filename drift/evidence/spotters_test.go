package evidence

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
	"windfall/geo/grid"
)

func standing(m model, at ...geo.XY) []Candidate {
	var out []Candidate
	for _, p := range at {
		q := m.Frame().Place(p)
		out = append(out, Candidate{At: orb.Point{q.Lon, q.Lat}})
	}
	return out
}

// Two watchers whose lines of sight cross squarely beat two in line with the
// landings, and two together beat either alone; the choice is the same on any
// number of cores.
func TestSpotters(t *testing.T) {
	l := newLinear(10)
	// The cloud's middle is 200 m east, 100 m south of the pad.
	cands := standing(l, geo.XY{X: -500, Y: -100}, geo.XY{X: 1500, Y: -100}, geo.XY{X: 200, Y: -800}, geo.XY{X: 9000, Y: 9000})
	o := SpotterOptions{Seed: 2, Runs: 3000, Trials: 30, Workers: 1}
	got, err := spotters(context.Background(), l, cands, o)
	require.NoError(t, err)
	require.True(t, got.Exhaustive)
	require.Len(t, got.Best, 6)
	assert.Contains(t, got.Best[0].Places, 2)
	assert.Contains(t, []int{0, 1}, got.Best[0].Places[0])
	assert.Less(t, got.Best[0].Area+2*got.Best[0].SE, got.Alone[2].Area)
	assert.Less(t, got.Alone[2].Area, got.Without)
	assert.Zero(t, got.Sees[3].Landing, "nobody sees it from 12 km")
	assert.InEpsilon(t, got.Without, got.Alone[3].Area, 0.15)
	o.Workers = 3
	again, err := spotters(context.Background(), l, cands, o)
	require.NoError(t, err)
	assert.Equal(t, got, again)

	_, err = spotters(context.Background(), l, cands, SpotterOptions{N: 5})
	assert.ErrorContains(t, err, "n 5 with 4 candidates")
}

// ridge is a wall 300 m high north of y = 300.
type ridge struct{}

func (ridge) Elevation(p geo.XY) (float64, bool) {
	if p.Y > 300 && p.Y < 400 {
		return 712, true
	}
	return 412, true
}

// Terrain hides: behind the wall a watcher sees no landing.
func TestSpottersTerrain(t *testing.T) {
	f := streamerFlight()
	f.Terrain = ridge{}
	m := prepared(t, f)
	got, err := Spotters(context.Background(), m, standing(m, geo.XY{X: 100, Y: 700}, geo.XY{X: 100, Y: -500}), SpotterOptions{N: 1, Runs: 1000, Trials: 20})
	require.NoError(t, err)
	assert.Less(t, got.Sees[0].Landing, 0.3)
	assert.Greater(t, got.Sees[1].Landing, 0.8)
}

// The quick measure of an area agrees with the map's own.
func TestRaster(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	pts := make([]geo.XY, 12000)
	w := make([]float64, len(pts))
	for i := range pts {
		pts[i] = geo.XY{X: 100 * rng.NormFloat64(), Y: 60 * rng.NormFloat64()}
	}
	b := newRaster(pts, math.Pi*2*math.Ln10*100*60)
	for _, sd := range []float64{1e6, 60, 30} { // weights that narrow the cloud
		for i, p := range pts {
			w[i] = math.Exp(-0.5 * (p.X*p.X + p.Y*p.Y) / (sd * sd))
		}
		v := func(s float64) float64 { return 1 / math.Sqrt(1/(s*s)+1/(sd*sd)) }
		want := 2 * math.Pi * math.Ln10 * v(100) * v(60) // 90 % ellipse of the product of normals, closed form
		assert.InEpsilon(t, want, b.area(w, b.scratch()), 0.1, "sd %g", sd)
		m, err := grid.From(geo.Frame{}, pts, w, grid.Options{})
		require.NoError(t, err)
		assert.InEpsilon(t, want, m.Area(0.9), 0.1)
	}
}

// Greedy choice with exchanges finds the pair that trying all finds.
func TestExchange(t *testing.T) {
	l := newLinear(10)
	w := &watch{m: l, o: SpotterOptions{N: 2, Runs: 2000, Trials: 20, SeesTo: 3000, Seed: 4}, cands: standing(l, geo.XY{X: -500, Y: -100}, geo.XY{X: 1500, Y: -100}, geo.XY{X: 200, Y: -800}, geo.XY{X: -400, Y: 800})}
	require.NoError(t, w.fly(context.Background()))
	require.NoError(t, w.stand())
	var out Spots
	require.NoError(t, w.choose(context.Background(), &out))
	all, err := w.expect(context.Background(), allSets(4, 2))
	require.NoError(t, err)
	sortStands(all)
	alone, err := w.expect(context.Background(), allSets(4, 1))
	require.NoError(t, err)
	found, err := w.exchange(context.Background(), alone)
	require.NoError(t, err)
	assert.Equal(t, all[0].Places, found[0].Places)
	assert.Equal(t, 6, sets(4, 2))
	assert.Len(t, allSets(7, 3), 35)
}
