package newflight

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/usage"
)

func TestComingWeekend(t *testing.T) {
	for day, want := range map[int]string{16: "Sat 18", 17: "Sat 18", 18: "Sun 19", 19: "Sat 25"} { // the 16th of April 2026 is a Thursday
		got := comingWeekend(time.Date(2026, 4, day, 15, 0, 0, 0, time.UTC))
		assert.Equal(t, want+" 11:00", got.Format("Mon 2 15:04"))
	}
}

// The south-west corner names a tile (SRTM, as in N39W006.hgt).
func TestTile(t *testing.T) {
	for pad, want := range map[string]string{"41.9, -4.9": "N41W005.hgt", "53.907, -1.81": "N53W002.hgt", "-33.2, 151.6": "S34E151.hgt",
		"0.5, 0.5": "N00E000.hgt", "-0.5, -0.5": "S01W001.hgt"} {
		s, err := From(pad, "metric")
		require.NoError(t, err)
		assert.Equal(t, want, s.Tile())
	}
}

// What is written can be flown, in both systems of units, and with the forecast
// to practise with.
func TestWrittenFlightsFly(t *testing.T) {
	now := time.Date(2026, 4, 16, 15, 0, 0, 0, time.UTC)
	for _, units := range []string{"metric", "imperial"} {
		for _, pad := range []string{"", "39.0512, -5.5831"} {
			s, err := From(pad, units)
			require.NoError(t, err)
			files, err := s.Write(filepath.Join(t.TempDir(), "first"), now)
			require.NoError(t, err)
			f, err := flightfile.Read(files[0])
			require.NoError(t, err)
			assert.Equal(t, "first", f.Flight.ID)
			_, err = f.Model()
			require.NoError(t, err)
			require.NoError(t, AddPractice(files[0]))
			f, err = flightfile.Read(files[0], flightfile.Setting{Key: "wind", Value: practiceName})
			require.NoError(t, err)
			assert.GreaterOrEqual(t, len(f.Hours), 8)
		}
	}
}

func TestRefusals(t *testing.T) {
	_, err := From("nowhere", "metric")
	assert.True(t, usage.Is(err))
	_, err = From("", "furlongs")
	assert.ErrorContains(t, err, "write metric or imperial")
	s, err := From("", "metric")
	require.NoError(t, err)
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	_, err = s.Write(dir, time.Now())
	assert.ErrorContains(t, err, "is not empty")
	_, err = s.Write(file, time.Now())
	assert.ErrorContains(t, err, "is not a folder")
	assert.Error(t, AddPractice(file))
}
