package sources

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const pasted = `time,height (m),from,speed (m/s)
10:00,10,180 deg,4
10:00,500,S,8
11:00,10,270 deg,4
11:00,500,270 deg,8
2026-04-18T12:00:00Z,10,W,6
`

// Halfway between south and west the components are their means, by hand:
// speed over the square root of two, from south-west.
func TestHourTable(t *testing.T) {
	at := func(h, m int) Options { return Options{When: time.Date(2026, 4, 18, h, m, 0, 0, time.UTC)} }
	r, err := Read("hours.csv", strings.NewReader(pasted), at(10, 30))
	require.NoError(t, err)
	assert.Equal(t, Forecast, r.Kind)
	require.Len(t, r.Levels, 2)
	assert.InDelta(t, 4/1.4142136, r.Levels[0].Speed, 1e-6)
	assert.InDelta(t, 225, r.Levels[0].FromDeg, 1e-6)
	assert.InDelta(t, 8/1.4142136, r.Levels[1].Speed, 1e-6)
	assert.Len(t, r.Hours, 3)
	r, err = Read("hours.csv", strings.NewReader(pasted), at(12, 0))
	require.NoError(t, err)
	assert.InDelta(t, 6, r.Levels[0].Speed, 1e-9)
	zoned := strings.NewReplacer("10:00,", "2026-04-18T10:00Z,", "11:00,", "2026-04-18 13:00+02:00,").Replace(pasted)
	r2, err := Read("hours.csv", strings.NewReader(zoned), at(10, 30))
	require.NoError(t, err, "times with their zone, without seconds")
	assert.InDelta(t, 225, r2.Levels[0].FromDeg, 1e-6)
	for text, says := range map[string]string{
		strings.Replace(pasted, "11:00,10", "soon,10", 1):    `hours.csv:4: "soon" is no time`,
		strings.Replace(pasted, "11:00,10", "09:00,10", 1):   "hours.csv:4: 2026-04-18 09:00",
		strings.Replace(pasted, "11:00,500", "11:00,10", 1):  "hours.csv:5: 10 m is not above",
		"time,height (m),from,speed (m/s)\n10:00,10,180,4\n": `no unit`,
	} {
		_, err := Read("hours.csv", strings.NewReader(text), at(10, 30))
		require.ErrorContains(t, err, says)
	}
	_, err = Read("hours.csv", strings.NewReader(pasted), at(20, 0))
	require.ErrorContains(t, err, "hours.csv:1: the forecast covers")
}
