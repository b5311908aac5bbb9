//go:build unix

package main

import (
	"bufio"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/search"
)

// crewServer is the program serving the example flight, to be killed and started
// again on the same address.
type crewServer struct {
	t         *testing.T
	dir, bin  string
	address   string // of all its lives
	host, url string
	code      string
	cmd       *exec.Cmd
}

func serveCrew(t *testing.T) *crewServer {
	s := &crewServer{t: t, dir: garzaCopy(t), bin: binDir(t), address: "127.0.0.1:0"}
	s.start()
	s.address = strings.TrimPrefix(s.url, "http://")
	t.Cleanup(func() { s.kill() })
	return s
}

func (s *crewServer) start() {
	s.t.Helper()
	s.cmd = exec.Command(filepath.Join(s.bin, "windfall"), "serve", "--no-browser", "--listen", s.address, "flight.yaml")
	s.cmd.Dir = s.dir
	now := time.Date(2026, 4, 18, 12, 0, 0, 0, time.UTC).Add(time.Since(testBegan))
	s.cmd.Env = []string{"PATH=/usr/bin:/bin", "HOME=" + s.dir, "TZ=UTC", "WINDFALL_TEST_NOW=+" + now.Format(time.RFC3339Nano),
		"WINDFALL_LOGBOOK=" + filepath.Join(s.dir, "logbook.db")}
	s.cmd.Stderr = os.Stderr
	out, err := s.cmd.StdoutPipe()
	require.NoError(s.t, err)
	require.NoError(s.t, s.cmd.Start())
	lines := bufio.NewScanner(out)
	for s.code == "" || s.url == "" {
		require.True(s.t, lines.Scan(), "the program ended")
		line := lines.Text()
		if host, ok := strings.CutPrefix(line, "page: "); ok {
			s.host = host
			s.url = host[:strings.Index(host, "/host/")]
		}
		if _, code, ok := strings.Cut(line, "join code "); ok {
			s.code = code
		}
	}
	go io.Copy(io.Discard, out)
}

func (s *crewServer) kill() {
	s.cmd.Process.Kill()
	s.cmd.Wait()
}

// joined is a phone that has come in with the code.
func (s *crewServer) joined(name string) *tab {
	w := unopened(s.t, phone).withSteps()
	w.do(chromedp.Navigate(s.url + "/crew.html"))
	w.write("Your name", "", name)
	w.write("Join code, from the laptop's screen", "", s.code)
	w.press("Come in")
	w.sees("in range, all sent")
	w.until(`navigator.serviceWorker.controller`)
	return w
}

// fieldSeen is what a window's laptop says of the field, as far as tests read it.
type fieldSeen struct {
	Plan struct {
		Number int
		Plan   search.Plan
	}
	Progress []struct{ Block, State, By string }
	Entries  []struct {
		Key, Kind, By, Says string
		Withdrawn           bool
	}
	Finds []struct {
		Body struct {
			LooksLike string `json:"looks_like"`
		}
	}
}

func (w *tab) field() (f fieldSeen) {
	w.t.Helper()
	require.NoError(w.t, json.Unmarshal([]byte(eval[string](w, `fetch("/api/v1/field").then((r) => r.text())`)), &f))
	return f
}

// From prediction to find, with four phones and a laptop: presses of the flight
// clock are on all phones within a second, somebody says what they saw, a plan
// is made, two walk their lanes, one of them out of range for half of it, the
// program is killed in the middle and started again, and one press on the find
// is on all screens. Nothing that was answered is lost, and nothing comes twice.
func TestCrewStory(t *testing.T) {
	s := serveCrew(t)
	laptop := opened(t, s.host, laptop)
	laptop.sees("on our field")
	ines, tomas, marta, pau := s.joined("Ines"), s.joined("Tomas"), s.joined("Marta"), s.joined("Pau")
	all := []*tab{ines, tomas, marta, pau}
	laptop.do(chromedp.Navigate(s.url + "/crew.html"))

	// The flight, by the clock.
	marta.press("Ignition ±0.3 s")
	for _, w := range all {
		w.until(`document.querySelector(".clock").textContent.startsWith("T+")`)
	}
	pressed := time.Now()
	marta.press("Ejection ±0.4 s, 0.23 s taken off")
	pau.sees("Ejection")
	pau.until(`document.querySelector("#part-clock .log").innerText.includes("Marta")`)
	t.Logf("a press was on another phone %d ms after it", time.Since(pressed).Milliseconds())
	pau.press("Landing heard ±0.7 s, 0.23 s taken off")
	pau.press("Take it back")
	marta.press("Landing seen ±0.5 s, 0.23 s taken off")

	// What Marta saw, from a point on the map.
	marta.press("Saw")
	marta.press("Tap a point")
	marta.tap(0.3, 0.7)
	marta.write("Bearing, degrees", "", "20")
	marta.press("What it changes")
	marta.sees("nine of ten in")
	marta.press("Log it")
	pau.press("Saw")
	pau.sees("What was seen")

	// Who is here, and the plan.
	for name, w := range map[string]*tab{"Ines": ines, "Tomas": tomas} {
		w.press("Search")
		w.choose("This phone goes with", name)
		w.until(`document.getElementById("state").textContent === "in range, all sent"`)
	}
	ines.press("Somebody comes, goes or is late")
	ines.press("Plan anew from here")
	ines.sees("To where A1 begins")
	tomas.sees("To where B1 begins")
	plan := ines.field().Plan
	at := time.Now().Add(-2 * time.Hour) // by the phones: a walk that is over when a page is loaded again

	// Ines walks her first block; Tomas is out of range for his.
	ines.press("Follow me")
	ines.stroll(stepsAlong(at, blockLegs(plan.Plan, "Ines", "A1")))
	ines.sees("walked")
	tomas.offline(true)
	tomas.sees("out of range")
	tomas.press("Follow me")
	tomas.stroll(stepsAlong(at, blockLegs(plan.Plan, "Tomas", "B1")))
	tomas.until(`/out of range, \d+ waiting/.test(document.getElementById("state").textContent)`)
	tomas.do(chromedp.Reload()) // the page comes from the phone itself
	tomas.sees("waiting")
	tomas.press("Search")
	tomas.sees("lane")

	// The program is killed and comes back; what was answered is there.
	before := marta.field()
	s.kill()
	ines.sees("out of range")
	if eval[bool](ines, `!!hands.button("I am there")`) {
		ines.press("I am there")
	}
	ines.press("Skip")
	ines.sees("1 waiting")
	s.start()
	ines.sees("in range, all sent")
	tomas.offline(false)
	tomas.sees("in range, all sent")
	after := marta.field()
	known := map[string]int{}
	for _, e := range after.Entries {
		known[e.Key]++
	}
	for _, e := range before.Entries {
		assert.Equal(t, 1, known[e.Key], "%s of %s: %s", e.Kind, e.By, e.Says)
	}
	by := map[string]int{}
	for _, p := range after.Progress {
		by[p.By+" "+p.State]++
	}
	assert.Equal(t, lanesOf(plan.Plan, "A1"), by["Ines done"])
	assert.Equal(t, lanesOf(plan.Plan, "B1"), by["Tomas done"], eval[string](tomas, `document.body.innerText`))
	assert.Equal(t, 1, by["Ines skipped"])
	tracks := map[string]int{}
	for _, e := range after.Entries {
		if e.Kind == "track" {
			tracks[e.By]++
		}
	}
	assert.Equal(t, map[string]int{"Ines": 1, "Tomas": 1}, tracks)

	// A new plan while two walk: all are told, and what was walked stays.
	ines.press("Plan anew from here")
	tomas.sees("There is a new plan, number 2")
	assert.Equal(t, 2, marta.field().Plan.Number)
	tomas.press("Close")

	// One press, on all screens.
	bs := blockLegs(plan.Plan, "Tomas", "B1")
	tomas.stroll(stepsAlong(at.Add(2*time.Hour), bs[len(bs)-1:]))
	tomas.press("Find")
	tomas.press("I have found it")
	for _, w := range append(all, laptop) {
		w.sees("Found by Tomas")
	}
	tomas.write("What did it look like?", "", "nose in the mud")
	tomas.press("Say so")
	for _, w := range append(all, laptop) {
		w.sees("nose in the mud")
	}
	assert.Len(t, laptop.field().Finds, 1)

	// Somebody else has found the same elsewhere: both are kept, and it is said.
	pau.press("Search")
	pau.press("Follow me")
	pau.stroll([]step{{at.Add(3 * time.Hour), 41.9061, -4.9201}})
	pau.press("Find")
	pau.press("I have found it")
	pau.sees("At odds with others")
	laptop.sees("2 finds in all")
	for _, w := range append(all, laptop) {
		assert.Empty(t, awaited(w.faults()))
	}
}
