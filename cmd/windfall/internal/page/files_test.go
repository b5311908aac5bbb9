package page

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/flightfile"
)

func TestUpload(t *testing.T) {
	c := newClient(t)
	status, b := c.ask("PUT", "/files/wind%20day.csv", []byte("height,from,speed\n"))
	assert.Equal(t, 200, status, "%s", b)
	assert.Equal(t, "height,from,speed\n", c.file("wind day.csv"))
	status, _ = c.ask("PUT", "/files/wind%20day.csv", []byte("height,from,speed\n"))
	assert.Equal(t, 200, status, "the same again")
	status, b = c.ask("PUT", "/files/wind%20day.csv", []byte("other"))
	assert.Equal(t, 409, status)
	assert.Contains(t, message(b), "another name")
	for _, name := range []string{"flight.yaml", ".csv", "a.exe", "a%00.csv", strings.Repeat("a", 200) + ".csv", "%3Cb%3E.csv"} {
		status, b := c.ask("PUT", "/files/"+name, []byte("x"))
		assert.Equal(t, 400, status, "%s: %s", name, b)
	}
	assert.Equal(t, 400, visit(c.page, "PUT", "http://page.test/api/v1/files/..%2Fx.csv").Code)
	status, b = c.ask("PUT", "/files/big.csv", []byte("x"), func(r *http.Request) { r.ContentLength = 100 << 20 })
	assert.Equal(t, 413, status)
	assert.Contains(t, message(b), "big.csv has 100 MB; a file may have 32 MB")
	assert.NoFileExists(t, filepath.Join(c.dir, "big.csv"))
	assert.Equal(t, flightText, c.file("flight.yaml"))
}

func TestDownload(t *testing.T) {
	c := newClient(t)
	require.NoError(t, os.Mkdir(filepath.Join(c.dir, "out"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, "out", "landing.kml"), []byte("<kml/>"), 0o644))
	require.NoError(t, os.Symlink("/etc/passwd", filepath.Join(c.dir, "link.csv")))
	assert.Contains(t, get[filesDoc](c, "GET", "/files", nil).Files, "out/landing.kml")
	w := visit(c.page, "GET", "http://page.test/api/v1/files/out/landing.kml")
	assert.Equal(t, "<kml/>", w.Body.String())
	assert.Equal(t, "attachment; filename=landing.kml", w.Header().Get("Content-Disposition"))
	for _, name := range []string{"nothing", "out", "..%2f..%2fetc%2fpasswd", "link.csv"} {
		assert.Equal(t, 404, visit(c.page, "GET", "http://page.test/api/v1/files/"+name).Code, name)
	}
}

// The form has every key of a flight file, and no other.
func TestFormHasEveryKey(t *testing.T) {
	doc, err := formKeys()
	require.NoError(t, err)
	has := map[string]bool{}
	for _, g := range doc.Groups {
		for _, f := range g.Fields {
			k := flightfile.KeyAt(g.path(f.Key))
			if assert.NotNil(t, k, "%s %s is no key", g.Title, f.Key) {
				has[k.Path] = true
			}
			assert.NotEmpty(t, f.Label, f.Key)
		}
	}
	for _, k := range flightfile.Keys {
		if strings.HasPrefix(k.Path, "wind.levels[].") || isParent(k.Path) {
			continue // the page's levels of wind; what holds other keys
		}
		assert.True(t, has[k.Path], "the form has no %s", k.Path)
	}
}

func isParent(path string) bool {
	for _, k := range flightfile.Keys {
		if strings.HasPrefix(k.Path, path+".") || strings.HasPrefix(k.Path, path+"[") {
			return true
		}
	}
	return false
}

func TestGrid(t *testing.T) {
	g := gridOf(-4.93, 41.90, -4.91, 41.912)
	assert.Equal(t, "UTM 30N", g.Name)
	assert.Equal(t, "200 m", g.Step)
	assert.NotEmpty(t, g.Lines)
	for _, l := range g.Lines {
		assert.Len(t, l.At, traced+1)
	}
	assert.Equal(t, "British National Grid", gridOf(-2.01, 52, -2, 52.01).Name)
	assert.Empty(t, gridOf(-180, -80, 180, 80).Lines)
	assert.Empty(t, gridOf(1, 1, 1, 1).Lines)
}

func picture(t *testing.T) []byte {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewRGBA(image.Rect(0, 0, 4, 2))))
	return b.Bytes()
}

func TestMBTiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "map.mbtiles")
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	tile := picture(t)
	for _, q := range []string{"CREATE TABLE metadata (name text, value text)", "CREATE TABLE tiles (zoom_level integer, tile_column integer, tile_row integer, tile_data blob)",
		"INSERT INTO metadata VALUES ('format', 'png'), ('attribution', 'survey'), ('maxzoom', '2')"} {
		_, err = db.Exec(q)
		require.NoError(t, err)
	}
	_, err = db.Exec("INSERT INTO tiles VALUES (2, 1, 3, ?)", tile) // rows count from the south: y 0 from the north
	require.NoError(t, err)
	require.NoError(t, db.Close())
	c := newClient(t, func(o *Options) { o.Base, o.Credit = path, "ours" })
	assert.Equal(t, mapDoc{Kind: "tiles", URL: tileURL, Attribution: "ours", MaxZoom: 2}, get[mapDoc](c, "GET", "/map", nil))
	assert.Equal(t, tile, visit(c.page, "GET", "http://page.test/map/2/1/0").Body.Bytes())
	assert.Equal(t, 404, visit(c.page, "GET", "http://page.test/map/2/1/3").Code)
}

func TestPictureAsMap(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "field.png")
	require.NoError(t, os.WriteFile(path, picture(t), 0o644))
	world := func(text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "field.pgw"), []byte(text), 0o644))
	}
	_, err := openBase(path, "")
	assert.ErrorContains(t, err, "has no world file beside it, such as field.pgw")
	world("0.001\n0\n0\n-0.002\n-4.9495\n41.919\n")
	c := newClient(t, func(o *Options) { o.Base = path })
	doc := get[mapDoc](c, "GET", "/map", nil)
	assert.InDelta(t, 41.916, doc.Bounds[0][0], 1e-9) // centre of the first pixel, half of one more, 2 down
	assert.InDelta(t, -4.95, doc.Bounds[0][1], 1e-9)
	assert.InDelta(t, 41.92, doc.Bounds[1][0], 1e-9)
	assert.InDelta(t, -4.946, doc.Bounds[1][1], 1e-9)
	assert.Equal(t, 200, visit(c.page, "GET", "http://page.test/map/picture").Code)
	for text, says := range map[string]string{"1\n0\n0\n-1\n350000\n4640000\n": "not in degrees", "1\n2\n": "has 2 numbers", "1\n0.2\n0\n-1\n0\n0\n": "north up", "a\n0\n0\n-1\n0\n0\n": "no number"} {
		world(text)
		_, err := openBase(path, "")
		assert.ErrorContains(t, err, says)
	}
}

func TestOnlineMap(t *testing.T) {
	c := newClient(t, func(o *Options) { o.Base = "https://tiles.example.org/a/{z}/{x}/{y}.png?key=1" })
	assert.Equal(t, "map from tiles.example.org", get[mapDoc](c, "GET", "/map", nil).Attribution)
	assert.Contains(t, visit(c.page, "GET", "http://page.test/").Header().Get("Content-Security-Policy"), "img-src 'self' data: https://tiles.example.org;")
	for _, bad := range []string{"ftp://x/{z}/{x}/{y}", "https://x/{z}/{x}", "https://a b/{z}/{x}/{y}", "map.tif", "gone.mbtiles", "gone.pmtiles", "https://x;script-src/{z}/{x}/{y}"} {
		_, err := openBase(bad, "")
		assert.Error(t, err, bad)
	}
}

// A job runs the program's own command line; its document comes out byte for
// byte.
func TestJobs(t *testing.T) {
	gate := make(chan struct{})
	c := newClient(t, func(o *Options) {
		o.Run = func(ctx context.Context, k Command) error {
			k.Progress("flying", 1, 4)
			select {
			case <-gate:
			case <-ctx.Done():
				return ctx.Err()
			}
			if k.Args[0] == "search" {
				return errors.New("it is dark")
			}
			fmt.Fprintf(k.Out, `{"files":[%q],"args":%q}`+"\n", filepath.Join(filepath.Dir(k.Args[1]), "out", "landing.kml"), strings.Join(k.Args, " "))
			return nil
		}
	})
	first := get[jobDoc](c, "POST", "/jobs", object{"command": "predict"})
	assert.Equal(t, "windfall predict "+c.page.opt.Flight, first.Line)
	second := get[jobDoc](c, "POST", "/jobs", object{"command": "predict"})
	get[jobDoc](c, "DELETE", "/jobs/"+second.ID, nil)
	third := get[jobDoc](c, "POST", "/jobs", object{"command": "search"})
	status, _ := c.ask("GET", "/jobs/"+first.ID+"/result", nil)
	assert.Equal(t, http.StatusConflict, status)
	close(gate)
	wait := func(id string) jobDoc {
		require.Eventually(t, func() bool { x, _ := c.page.jobs.find(id); return x.ended() }, 10*time.Second, time.Millisecond)
		return get[jobDoc](c, "GET", "/jobs/"+id, nil)
	}
	d := wait(first.ID)
	assert.Equal(t, "done", d.State)
	assert.Equal(t, []string{"out/landing.kml"}, d.Files)
	assert.Equal(t, "cancelled", wait(second.ID).State)
	d = wait(third.ID)
	assert.Equal(t, "failed", d.State)
	assert.Equal(t, "it is dark", d.Error)
	_, b := c.ask("GET", "/jobs/"+first.ID+"/result", nil)
	assert.True(t, bytes.HasSuffix(b, []byte("}\n")))
	w := visit(c.page, "GET", "http://page.test/api/v1/jobs/"+first.ID+"/events")
	assert.Equal(t, "text/event-stream", w.Header().Get("Content-Type"))
	assert.Contains(t, w.Body.String(), "event: end\ndata: {")
	status, _ = c.ask("GET", "/commands", nil)
	assert.Equal(t, 200, status)
	d = get[jobDoc](c, "POST", "/jobs", object{"command": "observers", "file": "field.geojson"})
	assert.Contains(t, d.Line, "--candidates "+filepath.Join(c.dir, "field.geojson"))
	for _, bad := range []object{{"command": "observers"}, {"command": "observers", "file": "../x"}, {"command": "predict", "file": "field.geojson"}} {
		status, _ := c.ask("POST", "/jobs", bad)
		assert.Equal(t, 400, status, bad)
	}
}

func TestTooManyJobs(t *testing.T) {
	c := newClient(t, func(o *Options) {
		o.Run = func(ctx context.Context, _ Command) error { <-ctx.Done(); return ctx.Err() }
	})
	for range mostWaiting {
		get[jobDoc](c, "POST", "/jobs", object{"command": "predict"})
	}
	status, _ := c.ask("POST", "/jobs", object{"command": "predict"})
	assert.Equal(t, http.StatusTooManyRequests, status)
}

// The server stops when told to, and tells those who follow it.
func TestServeAndStop(t *testing.T) {
	c := newClient(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- c.page.Serve(ctx, l) }()
	r, err := http.Get("http://" + l.Addr().String() + "/api/v1/events")
	require.NoError(t, err)
	defer r.Body.Close()
	read := func(want string) {
		b := make([]byte, 4096)
		all := ""
		for !strings.Contains(all, want) {
			n, err := r.Body.Read(b)
			all += string(b[:n])
			require.True(t, err == nil || strings.Contains(all, want), "%v after %s", err, all)
		}
	}
	read("event: flight")
	require.NoError(t, os.WriteFile(filepath.Join(c.dir, "flight.yaml"), []byte(flightText+"# more\n"), 0o644))
	read(hashOf([]byte(flightText + "# more\n")))
	stop()
	read("event: stopping")
	assert.NoError(t, <-done)
}

// A save that has begun is done when the program is stopped in the middle of it:
// the file is whole, the old one or the new.
func TestStopWhileSaving(t *testing.T) {
	c := newClient(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- c.page.Serve(ctx, l) }()
	draft, err := json.Marshal(c.draft(object{"key": "rail.lean", "value": `"6 deg"`}))
	require.NoError(t, err)
	body, in := io.Pipe()
	r, err := http.NewRequest("PUT", "http://"+l.Addr().String()+"/api/v1/flight", body)
	require.NoError(t, err)
	r.Header.Set("Expect", "100-continue") // the body is sent once the server reads it
	answer := make(chan int, 1)
	go func() {
		res, err := (&http.Transport{ExpectContinueTimeout: time.Minute}).RoundTrip(r)
		if !assert.NoError(t, err) {
			answer <- 0
			return
		}
		res.Body.Close()
		answer <- res.StatusCode
	}()
	in.Write(draft[:20])
	stop()
	time.Sleep(50 * time.Millisecond) // whatever comes first, the file must be whole
	in.Write(draft[20:])
	in.Close()
	assert.Equal(t, 200, <-answer)
	assert.NoError(t, <-done)
	assert.Equal(t, strings.Replace(flightText, "lean: 3 deg", "lean: 6 deg", 1), c.file("flight.yaml"))
}

func TestLineOf(t *testing.T) {
	assert.Equal(t, `windfall predict 'my flight/flight.yaml' --out 'it'\''s'`, lineOf([]string{"predict", "my flight/flight.yaml", "--json", "--out", "it's"}))
}

func TestShapeLines(t *testing.T) {
	b, err := shapeLines(json.RawMessage(`{"type":"FeatureCollection","name":"ours","features":[{"a": 1},{"b": 2}]}`))
	require.NoError(t, err)
	assert.Equal(t, "{\"type\": \"FeatureCollection\", \"name\": \"ours\", \"features\": [\n {\"a\":1},\n {\"b\":2}\n]}\n", string(b))
	for _, bad := range []string{`[]`, `{"features": 1}`, `1`} {
		_, err := shapeLines(json.RawMessage(bad))
		assert.Error(t, err, bad)
	}
}
