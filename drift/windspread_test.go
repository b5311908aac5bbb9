package drift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/wind"
)

// ownSpread is a flight in a wind of 6 m/s whose error is known in closed form.
func ownSpread(s *wind.Spread) Flight {
	f := small()
	f.Wind = []wind.Choice{{Profile: wind.Profile{Spread: s, Levels: []wind.Level{
		{Height: 0.1, Speed: 6, FromDeg: 270}, {Height: 5000, Speed: 6, FromDeg: 270}}}}}
	return f
}

// The runs' wind has the mean, the variances and the covariance that the spread
// says: sd(z) sd(z') exp(-|z-z'|/reach) and, of sizes whose logarithms spread by
// t and t', exp(-(t-t')2/2) of it; the mean of a layer, which is what moves a
// thing that falls evenly, 2 (L/H)2 (H/L - 1 + exp(-H/L)) of the variance of one
// height. Four standard errors of 20 000 runs.
func TestRunsHaveTheSpreadsCovariance(t *testing.T) {
	s := &wind.Spread{Kind: wind.Surface, Reach: 1000, Rows: []wind.SpreadRow{
		{Height: 0, U: 1, V: -2, SD: 2, Tail: 0.5}, {Height: 200, U: 1, V: -2, SD: 2, Tail: 0.3}}}
	m, err := Prepare(ownSpread(s))
	require.NoError(t, err)
	var w Work
	var in Input
	const runs = 20000
	const top = 200.0
	heights := []float64{0.5, 50, 200}
	mean, square := make([]float64, 3), [3][3]float64{}
	layer := 0.0
	for i := range runs {
		m.Draw(3, i, &in)
		w.m, w.table = m, m.table
		w.resolve(m, in)
		at := make([]float64, 3)
		for k, z := range heights {
			c := w.windCell(z)
			at[k] = c.v + c.dv*(z-c.z)
			mean[k] += at[k] / runs
		}
		for j := range at {
			for k := range at {
				square[j][k] += (at[j] + 2) * (at[k] + 2) / runs
			}
		}
		sum := 0.0
		for k := range 100 {
			z := top * (float64(k) + 0.5) / 100
			c := w.windCell(z)
			sum += (c.v + c.dv*(z-c.z) + 2) / 100
		}
		layer += sum * sum / runs
	}
	se := 4 * 4 * math.Sqrt(3*math.Exp(1)/runs)
	for j, z := range heights {
		assert.InDelta(t, -2, mean[j], 4*2/math.Sqrt(runs), "mean at %v m", z)
		for k, y := range heights {
			tail := s.At(z).Tail - s.At(y).Tail
			assert.InDelta(t, 4*math.Exp(-math.Abs(z-y)/1000)*math.Exp(-tail*tail/2), square[j][k], se, "%v and %v m", z, y)
		}
	}
	x := top / s.Reach
	assert.InDelta(t, 4*2/(x*x)*(x-1+math.Exp(-x)), layer, se+0.02*4, "layer")
}

// The nominal flight has the wind as given, and a flight that gives any spread
// of the wind has the same runs as before winds had their own.
func TestGivenSpreadsHold(t *testing.T) {
	s := &wind.Spread{Kind: wind.Surface, Reach: 1400, Carried: 0.5, Rows: []wind.SpreadRow{{Height: 0, U: 3, SD: 4, Tail: 0.4}}}
	given, without := ownSpread(s), ownSpread(nil)
	for _, set := range []func(*Spread){
		func(s *Spread) { s.WindSpeed = ptr(0.15) }, func(s *Spread) { s.WindDirectionDeg = ptr(10) }, func(s *Spread) { s.WindShape = ptr(1) },
	} {
		given.Spread, without.Spread = Spread{}, Spread{}
		set(&given.Spread)
		set(&without.Spread)
		a, err := Prepare(given)
		require.NoError(t, err)
		b, err := Prepare(without)
		require.NoError(t, err)
		assert.Equal(t, b.Coords(), a.Coords())
		assert.Nil(t, given.MainSpread())
		var in Input
		var w Work
		for i := range 20 {
			a.Draw(1, i, &in)
			x := a.Fly(in, &w)
			b.Draw(1, i, &in)
			assert.Equal(t, b.Fly(in, &w).At, x.At)
		}
	}
	own, err := Prepare(ownSpread(s))
	require.NoError(t, err)
	plain, err := Prepare(ownSpread(nil))
	require.NoError(t, err)
	assert.Equal(t, plain.Nominal().At, own.Nominal().At)
	assert.Contains(t, own.Coords(), Coord{"wind error size", "wind error size"})
}

// A device's drag starts from one belief: what was computed may be off by far
// more than it varies, what was measured not.
func TestDragBelief(t *testing.T) {
	f := Flight{Recovery: []Device{{Kind: "streamer"}, {Kind: "parachute"}, {Kind: "parachute", DescentRate: ptr(5)}}}
	assert.InDelta(t, math.Sqrt(0.375*0.375*30/28+0.15*0.15), f.DragSpread(0), 1e-12)
	assert.InDelta(t, math.Sqrt(0.15*0.15*30/28+0.15*0.15), f.DragSpread(1), 1e-12)
	assert.InDelta(t, 0.15, f.DragSpread(2), 1e-12)
	f.Spread.DeviceCdS = ptr(0.2)
	assert.InDelta(t, 0.2, f.DragSpread(0), 1e-12)
}

// The share of an outcome is dealt out evenly: its error is measured between
// the replicates, over seeds the scatter that it says.
func TestShareSE(t *testing.T) {
	f := small()
	f.Outcomes = []Chance{{"nominal", 0.9}, {"no recovery", 0.1}}
	m, err := Prepare(f)
	require.NoError(t, err)
	var in Input
	said, off := 0.0, 0.0
	const seeds, runs = 60, 1000
	for seed := range uint64(seeds) {
		c := Cloud{Landings: make([]Landing, runs)}
		for i := range runs {
			m.Draw(seed, i, &in)
			c.Landings[i].Outcome = in.Outcome
		}
		is := func(i int) bool { return c.Landings[i].Outcome == 1 }
		n := 0.0
		for i := range runs {
			if is(i) {
				n++
			}
		}
		said += sq(c.ShareSE(is)) / seeds
		off += sq(n/runs-0.1) / seeds
	}
	assert.InDelta(t, 1, math.Sqrt(said/off), 0.35)
	assert.Less(t, math.Sqrt(said), 0.4*math.Sqrt(0.1*0.9/runs))
}
