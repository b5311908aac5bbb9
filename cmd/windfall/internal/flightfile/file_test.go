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

	"windfall/drift/trigger"
	"windfall/search"
)

const small = `site: {pad: 41.9050, -4.9210}
vehicle: {mass: 120 g, diameter: 24.8 mm}
motor: {designation: C6-5}
recovery:
  - {device: parachute, descent_rate: 4 m/s}
wind:
  - {height: 2 m, from: 240 deg, speed: 9 mph}
`

func write(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "flight.yaml")
	require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
	return path
}

func TestExample(t *testing.T) {
	f, err := Read("../../../../testdata/garza/flight.yaml")
	require.NoError(t, err)
	assert.Equal(t, "garza-03", f.Flight.ID)
	assert.Equal(t, time.Date(2026, 4, 18, 9, 20, 0, 0, time.UTC), f.Flight.When.UTC())
	assert.InDelta(t, 41.9050, f.Flight.Site.Pad.Lat(), 1e-9)
	assert.InDelta(t, 287.15, *f.Flight.Site.Temperature, 1e-9)
	assert.InDelta(t, 102100, *f.Flight.Site.QNH, 1e-6)
	assert.InDelta(t, 0.22*4.2*0.15, f.Flight.Recovery[0].CdS, 1e-12)
	assert.Len(t, f.Flight.Wind[0].Profile.Levels, 12)
	assert.InDelta(t, 13*1852.0/3600, f.Flight.Wind[0].Profile.Levels[0].Speed, 1e-12)
	require.Len(t, f.Searchers, 3)
	assert.Equal(t, search.Drone, f.Searchers[2].Kind)
	assert.InDelta(t, 0, f.Searchers[0].Start.Norm(), 1e-6)
	assert.InDelta(t, 400, f.Searchers[1].Start.Y, 5)
	assert.Equal(t, trigger.Burnout, f.Flight.Parts[0].Sheds[0].Kind)
	assert.Empty(t, f.Assumed)
}

func TestSmallestFlight(t *testing.T) {
	f, err := Read(write(t, small))
	require.NoError(t, err)
	assert.InDelta(t, -4.9210, f.Flight.Site.Pad.Lon(), 1e-9)
	assert.Equal(t, 4.0, *f.Flight.Recovery[0].DescentRate)
	assert.Equal(t, trigger.Ejection, f.Flight.Recovery[0].Trigger.Kind)
	assert.Contains(t, strings.Join(f.Assumed, "\n"), "rail: 1 m guided, vertical")
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"speed: 9 mph", "speed: 9", `flight.yaml:7: wind[0].speed "9" has no unit; write one, such as 9 m/s, 9 kn, 9 mph or 9 km/h`},
		{"mass: 120 g", "mass: 120 mm", `flight.yaml:2: vehicle.mass "120 mm" is a length, not a mass`},
		{"mass: 120 g", "mass: .nan", `flight.yaml:2: vehicle.mass ".nan" is not a number`},
		{"mass: 120 g", "mass: -120 g", `vehicle.mass "-120 g" must be greater than zero`},
		{"mass:", "masss:", `flight.yaml:2: vehicle.masss is not a known key; did you mean mass?`},
		{"41.9050", "95.1", `flight.yaml:1: site.pad place "95.1,-4.9210" has latitude 95.1, beyond 90`},
		{"descent_rate: 4 m/s", "trigger: eject", `recovery[0].trigger "eject" is not a trigger`},
		{"motor: {designation: C6-5}", "motor: {thrust: motor.csv}", `flight.yaml:3: motor.thrust "motor.csv": there is no such file; check the name`},
		{"motor: {designation: C6-5}", "", `flight.yaml:1: motor is missing`},
		{"wind:\n", "wind: []\nrail: {lean: 3 deg}\n#", `rail.toward is missing`},
		{"site:", "site: {pad: 1, 2}\nsite:", `site is written twice`},
		{small, "", "is empty"},
		{small, "- a", "is not a flight file"},
		{"height: 2 m", "height: 0 m", `wind[0].height "0 m" must be greater than zero`},
		{"from: 240 deg", "from: 400 deg", `wind[0].from "400 deg" is not a direction`},
		{"speed: 9 mph", "speed: 999 kn", `wind[0].speed "999 kn" cannot be`},
	} {
		require.Contains(t, small, c.from)
		_, err := Read(write(t, strings.Replace(small, c.from, c.to, 1)))
		require.Error(t, err, c.to)
		assert.Contains(t, err.Error(), c.want)
		assert.NotContains(t, err.Error(), "\n")
	}
}

func TestSettings(t *testing.T) {
	path := write(t, small)
	f, err := Read(path, Setting{"motor.delay", "6 s"}, Setting{"recovery.0.descent_rate", "7 m/s"}, Setting{"rail", "{lean: 4 deg, toward: 90 deg}"})
	require.NoError(t, err)
	assert.Equal(t, 6.0, *f.Flight.Motor.Delay)
	assert.Equal(t, 7.0, *f.Flight.Recovery[0].DescentRate)
	assert.Equal(t, 90.0, f.Flight.Rail.TowardDeg)
	_, err = Read(path, Setting{"motor.dely", "6 s"})
	assert.ErrorContains(t, err, "motor.dely is not a known key; did you mean delay?")
	_, err = Read(path, Setting{"recovery.3.device", "streamer"})
	assert.ErrorContains(t, err, "has 1 entries")
}

func TestTable(t *testing.T) {
	rows, err := readTable(strings.NewReader("# bench test\ntime_s,thrust_n\n0,0\n0,80\n1.2,0\n"), "m.csv", "time_s", "thrust_n")
	require.NoError(t, err)
	assert.Equal(t, [][2]float64{{0, 0}, {0, 80}, {1.2, 0}}, rows, "a jump")
	for text, want := range map[string]string{
		"time_s,thrust_n\n0.2,0\n0.1,5\n": "m.csv:3: time_s 0.1 does not rise above 0.2",
		"time_s,thrust_n\n0,NaN\n":        `m.csv:2: thrust_n "NaN" is not a number`,
		"t,f\n0,1\n":                      `m.csv:1: header "t,f" lacks a column; write time_s,thrust_n`,
		"":                                "m.csv: has no rows",
		"0,1\n\"2,3\n":                    "m.csv:2",
	} {
		_, err := readTable(strings.NewReader(text), "m.csv", "time_s", "thrust_n")
		assert.ErrorContains(t, err, want)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(small))
	f.Add([]byte("a: &x [*x]"))
	f.Add([]byte("site: {pad: [1, 2]}\nvehicle:\n  mass: |\n    1 kg\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		root, err := parse("f.yaml", b)
		if err != nil {
			return
		}
		file := &File{Path: "no-such-folder/f.yaml", root: root}
		if file.decode() == nil {
			assert.False(t, math.IsNaN(file.Flight.Vehicle.Mass))
			assert.Greater(t, file.Flight.Vehicle.Mass, 0.0)
		}
	})
}
