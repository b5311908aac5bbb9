package keptplan

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The plan is read from the first folder that holds one; what is none, or of
// another version, is as good as none.
func TestRead(t *testing.T) {
	dir := t.TempDir()
	none, err := Read(dir, filepath.Join(dir, "gone"))
	require.NoError(t, err)
	assert.Nil(t, none)
	path := filepath.Join(dir, File)
	for text, key := range map[string]string{`{"key": "k", "plan": {"minutes": 20}}`: "k", `{"key": "k"}`: "", `{"plan": {}}`: "", "x": ""} {
		require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
		k, err := Read(filepath.Join(dir, "gone"), dir)
		require.NoError(t, err)
		if key == "" {
			assert.Nil(t, k, text)
			continue
		}
		require.NotNil(t, k)
		assert.Equal(t, key, k.Key)
		assert.InDelta(t, 20, k.Plan.Minutes, 1e-12)
	}
	require.NoError(t, os.Remove(path))
	require.NoError(t, os.Mkdir(path, 0o755))
	_, err = Read(dir)
	assert.ErrorContains(t, err, "make it readable, or name another folder with --out")
}
