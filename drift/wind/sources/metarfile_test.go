package sources

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func at2026(month time.Month, day, hour, minute int) time.Time {
	return time.Date(2026, month, day, hour, minute, 0, 0, time.UTC)
}

const reports = `SPZZ31 LEZZ 140900
METAR LEZZ 140900Z 23006KT 9999 FEW040 09/04 Q1021=
METAR LEZZ 140930Z 24008KT 210V280 9999 FEW040
      10/04 Q1021=
METAR LEZZ 141000Z NIL=
SPECI LEZZ 141010Z /////KT 9999 11/05 Q1020=
TAF LEZZ 140800Z 1409/1418 25015KT 9999 SCT040
    TEMPO 1412/1416 27025G40KT=
METAR LEZZ 141030Z 26010G22KT 9999 FEW040 12/04 Q1020=
`

func TestNewestReportBeforeTheLaunch(t *testing.T) {
	r := readText(t, reports, Options{When: at2026(3, 14, 10, 20), Elevation: ptr(412)})
	assert.Equal(t, at2026(3, 14, 9, 30), r.Valid)
	require.Len(t, r.Levels, 1)
	assert.Equal(t, 10.0, r.Levels[0].Height, "airports measure at 10 m")
	assert.Equal(t, 422.0, r.Levels[0].Elevation)
	assert.Equal(t, 240.0, r.Levels[0].FromDeg)
	assert.InDelta(t, 8*knot, r.Levels[0].Speed, 1e-12)
	assert.Equal(t, [2]float64{210, 280}, *r.Sector)
	assert.InDelta(t, 283.15, *r.Temperature, 1e-9)
	assert.InDelta(t, 102100, *r.QNH, 1e-9)
	all := strings.Join(r.Warnings, "\n")
	assert.Contains(t, all, "wind.txt:5: the report of LEZZ 141000Z has no wind; passed over")
	assert.Contains(t, all, "wind.txt:6: the report of LEZZ 141010Z has no wind; passed over")
	assert.Contains(t, all, "wind.txt:7: an aerodrome forecast (TAF) is not read as wind")

	r = readText(t, reports, Options{When: at2026(3, 14, 10, 30)})
	assert.Equal(t, at2026(3, 14, 10, 30), r.Valid, "a report of the very minute counts")
	assert.InDelta(t, 22*knot, *r.Gust, 1e-12)

	r = readText(t, reports, Options{When: at2026(3, 14, 8, 30)})
	assert.Equal(t, at2026(3, 14, 9, 0), r.Valid)
	assert.Contains(t, strings.Join(r.Warnings, "\n"), "from after the launch")

	r = readText(t, reports, Options{When: at2026(3, 14, 20, 0)})
	assert.Contains(t, strings.Join(r.Warnings, "\n"), "10 h old at launch")
}

// Without a launch time the newest is taken, also across the end of a month,
// and stays undated unless a line above it has the date.
func TestReportsWithoutALaunchTime(t *testing.T) {
	r := readText(t, "METAR LEZZ 312330Z 20005KT\nMETAR LEZZ 010030Z 21007KT\n", Options{})
	assert.Equal(t, 210.0, r.Levels[0].FromDeg)
	assert.True(t, r.Valid.IsZero())
	assert.Contains(t, strings.Join(r.Warnings, "\n"), "no month")
	r = readText(t, "2026/02/28 23:50\nLEZZ 282350Z 20005KT\n\n2026/03/01 00:20\nLEZZ 010020Z 21007KT\n", Options{})
	assert.Equal(t, at2026(3, 1, 0, 20), r.Valid)
}

// A report of the 31st seen from the 1st belongs to the month before; one of
// the 30th is not looked for in February.
func TestReportsAreDatedNearTheLaunch(t *testing.T) {
	for _, c := range []struct {
		report string
		launch time.Time
		want   time.Time
	}{
		{"METAR LEZZ 312330Z 20005KT", at2026(4, 1, 0, 10), at2026(3, 31, 23, 30)},
		{"METAR LEZZ 010030Z 20005KT", at2026(3, 31, 23, 50), at2026(4, 1, 0, 30)},
		{"METAR LEZZ 301200Z 20005KT", at2026(2, 10, 12, 0), at2026(1, 30, 12, 0)},
		{"METAR LEZZ 010030Z 20005KT", time.Date(2026, 12, 31, 23, 50, 0, 0, time.UTC), time.Date(2027, 1, 1, 0, 30, 0, 0, time.UTC)},
	} {
		assert.Equal(t, c.want, readText(t, c.report, Options{When: c.launch}).Valid, c.report)
	}
}

func TestVariableWindBlowsFromAllRound(t *testing.T) {
	r := readText(t, "METAR LEZZ 141030Z VRB03KT 9999 12/04 Q1020=", Options{When: at2026(3, 14, 11, 0)})
	assert.True(t, math.IsNaN(r.Levels[0].FromDeg))
	cs, err := r.Choices(Options{})
	require.NoError(t, err)
	require.Len(t, cs, 12)
	var u, v float64
	for _, c := range cs {
		cu, cv := c.Profile.At(10)
		assert.InDelta(t, 3*knot, math.Hypot(cu, cv), 1e-12)
		u, v = u+cu, v+cv
	}
	assert.InDelta(t, 0, math.Hypot(u, v), 1e-12)
}

func TestBadReportAmongGoodOnesIsSaid(t *testing.T) {
	r := readText(t, "METAR LEZZ 140930Z 24008KT 9999\nMETAR LEZZ 141000Z 2408KT 9999\n", Options{When: at2026(3, 14, 10, 20)})
	assert.Equal(t, at2026(3, 14, 9, 30), r.Valid)
	assert.Contains(t, strings.Join(r.Warnings, "\n"), `"2408KT" is malformed; write direction, speed and unit such as 24008KT`)
}

func TestBadReportFiles(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"METAR LEZZ 141030Z 240999KT 9999", `wind.txt:1: wind group "240999KT": wind speed 513.9 m/s (999 kn) is beyond`},
		{"METAR LEZZ 141030Z 24020G999KT 9999", `gust 513.9 m/s is beyond`},
		{"# saved\nMETAR LEZZ 141030Z 9999", `wind.txt:2: the wind group is missing before "9999"`},
		{"METAR LEZZ 24008KT 9999", `wind.txt:1: "24008KT" is no time group`},
		{"METAR", "wind.txt:1: the report is empty"},
		{"METAR LEZZ 141030Z NIL=", "wind.txt:1: no report has a wind"},
		{"TAF LEZZ 140800Z 1409/1418 25015KT", "no report has a wind"},
		{"METAR LEZZ 141030Z", `the wind group is missing before ""`},
		{"METAR EGXX1 141030Z 24008KT", `"EGXX1" is no station`},
	} {
		_, err := Read("wind.txt", strings.NewReader(c.text), Options{})
		if assert.Error(t, err, c.text) {
			assert.Contains(t, err.Error(), c.want)
		}
	}
}

func TestPressureOutOfRangeIsLeftOut(t *testing.T) {
	r := readText(t, "METAR LEZZ 141030Z 24008KT 12/04 Q0018", Options{})
	assert.Nil(t, r.QNH)
	assert.Contains(t, strings.Join(r.Warnings, "\n"), `"Q0018" is outside 850 to 1090 hPa`)
}
