package mapfile

import (
	"archive/zip"
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// tool runs a program from outside the project and returns what it printed; a
// test without the program is skipped with the way to get it.
func tool(t *testing.T, pkg, name string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		t.Skipf("%s is not installed: apt install %s", name, pkg)
	}
	out, err := exec.Command(name, args...).CombinedOutput()
	require.NoError(t, err, "%s: %s", name, trouble(string(out)))
	return string(out)
}

// trouble keeps the first lines that say more than "validates".
func trouble(out string) string {
	var keep []string
	for line := range strings.Lines(out) {
		if !strings.HasSuffix(line, " validates\n") && len(keep) < 12 {
			keep = append(keep, line)
		}
	}
	return strings.Join(keep, "")
}

// written writes one format of l to a folder of the test and returns the path.
func written(t *testing.T, l *Landing, name string, o Options) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "file."+name)
	if name == "sheet" {
		path += ".html"
	}
	require.NoError(t, os.WriteFile(path, made(t, l, name, o), 0o644))
	return path
}

func made(t *testing.T, l *Landing, name string, o Options) []byte {
	t.Helper()
	for _, f := range formats {
		if f.name == name {
			var b bytes.Buffer
			require.NoError(t, f.write(&b, l, o))
			return b.Bytes()
		}
	}
	require.Fail(t, "no format "+name)
	return nil
}

// unzipped returns a file of a KMZ.
func unzipped(t *testing.T, kmz []byte, name string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(kmz), int64(len(kmz)))
	require.NoError(t, err)
	f, err := z.Open(name)
	require.NoError(t, err, name)
	defer f.Close()
	b, err := io.ReadAll(f)
	require.NoError(t, err)
	return b
}
