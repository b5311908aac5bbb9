package field

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"windfall/cmd/windfall/internal/record"
	"windfall/drift/logbook"
	"windfall/geo"
)

// fixes walk along a bearing at 1 m/s, one every five seconds.
func (c *crew) fixes(from, seconds int, deg float64) (out []object) {
	for i := from; i <= seconds; i += 5 {
		p := c.flight.File.Frame.ToLonLat(geo.Polar(float64(i), deg))
		out = append(out, object{"at": noon.Add(time.Duration(i) * time.Second), "lat": p.Lat(), "lon": p.Lon(), "accuracy_m": 4})
	}
	return out
}

// A recording in pieces, whatever order they come in, is the track that it would
// have been in one; jumps and gaps are said.
func TestRecording(t *testing.T) {
	one, many := newCrew(t), newCrew(t)
	all := one.fixes(0, 300, 30)
	one.say("Ines", one.entry(kindTrack, 300, object{"fixes": all}))
	recorded := func(part []object) json.RawMessage {
		return many.entry(kindTrack, 300, object{"recording": "walk-0001", "fixes": part})
	}
	first, second, third := recorded(all[:20]), recorded(all[20:40]), recorded(all[40:])
	r := many.say("Ines", third)
	assert.Equal(t, Logged, r[0].State)
	r = many.say("Ines", first, second, first)
	assert.Equal(t, []State{Logged, Logged, Known}, states(r))
	assert.Equal(t, r[0].ID, r[2].ID)
	a, b := one.view().Entries, many.view().Entries
	require.Len(t, a, 1)
	require.Len(t, b, 1)
	assert.JSONEq(t, string(a[0].Body), string(b[0].Body))
	assert.Equal(t, "Ines", b[0].By)
	assert.Equal(t, key(third), b[0].Key, "of the piece that came first")

	r = many.say("Ines 2", recorded(all[:20]))
	assert.Equal(t, Logged, r[0].State, "her phone had to come in anew: what it had not sent is a walk of its own")
	assert.NotEqual(t, b[0].ID, r[0].ID)
	far := one.fixes(0, 300, 120)
	jump := object{"at": noon.Add(102 * time.Second), "lat": 42.0, "lon": -4.921}
	far = append(far[:21], append([]object{jump}, far[21:]...)...)
	r = one.say("Ines", one.entry(kindTrack, 310, object{"fixes": far}))
	assert.Equal(t, Logged, r[0].State)
	assert.Contains(t, r[0].Message, "1 fix that jumps away and back left out")
	gap := one.fixes(0, 300, 200)
	gap[30]["gap"] = true
	gap[40]["accuracy_m"] = 300
	r = one.say("Ines", one.entry(kindTrack, 320, object{"fixes": gap}))
	assert.Contains(t, r[0].Message, "1 fixes left out: they say they are more than 50 m off")
	var body record.Track
	for _, e := range one.view().Entries {
		if e.ID == r[0].ID {
			require.NoError(t, json.Unmarshal(e.Body, &body))
		}
	}
	gone, err := body.Gone("Ines", one.flight.File.Frame)
	require.NoError(t, err)
	assert.Len(t, gone.Lines, 2, "what was not recorded was not walked")

	r = one.say("Ines", one.entry(kindTrack, 330, object{"fixes": all[:1]}))
	assert.Contains(t, r[0].Message, "kept, and not yet a search")
	w := one.say("Ines", one.entry(kindWithdraw, 340, object{"of": "key-000001"}), one.entry(kindTrack, 350, object{"recording": "key-000001", "fixes": all[:3]}),
		one.entry(kindWithdraw, 340, object{"of": "key-000001"}))
	assert.Equal(t, []State{Logged, Logged, Refused}, states(w))
	assert.Contains(t, w[1].Message, "this track was withdrawn")
	for _, bad := range []object{{}, {"fixes": []object{{"at": noon, "lat": 99, "lon": 0}}}, {"fixes": all, "recording": fmt.Sprintf("%0100d", 1)}} {
		assert.Equal(t, Refused, one.say("Ines", one.entry(kindTrack, 1, bad))[0].State)
	}
}

// Positions are not logged; one that jumps is refused until the next agrees.
func TestPositions(t *testing.T) {
	c := newCrew(t)
	at := func(s, lat float64) json.RawMessage {
		return c.entry(kindPosition, s, object{"lat": lat, "lon": -4.921})
	}
	r := c.say("Ines", at(0, 41.905), at(10, 41.9051), at(5, 41.9050), at(15, 42.0), at(20, 41.9052), at(25, 42.0), at(30, 42.0001), at(35, 95))
	assert.Equal(t, []State{Logged, Logged, Known, Refused, Logged, Refused, Logged, Refused}, states(r))
	assert.Contains(t, r[3].Message, "10.5 km in 5 s: a position that jumps")
	places, n := c.field.Positions.All()
	assert.InDelta(t, 42.0001, places["Ines"].Lat, 1e-9)
	assert.NoFileExists(t, c.path, "nothing of it is logged")
	c.field.Positions.Forget("Ines")
	_, after := c.field.Positions.All()
	assert.Greater(t, after, n)
	c.say("Ines", at(40, 41.905))
	assert.Equal(t, 1, c.field.Positions.Wipe())
	places, _ = c.field.Positions.All()
	assert.Empty(t, places)
}

// What was said has its own key, however it came to be an entry, whatever was
// said of it since, and also when the logbook is read anew.
func TestKeysStay(t *testing.T) {
	c := newCrew(t)
	walk := c.entry(kindTrack, 300, object{"fixes": c.fixes(0, 300, 30)})
	press := c.entry(kindTiming, 11, object{"event": "ejection"})
	saw := c.entry(kindHeight, 12, object{"height_m": 200})
	c.say("Ines", walk, press, saw, c.entry(kindIgnition, 0, nil))
	var undo []json.RawMessage
	for _, e := range c.view().Entries {
		if e.ID != 0 {
			undo = append(undo, c.entry(kindWithdraw, 400, object{"id": e.ID}))
		}
	}
	require.Len(t, undo, 3)
	c.say("Tomas", undo...)
	again := New(Options{Logbook: c.path, Flight: c.flight.Input.Flight.ID})
	defer again.Close()
	for _, f := range []*Field{c.field, again} {
		v, err := f.View()
		require.NoError(t, err)
		keys := map[Kind]string{}
		for _, e := range v.Entries {
			keys[e.Kind] = e.Key
			assert.Equal(t, e.Kind != kindIgnition, e.Withdrawn, e.Kind)
		}
		for _, e := range []json.RawMessage{walk, press, saw} {
			var said Said
			require.NoError(t, json.Unmarshal(e, &said))
			assert.Equal(t, said.Key, keys[said.Kind], said.Kind)
		}
	}
}

// A track of another receiver keeps its times on a phone whose clock is wrong;
// its own way is put right.
func TestLoadedTrack(t *testing.T) {
	for loaded, says := range map[bool]string{true: "", false: "kept, and not yet a search"} {
		c := newCrew(t)
		now := noon.Add(6 * time.Minute) // the walk has just ended; the phone says an hour ago
		e := c.entry(kindTrack, 300, object{"fixes": c.fixes(0, 300, 30), "loaded": loaded})
		r, off, err := c.field.Log(c.flight, Who{"Ines"}, Batch{now.Add(-time.Hour), []json.RawMessage{e}}, now)
		require.NoError(t, err)
		assert.Equal(t, -time.Hour, off)
		assert.Equal(t, Logged, r[0].State)
		assert.Contains(t, r[0].Message, says)
		if loaded {
			require.Len(t, c.view().Entries, 1)
			assert.Equal(t, noon.Add(300*time.Second), c.view().Entries[0].At.UTC())
			assert.Contains(t, string(c.view().Entries[0].Body), `"minutes":5`)
		} else {
			assert.Empty(t, c.view().Entries)
		}
	}
}

// A phone whose clock is an hour wrong is put right, and told.
func TestWrongClock(t *testing.T) {
	c := newCrew(t)
	now := noon.Add(10 * time.Minute)
	log := func(ahead time.Duration, entries ...json.RawMessage) ([]Result, time.Duration) {
		r, off, err := c.field.Log(c.flight, Who{"Ines"}, Batch{now.Add(ahead), entries}, now)
		require.NoError(t, err)
		return r, off
	}
	_, off := log(time.Hour, c.entry(kindIgnition, 3600, nil), c.entry(kindTiming, 3611, object{"event": "ejection"}))
	assert.Equal(t, time.Hour, off)
	assert.Contains(t, ClockWords(off), "1h0m0s ahead")
	assert.Contains(t, ClockWords(-off), "behind")
	assert.Empty(t, ClockWords(time.Second))
	assert.Equal(t, noon, c.view().Ignition.At.UTC())
	assert.Contains(t, c.says(), "timing Ines Ines: ejection at 10.77 s")
	log(5*time.Second, c.entry(kindIgnition, 595, nil))
	log(5*time.Second, c.entry(kindTiming, 605, object{"event": "ejection"}))
	assert.Contains(t, c.says(), "timing Ines Ines: ejection at 9.77 s", "a few seconds ahead: distances in time stay")
	late := c.entry(kindFind, 9999, object{"lat": 41.908, "lon": -4.92})
	log(0, late)
	assert.Equal(t, now, c.view().Finds[0].At.UTC(), "nothing is said in the future")
	again, _ := log(time.Hour, late)
	assert.Equal(t, Known, again[0].State, "the clock was set meanwhile")
}

// The same entries in any order, in batches of any size, any number of times,
// before and after a restart, come to the same, and each is there once.
func TestAnyOrder(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		sub := filepath.Join(dir, fmt.Sprint(n))
		require.NoError(t, os.MkdirAll(sub, 0o755))
		c := crewIn(t, sub)
		defer func() { c.field.Close() }()
		from := object{"lat": 41.904, "lon": -4.93}
		c.plan("Ana", planned(), 0)
		all := []json.RawMessage{
			c.entry(kindIgnition, 0, nil), c.entry(kindTiming, 11, object{"event": "ejection"}), c.entry(kindTiming, 40, object{"event": "landing"}),
			c.entry(kindBearing, 30, object{"from": from, "bearing_deg": 80, "north": "true", "timed": true}),
			c.entry(kindLooked, 30, object{"looked": "open"}), c.entry(kindFind, 90, object{"lat": 41.908, "lon": -4.92}),
			c.entry(kindLane, 50, object{"plan": 1, "block": "A1", "lane": 1, "state": "done"}),
			c.entry(kindLane, 55, object{"plan": 1, "block": "A1", "lane": 1, "state": "open"}),
			c.entry(kindLane, 60, object{"plan": 1, "block": "A1", "lane": 2, "state": "done"}),
			c.entry(kindArrive, 1, object{"searcher": "Ines"}), c.entry(kindLeave, 70, object{"searcher": "Ines"}),
			c.entry(kindTrack, 80, object{"recording": "walk-0001", "fixes": c.fixes(0, 100, 10)}),
			c.entry(kindTrack, 85, object{"recording": "walk-0001", "fixes": c.fixes(105, 200, 10)}),
		}
		order := make([]int, len(all))
		for i := range order {
			order[i] = i
		}
		order = append(rapid.Permutation(order).Draw(t, "order"), rapid.SliceOfN(rapid.IntRange(0, len(all)-1), 0, 12).Draw(t, "again")...)
		var queue []json.RawMessage
		for _, i := range order {
			queue = append(queue, all[i])
		}
		seen := map[string]bool{}
		for len(queue) > 0 {
			k := rapid.IntRange(1, len(queue)).Draw(t, "batch")
			for i, r := range c.say("Ines", queue[:k]...) {
				want := Logged
				if seen[key(queue[i])] {
					want = Known
				}
				require.Equal(t, want, r.State, r.Message)
				seen[r.Key] = true
			}
			if rapid.Bool().Draw(t, "restart") {
				require.NoError(t, c.field.Close())
				c.open()
			}
			queue = queue[k:]
		}
		require.Equal(t, []string{
			"bearing Ines Ines: bearing 80 deg from 41.90400,-4.93000 at 30 s", "find Ines Ines found it at 41.908000, -4.920000", "ignition Ines ignition",
			"looked Ines Ines: looked open", "timing Ines Ines: ejection at 10.77 s", "timing Ines Ines: landing at 39.77 s",
			"track Ines Ines went over 0.2 km without a find, sweep width 38 m, in 3 min",
		}, c.says())
		v := c.view()
		require.Len(t, v.Progress, 1)
		require.Equal(t, 2, v.Progress[0].Lane)
		require.Equal(t, "left", v.Crew["Ines"].State)
	})
}

// The same key for something else is not logged, and said.
func TestKeyUsedTwice(t *testing.T) {
	c := newCrew(t)
	c.say("Ines", json.RawMessage(`{"key":"one-and-only","at":"2026-04-18T10:00:00Z","kind":"looked","looked":"open"}`))
	r := c.say("Ines", json.RawMessage(`{"key":"one-and-only","at":"2026-04-18T10:00:00Z","kind":"looked","looked":"fast"}`),
		json.RawMessage(`{"kind":"looked","looked":"open", "key":"one-and-only","at":"2026-04-18T10:00:00Z"}`))
	assert.Equal(t, []State{Conflict, Known}, states(r), "however it is written")
	assert.Contains(t, r[0].Message, "used before for something else")
	assert.Equal(t, []string{"looked Ines Ines: looked open"}, c.says())
}

// What others write into the logbook meanwhile is seen.
func TestWrittenElsewhere(t *testing.T) {
	c := newCrew(t)
	c.say("Ines", c.entry(kindIgnition, 0, nil))
	before := c.view().Version
	b, err := logbook.Open(c.path)
	require.NoError(t, err)
	defer b.Close()
	_, err = b.Add(nil, logbook.Entry{Flight: "a-1", Kind: logbook.Timing, By: "Ana", When: noon, Body: []byte(`{"event":"landing","at_s":90}`)})
	require.NoError(t, err)
	v := c.view()
	assert.Greater(t, v.Version, before)
	assert.Contains(t, c.says(), "timing Ana Ana: landing at 90 s")
	c.say("Ines", c.entry(kindWithdraw, 1, object{"id": 1}))
	assert.Len(t, c.says(), 1)
}

// A queue of ten thousand goes through, and is known when it comes again.
func TestLongQueue(t *testing.T) {
	c := newCrew(t)
	c.plan("Ana", planned(), 0)
	var queue []json.RawMessage
	for i := range 5000 {
		queue = append(queue, c.entry(kindLane, float64(i)/100, object{"plan": 1, "block": "A1", "lane": 1 + i%3, "state": "done"}),
			c.entry(kindTrack, 60, object{"recording": "walk-0001", "fixes": c.fixes(i*5, i*5, float64(i)/100)}))
	}
	for i, r := range c.say("Ines", queue...) {
		require.Equal(t, Logged, r.State, "%d: %s", i, r.Message)
	}
	for i, r := range c.say("Ines", queue...) {
		require.Equal(t, Known, r.State, "%d: %s", i, r.Message)
	}
	assert.Len(t, c.view().Progress, 3)
}

// Whatever comes is refused with words, or is an entry that says the same when it
// is written and read again.
func FuzzRead(f *testing.F) {
	f.Add([]byte(`{"key":"one-and-only","at":"2026-04-18T10:00:00Z","kind":"looked","looked":"open"}`))
	f.Add([]byte(`{"key":"one-and-only","at":"2026-04-18T10:00:00Z","kind":"track","fixes":[{"at":"2026-04-18T10:00:00Z","lat":1e400,"lon":2}]}`))
	f.Add([]byte(`{"key":"one-and-only","at":"2026-04-18T10:00:00Z","kind":"nothing","geometry":{"type":"Polygon","coordinates":[[[0,0]]]}}`))
	f.Add([]byte(`[]`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		s, err := read(raw)
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		text, err := json.Marshal(s)
		require.NoError(t, err)
		again, err := read(text)
		require.NoError(t, err, "%s", text)
		require.Equal(t, s.digest(), again.digest())
	})
}
