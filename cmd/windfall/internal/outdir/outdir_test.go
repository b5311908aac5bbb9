package outdir

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func names(t *testing.T, dir string) []string {
	t.Helper()
	es, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	require.NoError(t, err)
	var out []string
	for _, e := range es {
		out = append(out, e.Name())
	}
	return out
}

func TestCommitWritesAll(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a", "b")
	s := Open(dir)
	defer s.Discard()
	require.NoError(t, s.Bytes("one.txt", []byte("1")))
	require.NoError(t, s.Bytes("two.txt", []byte("2")))
	assert.NoFileExists(t, filepath.Join(dir, "one.txt"))
	got, err := s.Commit()
	require.NoError(t, err)
	assert.Equal(t, []string{filepath.Join(dir, "one.txt"), filepath.Join(dir, "two.txt")}, got)
	assert.Equal(t, []string{"one.txt", "two.txt"}, names(t, dir))
}

func TestFailureLeavesTheOldFiles(t *testing.T) {
	root := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(root, "one.txt"), []byte("old"), 0o644))
	s := Open(root)
	require.NoError(t, s.Bytes("one.txt", []byte("new")))
	err := s.Write("sub/two.txt", func(io.Writer) error { return errors.New("no space left on device") })
	require.ErrorContains(t, err, "no space left")
	s.Discard()
	assert.Equal(t, []string{"one.txt"}, names(t, root))
	b, err := os.ReadFile(filepath.Join(root, "one.txt"))
	require.NoError(t, err)
	assert.Equal(t, "old", string(b))
}

func TestFolderThatIsAFile(t *testing.T) {
	root := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(root, "out"), nil, 0o644))
	s := Open(filepath.Join(root, "out", "deep"))
	defer s.Discard()
	require.ErrorContains(t, s.Bytes("one.txt", nil), "is a file, not a folder")
}
