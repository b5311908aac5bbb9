package compare

import (
	"context"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/drift"
	"windfall/geo"
)

// A chance with one top is found to 3.75 degrees, half of the last step; the
// first twelve directions alone would leave 15.
func TestBestDirectionFindsTheTop(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		top := rapid.Float64Range(0, 360).Draw(t, "top")
		tries := 0
		at, err := bestDirection(func(deg float64) (float64, bool, error) {
			tries++
			return -math.Abs(math.Remainder(deg-top, 360)), true, nil
		})
		require.NoError(t, err)
		assert.True(t, at >= 0 && at < 360, "%v", at)
		assert.LessOrEqual(t, math.Abs(math.Remainder(at-top, 360)), 3.75+1e-9)
		assert.Equal(t, 12+2+2, tries)
	})
}

func TestBestDirectionOfAVerticalRail(t *testing.T) {
	tries := 0
	at, err := bestDirection(func(float64) (float64, bool, error) { tries++; return 1, false, nil })
	require.NoError(t, err)
	assert.Zero(t, at)
	assert.Equal(t, 1, tries)
}

func TestBestDirectionStopsAtAnError(t *testing.T) {
	bad := errors.New("bad")
	for _, last := range []int{1, 13, 16} {
		tries := 0
		_, err := bestDirection(func(float64) (float64, bool, error) {
			if tries++; tries == last {
				return 0, true, bad
			}
			return 0, true, nil
		})
		assert.ErrorIs(t, err, bad)
		assert.Equal(t, last, tries)
	}
}

// Every run of a rail leaning toward a direction comes down 300 m the other
// way, give or take 40 m; the field is a small one at 232.5 degrees. Only
// toward 52.5 does it lie in the middle, and both steps of the search are
// needed to get there.
func TestTurnRailMeetsTheField(t *testing.T) {
	field := square(geo.Polar(300, 52.5+180), 25)
	e := &engine{in: Input{Vary: varyDelay(field)}}
	e.fly = func(_ context.Context, m *drift.Model, runs int) ([]drift.Landing, error) {
		out := make([]drift.Landing, runs)
		for i := range out {
			off := geo.Polar(40*math.Sqrt(float64(i)/float64(runs)), 137.5*float64(i)) // even over a disc
			out[i].At = geo.Polar(300, m.Flight().Rail.TowardDeg+180).Add(off)
		}
		return out, nil
	}
	r := &Row{Set: map[string]string{}}
	r.put("rail.lean", "5 deg")
	r.put(toward, Auto)
	require.NoError(t, e.flyRow(context.Background(), r, 400))
	assert.Equal(t, "52.5 deg", r.Set[toward])
	assert.Equal(t, []Setting{{"rail.lean", "5 deg"}, {toward, "52.5 deg"}}, r.settings)
	assert.Len(t, r.Landings, 400, "the search flies a quarter, the row all")
}
