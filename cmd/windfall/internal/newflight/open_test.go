package newflight

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
)

// A folder that is not there is made to practise in: its forecast covers the
// hours around the launch. One that is there is taken as it is.
func TestOrOpen(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	now := time.Date(2026, 4, 16, 12, 0, 0, 0, time.UTC)
	path, err := OrOpen(dir, "", now)
	require.NoError(t, err)
	f, err := flightfile.Read(path, flightfile.Setting{Key: "wind", Value: "practice-forecast.json"})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, len(f.Hours), 9)
	for _, again := range []string{dir, path} {
		got, err := OrOpen(again, "", now)
		require.NoError(t, err)
		assert.Equal(t, path, got)
	}
	other := t.TempDir()
	_, err = OrOpen(other, "41.9, -4.9", now)
	require.NoError(t, err, "an empty folder serves")
	require.NoError(t, os.Remove(filepath.Join(other, "flight.yaml")))
	_, err = OrOpen(other, "", now)
	assert.ErrorContains(t, err, "holds no flight.yaml")
	_, err = OrOpen(filepath.Join(path, "x"), "", now)
	assert.Error(t, err)
	_, err = OrOpen("gone.yaml", "", now)
	assert.ErrorContains(t, err, "no such file")
}
