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

// Every module that is linked has its licence in docs/dependencies.md, and the
// page names none that is not.
func TestLicences(t *testing.T) {
	out, err := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{.Path}}{{end}}", ".").Output()
	require.NoError(t, err)
	linked := map[string]bool{}
	for _, m := range strings.Fields(string(out)) {
		if m != "windfall" {
			linked[m] = true
		}
	}
	page, err := os.ReadFile("../../docs/dependencies.md")
	require.NoError(t, err)
	_, list, ok := strings.Cut(string(page), "## Licences of everything that is linked")
	require.True(t, ok)
	told := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^\| ([^ |]+/[^ |]+) \| .`).FindAllStringSubmatch(list, -1) {
		told[m[1]] = true
	}
	assert.Equal(t, linked, told)
}

// requests are the words by which a program reaches out over the network, but for
// servers.
const requests = `http\.(Get|Post|Head|DefaultClient|DefaultTransport|Transport|Client\{|NewRequest)|` +
	`net\.(Dial|Lookup|Resolver)|DialContext|RoundTrip`

// Nothing dials out but 'windfall wind --fetch' (and what a user sets in the
// page): no other package of ours makes requests.
func TestNoNetwork(t *testing.T) {
	out, err := exec.Command("grep", "-rlE", requests, "../..", "--include=*.go", "--exclude=*_test.go").Output()
	require.NoError(t, err)
	assert.Equal(t, "../../drift/wind/sources/fetch.go", strings.TrimSpace(string(out)), "only that may make requests")
}

// Nor does the program ask the system for a way out while it works, whatever a
// library of ours may have in it.
func TestNoSockets(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("strace is not here")
	}
	dir := t.TempDir()
	program := filepath.Join(dir, "windfall")
	require.NoError(t, exec.Command("go", "build", "-o", program, ".").Run())
	for _, words := range []string{"check", "predict", "saw --by Ana --event landing --at 70s", "locate", "search", "log"} {
		trace := filepath.Join(dir, "trace")
		args := append([]string{"-f", "--seccomp-bpf", "-e", "trace=socket,connect", "-o", trace, program}, strings.Fields(words)...)
		args = append(args, garza, "--logbook", filepath.Join(dir, "book.db"))
		if words == "predict" || words == "locate" || words == "search" {
			args = append(args, "--runs", "300", "--out", filepath.Join(dir, "out"))
		}
		out, err := exec.Command(strace, args...).CombinedOutput()
		require.NoError(t, err, "%s: %s", words, out)
		traced, err := os.ReadFile(trace)
		require.NoError(t, err)
		assert.Contains(t, string(traced), "exited with 0", "the trace is whole")
		assert.NotContains(t, string(traced), "AF_INET", words)
	}
}
