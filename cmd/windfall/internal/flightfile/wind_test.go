package flightfile

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/drift/wind"
	"windfall/drift/wind/sources"
)

const windless = `when: 2026-04-18T11:20:00+02:00
site: {pad: "41.9050, -4.9210", elevation: 412 m}
vehicle: {mass: 120 g, diameter: 24.8 mm}
motor: {designation: C6-5}
recovery:
  - {device: parachute, descent_rate: 4 m/s}
`

// flown writes a flight with the given wind beside the fixtures of the readers
// and reads it.
func flown(t *testing.T, wind string) (*File, error) {
	t.Helper()
	path := write(t, windless+wind)
	fixtures := "../../../../drift/wind/sources/testdata"
	for _, name := range []string{"forecast.json", "ensemble.json", "archive.csv", "archive.json", "igra.txt"} {
		b, err := os.ReadFile(filepath.Join(fixtures, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(path), name), b, 0o644))
	}
	for name, text := range map[string]string{
		"metar.txt":  "METAR LEZZ 180900Z 24008G16KT 9999 12/04 Q1019=\n",
		"levels.csv": "height (m),from (deg),speed (m/s)\n10,240,4\n500,260,9\n",
		"cut.csv":    "height (m),from (deg),speed (m/s)\n10,240\n",
		"mag.csv":    "height,from,speed\n10 m,240 mag,4 m/s\n500 m,260 mag,9 m/s\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(path), name), []byte(text), 0o644))
	}
	return Read(path)
}

func TestWindForms(t *testing.T) {
	for _, c := range []struct {
		name, wind string
		choices    int
		lowest     float64 // m, of the first
		levels     int
	}{
		{"a file", "wind: levels.csv\n", 1, 10, 2},
		{"a sounding", "wind: archive.csv\n", 1, 10, 20}, // its surface lies 67 m below the pad
		{"a forecast", "wind: forecast.json\n", 1, 10, 12},
		{"an ensemble", "wind: ensemble.json\n", 3, 10, 4},
		{"a report", "wind: metar.txt\n", 1, 10, 1},
		{"levels with roughness", "wind: {levels: [{height: 2 m, from: 240 deg, speed: 9 mph}], veer: 5 deg, roughness: 10 cm}\n", 1, 2, 1},
		{"a file with roughness", "wind: {file: levels.csv, roughness: 10 cm}\n", 1, 10, 2},
		{"two files", "wind: [forecast.json, levels.csv]\n", 2, 10, 12},
		{"weights", "wind:\n  - {file: forecast.json, weight: 0.7}\n  - {levels: [{height: 10 m, from: 200 deg, speed: 5 m/s}], weight: 0.3}\n", 2, 10, 12},
		{"forecast and report in one list", "wind: [forecast.json, metar.txt]\n", 1, 10, 28},
		{"forecast and measurement", "wind: {forecast: forecast.json, measured: {height: 2 m, from: 240 mag, speed: 9 mph, gust: 15 mph, at: 2026-04-18T11:05:00+02:00}}\n", 1, 2, 29},
		{"forecast and measurements", "wind: {forecast: forecast.json, measured: [metar.txt, {height: 2 m, from: 240 deg, speed: 9 mph}]}\n", 1, 2, 29},
	} {
		f, err := flown(t, c.wind)
		if !assert.NoError(t, err, c.name) {
			continue
		}
		ws := f.Flight.Wind
		assert.Len(t, ws, c.choices, c.name)
		assert.InDelta(t, c.lowest, ws[0].Profile.Levels[0].Height, 1e-9, c.name)
		assert.Len(t, ws[0].Profile.Levels, c.levels, c.name)
		for _, w := range ws {
			assert.NoError(t, w.Profile.Check(), c.name)
		}
	}
}

func TestWindWeights(t *testing.T) {
	f, err := flown(t, "wind:\n  - {file: ensemble.json, weight: 0.6}\n  - {file: levels.csv, weight: 0.4}\n")
	require.NoError(t, err)
	var ws []float64
	for _, c := range f.Flight.Wind {
		ws = append(ws, c.Weight)
	}
	assert.InDeltaSlice(t, []float64{0.2, 0.2, 0.2, 0.4}, ws, 1e-12)
}

// The measurement enters as the model of the combination has it.
func TestMeasuredInTheFlightFile(t *testing.T) {
	plain, err := flown(t, "wind: forecast.json\n")
	require.NoError(t, err)
	f, err := flown(t, "wind: {forecast: forecast.json, measured: {height: 10 m, from: 200 deg, speed: 6 m/s, at: 2026-04-18T10:50:00+02:00}}\n")
	require.NoError(t, err)
	m := sources.Measurement{Height: 10, FromDeg: 200, Speed: 6, Time: time.Date(2026, 4, 18, 8, 50, 0, 0, time.UTC)}
	want := sources.Correct(plain.Flight.Wind, m, plain.Flight.When)
	assert.Equal(t, want[0].Profile, f.Flight.Wind[0].Profile)
}

// A measurement without a time is of the flight's when, as the file has it: for
// another hour it has aged, and counts less.
func TestMeasuredIsOfTheWrittenHour(t *testing.T) {
	const winds = "wind: {levels: [{height: 10 m, from: 200 deg, speed: 4 m/s}], measured: {height: 10 m, from: 200 deg, speed: 9 m/s}}\n"
	f, err := flown(t, winds)
	require.NoError(t, err)
	assert.Contains(t, strings.Join(f.Assumed, "\n"), "wind.measured.at: when the flight file has it, "+f.Flight.When.Format("2006-01-02 15:04"))
	later, err := Read(f.Path, Setting{Key: "when", Value: f.Flight.When.Add(6 * time.Hour).Format(time.RFC3339)})
	require.NoError(t, err)
	now, then := f.Flight.Wind[0].Profile, later.Flight.Wind[0].Profile
	speed := func(p wind.Profile) float64 { u, v := p.At(10); return math.Hypot(u, v) - 4 }
	assert.Greater(t, speed(now), 2.0)
	assert.InEpsilon(t, speed(now)*math.Exp(-6.0/3), speed(then), 1e-9) // forgotten by exp(-age/3 h)
}

// The declination at the pad, by the World Magnetic Model of 2025 as NOAA's
// values hold geo/magnetic to it, is near half a degree west there.
func TestMagneticDirections(t *testing.T) {
	f, err := flown(t, "wind: [{height: 2 m, from: 240 mag, speed: 9 mph}]\nrail: {length: 1 m, lean: 3 deg, toward: 10 mag}\n")
	require.NoError(t, err)
	d, err := f.declination()
	require.NoError(t, err)
	assert.InDelta(t, 0, d, 1.5)
	assert.InDelta(t, 240+d, f.Flight.Wind[0].Profile.Levels[0].FromDeg, 1e-9)
	assert.InDelta(t, 10+d, f.Flight.Rail.TowardDeg, 1e-9)
	g, err := flown(t, "wind: mag.csv\n")
	require.NoError(t, err)
	assert.InDelta(t, 240+d, g.Flight.Wind[0].Profile.Levels[0].FromDeg, 1e-9)
}

// What a source says of the air at the ground is taken where the flight file
// is silent, and said.
func TestAirOfTheSource(t *testing.T) {
	f, err := flown(t, "wind: metar.txt\n")
	require.NoError(t, err)
	assert.InDelta(t, 285.15, *f.Flight.Site.Temperature, 1e-9)
	assert.InDelta(t, 101900, *f.Flight.Site.QNH, 1e-6)
	assert.Contains(t, strings.Join(f.Assumed, "\n"), "site.temperature: 12 degC, from metar.txt")
	path := write(t, strings.Replace(windless, "412 m}", "412 m, temperature: 20 degC, pressure: 1000 hPa}", 1)+"wind: metar.txt\n")
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(path), "metar.txt"), []byte("METAR LEZZ 180900Z 24008KT 12/04 Q1019=\n"), 0o644))
	f, err = Read(path)
	require.NoError(t, err)
	assert.InDelta(t, 293.15, *f.Flight.Site.Temperature, 1e-9)
	assert.InDelta(t, 100000, *f.Flight.Site.QNH, 1e-6)
}

func TestWindWithoutTheElevation(t *testing.T) {
	path := write(t, strings.Replace(windless, ", elevation: 412 m", "", 1)+"wind: a.csv\n")
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(path), "a.csv"), []byte("elevation (m),from (deg),speed (m/s)\n700,240,4\n1200,260,9\n"), 0o644))
	f, err := Read(path)
	require.NoError(t, err)
	assert.Equal(t, []wind.Level{{Height: 10, Speed: 4, FromDeg: 240}, {Height: 500, Speed: 9, FromDeg: 260}}, f.Flight.Wind[0].Profile.Levels)
	assert.Contains(t, strings.Join(f.Assumed, "\n"), "heights of a.csv count from its lowest level, as site.elevation is not given")
}

func TestBadWinds(t *testing.T) {
	for _, c := range []struct{ wind, want string }{
		{"wind: nowhere.json\n", `flight.yaml:7: wind "nowhere.json": there is no such file; check the name`},
		{"wind: cut.csv\n", "cut.csv:2: 2 columns where the heading has 3"},
		{"wind: {file: levels.csv, forecast: forecast.json}\n", "is a second wind in one entry"},
		{"wind: {roughness: 3 cm}\n", "wind.levels is missing"},
		{"wind: {file: levels.csv, veer: 10 deg}\n", "wind.veer is for one level alone; leave it out"},
		{"wind: {fil: levels.csv}\n", `did you mean file?`},
		{"wind:\n  - {file: levels.csv, weight: 0.7}\n  - forecast.json\n", "has weights for 1 of its 2 winds; give every one a weight, or none"},
		{"wind:\n  - {file: levels.csv, weight: 0}\n  - {file: forecast.json, weight: 1}\n", "wind[0].weight"},
		{"wind: {forecast: forecast.json, measured: {from: 240 deg, speed: 9 mph}}\n", "wind.measured.height is missing"},
		{"wind: {forecast: forecast.json, measured: {height: 2 m, from: 240 deg, speed: 9 mph, gust: 5 mph}}\n", `wind.measured.gust "5 mph" is below the mean speed`},
		{"wind: {forecast: forecast.json, measured: {height: 2 m, from: 240 deg, speed: 9}}\n", `wind.measured.speed "9" has no unit`},
		{"wind: {forecast: forecast.json, measured: archive.csv}\n", `wind.measured "archive.csv" is no measurement near the ground`},
		{"wind: [{height: 2 m, from: 400 mag, speed: 9 mph}]\n", `wind[0].from "400 mag" is not a direction`},
		{"wind: [{height: 2 m, from: north mag, speed: 9 mph}]\n", `"north mag" is no bearing; write one such as 240 mag`},
		{"wind: [{hight: 2 m, from: 240 deg, speed: 9 mph}]\n", "wind[0].hight is not a known key; did you mean height?"},
		{"wind: []\n", "must be a list of levels"},
	} {
		_, err := flown(t, c.wind)
		if assert.Error(t, err, c.wind) {
			assert.Contains(t, err.Error(), c.want, c.wind)
		}
	}
	_, err := Read(write(t, strings.Replace(windless, "when: 2026-04-18T11:20:00+02:00\n", "", 1)+"wind: [{height: 2 m, from: 240 mag, speed: 9 mph}]\n"))
	assert.ErrorContains(t, err, "the launch time must be known")
}
