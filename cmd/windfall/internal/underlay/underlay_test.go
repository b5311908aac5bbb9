package underlay

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/usage"
	"windfall/geo"
	"windfall/geo/mapfile"
	"windfall/geo/plane"
)

func TestOpen(t *testing.T) {
	pad := orb.Point{-4.921, 41.905}
	none, err := Open("--base", "", "", pad)
	require.NoError(t, err)
	assert.Nil(t, none.Under(&mapfile.Landing{}).Base)
	assert.NoError(t, none.Close())
	_, err = Open("--base", "", "ours", pad)
	assert.ErrorContains(t, err, "name it with --base")
	assert.True(t, usage.Is(err))

	path := filepath.Join(t.TempDir(), "field.png")
	_, err = Open("--base", path, "", pad)
	assert.ErrorContains(t, err, "--base "+path+": ")
	var b bytes.Buffer
	img := image.NewGray(image.Rect(0, 0, 40, 30))
	require.NoError(t, png.Encode(&b, img))
	require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	require.NoError(t, os.WriteFile(path[:len(path)-3]+"pgw", []byte("1e-3\n0\n0\n-1e-3\n-4.94\n41.92\n"), 0o644))
	_, err = Open("--base", path, "", orb.Point{10, 50})
	assert.ErrorContains(t, err, "does not cover 50.00000, 10.00000")
	for credit, want := range map[string]string{"": "field.png", "survey": "survey"} {
		m, err := Open("--base", path, credit, pad)
		require.NoError(t, err)
		l := m.Under(&mapfile.Landing{})
		assert.Equal(t, want, l.Base.Credit)
		box := plane.Box{Min: geo.XY{X: -50, Y: -50}, Max: geo.XY{X: 50, Y: 50}}
		_, _, _, a := l.Base.Draw(geo.Frame{Origin: pad}, box, 10, 10).At(5, 5).RGBA()
		assert.NotZero(t, a)
		assert.NoError(t, m.Close())
	}
}
