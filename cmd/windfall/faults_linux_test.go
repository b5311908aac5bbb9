package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// nobody is a user who owns nothing.
const nobody = 65534

// field is a copy of the example in a folder that everybody may enter, with the
// program beside it.
func field(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../testdata/garza")))
	out, err := exec.Command("go", "build", "-o", filepath.Join(dir, "windfall"), ".").CombinedOutput()
	require.NoError(t, err, string(out))
	for d := dir; d != os.TempDir() && d != "/"; d = filepath.Dir(d) {
		require.NoError(t, os.Chmod(d, 0o755))
	}
	return dir
}

// refused runs the program, as nobody if asked, and returns the one line it
// failed with.
func refused(t *testing.T, dir string, asNobody bool, args ...string) string {
	t.Helper()
	cmd := exec.Command(filepath.Join(dir, "windfall"), args...)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "WINDFALL_LOGBOOK="+filepath.Join(dir, "none.db"), "HOME="+dir)
	if asNobody {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	}
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.Error(t, cmd.Run())
	assert.Empty(t, out.String())
	line := errs.String()
	assert.Equal(t, 1, strings.Count(line, "\n"), line)
	return line
}

// onlyOld holds the folder to the file that was there before.
func onlyOld(t *testing.T, dir string) {
	t.Helper()
	es, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, es, 1, "half of the files")
	b, err := os.ReadFile(filepath.Join(dir, "landing.kml"))
	require.NoError(t, err)
	assert.Equal(t, "old", string(b))
}

// A folder that may not be written in: the old files stay, the line names it.
func TestUnwritableFolder(t *testing.T) {
	dir := field(t)
	out := filepath.Join(dir, "maps")
	require.NoError(t, os.Mkdir(out, 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(out, "landing.kml"), []byte("old"), 0o644))
	require.NoError(t, os.Chmod(out, 0o555))
	t.Cleanup(func() { os.Chmod(out, 0o755) })
	for _, args := range [][]string{{"predict", "flight.yaml", "--out", out}, {"search", "flight.yaml", "--pattern", "parallel", "--out", out}} {
		line := refused(t, dir, os.Getuid() == 0, args...)
		assert.Contains(t, line, out)
		assert.Contains(t, line, "permission denied")
		onlyOld(t, out)
	}
}

// A disk that fills while the files are written: the old files stay.
func TestFullDisk(t *testing.T) {
	dir := field(t)
	out := filepath.Join(dir, "maps")
	require.NoError(t, os.Mkdir(out, 0o755))
	if err := syscall.Mount("tmpfs", out, "tmpfs", 0, "size=120k"); err != nil {
		t.Skip("no small disk can be mounted here: ", err)
	}
	t.Cleanup(func() { syscall.Unmount(out, 0) })
	require.NoError(t, os.WriteFile(filepath.Join(out, "landing.kml"), []byte("old"), 0o644))
	for _, args := range [][]string{{"predict", "flight.yaml", "--out", out}, {"search", "flight.yaml", "--pattern", "parallel", "--out", out}} {
		line := refused(t, dir, false, args...)
		assert.Contains(t, line, out)
		assert.Contains(t, line, "no space left on device")
		onlyOld(t, out)
	}
}
