package report

import (
	"context"
	"image"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/pictures"
	"windfall/cmd/windfall/internal/situation"
	"windfall/geo/photo/phototest"
	"windfall/search/look/scene"
)

// overhead is a picture from 30 m above a place, with a lime rocket five pixels
// wide in it where it is there.
func overhead(t *testing.T, lat, lon float64, there bool) string {
	t.Helper()
	rng := rand.New(rand.NewPCG(4, 4))
	p := scene.FromImage(scene.Meadow(256, 2), 800, 600, 1, image.Pt(0, 0))
	if there {
		p.Draw(scene.Thing{Shape: scene.Rocket, Paint: scene.Paints[4], Width: 5, X: 400, Y: 300, Turn: 0.4}, rng)
	}
	file, err := p.Take(scene.Camera{Blur: 0.7, Noise: 2, Exposure: 1, Quality: 88}, rng)
	require.NoError(t, err)
	up, yaw, pitch := 30.0, 0.0, -90.0
	file, err = phototest.Write(file, phototest.Tags{Lat: &lat, Lon: &lon, Above: &up, Yaw: &yaw, Pitch: &pitch, Focal35: 120,
		Time: time.Date(2026, 5, 2, 13, 0, 0, 0, time.UTC), Zoned: true})
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "a.jpg")
	require.NoError(t, os.WriteFile(path, file, 0o644))
	return path
}

// Pictures are looked at, what they show is logged, and the map changes by it;
// what cannot be used at all logs nothing.
func TestLook(t *testing.T) {
	f, o := heron(t)
	how := &pictures.Settings{Site: pictures.SiteOf(f.Input), Launch: f.Input.Flight.When}
	how.Target(f.Input)
	p := Photos{Files: []string{"none.jpg"}, Kept: filepath.Join(t.TempDir(), "kept.jsonl"), How: how}
	_, err := LogLook(context.Background(), f, p, o)
	require.ErrorContains(t, err, "none of the pictures can be used: none.jpg: cannot be read; check the name")
	assert.Empty(t, entries(t, o))

	before, err := situation.Predict(context.Background(), f.Input, o.Map)
	require.NoError(t, err)
	at := f.File.Frame.ToLonLat(before.Moments.Mean)
	p.Files = append(p.Files, overhead(t, at.Lat(), at.Lon(), true), overhead(t, at.Lat()+0.0004, at.Lon(), false))
	a, err := LogLook(context.Background(), f, p, o)
	require.NoError(t, err)
	require.Empty(t, a.Caution)
	require.Len(t, entries(t, o), 1)
	require.Equal(t, 2, a.Survey.Looked)
	require.NotEmpty(t, a.Survey.Candidates)
	assert.Equal(t, 1, a.Survey.Candidates[0].N)
	assert.InDelta(t, at.Lat(), a.Survey.Candidates[0].At.Lat, 1e-5)
	assert.Greater(t, a.Left.POS, 0.0)
	assert.Empty(t, a.Left.Advice)
	require.NotEmpty(t, a.Areas)

	ctx, stop := context.WithCancel(context.Background())
	stop()
	_, err = LogLook(ctx, f, p, o)
	require.ErrorIs(t, err, context.Canceled)
}
