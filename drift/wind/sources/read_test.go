package sources

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// readText reads a source given as text.
func readText(t *testing.T, text string, opt Options) Report {
	t.Helper()
	r, err := Read("wind.txt", strings.NewReader(text), opt)
	require.NoError(t, err)
	return r
}

// readFile reads a source in testdata.
func readFile(t *testing.T, name string, opt Options) Report {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	require.NoError(t, err)
	defer f.Close()
	r, err := Read(name, f, opt)
	require.NoError(t, err)
	return r
}
