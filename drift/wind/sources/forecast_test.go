package sources

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func april18(hour, minute int) time.Time {
	return time.Date(2026, 4, 18, hour, minute, 0, 0, time.UTC)
}

func TestForecastOnTheHour(t *testing.T) {
	r := readFile(t, "forecast.json", Options{When: april18(9, 0), Elevation: ptr(400)})
	assert.Equal(t, Forecast, r.Kind)
	assert.Equal(t, april18(9, 0), r.Valid)
	// heights above ground stay heights above the pad; those of pressure levels
	// are above the sea: 950 hPa at 610 m is 210 m above a pad at 400 m
	want := []Level{{Height: 10, FromDeg: 226, Speed: 3.5}, {Height: 80, FromDeg: 232, Speed: 5.5}, {Height: 120, FromDeg: 235, Speed: 6.3}, {Height: 180, FromDeg: 238, Speed: 7.2}, {Height: 210, FromDeg: 239, Speed: 6.9}}
	for i, w := range want {
		assert.InDelta(t, w.Height, r.Levels[i].Height, 1e-9)
		assert.InDelta(t, w.FromDeg, r.Levels[i].FromDeg, 1e-9)
		assert.InDelta(t, w.Speed, r.Levels[i].Speed, 1e-9)
		assert.InDelta(t, w.Height+400, r.Levels[i].Elevation, 1e-9)
	}
	assert.Len(t, r.Levels, 12, "1000 and 975 hPa lie under the ground of the forecast")
	low := readFile(t, "forecast.json", Options{When: april18(9, 0), Elevation: ptr(150)})
	assert.Len(t, low.Levels, 12, "also where they are above a pad in a valley")
	assert.InDelta(t, 284.55, *r.Temperature, 1e-9)
	assert.InDelta(t, 102110, *r.QNH, 1e-9)
	assert.InDelta(t, 7.4, *r.Gust, 1e-9)
	assert.Empty(t, r.Warnings)
}

// Between hours components are linear: at 10:15 the wind at 10 m is 3/4 of
// that of 10:00 and 1/4 of that of 11:00, in u and in v.
func TestForecastBetweenHours(t *testing.T) {
	r := readFile(t, "forecast.json", Options{When: april18(10, 15)})
	u0, v0 := components(230, 3.8)
	u1, v1 := components(234, 4.2)
	u, v := components(r.Levels[0].FromDeg, r.Levels[0].Speed)
	assert.InDelta(t, 0.75*u0+0.25*u1, u, 1e-9)
	assert.InDelta(t, 0.75*v0+0.25*v1, v, 1e-9)
	assert.Equal(t, 422.0, r.Levels[0].Elevation, "the forecast's own ground")
	r = readFile(t, "forecast.json", Options{When: april18(12, 0)})
	assert.InDelta(t, 4.6, r.Levels[0].Speed, 1e-9, "the last hour")
}

func TestForecastInOtherUnitsAndZones(t *testing.T) {
	const text = `{"elevation": 100, "utc_offset_seconds": 7200, "hourly_units": {"windspeed_10m": "mp/h", "winddirection_10m": "°", "geopotential_height_850hPa": "ft", "windspeed_850hPa": "kn"},
"hourly": {"time": ["2026-04-18T10:00", "2026-04-18T11:00"], "windspeed_10m": [10, 10], "winddirection_10m": [350, 10],
"windspeed_850hPa": [20, 20], "winddirection_850hPa": [null, 270], "geopotential_height_850hPa": [5000, 5000]}}`
	r := readText(t, text, Options{When: april18(8, 30)})
	assert.Equal(t, april18(8, 30), r.Valid)
	require.Len(t, r.Levels, 1, "850 hPa has no direction at the hour before")
	assert.InDelta(t, 0, math.Remainder(r.Levels[0].FromDeg, 360), 1e-9, "across north")
	assert.InDelta(t, 4.4704*math.Cos(math.Pi/18), r.Levels[0].Speed, 1e-9)
	r = readText(t, text, Options{When: april18(9, 0)})
	require.Len(t, r.Levels, 2)
	assert.InDelta(t, 1524, r.Levels[1].Elevation, 1e-9)
	assert.InDelta(t, 20*knot, r.Levels[1].Speed, 1e-9)
	unix := strings.Replace(text, `"2026-04-18T10:00", "2026-04-18T11:00"`, `1776499200, 1776502800`, 1)
	r = readText(t, unix, Options{When: april18(9, 0)})
	assert.Len(t, r.Levels, 2)
}

func TestForecastMembersAreAlternatives(t *testing.T) {
	r := readFile(t, "ensemble.json", Options{When: april18(9, 0), Elevation: ptr(412)})
	require.Len(t, r.Alternatives, 3)
	assert.Equal(t, []string{"control", "member01", "member02"}, r.Labels)
	assert.InDelta(t, 12.5/3.6, r.Alternatives[0][0].Speed, 1e-9)
	assert.InDelta(t, 15.7/3.6, r.Alternatives[1][0].Speed, 1e-9)
	cs, err := r.Choices(Options{})
	require.NoError(t, err)
	require.Len(t, cs, 3)
	var u, v float64
	for _, c := range cs {
		cu, cv := c.Profile.At(10)
		u, v = u+cu/3, v+cv/3
	}
	mu, mv := components(r.Levels[0].FromDeg, r.Levels[0].Speed)
	assert.InDelta(t, u, mu, 1e-9, "the levels are the mean of the members")
	assert.InDelta(t, v, mv, 1e-9)
	assert.Greater(t, r.Levels[0].SD, r.Alternatives[0][0].SD, "what lies between the members widens the spread")
}

func TestForecastOfAnotherPlace(t *testing.T) {
	r := readFile(t, "forecast.json", Options{When: april18(9, 0), Pad: &orb.Point{-4.92, 42.9}, Elevation: ptr(600)})
	all := strings.Join(r.Warnings, "\n")
	assert.Contains(t, all, "for a place 111 km from the pad")
	assert.Contains(t, all, "takes the ground at 412 m, the pad is at 600 m")
}

func TestForecastWithoutALaunchTime(t *testing.T) {
	r := readFile(t, "forecast.json", Options{})
	assert.Equal(t, april18(8, 0), r.Valid)
	assert.Contains(t, r.Warnings[0], "no launch time given; taken: the first hour")
}

func TestBadForecasts(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "forecast.json"))
	require.NoError(t, err)
	swap := func(old, new string) string {
		require.Contains(t, string(raw), old)
		return strings.Replace(string(raw), old, new, 1)
	}
	for _, c := range []struct{ name, text, want string }{
		{"other day", strings.ReplaceAll(string(raw), "2026-04-18", "2026-04-17"), "wind.txt:4: the forecast covers 2026-04-17 08:00 UTC to 2026-04-17 12:00 UTC, not the launch at 2026-04-18 09:30 UTC; fetch it for that time"},
		{"cut short", string(raw[:1500]), "the JSON ends in the middle"},
		{"a series too short", swap(`"wind_speed_10m": [3.1, 3.5, 3.8, 4.2, 4.6]`, `"wind_speed_10m": [3.1, 3.5, 3.8]`), "hourly.wind_speed_10m has 3 values for 5 hours"},
		{"a word", swap(`"wind_speed_10m": [3.1, 3.5,`, `"wind_speed_10m": [3.1, "3.5",`), `wind.txt:8: hourly.wind_speed_10m[1] "3.5" is no number`},
		{"999 knots", swap(`"wind_speed_10m": [3.1, 3.5,`, `"wind_speed_10m": [3.1, 513.9,`), "wind.txt:8: hourly.wind_speed_10m: wind speed 513.9 m/s (998.9 kn) is beyond"},
		{"hours out of order", swap("2026-04-18T09:00", "2026-04-18T07:00"), "is not after the hour before it"},
		{"unit", swap(`"wind_speed_10m": "m/s"`, `"wind_speed_10m": "furlong"`), `unknown unit "furlong"`},
		{"refused", `{"error": true, "reason": "Latitude must be in range of -90 to 90"}`, "the service refused: Latitude must be in range"},
		{"no wind", `{"elevation": 1, "hourly": {"time": ["2026-04-18T09:00", "2026-04-18T10:00"], "temperature_2m": [1, 2]}}`, "the forecast has no wind at 2026-04-18 09:30 UTC; ask it for wind_speed_10m"},
		{"no hours", `{"hourly": {}}`, "hourly.time is nothing"},
		{"several places", `[{"hourly": {}}, {"hourly": {}}]`, "holds forecasts for 2 places"},
	} {
		_, err := Read("wind.txt", strings.NewReader(c.text), Options{When: april18(9, 30)})
		if assert.Error(t, err, c.name) {
			assert.Contains(t, err.Error(), c.want, c.name)
		}
	}
}

// A speed without its unit could be anything.
func TestForecastWithoutUnits(t *testing.T) {
	const bare = `{"elevation": 0, "hourly": {"time": ["2026-04-18T10:00"], "wind_speed_10m": [20], "wind_direction_10m": [0]}}`
	_, err := Read("wind.txt", strings.NewReader(bare), Options{When: april18(10, 0)})
	require.ErrorContains(t, err, `wind.txt:1: hourly_units.wind_speed_10m is missing`)
}
