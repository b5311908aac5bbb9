package page

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base32"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"
)

// doors say who comes in. On loopback alone whoever is on the machine does; a
// page shared on the network wants the join code, and only the browser that was
// opened with the host's path may change the flight.
type doors struct {
	shared bool
	code   string // what others type; empty: nobody comes in
	key    string // in the host's path

	mu       sync.Mutex
	hosts    map[string]bool    // names by which the page is reached, with their port
	sessions map[string]session // by cookie
	wrong    []time.Time        // codes that were wrong, of late
}

// session is a browser that has come in.
type session struct {
	Name string
	Host bool // may change the flight
}

const (
	cookieName = "windfall"
	mostWrong  = 10          // wrong codes in a minute, of all who try: 10^11 codes of 40 bits last
	wrongTime  = time.Minute // for 2 000 years at that
	mostNames  = 40          // letters of a name
)

func newDoors(shared bool) *doors {
	d := &doors{shared: shared, hosts: map[string]bool{}, sessions: map[string]session{}}
	if shared {
		d.code, d.key = secret(5), secret(20)
		d.code = d.code[:4] + "-" + d.code[4:]
	}
	return d
}

// secret returns random bytes as letters and figures that are read aloud easily.
func secret(bytes int) string {
	b := make([]byte, bytes)
	rand.Read(b)
	return base32.NewEncoding("abcdefghjkmnpqrstuvwxyz023456789").WithPadding(base32.NoPadding).EncodeToString(b)
}

func (d *doors) hostPath() string {
	if !d.shared {
		return "/"
	}
	return "/host/" + d.key
}

// admit takes the names by which an address is reached: DNS names other than
// localhost are not among them, so that a name that is pointed at this machine
// by somebody else (DNS rebinding) does not open the door.
func (d *doors) admit(a net.Addr) {
	host, port, err := net.SplitHostPort(a.String())
	if err != nil {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	names := []string{host, "localhost", "127.0.0.1", "::1"}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		addrs, _ := net.InterfaceAddrs() // none: loopback still serves
		for _, x := range addrs {
			if n, ok := x.(*net.IPNet); ok {
				names = append(names, n.IP.String())
			}
		}
	}
	for _, n := range names {
		d.hosts[net.JoinHostPort(n, port)] = true
		if port == "80" {
			d.hosts[n] = true
		}
	}
}

// guard lets in who may come in.
func (d *doors) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.mu.Lock()
		known := d.hosts[strings.ToLower(r.Host)]
		d.mu.Unlock()
		switch {
		case !known:
			writeDoc(
				w,
				http.StatusMisdirectedRequest,
				map[string]any{
					"message": "this page is not served under the name " + clipped(
						r.Host,
						80,
					) + "; use the address that the program printed",
				},
			)
		case d.shared && !d.open(r.URL.Path) && d.who(r) == nil:
			if r.Method == http.MethodGet && !strings.HasPrefix(r.URL.Path, "/api/") {
				http.Redirect(w, r, "/join", http.StatusSeeOther)
				return
			}
			writeDoc(w, http.StatusUnauthorized, map[string]any{"message": "type the join code first: open /join"})
		default:
			next.ServeHTTP(w, r)
		}
	})
}

// open paths are those that let somebody in.
func (d *doors) open(path string) bool {
	return path == "/join" || path == "/page.css" || path == "/icon.svg" || strings.HasPrefix(path, "/host/")
}

// who returns the session of a request; nil: none.
func (d *doors) who(r *http.Request) *session {
	if !d.shared {
		return &session{Host: true}
	}
	c, err := r.Cookie(cookieName)
	if err != nil {
		return nil
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if s, ok := d.sessions[c.Value]; ok {
		return &s
	}
	return nil
}

// begin gives a browser a session.
func (d *doors) begin(w http.ResponseWriter, s session) {
	id := secret(20)
	d.mu.Lock()
	d.sessions[id] = s
	d.mu.Unlock()
	http.SetCookie(
		w,
		&http.Cookie{Name: cookieName, Value: id, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode},
	)
}

func (d *doors) routes(mux *http.ServeMux) {
	if !d.shared {
		return
	}
	mux.HandleFunc("GET /host/{key}", func(w http.ResponseWriter, r *http.Request) {
		if subtle.ConstantTimeCompare([]byte(r.PathValue("key")), []byte(d.key)) != 1 {
			http.Redirect(w, r, "/join", http.StatusSeeOther)
			return
		}
		d.begin(w, session{Name: "laptop", Host: true})
		http.Redirect(w, r, "/", http.StatusSeeOther)
	})
	mux.HandleFunc("GET /join", func(w http.ResponseWriter, _ *http.Request) { writeJoin(w, http.StatusOK, "") })
	mux.HandleFunc("POST /join", d.join)
}

func (d *doors) join(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if r.ParseForm() != nil {
		writeJoin(w, http.StatusBadRequest, "that is too long")
		return
	}
	if d.tooMany() {
		writeJoin(w, http.StatusTooManyRequests, "too many wrong codes; wait a minute")
		return
	}
	name, code := strings.TrimSpace(clipped(r.PostForm.Get("name"), mostNames)), plainCode(r.PostForm)
	if subtle.ConstantTimeCompare([]byte(code), []byte(strings.ReplaceAll(d.code, "-", ""))) != 1 {
		d.mu.Lock()
		d.wrong = append(d.wrong, time.Now())
		d.mu.Unlock()
		writeJoin(w, http.StatusForbidden, "that is not the code; it stands on the laptop's screen")
		return
	}
	d.begin(w, session{Name: name})
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// tooMany says whether too many codes were wrong in the last minute.
func (d *doors) tooMany() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	for len(d.wrong) > 0 && time.Since(d.wrong[0]) > wrongTime {
		d.wrong = d.wrong[1:]
	}
	return len(d.wrong) >= mostWrong
}

// plainCode is a code as it was typed, without what people put between.
func plainCode(form url.Values) string {
	return strings.NewReplacer("-", "", " ", "").Replace(strings.ToLower(form.Get("code")))
}

func clipped(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most])
	}
	return s
}

// hostOnly keeps guests from changing the flight.
func (s *Server) hostOnly(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if who := s.doors.who(r); who == nil || !who.Host {
			writeDoc(
				w,
				http.StatusForbidden,
				map[string]any{"message": "only the laptop that serves the page may change the flight"},
			)
			return
		}
		next.ServeHTTP(w, r)
	})
}
