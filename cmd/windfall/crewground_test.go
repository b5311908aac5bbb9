package main

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/maptile"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A picture that is served as the base map lies under the crew's map, with whose
// it is.
func TestCrewGround(t *testing.T) {
	dir := garzaCopy(t)
	inventBase(t, filepath.Join(dir, "garza.png"))
	url, _ := served(t, "--map", filepath.Join(dir, "garza.png"), filepath.Join(dir, "flight.yaml"))
	w := crewTab(t, url+"/crew.html")
	w.until(`document.querySelector(".leaflet-under-pane img")?.naturalWidth > 400`)
	w.sees("garza.png")
	newScreens(w).check("crew-ground")
	assert.Empty(t, w.faults())
}

// clubTiles is a base map in tiles around the example's pad, all of one picture.
func clubTiles(t *testing.T, path string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	defer db.Close()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 256, 256))))
	for _, q := range []string{"CREATE TABLE metadata (name text, value text)",
		"CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob)",
		"INSERT INTO metadata VALUES ('format', 'png'), ('attribution', 'club survey'), ('minzoom', '12'), ('maxzoom', '17')"} {
		_, err = db.Exec(q)
		require.NoError(t, err)
	}
	for z := maptile.Zoom(12); z <= 17; z++ {
		c := maptile.At(orb.Point{-4.921, 41.905}, z)
		for dx := -8; dx <= 8; dx++ {
			for dy := -8; dy <= 8; dy++ {
				_, err = db.Exec("INSERT INTO tiles VALUES (?, ?, ?, ?)", z, int(c.X)+dx, 1<<z-1-int(c.Y)-dy, b.Bytes())
				require.NoError(t, err)
			}
		}
	}
}

// The base map under the whole plan is on a phone that has only been opened: out
// of range it is there at every scale.
func TestCrewTilesAhead(t *testing.T) {
	dir, plan := planned(t)
	clubTiles(t, filepath.Join(dir, "club.mbtiles"))
	url, _ := served(t, "--map", filepath.Join(dir, "club.mbtiles"), filepath.Join(dir, "flight.yaml"))
	w := crewTab(t, url+"/crew.html")
	w.sees("club survey")
	var want []string
	for _, r := range plan.Searchers {
		for _, g := range r.Legs {
			c := maptile.At(orb.Point{g.From.Lon, g.From.Lat}, 17)
			want = append(want, fmt.Sprintf("/map/17/%d/%d", c.X, c.Y))
		}
	}
	slices.Sort(want)
	text, err := json.Marshal(slices.Compact(want))
	require.NoError(t, err)
	require.Greater(t, len(slices.Compact(want)), 8)
	require.Eventually(t, func() bool {
		return eval[bool](w, `caches.open("windfall-map").then((c) => c.keys()).then((k) => `+string(text)+`.every((u) => k.some((r) => r.url.endsWith(u))))`)
	}, time.Minute, 200*time.Millisecond)
	assert.LessOrEqual(t, eval[int](w, `caches.open("windfall-map").then((c) => c.keys()).then((k) => k.length)`), 400)
	w.offline(true)
	w.do(chromedp.Reload())
	w.sees("out of range")
	assert.True(t, eval[bool](w, `Promise.all(`+string(text)+`.map((u) => fetch(u).then((r) => r.ok))).then((all) => all.every(Boolean))`))
	assert.Empty(t, awaited(w.faults()))
}
