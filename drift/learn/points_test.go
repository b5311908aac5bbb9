package learn

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"windfall/drift"
	"windfall/geo"
)

// counted is the log of the density of a find, per m2, by flights alone: the
// share of those that come down within 15 m of it.
func counted(c *Case, outcome int, q belief, flights int, seed uint64) float64 {
	r := rand.New(rand.NewPCG(seed, 8))
	fly := c.Fly()
	in := drift.Input{Outcome: outcome, Z: make([]float64, c.Dim)}
	const near = 15.0
	n := 0
	for range flights {
		for i := range in.Z {
			in.Z[i] = q.mean[i] + q.sd[i]*r.NormFloat64()
		}
		at, _ := fly(in)
		if at.Add(geo.XY{X: 5 * r.NormFloat64(), Y: 5 * r.NormFloat64()}).Sub(c.Find).Norm() < near {
			n++
		}
	}
	return math.Log(float64(n) / float64(flights) / (math.Pi * near * near))
}

// under is the log of the density that runs stand for under other factors.
func under(r *runs, mean, sd []float64) float64 {
	logs := make([]float64, r.len())
	r.weigh(mean, sd, logs)
	return floats.LogSumExp(logs)
}

// Less wind with less drag lands in the same place; what little tells them
// apart, a find's runs must know: along that line their density changes as that of
// counted flights does. An error to one side would add up over a logbook.
func TestRunsAlongTheWindDragLine(t *testing.T) {
	var sum, worst float64
	n := 0
	for i, c := range season(16, truth{}, 5) {
		q := belief{mean: make([]float64, c.Dim), sd: make([]float64, c.Dim)}
		for j := range q.sd {
			q.sd[j] = 1
		}
		narrow := append([]float64(nil), q.sd...)
		for _, l := range c.Links { // the runs come from the belief before any find
			narrow[l.Coord] = 0.8
			f := factor{Spec: specOf(l.Factor)}
			q.sd[l.Coord] = beliefWiden * f.priorSD(1)
		}
		var shape []geo.XY
		h, ok := newAim(&c, 0, q, &shape)
		require.True(t, ok)
		all := h.runs(20*mostRuns, true, rand.New(rand.NewPCG(1, uint64(i))))
		require.Positive(t, all.len())
		at := func(f float64) (model, runs float64) {
			moved := belief{mean: append([]float64(nil), q.mean...), sd: narrow}
			moved.mean[0], moved.mean[2] = -1.5*f, 3*f
			h := &aim{c: &c, q: moved}
			mean, sd := h.columns()
			return counted(&c, 0, moved, 200000, uint64(i)), under(&all, mean, sd)
		}
		m0, t0 := at(-1)
		m1, t1 := at(1)
		if m0 < -13 || m1 < -13 {
			continue // too far out to count
		}
		e := (t1 - t0) - (m1 - m0)
		sum, worst = sum+e, math.Max(worst, math.Abs(e))
		n++
	}
	require.Greater(t, n, 8)
	assert.InDelta(t, 0, sum/float64(n), 0.05, "to one side, a flight")
	assert.Less(t, worst, 0.25)
	t.Logf("%d flights: mean error %.3f, worst %.3f", n, sum/float64(n), worst)
}

// Smoothed, a few points say of factors near the belief what thousands of runs do:
// half a spread to either side of every mean, and spreads a quarter smaller.
func TestSmoothedPointsAgreeWithTheirRuns(t *testing.T) {
	var sum, worst float64
	n := 0
	for i, c := range season(16, truth{}, 5) {
		q := belief{mean: make([]float64, c.Dim), sd: make([]float64, c.Dim)}
		for j := range q.sd {
			q.sd[j] = 1
		}
		var shape []geo.XY
		h, ok := newAim(&c, 0, q, &shape)
		require.True(t, ok)
		all := h.runs(20*mostRuns, true, rand.New(rand.NewPCG(1, uint64(i))))
		if all.len() == 0 {
			continue // out of reach
		}
		p := all.smoothed(mostPoints)[0]
		mean, sd := h.columns()
		was := p.logDensity(mean, sd) - under(&all, mean, sd)
		assert.InDelta(t, 0, was, 0.01, "at the belief they are the same")
		for l := range c.Links {
			sd[l] = 0.75
		}
		for l := range c.Links {
			for _, by := range []float64{-0.5, 0.5} {
				mean[l] = by
				e := p.logDensity(mean, sd) - under(&all, mean, sd) - was
				sum, worst = sum+e, math.Max(worst, math.Abs(e))
				n++
			}
			mean[l] = 0
		}
	}
	require.Greater(t, n, 100)
	assert.InDelta(t, 0, sum/float64(n), 0.05)
	assert.Less(t, worst, 0.25)
	t.Logf("%d factors moved: mean error %.3f, worst %.3f", n, sum/float64(n), worst)
}
