package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const sample = `// Package a is a sample.
package a

// Said is said.
const Said, Also = 1, 2

type Bare struct{}

func (Bare) Method(a, b, c, d, e, f int) {}

func (hidden) Method() {}

type hidden struct{}

// F decides six times.
func F(x int) bool {
	for range x {
		switch {
		case x > 1 && x < 5 || x == 9:
			_ = func() { if x > 3 {} }
		default:
		}
	}
	select {
	case <-make(chan int):
	}
	return x == 0
}
`

func sampled(t *testing.T) *tree {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "testdata"), 0o755))
	for name, text := range map[string]string{
		"a.go": sample, "a_test.go": "package a", "testdata/b.go": "package b", "c.go": "package a\n//" + strings.Repeat("é", 119),
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644))
	}
	tr, err := read(dir)
	require.NoError(t, err)
	return tr
}

func TestMeasures(t *testing.T) {
	tr := sampled(t)
	require.Len(t, tr.files, 2, "neither tests nor testdata")
	require.Len(t, tr.funcs, 3)
	f := tr.funcs[2]
	assert.Equal(t, 11, f.body)
	assert.Equal(t, 6, f.decisions, "for, case, &&, ||, if, case")
	assert.Equal(t, 6, tr.funcs[0].parameters)
	assert.Equal(t, 4, tr.packages["."].exported, "Said, Also, Bare, F")
	assert.True(t, tr.packages["."].comment)
	assert.Len(t, tr.nameless, 2, "Bare and its method")
	assert.Equal(t, []string{"c.go:2 (121)"}, tr.longLines)
}

func TestFigures(t *testing.T) {
	tr := sampled(t)
	beyond := map[string]int{}
	for _, f := range tr.figures() {
		if f.beyond() {
			beyond[f.what] = f.n
		}
	}
	assert.Equal(t, map[string]int{"functions over 5 parameters": 1, "exported names without a comment": 2, "lines over 120 characters": 1}, beyond)
	assert.Equal(t, 0, tr.share(50, body))
	assert.Equal(t, 11, tr.share(90, body))
	_, err := read(t.TempDir())
	assert.Error(t, err)
}
