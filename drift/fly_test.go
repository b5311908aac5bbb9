package drift

import (
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/trigger"
	"windfall/drift/wind"
)

func ptr(v float64) *float64 { return &v }

// small is a small rocket on a streamer, with a light wind.
func small() Flight {
	return Flight{
		Site:     Site{Pad: orb.Point{-5.5831, 39.0512}, Elevation: 412},
		Rail:     Rail{Length: 1.2, LeanDeg: 4, TowardDeg: 240},
		Vehicle:  Vehicle{Mass: 0.14, Diameter: 0.033, Length: 0.6, Drag: []MachCd{{0, 0.6}}},
		Motor:    Motor{Impulse: ptr(9), Burn: ptr(1.7), Propellant: ptr(0.011), Delay: ptr(5)},
		Recovery: []Device{{Kind: "streamer", Trigger: trigger.Trigger{Kind: trigger.Ejection}, CdS: 0.02, OpeningDelay: 0.4}},
		Wind:     []wind.Choice{{Profile: wind.Profile{Levels: []wind.Level{{Height: 2, Speed: 4, FromDeg: 240}}, VeerDeg: 15}}},
	}
}

func nominal(t *testing.T, f Flight) Nominal {
	t.Helper()
	m, err := Prepare(f)
	require.NoError(t, err)
	return m.Nominal()
}

func TestNoWindNoLeanLandsOnThePad(t *testing.T) {
	f := small()
	f.Rail.LeanDeg = 0
	f.Wind[0].Profile.Levels[0].Speed = 0
	for _, wavelength := range []float64{0, 25} {
		f.Vehicle.YawWavelength = ptr(wavelength)
		n := nominal(t, f)
		assert.Less(t, n.At.Norm(), 1e-6)
		assert.Greater(t, n.ApogeeM, 100.0)
	}
}

func TestMirroredWindMirrorsTheLanding(t *testing.T) {
	f := small()
	a := nominal(t, f)
	f.Rail.TowardDeg = -f.Rail.TowardDeg
	f.Wind[0].Profile.Levels[0].FromDeg *= -1
	f.Wind[0].Profile.VeerDeg *= -1
	b := nominal(t, f)
	assert.InDelta(t, a.At.X, -b.At.X, 1e-5)
	assert.InDelta(t, a.At.Y, b.At.Y, 1e-5)
}

func TestSameSeedSameBytesOnAnyWorkers(t *testing.T) {
	f := small()
	f.Parts = []Part{{Name: "camera pod", Mass: 0.02, CdS: 0.003, Sheds: [2]trigger.Trigger{{Kind: trigger.Burnout}, {Kind: trigger.Apogee}}, Chance: 0.05}}
	m, err := Prepare(f)
	require.NoError(t, err)
	var first *Cloud
	for _, workers := range []int{1, 2, 7} {
		c, err := m.Run(context.Background(), Options{Runs: 500, Seed: 3, Workers: workers})
		require.NoError(t, err)
		for i := range c.Landings {
			if math.IsNaN(c.Landings[i].EjectionS) {
				c.Landings[i].EjectionS = -1 // NaN is not equal to itself
			}
		}
		if first == nil {
			first = c
		}
		assert.Equal(t, first, c)
	}
}

// Inputs beyond all sense, such as a solver may try, end.
func TestSenselessInputsEnd(t *testing.T) {
	m, err := Prepare(small())
	require.NoError(t, err)
	var w Work
	for i := range m.Coords() {
		z := make([]float64, len(m.Coords()))
		z[i] = math.NaN()
		m.Fly(Input{Outcome: m.NominalOutcome(), Z: z}, &w) // comes back
	}
	z := make([]float64, len(m.Coords()))
	for i, c := range m.Coords() {
		if c.Name == "yaw wavelength" {
			z[i] = -50 // a wavelength of a hair
		}
	}
	l := m.Fly(Input{Outcome: m.NominalOutcome(), Z: z}, &w) // soon
	f := small()
	f.Vehicle.YawWavelength = ptr(0.0)
	at, err := Prepare(f)
	require.NoError(t, err)
	once := at.Fly(Input{Outcome: at.NominalOutcome(), Z: make([]float64, len(at.Coords()))}, &w)
	assert.InDelta(t, once.At.X, l.At.X, 0.01, "the body points into the wind at once")
	w.y[0] = 5
	assert.False(t, w.noShorter(0.1))
	assert.InDelta(t, 0.01, w.h, 1e-12)
	assert.Equal(t, 5.0, w.y[0])
	assert.True(t, w.noShorter(math.NaN()))
	assert.True(t, math.IsNaN(w.y[0]))
}
