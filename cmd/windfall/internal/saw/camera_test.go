package saw

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/record"
	"windfall/drift/evidence"
	"windfall/geo/photo/phototest"
)

func known(t *testing.T) *record.Flight {
	t.Helper()
	f, err := record.Prepare(flight(t))
	require.NoError(t, err)
	return f
}

// phone is a picture that looks north-east from near the pad, 400 by 300.
func phone(t *testing.T) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 400, 300)), nil))
	pad := flight(t).Flight.Site.Pad
	lat, lon, deg := pad.Lat(), pad.Lon()-0.005, 45.0
	file, err := phototest.Write(b.Bytes(), phototest.Tags{Lat: &lat, Lon: &lon, Direction: &deg, Focal35: 26,
		Time: time.Date(2026, 5, 2, 12, 1, 30, 0, time.UTC)})
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "a.jpg")
	require.NoError(t, os.WriteFile(path, file, 0o644))
	return path
}

// A picture fills in what was not said; what was said stays.
func TestPhoto(t *testing.T) {
	f, name := known(t), phone(t)
	w := Words{"photo": name, "at-pixel": "200,150", "horizon": "200,180 10,180", "event": "landing"}
	in, err := Photo(w, f)
	require.NoError(t, err)
	require.Equal(t, "a.jpg", Picture(in).Name)
	require.Equal(t, [2]float64{200, 150}, Picture(in).Pixel)
	var s evidence.Sighting
	require.NoError(t, Read(w, f.File, &s))
	b := s.Kind.(evidence.Bearing)
	require.InDelta(t, 45, *b.BearingDeg, 0.06)
	require.InDelta(t, 10, b.BearingSD, 0.5)
	require.InDelta(t, 5.7, *b.ElevDeg, 0.3, "the horizon lies 30 pixels below: 30 over a focal length of 300")

	w = Words{"photo": name, "at-pixel": "200,150", "bearing": "050", "heading": "10", "tilt": "5", "field-of-view": "60"}
	_, err = Photo(w, f)
	require.NoError(t, err)
	require.Equal(t, "050", w["bearing"])
	require.NotContains(t, w, "bearing-sd")
	require.Equal(t, "5.0", w["elevation"])

	none, err := Photo(Words{"bearing": "1"}, f)
	require.NoError(t, err)
	require.Nil(t, none)
	for want, w := range map[string]Words{
		"--keep belongs to --photo":      {"keep": "true"},
		"--photo needs --at-pixel X,Y":   {"photo": name},
		"go together":                    {"photo": name, "at-pixel": "1,1", "landmark": "41.9,-4.9"},
		"--landmark: ":                   {"photo": name, "at-pixel": "1,1", "landmark": "nowhere", "landmark-pixel": "1,1"},
		"--horizon: \"x,1\" is no pixel": {"photo": name, "at-pixel": "1,1", "horizon": "x,1"},
		"--clock-offset: ":               {"photo": name, "at-pixel": "1,1", "clock-offset": "soon"},
		"a.jpg: pixel 900,1 lies":        {"photo": name, "at-pixel": "900,1"},
	} {
		_, err := Photo(w, f)
		require.ErrorContains(t, err, want)
	}
}

func TestCameras(t *testing.T) {
	f := known(t)
	log := filepath.Join(t.TempDir(), "log.csv")
	require.NoError(t, os.WriteFile(log, []byte("time,lat,lon\n1777723200,41.9,-4.9\n1777723201,41.9,-4.9\n"), 0o644))
	s, err := Cameras(Words{"from": "41.9050, -4.9210", "heading": "047 mag", "tilt": "-90", "focal": "24 mm", "above": "40 m",
		"clock-offset": "-3s", "every": "1s", "begins": "2026-05-02T12:10:00+02:00", "path": log}, f)
	require.NoError(t, err)
	require.InDelta(t, 46.5, *s.Given.Heading, 1.5)
	require.NotEqual(t, 47.0, *s.Given.Heading)
	require.Equal(t, -90.0, *s.Given.Pitch)
	require.Equal(t, 24.0, s.Given.Focal35)
	require.Equal(t, 40.0, *s.Given.AboveGround)
	require.Equal(t, -3*time.Second, s.Ahead)
	require.Equal(t, time.Second, s.Every)
	require.Len(t, s.Path, 2)
	require.NotEmpty(t, s.Key)
	for want, w := range map[string]Words{
		"frames of a film need":            {"every": "1s"},
		"--begins: \"noon\" is not a time": {"every": "1s", "begins": "noon"},
		"--tilt: ":                         {"tilt": "91"},
		"--path none.csv: cannot be read":  {"path": "none.csv"},
		"--focal: ":                        {"focal": "1"},
	} {
		_, err := Cameras(w, f)
		require.ErrorContains(t, err, want)
	}
}
