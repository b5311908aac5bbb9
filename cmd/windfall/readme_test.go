package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// consoleBlock is a session in README.md: lines that start with "$ " are
// commands for sh, what follows is what they print.
var consoleBlock = regexp.MustCompile("(?s)```console\n(.*?)```\n")

// TestReadme runs the README's sessions in a copy of the example and compares
// what is printed; go test -run TestReadme ./cmd/windfall -update rewrites it.
func TestReadme(t *testing.T) {
	if testing.Short() {
		t.Skip("runs the whole walk")
	}
	const readme = "../../README.md"
	text, err := os.ReadFile(readme)
	require.NoError(t, err)
	dir := t.TempDir()
	bin := filepath.Join(dir, "bin")
	require.NoError(t, os.CopyFS(filepath.Join(dir, "testdata/garza"), os.DirFS("../../testdata/garza")))
	require.NoError(t, os.RemoveAll(filepath.Join(dir, "testdata/garza/out")))
	out, err := exec.Command("go", "build", "-o", filepath.Join(bin, "windfall"), ".").CombinedOutput()
	require.NoError(t, err, string(out))

	blocks := 0
	now := consoleBlock.ReplaceAllStringFunc(string(text), func(block string) string {
		blocks++
		var b strings.Builder
		b.WriteString("```console\n")
		for _, line := range strings.Split(consoleBlock.FindStringSubmatch(block)[1], "\n") {
			command, ok := strings.CutPrefix(line, "$ ")
			if !ok {
				continue
			}
			cmd := exec.Command("sh", "-c", command)
			cmd.Dir = dir
			cmd.Env = append(os.Environ(), "PATH="+bin+":"+os.Getenv("PATH"), "WINDFALL_LOGBOOK="+filepath.Join(dir, "walk.db"), "TZ=UTC")
			got, err := cmd.CombinedOutput()
			require.NoError(t, err, "%s\n%s", command, got)
			b.WriteString(line + "\n" + string(got))
		}
		b.WriteString("```\n")
		return b.String()
	})
	require.Positive(t, blocks)
	if *update {
		require.NoError(t, os.WriteFile(readme, []byte(now), 0o644))
		return
	}
	assert.Equal(t, string(text), now)
}
