package main

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/situation"
	"windfall/search"
)

//go:embed testdata/browser/steps.js
var stepsJS string

// step is a fix of a walk.
type step struct {
	at       time.Time
	lat, lon float64
}

// stepsAlong makes the fixes of a walk through places of a plan: a fix every 5 s at
// 1.2 m/s, beside the line by as many metres as a receiver wanders.
func stepsAlong(at time.Time, legs []search.Leg) (out []step) {
	for _, g := range legs {
		east, north := g.To.East-g.From.East, g.To.North-g.From.North
		m := math.Hypot(east, north)
		n := max(1, int(math.Round(m/6)))
		for k := range n {
			t := float64(k) / float64(n)
			off := 2 * math.Sin(float64(len(out))) / 111e3
			out = append(out, step{at, g.From.Lat + t*(g.To.Lat-g.From.Lat) + off, g.From.Lon + t*(g.To.Lon-g.From.Lon) + off})
			at = at.Add(time.Duration(m / float64(n) / 1.2 * 1e9)).Truncate(time.Millisecond)
		}
	}
	last := legs[len(legs)-1].To
	return append(out, step{at, last.Lat, last.Lon})
}

// blockLegs are a searcher's legs from the first to the last of a block.
func blockLegs(p search.Plan, who, block string) (out []search.Leg) {
	for _, r := range p.Searchers {
		for _, g := range r.Legs {
			if r.Name == who && g.Block == block {
				out = append(out, g)
			}
		}
	}
	return out
}

// laneWords are the page's for a lane of a block, or for a rectangle's course.
func laneWords(p search.Plan, block string, lane int) string {
	for _, r := range p.Searchers {
		for _, b := range r.Blocks {
			if b.Name == block {
				return fmt.Sprintf("%s, %s %d of %d", block, map[bool]string{true: "course", false: "lane"}[b.Kind == search.Rectangle],
					lane, b.Lanes)
			}
		}
	}
	return "no " + block
}

// gpxOf writes fixes as another receiver would.
func gpxOf(pieces ...[]step) string {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0"?><gpx version="1.1" creator="receiver" xmlns="http://www.topografix.com/GPX/1/1"><trk>`)
	for _, ss := range pieces {
		b.WriteString("<trkseg>")
		for _, s := range ss {
			fmt.Fprintf(&b, `<trkpt lat="%.7f" lon="%.7f"><time>%s</time></trkpt>`, s.lat, s.lon, s.at.UTC().Format("2006-01-02T15:04:05.000Z"))
		}
		b.WriteString("</trkseg>")
	}
	b.WriteString("</trk></gpx>\n")
	return b.String()
}

// stroll moves a window's position through fixes.
func (w *tab) stroll(ss []step) {
	w.t.Helper()
	rows := make([][4]float64, len(ss))
	for i, s := range ss {
		rows[i] = [4]float64{float64(s.at.UnixMilli()), s.lat, s.lon, 5}
	}
	text, err := json.Marshal(rows)
	require.NoError(w.t, err)
	require.Positive(w.t, eval[int](w, fmt.Sprintf("steps(%s)", text)), "nobody follows the position")
}

// withSteps gives the window a position and a clock that stroll moves.
func (w *tab) withSteps() *tab {
	_, err := chromedp.Call(w.ctx, cdppage.AddScriptToEvaluateOnNewDocument,
		cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: stepsJS})
	require.NoError(w.t, err)
	return w
}

// atNight gives the window a device that is set for the night.
func (w *tab) atNight(night bool) {
	scheme := "light"
	if night {
		scheme = "dark"
	}
	_, err := chromedp.Call(w.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	require.NoError(w.t, err)
}

// planText is the example's plan, made once for all tests.
var planText struct {
	sync.Mutex
	json []byte
}

// planned is a copy of the example's folder with its plan in it, and the plan.
func planned(t *testing.T) (dir string, plan *search.Plan) {
	dir = garzaCopy(t)
	file := filepath.Join(dir, "out", "plan.json")
	planText.Lock()
	defer planText.Unlock()
	if planText.json == nil {
		commanded(t, "search", filepath.Join(dir, "flight.yaml"))
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		planText.json = text
	}
	require.NoError(t, os.MkdirAll(filepath.Dir(file), 0o755))
	require.NoError(t, os.WriteFile(file, planText.json, 0o644))
	var k situation.Kept
	require.NoError(t, json.Unmarshal(planText.json, &k))
	return dir, k.Plan
}

// A page without a server leads one searcher from the pad through their lanes,
// ticks them, keeps that over a reload and gives the way back; logged, it leaves
// the same map as the track of another receiver.
func TestSearchPage(t *testing.T) {
	dir, plan := planned(t)
	flight := filepath.Join(dir, "flight.yaml")
	commanded(t, "export", flight, "--page", "--for", "ines")
	file := filepath.Join(dir, "out", "search-ines.html")
	w := unopened(t, phone).withSteps()
	w.do(chromedp.Navigate("file://" + file))
	w.sees("To where A1 begins")
	s := newScreens(w)
	s.check("page-first")
	w.press("Follow me")
	var legs []search.Leg // to A1 and through it
	for _, g := range plan.Searchers[0].Legs {
		if len(legs) > 0 && legs[len(legs)-1].Block == "A1" && g.Block != "A1" {
			break
		}
		legs = append(legs, g)
	}
	lanes := plan.Searchers[0].Blocks[0].Lanes
	way := stepsAlong(time.Date(2026, 3, 14, 11, 0, 0, 0, time.UTC), legs)
	half := len(stepsAlong(time.Time{}, legs[:len(legs)-len(blockLegs(*plan, "Ines", "A1"))])) + 5
	w.stroll(way[:half])
	w.sees(laneWords(*plan, "A1", 1))
	w.sees("To its end")
	assert.Regexp(t, `\d\d\d°`, eval[string](w, `document.querySelector(".figures").innerText`))
	s.check("page-lane")
	w.stroll(way[half:])
	w.until(fmt.Sprintf(`/A1 (lane|course) %d walked/.test(document.body.innerText)`, lanes))
	w.sees("To where A2 begins")
	s.check("page-ticked")
	for _, part := range []string{"Blocks", "Track", "Notes"} {
		w.press(part)
		s.check("page-" + strings.ToLower(part))
	}
	w.do(chromedp.Reload())
	w.sees("To where A2 begins")
	w.press("Blocks")
	w.sees(fmt.Sprintf("A1: %d of %d", lanes, lanes))
	w.press("Track")
	rest := stepsAlong(way[len(way)-1].at.Add(4*time.Minute), []search.Leg{plan.Searchers[0].Legs[len(legs)]})
	w.stroll(rest)
	w.sees("Gap of 4 min")
	w.sees("the page was closed")
	s.check("page-gap")
	w.press("Save the track as GPX")
	w.until("window.saved")
	assert.Empty(t, w.faults())

	mine, theirs := filepath.Join(t.TempDir(), "mine.gpx"), filepath.Join(t.TempDir(), "theirs.gpx")
	require.NoError(t, os.WriteFile(mine, []byte(eval[string](w, "saved")), 0o644))
	require.NoError(t, os.WriteFile(theirs, []byte(gpxOf(way, rest)), 0o644))
	var left [2]string
	for i, track := range []string{mine, theirs} {
		out := filepath.Join(t.TempDir(), "out")
		commanded(t, "searched", flight, track, "--by", "Ines", "--out", out)
		text, err := os.ReadFile(filepath.Join(out, "landing.geojson"))
		require.NoError(t, err)
		left[i] = string(text)
	}
	assert.Equal(t, left[1], left[0], "the page's track leaves the same map")
}

// No address in the page is one that a browser would ask for, and its policy
// forbids the rest.
func TestSearchPageAlone(t *testing.T) {
	dir, _ := planned(t)
	commanded(t, "export", filepath.Join(dir, "flight.yaml"), "--page")
	file := filepath.Join(dir, "out", "search.html")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	loads := regexp.MustCompile(`(?i)(src|srcset|action|data|poster)\s*=\s*["']?\s*(https?:)?//|url\(\s*["']?(https?:)?//|@import|<(link|iframe|object|embed)\b`)
	assert.Empty(t, loads.FindAllString(string(text), -1))
	assert.True(t, strings.Contains(string(text), "default-src 'none'"))
	w := unopened(t, phone)
	w.do(chromedp.Navigate("file://" + file))
	w.sees("To where A1 begins")
	assert.Empty(t, eval[[]string](w, `performance.getEntriesByType("resource").map((e) => e.name)`))
	assert.Empty(t, w.faults())
}

// The flier's own map lies under the plan, in the page itself; whoever's page it
// is chooses among all who search, and finds their own ticks again.
func TestSearchPageGround(t *testing.T) {
	dir, _ := planned(t)
	base := filepath.Join(dir, "garza.png")
	inventBase(t, base)
	flight := filepath.Join(dir, "flight.yaml")
	commanded(t, "export", flight, "--page", "--base", base, "--base-credit", "Llano survey, invented")
	file := filepath.Join(dir, "out", "search.html")
	w := unopened(t, phone).withSteps()
	w.do(chromedp.Navigate("file://" + file))
	w.sees("To where A1 begins")
	w.until(`document.querySelector(".leaflet-under-pane img")?.naturalWidth > 400`)
	w.sees("Llano survey, invented")
	assert.Empty(t, eval[[]string](w, `performance.getEntriesByType("resource").map((e) => e.name).filter((n) => !n.startsWith("data:"))`))
	s := newScreens(w)
	s.check("page-ground")
	w.choose("Searcher", "Tomas")
	w.sees("To where B1 begins")
	w.press("Blocks")
	w.sees("Tomas, ")
	w.press("Lane 1 of B1: not walked yet")
	w.sees("B1: 1 of")
	w.choose("Searcher", "Ines")
	w.sees("A1: 0 of")
	w.do(chromedp.Reload())
	w.sees("To where A1 begins")
	w.choose("Searcher", "Tomas")
	w.press("Blocks")
	w.sees("B1: 1 of")
	assert.Empty(t, w.faults())
	info, err := os.Stat(file)
	require.NoError(t, err)
	t.Logf("%d kB with the map", info.Size()/1000)
	assert.Less(t, info.Size(), int64(1.5e6))

	commanded(t, "export", flight, "--page", "--for", "Tomas", "--base", base)
	w = unopened(t, phone)
	w.do(chromedp.Navigate("file://" + filepath.Join(dir, "out", "search-tomas.html")))
	w.sees("To where B1 begins")
	w.until(`document.querySelector(".leaflet-under-pane img")?.naturalWidth > 400`)
	assert.Empty(t, w.faults())
}
