//go:build unix

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/search"
)

// loads gives a file to the box that takes tracks, as a hand chooses it.
func (w *tab) loads(file string) {
	w.t.Helper()
	w.until(`document.querySelector("input[type=file]")?.value === ""`) // the one before is read
	eval[any](w, `document.getElementById("says").replaceChildren();null`)
	w.do(chromedp.SetUploadFiles(`input[type=file]`, []string{file}))
}

// written is a file of a text.
func written(t *testing.T, name, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
	return file
}

// noTracks are files that hold no track, and what is said of them.
func noTracks(t *testing.T, way []step) map[string]string {
	untimed := strings.ReplaceAll(gpxOf(way), "<time>", "<cmt>")
	untimed = strings.ReplaceAll(untimed, "</time>", "</cmt>")
	route := strings.NewReplacer("<trk>", "", "</trk>", "", "trkseg", "rte", "trkpt", "rtept").Replace(gpxOf(way))
	return map[string]string{
		written(t, "half.gpx", gpxOf(way)[:400]):                                           "half.gpx: this is not a GPX file; export the track again as GPX.",
		written(t, "photo.gpx", "\xff\xd8\xff\xe0"):                                        "photo.gpx: this is not a GPX file",
		written(t, "plan.kml", `<?xml version="1.0"?><kml><Document/></kml>`):              "plan.kml: this is not a GPX file",
		written(t, "points.gpx", `<gpx version="1.1"><wpt lat="41.9" lon="-4.9"/></gpx>`):  "points.gpx: this file holds no track points",
		written(t, "route.gpx", route):                                                     "route.gpx: this file holds a planned route, no recorded track; export the track itself.",
		written(t, "untimed.gpx", untimed):                                                 "untimed.gpx: this track has no times, as a plan has none",
		written(t, "one.gpx", gpxOf(way[:1])):                                              "one.gpx: this track has a single fix",
		written(t, "off.gpx", strings.Replace(gpxOf(way), `lat="41`, `lat="141`, 1)):       "is no place; export the track again.",
		written(t, "blank.gpx", strings.Replace(gpxOf(way), ` lon="-4.9`, ` east="-4`, 1)): "lon NaN is no place",
		written(t, "large.gpx", strings.Repeat(" ", 25<<20)):                               "large.gpx: this file is larger than 24 MB; cut the track to the search.",
	}
}

// Another receiver's track, loaded on the crew's page out of range, is logged
// once, is the track that the command line makes of the file, and ticks the
// lanes that it followed; what is no track is refused in words.
func TestCrewGPX(t *testing.T) {
	t.Setenv("WINDFALL_TEST_NOW", "+2026-04-18T12:00:00Z")
	dir, plan := planned(t)
	flight := filepath.Join(dir, "flight.yaml")
	url, _ := served(t, flight)
	w := crewTab(t, url+"/crew.html")
	w.sees("in range, all sent")
	w.press("Search")
	w.choose("This phone goes with", "Ines")
	w.sees("To where A1 begins")
	w.press("My way")
	walk := stepsAlong(time.Date(2026, 4, 18, 9, 0, 0, 0, time.UTC), blockLegs(*plan, "Ines", "A1"))
	for file, says := range noTracks(t, walk) {
		w.loads(file)
		w.sees(says)
		w.press("Close")
	}
	assert.Empty(t, w.saidAll("track"), "nothing of it is logged")
	pause := stepsAlong(walk[len(walk)-1].at.Add(5*time.Minute), []search.Leg{plan.Searchers[0].Legs[0]})
	var slow []step // a second receiver writes every half second: more than one portion
	for i, s := range walk[:len(walk)-1] {
		for k := range 8 {
			u, n := float64(k)/8, walk[i+1]
			slow = append(slow, step{s.at.Add(time.Duration(u * float64(n.at.Sub(s.at)))), s.lat + u*(n.lat-s.lat), s.lon + u*(n.lon-s.lon)})
		}
	}
	require.Greater(t, len(slow), 1000)
	file := written(t, "walk.gpx", gpxOf(slow, pause))
	w.offline(true)
	w.loads(file)
	lanes := lanesOf(*plan, "A1")
	w.sees(fmt.Sprintf("%d lanes are ticked.", lanes))
	w.until(`/out of range, \d+ waiting/.test(document.getElementById("state").textContent)`)
	newScreens(w).check("crew-gpx")
	w.loads(file)
	w.sees("walk.gpx: this track is logged already.")
	w.press("Close")
	w.offline(false)
	w.sees("in range, all sent")
	w.logged(`f.entries.some((e) => e.kind === "track")`)
	w.loads(file)
	w.sees("walk.gpx: this track is logged already.")
	got := w.saidAll("track")
	require.Len(t, got, 1)
	assert.Equal(t, "Ines", got[0].By)
	assert.JSONEq(t, trackOf(t, flight, file), trackBody(t, got[0].Body))
	f := w.field()
	assert.Len(t, f.Progress, lanes)
	w.press("Close")

	// Taken back, it may be logged anew.
	w.press("Crew")
	eval[any](w, `fetch("/api/v1/field").then((r) => r.json()).then((f) => fetch("/api/v1/entries", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({
		now: new Date().toISOString(), entries: [{ key: "take-it-back", at: new Date().toISOString(), kind: "withdraw", id: f.entries.find((e) => e.kind === "track").id }] }) })).then((r) => r.status)`)
	w.press("All that was logged")
	w.sees("(taken back)")
	w.press("Search")
	w.loads(file)
	w.sees("Taken. It counts as searched when it has reached the laptop.")
	w.logged(`f.entries.filter((e) => e.kind === "track" && !e.withdrawn).length === 1`)
	assert.Empty(t, parsed(w.faults()))
}

// trackOf is what the command line logs of a file.
func trackOf(t *testing.T, flight, file string) string {
	t.Helper()
	book := filepath.Join(t.TempDir(), "logbook.db")
	commanded(t, "searched", flight, file, "--by", "Ines", "--logbook", book, "--out", t.TempDir())
	var d struct{ Entries []json.RawMessage }
	require.NoError(t, json.Unmarshal([]byte(commanded(t, "log", flight, "--logbook", book, "--json")), &d))
	require.Len(t, d.Entries, 1)
	return trackBody(t, d.Entries[0])
}

// trackBody is the ground of a track that was logged.
func trackBody(t *testing.T, text []byte) string {
	t.Helper()
	var all map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(text, &all))
	require.NotEmpty(t, all["geometry"], "%s", text)
	only := map[string]json.RawMessage{}
	for _, name := range []string{"geometry", "length_m", "minutes", "sweep_width_m", "searcher", "notes"} {
		only[name] = all[name]
	}
	b, err := json.Marshal(only)
	require.NoError(t, err)
	return string(b)
}

// On the page that goes about alone a loaded track is shown and ticks the lanes
// that were walked: not what lies in its gaps, and not a plan.
func TestSearchPageGPX(t *testing.T) {
	dir, plan := planned(t)
	commanded(t, "export", filepath.Join(dir, "flight.yaml"), "--page", "--for", "ines")
	w := unopened(t, phone).withSteps()
	w.do(chromedp.Navigate("file://" + filepath.Join(dir, "out", "search-ines.html")))
	w.press("Track")
	legs := blockLegs(*plan, "Ines", "A1")
	walk := stepsAlong(time.Date(2026, 4, 18, 9, 0, 0, 0, time.UTC), legs)
	for file, says := range noTracks(t, walk) {
		w.loads(file)
		w.sees(says)
		w.press("Close")
	}
	ends := []step{walk[0], {walk[0].at.Add(20 * time.Minute), legs[0].To.Lat, legs[0].To.Lon}}
	w.loads(written(t, "ends.gpx", gpxOf(ends)))
	w.sees("The track is on the map. It follows no lane of yours to its end.")
	var drive []step
	for i, s := range walk {
		drive = append(drive, step{walk[0].at.Add(time.Duration(i) * 500 * time.Millisecond), s.lat, s.lon})
	}
	w.loads(written(t, "drive.gpx", gpxOf(drive)))
	w.sees("It follows no lane of yours to its end.")
	w.loads(written(t, "walk.gpx", gpxOf(walk)))
	w.sees(fmt.Sprintf("The track is on the map; %d lanes are ticked.", lanesOf(*plan, "A1")))
	newScreens(w).check("page-gpx")
	w.press("Lead")
	w.sees("To where A2 begins")
	assert.Empty(t, parsed(w.faults()))
}

// parsed leaves out what Chromium says of the page that it makes of a broken
// file for itself.
func parsed(faults []string) (out []string) {
	for _, f := range awaited(faults) {
		if strings.TrimSpace(f) != "against the policy: style-src-attr inline" {
			out = append(out, f)
		}
	}
	return out
}
