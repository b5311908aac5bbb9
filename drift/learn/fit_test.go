package learn

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"windfall/drift"
	"windfall/geo"
)

// strong is a club whose winds are 20 % stronger than forecast and whose
// streamers fall 25 % slower than computed: the drag area is 1/0.75^2 as large.
func strong() truth {
	return truth{mu: map[string]float64{WindSpeed: math.Log(1.2) / 0.15, dragFactor("streamer"): 2 * math.Log(1/0.75) / 0.15}}
}

// Values of scipy 1.10.1, scipy.stats.binomtest(k, n).proportion_ci(c, 'exact').
func TestBinomial(t *testing.T) {
	for _, c := range []struct {
		k, n            int
		conf, low, high float64
	}{
		{18, 20, 0.95, 0.6830172859809209, 0.9876514728297041},
		{0, 10, 0.95, 0, 0.30849710781876294},
		{10, 10, 0.95, 0.6915028921812371, 1},
		{7, 50, 0.95, 0.05819170033997342, 0.26739600249700846},
		{3, 5, 0.99, 0.08282918720147682, 0.9771187786246456},
		{0, 0, 0.95, 0, 1},
	} {
		low, high := Binomial(c.k, c.n, c.conf)
		assert.InDelta(t, c.low, low, 1e-9, c)
		assert.InDelta(t, c.high, high, 1e-9, c)
	}
}

func TestJudge(t *testing.T) {
	for _, c := range []struct {
		inside [3]int
		of     int
		want   string
	}{
		{[3]int{2, 3, 4}, 4, "too few to tell"},
		{[3]int{10, 15, 18}, 20, "about right"},
		{[3]int{3, 6, 8}, 20, "too small"},
		{[3]int{19, 20, 20}, 20, "too wide"},
		{[3]int{36, 36, 36}, 50, "wrong in shape"},
	} {
		assert.Equal(t, c.want, judge(c.inside, c.of), c)
	}
}

// Before any find the factors have the model's default spread, a tenth on the
// wide side: 90 % of them within 1.645 to 1.12 times as many default spreads.
func TestPriorPredictiveIsNearTheDefault(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	const n = 200000
	x := make([]float64, n)
	for i := range x {
		mu, s := drawFactor(r, biasScale)
		x[i] = math.Abs(mu + s*r.NormFloat64())
	}
	slices.Sort(x)
	assert.Greater(t, x[9*n/10], 1.645)
	assert.Less(t, x[9*n/10], 1.645*1.12)
}

// For a landing that is linear in normal inputs the density of a find is a
// normal's, in closed form; hits and the tangent must both give it.
func TestDensityOfALinearFlight(t *testing.T) {
	rows := [2][5]float64{{120, -30, 40, 0, 10}, {20, 80, -10, 25, 5}}
	find := geo.XY{X: 150, Y: -90}
	land := func(in drift.Input) (p geo.XY, ok bool) {
		for i, z := range in.Z {
			p.X += rows[0][i] * z
			p.Y += rows[1][i] * z
		}
		return p, true
	}
	c := Case{Find: find, FindSD: 5, Outcome: -1, Dim: 5, Links: []Link{{Coord: 0, Factor: WindSpeed}, {Coord: 1, Factor: LeanAlong, Ratio: 2}}, Shape: []int{3, 4}}
	for _, q := range []belief{
		{make([]float64, 5), []float64{1, 1, 1, 1, 1}},
		{[]float64{0.8, -0.5, 0, 0, 0}, []float64{1.2, 0.6, 1, 1, 1}},
	} {
		var xx, xy, yy float64 = 25, 0, 25
		d := find
		for i := range 5 {
			v := q.sd[i] * q.sd[i]
			xx += v * rows[0][i] * rows[0][i]
			xy += v * rows[0][i] * rows[1][i]
			yy += v * rows[1][i] * rows[1][i]
			d = d.Sub(geo.XY{X: rows[0][i], Y: rows[1][i]}.Scale(q.mean[i]))
		}
		det := xx*yy - xy*xy
		want := -0.5*(yy*d.X*d.X-2*xy*d.X*d.Y+xx*d.Y*d.Y)/det - math.Log(2*math.Pi*math.Sqrt(det))

		c.Fly = func() func(drift.Input) (geo.XY, bool) { return land }
		var shape []geo.XY
		h, ok := newAim(&c, 0, q, &shape)
		require.True(t, ok)
		all := h.runs(400, true, rand.New(rand.NewPCG(3, 3)))
		require.GreaterOrEqual(t, all.len(), 200)
		mean, sd := h.columns()
		assert.InDelta(t, want, floats.LogSumExp(all.logW), 0.03, "the runs vary with the find's error alone")
		require.Len(t, all.smoothed(50), 1)
		assert.InDelta(t, want, all.smoothed(50)[0].logDensity(mean, sd), 0.03)
	}
}

// Given a find and a belief, the runs' factors have the normal posterior's mean
// and covariance: with x ~ N(m, D), y = J x + e, they are m + D J' V^-1 (y - J m)
// and D - D J' V^-1 J D.
func TestRunsOfALinearFlight(t *testing.T) {
	j := [3]geo.XY{{X: 100, Y: 20}, {X: -40, Y: 60}, {X: 30, Y: 40}} // the last: of no factor
	c := Case{Find: geo.XY{X: 90, Y: 50}, FindSD: 5, Outcome: -1, Dim: 3, Links: []Link{{Coord: 0, Factor: WindSpeed}, {Coord: 1, Factor: LeanAlong}},
		Fly: func() func(drift.Input) (geo.XY, bool) {
			return func(in drift.Input) (p geo.XY, ok bool) {
				for i, z := range in.Z {
					p = p.Add(j[i].Scale(z))
				}
				return p, true
			}
		}}
	q := belief{[]float64{0.3, -0.2, 0}, []float64{0.8, 1.1, 1}}
	var shape []geo.XY
	h, ok := newAim(&c, 0, q, &shape)
	require.True(t, ok)
	p := h.runs(4000, true, rand.New(rand.NewPCG(6, 6)))
	mean, sd := h.columns()
	weights := make([]float64, p.len())
	for i, v := range p.logW {
		weights[i] = math.Exp(v - p.logW[0])
	}
	total := floats.Sum(weights)
	var m, v [2]float64
	for i, w := range weights {
		for k := range m {
			m[k] += w / total * p.row(i)[k]
		}
	}
	for i, w := range weights {
		for k := range v {
			v[k] += w / total * math.Pow(p.row(i)[k]-m[k], 2)
		}
	}
	vxx, vxy, vyy := 25+j[2].X*j[2].X, j[2].X*j[2].Y, 25+j[2].Y*j[2].Y
	d := c.Find
	for k := range mean {
		vxx, vxy, vyy = vxx+sd[k]*sd[k]*j[k].X*j[k].X, vxy+sd[k]*sd[k]*j[k].X*j[k].Y, vyy+sd[k]*sd[k]*j[k].Y*j[k].Y
		d = d.Sub(j[k].Scale(mean[k]))
	}
	det := vxx*vyy - vxy*vxy
	for k := range mean {
		g := sd[k] * sd[k] / det
		gx, gy := g*(j[k].X*vyy-j[k].Y*vxy), g*(j[k].Y*vxx-j[k].X*vxy)
		want := mean[k] + gx*d.X + gy*d.Y
		variance := sd[k]*sd[k] - (gx*j[k].X+gy*j[k].Y)*sd[k]*sd[k]
		assert.InDelta(t, want, m[k], 5*math.Sqrt(variance/4000))
		assert.InDelta(t, variance, v[k], 0.08*variance)
	}
}

// direct is a problem of flights whose one factor is seen without error:
// posteriors are then known by other means.
func direct(x []float64, outcome []int) *problem {
	const exact = 1e8 // precision
	p := &problem{factors: []factor{{Spec: specOf(WindSpeed)}}, names: []string{"nominal", "tangled", "no recovery"},
		shape: []float64{0.87 * outcomeStrength, 0.08 * outcomeStrength, 0.05 * outcomeStrength}}
	p.rate = p.shape
	for i, v := range x {
		p.factors[0].slots = append(p.factors[0].slots, slot{i, 0, -1, 1})
		s := site{vehicle: -1, wrong: -1000, slots: []int{0}, group: []int{-1}, ratio: []float64{1}, names: []int{0, 1, 2}, prior: []float64{0.87, 0.08, 0.05}, c: &Case{}}
		pts := points{width: 1, k: []float64{exact}, h: []float64{exact * v}, c: []float64{-0.5 * exact * v * v}}
		pts.ready()
		s.ways = []way{{pts, outcome[i], false}}
		p.sites = append(p.sites, s)
	}
	return p
}

// The posterior of mean and spread given six values, by quadrature over a grid
// of 2001 x 1501 points with scipy 1.10.1's stats.t and stats.norm.
func TestConjugateMeanAndSpread(t *testing.T) {
	p := direct([]float64{0.9, 1.4, 0.2, 2.1, 1.1, 0.7}, make([]int, 6))
	for _, joint := range []bool{false, true} {
		r := rand.New(rand.NewPCG(4, 4))
		st := p.start(r)
		mv := mover{}
		var m, m2, s, s2 float64
		const n = 60000
		for i := range n + 500 {
			if i == 250 && joint {
				mv.shape()
			}
			mv.frozen = i >= 500
			p.sweep(st, &mv, r)
			if i < 500 {
				continue
			}
			m += st.mu[0] / n
			m2 += st.mu[0] * st.mu[0] / n
			s += st.s[0] / n
			s2 += st.s[0] * st.s[0] / n
		}
		const tol = 0.008 // 4 standard errors of a mean over some 20 000 independent draws
		assert.InDelta(t, 0.734182, m, tol)
		assert.InDelta(t, 0.309371, math.Sqrt(m2-m*m), tol)
		assert.InDelta(t, 0.857087, s, tol)
		assert.InDelta(t, 0.186184, math.Sqrt(s2-s*s), tol)
	}
}

// With every outcome known the chances are Dirichlet: mean (a p + n)/(a + N),
// variance mean (1 - mean)/(a + N + 1).
func TestConjugateOutcomes(t *testing.T) {
	outcome := []int{0, 0, 0, 0, 0, 0, 0, 1, 1, 2}
	p := direct(make([]float64, 10), outcome)
	r := rand.New(rand.NewPCG(5, 5))
	st := p.start(r)
	var m, m2 [3]float64
	const n = 40000
	for range n {
		p.sweep(st, &mover{}, r)
		for j, v := range p.chances(st, &p.sites[0], nil) {
			m[j] += v / n
			m2[j] += v * v / n
		}
	}
	for j, count := range []float64{7, 2, 1} {
		want := (outcomeStrength*p.sites[0].prior[j] + count) / (outcomeStrength + 10)
		sd := math.Sqrt(want * (1 - want) / (outcomeStrength + 11))
		assert.InDelta(t, want, m[j], 4*sd/math.Sqrt(n/2))
		assert.InDelta(t, sd, math.Sqrt(m2[j]-m[j]*m[j]), 0.03*sd)
	}
}

// fit is Fit and Report with short chains, for tests.
func fit(t testing.TB, cases []Case, workers int) (*Posterior, *Result) {
	t.Helper()
	o := Options{Seed: 1, Workers: workers, Draws: 1000}
	p, err := Fit(context.Background(), cases, nil, o)
	require.NoError(t, err)
	r, err := p.Report(context.Background(), o)
	require.NoError(t, err)
	return p, r
}

func factorOf(r *Result, name string) Factor {
	for _, f := range r.Factors {
		if f.Name == name {
			return f
		}
	}
	return Factor{}
}

func TestBiasesAreLearned(t *testing.T) {
	club := strong()
	club.mu[WindSpeed] = math.Log(1.3) / 0.15 // outside maps as wide as their belief of drag
	_, r := fit(t, season(30, club, 1), 0)
	w, s, c := factorOf(r, WindSpeed), factorOf(r, dragFactor("streamer")), factorOf(r, dragFactor("parachute"))
	assert.InDelta(t, math.Log(1.3), math.Log(w.Mean), 3*w.MeanSE)
	assert.InDelta(t, 2*math.Log(1/0.75), math.Log(s.Mean), 3*s.MeanSE)
	assert.InDelta(t, 0, math.Log(c.Mean), 3*c.MeanSE)
	assert.Greater(t, s.Mean, 1.2, "far from the default of 1")
	assert.Less(t, w.MeanSE, 0.1)
	was, now := r.LogScore()
	assert.Greater(t, now, was+0.3)
	last := r.Coverage[len(levels)-1]
	assert.Less(t, last.WasInside, 22, "maps without learning miss too many of 30")
	assert.Greater(t, last.Inside, 23)
	assert.Contains(t, r.Verdict[0], "too small")
	assert.Contains(t, r.Verdict[1], "about right")
}

// One find moves a factor a little; nothing changes where maps were right.
func TestOneFindMovesLittle(t *testing.T) {
	_, r := fit(t, season(1, truth{}, 5), 0)
	for _, f := range r.Factors {
		if f.Name == WindShape || f.Pool == "device" {
			continue // a catalogue's drag may be far off: see prior.go
		}
		move := f.Mean - f.WasMean
		if f.Log {
			move = math.Log(f.Mean)
		}
		assert.Less(t, math.Abs(move), 0.8*f.WasSD, f.Name)
		assert.InDelta(t, f.WasSD, f.Elsewhere.SD, 0.35*f.WasSD, f.Name)
	}
	assert.Contains(t, r.Verdict[0], "too few to tell")
}

// A find logged 20 km off is named and does not wreck what the others teach.
func TestWrongEntryIsNamed(t *testing.T) {
	cases := season(16, strong(), 12)
	_, good := fit(t, cases[1:], 0)
	cases[0].Find = geo.XY{X: 14000, Y: -14000}
	_, r := fit(t, cases, 0)
	assert.Greater(t, r.Scores[0].Wrong, 0.99)
	assert.Contains(t, r.Verdict[len(r.Verdict)-1], "the find of toy-000 does not fit")
	assert.Equal(t, 15, r.Coverage[0].Of)
	for _, f := range good.Factors {
		g := factorOf(r, f.Name)
		if f.Log {
			assert.InDelta(t, math.Log(f.Mean), math.Log(g.Mean), f.MeanSE, f.Name)
		} else {
			assert.InDelta(t, f.Mean, g.Mean, f.MeanSE, f.Name)
		}
		assert.InDelta(t, f.SD, g.SD, 0.3*f.SD, f.Name)
	}
}

func TestSameBytesOnAnyWorkers(t *testing.T) {
	var first []byte
	for _, workers := range []int{1, 2, 7} {
		_, r := fit(t, season(4, truth{}, 6), workers)
		text, err := json.Marshal(r)
		require.NoError(t, err)
		if first == nil {
			first = text
		}
		assert.Equal(t, string(first), string(text), "workers %d", workers)
	}
}

// Leaving a find out by weights agrees with a fit without it.
func TestLeaveOutAgainstRefit(t *testing.T) {
	cases := season(12, strong(), 7)
	p, _ := fit(t, cases, 0)
	out, _ := fit(t, cases[1:], 0)
	w := p.leaveOut(0)
	for k, f := range p.problem.factors {
		if f.scaleOnly {
			continue
		}
		for k2, f2 := range out.problem.factors {
			if f2.Name != f.Name {
				continue
			}
			m, sd := p.predict(k, 0, 1, w)
			m2, sd2 := out.predict(k2, 0, 1, nil)
			assert.InDelta(t, m2, m, 0.35*sd2, f.Name) // both carry Monte Carlo error of 400 draws
			assert.InDelta(t, sd2, sd, 0.3*sd2, f.Name)
		}
	}
}

// Places share what they have in common, and differ where they do: one where
// the wind comes from 25 degrees to the right of the forecast is told from one
// without.
func TestPlacesDiffer(t *testing.T) {
	a := season(14, truth{mu: map[string]float64{WindDirection: 2.5}}, 8)
	b := season(14, truth{}, 9)
	for i := range b {
		b[i].Pad = orb.Point{11, 50}
	}
	_, r := fit(t, append(a, b...), 0)
	w := factorOf(r, WindDirection)
	require.Len(t, w.Members, 2)
	assert.Greater(t, w.Members[0].Mean, w.Members[1].Mean+8)
	assert.Equal(t, 14, w.Members[0].Finds)
	assert.InDelta(t, 10, w.Members[0].Lon, 1e-9)
	assert.Greater(t, w.Elsewhere.SD, w.Members[1].SD)
}

func TestPlacesWithinReachAreOne(t *testing.T) {
	of, at := places([]Case{{Pad: orb.Point{10, 50}}, {Pad: orb.Point{10.01, 50.01}}, {Pad: orb.Point{10.05, 50}}})
	assert.Equal(t, []int{0, 0, 1}, of) // 1.3 km and 3.6 km
	assert.Len(t, at, 2)
}

func TestPlotIsAPicture(t *testing.T) {
	_, r := fit(t, season(6, truth{}, 10), 0)
	var png, svg bytes.Buffer
	require.NoError(t, r.Plot(&png, "png"))
	require.NoError(t, r.Plot(&svg, "svg"))
	assert.True(t, bytes.HasPrefix(png.Bytes(), []byte("\x89PNG")))
	assert.Contains(t, svg.String(), "without learning")
	assert.Error(t, r.Plot(&svg, "bmp"))
}

func TestCancelledFitStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Fit(ctx, season(3, truth{}, 11), nil, Options{})
	assert.ErrorIs(t, err, context.Canceled)
	_, err = Fit(context.Background(), nil, nil, Options{})
	assert.ErrorContains(t, err, "nothing logged")
}
