package evidence

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/floats"

	"windfall/drift"
	"windfall/geo"
)

// linear is a flight whose every result is a linear function of its inputs, so
// that the posterior of normal sightings is known in closed form. Row k of
// coef: landing x, y, landing time, apogee height, apogee time.
type linear struct {
	dim      int
	base     [5]float64
	coef     [5][]float64
	outcomes []drift.Chance
	shift    []float64 // of everything, by outcome
}

func newLinear(dim int, outcomes ...drift.Chance) *linear {
	rng := rand.New(rand.NewPCG(7, 7))
	l := &linear{dim: dim, base: [5]float64{200, -100, 90, 600, 11}, outcomes: outcomes}
	if len(outcomes) == 0 {
		l.outcomes = []drift.Chance{{Name: "nominal", P: 1}}
	}
	for k, size := range []float64{150, 90, 12, 30, 0.4} {
		l.coef[k] = make([]float64, dim)
		sum := 0.0
		for j := range l.coef[k] {
			l.coef[k][j] = rng.NormFloat64()
			sum += l.coef[k][j] * l.coef[k][j]
		}
		for j := range l.coef[k] {
			l.coef[k][j] *= size / math.Sqrt(sum)
		}
	}
	l.shift = make([]float64, len(l.outcomes))
	return l
}

func (l *linear) Frame() geo.Frame         { return geo.Frame{Origin: orb.Point{-5.58, 39.05}} }
func (l *linear) Flight() drift.Flight     { return drift.Flight{} }
func (l *linear) Outcomes() []drift.Chance { return l.outcomes }
func (l *linear) Coords() []drift.Coord    { return make([]drift.Coord, l.dim) }

func (l *linear) Draw(seed uint64, i int, in *drift.Input) {
	rng := rand.New(rand.NewPCG(seed, uint64(i)))
	u := rng.Float64()
	for k, c := range l.outcomes {
		in.Outcome = k
		if u -= c.P; u < 0 {
			break
		}
	}
	if cap(in.Z) < l.dim {
		in.Z = make([]float64, l.dim)
	}
	in.Z = in.Z[:l.dim]
	for j := range in.Z {
		in.Z[j] = rng.NormFloat64()
	}
}

func (l *linear) Fly(in drift.Input, w *drift.Work) drift.Landing {
	var v [5]float64
	for k := range v {
		v[k] = l.base[k] + floats.Dot(l.coef[k], in.Z)
	}
	v[0] += l.shift[in.Outcome]
	v[2] += l.shift[in.Outcome] / 10
	out := drift.Landing{At: geo.XY{X: v[0], Y: v[1]}, Outcome: in.Outcome, LandingS: v[2], ApogeeM: v[3], ApogeeS: v[4], EjectionS: v[4] + 1, BurnoutS: 2, LandingMps: 10}
	if w.Record {
		w.Path = append(w.Path[:0],
			drift.Sample{T: 0},
			drift.Sample{T: v[4], Z: v[3]},
			drift.Sample{T: v[2], X: v[0], Y: v[1], VX: v[0] / (v[2] - v[4]), VY: v[1] / (v[2] - v[4]), VZ: -v[3] / (v[2] - v[4])})
		w.Path[1].VX, w.Path[1].VY, w.Path[1].VZ = w.Path[2].VX, w.Path[2].VY, w.Path[2].VZ
	}
	return out
}

func ptr(v float64) *float64 { return &v }

// cloudMoments returns mean and covariance of the cloud.
func cloudMoments(c *drift.Cloud) (mx, my, xx, xy, yy float64) {
	for i, l := range c.Landings {
		mx += c.Weights[i] * l.At.X
		my += c.Weights[i] * l.At.Y
	}
	for i, l := range c.Landings {
		dx, dy := l.At.X-mx, l.At.Y-my
		xx += c.Weights[i] * dx * dx
		xy += c.Weights[i] * dx * dy
		yy += c.Weights[i] * dy * dy
	}
	return
}

// A normal height and a normal time of landing: the posterior is the Gaussian
// conditional (closed form), here with evidence 0, 4 and 6 standard
// deviations from the prior.
func TestConjugate(t *testing.T) {
	for _, far := range []float64{0, 4, 6} {
		l := newLinear(40)
		obs := []Sighting{
			{Kind: Height{HeightM: ptr(600 + far*30), HeightSD: 5, Moment: Moment{Event: "apogee"}}, Sure: ptr(1)},
			{Kind: Timing{Moment: Moment{Event: "landing", At: ptr(90 - far*12), TimeSD: 1}}, Sure: ptr(1)},
		}
		p, err := locate(context.Background(), l, obs, Options{Runs: 10000, Seed: 1})
		require.NoError(t, err)
		t.Log(far, p.Effective, p.Flights, len(p.Cloud.Landings))
		h, s := l.coef[3], l.coef[2]
		a, b, c := floats.Dot(h, h)+25, floats.Dot(h, s), floats.Dot(s, s)+1
		det := a*c - b*b
		d1, d2 := far*30, -far*12
		for k := range 2 {
			g1, g2 := floats.Dot(l.coef[k], h), floats.Dot(l.coef[k], s)
			k1, k2 := (g1*c-g2*b)/det, (g2*a-g1*b)/det
			want := l.base[k] + k1*d1 + k2*d2
			sd := math.Sqrt(floats.Dot(l.coef[k], l.coef[k]) - k1*g1 - k2*g2)
			mx, my, xx, _, yy := cloudMoments(p.Cloud)
			got, gotSD := mx, math.Sqrt(xx)
			if k == 1 {
				got, gotSD = my, math.Sqrt(yy)
			}
			require.InDelta(t, want, got, 5*sd/math.Sqrt(p.Effective))
			require.InDelta(t, sd, gotSD, 5*sd/math.Sqrt(2*p.Effective))
		}
		require.GreaterOrEqual(t, p.Effective, 10000.0)
	}
}
