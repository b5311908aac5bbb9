package drift

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A drop at the pad has the air, the weight and the drag areas that the flight
// comes down with: let fall for long it is as fast as the flight at touchdown.
func TestDropIsTheFlight(t *testing.T) {
	for _, f := range []Flight{small(), dual()} {
		f.Wind[0].Profile.Levels = f.Wind[0].Profile.Levels[:1]
		f.Wind[0].Profile.Levels[0].Speed = 0
		last := len(f.Recovery) - 1
		f.Recovery = f.Recovery[last:]
		m, err := Prepare(f)
		require.NoError(t, err)
		d := m.Drop(0, 0, false)
		assert.InEpsilon(t, m.Nominal().LandingMps, d.SteadySpeed(1), 2e-3, "the air thickens on the way down")
		assert.Zero(t, d.Delay+d.Fill+d.Way)
	}
	f := dual()
	f.Vehicle.Length = 0
	m, err := Prepare(f)
	require.NoError(t, err)
	d := m.Drop(1, 30, true)
	assert.InDelta(t, 3*0.5*diskArea(0.13), d.Body, 1e-12)
	assert.Equal(t, 0.8, d.Delay)
	assert.InDelta(t, 8*3.2, d.Way, 1e-12)
	f.Recovery[1].FillTime = ptr(0.7)
	m, err = Prepare(f)
	require.NoError(t, err)
	assert.Equal(t, 0.7, m.Drop(1, 30, true).Fill)
}
