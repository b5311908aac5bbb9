package learn

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
			f := factor{Spec: SpecOf(l.Factor)}
			q.sd[l.Coord] = beliefWiden * f.priorSD(1)
		}
		var shape []geo.XY
		h, ok := newAim(&c, 0, q, &shape)
		require.True(t, ok)
		p := h.points(20*mostPoints, true, rand.New(rand.NewPCG(1, uint64(i))))
		require.Positive(t, p.len())
		at := func(f float64) (model, runs float64) {
			moved := belief{mean: append([]float64(nil), q.mean...), sd: narrow}
			moved.mean[0], moved.mean[2] = -1.5*f, 3*f
			h := &aim{c: &c, q: moved}
			mean, sd := h.columns()
			return counted(&c, 0, moved, 200000, uint64(i)), p.logDensity(mean, sd)
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
