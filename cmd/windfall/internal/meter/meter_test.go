package meter

import (
	"bytes"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// movable is a meter that writes to out, with a clock to move.
func movable(out *bytes.Buffer) (m *Meter, wait func(time.Duration)) {
	at := time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC)
	m = &Meter{w: out, now: func() time.Time { return at }}
	m.begun = at // as begin has it, without beats of its own
	return m, func(d time.Duration) { at = at.Add(d) }
}

// Nothing is shown in the first two seconds; a bar after them; it is gone
// before the answer is printed, and nothing comes after.
func TestProgressWaits(t *testing.T) {
	var out bytes.Buffer
	m, wait := movable(&out)
	m.Tell("flying", 1, 10)
	wait(1900 * time.Millisecond)
	m.Tell("flying", 2, 10)
	assert.True(t, m.tick())
	assert.Empty(t, out.String())
	wait(100 * time.Millisecond)
	m.Tell("flying", 5, 10)
	assert.Regexp(t, `flying +50%`, out.String())
	var answer bytes.Buffer
	m.Before(&answer).Write([]byte("done\n"))
	assert.Equal(t, "done\n", answer.String())
	assert.Regexp(t, `\r$`, out.String())
	n := out.Len()
	m.Tell("flying", 6, 10)
	assert.False(t, m.tick())
	assert.Equal(t, n, out.Len())
}

// Work that tells of no stage, such as planning after the flights, shows that it
// goes on.
func TestProgressOfUnknownLength(t *testing.T) {
	var out bytes.Buffer
	m, wait := movable(&out)
	m.Tell("flying", 10, 10)
	assert.True(t, m.tick())
	assert.Empty(t, out.String())
	wait(3 * time.Second)
	assert.True(t, m.tick())
	assert.Equal(t, "\rworking, 3 s ", out.String())
	m.Tell("weighing", 1, 4)
	assert.Contains(t, out.String(), "weighing")
	m.Stop()
}

var colour = regexp.MustCompile(`\x1b\[[0-9;]*m`)

// Progress has no colour.
func TestNoColour(t *testing.T) {
	var bar bytes.Buffer
	m, wait := movable(&bar)
	wait(3 * time.Second)
	m.Tell("flying", 1, 2)
	m.tick()
	m.Stop()
	assert.NotEmpty(t, bar.String())
	assert.NotRegexp(t, colour, bar.String())
}

// New beats by itself, and stops.
func TestNew(t *testing.T) {
	var out bytes.Buffer
	m := New(&out, time.Now)
	m.Begin()
	m.Begin()
	m.Stop()
	m.Stop()
	m.Begin()
	assert.Empty(t, out.String())
}
