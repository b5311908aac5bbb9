package main

import (
	"os"
	"os/exec"
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

// Nothing dials out but 'windfall wind --fetch' (and what a user sets in the
// page): no other package of ours makes requests.
func TestNoNetwork(t *testing.T) {
	out, err := exec.Command("grep", "-rlE", `http\.(Get|Post|Head|DefaultClient|Client\{|NewRequest)|net\.Dial`, "../..", "--include=*.go", "--exclude=*_test.go").Output()
	require.NoError(t, err)
	for _, file := range strings.Fields(string(out)) {
		assert.Contains(t, []string{"../../drift/wind/sources/fetch.go"}, file, "makes requests of its own")
	}
}
