package hindcast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"windfall/drift/wind"
	"windfall/drift/wind/spread"
)

// weather makes cases whose truth comes from a model: what the flier had, plus
// the model's error at heights 40 m apart.
func weather(m *spread.Model, n int, hours float64) (out []Case) {
	r := rand.New(rand.NewPCG(11, 12))
	for i := range n {
		had := Profile{Source: "made", Time: time.Date(2020, 1, 1+i, 12, 0, 0, 0, time.UTC)}
		speed, from := 2+8*r.Float64(), 360*r.Float64()
		had.VeerDeg, had.Levels = wind.DefaultVeer, []wind.Level{{Height: 10, Speed: speed, FromDeg: from}}
		if hours > 0 {
			had.Levels = append(had.Levels, wind.Level{Height: 4000, Speed: 1.5 * speed, FromDeg: from + 30})
		}
		c := Case{Kind: "made", Had: had, Given: spread.Source{Age: hours, Sun: 40}, Group: fmt.Sprint(i)}
		p, s := c.Spread(m)
		truth := had
		truth.Levels = nil
		size := r.NormFloat64()
		scale := math.Exp(wind.SpeedSpread * s.Carried * r.NormFloat64())
		turn := wind.DirectionSpread * s.Carried * r.NormFloat64()
		x, y := r.NormFloat64(), r.NormFloat64()
		const step = 40.0
		rho := math.Exp(-step / s.Reach)
		for z := 2.0; z < 1100; z += step {
			u, v := p.At(z)
			row := s.At(z)
			way := turn * math.Pi / 180
			sin, cos := math.Sincos(way)
			u, v = u+row.U, v+row.V
			k := row.SD * math.Exp(row.Tail*size-row.Tail*row.Tail)
			u, v = scale*(u*cos+v*sin)+k*x, scale*(v*cos-u*sin)+k*y
			truth.Levels = append(truth.Levels, wind.Level{Height: z, Speed: math.Hypot(u, v), FromDeg: math.Atan2(-u, -v) * 180 / math.Pi})
			x, y = rho*x+math.Sqrt(1-rho*rho)*r.NormFloat64(), rho*y+math.Sqrt(1-rho*rho)*r.NormFloat64()
		}
		c.Truth = &truth
		out = append(out, c)
	}
	return out
}

// best is the factor on a number of the model, out of a grid of a tenth, at
// which the score of made weather is greatest.
func best(cases []Case, truth spread.Model, number func(*spread.Model) *float64) float64 {
	at, most := 0.0, math.Inf(-1)
	for k := -6; k <= 6; k++ {
		m := truth
		f := math.Pow(1.1, float64(k))
		*number(&m) *= f
		sum := 0.0
		for i := range cases {
			for _, top := range []float64{110, 300, 1000} {
				l := LayerError(&m, &cases[i], top)
				sum += l.LogScore()
			}
		}
		if sum > most {
			at, most = f, sum
		}
	}
	return at
}

// Weather made of numbers unlike the fitted ones gives those numbers back: of
// 600 cases a standard deviation is known to 3 %, a variance to 6 %, and one
// step of the grid is 10 %.
func TestTheFitFindsMadeWeather(t *testing.T) {
	odd := spread.Fitted
	odd.Rate, odd.RateLow, odd.RateAloft, odd.Day.PerMetre, odd.Slow, odd.Veer = 3.1, 2.9, 2.8, 0.08, 0.14, 70
	lone, old := weather(&odd, 600, 0), weather(&odd, 600, 2)
	for name, x := range map[string]struct {
		cases  []Case
		number func(*spread.Model) *float64
	}{
		"Day.PerMetre": {lone, func(m *spread.Model) *float64 { return &m.Day.PerMetre }},
		"Slow":         {lone, func(m *spread.Model) *float64 { return &m.Slow }},
		"Veer":         {lone, func(m *spread.Model) *float64 { return &m.Veer }},
		"Rate":         {old, func(m *spread.Model) *float64 { return &m.Rate }},
	} {
		assert.InDelta(t, 1, best(x.cases, odd, x.number), 0.22, name)
	}
}

// Inside their own model the areas of layer means hold what they say.
func TestMadeWeatherIsCalibrated(t *testing.T) {
	for _, hours := range []float64{0, 3} {
		cases := weather(&spread.Fitted, 1500, hours)
		for _, top := range []float64{110, 600} {
			in50, in90 := 0.0, 0.0
			for i := range cases {
				l := LayerError(&spread.Fitted, &cases[i], top)
				if l.Inside() < 0.5 {
					in50 += 1.0 / 1500
				}
				if l.Inside() < 0.9 {
					in90 += 1.0 / 1500
				}
			}
			// 4 standard errors, and a mean size for a layer's sizes
			assert.InDelta(t, 0.5, in50, 0.052+0.03, "%v h, %v m", hours, top)
			assert.InDelta(t, 0.9, in90, 0.031+0.02, "%v h, %v m", hours, top)
		}
	}
}

// The variance of the mean of an evenly wide field in closed form.
func TestLayerVariance(t *testing.T) {
	var sd [layers]float64
	for i := range sd {
		sd[i] = 3
	}
	for _, x := range []float64{0.05, 0.5, 2} {
		want := 9 * 2 / (x * x) * (x - 1 + math.Exp(-x))
		assert.InEpsilon(t, want, layerVariance(&sd, x*1400, 1400), 0.003)
	}
}

// With no tail the density is a normal's and the area its closed form.
func TestLayerOfANormal(t *testing.T) {
	l := Layer{Along: 1, Across: 2, VarAlong: 4, VarAcross: 4, Field: 4}
	assert.InDelta(t, -5.0/8-math.Log(8*math.Pi), l.LogScore(), 1e-9)
	assert.InDelta(t, 1-math.Exp(-5.0/8), l.Inside(), 1e-9)
}

func TestReaders(t *testing.T) {
	_, err := ReadProfiles("p", readerOf("profile,source,station,lat,lon,elevation_m,time_utc,levels\na,b,c,1\n"))
	assert.Error(t, err)
	for _, bad := range []string{"a,b,c,x,2,3,2020-01-01T00:00Z,10:1:2", "a,b,c,1,2,3,noon,10:1:2", "a,b,c,1,2,3,2020-01-01T00:00Z,10:1", "a,b,c,1,2,3,2020-01-01T00:00Z,10:1:-2"} {
		_, err := ReadProfiles("p", readerOf("profile,source,station,lat,lon,elevation_m,time_utc,levels\n"+bad+"\n"))
		assert.ErrorContains(t, err, "p:2", bad)
	}
	got, err := ReadProfiles("p", readerOf("profile,source,station,lat,lon,elevation_m,time_utc,levels\na,b,c,-27.4,153.1,3,2020-01-01T00:00Z,10:240:5 300:260:9\n"))
	assert.NoError(t, err)
	assert.True(t, got[0].South)
	assert.Equal(t, 300.0, got[0].Top())
	assert.Greater(t, got[0].SunDeg(), 30.0, "mid-morning at Brisbane")
}
