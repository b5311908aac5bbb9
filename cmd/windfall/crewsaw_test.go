package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/planar"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/geo"
)

// saidHere is an entry as a window's laptop shows it.
type saidHere struct {
	Kind, By, Says string
	Revision       int
	Withdrawn      bool
	Body           json.RawMessage
}

// saidAll are the entries of a kind that a window's laptop has.
func (w *tab) saidAll(kind string) (out []saidHere) {
	w.t.Helper()
	var f struct{ Entries []saidHere }
	require.NoError(w.t, json.Unmarshal([]byte(eval[string](w, `fetch("/api/v1/field").then((r) => r.text())`)), &f))
	for _, e := range f.Entries {
		if e.Kind == kind {
			out = append(out, e)
		}
	}
	return out
}

// sawLine logs with the command line, of a flight and a logbook of its own, and
// returns the body and the line that it is listed with.
func sawLine(t *testing.T, flight string, args ...string) (body string, says string) {
	t.Helper()
	book := filepath.Join(t.TempDir(), "logbook.db")
	commanded(t, append([]string{"saw", flight, "--logbook", book}, args...)...)
	text := commanded(t, "saw", flight, "--logbook", book, "--list", "--json")
	var d struct{ Entries []map[string]any }
	require.NoError(t, json.Unmarshal([]byte(text), &d))
	require.Len(t, d.Entries, 1)
	for _, beside := range []string{"id", "flight", "kind", "by", "when"} { // what entries have beside their body
		delete(d.Entries[0], beside)
	}
	b, err := json.Marshal(d.Entries[0])
	require.NoError(t, err)
	return string(b), commanded(t, "saw", flight, "--logbook", book, "--list")
}

// A height is logged as the command line logs it; what is no height is not, and
// one that no flight reaches is doubted.
func TestCrewHeight(t *testing.T) {
	t.Setenv("WINDFALL_TEST_NOW", "+2026-04-18T12:00:00Z")
	flight := filepath.Join(garzaCopy(t), "flight.yaml")
	url, _ := served(t, flight)
	w := crewTab(t, url+"/crew.html")
	w.sees("Press with the countdown")
	w.press("Saw")
	w.press("How high")
	for _, bad := range []string{"", "0", "-3", "99999"} {
		w.write("Above the pad", "", bad)
		w.press("Log it")
		w.sees("Write how high it was above the pad, above 0 and at most 50 km.")
		w.press("Close")
	}
	w.write("Above the pad", "", "3000")
	w.press("What it changes")
	w.sees("Look again: height 3000 m: the highest simulated flight is at")
	assert.Empty(t, w.saidAll("height"), "nothing of it is logged")
	w.write("Above the pad", "", "800")
	w.choose("In", "feet")
	w.sees("Taken as: 244 m above the pad, ±7 m, at highest point.")
	s := newScreens(w)
	s.check("crew-saw-height")
	w.press("What it changes")
	w.sees("Dashed")
	w.press("Log it")
	w.logged(`f.entries.some((e) => e.kind === "height")`)
	got := w.saidAll("height")[0]
	body, says := sawLine(t, flight, "--height", "800 ft", "--event", "apogee", "--by", got.By)
	assert.JSONEq(t, body, string(got.Body))
	assert.Contains(t, says, got.Says)

	// Amended, it is another; an angle belongs to a bearing.
	w.press("Amend " + got.Says)
	w.write("Above the pad", "", "250")
	w.choose("Who says so", "a rough guess, 25 %")
	w.press("Amend it")
	w.logged(`f.entries.some((e) => e.revision === 2 && e.body.height_m === 250 && e.body.height_sd_m === 62.5)`)
	w.press("I have an angle, not a height")
	w.sees("Height above the horizon, degrees")
	assert.Equal(t, "apogee", w.reads("It was"))
	w.press("Tap a point")
	w.tap(0.3, 0.7)
	w.write("Height above the horizon, degrees", "", "95")
	w.press("Log it")
	w.sees("Write the height above the horizon as -90 to 90 degrees")
	w.press("Close")
	w.write("Height above the horizon, degrees", "", "30")
	w.sees("up if it was above the pad")
	w.write("Bearing, degrees", "", "400")
	w.press("Log it")
	w.sees("Write the bearing as 0 to 360 degrees")
	w.press("Close")
	w.write("Bearing, degrees", "", "60")
	w.press("Log it")
	w.logged(`f.entries.some((e) => e.kind === "bearing" && e.body.elevation_deg === 30 && e.body.event === "apogee")`)
	assert.Empty(t, w.faults())
}

// Who watched and saw nothing says so by a direction or by ground on the map,
// out of range too; it is what the command line logs of the same ground.
func TestCrewNothing(t *testing.T) {
	t.Setenv("WINDFALL_TEST_NOW", "+2026-04-18T12:00:00Z")
	flight := filepath.Join(garzaCopy(t), "flight.yaml")
	url, _ := served(t, flight)
	w := crewTab(t, url+"/crew.html")
	w.sees("in range, all sent")
	w.press("Saw")
	w.press("Saw nothing")
	w.press("Log it")
	w.sees("Say first where you stood")
	w.press("Close")
	w.press("Tap a point")
	w.tap(0.3, 0.7)
	w.write("Bearing, degrees", "", "45")
	w.choose("How wide you watched", "60°")
	w.write("As far as, metres", "", "0")
	w.press("Log it")
	w.sees("the second is more than the first")
	w.press("Close")
	w.write("As far as, metres", "", "300")
	w.sees("Taken as: not within 60° of 045° true, as far as 300 m: 4.7 ha, 80 % sure.")
	s := newScreens(w)
	s.check("crew-saw-nothing")
	w.press("What it changes")
	w.sees("Dashed")
	w.press("Log it")
	w.logged(`f.entries.some((e) => e.kind === "nothing")`)
	area, from := watchedOf(t, w.saidAll("nothing")[0])
	require.NotNil(t, from)
	f := geo.Frame{Origin: orb.Point{from.Lon, from.Lat}}
	for m, in := range map[float64]bool{20: true, 290: true, 310: false, -20: false} {
		p := f.ToLonLat(geo.XY{X: m * 0.70711, Y: m * 0.70711})
		assert.Equal(t, in, planar.MultiPolygonContains(area, p), "%g m north-east", m)
	}

	// Ground, out of range: nothing is lost, and what is no ground is not said.
	w.offline(true)
	w.press("On the map")
	w.tap(0.2, 0.3)
	w.tap(0.6, 0.3)
	w.press("Log it")
	w.sees("Tap at least three corners")
	w.press("Close")
	w.tap(0.2, 0.8)
	w.tap(0.6, 0.8)
	w.press("Log it")
	w.sees("The outline crosses itself")
	w.press("Close")
	w.press("Take one back")
	w.press("Take one back")
	w.tap(0.6, 0.8)
	w.sees("3 corners. Tap more, or take some back.")
	s.check("crew-saw-ground")
	w.choose("Had it come down there", "I may well have missed it")
	w.press("Log it")
	w.sees("out of range, 1 waiting")
	w.sees("nothing came down there (not sent yet)")
	w.offline(false)
	w.sees("in range, all sent")
	w.logged(`f.entries.filter((e) => e.kind === "nothing").length === 2`)
	var got saidHere
	for _, e := range w.saidAll("nothing") {
		if _, from := watchedOf(t, e); from == nil {
			got = e
		}
	}
	file := filepath.Join(t.TempDir(), "ground.geojson")
	var b struct{ Geometry json.RawMessage }
	require.NoError(t, json.Unmarshal(got.Body, &b))
	require.NoError(t, os.WriteFile(file, b.Geometry, 0o644))
	body, says := sawLine(t, flight, "--nothing-in", file, "--sure", "0.5", "--by", got.By)
	assert.JSONEq(t, body, string(got.Body))
	assert.Contains(t, says, got.Says)
	w.press("Amend " + got.Says)
	w.choose("Had it come down there", "I can hardly have missed it")
	w.press("Amend it")
	w.logged(`f.entries.some((e) => e.revision === 2 && e.body.sure === 0.95 && e.kind === "nothing")`)
	w.press("Take back " + w.saidAll("nothing")[0].Says)
	w.logged(`f.entries.filter((e) => e.kind === "nothing" && e.withdrawn).length === 1`)
	assert.Empty(t, awaited(w.faults()))
}

// watchedOf is the ground of an entry, and from where it was watched; nil: not said.
func watchedOf(t *testing.T, e saidHere) (orb.MultiPolygon, *geo.Place) {
	t.Helper()
	var b struct {
		Geometry *geojson.Geometry
		From     *geo.Place
	}
	require.NoError(t, json.Unmarshal(e.Body, &b))
	area, ok := b.Geometry.Geometry().(orb.MultiPolygon)
	require.True(t, ok)
	return area, b.From
}

// How it fell is one press, which a thumb that presses twice logs once; and so
// are the clock's buttons.
func TestCrewLooked(t *testing.T) {
	t.Setenv("WINDFALL_TEST_NOW", "+2026-04-18T12:00:00Z")
	flight := filepath.Join(garzaCopy(t), "flight.yaml")
	url, _ := served(t, flight)
	w := crewTab(t, url+"/crew.html")
	w.sees("Press with the countdown")
	w.press("Ignition ±0.3 s")
	w.sees("Burnout")
	eval[any](w, `(() => { const b = hands.button("Burnout ±0.4 s, 0.23 s taken off"); b.click(); b.click(); })()`)
	w.press("Saw")
	w.press("How it fell")
	w.choose("It came down", "fast, nothing held it")
	w.sees("Taken as: it came down fast, nothing held it.")
	newScreens(w).check("crew-saw-looked")
	eval[any](w, `(() => { const b = hands.button("Log it"); b.click(); b.click(); })()`)
	time.Sleep(time.Second) // no longer a thumb that bounces
	w.press("Log it")
	w.sees("That is logged already, below.")
	w.press("Close")
	w.logged(`f.entries.some((e) => e.kind === "looked")`)
	got := w.saidAll("looked")
	require.Len(t, got, 1)
	assert.Len(t, w.saidAll("timing"), 1)
	body, says := sawLine(t, flight, "--looked", "fast", "--by", got[0].By)
	assert.JSONEq(t, body, string(got[0].Body))
	assert.Contains(t, says, got[0].Says)
	w.press("Take back")
	w.logged(`f.entries.some((e) => e.kind === "looked" && e.withdrawn)`)
	w.press("Log it")
	w.logged(`f.entries.filter((e) => e.kind === "looked").length === 2`)
	w.offline(true)
	w.press("What it changes")
	w.sees("Out of range: the laptop works this out.")
	assert.Empty(t, awaited(w.faults()))
}
