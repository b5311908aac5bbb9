package learn

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Truths are drawn by gonum's distributions with the numbers that
// docs/learning.md states, not with the code under test.

// drawFactor draws bias (that of its one place, vehicle or device added) and
// spread of a factor, in default spreads; scale is that of the bias.
func drawFactor(r *rand.Rand, scale float64) (mu, s float64) {
	mu = distuv.StudentsT{Mu: 0, Sigma: scale, Nu: 30, Src: r}.Rand()
	tau := distuv.LogNormal{Mu: math.Log(0.15), Sigma: 0.5, Src: r}.Rand()
	mu += distuv.Normal{Sigma: tau, Src: r}.Rand()
	return mu, distuv.LogNormal{Mu: math.Log(0.9), Sigma: 0.25, Src: r}.Rand()
}

// drawTruth draws a club of toy flights.
func drawTruth(r *rand.Rand) truth {
	tr := truth{mu: map[string]float64{}, s: map[string]float64{}, odds: make([]float64, len(toyOutcomes))}
	for _, name := range []string{WindSpeed, WindDirection, LeanAlong, LeanAcross, YawWavelength} {
		tr.mu[name], tr.s[name] = drawFactor(r, 0.5)
	}
	for _, d := range []struct {
		kind  string
		scale float64
	}{{"streamer", 2.5}, {"parachute", 1}} { // 37.5 % and 15 %, in 15 %
		name := dragFactor(d.kind)
		tr.mu[name], tr.s[name] = drawFactor(r, d.scale)
	}
	for i, o := range toyOutcomes {
		tr.odds[i] = o.P
	}
	for range 2 { // the chances of all vehicles, then of the toys' own about them
		sum := 0.0
		for i, p := range tr.odds {
			tr.odds[i] = distuv.Gamma{Alpha: 20 * p, Beta: 1, Src: r}.Rand()
			sum += tr.odds[i]
		}
		floats.Scale(1/sum, tr.odds)
	}
	tr.shape = distuv.LogNormal{Mu: 0, Sigma: 0.25, Src: r}.Rand()
	tr.wrong = distuv.Beta{Alpha: 1, Beta: 49, Src: r}.Rand()
	return tr
}

// clubVerdict is how learning did with one club.
type clubVerdict struct {
	in50, in90 float64 // share of the factors' means and spreads inside their central intervals
	level      float64 // of a new flight of the club on its map
}

// TestCalibration is simulation-based calibration (Talts et al. 2018, arXiv
// 1804.06788) in a form that runs every time: clubs are drawn from the prior and
// fly six toy flights each. A share p of new flights must lie in the p areas of
// their maps, and a share p of the true means and spreads in the central p
// intervals, to three standard errors; those of the latter come from the scatter
// between clubs, whose quantities hang together. The long form has more clubs.
func TestCalibration(t *testing.T) {
	const flights = 6
	clubs := many(80, 320)
	got := make([]clubVerdict, clubs)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < clubs; i = int(next.Add(1)) - 1 {
				got[i] = judgeClub(t, i, flights)
			}
		})
	}
	wg.Wait()
	column := func(of func(clubVerdict) float64) []float64 {
		x := make([]float64, clubs)
		for i, v := range got {
			x[i] = of(v)
		}
		return x
	}
	for _, c := range []struct {
		p    float64
		name string
		of   func(clubVerdict) float64
	}{
		{0.5, "50 % intervals of the factors", func(v clubVerdict) float64 { return v.in50 }},
		{0.9, "90 % intervals of the factors", func(v clubVerdict) float64 { return v.in90 }},
	} {
		mean, sd := stat.MeanStdDev(column(c.of), nil)
		se := sd / math.Sqrt(float64(clubs))
		t.Logf("%s hold %.3f (standard error %.3f)", c.name, mean, se)
		assert.InDelta(t, c.p, mean, 3*se, c.name)
	}
	for _, p := range []float64{0.5, 0.9} {
		share := stat.Mean(column(func(v clubVerdict) float64 {
			if v.level <= p {
				return 1
			}
			return 0
		}), nil)
		se := math.Sqrt(p * (1 - p) / float64(clubs))
		t.Logf("%.0f %% areas of new flights hold %.3f (standard error %.3f)", 100*p, share, se)
		assert.InDelta(t, p, share, 3*se, "areas of new flights")
	}
}

// judgeClub draws a club, learns from its flights and judges what was learned.
func judgeClub(t *testing.T, club, flights int) (v clubVerdict) {
	r := rand.New(rand.NewPCG(uint64(club), 43))
	tr := drawTruth(r)
	cases := season(flights+1, tr, uint64(club)+5000)
	// The last flight is the new one: learning sees it as lying nowhere.
	fresh := cases[flights]
	p, err := Fit(context.Background(), cases[:flights], nil, Options{Seed: uint64(club), Workers: 1, Draws: 600})
	if !assert.NoError(t, err) {
		return v
	}
	n := 0.0
	hold := func(truth float64, of func(d *drawn) float64) {
		x := make([]float64, len(p.draws))
		for i := range p.draws {
			x[i] = of(&p.draws[i])
		}
		slices.Sort(x)
		inside := func(q float64) float64 {
			if stat.Quantile((1-q)/2, stat.Empirical, x, nil) <= truth && truth <= stat.Quantile((1+q)/2, stat.Empirical, x, nil) {
				return 1
			}
			return 0
		}
		v.in50, v.in90, n = v.in50+inside(0.5), v.in90+inside(0.9), n+1
	}
	for k, f := range p.problem.factors {
		if f.scaleOnly {
			hold(tr.shape, func(d *drawn) float64 { return d.s[k] })
			continue
		}
		hold(tr.mu[f.Name], func(d *drawn) float64 { return d.mu[k] + d.u[k][0] })
		hold(tr.s[f.Name], func(d *drawn) float64 { return d.s[k] })
	}
	v.in50, v.in90 = v.in50/n, v.in90/n
	v.level = p.levelOf(&fresh, rand.New(rand.NewPCG(uint64(club), 44)))
	return v
}

// levelOf is the level of a new case's find on the map that its club's finds make.
func (p *Posterior) levelOf(c *Case, r *rand.Rand) float64 {
	like := -1 // a case of the same device
	for i := range p.cases {
		if p.cases[i].Links[2].Factor == c.Links[2].Factor {
			like = i
		}
	}
	w := make([]float64, len(p.draws))
	for i := range w {
		w[i] = 1
	}
	level, _ := p.forecast(like, w).score(c, c.Fly(), r)
	return level
}

func TestDrawnTruthsAreReproducible(t *testing.T) {
	require.Equal(t, drawTruth(rand.New(rand.NewPCG(1, 1))), drawTruth(rand.New(rand.NewPCG(1, 1))))
}
