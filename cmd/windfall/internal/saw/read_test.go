package saw

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/drift/evidence"
)

const flightText = `flight: heron-01
when: 2026-05-02T12:00:00+02:00
site: {pad: "41.9050, -4.9210", elevation: 700 m}
vehicle: {mass: 600 g, diameter: 54 mm}
motor: {designation: G80-7}
recovery: [{device: parachute, descent_rate: 5 m/s}]
wind: [{height: 2 m, from: 210 deg, speed: 9 mph}]
`

func flight(t *testing.T) *flightfile.File {
	t.Helper()
	f, err := flightfile.Parse("heron/flight.yaml", []byte(flightText), nil)
	require.NoError(t, err)
	return f
}

// read reads words into a sighting, over those before.
func read(t *testing.T, f *flightfile.File, all ...Words) (s evidence.Sighting) {
	t.Helper()
	for _, w := range all {
		require.NoError(t, Read(w, f, &s), w)
	}
	return s
}

func TestBearing(t *testing.T) {
	f := flight(t)
	first := Words{"from": "41.9055, -4.9920", "bearing": "047", "elevation": "12", "event": "Ejection", "bearing-sd": "2", "note": "from the gate", "sure": "80 %"}
	s := read(t, f, first)
	b := s.Kind.(evidence.Bearing)
	assert.Equal(t, 47.0, *b.BearingDeg)
	assert.Equal(t, 12.0, *b.ElevDeg)
	assert.Equal(t, "ejection", b.Event)
	assert.Equal(t, 2.0, b.BearingSD)
	assert.InDelta(t, 41.9055, b.From.Lat, 1e-6)
	assert.InDelta(t, -5890, b.From.East, 60) // 0.071 degrees of longitude at 41.9 north, 83.0 km a degree (WGS 84)
	assert.Equal(t, "from the gate", s.Note)
	assert.InDelta(t, 0.8, *s.Sure, 1e-12)

	// Amended, it keeps what is not said anew; a window of times takes the
	// place of a time.
	s = read(t, f, first, Words{"at": "31s"}, Words{"after": "20 s", "before": "60 s", "radio": "true"})
	b = s.Kind.(evidence.Bearing)
	assert.Nil(t, b.At)
	assert.Equal(t, 20.0, *b.After)
	assert.Equal(t, 47.0, *b.BearingDeg)
	assert.True(t, b.Radio)

	// The declination there is within half a degree of 0 (World Magnetic Model
	// of 2025), as geo/magnetic holds it to NOAA's values.
	s = read(t, f, Words{"from": "41.9055, -4.9920", "bearing": "047 mag"})
	assert.InDelta(t, 47, *s.Kind.(evidence.Bearing).BearingDeg, 1)
	assert.Equal(t, "047 mag", s.Said)
}

func TestOtherKinds(t *testing.T) {
	f := flight(t)
	timing := read(t, f, Words{"event": "landing", "at": "12:01:32"}).Kind.(evidence.Timing)
	assert.Equal(t, 92.0, *timing.At)
	heard := read(t, f, Words{"event": "landing", "at": "92 s", "since": "ejection", "heard": "true"}).Kind.(evidence.Timing)
	assert.True(t, heard.Heard)
	assert.Equal(t, "ejection", heard.Since)
	height := read(t, f, Words{"event": "apogee", "height": "310 m", "height-sd": "9 m"}).Kind.(evidence.Height)
	assert.Equal(t, 310.0, *height.HeightM)
	looks := read(t, f, Words{"looked": " Open "}).Kind.(evidence.Looks)
	assert.Equal(t, "open", looks.Looked)

	area := filepath.Join(t.TempDir(), "field.geojson")
	require.NoError(t, os.WriteFile(area, []byte(`{"type":"Polygon","coordinates":[[[-4.92,41.90],[-4.91,41.90],[-4.91,41.91],[-4.92,41.90]]]}`), 0o644))
	nothing := read(t, f, Words{"nothing-in": area, "sure": "0.8"}).Kind.(evidence.NothingIn)
	assert.NotNil(t, nothing.Geometry)
}

func TestRefusals(t *testing.T) {
	f := flight(t)
	big := filepath.Join(t.TempDir(), "big.geojson")
	require.NoError(t, os.WriteFile(big, make([]byte, mostAreaBytes+1), 0o644))
	line := filepath.Join(t.TempDir(), "line.geojson")
	require.NoError(t, os.WriteFile(line, []byte(`{"type":"LineString","coordinates":[[1,2],[1,3]]}`), 0o644))
	for says, w := range map[string]Words{
		"nothing to log":                      {},
		"--elevation needs --from":            {"elevation": "12"},
		"are sightings of their own":          {"bearing": "1", "height": "3 m"},
		"--radio belongs to --bearing":        {"height": "3 m", "radio": "true"},
		"--sure: ":                            {"bearing": "1", "sure": "often"},
		"--bearing-sd: \"0\" is not above":    {"bearing": "1", "bearing-sd": "0"},
		"--from: ":                            {"bearing": "1", "from": "nowhere"},
		"is before the ignition at 12:00:00":  {"event": "landing", "at": "11:59:10"},
		"is not a time; write one":            {"event": "landing", "at": "1x:20"},
		"missing.geojson: cannot be read":     {"nothing-in": "missing.geojson"},
		"is larger than 4 MiB":                {"nothing-in": big},
		"line.geojson: type \"LineString\" h": {"nothing-in": line},
	} {
		var s evidence.Sighting
		assert.ErrorContains(t, Read(w, f, &s), says)
	}
	f.Flight.When = f.Flight.When.AddDate(-9999, 0, 0)
	var s evidence.Sighting
	assert.Error(t, Read(Words{"bearing": "047 mag"}, f, &s), "no declination is known of that year")
}
