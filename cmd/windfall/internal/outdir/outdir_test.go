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

// A run killed between two renamings is seen, and finished by the next one.
func TestKilledHalfWay(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "a.kml"), []byte("new"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "b.kml"), []byte("old"), 0o644))
	left := filepath.Join(dir, ".b.kml.windfall-999999999-17")
	require.NoError(t, os.WriteFile(left, []byte("new"), 0o644))
	text := noticeHead + filepath.Join(dir, ".a.kml.windfall-999999999-16") + "\t" + filepath.Join(dir, "a.kml") + "\n" +
		left + "\t" + filepath.Join(dir, "b.kml") + "\n" + "/etc/passwd\t" + filepath.Join(dir, "c.kml") + "\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, notice), []byte(text), 0o644))
	Open(dir)
	assert.Equal(t, []string{"a.kml", "b.kml"}, names(t, dir))
	b, err := os.ReadFile(filepath.Join(dir, "b.kml"))
	require.NoError(t, err)
	assert.Equal(t, "new", string(b))
}

// Temporary files of a process that has gone are removed, those of one that
// runs are not.
func TestLeftovers(t *testing.T) {
	dir := t.TempDir()
	mine, err := os.CreateTemp(dir, temporary("x.kml"))
	require.NoError(t, err)
	require.NoError(t, mine.Close())
	require.NoError(t, os.WriteFile(filepath.Join(dir, ".x.kml.windfall-999999999-1"), nil, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, ".hidden"), nil, 0o644))
	Open(dir)
	assert.Equal(t, []string{".hidden", filepath.Base(mine.Name())}, names(t, dir))
}

// The notice stands there exactly while files are being renamed.
func TestNotice(t *testing.T) {
	dir := t.TempDir()
	s := Open(dir)
	defer s.Discard()
	require.NoError(t, s.Bytes("a", nil))
	require.NoError(t, s.Bytes("b", nil))
	assert.NoFileExists(t, filepath.Join(dir, notice))
	for _, f := range s.staged {
		require.NoError(t, f.file.Close())
	}
	done, err := s.announce()
	require.NoError(t, err)
	assert.FileExists(t, filepath.Join(dir, notice))
	done()
	assert.NoFileExists(t, filepath.Join(dir, notice))
}

// What cannot be written is said before any work.
func TestCheck(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "f")
	require.NoError(t, os.WriteFile(file, nil, 0o644))
	require.NoError(t, Check(filepath.Join(dir, "deep", "er"), filepath.Join(dir, "x.csv")))
	assert.Equal(t, []string{"f"}, names(t, dir))
	require.ErrorContains(t, Check(filepath.Join(file, "out")), "f is a file, not a folder")
	require.ErrorContains(t, Check(dir, dir), "is a folder; name a file")
	require.ErrorContains(t, Check(dir, filepath.Join(dir, "no", "x.csv")), "there is no folder")
	require.ErrorContains(t, Open(dir).Bytes("", nil), "is a folder")
}
