package main

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
)

// crewTab opens the crew's page in a window with a position that is moved.
func crewTab(t *testing.T, url string) *tab {
	w := unopened(t, phone).withSteps()
	w.do(chromedp.Navigate(url))
	return w
}

func TestCrewTry(t *testing.T) {
	dir, plan := planned(t)
	url, _ := served(t, filepath.Join(dir, "flight.yaml"))
	w := crewTab(t, url+"/crew.html")
	w.sees("in range, all sent")
	w.both("crew-clock-before")
	w.press("Ignition ±0.3 s")
	w.sees("after ignition")
	w.press("Burnout ±0.4 s, 0.23 s taken off")
	w.sees("Take back")
	w.both("crew-clock")
	w.press("Search")
	w.choose("This phone goes with", "Ines")
	w.sees("To where A1 begins")
	w.press("Follow me")
	w.stroll(stepsAlong(time.Now().Add(-20*time.Minute), plan.Searchers[0].Legs[:3]))
	w.both("crew-lead")
	for _, part := range []string{"My blocks", "What the others do", "What is left, and when to stop", "Somebody comes, goes or is late", "My way", "Places and cautions"} {
		w.press(part)
		w.both("crew-" + strings.ToLower(strings.Fields(part)[0]))
		w.press(part)
	}
	w.press("Saw")
	w.both("crew-saw")
	w.press("What it changes")
	w.sees("Dashed")
	w.both("crew-saw-changes")
	w.press("Log it")
	w.press("Find")
	w.both("crew-find")
	w.press("I have found it")
	w.sees("What did it look like?")
	w.both("crew-found")
	w.press("Crew")
	w.both("crew-people")
	assert.Empty(t, w.faults())
}
