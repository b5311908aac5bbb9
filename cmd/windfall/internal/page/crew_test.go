package page

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image/color"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/field"
)

const searchersText = `
searchers:
  - {name: Ines, kind: walker, speed: 3.6 km/h, available: 60 min}
  - {name: Tomas, kind: walker, speed: 3 km/h, available: 60 min}
`

// crewClient is a client whose flight has searchers, by daylight.
func crewClient(t *testing.T, change ...func(*Options)) *client {
	t.Helper()
	at := time.Date(2026, 4, 18, 10, 0, 0, 0, time.UTC)
	began := time.Now()
	now := func() time.Time { return at.Add(time.Since(began)) }
	c := newClient(t, append(change, func(o *Options) { o.Now = now })...)
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, "flight.yaml"), []byte(flightText+searchersText), 0o644))
	c.now = now
	return c
}

// walk is a walk along lines of latitude and longitude, a fix every 5 s at 1 m/s.
func walk(start time.Time, from, to [2]float64, seconds int) (out []object) {
	for i := 0; i <= seconds; i += 5 {
		t := float64(i) / float64(seconds)
		out = append(out, object{"at": start.Add(time.Duration(i) * time.Second).Format(time.RFC3339Nano),
			"lat": from[0] + t*(to[0]-from[0]), "lon": from[1] + t*(to[1]-from[1]), "accuracy_m": 4})
	}
	return out
}

// From a plan to what is left: those who are there get a plan, walk a lane, and
// one of them goes.
func TestCrewStory(t *testing.T) {
	c := crewClient(t)
	status, b := c.ask("POST", "/plan", object{"if_plan": 3})
	require.Equal(t, 200, status, "%s", b)
	d := get[fieldDoc](c, "GET", "/field", nil)
	require.NotNil(t, d.Plan)
	assert.Equal(t, 1, d.Plan.Number)
	require.NotNil(t, d.Plan.Plan)
	require.Len(t, d.Plan.Plan.Searchers, 2)
	again := get[fieldDoc](c, "GET", fmt.Sprintf("/field?since=%d", d.Version), nil)
	require.NotNil(t, again.Plan)
	assert.Nil(t, again.Plan.Plan, "the phone has it")
	assert.Empty(t, again.Entries)
	block := d.Plan.Plan.Searchers[0].Blocks[0]

	got := c.say(c.entry("arrive", object{"searcher": "ines"}), c.entry("late", object{"searcher": "Tomas", "minutes": 10}),
		c.entry("lane", object{"plan": 1, "block": block.Name, "lane": 1, "state": "done"}),
		c.entry("lane", object{"plan": 1, "block": block.Name, "lane": 99, "state": "done"}),
		c.entry("lane", object{"plan": 1, "block": block.Name, "lane": 2, "state": "skipped"}),
		c.entry("position", object{"lat": 41.9055, "lon": -4.9215, "accuracy_m": 5}),
		c.entry("arrive", object{"searcher": "Hugo"}))
	for i, want := range []field.State{"logged", "logged", "logged", "refused", "logged", "logged", "refused"} {
		assert.Equal(t, want, got.Results[i].State, "%d: %s", i, got.Results[i].Message)
	}
	assert.Contains(t, got.Results[3].Message, "no lane 99")
	assert.Contains(t, got.Results[6].Message, "not of this flight (Ines, Tomas)")
	d = get[fieldDoc](c, "GET", "/field", nil)
	assert.Equal(t, "Ines", d.Me.Searcher)
	require.NotNil(t, d.Me.Position)
	assert.InDelta(t, 41.9055, d.Me.Position.Lat, 1e-9)
	assert.Len(t, d.Progress, 2)
	assert.Equal(t, "in", d.Searchers[0].State)
	assert.Equal(t, "late", d.Searchers[1].State)

	left := get[leftDoc](c, "GET", "/left", nil)
	assert.Zero(t, left.Total)
	before := inkAt(t, left.Picture, 41.9072, -4.921)
	assert.Positive(t, before.A, "there is chance on the ground that will be walked")
	got = c.say(c.entry("track", object{"fixes": walk(c.now().Add(-10*time.Minute), [2]float64{41.905, -4.921}, [2]float64{41.9095, -4.921}, 500)}))
	require.Equal(t, field.Logged, got.Results[0].State, got.Results[0].Message)
	d = get[fieldDoc](c, "GET", "/field", nil)
	require.NotNil(t, d.Left)
	assert.True(t, d.Left.Stale)
	require.Eventually(t, func() bool {
		left = get[leftDoc](c, "GET", "/left", nil)
		return !left.Stale
	}, time.Minute, 50*time.Millisecond)
	assert.Positive(t, left.Total)
	after := inkAt(t, left.Picture, 41.9072, -4.921)
	assert.Less(t, after.A, before.A, "paler where somebody has walked")
	assert.NotEmpty(t, left.Advice)
	assert.Contains(t, string(left.Shapes), `"probability":0.9`)

	c.say(c.entry("leave", object{"searcher": "Tomas"}))
	p := get[planDoc](c, "POST", "/plan", object{"if_plan": 1})
	assert.Equal(t, 2, p.Plan.Number)
	require.Len(t, p.Plan.Plan.Searchers, 1)
	assert.Contains(t, fmt.Sprint(p.Plan.Cautions), "Tomas has gone")
	got = c.say(c.entry("lane", object{"plan": 1, "block": block.Name, "lane": 2, "state": "done"}))
	assert.Equal(t, field.Logged, got.Results[0].State)
	assert.Contains(t, got.Results[0].Message, "plan 1 was replaced by plan 2")
	status, b = c.ask("POST", "/plan", object{"if_plan": 1})
	assert.Equal(t, http.StatusConflict, status)
	assert.Contains(t, message(b), "plan 2 is in force")
	c.say(c.entry("leave", object{"searcher": "Ines"}), c.entry("leave", object{"searcher": "Tomas"}))
}

// The map before and after, and what disagrees; nothing is logged by looking.
func TestPreview(t *testing.T) {
	c := crewClient(t)
	d := get[previewDoc](c, "POST", "/sightings/preview", object{})
	assert.JSONEq(t, string(d.Before.Landing), string(d.After.Landing))
	draft := c.entry("bearing", object{"from": object{"lat": 41.904, "lon": -4.93}, "bearing_deg": 60, "north": "true", "event": "landing"})
	d = get[previewDoc](c, "POST", "/sightings/preview", object{"entry": draft})
	require.NotNil(t, d.After)
	assert.NotEqual(t, string(d.Before.Landing), string(d.After.Landing))
	assert.Contains(t, string(d.Sightings), `"disagrees":false`)
	away := c.entry("bearing", object{"from": object{"lat": 41.904, "lon": -4.93}, "bearing_deg": 250, "north": "true", "event": "landing"})
	gone := get[previewDoc](c, "POST", "/sightings/preview", object{"entry": away})
	assert.Contains(t, string(gone.Sightings), `"disagrees":true`)
	assert.Empty(t, get[entriesDoc](c, "GET", "/entries", nil).Entries)
	c.say(draft)
	logged := get[previewDoc](c, "POST", "/sightings/preview", object{})
	assert.JSONEq(t, string(d.After.Landing), string(logged.After.Landing))
	high := get[previewDoc](c, "POST", "/sightings/preview", object{"entry": c.entry("height", object{"height_m": 9000})})
	assert.Contains(t, high.Caution, "height 9000 m: the highest simulated flight is at")
	ring := [][][2]float64{{{-4.925, 41.906}, {-4.92, 41.906}, {-4.92, 41.912}, {-4.925, 41.906}}}
	none := get[previewDoc](c, "POST", "/sightings/preview",
		object{"entry": c.entry("nothing", object{"geometry": object{"type": "Polygon", "coordinates": ring}})})
	assert.Empty(t, none.Caution)
	assert.Contains(t, string(none.Sightings), "nothing in 1 area(s), sure 0.8")
	assert.NotEqual(t, string(none.Before.Landing), string(none.After.Landing))
	for _, bad := range []object{with(c.entry("bearing", object{"bearing_deg": 3}), nil), c.entry("timing", object{"event": "landing"})} {
		status, b := c.ask("POST", "/sightings/preview", object{"entry": bad})
		assert.Equal(t, http.StatusUnprocessableEntity, status, "%s", b)
	}
}

// A press at the wrong moment is kept and said; it keeps nobody from a map.
func TestOddPresses(t *testing.T) {
	c := crewClient(t)
	now := c.now()
	at := func(s float64) object {
		return object{"at": now.Add(time.Duration((s - 300) * float64(time.Second))).Format(time.RFC3339Nano)}
	}
	c.say(with(c.entry("ignition", nil), at(0)))
	got := c.say(with(c.entry("timing", object{"event": "landing"}), at(2)))
	assert.Equal(t, field.Logged, got.Results[0].State)
	assert.Contains(t, got.Results[0].Message, "it is logged, but landing at 1.")
	assert.Contains(t, got.Results[0].Message, "in simulated flights it comes between")
	got = c.say(with(c.entry("timing", object{"event": "opening 3"}), at(12)))
	assert.Contains(t, got.Results[0].Message, "opening 3")
	left := get[leftDoc](c, "GET", "/left", nil)
	assert.NotEmpty(t, left.Shapes)
	assert.Contains(t, fmt.Sprint(left.Caution), "landing at")
	assert.Contains(t, fmt.Sprint(left.Caution), "disagrees with the rest")
}

func TestCards(t *testing.T) {
	c := crewClient(t)
	type cards struct{ Cards []struct{ Name string } }
	assert.Equal(t, "pad", get[cards](c, "GET", "/cards", nil).Cards[0].Name)
	assert.Equal(t, "where you stand", get[cards](c, "GET", "/cards?lat=41.91&lon=-4.93", nil).Cards[0].Name)
	status, _ := c.ask("GET", "/cards?lat=x&lon=1", nil)
	assert.Equal(t, http.StatusBadRequest, status)
}

// inkAt is the colour of a picture of what is left at a place.
func inkAt(t *testing.T, p *leftPicture, lat, lon float64) color.NRGBA {
	t.Helper()
	require.NotNil(t, p)
	data, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(p.URL, "data:image/png;base64,"))
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	low, high, b := p.Bounds[0], p.Bounds[1], img.Bounds()
	x := (lon - low[1]) / (high[1] - low[1]) * float64(b.Dx())
	y := (high[0] - lat) / (high[0] - low[0]) * float64(b.Dy())
	return color.NRGBAModel.Convert(img.At(int(x), int(y))).(color.NRGBA)
}
