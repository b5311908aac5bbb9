package main

import (
	"bytes"
	"context"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
)

var colour = regexp.MustCompile(`\x1b\[[0-9;]*m`)

// NO_COLOR (https://no-color.org) is obeyed: nothing is printed in colour, set
// or not, on a terminal or off it.
func TestNoColour(t *testing.T) {
	for _, no := range []string{"", "1"} {
		var out, errs bytes.Buffer
		e := env{out: &out, err: &errs, now: testClock, terminal: true, getenv: func(k string) string {
			return map[string]string{"NO_COLOR": no, "WINDFALL_LOGBOOK": t.TempDir() + "/logbook.db"}[k]
		}}
		dir := t.TempDir()
		assert.Zero(t, run(context.Background(), e, []string{"predict", garza, "--runs", "300", "--out", dir}), errs.String())
		assert.Equal(t, misused, run(context.Background(), e, []string{"predikt", garza}))
		assert.NotRegexp(t, colour, out.String()+errs.String())
	}
}

func TestQuiet(t *testing.T) {
	rest, quiet := quietAsked([]string{"saw", "f", "--quiet", "--by", "Ana", "--", "--quiet"})
	assert.True(t, quiet)
	assert.Equal(t, []string{"saw", "f", "--by", "Ana", "--", "--quiet"}, rest)
	_, quiet = quietAsked([]string{"saw", "f"})
	assert.False(t, quiet)
}
