package page

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"windfall/cmd/windfall/internal/field"
)

// shared is a page on loopback that phones come in to.
type shared struct {
	t    testing.TB
	page *Server
	url  string
	stop func()
}

// share serves a page until the test ends.
func share(t testing.TB, dir string, change ...func(*Options)) *shared {
	t.Helper()
	path := filepath.Join(dir, "flight.yaml")
	if _, err := os.Stat(path); err != nil {
		require.NoError(t, os.WriteFile(path, []byte(flightText+searchersText), 0o644))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "field.geojson"), []byte(fieldText), 0o644))
	}
	at, began := time.Date(2026, 4, 18, 10, 0, 0, 0, time.UTC), time.Now()
	o := Options{Flight: path, Logbook: filepath.Join(dir, "logbook.db"), Shared: true, Sessions: filepath.Join(dir, "sessions.json"),
		Now: func() time.Time { return at.Add(time.Since(began)) },
		Run: func(context.Context, Command) error { return nil }}
	for _, c := range change {
		c(&o)
	}
	s, err := New(o)
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Serve(ctx, l) }()
	out := &shared{t: t, page: s, url: "http://" + l.Addr().String()}
	out.stop = sync.OnceFunc(func() {
		cancel()
		assert.NoError(t, <-done)
		s.Close()
	})
	t.Cleanup(out.stop)
	return out
}

// phone is a browser with its cookies.
type phone struct {
	t    testing.TB
	url  string
	name string
	http *http.Client
	now  func() time.Time
	said int
}

func (s *shared) phone(name string) *phone {
	jar, err := cookiejar.New(nil)
	require.NoError(s.t, err)
	return &phone{t: s.t, url: s.url, name: name, http: &http.Client{Jar: jar, Timeout: time.Minute}, now: s.page.opt.Now}
}

// in is a phone that has come in.
func (s *shared) in(name string) *phone {
	p := s.phone(name)
	r, err := p.http.PostForm(p.url+"/join", url.Values{"name": {name}, "code": {s.page.JoinCode()}})
	require.NoError(s.t, err)
	r.Body.Close()
	require.NotEqual(s.t, "/join", r.Request.URL.Path, "it came in")
	return p
}

// laptop is the host's browser.
func (s *shared) laptop() *phone {
	p := s.phone("laptop")
	r, err := p.http.Get(p.url + s.page.HostPath())
	require.NoError(s.t, err)
	r.Body.Close()
	return p
}

// ask sends a request and reads the answer into an object.
func (p *phone) ask(method, path string, body, into any) int {
	p.t.Helper()
	text, err := json.Marshal(body)
	require.NoError(p.t, err)
	r, err := http.NewRequest(method, p.url+"/api/v1"+path, bytes.NewReader(text))
	require.NoError(p.t, err)
	a, err := p.http.Do(r)
	require.NoError(p.t, err, "%s %s", method, path)
	defer a.Body.Close()
	b, err := io.ReadAll(a.Body)
	require.NoError(p.t, err)
	if into != nil {
		require.NoError(p.t, json.Unmarshal(b, into), "%s %s: %s", method, path, b)
	}
	return a.StatusCode
}

func (p *phone) entry(kind string, more object) object {
	p.said++
	return with(object{"key": fmt.Sprintf("%s-key-%05d", p.name, p.said), "at": p.now().Format(time.RFC3339Nano), "kind": kind}, more)
}

func (p *phone) say(entries ...object) saidDoc {
	p.t.Helper()
	var out saidDoc
	require.Equal(p.t, 200, p.ask("POST", "/entries", object{"now": p.now().Format(time.RFC3339Nano), "entries": entries}, &out))
	return out
}

// event is one of a stream.
type event struct {
	id, name, data string
	at             time.Time
}

// follow opens the stream of a phone; last is the id of the event it had last.
func (p *phone) follow(last string) (events <-chan event, stop func()) {
	ctx, cancel := context.WithCancel(context.Background())
	r, err := http.NewRequestWithContext(ctx, "GET", p.url+"/api/v1/events", nil)
	require.NoError(p.t, err)
	if last != "" {
		r.Header.Set("Last-Event-ID", last)
	}
	c := *p.http
	c.Timeout = 0
	a, err := c.Do(r)
	require.NoError(p.t, err)
	require.Equal(p.t, 200, a.StatusCode)
	out := make(chan event, 10_000)
	go func() {
		defer close(out)
		defer a.Body.Close()
		var e event
		for lines := bufio.NewScanner(a.Body); lines.Scan(); {
			name, value, _ := strings.Cut(lines.Text(), ": ")
			switch name {
			case "id":
				e.id = value
			case "event":
				e.name = value
			case "data":
				e.data = value
			case "":
				if e.at = time.Now(); e.name != "" {
					out <- e
				}
				e = event{}
			}
		}
	}()
	p.t.Cleanup(cancel)
	return out, cancel
}

// next waits for an event of a name.
func next(t testing.TB, events <-chan event, name string) event {
	t.Helper()
	late := time.After(30 * time.Second)
	for {
		select {
		case e, ok := <-events:
			require.True(t, ok, "the stream ended before %s", name)
			if e.name == name {
				require.NotEmpty(t, e.id)
				return e
			}
		case <-late:
			require.Fail(t, "no event", name)
		}
	}
}

// What one phone logs is told to all others, and to one that was away as soon as
// it is back. How soon is measured by the load test.
func TestEvents(t *testing.T) {
	s := share(t, t.TempDir())
	ines, tomas := s.in("Ines"), s.in("Tomas")
	events, stop := tomas.follow("")
	next(t, events, "hello")
	next(t, events, "flight")
	first := next(t, events, "field")
	assert.Equal(t, "0", first.id)
	said := ines.say(ines.entry("looked", object{"looked": "open"}))
	told := next(t, events, "field")
	assert.Equal(t, fmt.Sprint(said.Version), told.id)
	assert.JSONEq(t, fmt.Sprintf(`{"version":%d}`, said.Version), told.data)
	ines.say(ines.entry("position", object{"lat": 41.905, "lon": -4.921}))
	moved := next(t, events, "positions")
	assert.Contains(t, moved.data, `"lat":41.905`)
	stop()

	missed := ines.say(ines.entry("looked", object{"looked": "fast"}))
	events, stop = tomas.follow(told.id)
	defer stop()
	assert.Equal(t, fmt.Sprint(missed.Version), next(t, events, "field").id)
	var since entriesDoc
	require.Equal(t, 200, tomas.ask("GET", "/entries?since="+told.id, nil, &since))
	require.Len(t, since.Entries, 1)
	assert.Contains(t, since.Entries[0].Says, "looked fast")
	s.stop()
	next(t, events, "stopping")
}

// The person at the laptop puts a phone out: it is told so, everywhere, and the
// code it came in with is no good any more.
func TestPutOut(t *testing.T) {
	dir := t.TempDir()
	s := share(t, dir)
	laptop, ines, tomas := s.laptop(), s.in("Ines"), s.in("Tomas")
	ines.say(ines.entry("position", object{"lat": 41.905, "lon": -4.921}))
	tomas.say(tomas.entry("position", object{"lat": 41.906, "lon": -4.921}))
	var all peopleDoc
	require.Equal(t, 200, laptop.ask("GET", "/people", nil, &all))
	require.Len(t, all.People, 3)
	assert.True(t, all.People[0].Host)
	assert.Equal(t, s.url, all.Address)
	assert.NotNil(t, all.People[1].Position)
	for method, path := range map[string]string{"GET": "/people", "DELETE": "/positions", "POST": "/code", "PUT": "/flight"} {
		assert.Equal(t, http.StatusForbidden, ines.ask(method, path, nil, nil), "%s %s is the laptop's", method, path)
	}
	events, _ := tomas.follow("")
	next(t, events, "hello")
	require.Equal(t, 200, laptop.ask("GET", "/people", nil, &all))
	assert.True(t, all.People[2].Here)
	code := s.page.JoinCode()
	require.Equal(t, 200, laptop.ask("DELETE", "/people/"+all.People[2].ID, nil, nil))
	assert.Contains(t, next(t, events, "out").data, "put this phone out")
	var told struct {
		Message string
		Out     bool
	}
	assert.Equal(t, http.StatusUnauthorized, tomas.ask("GET", "/field", nil, &told))
	assert.Contains(t, told.Message, "has put this phone out; ask them for the new join code")
	assert.True(t, told.Out)
	r, err := s.phone("Tomas").http.PostForm(s.url+"/join", url.Values{"name": {"Tomas"}, "code": {code}})
	require.NoError(t, err)
	r.Body.Close()
	assert.Equal(t, http.StatusForbidden, r.StatusCode, "the code is another now")
	assert.Equal(t, 200, ines.ask("GET", "/field", nil, nil))
	assert.Equal(t, http.StatusNotFound, laptop.ask("DELETE", "/people/"+all.People[2].ID, nil, nil))
	assert.Equal(t, http.StatusNotFound, laptop.ask("DELETE", "/people/"+all.People[0].ID, nil, nil), "not the laptop itself")
	var forgot struct{ Forgotten int }
	require.Equal(t, 200, laptop.ask("DELETE", "/positions", nil, &forgot))
	assert.Equal(t, 1, forgot.Forgotten, "that of the phone put out went with it")
	now := s.page.JoinCode()
	require.Equal(t, 200, laptop.ask("POST", "/code", nil, nil))
	assert.NotEqual(t, now, s.page.JoinCode())
	assert.Equal(t, 200, ines.ask("GET", "/field", nil, nil), "who is in stays in")
	s.stop()
	again := share(t, dir)
	tomas.url, ines.url = again.url, again.url
	u, err := url.Parse(again.url)
	require.NoError(t, err)
	old, err := url.Parse(s.url)
	require.NoError(t, err)
	tomas.http.Jar.SetCookies(u, tomas.http.Jar.Cookies(old))
	assert.Equal(t, http.StatusUnauthorized, tomas.ask("GET", "/field", nil, nil), "out stays out")
}

// Sessions and the code outlive the program, not their time; only the user can
// read the file, and no cookie is in it.
func TestSessionsAreKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "state", "sessions.json")
	at := time.Date(2026, 4, 18, 10, 0, 0, 0, time.UTC)
	now := func() time.Time { return at }
	s := newSessions(path, now)
	cookie := s.begin("Ines", false)
	require.NotNil(t, s.find(cookie, "10.0.0.7"))
	st, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), st.Mode().Perm())
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.NotContains(t, string(text), cookie)
	assert.Nil(t, s.find("stolen", "10.0.0.7"))

	at = at.Add(20 * time.Hour)
	s2 := newSessions(path, now)
	assert.Equal(t, s.code, s2.code)
	require.NotNil(t, s2.find(cookie, "10.0.0.7"))
	assert.Equal(t, "Ines", s2.find(cookie, "10.0.0.7").Name)
	at = at.Add(20 * time.Hour)
	s3 := newSessions(path, now)
	require.NotNil(t, s3.find(cookie, "10.0.0.7"), "it was seen twenty hours ago")
	assert.NotEqual(t, s.code, s3.code, "a code is no good after a day and a half")
	at = at.Add(sessionTime + time.Minute)
	assert.Nil(t, s3.find(cookie, "10.0.0.7"))
	assert.Empty(t, s3.everybody())
	require.NoError(t, os.WriteFile(path, []byte("{broken"), 0o600))
	assert.Nil(t, newSessions(path, now).find(cookie, "10.0.0.7"), "everybody types the code again")
}

// A session that is used from two places is shown to the person at the laptop.
func TestTwoPlaces(t *testing.T) {
	c := newClient(t, func(o *Options) { o.Shared = true })
	host := c.page.doors.in.begin("laptop", true)
	phone := c.page.doors.in.begin("Ines", false)
	from := func(address, cookie string) func(*http.Request) {
		return func(r *http.Request) {
			r.RemoteAddr = address + ":5555"
			r.AddCookie(&http.Cookie{Name: cookieName, Value: cookie})
		}
	}
	people := func() string {
		status, b := c.ask("GET", "/people", nil, from("10.0.0.1", host))
		require.Equal(t, 200, status)
		return string(b)
	}
	visit(c.page, "GET", "http://page.test/api/v1/field", from("10.0.0.7", phone))
	assert.Contains(t, people(), `"addresses":["10.0.0.7"]`)
	assert.NotContains(t, people(), "put it out")
	visit(c.page, "GET", "http://page.test/api/v1/field", from("10.0.0.8", phone))
	assert.Contains(t, people(), "put it out")
	w := visit(c.page, "GET", "http://page.test/api/v1/field", from("10.0.0.7", phone))
	assert.NotContains(t, w.Body.String(), "10.0.0.8", "addresses are the laptop's affair")
	ines := c.page.doors.in.everybody()[1].ID
	for _, x := range [][2]string{{"POST", "/code"}, {"DELETE", "/positions"}, {"DELETE", "/people/" + ines}} {
		status, b := c.ask(x[0], x[1], nil, from("10.0.0.1", host))
		assert.Equal(t, 200, status, "%s", b)
	}
	status, _ := c.ask("GET", "/field", nil, from("10.0.0.7", phone))
	assert.Equal(t, http.StatusUnauthorized, status)
}

// Two of one name are told apart; letters that do harm are left out of names.
func TestNames(t *testing.T) {
	s := newSessions("", time.Now)
	for _, x := range []struct{ asked, is string }{
		{"Ines", "Ines"}, {"ines", "ines 2"}, {"Ines", "Ines 3"}, {" ", "somebody"}, {"a\x00b\n", "ab"},
		{strings.Repeat("\u00e9", 60), strings.Repeat("\u00e9", 45)},
	} {
		assert.Equal(t, x.is, s.find(s.begin(x.asked, false), "10.0.0.7").Name)
	}
	for range mostSessions + 10 {
		s.begin("x", false)
	}
	assert.LessOrEqual(t, len(s.by), mostSessions)
}

// One who guesses is kept out without keeping out the others.
func TestGuesses(t *testing.T) {
	d := newDoors(Options{Shared: true, Now: time.Now})
	for range mostWrongOne {
		assert.False(t, d.tooMany("10.0.0.9"))
		d.wrong = append(d.wrong, wrongCode{time.Now(), "10.0.0.9"})
	}
	assert.True(t, d.tooMany("10.0.0.9"))
	assert.False(t, d.tooMany("10.0.0.8"))
	d.wrong[0].at = time.Now().Add(-wrongTime - time.Second)
	assert.False(t, d.tooMany("10.0.0.9"), "a minute later")
}

// Cookies of a page by TLS travel by nothing else, and phones get the
// certificate without a code.
func TestSecureCookies(t *testing.T) {
	c := newClient(t, func(o *Options) { o.Shared, o.TLS, o.Authority = true, true, []byte("certificate") })
	w := visit(c.page, "GET", "http://page.test"+c.page.HostPath())
	require.Len(t, w.Result().Cookies(), 1)
	assert.True(t, w.Result().Cookies()[0].Secure)
	assert.True(t, w.Result().Cookies()[0].HttpOnly)
	assert.Positive(t, w.Result().Cookies()[0].MaxAge)
	w = visit(c.page, "GET", "http://page.test/ca.crt")
	assert.Equal(t, "certificate", w.Body.String())
	assert.Contains(t, visit(c.page, "GET", "http://page.test/join?code=ab%22cd").Body.String(), `value="ab&#34;cd"`)
	assert.Equal(t, 404, visit(newClient(t).page, "GET", "http://page.test/ca.crt").Code)
	w = visit(c.page, "GET", "http://page.test/api/v1/code/picture")
	assert.Equal(t, http.StatusUnauthorized, w.Code)
	host := visit(c.page, "GET", "http://page.test"+c.page.HostPath()).Result().Cookies()[0]
	w = visit(c.page, "GET", "http://page.test/api/v1/code/picture", func(r *http.Request) { r.AddCookie(host) })
	assert.Equal(t, "image/png", w.Header().Get("Content-Type"))
	assert.Contains(t, QR("http://192.168.1.20:8080", "abcd-efgh"), "\u2588")
}

// Another site cannot make a phone log anything.
func TestForgedEntries(t *testing.T) {
	c := newClient(t)
	for _, from := range []string{"http://evil.example", "null", "http://page.test:81"} {
		w := visit(c.page, "POST", "http://page.test/api/v1/entries", func(r *http.Request) { r.Header.Set("Origin", from) })
		assert.Equal(t, http.StatusForbidden, w.Code, from)
	}
	assert.Empty(t, get[entriesDoc](c, "GET", "/entries", nil).Entries)
}

// A queue of ten thousand from a phone that was away all day, by a clock that is
// an hour wrong.
func TestQueue(t *testing.T) {
	s := share(t, t.TempDir())
	p := s.in("Ines")
	right := p.now
	p.now = func() time.Time { return right().Add(time.Hour) }
	began := p.now().Add(-2 * time.Hour)
	queue := []object{with(p.entry("ignition", nil), object{"at": began.Format(time.RFC3339Nano)})}
	for i := range 9999 {
		at := began.Add(time.Duration(i) * 500 * time.Millisecond)
		queue = append(queue, with(p.entry("track", object{"recording": fmt.Sprintf("walk-%04d", i/1000), "fixes": []object{
			{"at": at, "lat": 41.905 + float64(i%1000)*4e-6, "lon": -4.921 + 2e-4*float64(i/1000)}}}), object{"at": at}))
	}
	a := p.say(queue...)
	assert.InDelta(t, 3600, a.Off, 300, "less what the request took")
	assert.Contains(t, a.Message, " ahead: the times of what it sent were put right")
	require.Len(t, a.Results, len(queue))
	for i, r := range a.Results {
		require.Equal(t, field.Logged, r.State, "%d: %s", i, r.Message)
	}
	for i, r := range p.say(queue...).Results {
		require.Equal(t, field.Known, r.State, "%d: %s", i, r.Message)
	}
	var d fieldDoc
	require.Equal(t, 200, p.ask("GET", "/field", nil, &d))
	assert.WithinDuration(t, began.Add(-time.Hour), d.Ignition.At, 5*time.Minute)
	assert.Equal(t, http.StatusRequestEntityTooLarge, p.ask("POST", "/entries", object{"now": p.now(), "entries": make([]int, mostEntries+1)}, nil))
	assert.Equal(t, http.StatusBadRequest, p.ask("POST", "/entries", object{"entries": []int{}}, nil))
}

// afternoon is what load does: phones for so many minutes of field use.
type afternoon struct{ phones, minutes int }

// Thirty phones for ten minutes of field use, compressed: what each would do in
// that time, one after the other without a pause. No request fails, and reads
// are quick: half of them under 50 ms. The short form asks for no speed.
func TestAfternoon(t *testing.T) {
	a := afternoon{30, 1}
	if os.Getenv("WINDFALL_SLOW") != "" {
		a.minutes = 10
	}
	reads, told := a.run(t)
	slices.Sort(reads)
	slices.Sort(told)
	median, worst := reads[len(reads)/2], told[len(told)-1]
	t.Logf("%d phones, %d minutes of use: %d reads, median %s, 95 of 100 within %s; %d changes told to all, the slowest after %s",
		a.phones, a.minutes, len(reads), median, reads[len(reads)*95/100], len(told), worst)
	if os.Getenv("WINDFALL_SLOW") != "" {
		assert.Less(t, median, 50*time.Millisecond)
		assert.Less(t, told[len(told)/2], time.Second)
	}
}

func (a afternoon) run(t *testing.T) (reads, told []time.Duration) {
	s := share(t, t.TempDir())
	laptop := s.laptop()
	require.Equal(t, 200, laptop.ask("POST", "/plan", object{}, nil))
	var d fieldDoc
	require.Equal(t, 200, laptop.ask("GET", "/field", nil, &d))
	block := d.Plan.Plan.Searchers[0].Blocks[0]
	var mu sync.Mutex
	var all sync.WaitGroup
	for i := range a.phones {
		p := s.in(fmt.Sprintf("phone %02d", i))
		events, _ := p.follow("")
		next(t, events, "hello")
		all.Go(func() {
			var took, late []time.Duration
			version := int64(0)
			read := func() {
				began := time.Now()
				var d fieldDoc
				require.Equal(t, 200, p.ask("GET", fmt.Sprintf("/field?since=%d", version), nil, &d))
				took = append(took, time.Since(began))
				version = d.Version
			}
			read()
			walked := p.now().Add(-time.Hour)
			for m := range a.minutes {
				for k := range 6 { // a position every 10 s, and a look at what others did
					p.say(p.entry("position", object{"lat": 41.905 + 1e-5*float64(6*m+k), "lon": -4.921, "accuracy_m": 5}))
					read()
				}
				fixes := walk(walked.Add(time.Duration(m)*time.Minute), [2]float64{41.905 + 5e-4*float64(m), -4.921 + 2e-4*float64(i)},
					[2]float64{41.905 + 5e-4*float64(m+1), -4.921 + 2e-4*float64(i)}, 55)
				began := time.Now()
				said := p.say(p.entry("track", object{"recording": p.name + " walk", "fixes": fixes}),
					p.entry("lane", object{"plan": 1, "block": block.Name, "lane": 1 + (i+m)%block.Lanes, "state": "done"}))
				for _, r := range said.Results {
					require.NotEqual(t, field.Refused, r.State, r.Message)
				}
				late = append(late, toldAfter(t, events, said.Version, began))
			}
			mu.Lock()
			defer mu.Unlock()
			reads, told = append(reads, took...), append(told, late...)
		})
	}
	all.Wait()
	require.Equal(t, 200, laptop.ask("GET", "/field", nil, &d))
	assert.Len(t, d.Entries, a.phones, "a track of each")
	return reads, told
}

// toldAfter is how long after a time a stream tells of a version.
func toldAfter(t *testing.T, events <-chan event, version int64, began time.Time) time.Duration {
	for {
		e := next(t, events, "field")
		var d struct{ Version int64 }
		require.NoError(t, json.Unmarshal([]byte(e.data), &d))
		if d.Version >= version {
			return e.at.Sub(began)
		}
	}
}
