//go:build unix

package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// serving is the program as it serves a page at a port.
type serving struct {
	cmd  *exec.Cmd
	url  string
	code string
}

// serve starts the program on a port and waits until it says where it serves.
func (b *bench) serve(port int) *serving {
	s := &serving{cmd: exec.Command(filepath.Join(b.bin, "windfall"), "serve", "flight.yaml", "--no-browser", "--listen",
		fmt.Sprintf("127.0.0.1:%d", port))}
	s.cmd.Dir = b.dir
	s.cmd.Env = []string{"PATH=/usr/bin:/bin", "HOME=" + b.dir, "XDG_DATA_HOME=" + b.dir, "TZ=UTC",
		"WINDFALL_LOGBOOK=" + filepath.Join(b.dir, "logbook.db")}
	out, err := s.cmd.StdoutPipe()
	require.NoError(b.t, err)
	require.NoError(b.t, s.cmd.Start())
	lines := bufio.NewScanner(out)
	for s.code == "" && lines.Scan() {
		if rest, ok := strings.CutPrefix(lines.Text(), "page: "); ok {
			s.url = rest[:strings.Index(rest, "/host/")]
		}
		if _, rest, ok := strings.Cut(lines.Text(), "join code "); ok {
			s.code = rest
		}
	}
	require.NotEmpty(b.t, s.code)
	go io.Copy(io.Discard, out)
	return s
}

func (s *serving) kill() {
	s.cmd.Process.Signal(syscall.SIGKILL)
	s.cmd.Wait() // by a signal, as asked
}

func freePort(t *testing.T) int {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

// fieldPhone is a phone that sends entries until each is answered for.
type fieldPhone struct {
	name  string
	http  *http.Client
	said  int
	queue []map[string]any
	acked []string
}

func newFieldPhone(t *testing.T, s *serving, name string) *fieldPhone {
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	p := &fieldPhone{name: name, http: &http.Client{Jar: jar, Timeout: 20 * time.Second}}
	r, err := p.http.PostForm(s.url+"/join", url.Values{"name": {name}, "code": {s.code}})
	require.NoError(t, err)
	r.Body.Close()
	return p
}

// send sends the queue; what is answered for leaves it.
func (p *fieldPhone) send(at string) error {
	body, err := json.Marshal(map[string]any{"now": time.Now(), "entries": p.queue})
	if err != nil {
		return err
	}
	r, err := p.http.Post(at+"/api/v1/entries", "application/json", bytes.NewReader(body))
	if err != nil {
		return err
	}
	defer r.Body.Close()
	var d struct {
		Message string
		Results []struct{ Key, State, Message string }
	}
	if err := json.NewDecoder(r.Body).Decode(&d); err != nil {
		return err
	}
	if r.StatusCode != 200 {
		return fmt.Errorf("status %d: %s", r.StatusCode, d.Message)
	}
	for _, x := range d.Results {
		if x.State != "logged" && x.State != "known" {
			return fmt.Errorf("%s: %s", x.State, x.Message)
		}
		p.acked = append(p.acked, x.Key)
	}
	p.queue = nil
	return nil
}

func (p *fieldPhone) see() {
	p.said++
	p.queue = append(p.queue, map[string]any{"key": fmt.Sprintf("%s-key-%06d", p.name, p.said), "at": time.Now(),
		"kind": "looked", "looked": "open"})
}

// TestKilledPage kills the page while phones log without pause, and starts it
// again: nothing that was answered for is lost, nothing is there twice, and the
// phones go on without coming in anew.
func TestKilledPage(t *testing.T) {
	if testing.Short() {
		t.Skip("starts the program many times")
	}
	rounds := 3
	if os.Getenv("WINDFALL_SLOW") != "" {
		rounds = 40
	}
	b := newBench(t)
	port := freePort(t)
	s := b.serve(port)
	var phones []*fieldPhone
	for i := range 4 {
		phones = append(phones, newFieldPhone(t, s, fmt.Sprint("phone", i)))
	}
	for range rounds {
		var all sync.WaitGroup
		var answered atomic.Int64
		for _, p := range phones {
			all.Go(func() {
				for {
					p.see()
					if p.send(s.url) != nil {
						return // the page was killed: what was sent stays in the queue
					}
					answered.Add(1)
				}
			})
		}
		require.Eventually(t, func() bool { return answered.Load() > 8 }, time.Minute, time.Millisecond)
		time.Sleep(time.Duration(rand.IntN(300)) * time.Millisecond)
		s.kill()
		all.Wait()
		s = b.serve(port)
	}
	want := 0
	for _, p := range phones {
		require.NoError(t, p.send(s.url), "what was not answered for is sent again")
		assert.Len(t, p.acked, p.said)
		want += p.said
	}
	s.kill()
	code, out, errs, _ := b.run("log --json")
	require.Zero(t, code, errs)
	assert.Equal(t, want, strings.Count(out, `"looked": "open"`), "each once")
	code, out, errs, _ = b.run("log --check")
	assert.Zero(t, code, out+errs)
	t.Logf("%d kills, %d entries answered for, none lost", rounds, want)
}

// recordedWalk is a walk up and down beside the pad as a phone records it and as
// its file has it: with a stop of the recording, and a fix ten kilometres away.
func recordedWalk() (fixes []map[string]any, gpx string) {
	at := time.Date(2026, 4, 18, 9, 30, 0, 0, time.UTC)
	var b strings.Builder
	b.WriteString(`<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>`)
	for i := range 180 {
		s := 5 * i
		if i >= 70 { // the screen was off for three minutes
			s += 180
		}
		lat, lon := fmt.Sprintf("%.7f", 41.9065+4e-5*float64(i%60)), fmt.Sprintf("%.7f", -4.9205+3e-4*float64(i/60))
		if i == 100 {
			lat = "42.0000000"
		}
		if i == 70 {
			b.WriteString("</trkseg><trkseg>")
		}
		when := at.Add(time.Duration(s) * time.Second)
		fmt.Fprintf(&b, `<trkpt lat="%s" lon="%s"><time>%s</time></trkpt>`, lat, lon, when.Format(time.RFC3339))
		y, _ := strconv.ParseFloat(lat, 64) // both were written as numbers above
		x, _ := strconv.ParseFloat(lon, 64)
		fixes = append(fixes, map[string]any{"at": when, "lat": y, "lon": x, "accuracy_m": 5, "gap": i == 70})
	}
	b.WriteString("</trkseg></trk></gpx>")
	return fixes, b.String()
}

// A walk that a phone records gives the map that the file of the same walk
// gives, byte for byte.
func TestRecordedAsLoaded(t *testing.T) {
	if testing.Short() {
		t.Skip("makes four maps")
	}
	fixes, gpx := recordedWalk()
	made := func(log func(b *bench)) (string, map[string]string) {
		b := newBench(t)
		require.NoError(t, os.Remove(filepath.Join(b.dir, "logbook.db"))) // without the bench's own walk
		require.NoError(t, os.RemoveAll(filepath.Join(b.dir, "out")))
		log(b)
		code, _, errs, _ := b.run("locate flight.yaml --runs 500")
		require.Zero(t, code, errs)
		files := b.hashes()
		code, out, errs, _ := b.run("locate flight.yaml --runs 500 --json")
		require.Zero(t, code, errs)
		return out, files
	}
	loaded, loadedFiles := made(func(b *bench) {
		b.lay(map[string]string{"mine.gpx": gpx})
		code, out, errs, _ := b.run("searched flight.yaml mine.gpx --by east --out elsewhere")
		require.Zero(t, code, out+errs)
		assert.NotContains(t, out, "touches no likely ground")
		assert.Contains(t, out, "1 fix that jumps away and back left out")
		require.NoError(t, os.RemoveAll(filepath.Join(b.dir, "elsewhere")))
	})
	recorded, recordedFiles := made(func(b *bench) {
		s := b.serve(freePort(t))
		defer s.kill()
		p := newFieldPhone(t, s, "Ana")
		for i := 0; i < len(fixes); i += 50 {
			p.queue = append(p.queue, map[string]any{"key": fmt.Sprint("piece-key-", i), "at": time.Now(), "kind": "track",
				"recording": "walk-0001", "searcher": "east", "fixes": fixes[i:min(i+50, len(fixes))]})
		}
		require.NoError(t, p.send(s.url))
	})
	assert.Equal(t, loaded, recorded)
	assert.NotEmpty(t, loadedFiles)
	assert.Equal(t, loadedFiles, recordedFiles)
}
