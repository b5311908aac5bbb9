package winds

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/outdir"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/wind/sources"
)

const levels = "height (m),from,speed (m/s)\n10,180 deg,4\n500,200 deg,9\n"

// A file or a flight's own wind is read, and drawn where a folder is named.
func TestReadAndDraw(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "levels.csv")
	require.NoError(t, os.WriteFile(path, []byte(levels), 0o644))
	set := outdir.Open("")
	defer set.Discard()
	q := Request{Files: []string{path}, Dir: filepath.Join(dir, "out")}
	r, err := q.Read(context.Background(), set)
	require.NoError(t, err)
	require.Len(t, r.Choices, 1)
	assert.InDelta(t, 9, r.Choices[0].Profile.Levels[1].Speed, 1e-9)
	require.NoError(t, q.Draw(set, r))
	files, err := set.Commit()
	require.NoError(t, err)
	assert.Len(t, files, 4)
	for _, f := range files {
		st, err := os.Stat(f)
		require.NoError(t, err)
		assert.Greater(t, st.Size(), int64(1000), f)
	}

	f, err := flightfile.Read("../../../../testdata/garza")
	require.NoError(t, err)
	own, err := Request{Flight: f}.Read(context.Background(), set)
	require.NoError(t, err)
	assert.Equal(t, f.Flight.Wind, own.Choices)

	for _, bad := range []string{filepath.Join(dir, "none.csv"), "../../../../testdata/garza/flight.yaml"} {
		_, err := Request{Files: []string{bad}}.Read(context.Background(), set)
		assert.True(t, usage.Is(err), bad)
	}
}

// A forecast that is asked of a service is kept as it came, beside the flight.
func TestFetched(t *testing.T) {
	const answer = `{"elevation": 700, "hourly_units": {"wind_speed_10m": "m/s", "wind_speed_850hPa": "m/s"}, "hourly": {"time": ["2026-04-18T10:00", "2026-04-18T11:00"],
"wind_speed_10m": [4, 5], "wind_direction_10m": [180, 190], "wind_speed_850hPa": [9, 9], "wind_direction_850hPa": [200, 200], "geopotential_height_850hPa": [1500, 1500]}}`
	fail := false
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		if fail {
			http.Error(w, "busy", http.StatusServiceUnavailable)
			return
		}
		fmt.Fprint(w, answer)
	}))
	defer s.Close()
	f, err := flightfile.Read("../../../../testdata/garza")
	require.NoError(t, err)
	f.Path = filepath.Join(t.TempDir(), "flight.yaml")
	when := time.Date(2026, 4, 18, 10, 0, 0, 0, time.UTC)
	q := Request{Flight: f, Fetch: &sources.Request{Service: s.URL, Place: orb.Point{-4.921, 41.905}, When: when},
		Options: sources.Options{When: when}}
	set := outdir.Open("")
	defer set.Discard()
	r, err := q.Read(context.Background(), set)
	require.NoError(t, err)
	assert.NotEmpty(t, r.Choices)
	assert.Contains(t, r.Cautions[0], "saved the answer as ")
	files, err := set.Commit()
	require.NoError(t, err)
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	assert.Equal(t, answer, string(text))
	assert.Equal(t, filepath.Join(filepath.Dir(f.Path), "forecast-20260418T1000Z.json"), files[0])
	fail = true
	_, err = q.Read(context.Background(), set)
	assert.Error(t, err)
}
