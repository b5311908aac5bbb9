package evidence

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
)

// TestCalibration is simulation-based calibration (Talts, Betancourt, Simpson,
// Vehtari and Gelman 2018): 500 flights are drawn from the prior, each is seen
// by chance in one to five ways with the errors and mistakes the likelihoods
// claim, and located. The truth must lie in the p area a share p of the time,
// and the posterior share of runs west of it, and of runs that land earlier,
// must be uniform.
//
//	WINDFALL_SLOW=1 go test -run TestCalibration -v -timeout 2h ./drift/evidence
func TestCalibration(t *testing.T) {
	n := 6
	if slow() {
		n = 500
	}
	f := streamerFlight()
	m := prepared(t, f)
	levels := []float64{0.25, 0.5, 0.75, 0.9, 0.95}
	inside := make([]float64, len(levels))
	var west, earlier [10]float64
	sightings, thin := 0, 0
	for i := range n {
		rng := rand.New(rand.NewPCG(2026, uint64(i)))
		var in drift.Input
		w := &drift.Work{Record: true}
		m.Draw(4242, i, &in)
		truth := m.Fly(in, w)
		seen := witness(m, &truth, w, rng)
		sightings += len(seen)
		terms, err := readyAll(m, seen)
		require.NoError(t, err)
		o := Options{Runs: 1500, Seed: uint64(i), Most: 60000}
		s := newSampler(m, terms, o)
		before := newBatch(s.target, 3000)
		require.NoError(t, s.fillPrior(context.Background(), before, 0, 3000))
		d, err := s.sample(context.Background(), before, o.Runs, o.Most, nil)
		require.NoError(t, err)
		require.NotNil(t, d)
		if d.eff < 1000 {
			thin++
		}
		pts := make([]geo.XY, d.len())
		var x, s0 float64
		for j := range pts {
			pts[j] = d.landing[j].At
			if pts[j].X < truth.At.X {
				x += d.w[j]
			}
			if d.landing[j].LandingS < truth.LandingS {
				s0 += d.w[j]
			}
		}
		west[min(9, int(10*x))]++
		earlier[min(9, int(10*s0))]++
		g, err := grid.From(m.Frame(), pts, d.w, grid.Options{})
		require.NoError(t, err)
		level := g.LevelAt(truth.At)
		for k, p := range levels {
			if level <= p {
				inside[k]++
			}
		}
	}
	t.Logf("%d flights, %d sightings, %d with fewer than 1000 effective runs", n, sightings, thin)
	for k, p := range levels {
		se := math.Sqrt(p * (1 - p) * float64(n))
		t.Logf("| %.0f %% | %.0f | %.1f | %.1f | %+.1f |", 100*p, inside[k], p*float64(n), se, (inside[k]-p*float64(n))/se)
		assert.InDelta(t, p*float64(n), inside[k], 3*se+0.5, "area %g", p)
	}
	chi := func(bins [10]float64) (c float64) {
		for _, b := range bins {
			e := float64(n) / 10
			c += (b - e) * (b - e) / e
		}
		return c
	}
	t.Logf("west of the truth: %v chi2 %.1f; earlier: %v chi2 %.1f (9 degrees of freedom)", west, chi(west), earlier, chi(earlier))
	if slow() { // the 99.9 % point of chi-squared with 9 degrees of freedom, from memory
		assert.Less(t, chi(west), 27.9)
		assert.Less(t, chi(earlier), 27.9)
	}
}

// witness makes one to five sightings of a flight, with the errors, and for
// bearings the mistakes, that their likelihoods claim.
func witness(m model, l *drift.Landing, w *drift.Work, rng *rand.Rand) []Sighting {
	var out []Sighting
	for range 1 + rng.IntN(5) {
		from := m.Frame().Place(geo.Polar(200+900*rng.Float64(), 360*rng.Float64()))
		s := Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(0)}
		var p moment
		switch rng.IntN(6) {
		case 0, 1:
			s.Event, p = "landing", moment{x: l.At.X, y: l.At.Y}
		case 2:
			s.ElevDeg, s.Event, p = ptr(0), "apogee", at(w.Path, l.ApogeeS)
		case 3:
			p = at(w.Path, l.LandingS*rng.Float64()) // last seen, at any time in the air
		case 4:
			s.At, p = ptr(math.Max(0, 9+rng.NormFloat64())), at(w.Path, 9)
		default:
			sd := 2.0
			out = append(out, Sighting{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(math.Max(0, l.LandingS+sd*rng.NormFloat64())), TimeSD: sd}}, Sure: ptr(1)})
			continue
		}
		where, err := ready(Sighting{Kind: Bearing{Observer: Observer{From: &from}, BearingDeg: ptr(0), Moment: Moment{Event: "landing"}}}, m)
		if err != nil {
			panic(err)
		}
		b, e := where.law.(*bearingLaw).direction(&p)
		b, e = geo.NormDeg(b+3*rng.NormFloat64()), e+3*rng.NormFloat64()
		if rng.Float64() > 0.95 {
			b, e = 360*rng.Float64(), 90*rng.Float64()
		}
		s.BearingDeg = &b
		if s.ElevDeg != nil {
			e = math.Min(e, 90)
			s.ElevDeg = &e
		}
		out = append(out, Sighting{Kind: s})
	}
	return out
}
