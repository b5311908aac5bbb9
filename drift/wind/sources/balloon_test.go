package sources

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// One look, by hand: 2.5 m/s for a minute at 30 degrees is 259.81 m toward the
// balloon, 4.330 m/s in the mean of the lowest 150 m.
func TestBalloonTable(t *testing.T) {
	elevation, declination := 412.0, 2.0
	opt := Options{When: time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC), Elevation: &elevation, Declination: &declination}
	for name, text := range map[string]string{
		"rate":     "# rise: 2.5 m/s\n# started: 2026-03-14T09:50:00Z\n# by Ines\ntime (s),elevation (deg),azimuth (deg)\n60,30,90\n",
		"cells":    "# rise: 9 km/h\n# started: 2026-03-14T09:50:00Z\ntime;elevation;azimuth;by\n1 min;30 deg;88 mag;Ines\n",
		"magnetic": "# rise: 2.5 m/s\n# started: 2026-03-14T09:50:00Z\ntime (s)\televation (deg)\tazimuth (mag)\n60\t30\t88\n",
		"tail":     "# tail: 5 m\n# started: 2026-03-14T09:50:00Z\ntime (s),elevation (deg),azimuth (deg),tail (deg)\n60,30,90,0.82694\n",
		"two":      "# base: 259.8076 m toward 0 deg\n# angles: 0.1 deg\n# started: 2026-03-14T09:50:00Z\ntime (s),elevation (deg),azimuth (deg),elevation_2 (deg),azimuth_2 (deg)\n60,30,90,22.2077,135\n",
	} {
		t.Run(name, func(t *testing.T) {
			r, err := Read("b.csv", strings.NewReader(text), opt)
			require.NoError(t, err)
			require.Len(t, r.Levels, 1)
			l := r.Levels[0]
			assert.InDelta(t, 75, l.Height, 0.02)
			assert.InDelta(t, 487, l.Elevation, 0.02)
			assert.InDelta(t, 4.33013, l.Speed, 2e-3)
			assert.InDelta(t, 270, l.FromDeg, 0.02)
			assert.Equal(t, time.Date(2026, 3, 14, 9, 50, 0, 0, time.UTC), r.Valid)
			assert.Greater(t, l.SD, 0.9, "not better than the default")
		})
	}
}

func TestBalloonTablesThatCannotBe(t *testing.T) {
	const head = "time (s),elevation (deg),azimuth (deg)\n"
	for text, want := range map[string]string{
		"# rise: 2.5\n" + head + "60,30,90\n":             "b.csv:1: rise",
		"# rise: 0 m/s\n" + head:                          "b.csv:1: rise",
		"# started: noon\n" + head:                        "b.csv:1: started",
		"# base: 300 m\n" + head:                          "b.csv:1: base",
		"# rise: 2 m/s\n" + head + "60,30\n":              "b.csv:3: azimuth is missing",
		"# rise: 2 m/s\n" + head + "60,low,90\n":          "b.csv:3: elevation",
		"# rise: 2 m/s\n" + head + "60,30,90\n30,20,90\n": "b.csv:4: time 30 s is not after 60 s",
		"# tail: 5 m\ntime (s),elevation,azimuth,tail\n20,40 deg,90 deg,1 deg\n40,20 deg,90 deg,2 deg\n": "b.csv:4: the balloon sinks",
		head + "60,30,90\n":      "b.csv:2: neither a rate of ascent",
		"# rise: 2 m/s\n" + head: "there is none",
	} {
		_, err := Read("b.csv", strings.NewReader(text), Options{})
		assert.ErrorContains(t, err, want, text)
	}
	_, err := Read("b.csv", strings.NewReader("height,from,speed\n"), Options{Balloon: true})
	assert.ErrorContains(t, err, "time, elevation and azimuth are wanted")
}

func FuzzBalloon(f *testing.F) {
	f.Add("# rise: 2.5 m/s\ntime (s),elevation (deg),azimuth (deg)\n60,30,90\n")
	f.Add("# base: 300 m toward 140 deg\ntime (s),elevation,azimuth,elevation_2,azimuth_2\n60,30 deg,90 deg,30 deg,10 deg\n")
	f.Fuzz(func(t *testing.T, s string) { sound(t, []byte(s)) })
}
