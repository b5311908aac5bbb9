package evidence

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/drift/internal/stream"
	"windfall/geo"
	"windfall/geo/grid"
)

// bearingOf makes a bearing of the landing from a place of the frame.
func bearingOf(m model, from, to geo.XY, off float64) Sighting {
	p := m.Frame().Place(from)
	f := geo.Frame{Origin: m.Frame().ToLonLat(from)}
	b := geo.NormDeg(f.ToXY(m.Frame().ToLonLat(to)).BearingDeg() + off)
	return Sighting{Kind: Bearing{Observer: Observer{From: &p}, BearingDeg: &b, Moment: Moment{Event: "landing"}}}
}

// sharp is a bearing with another standard deviation, degrees.
func sharp(s Sighting, sd float64) Sighting {
	b := s.Kind.(Bearing)
	b.BearingSD = sd
	s.Kind = b
	return s
}

// Two exact bearings meet where plane geometry says: the lines from (x1, y1)
// and (x2, y2) on bearings b1 and b2 meet at p1 + d1 u1 with
// d1 = (p2-p1) x u2 / (u1 x u2). The frame is true to a plane within a
// millimetre at these ranges (geo.Frame).
func TestTwoExactBearingsIntersect(t *testing.T) {
	l := newLinear(30)
	p1, p2 := geo.XY{X: -300, Y: -400}, geo.XY{X: 500, Y: -600}
	b1, b2 := 60.0, 335.0 // in the plane, from the frame's north
	u1, u2 := geo.Polar(1, b1), geo.Polar(1, b2)
	cross := func(a, b geo.XY) float64 { return a.X*b.Y - a.Y*b.X }
	want := p1.Add(u1.Scale(cross(p2.Sub(p1), u2) / cross(u1, u2)))
	seen := []Sighting{bearingOf(l, p1, want, 0), bearingOf(l, p2, want, 0)}
	for i := range seen {
		seen[i] = sharp(seen[i], 0.05)
		seen[i].Sure = ptr(1)
	}
	p, err := locate(context.Background(), l, seen, Options{Runs: 4000, Seed: 3})
	require.NoError(t, err)
	mx, my, xx, _, yy := cloudMoments(p.Cloud)
	// 0.05 degrees at some 900 m is 0.8 m; the mean of a few thousand runs is
	// known to a hundredth of that, the prior draws it by less than a tenth.
	assert.InDelta(t, want.X, mx, 0.3)
	assert.InDelta(t, want.Y, my, 0.3)
	assert.Less(t, math.Sqrt(xx+yy), 2.0)
	assert.GreaterOrEqual(t, p.Effective, 4000.0)
}

// rejection is the posterior of l by brute force: n runs of the prior, each
// kept with a chance in proportion to its likelihood.
func rejection(l model, seen []Sighting, n int) (pts []geo.XY, outcome []float64) {
	var terms []*term
	for _, s := range seen {
		t, err := ready(s, l)
		if err != nil {
			panic(err)
		}
		terms = append(terms, t)
	}
	w := &drift.Work{}
	for _, t := range terms {
		w.Record = w.Record || t.recorded()
	}
	outcome = make([]float64, len(l.Outcomes()))
	best := math.Inf(-1)
	type kept struct {
		ll  float64
		at  geo.XY
		out int
	}
	var all []kept
	var in drift.Input
	for i := range n {
		l.Draw(77, i, &in)
		land := l.Fly(in, w)
		ll := 0.0
		for _, t := range terms {
			ll += logAdd(t.likelihood(&land, w), t.wrong)
		}
		if ll > best {
			best = ll
		}
		if ll > best-20 {
			all = append(all, kept{ll, land.At, in.Outcome})
		}
	}
	for i, k := range all {
		u := float64(stream.Mix(uint64(i)+0xabc)>>11) / (1 << 53)
		if u < math.Exp(k.ll-best) {
			pts = append(pts, k.at)
			outcome[k.out]++
		}
	}
	for k := range outcome {
		outcome[k] /= float64(len(pts))
	}
	return pts, outcome
}

// agree holds a posterior against brute force: the mean within 2 % of the
// semi-major axis, the 90 % area within 5 %, outcome chances within their
// errors, each with the sampling error of the brute force added.
func agree(t *testing.T, m model, p *Posterior, pts []geo.XY, outcome []float64) {
	t.Helper()
	brute, err := grid.Measure(pts, nil)
	require.NoError(t, err)
	at := make([]geo.XY, len(p.Cloud.Landings))
	for i := range at {
		at[i] = p.Cloud.Landings[i].At
	}
	ours, err := grid.Measure(at, p.Cloud.Weights)
	require.NoError(t, err)
	axis := brute.Ellipse(1 - math.Exp(-0.5)).SemiMajor
	noise := 3 * axis / math.Sqrt(float64(len(pts)))
	assert.Less(t, ours.Mean.Sub(brute.Mean).Norm(), 0.02*axis+noise, "mean, axis %.1f", axis)
	a, err := grid.From(m.Frame(), pts, nil, grid.Options{})
	require.NoError(t, err)
	b, err := grid.From(m.Frame(), at, p.Cloud.Weights, grid.Options{})
	require.NoError(t, err)
	assert.InEpsilon(t, a.Area(0.9), b.Area(0.9), 0.05+3/math.Sqrt(float64(len(pts))))
	for k, o := range p.Outcomes {
		se := math.Sqrt(outcome[k] * (1 - outcome[k]) / float64(len(pts)))
		assert.InDelta(t, outcome[k], o.After, 4*math.Hypot(se, o.SE)+4/float64(len(pts)), o.Name)
	}
	t.Logf("%d kept of brute force; 90 %% area %.0f and %.0f m2; effective %.0f", len(pts), a.Area(0.9), b.Area(0.9), p.Effective)
}

// The posterior against brute-force rejection with a million runs, on a flight
// cheap enough for that, with outcomes and sightings of several kinds, one of
// them mistaken.
func TestAgainstRejection(t *testing.T) {
	l := newLinear(8, drift.Chance{Name: "nominal", P: 0.8}, drift.Chance{Name: "tangled", P: 0.15}, drift.Chance{Name: "no recovery", P: 0.05})
	l.shift = []float64{0, -150, -300}
	seen := []Sighting{
		bearingOf(l, geo.XY{X: -500, Y: -300}, geo.XY{X: 150, Y: -150}, 0),
		bearingOf(l, geo.XY{X: 300, Y: 500}, geo.XY{X: 150, Y: -150}, 2),
		bearingOf(l, geo.XY{X: 600, Y: -100}, geo.XY{X: 800, Y: 700}, 0),
		{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(85), TimeSD: 4}}},
	}
	p, err := locate(context.Background(), l, seen, Options{Runs: 20000, Seed: 1})
	require.NoError(t, err)
	pts, outcome := rejection(l, seen, 1_000_000)
	agree(t, l, p, pts, outcome)
	assert.Greater(t, p.Sightings[0].Wrong+p.Sightings[1].Wrong+p.Sightings[2].Wrong, 0.9, "one is mistaken")
}

// Neither the order of the sightings nor the number of cores changes a bit.
func TestOrderAndCores(t *testing.T) {
	l := newLinear(20)
	seen := []Sighting{
		bearingOf(l, geo.XY{X: -500, Y: -300}, geo.XY{X: 150, Y: -150}, 0),
		bearingOf(l, geo.XY{X: 300, Y: 500}, geo.XY{X: 150, Y: -150}, 2),
		{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(85), TimeSD: 4}}},
	}
	for i := range seen {
		seen[i].ID = int64(i + 1)
	}
	want, err := locate(context.Background(), l, seen, Options{Runs: 1000, Seed: 5, Workers: 1})
	require.NoError(t, err)
	for _, c := range []struct{ order, workers int }{{0, 2}, {0, 7}, {1, 2}, {2, 1}} {
		turned := append(append([]Sighting{}, seen[c.order:]...), seen[:c.order]...)
		got, err := locate(context.Background(), l, turned, Options{Runs: 1000, Seed: 5, Workers: c.workers})
		require.NoError(t, err)
		require.Equal(t, want, got, "%+v", c)
	}
	other, err := locate(context.Background(), l, seen, Options{Runs: 1000, Seed: 6})
	require.NoError(t, err)
	assert.NotEqual(t, want.Cloud.Landings[0], other.Cloud.Landings[0])
}

// Without sightings the posterior is the prior, run for run.
func TestNothingSeen(t *testing.T) {
	l := newLinear(20)
	p, err := locate(context.Background(), l, nil, Options{Runs: 500, Seed: 5})
	require.NoError(t, err)
	var in drift.Input
	l.Draw(5, 7, &in)
	assert.Equal(t, l.Fly(in, &drift.Work{}), p.Cloud.Landings[7])
	assert.Nil(t, p.Cloud.Weights)
	assert.Equal(t, 500.0, p.Effective)
}

// What each sighting did: the mistaken one is named and moved little, of the
// right ones the sharper moved more.
func TestInfluence(t *testing.T) {
	l := newLinear(20)
	truth := geo.XY{X: 150, Y: -150}
	seen := []Sighting{bearingOf(l, geo.XY{X: -500, Y: -300}, truth, 0), bearingOf(l, geo.XY{X: 300, Y: 500}, truth, 0), bearingOf(l, geo.XY{X: 0, Y: -600}, geo.XY{X: -400}, 0)}
	seen[0], seen[1] = sharp(seen[0], 1), sharp(seen[1], 10)
	for i := range seen {
		seen[i].ID = int64(i + 1)
	}
	p, err := locate(context.Background(), l, seen, Options{Runs: 4000, Seed: 1})
	require.NoError(t, err)
	require.Len(t, p.Sightings, 3)
	assert.Greater(t, p.Sightings[2].Wrong, 0.9)
	assert.Less(t, p.Sightings[0].Wrong, 0.1)
	assert.Greater(t, p.Sightings[0].Moved, p.Sightings[1].Moved)
	assert.Less(t, p.Sightings[2].Moved, 0.1)
	require.Len(t, p.Cautions, 1)
	assert.Contains(t, p.Cautions[0], "sighting 3 (bearing")

	// The map without sighting 2 is the map of the others alone.
	alone, err := locate(context.Background(), l, []Sighting{seen[0], seen[2]}, Options{Runs: 4000, Seed: 1, Divided: true})
	require.NoError(t, err)
	d := &weighted{batch: make(batch, len(alone.Cloud.Landings)), w: alone.Cloud.Weights}
	for i, at := range alone.Cloud.Landings {
		d.batch[i].landing = at
	}
	want, err := area90(l.Frame(), d)
	require.NoError(t, err)
	assert.InEpsilon(t, want, p.Sightings[1].AreaWithout, 0.1) // both from a few hundred effective runs or more
}

func TestContradiction(t *testing.T) {
	l := newLinear(20)
	a := bearingOf(l, geo.XY{X: -200, Y: -100}, geo.XY{X: 200, Y: 0}, 0)
	b := bearingOf(l, geo.XY{X: 500, Y: -100}, geo.XY{X: 200, Y: -50}, 0)
	a, b = sharp(a, 0.5), sharp(b, 0.5)
	a.ID, b.ID = 3, 8
	_, err := locate(context.Background(), l, []Sighting{b, a}, Options{Runs: 2000, Seed: 1})
	assert.NoError(t, err, "they meet")

	b = bearingOf(l, geo.XY{X: 500, Y: -100}, geo.XY{X: 900, Y: -200}, 0)
	b = sharp(b, 0.5)
	b.ID = 8
	for _, sure := range []float64{0.95, 1} {
		a.Sure, b.Sure = ptr(sure), ptr(sure)
		_, err = locate(context.Background(), l, []Sighting{b, a}, Options{Runs: 2000, Seed: 1})
		var c *Contradiction
		require.ErrorAs(t, err, &c)
		assert.Equal(t, int64(3), c.A.ID)
		require.NotNil(t, c.B)
		assert.Equal(t, int64(8), c.B.ID)
		assert.ErrorContains(t, err, "no simulated flight explains both")
		assert.NotContains(t, err.Error(), "\n")
	}
	a.Sure, b.Sure = nil, nil
	p, err := locate(context.Background(), l, []Sighting{b, a}, Options{Runs: 2000, Seed: 1, Divided: true})
	require.NoError(t, err)
	assert.NotEmpty(t, p.Cautions)

	// A single one that no flight comes near.
	_, err = locate(context.Background(), l, []Sighting{{ID: 2, Kind: Height{HeightM: ptr(3000), HeightSD: 5, Moment: Moment{Event: "apogee"}}}}, Options{Runs: 2000, Seed: 1})
	assert.ErrorContains(t, err, "no simulated flight explains sighting 2 (height 3000 m at apogee)")
}

func TestMostly(t *testing.T) {
	room := make([]float64, 8)
	assert.InDelta(t, 0.25, mostly([]float64{0.5, 0.5}, room[:3]), 1e-12) // both of two
	assert.InDelta(t, 0.5, mostly([]float64{0.5, 0.5, 0.5}, room[:4]), 1e-12)
	assert.InDelta(t, 0.9*0.8+0.9*0.2*0.1+0.1*0.8*0.1, mostly([]float64{0.9, 0.8, 0.1}, room[:4]), 1e-12)
	assert.InDelta(t, 0.3, mostly([]float64{0.3}, room[:2]), 1e-12)
}
