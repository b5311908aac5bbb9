package learn

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"windfall/drift"
)

func dropFlight() drift.Flight {
	return drift.Flight{Recovery: []drift.Device{{Kind: "streamer", CdS: 0.08}, {Kind: "parachute", CdS: 0.76, Diameter: 1.1}}}
}

// One drop, by Bayes's rule summed over the bias in 4000 steps: prior and
// likelihood are gonum's normals with the numbers of docs/learning.md.
func TestOneDrop(t *testing.T) {
	f := dropFlight()
	m := MeasuredDrag(&f.Recovery[0], 0.27, 0.12)
	var none Result
	used := none.UseMeasured(&f, []Measured{m})
	prior := distuv.Normal{Sigma: 0.375 * math.Sqrt(30.0/28)}
	seen := distuv.Normal{Mu: 0.27, Sigma: math.Hypot(0.15, 0.12)}
	var w, w1, w2 float64
	for x := -2.0; x < 2; x += 0.001 {
		p := prior.Prob(x) * seen.Prob(x)
		w, w1, w2 = w+p, w1+p*x, w2+p*x*x
	}
	mean, sd := w1/w, math.Sqrt(w2/w-w1*w1/w/w)
	require.Len(t, f.Learned.Devices, 1)
	a := f.Learned.Devices[0]
	assert.InDelta(t, mean, a.Bias, 1e-6)
	assert.InDelta(t, math.Hypot(sd, 0.15), a.Scale*f.DragSpread(0), 1e-6)
	require.Len(t, used, 1)
	assert.Contains(t, used[0], fmt.Sprintf("streamer drag: %.2f of the file's", math.Exp(mean)))
	assert.Contains(t, used[0], "from one drop")
}

// Many drops leave the run-to-run spread and nothing of the bias; a drop of
// another streamer tells nearly as much, one of a canopy nothing.
func TestManyDrops(t *testing.T) {
	f := dropFlight()
	m := MeasuredDrag(&f.Recovery[0], 0.3, 0.1)
	var all []Measured
	for i := range 200 {
		m.Entry = int64(i + 1)
		all = append(all, m)
	}
	var none Result
	none.UseMeasured(&f, all)
	assert.InDelta(t, 0.3, f.Learned.Devices[0].Bias, 0.005)
	assert.InDelta(t, 0.15, f.Learned.Devices[0].Scale*f.DragSpread(0), 0.002)

	other := drift.Flight{Recovery: []drift.Device{{Kind: "streamer", CdS: 0.2}}}
	used := none.UseMeasured(&other, all)
	assert.InDelta(t, 0.3, other.Learned.Devices[0].Bias, 0.005)
	assert.Greater(t, other.Learned.Devices[0].Scale*other.DragSpread(0), f.Learned.Devices[0].Scale*f.DragSpread(0))
	assert.Contains(t, used[0], "200 drops of another of its kind")

	canopy := drift.Flight{Recovery: []drift.Device{{Kind: "parachute", CdS: 0.7, Diameter: 1}}}
	assert.Empty(t, none.UseMeasured(&canopy, all))
	assert.Empty(t, canopy.Learned.Devices)
}

// Drops act one after the other as they do together, in any order, and narrow
// what is believed; a spread that the flight file gives only narrows too.
func TestDropsPool(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := dropFlight()
		if rapid.Bool().Draw(t, "own spread") {
			s := rapid.Float64Range(0.05, 0.5).Draw(t, "spread")
			f.Spread.DeviceCdS = &s
		}
		var all, turned []Measured
		for i := range rapid.IntRange(1, 6).Draw(t, "drops") {
			m := MeasuredDrag(&f.Recovery[0], rapid.Float64Range(-0.7, 0.7).Draw(t, "log"), rapid.Float64Range(0.02, 0.5).Draw(t, "sd"))
			if m.Entry = int64(i + 1); rapid.Bool().Draw(t, "another streamer") {
				m.Group = "streamer 0.5 m2"
			}
			all, turned = append(all, m), append([]Measured{m}, turned...)
		}
		g := f
		var none Result
		none.UseMeasured(&f, all)
		none.UseMeasured(&g, turned)
		assert.InDelta(t, f.Learned.Devices[0].Bias, g.Learned.Devices[0].Bias, 1e-9)
		assert.InDelta(t, f.Learned.Devices[0].Scale, g.Learned.Devices[0].Scale, 1e-9)
		assert.Less(t, f.Learned.Devices[0].Scale, 1.0)
	})
}

// What a learning has seen does not count again, and a later drop counts on top
// of what it says.
func TestMeasuredAfterLearning(t *testing.T) {
	f := dropFlight()
	old, late := MeasuredDrag(&f.Recovery[0], 0.2, 0.1), MeasuredDrag(&f.Recovery[0], 0.4, 0.1)
	old.Entry, old.Revision, late.Entry, late.Revision = 3, 1, 4, 1
	r := Result{Finds: 5, Flights: 5, Measured: []Measured{old}, Factors: []Factor{{Name: "streamer drag", Log: true, Pool: "device",
		Mean: 1.2, MeanSE: 0.1, SD: math.Hypot(0.14, 0.1), Members: []Member{{Name: deviceName(&f.Recovery[0]), Mean: 1.2, SD: 0.2}}}}}
	applied := r.Apply(&f)
	was := f.Learned.Devices[0]
	assert.InDelta(t, math.Log(1.2), was.Bias, 1e-12)
	used := r.UseMeasured(&f, []Measured{old})
	assert.Equal(t, was, f.Learned.Devices[0])
	require.Len(t, used, 1)
	assert.Contains(t, used[0], "one drop and what flights taught")
	require.Contains(t, applied[0], "learned streamer drag: x 1.2")
	assert.Equal(t, applied[1:], Unsaid(applied, used), "a device has one sentence")
	assert.True(t, r.Saw([]Measured{old}))
	assert.False(t, r.Saw(nil))
	assert.False(t, r.Saw([]Measured{old, late}))

	r.UseMeasured(&f, []Measured{old, late})
	v := 0.2*0.2 - 0.14*0.14 // of the mean: the whole less the spread from run to run
	gain := v / (v + 0.14*0.14 + 0.1*0.1)
	assert.InDelta(t, math.Log(1.2)+gain*(0.4-math.Log(1.2)), f.Learned.Devices[0].Bias, 1e-9)
	amended := old
	amended.Revision = 2
	before := f.Learned.Devices[0]
	r.UseMeasured(&f, []Measured{amended})
	assert.NotEqual(t, before, f.Learned.Devices[0], "a corrected drop is another")
	assert.Contains(t, r.UseMeasured(&f, nil)[0], "from what flights taught, without what was taken back")
}

func TestMeasuredLikelihood(t *testing.T) {
	m := Measured{Factor: "streamer drag", Value: 0.3, SD: 0.12}
	at := func(mean, logSpread float64) float64 {
		// in default spreads of 15 %
		return distuv.Normal{Mu: mean, Sigma: math.Hypot(math.Exp(logSpread), 0.12/0.15)}.LogProb(0.3 / 0.15)
	}
	log, byMean, bySpread := m.Likelihood(0.7, math.Exp(-0.2))
	assert.InDelta(t, at(0.7, -0.2), log, 1e-12)
	assert.InDelta(t, (at(0.701, -0.2)-at(0.699, -0.2))/0.002, byMean, 1e-5)
	assert.InDelta(t, (at(0.7, -0.199)-at(0.7, -0.201))/0.002, bySpread, 1e-5)
}

// Pooled by device or one by one, drops tell the same: the normal's conditional
// mean and variance from the whole covariance, written out.
func TestPoolingIsExact(t *testing.T) {
	f := dropFlight()
	a, b := MeasuredDrag(&f.Recovery[0], 0.31, 0.12), MeasuredDrag(&f.Recovery[0], 0.18, 0.2)
	c := b
	c.Group, c.Value = "streamer 0.5 m2", -0.1
	var none Result
	none.UseMeasured(&f, []Measured{a, b, c})
	const run = 0.15
	v, apart := 0.375*0.375*30/28, poolMedian*0.15
	shared := v - apart*apart
	cov := mat.NewSymDense(3, []float64{v + run*run + 0.12*0.12, v, shared, v, v + run*run + 0.2*0.2, shared,
		shared, shared, v + run*run + 0.2*0.2})
	with, miss := mat.NewVecDense(3, []float64{v, v, shared}), mat.NewVecDense(3, []float64{0.31, 0.18, -0.1})
	var gain mat.VecDense
	require.NoError(t, gain.SolveVec(cov, with))
	got := f.Learned.Devices[0]
	assert.InDelta(t, mat.Dot(&gain, miss), got.Bias, 1e-9)
	assert.InDelta(t, math.Sqrt(v-mat.Dot(&gain, with)+run*run), got.Scale*f.DragSpread(0), 1e-9)
}

// A drop that is taken back counts no more, though it was learned from: what is
// left is as if the learning had not had it, to a tenth of the spread, and with
// none left the belief is that before any.
func TestTakenBack(t *testing.T) {
	f := dropFlight()
	var drops []Measured
	for i, v := range []float64{0.3, 0.5, 0.1} {
		m := MeasuredDrag(&f.Recovery[0], v, 0.1)
		m.Entry, m.Revision = int64(i+1), 1
		drops = append(drops, m)
	}
	learnt := func(all []Measured) Result {
		g := dropFlight()
		var none Result
		none.UseMeasured(&g, all)
		total := g.Learned.Devices[0].Scale * g.DragSpread(0)
		mean := math.Exp(g.Learned.Devices[0].Bias)
		return Result{Measured: all, Factors: []Factor{{Name: "streamer drag", Log: true, Pool: "device", Mean: mean, SD: 0.15,
			Members: []Member{{Name: deviceName(&g.Recovery[0]), Mean: mean, SD: total}}}}}
	}
	apply := func(r Result, all []Measured) drift.Adjust {
		g := dropFlight()
		r.Apply(&g)
		r.UseMeasured(&g, all)
		return g.Learned.Devices[0]
	}
	got, want := apply(learnt(drops), drops[:2]), apply(learnt(drops[:2]), drops[:2])
	assert.InDelta(t, want.Bias, got.Bias, 0.02)
	assert.InDelta(t, want.Scale, got.Scale, 0.03)
	none := apply(learnt(drops), nil)
	assert.InDelta(t, 0, none.Bias, 0.05)
	assert.InDelta(t, 1, none.Scale, 0.01)
}

// Where maps do not use what was learned of a device, they use its drops all the
// same, those that it was learned from too.
func TestDropsOfAWithheldFactor(t *testing.T) {
	f, bare := dropFlight(), dropFlight()
	m := MeasuredDrag(&f.Recovery[0], 0.3, 0.1)
	m.Entry, m.Revision = 1, 1
	r := Result{Finds: 4, Measured: []Measured{m}, Factors: []Factor{{Name: "streamer drag", Log: true, Pool: "device", Withheld: true,
		Mean: 0.8, SD: 0.2, Members: []Member{{Name: deviceName(&f.Recovery[0]), Mean: 0.8, SD: 0.2}}}}}
	r.Apply(&f)
	used := r.UseMeasured(&f, []Measured{m})
	var none Result
	want := none.UseMeasured(&bare, []Measured{m})
	assert.Equal(t, want, used)
	assert.Equal(t, bare.Learned.Devices[0], f.Learned.Devices[0])
}
