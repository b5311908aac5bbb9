package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	browsercdp "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/deviceorientation"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/target"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// crewTab opens the crew's page in a window with a position that is moved.
func crewTab(t *testing.T, url string) *tab {
	w := unopened(t, phone).withSteps()
	w.do(chromedp.Navigate(url))
	return w
}

// screens checks a page by day and by night: axe-core finds no serious or
// critical fault, no target is under 44 pixels, no letters are under 16, nothing
// is wider than the screen, and what is on a button is not cut.
type screens struct {
	w   *tab
	axe string
}

// newScreens is for a page that is open.
func newScreens(w *tab) *screens {
	axe, err := os.ReadFile("internal/page/web/node_modules/axe-core/axe.min.js")
	if err != nil {
		w.t.Skip("axe-core is not here; internal/page/web/build.sh fetches it")
	}
	return &screens{w, string(axe)}
}

func (s *screens) check(name string) {
	s.w.t.Helper()
	if s.axe != "" && !eval[bool](s.w, "!!window.axe") {
		eval[any](s.w, s.axe+";null")
	}
	for _, night := range []bool{false, true} {
		look := map[bool]string{false: "day", true: "night"}[night]
		s.w.atNight(night)
		assert.Empty(s.w.t, eval[[]string](s.w, fmt.Sprintf(axeRun, map[bool]string{true: `runOnly: ["color-contrast"], `}[night])), look+" "+name)
		s.w.shoot(look + "-" + name)
	}
	s.w.atNight(false)
	assert.Empty(s.w.t, eval[[]string](s.w, tooSmall), name)
}

const (
	axeRun = `axe.run(document, { %sresultTypes: ["violations"] }).then((r) => r.violations.filter((v) => v.impact === "serious" || v.impact === "critical")
		.map((v) => v.id + ": " + v.help + " " + v.nodes.slice(0, 3).map((n) => n.target + " " + n.failureSummary).join("; ")))`
	tooSmall = `(() => {
		const out = [], seen = [...document.querySelectorAll("body *")].filter((e) => hands.seen(e));
		for (const e of seen) {
			const r = e.getBoundingClientRect(), name = e.outerHTML.slice(0, 100);
			if (e.matches("button, select, summary, input, .handle") && (r.height < 43.5 || r.width < 43.5)) out.push("small target: " + name);
			if (e.matches("button") && (e.scrollWidth > e.clientWidth + 1)) out.push("cut: " + name);
			if (!e.closest("#map") && !e.matches(".unseen, option") && [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim()) && parseFloat(getComputedStyle(e).fontSize) < 15.9) out.push("small letters: " + name);
			if (!e.closest("#map") && !e.matches(".unseen, option") && r.right > innerWidth + 1) out.push("beyond the screen: " + name);
		}
		return out;
	})()`
)

// All screens of a phone in the field can be read and pressed by day and by
// night.
func TestCrewScreens(t *testing.T) {
	dir, plan := planned(t)
	t.Setenv("WINDFALL_TEST_NOW", "+2026-04-18T12:00:00Z")
	url, _ := served(t, filepath.Join(dir, "flight.yaml"))
	w := crewTab(t, url+"/crew.html")
	w.sees("Press with the countdown")
	w.until(`document.querySelectorAll(".fm.begin").length > 0`)
	s := newScreens(w)
	s.check("crew-clock-before")
	w.press("Ignition ±0.3 s")
	w.until(`/T\+[1-9]\d* s after ignition/.test(document.body.innerText)`)
	w.press("Burnout ±0.4 s, 0.23 s taken off")
	w.sees("Take back")
	eval[any](w, `document.getElementById("panel").scrollTop = 0`)
	s.check("crew-clock")
	w.press("Where to look, and when")
	w.sees("Nine flights of ten")
	eval[any](w, `hands.button("Where to look, and when").scrollIntoView()`)
	s.check("crew-cards")
	w.press("Where to look, and when")
	w.press("Search")
	w.choose("This phone goes with", "Ines")
	w.sees("To where A1 begins")
	w.press("Follow me")
	w.stroll(stepsAlong(time.Now().Add(-20*time.Minute), plan.Searchers[0].Legs[:3]))
	eval[any](w, `document.getElementById("panel").scrollTop = 0`)
	s.check("crew-lead")
	for _, part := range []string{"My blocks", "What the others do", "What is left, and when to stop", "Somebody comes, goes or is late", "My way", "Places and cautions"} {
		w.press(part)
		if part == "What is left, and when to stop" {
			w.sees("Nine of ten of what is left")
		}
		eval[any](w, `hands.button(`+quotedJS(part)+`).scrollIntoView()`)
		s.check("crew-" + strings.ToLower(strings.Fields(part)[0]))
		w.press(part)
	}
	w.press("Saw")
	s.check("crew-saw")
	w.press("What it changes")
	w.sees("Dashed")
	eval[any](w, `document.querySelector("#part-saw [role=status]").scrollIntoView()`)
	s.check("crew-saw-changes")
	w.press("Log it")
	w.press("Find")
	s.check("crew-find")
	w.press("I have found it")
	w.sees("What did it look like?")
	s.check("crew-found")
	w.press("Crew")
	s.check("crew-people")
	assert.Empty(t, w.faults())
}

// offline takes a window out of range, or back into it.
func (w *tab) offline(off bool) {
	w.t.Helper()
	p := network.EmulateNetworkConditionsByRuleParams{EmulateOfflineServiceWorker: &off}
	if off {
		p.MatchedNetworkConditions = []*network.Conditions{{Offline: true, DownloadThroughput: -1, UploadThroughput: -1}}
	} else {
		p.MatchedNetworkConditions = []*network.Conditions{}
	}
	_, err := chromedp.Call(w.ctx, network.EmulateNetworkConditionsByRule, p)
	require.NoError(w.t, err)
}

// The way in, the laptop that lets others in, and a phone that is out of range.
func TestCrewScreensShared(t *testing.T) {
	t.Setenv("WINDFALL_TEST_NOW", "+2026-04-18T12:00:00Z")
	host, _ := served(t, "--listen", "127.0.0.1:0", filepath.Join(garzaCopy(t), "flight.yaml"))
	url := host[:strings.Index(host, "/host/")]
	w := unopened(t, laptop)
	w.do(chromedp.Navigate(host), chromedp.Navigate(url+"/crew.html"))
	w.press("Crew")
	w.until(`document.querySelector(".qr")?.naturalWidth > 0`)
	newScreens(w).check("laptop-host")
	p := crewTab(t, url+"/crew.html")
	p.sees("Join code")
	s := newScreens(p)
	s.check("crew-join")
	p.write("Your name", "", "Marta")
	p.write("Join code, from the laptop's screen", "", eval[string](w, `document.querySelector(".code").textContent`))
	p.press("Come in")
	p.sees("in range, all sent")
	w.sees("Marta")
	p.offline(true)
	p.press("Ignition ±0.3 s")
	p.sees("out of range, 1 waiting")
	p.press("Crew")
	p.sees("1 thing said here waits to be sent")
	s.check("crew-away")
	p.offline(false)
	p.sees("in range, all sent")
	assert.Empty(t, w.faults())
}

// The browser's own position leads, and compass and tilt are logged, magnetic
// turned to true.
func TestCrewSenses(t *testing.T) {
	t.Setenv("WINDFALL_TEST_NOW", "+2026-04-18T12:00:00Z")
	url, _ := served(t, filepath.Join(garzaCopy(t), "flight.yaml"))
	w := unopened(t, phone)
	info, err := chromedp.Call(w.ctx, target.GetTargetInfo, target.GetTargetInfoParams{})
	require.NoError(t, err)
	_, err = chromedp.CallBrowser(w.ctx, browsercdp.SetPermission, browsercdp.SetPermissionParams{BrowserContextID: info.TargetInfo.BrowserContextID,
		Permission: &browsercdp.PermissionDescriptor{Name: "geolocation"}, Setting: browsercdp.PermissionSettingGranted})
	require.NoError(t, err)
	lat, lon, acc := 41.9061, -4.9201, 7.0
	_, err = chromedp.Call(w.ctx, emulation.SetGeolocationOverride, emulation.SetGeolocationOverrideParams{Latitude: &lat, Longitude: &lon, Accuracy: &acc})
	require.NoError(t, err)
	w.do(chromedp.Navigate(url + "/crew.html"))
	w.sees("Press with the countdown")
	w.press("Search")
	w.sees("There is no plan yet")
	w.press("Follow me")
	w.sees("±7 m, recording")
	w.press("Saw")
	w.sees("From where you stand, ±7 m.")
	_, err = chromedp.Call(w.ctx, deviceorientation.SetDeviceOrientationOverride, deviceorientation.SetDeviceOrientationOverrideParams{Alpha: 300, Beta: 25})
	require.NoError(t, err)
	w.press("Compass and tilt")
	w.sees("No compass; 25° up.")
	eval[any](w, `setInterval(() => dispatchEvent(new DeviceOrientationEvent("deviceorientationabsolute", { alpha: 300, beta: 25, gamma: 0, absolute: true })), 1000);null`)
	w.sees("(compass 060°), ±10°; 25° up.")
	w.press("Take it")
	w.press("Log it")
	w.sees("Which disagrees?")
	w.until(`document.getElementById("state").textContent === "in range, all sent"`)
	var f struct {
		Entries []struct {
			Body struct {
				Bearing   float64 `json:"bearing_deg"`
				SD        float64 `json:"bearing_sd_deg"`
				Elevation float64 `json:"elevation_deg"`
			}
		}
		Flight struct {
			Declination float64 `json:"declination_deg"`
		}
	}
	require.NoError(t, json.Unmarshal([]byte(eval[string](w, `fetch("/api/v1/field").then((r) => r.text())`)), &f))
	require.Len(t, f.Entries, 1)
	got := f.Entries[0].Body
	assert.InDelta(t, 60+f.Flight.Declination, got.Bearing, 0.51, "true, to a degree")
	assert.Equal(t, []float64{10, 25}, []float64{got.SD, got.Elevation})

	// Amended, it is another; taken back, it is none.
	w.press("Compass and tilt")
	w.press("Amend")
	w.choose("Counted", "from true north")
	w.write("Bearing, degrees", "", "120")
	w.press("Amend it")
	w.logged(`f.entries.some((e) => e.revision === 2 && e.body.bearing_deg === 120)`)
	w.press("Take back")
	w.sees("Nothing was seen yet")
	w.logged(`f.entries[0].withdrawn`)
	assert.Empty(t, w.faults())
}

// logged waits for what the laptop answers of the field, f, to be so.
func (w *tab) logged(so string) {
	w.t.Helper()
	require.Eventually(w.t, func() bool {
		return eval[bool](w, `fetch("/api/v1/field").then((r) => r.json()).then((f) => !!(`+so+`))`)
	}, time.Minute, 100*time.Millisecond, so)
}

// Over plain http from another machine the page works too, and says what it
// lacks and what to do instead.
func TestCrewInsecure(t *testing.T) {
	host, _ := served(t, "--listen", "0.0.0.0:0", filepath.Join(garzaCopy(t), "flight.yaml"))
	if strings.Contains(host, "127.0.0.1") || strings.Contains(host, "localhost") {
		t.Skip("this machine has no other address than its own")
	}
	w := unopened(t, phone)
	w.do(chromedp.Navigate(host), chromedp.Navigate(host[:strings.Index(host, "/host/")]+"/crew.html"))
	w.sees("Press with the countdown")
	require.False(t, eval[bool](w, "isSecureContext"))
	w.press("Search")
	w.sees("only when the page came over https")
	w.press("Crew")
	w.sees("This connection is not secure")
	w.press("Saw")
	w.press("Compass and tilt")
	w.sees("Turn the line on the map")
	w.press("Tap a point")
	w.tap(0.4, 0.6)
	w.press("Log it")
	w.sees("What was seen")
	w.until(`document.getElementById("state").textContent === "in range, all sent"`)
	assert.Empty(t, w.faults())
}

// Nobody looks: nothing is drawn, while the way is still recorded; and no timer
// goes faster than once a second.
func TestCrewHidden(t *testing.T) {
	dir, plan := planned(t)
	url, _ := served(t, filepath.Join(dir, "flight.yaml"))
	w := crewTab(t, url+"/crew.html")
	w.press("Search")
	w.choose("This phone goes with", "Ines")
	w.press("Follow me")
	legs := blockLegs(*plan, "Ines", "A1")
	w.stroll([]step{{time.Now(), legs[0].From.Lat, legs[0].From.Lon}})
	w.sees("recording")
	w.until(`document.getElementById("state").textContent === "in range, all sent"`)
	eval[any](w, `hide(true); window.drawn = 0; window.what = []; new MutationObserver((l) => { drawn += l.length; what.push(l[0].type + " of " + (l[0].target.outerHTML || l[0].target.data).slice(0, 150)) }).observe(document.body, { subtree: true, childList: true, attributes: true, characterData: true });null`)
	w.stroll(stepsAlong(time.Now().Add(time.Minute), legs[:1]))
	time.Sleep(1500 * time.Millisecond)
	assert.Empty(t, eval[[]string](w, "what"))
	eval[any](w, "hide(false);null")
	w.sees(laneWords(*plan, "A1", 2))
	assert.Positive(t, eval[int](w, "drawn"))
	for _, ms := range eval[[]float64](w, "intervals") {
		assert.GreaterOrEqual(t, ms, 1000.0)
	}
	assert.Empty(t, w.faults())
}

// A clock that is an hour wrong is said and put right, and a position that jumps
// does not become a way.
func TestCrewWrongClock(t *testing.T) {
	t.Setenv("WINDFALL_TEST_NOW", "+"+testBegan.UTC().Format(time.RFC3339Nano))
	dir := garzaCopy(t)
	url, _ := served(t, filepath.Join(dir, "flight.yaml"))
	w := crewTab(t, url+"/crew.html")
	w.sees("Press with the countdown")
	eval[any](w, "skew(3600000);null")
	before := time.Now()
	w.press("Ignition ±0.3 s")
	w.sees("Pressed so far")
	w.press("Crew")
	w.until(`/This phone's clock is (59|60) min ahead/.test(document.body.innerText)`) // less what the sending took
	w.logged("f.ignition")
	at := eval[string](w, `fetch("/api/v1/field").then((r) => r.json()).then((f) => f.ignition.at)`)
	pressed, err := time.Parse(time.RFC3339Nano, at)
	require.NoError(t, err)
	assert.WithinRange(t, pressed, before.Add(-2*time.Second), time.Now().Add(2*time.Second))
	w.press("Search")
	w.press("Follow me")
	now := time.Now().Add(time.Hour)
	w.stroll([]step{{now, 41.9049, -4.9213}, {now.Add(2 * time.Second), 41.9950, -4.9213}, {now.Add(4 * time.Second), 41.90492, -4.9213}})
	w.press("My way")
	w.sees("1 jump of the position left out")
	assert.Empty(t, w.faults())
}

// What is left is a picture on the map, which follows what somebody else says
// without a press, and is still there out of range.
func TestCrewLeft(t *testing.T) {
	t.Setenv("WINDFALL_TEST_NOW", "+2026-04-18T12:00:00Z")
	dir, _ := planned(t)
	url, _ := served(t, filepath.Join(dir, "flight.yaml"))
	w := crewTab(t, url+"/crew.html")
	w.sees("in range, all sent")
	const picture = `document.querySelector(".leaflet-chance-pane img")`
	w.until(picture + "?.naturalWidth > 20") // where it may come down, before anybody asks
	w.press("Search")
	first := eval[string](w, picture+".src")
	assert.True(t, strings.HasPrefix(first, "data:image/png;base64,"))
	w.press("What is left, and when to stop")
	w.sees("the darker on the map")
	w.until(`!document.querySelector(".fm.begin")`) // no block lies over it
	newScreens(w).check("crew-left")
	w.press("What is left, and when to stop")
	w.until(`document.querySelector(".fm.begin")`)
	eval[any](w, `fetch("/api/v1/entries", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ now: new Date().toISOString(),
		entries: [{ key: "of-somebody-else", at: new Date().toISOString(), kind: "bearing", from: { lat: 41.9, lon: -4.93 }, bearing_deg: 42, north: "true", event: "landing" }] }) }).then((r) => r.status)`)
	eval[any](w, "skew(25000);null") // longer than it rests between two
	w.until(picture + ".src !== " + quotedJS(first))
	second := eval[string](w, picture+".src")
	w.offline(true)
	w.do(chromedp.Reload())
	w.sees("out of range")
	w.press("Search")
	w.until(picture + "?.src === " + quotedJS(second))
	assert.Empty(t, awaited(w.faults()))
}
