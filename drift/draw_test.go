package drift

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/geo"
)

// plain is flat terrain at an elevation.
type plain float64

func (p plain) Elevation(geo.XY) (float64, bool) { return float64(p), true }

// The first points of dimensions 0, 1, 2, 9 and 39 by scipy.stats.qmc.Sobol
// (SciPy 1.10.1, scramble=False), which takes the sequence in Gray-code order:
// its point i is ours of index i^(i>>1).
func TestSobolAgainstSciPy(t *testing.T) {
	want := map[int][]float64{
		0:  {0.0, 0.5, 0.75, 0.25, 0.375, 0.875, 0.625, 0.125, 0.1875, 0.6875, 0.9375, 0.4375, 0.3125, 0.8125, 0.5625, 0.0625},
		1:  {0.0, 0.5, 0.25, 0.75, 0.375, 0.875, 0.125, 0.625, 0.3125, 0.8125, 0.0625, 0.5625, 0.1875, 0.6875, 0.4375, 0.9375},
		2:  {0.0, 0.5, 0.25, 0.75, 0.625, 0.125, 0.875, 0.375, 0.9375, 0.4375, 0.6875, 0.1875, 0.3125, 0.8125, 0.0625, 0.5625},
		9:  {0.0, 0.5, 0.75, 0.25, 0.625, 0.125, 0.375, 0.875, 0.3125, 0.8125, 0.5625, 0.0625, 0.9375, 0.4375, 0.1875, 0.6875},
		39: {0.0, 0.5, 0.25, 0.75, 0.875, 0.375, 0.625, 0.125, 0.5625, 0.0625, 0.8125, 0.3125, 0.4375, 0.9375, 0.1875, 0.6875},
	}
	for dim, points := range want {
		for i, v := range points {
			k := uint32(i)
			assert.Equal(t, v, float64(sobol(dim, k^k>>1))/(1<<32), "dimension %d point %d", dim, i)
		}
	}
}

// Each coordinate is N(0, 1): over whole scrambled sequences the mean is 0 and
// the variance 1 far closer than random draws of that number would be, and
// coordinates do not correlate (5 standard errors of random draws).
func TestDrawIsStandardNormal(t *testing.T) {
	m, err := Prepare(dual())
	require.NoError(t, err)
	const n = 1 << 13
	d := len(m.coords)
	sum, square, cross := make([]float64, d), make([]float64, d), make([]float64, d)
	outcomes := make([]float64, len(m.outcomes))
	var in Input
	for i := range n {
		m.Draw(5, i, &in)
		outcomes[in.Outcome]++
		for j, z := range in.Z {
			sum[j] += z
			square[j] += z * z
			cross[j] += z * in.Z[(j+1)%d]
		}
	}
	for j := range d {
		limit := 5.0
		if j < len(sobolMatrix)-1 {
			limit = 1
		}
		assert.Less(t, math.Abs(sum[j])/n, limit/math.Sqrt(n), m.coords[j].Name)
		assert.InDelta(t, 1, square[j]/n, limit*math.Sqrt(2.0/n), m.coords[j].Name)
		assert.Less(t, math.Abs(cross[j])/n, 5/math.Sqrt(n), m.coords[j].Name)
	}
	for k, c := range m.outcomes {
		assert.InDelta(t, c.P, outcomes[k]/n, 0.5*math.Sqrt(c.P/n))
	}
}

// The delay's normal is drawn again beyond its bound: its variance is that of
// the truncated normal, 1 - 2 b phi(b)/(2 Phi(b) - 1) (Johnson, Kotz and
// Balakrishnan 1994, section 13.10).
func TestTruncated(t *testing.T) {
	const n = 20000
	sum := 0.0
	for i := range n {
		x := truncated(normalQuantile((float64(i)+0.5)/n), 0.1, 0.2)
		assert.LessOrEqual(t, math.Abs(x), 0.2)
		sum += x * x
	}
	phi := math.Exp(-2) / math.Sqrt(2*math.Pi)
	want := 0.01 * (1 - 4*phi/(2*normalCDF(2)-1))
	assert.InEpsilon(t, want, sum/n, 1e-3)
}

// randomFlight draws a flight over wide ranges.
func randomFlight(t *rapid.T) Flight {
	f := small()
	k := rapid.Float64Range(0.3, 4).Draw(t, "size")
	f.Vehicle.Mass *= k
	f.Motor.Impulse = ptr(9 * k * rapid.Float64Range(0.7, 3).Draw(t, "impulse"))
	f.Motor.Propellant = ptr(0.011 * k)
	f.Motor.Delay = ptr(rapid.Float64Range(0, 9).Draw(t, "delay"))
	f.Rail.LeanDeg = rapid.Float64Range(0, 20).Draw(t, "lean")
	f.Rail.TowardDeg = rapid.Float64Range(0, 360).Draw(t, "toward")
	f.Wind[0].Profile.Levels[0].Speed = rapid.Float64Range(0, 12).Draw(t, "wind")
	f.Wind[0].Profile.Levels[0].FromDeg = rapid.Float64Range(0, 360).Draw(t, "from")
	if rapid.Bool().Draw(t, "points at once") {
		f.Vehicle.YawWavelength = ptr(0)
	}
	return f
}

func TestMirroredFlightsLandMirrored(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := randomFlight(t)
		a, err := Prepare(f)
		require.NoError(t, err)
		f.Rail.TowardDeg *= -1
		f.Wind[0].Profile.Levels[0].FromDeg *= -1
		f.Wind[0].Profile.VeerDeg *= -1
		b, err := Prepare(f)
		require.NoError(t, err)
		p, q := a.Nominal().At, b.Nominal().At
		assert.InDelta(t, p.X, -q.X, 1e-4)
		assert.InDelta(t, p.Y, q.Y, 1e-4)
	})
}

// The Monte Carlo's steps leave a run within 0.1 % of its path (apogee and
// drift) and 0.5 m of where steps a thousand times finer put it.
func TestFinerStepsMoveLandingsLittle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, err := Prepare(randomFlight(t))
		require.NoError(t, err)
		fast, exact := Work{}, Work{exact: true}
		var in Input
		for i := range 3 {
			m.Draw(1, i+rapid.IntRange(0, 1000).Draw(t, "run"), &in)
			a, b := m.Fly(in, &fast), m.Fly(in, &exact)
			assert.Less(t, a.At.Sub(b.At).Norm(), 0.001*(b.ApogeeM+b.At.Norm())+0.5)
		}
	})
}

func TestPathIsDense(t *testing.T) {
	f := small()
	m, err := Prepare(f)
	require.NoError(t, err)
	n := m.Nominal()
	last := n.Path[len(n.Path)-1]
	assert.Equal(t, n.LandingS, last.T)
	assert.InDelta(t, 0, last.Z, 1e-6)
	for i := 1; i < len(n.Path); i++ {
		a, b := n.Path[i-1], n.Path[i]
		require.Greater(t, b.T, a.T)
		h := b.T - a.T
		bend := math.Hypot(math.Hypot(b.VX-a.VX, b.VY-a.VY), b.VZ-a.VZ) * h / 8
		assert.Less(t, bend, 0.5)
	}
	names := []string{}
	for _, e := range n.Events {
		names = append(names, e.Name)
	}
	assert.Equal(t, []string{"burnout", "apogee", "ejection", "opening", "landing"}, names)
}
