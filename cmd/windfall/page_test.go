package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// commanded is what the program prints for a command line.
func commanded(t *testing.T, args ...string) string {
	t.Helper()
	var out, said bytes.Buffer
	e := env{out: &out, err: &said, now: testClock, getenv: func(string) string { return filepath.Join(t.TempDir(), "none.db") }}
	require.Equal(t, 0, run(context.Background(), e, args), said.String())
	return out.String()
}

// Somebody who has never seen the command line gets from "windfall serve demo",
// by words that are seen alone, to a saved flight of their own: the place typed,
// the field and a wall drawn, the wind typed, the rail dragged, the best hour
// chosen. The command line then predicts the same, byte for byte.
func TestPageStory(t *testing.T) {
	for _, on := range []screen{phone, laptop} {
		t.Run(on.name, func(t *testing.T) { tellStory(t, on) })
	}
}

func tellStory(t *testing.T, on screen) {
	dir := filepath.Join(t.TempDir(), "demo")
	url, _ := served(t, dir)
	w := opened(t, url, on)
	before, err := os.ReadFile(filepath.Join(dir, "flight.yaml"))
	require.NoError(t, err)
	w.sees("on our field")

	w.press("Flight")
	w.write("Pad", "", "41.9100, -4.9300")
	w.press("Try")
	w.sees("does not contain the pad")
	w.press("All")

	w.press("Ground")
	w.until(`document.querySelector('[data-shape="field 1"] .caution')?.textContent.includes("does not contain the pad")`)
	w.press("Delete")
	w.press("Draw: Field")
	for _, p := range [][2]float64{{0.1, 0.08}, {0.8, 0.08}, {0.8, 0.85}, {0.1, 0.85}} {
		w.tap(p[0], p[1])
	}
	w.sees("4 set")
	w.shoot(on.name + "-drawing")
	w.press("Finish drawing")
	w.press("Draw: Wall or stream")
	w.tap(0.2, 0.3)
	w.tap(0.7, 0.25)
	w.press("Finish drawing")
	w.write("Name", "", "dry wall")
	w.shoot(on.name + "-ground")

	w.press("Wind")
	w.write("Speed", "Level 1", "3")
	w.choose("How the wind is known", "A file: forecast, sounding or report")
	w.press("Add what was measured at the pad")
	w.write("Wind from", "Measured at the pad", "150")
	w.write("Wind speed", "Measured at the pad", "3")
	w.shoot(on.name + "-wind")

	w.press("Try")
	w.quiet()
	lean := w.reads("Lean of the rail")
	w.drag(`document.querySelector(".handle.rail")`, 40, -30)
	w.until(`hands.field("Lean of the rail").value !== ` + quotedJS(lean))
	w.press("Find the best hour")
	w.until(`hands.button("Find the best hour again")`)
	w.shoot(on.name + "-hours")
	best := eval[string](w, `hands.words(document.querySelector(".hours ol button"))`)
	w.press(best)
	w.sees("changes not saved")
	w.quiet()
	w.press("Save")
	w.until(`document.getElementById("state").textContent === "saved"`)
	w.quiet()
	w.shoot(on.name + "-saved")

	after, err := os.ReadFile(filepath.Join(dir, "flight.yaml"))
	require.NoError(t, err)
	assert.Contains(t, string(after), `pad: "41.9100, -4.9300"   # where it stands`)
	assert.Contains(t, string(after), "wind: {file: practice-forecast.json, measured: {height: 2 m, from: 150 deg, speed: 3 m/s")
	assert.GreaterOrEqual(t, strings.Count(string(after), "#"), strings.Count(string(before), "#"), "every comment is there")
	ground, err := os.ReadFile(filepath.Join(dir, "ground.geojson"))
	require.NoError(t, err)
	assert.Contains(t, string(ground), `"name":"dry wall"`)

	w.press("Files")
	w.press("Make: Landing map for phones and printing")
	w.sees("out/landing.kmz")
	w.shoot(on.name + "-files")
	assert.Equal(t, commanded(t, "predict", filepath.Join(dir, "flight.yaml"), "--json"), eval[string](w, `fetch("/api/v1/jobs/1/result").then((r) => r.text())`))
	assert.Empty(t, w.faults())
}

// What the page shows of a flight is what predict says of it.
func TestPageAnswersAsPredict(t *testing.T) {
	dir := garzaCopy(t)
	url, _ := served(t, dir)
	w := opened(t, url, laptop)
	w.quiet()
	var want, got map[string]any
	require.NoError(t, json.Unmarshal([]byte(commanded(t, "predict", filepath.Join(dir, "flight.yaml"), "--json")), &want))
	text := eval[string](w, `fetch("/api/v1/flight").then((r) => r.json()).then((f) => fetch("/api/v1/tries", { method: "POST", body: JSON.stringify({ base: f.hash, edits: [] }) })).then((r) => r.text())`)
	var try struct{ Result json.RawMessage }
	require.NoError(t, json.Unmarshal([]byte(text), &try))
	require.NoError(t, json.Unmarshal(try.Result, &got))
	want["files"] = []any{} // a try writes none
	assert.Equal(t, want, got)
	assert.Regexp(t, `\d+ flights\.`, eval[string](w, `document.querySelector("#part-try .result").textContent`))
}

// The checker of axe-core, made by the page's build, finds no serious or
// critical fault on any screen.
func TestPageAccess(t *testing.T) {
	axe, err := os.ReadFile("internal/page/web/node_modules/axe-core/axe.min.js")
	if err != nil {
		t.Skip("axe-core is not here; internal/page/web/build.sh fetches it")
	}
	url, _ := served(t, garzaCopy(t))
	check := func(w *tab, name string) {
		faults := eval[[]string](w, `axe.run(document, { resultTypes: ["violations"] }).then((r) => r.violations.filter((v) => v.impact === "serious" || v.impact === "critical")
			.map((v) => v.id + ": " + v.help + " " + v.nodes.slice(0, 3).map((n) => n.target + " " + n.failureSummary).join("; ")))`)
		assert.Empty(t, faults, name)
	}
	shared, _ := served(t, "--listen", "127.0.0.1:0", garzaCopy(t))
	w := unopened(t, phone)
	w.do(chromedp.Navigate(shared[:strings.Index(shared, "/host/")]))
	w.sees("Join code")
	eval[any](w, string(axe)+";null")
	check(w, "the join code")
	w.shoot("phone-join")
	for _, on := range []screen{phone, laptop} {
		w := opened(t, url, on)
		w.quiet()
		eval[any](w, string(axe)+";null")
		for _, look := range []string{"for the sun", "for dusk"} {
			w.choose("Look", look)
			for _, part := range []string{"Try", "Flight", "Ground", "Wind", "Files"} {
				w.press(part)
				eval[any](w, `document.querySelectorAll("details").forEach((d) => { d.open = true })`)
				check(w, fmt.Sprint(on.name, " ", look, " ", part))
				w.shoot(strings.Join([]string{on.name, strings.Fields(look)[len(strings.Fields(look))-1], part}, "-"))
			}
		}
		w.press("Ground")
		w.press("Draw: Field")
		w.tap(0.3, 0.3)
		check(w, "drawing")
		small := eval[[]string](w, `[...document.querySelectorAll("button, select, summary, input, .handle")].filter((e) => hands.seen(e)).filter((e) => { const r = e.getBoundingClientRect(); return r.height < 43.5 || r.width < 43.5 }).map((e) => e.outerHTML.slice(0, 120))`)
		assert.Empty(t, small, "targets under 44 pixels")
		assert.Empty(t, w.faults())
	}
}

// Two windows on one file: the second to save is shown both, and nothing is
// lost of either.
func TestPageInTwoWindows(t *testing.T) {
	dir := garzaCopy(t)
	url, _ := served(t, dir)
	a, b := opened(t, url, laptop), opened(t, url, phone)
	a.press("Flight")
	a.press("Rail")
	a.write("Lean from the vertical", "", "5")
	b.press("Flight")
	b.press("Rocket")
	b.write("Mass on the rail, motor included", "", "1.5")
	b.sees("1 change not saved")
	a.press("Save")
	a.until(`document.getElementById("state").textContent === "saved"`)
	b.sees("changed elsewhere")
	b.press("Save")
	b.sees("flight.yaml was changed since this page read it")
	b.sees("rail.lean")
	b.shoot("phone-both")
	b.press("Put my changes into theirs")
	b.press("Save")
	b.until(`document.getElementById("state").textContent === "saved"`)
	text, err := os.ReadFile(filepath.Join(dir, "flight.yaml"))
	require.NoError(t, err)
	assert.Contains(t, string(text), "lean: 5 deg")
	assert.Contains(t, string(text), "mass: 1.5 kg               # on the rail, motor included")
	a.until(`document.querySelector('[data-key="vehicle.mass"] input').value === "1.5"`)

	// An editor changes the file while the page is open.
	changed := strings.Replace(string(text), "length: 1.42 m", "length: 1.5 m", 1)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "flight.yaml"), []byte(changed), 0o644))
	a.until(`document.querySelector('[data-key="vehicle.length"] input').value === "1.5"`)
	a.sees("changed elsewhere")
	assert.Empty(t, append(a.faults(), b.faults()...))
}

// What cannot be stands beside the thing, and nothing is lost.
func TestPageRefuses(t *testing.T) {
	dir := garzaCopy(t)
	url, stop := served(t, dir)
	w := opened(t, url, laptop)
	w.press("Flight")
	w.press("Rocket")
	w.write("Diameter of the body", "", "5000")
	w.until(`document.querySelector('[data-key="vehicle.diameter"] .fault:not([hidden])')?.textContent.includes("cannot be")`)
	w.press("Save")
	w.sees("Not saved")
	w.write("Diameter of the body", "", "66")

	w.press("Ground")
	w.press("Draw: No-go area")
	for _, p := range [][2]float64{{0.3, 0.3}, {0.5, 0.5}, {0.5, 0.3}, {0.3, 0.5}} {
		w.tap(p[0], p[1])
	}
	w.press("Finish drawing")
	w.until(`[...document.querySelectorAll("#part-ground .fault:not([hidden])")].some((p) => p.textContent.includes("cross"))`)
	w.shoot("laptop-crosses")
	w.press("Undo")

	w.press("Wind")
	big := filepath.Join(t.TempDir(), "big.csv")
	require.NoError(t, os.WriteFile(big, nil, 0o644))
	require.NoError(t, os.Truncate(big, 100<<20))
	w.do(chromedp.SetUploadFiles("#part-wind input[type=file]", []string{big}))
	w.sees("a file may have 32 MB")

	w.press("Flight")
	w.write("Diameter of the body", "", "67")
	stop()
	w.press("Save")
	w.sees("is it still running? Your changes are kept here")
	assert.Contains(t, eval[string](w, `Object.values(sessionStorage).join()`), `"67 mm"`)
	text, err := os.ReadFile(filepath.Join(dir, "flight.yaml"))
	require.NoError(t, err)
	assert.Contains(t, string(text), "diameter: 66 mm")
}

// All of it goes by keyboard too: the rail is turned, a field drawn at the
// middle of the map, and the chance there asked for. What was not saved outlives
// a reload.
func TestPageByKeyboard(t *testing.T) {
	dir := garzaCopy(t)
	url, _ := served(t, dir)
	w := opened(t, url, phone)
	w.quiet()
	eval[any](w, `document.querySelector(".handle.rail").focus()`)
	w.do(chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowDown))
	w.until(`hands.field("Leans toward").value === "195" && hands.field("Lean of the rail").value === "2.5"`)
	w.press("Chance at the middle of the map")
	w.sees("within 50 m")
	w.shoot("phone-point")
	w.press("Close")
	w.press("Ground")
	w.press("Draw: Place")
	for range 3 {
		w.press("Corner at the middle")
		eval[any](w, `document.querySelector("#map").focus()`)
		w.do(chromedp.KeyEvent(kb.ArrowRight))
		w.do(chromedp.KeyEvent(kb.ArrowDown))
	}
	w.sees("3 set")
	w.press("Take one back")
	w.sees("1 more needed")
	w.press("Finish drawing")
	w.sees("needs 3 corners")
	w.press("Leave it")
	w.do(chromedp.Reload())
	w.sees("Changes that were not saved are here again")
	assert.Equal(t, "195", w.reads("Leans toward"))
	assert.Empty(t, w.faults())
}

// Tries are kept and set side by side; other devices are tried.
func TestPageComparesTries(t *testing.T) {
	url, _ := served(t, garzaCopy(t))
	w := opened(t, url, laptop)
	w.quiet()
	w.press("Keep this try")
	w.choose("Device", "parachute")
	w.until(`hands.field("Parachute diameter")`)
	w.quiet()
	w.press("Keep this try")
	w.press("Compare what was tried")
	w.sees("Best first")
	w.until(`document.querySelectorAll(".tries ol li").length === 2`)
	assert.Contains(t, eval[string](w, `document.querySelector(".tries ol li").innerText`), "as saved", "the streamer, which falls faster, stays on the field")
	w.shoot("laptop-tries")
	assert.Empty(t, w.faults())
}

// The page asks nobody but the program for anything, and is seen at once.
func TestPageAlone(t *testing.T) {
	url, _ := served(t, garzaCopy(t))
	w := opened(t, url, laptop)
	w.quiet()
	for _, from := range eval[[]string](w, `performance.getEntriesByType("resource").map((e) => e.name)`) {
		assert.True(t, strings.HasPrefix(from, url), from)
	}
}
