package main

import (
	"bytes"
	"context"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// movable is a meter that writes to out, with a clock to move.
func movable(out *bytes.Buffer) (m *meter, wait func(time.Duration)) {
	at := testClock()
	m = &meter{w: out, now: func() time.Time { return at }}
	m.begun = at // as begin has it, without beats of its own
	return m, func(d time.Duration) { at = at.Add(d) }
}

// Nothing is shown in the first two seconds; a bar after them; it is gone
// before the answer is printed, and nothing comes after.
func TestProgressWaits(t *testing.T) {
	var out bytes.Buffer
	m, wait := movable(&out)
	m.tell("flying", 1, 10)
	wait(1900 * time.Millisecond)
	m.tell("flying", 2, 10)
	assert.True(t, m.tick())
	assert.Empty(t, out.String())
	wait(100 * time.Millisecond)
	m.tell("flying", 5, 10)
	assert.Regexp(t, `flying +50%`, out.String())
	var answer bytes.Buffer
	m.before(&answer).Write([]byte("done\n"))
	assert.Equal(t, "done\n", answer.String())
	assert.Regexp(t, `\r$`, out.String())
	n := out.Len()
	m.tell("flying", 6, 10)
	assert.False(t, m.tick())
	assert.Equal(t, n, out.Len())
}

// Work that tells of no stage, such as planning after the flights, shows that it
// goes on.
func TestProgressOfUnknownLength(t *testing.T) {
	var out bytes.Buffer
	m, wait := movable(&out)
	m.tell("flying", 10, 10)
	assert.True(t, m.tick())
	assert.Empty(t, out.String())
	wait(3 * time.Second)
	assert.True(t, m.tick())
	assert.Equal(t, "\rworking, 3 s ", out.String())
	m.tell("weighing", 1, 4)
	assert.Contains(t, out.String(), "weighing")
	m.stop()
}

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

		var bar bytes.Buffer
		m, wait := movable(&bar)
		wait(3 * time.Second)
		m.tell("flying", 1, 2)
		m.tick()
		m.stop()
		assert.NotEmpty(t, bar.String())
		assert.NotRegexp(t, colour, bar.String())
	}
}

func TestQuiet(t *testing.T) {
	rest, quiet := quietAsked([]string{"saw", "f", "--quiet", "--by", "Ana", "--", "--quiet"})
	assert.True(t, quiet)
	assert.Equal(t, []string{"saw", "f", "--by", "Ana", "--", "--quiet"}, rest)
	_, quiet = quietAsked([]string{"saw", "f"})
	assert.False(t, quiet)
}
