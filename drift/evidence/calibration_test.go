package evidence

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/grid"
)

// TestCalibration is simulation-based calibration (Talts, Betancourt, Simpson,
// Vehtari and Gelman 2018) of locate on a flight that costs nothing: flights
// are drawn from the prior, each is seen by chance in one to five ways with the
// errors and mistakes that docs/evidence.md states, and located. The truth must
// lie in the p area a share p of the time, and the posterior share of runs west
// of it, and of runs that land earlier, must be uniform.
func TestCalibration(t *testing.T) {
	l := newLinear(8, drift.Chance{Name: "nominal", P: 0.85}, drift.Chance{Name: "tangled", P: 0.15})
	l.shift = []float64{0, -150}
	calibrate(t, l, 150, Options{Runs: 500, Most: 30000})
}

// TestCalibrationOfTheModel is the same of the flight model itself.
//
//	WINDFALL_SLOW=1 go test -run TestCalibrationOfTheModel -v -timeout 2h ./drift/evidence
func TestCalibrationOfTheModel(t *testing.T) {
	if !slow() {
		t.Skip("an hour long; run it with WINDFALL_SLOW=1 go test -v -timeout 2h -run " + t.Name() + " ./drift/evidence")
	}
	calibrate(t, prepared(t, streamerFlight()), 500, Options{Runs: 1500, Most: 60000})
}

// verdict is how the map of one flight did.
type verdict struct {
	level, west, earlier float64 // shares of chance: see calibrate
	sightings            int
	thin                 bool // fewer effective runs than two thirds of those wanted
}

// calibrate locates n flights of m and holds their maps against the truth, to
// three standard errors of a share and the 99.9 % point of chi-squared.
func calibrate(t *testing.T, m model, n int, o Options) {
	got := make([]verdict, n)
	errs := make([]error, n)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range cores(0) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				got[i], errs[i] = judged(m, i, o)
			}
		})
	}
	wg.Wait()
	require.NoError(t, errors.Join(errs...))
	levels := []float64{0.25, 0.5, 0.75, 0.9, 0.95}
	inside := make([]float64, len(levels))
	var west, earlier [10]float64
	sightings, thin := 0, 0
	for _, v := range got {
		west[min(9, int(10*v.west))]++
		earlier[min(9, int(10*v.earlier))]++
		sightings += v.sightings
		if v.thin {
			thin++
		}
		for k, p := range levels {
			if v.level <= p {
				inside[k]++
			}
		}
	}
	t.Logf("%d flights, %d sightings, %d with few effective runs", n, sightings, thin)
	for k, p := range levels {
		se := math.Sqrt(p * (1 - p) * float64(n))
		t.Logf("| %.0f %% | %.0f | %.1f | %.1f | %+.1f |", 100*p, inside[k], p*float64(n), se, (inside[k]-p*float64(n))/se)
		assert.InDelta(t, p*float64(n), inside[k], 3*se+0.5, "area %g", p)
	}
	for name, bins := range map[string][10]float64{"west": west, "earlier": earlier} {
		chi, want := 0.0, float64(n)/10
		for _, b := range bins {
			chi += (b - want) * (b - want) / want
		}
		t.Logf("%s of the truth: %v, chi-squared %.1f with 9 degrees of freedom", name, bins, chi)
		assert.Less(t, chi, distuv.ChiSquared{K: 9}.Quantile(0.999), name)
	}
}

// judged flies flight i of m, has it seen, locates it and judges the map.
func judged(m model, i int, o Options) (v verdict, err error) {
	rng := rand.New(rand.NewPCG(2026, uint64(i)))
	var in drift.Input
	w := &drift.Work{Record: true}
	m.Draw(4242, i, &in)
	truth := m.Fly(in, w)
	seen := witness(m, &truth, w, rng)
	terms, err := readyAll(m, seen)
	if err != nil {
		return v, err
	}
	o.Seed, o.Workers = uint64(i), 1
	s := newSampler(m, terms, o)
	before := newBatch(s.target, 2*o.Runs)
	if err := s.fillPrior(context.Background(), before); err != nil {
		return v, err
	}
	d, err := s.sample(context.Background(), before, o.Runs, o.Most, nil)
	if err != nil {
		return v, err
	}
	v.sightings, v.thin = len(seen), d.eff < 2*float64(o.Runs)/3
	pts := make([]geo.XY, len(d.batch))
	for j := range pts {
		pts[j] = d.batch[j].landing.At
		if pts[j].X < truth.At.X {
			v.west += d.w[j]
		}
		if d.batch[j].landing.LandingS < truth.LandingS {
			v.earlier += d.w[j]
		}
	}
	g, err := grid.From(m.Frame(), pts, d.w, grid.Options{MaxCells: 1 << 14})
	if err != nil {
		return v, err
	}
	v.level = g.LevelAt(truth.At)
	return v, nil
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
