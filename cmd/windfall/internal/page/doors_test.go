package page

import (
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// visit sends a request past the doors and returns the answer.
func visit(s *Server, method, address string, change ...func(*http.Request)) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, address, nil)
	for _, f := range change {
		f(r)
	}
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	return w
}

// A name that somebody else has pointed at this machine does not open the door
// (DNS rebinding).
func TestHosts(t *testing.T) {
	c := newClient(t)
	c.page.doors.admit(&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 8123})
	for host, status := range map[string]int{
		"127.0.0.1:8123": 200, "localhost:8123": 200, "[::1]:8123": 200, "LOCALHOST:8123": 200,
		"127.0.0.1:9": 421, "evil.example:8123": 421, "127.0.0.1.evil.example:8123": 421, "127.0.0.1": 421,
	} {
		assert.Equal(t, status, visit(c.page, "GET", "http://"+host+"/").Code, host)
	}
}

// Other sites cannot make a browser change anything.
func TestOrigins(t *testing.T) {
	c := newClient(t)
	head := func(k, v string) func(*http.Request) { return func(r *http.Request) { r.Header.Set(k, v) } }
	for _, x := range []struct {
		k, v   string
		status int
	}{
		{"Origin", "http://evil.example", 403}, {"Origin", "http://page.test:81", 403}, {"Origin", "null", 403},
		{"Sec-Fetch-Site", "cross-site", 403}, {"Sec-Fetch-Site", "same-site", 403},
		{"Origin", "http://page.test", 400}, {"Sec-Fetch-Site", "same-origin", 400}, // come in, to be told that they hold no JSON
	} {
		for method, path := range map[string]string{"PUT": "/api/v1/flight", "POST": "/api/v1/jobs"} {
			w := visit(c.page, method, "http://page.test"+path, head(x.k, x.v))
			assert.Equal(t, x.status, w.Code, "%s %s %s: %s", method, x.k, x.v, w.Body)
		}
	}
}

func TestHeaders(t *testing.T) {
	c := newClient(t)
	for _, path := range []string{"/", "/page.js", "/api/v1/flight", "/nothing"} {
		h := visit(c.page, "GET", "http://page.test"+path).Header()
		policy := h.Get("Content-Security-Policy")
		assert.Contains(t, policy, "default-src 'none'", path)
		assert.NotContains(t, policy, "unsafe", path)
		assert.NotContains(t, policy, "http", path)
		assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), path)
	}
	assert.Equal(t, 405, visit(c.page, "POST", "http://page.test/").Code)
	assert.Equal(t, 404, visit(c.page, "GET", "http://page.test/nothing/page.go").Code)
	assert.Equal(t, 404, visit(c.page, "GET", "http://page.test/api/v2/flight").Code)
}

// The whole page is under 400 kB as it travels; it is far less packed.
func TestSize(t *testing.T) {
	c := newClient(t)
	total := 0
	for _, path := range []string{"/", "/page.js", "/page.css", "/icon.svg"} {
		total += visit(c.page, "GET", "http://page.test"+path).Body.Len()
	}
	assert.Less(t, total, 400_000)
}

func TestJoin(t *testing.T) {
	c := newClient(t, func(o *Options) { o.Shared = true })
	s := c.page
	assert.Regexp(t, `^[a-z02-9]{4}-[a-z02-9]{4}$`, s.JoinCode())
	w := visit(s, "GET", "http://page.test/")
	assert.Equal(t, "/join", w.Header().Get("Location"))
	assert.Equal(t, 401, visit(s, "GET", "http://page.test/api/v1/flight").Code)
	assert.Equal(t, 200, visit(s, "GET", "http://page.test/join").Code)
	join := func(code string) *httptest.ResponseRecorder {
		r := httptest.NewRequest("POST", "http://page.test/join", strings.NewReader(url.Values{"name": {"Ines <b>"}, "code": {code}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		return w
	}
	assert.Equal(t, 403, join("abcd-efgh").Code)
	w = join(strings.ToUpper(strings.ReplaceAll(s.JoinCode(), "-", " ")))
	require.Equal(t, 303, w.Code)
	guest := w.Result().Cookies()[0]
	assert.True(t, guest.HttpOnly)
	assert.Equal(t, http.SameSiteStrictMode, guest.SameSite)
	as := func(c *http.Cookie) func(*http.Request) { return func(r *http.Request) { r.AddCookie(c) } }
	assert.Equal(t, 200, visit(s, "GET", "http://page.test/api/v1/flight", as(guest)).Code)
	assert.Equal(t, 403, visit(s, "PUT", "http://page.test/api/v1/flight", as(guest)).Code, "guests change nothing")
	assert.Equal(t, 401, visit(s, "GET", "http://page.test/api/v1/flight", as(&http.Cookie{Name: cookieName, Value: "stolen"})).Code)

	w = visit(s, "GET", "http://page.test"+s.HostPath())
	require.Len(t, w.Result().Cookies(), 1)
	host := w.Result().Cookies()[0]
	assert.Equal(t, 400, visit(s, "PUT", "http://page.test/api/v1/flight", as(host)).Code, "the laptop's own may, with a draft")
	assert.Empty(t, visit(s, "GET", "http://page.test/host/guess").Result().Cookies())

	for range mostWrong {
		join("wrong")
	}
	assert.Equal(t, http.StatusTooManyRequests, join(s.JoinCode()).Code, "not even the right code, until the minute is over")
}

func TestReached(t *testing.T) {
	assert.Equal(t, "127.0.0.1:80", Reached(&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 80}))
	assert.Equal(t, "[::1]:80", Reached(&net.TCPAddr{IP: net.IPv6loopback, Port: 80}))
	assert.NotContains(t, Reached(&net.TCPAddr{IP: net.IPv4zero, Port: 80}), "0.0.0.0")
}
