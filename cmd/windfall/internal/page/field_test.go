package page

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// say sends entries and returns what became of them.
func (c *client) say(entries ...object) saidDoc {
	c.t.Helper()
	return get[saidDoc](c, "POST", "/entries", object{"now": c.now().Format(time.RFC3339Nano), "entries": entries})
}

// entry is what a phone sends, made now.
func (c *client) entry(kind string, more object) object {
	c.said++
	return with(object{"key": fmt.Sprintf("test-key-%04d", c.said), "at": c.now().Format(time.RFC3339Nano), "kind": kind}, more)
}

func TestFieldStory(t *testing.T) {
	c := newClient(t)
	d := get[fieldDoc](c, "GET", "/field", nil)
	assert.Equal(t, "a-1", d.Flight.ID)
	assert.Zero(t, d.Version)
	assert.True(t, d.Me.Host)
	assert.Len(t, d.Searchers, 1)
	assert.NoFileExists(t, c.dir+"/logbook.db", "looking makes none")

	start := time.Now().Add(-2 * time.Minute)
	at := func(s float64) object {
		return object{"at": start.Add(time.Duration(s * float64(time.Second))).Format(time.RFC3339Nano)}
	}
	ejection := with(with(c.entry("timing", nil), at(11)), object{"event": "ejection"})
	got := c.say(ejection)
	require.EqualValues(t, "logged", got.Results[0].State, got.Results[0].Message)
	assert.Contains(t, got.Results[0].Message, "no ignition has been pressed yet")
	got = c.say(with(c.entry("ignition", nil), at(0)), ejection,
		c.entry("bearing", object{"from": object{"lat": 41.906, "lon": -4.922}, "bearing_deg": 10, "north": "magnetic", "event": "landing"}),
		c.entry("find", object{"lat": 41.908, "lon": -4.92, "looks_like": "nose in the mud"}))
	for i, want := range []string{"logged", "known", "logged", "logged"} {
		assert.EqualValues(t, want, got.Results[i].State, "%d: %s", i, got.Results[i].Message)
	}
	d = get[fieldDoc](c, "GET", "/field", nil)
	assert.Equal(t, got.Version, d.Version)
	require.Len(t, d.Entries, 4)
	assert.Len(t, d.Finds, 1)
	assert.Contains(t, d.Finds[0].Says, "nose in the mud")
	require.NotNil(t, d.Ignition)
	for _, e := range d.Entries {
		if e.Kind == "timing" {
			assert.Contains(t, e.Says, "ejection at 10.77 s")
		}
	}
	status, _ := c.ask("GET", "/field?since=x", nil)
	assert.Equal(t, http.StatusBadRequest, status)
}
