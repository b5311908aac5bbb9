package magnetic

import (
	"testing"
	"time"

	"windfall/geo/geotest"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The test values that NOAA NCEI publishes with each model; the tolerance is
// the last digit printed, 0.1 nT and 0.01 degrees.
func TestFieldMatchesPublishedTestValues(t *testing.T) {
	seen := [2]int{}
	for _, row := range geotest.Table(t, "wmm_test_values.csv") {
		var v [8]float64
		for i, column := range []string{"year", "height_km", "lat", "lon", "north_nt", "east_nt", "down_nt", "declination_deg"} {
			v[i] = row.Number(column)
		}
		k := 0
		if v[0] >= 2025 {
			k = 1
		}
		m := models()[k]
		seen[k]++
		x, y, z := m.field(orb.Point{v[3], v[2]}, v[1], v[0])
		assert.InDelta(t, v[4], x, 0.06, "north %v", row)
		assert.InDelta(t, v[5], y, 0.06, "east %v", row)
		assert.InDelta(t, v[6], z, 0.06, "down %v", row)
	}
	assert.Equal(t, 100, seen[1])
	assert.Equal(t, 100, seen[0])
}

func TestDeclination(t *testing.T) {
	// WMM2025 test value: 2025.0, 18 km, 0 N 21 E: 1.29; 1 January is 2025.0
	d, err := Declination(orb.Point{21, 0}, 18000, time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	assert.InDelta(t, 1.29, d, 0.005)
}

func TestDeclinationSaysWhereItKnowsNothing(t *testing.T) {
	_, err := Declination(orb.Point{-5, 39}, 400, time.Date(2019, 6, 1, 0, 0, 0, 0, time.UTC))
	assert.ErrorContains(t, err, "from 2020 to 2029")
	_, err = Declination(orb.Point{-5, 39}, 400, time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC))
	assert.ErrorContains(t, err, "not for 2030")
	// the north magnetic pole was near 85.8 N 139.3 E in 2025 (BGS, from memory)
	_, err = Declination(orb.Point{139.3, 85.8}, 0, time.Date(2025, 6, 1, 0, 0, 0, 0, time.UTC))
	assert.ErrorContains(t, err, "magnetic pole")
}

// Both models describe the same field where one takes over from the other:
// their declinations differ by the older one's error, well under a degree.
func TestModelsMeetIn2025(t *testing.T) {
	before, err := Declination(orb.Point{-5.58, 39.05}, 412, time.Date(2024, 12, 31, 23, 59, 59, 0, time.UTC))
	require.NoError(t, err)
	after, err := Declination(orb.Point{-5.58, 39.05}, 412, time.Date(2025, 1, 1, 0, 0, 1, 0, time.UTC))
	require.NoError(t, err)
	assert.InDelta(t, before, after, 0.3)
}
