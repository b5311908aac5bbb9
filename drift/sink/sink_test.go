package sink

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// standard is a bottle of half a kilogram under a streamer, in the standard
// atmosphere at sea level (1.225 kg/m3, 9.80665 m/s2).
var standard = Drop{Height: 20, Mass: 0.5, CdS: 0.1, Air: 1.225, Gravity: 9.80665}

// The textbook's fall from rest with drag that grows as the square of the
// speed: v = sqrt(2 m g/(rho CdS)) at the end, and h = v^2/g ln cosh(g t/v) after
// t s (any text on mechanics, from memory).
func TestClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := standard
		d.Height = rapid.Float64Range(1, 200).Draw(t, "height")
		d.CdS = math.Exp(rapid.Float64Range(math.Log(0.003), math.Log(3)).Draw(t, "log area"))
		took := d.Time(1)
		v := math.Sqrt(2 * d.Mass * d.Gravity / (d.Air * d.CdS))
		assert.InDelta(t, v, d.SteadySpeed(1), 1e-9)
		q := d.Gravity * took / v
		lnCosh := q + math.Log1p(math.Exp(-2*q)) - math.Ln2
		assert.InEpsilon(t, d.Height, v*v/d.Gravity*lnCosh, 1e-9)
	})
	// By hand: v = sqrt(2 * 0.5 * 9.80665/(1.225 * 0.1)) = 8.9473 m/s, and 20 m in
	// 8.9473/9.80665 * arcosh(exp(9.80665 * 20/8.9473^2)) = 2.8660 s.
	assert.InDelta(t, 8.9473, standard.SteadySpeed(1), 1e-4)
	assert.InDelta(t, 2.8660, standard.Time(1), 1e-4)
	settled := standard
	settled.Settled = true
	assert.InDelta(t, 20/8.9473, settled.Time(1), 1e-4)
}

// fine integrates the fall by fourth-order Runge-Kutta steps of 1 ms, its drag
// area a function of time and of way fallen.
func fine(d Drop, cds func(t, way float64) float64) float64 {
	const h = 1e-3
	acc := func(t, way, v float64) float64 {
		return d.Gravity - 0.5*d.Air*cds(t, way)*v*math.Abs(v)/d.Mass
	}
	var t, way, v float64
	for {
		k1 := acc(t, way, v)
		k2 := acc(t+h/2, way+h/2*v, v+h/2*k1)
		k3 := acc(t+h/2, way+h/2*v+h*h/4*k1, v+h/2*k2)
		k4 := acc(t+h, way+h*v+h*h/2*k2, v+h*k3)
		next := way + h*v + h*h/6*(k1+k2+k3)
		if next >= d.Height {
			return t + h*(d.Height-way)/(next-way)
		}
		t, way, v = t+h, next, v+h/6*(k1+2*k2+2*k3+k4)
	}
}

func TestOpening(t *testing.T) {
	for _, d := range []Drop{
		{Delay: 0.8},
		{Delay: 0.5, Fill: 0.9, Body: 0.02},
		{Fill: 1.5},
		{Way: 8.8},
		{Delay: 0.6, Way: 4, Body: 0.05},
		{Delay: 30, Fill: 2}, // never opens
	} {
		d.Height, d.Mass, d.CdS, d.Air, d.Gravity = 25, 1.2, 0.6, 1.18, 9.81
		want := fine(d, func(t, way float64) float64 {
			share := 1.0
			switch {
			case t < d.Delay:
				share = 0
			case d.Way > 0:
				start := d.startOfFilling()
				share = (way - start) / d.Way
			case d.Fill > 0:
				share = (t - d.Delay) / d.Fill
			}
			return d.Body + d.CdS*min(max(share, 0), 1)
		})
		assert.InEpsilon(t, want, d.Time(1), 1e-3, "%+v", d)
	}
}

// startOfFilling is the way fallen with the body alone when the delay ends, by
// the closed form.
func (d Drop) startOfFilling() float64 {
	if d.Body == 0 {
		return 0.5 * d.Gravity * d.Delay * d.Delay
	}
	v := math.Sqrt(2 * d.Mass * d.Gravity / (d.Air * d.Body))
	return v * v / d.Gravity * math.Log(math.Cosh(d.Gravity*d.Delay/v))
}

// What is timed is what was true, and the error is that of many tries.
func TestEstimate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := standard
		d.Height = rapid.Float64Range(15, 100).Draw(t, "height")
		d.Settled = rapid.Bool().Draw(t, "settled")
		log := rapid.Float64Range(-0.7, 0.7).Draw(t, "log")
		got, sd, err := d.Estimate(Timed{Time: d.Time(math.Exp(log)), TimeSD: 0.01, HeightSD: 0.01, MassSD: 0.01})
		require.NoError(t, err)
		assert.InDelta(t, log, got, 1e-6)
		assert.Positive(t, sd)
	})
	// At the steady speed t = h sqrt(rho CdS/(2 m g)), so that ln CdS = 2 ln t -
	// 2 ln h + ln m + ...: the errors are 2 sd/t, 2 sd/h and that of the mass.
	d := standard
	d.Settled = true
	_, sd, err := d.Estimate(Timed{Time: d.Time(1), TimeSD: 0.05, HeightSD: 0.4, MassSD: 0.03})
	require.NoError(t, err)
	assert.InEpsilon(t, math.Hypot(2*0.05/d.Time(1), math.Hypot(2*0.4/20, 0.03)), sd, 1e-3)
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		took float64
		drop func(*Drop)
		why  string
	}{
		{0.1, nil, "free fall"},
		{60, nil, "slow"},
		{2.1, nil, "short"},
		{0.3, func(d *Drop) { d.Settled = true }, "fast"},
		{1.75, func(d *Drop) { d.Body = 0.2; d.Settled = true; d.CdS = 3 }, "fast"},
		{2.01, func(d *Drop) { d.Height, d.CdS = 20, 0.001 }, "short"},
	} {
		d := standard
		if c.drop != nil {
			c.drop(&d)
		}
		_, _, err := d.Estimate(Timed{Time: c.took, TimeSD: 0.15, HeightSD: 0.2, MassSD: 0.01})
		var e *Error
		if assert.True(t, errors.As(err, &e), "%v s", c.took) {
			assert.Equal(t, c.why, e.Why, "%v s: %v", c.took, err)
			assert.Contains(t, err.Error(), "s")
		}
	}
}
