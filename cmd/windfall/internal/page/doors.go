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
	secure bool   // served by TLS: cookies travel by nothing else
	trust  bool   // there is a certificate to be trusted
	key    string // in the host's path
	in     *sessions

	mu      sync.Mutex
	hosts   map[string]bool // names by which the page is reached, with their port
	address string          // where others open it
	wrong   []wrongCode     // codes that were wrong, of late
}

// wrongCode is one that was typed.
type wrongCode struct {
	at   time.Time
	from string // address, without its port
}

const (
	cookieName   = "windfall"
	mostWrong    = 10          // wrong codes in a minute, of all who try: 10^11 codes of 40 bits last
	wrongTime    = time.Minute // for 2 000 years at that
	mostWrongOne = 5           // of one address
	mostNames    = 40          // letters of a name
)

func newDoors(o Options) *doors {
	d := &doors{shared: o.Shared, secure: o.TLS, trust: o.Authority != nil, hosts: map[string]bool{}}
	if o.Shared {
		d.key = secret(20)
		d.in = newSessions(o.Sessions, o.Now)
	}
	return d
}

// laptop is whoever opens a page that is not shared.
var laptop = session{ID: "laptop", Name: "laptop", Host: true}

// code is what others type; "": nobody comes in.
func (d *doors) code() string {
	if !d.shared {
		return ""
	}
	return d.in.theCode()
}

// everybody returns who is in.
func (d *doors) everybody() []session {
	if !d.shared {
		return []session{laptop}
	}
	return d.in.everybody()
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
// by somebody else (DNS rebinding) does not open the door; save those of a
// certificate that the person at the laptop named.
func (d *doors) admit(a net.Addr, more ...string) {
	_, port, err := net.SplitHostPort(a.String())
	if err != nil {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	names := append(more, "localhost")
	for _, ip := range Addresses(a) {
		names = append(names, ip.String())
	}
	for _, n := range names {
		n = strings.ToLower(n)
		d.hosts[net.JoinHostPort(n, port)] = true
		if port == "80" && !d.secure || port == "443" && d.secure {
			d.hosts[n] = true
		}
	}
}

func (d *doors) setAddress(a string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.address = a
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
			if d.wasPutOut(r) {
				writeDoc(w, http.StatusUnauthorized, map[string]any{"message": putOutWords, "out": true})
				return
			}
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
	return path == "/join" || path == "/page.css" || path == "/icon.svg" || path == "/ca.crt" ||
		path == "/manifest.webmanifest" || strings.HasPrefix(path, "/host/")
}

const putOutWords = "the person at the laptop has put this phone out; ask them for the new join code, and open /join"

// who returns the session of a request; nil: none.
func (d *doors) who(r *http.Request) *session {
	if !d.shared {
		out := laptop
		return &out
	}
	if x := d.session(r); x != nil && !x.Out {
		return x
	}
	return nil
}

func (d *doors) session(r *http.Request) *session {
	c, err := r.Cookie(cookieName)
	if err != nil {
		return nil
	}
	return d.in.find(c.Value, addressOf(r))
}

// wasPutOut tells whether a request is of a phone that was put out.
func (d *doors) wasPutOut(r *http.Request) bool {
	x := d.session(r)
	return x != nil && x.Out
}

// begin gives a browser a session.
func (d *doors) begin(w http.ResponseWriter, name string, host bool) {
	http.SetCookie(w, &http.Cookie{Name: cookieName, Value: d.in.begin(name, host), Path: "/", HttpOnly: true,
		Secure: d.secure, SameSite: http.SameSiteStrictMode, MaxAge: int(sessionTime.Seconds())})
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
		d.begin(w, "laptop", true)
		http.Redirect(w, r, "/", http.StatusSeeOther)
	})
	mux.HandleFunc("GET /join", func(w http.ResponseWriter, r *http.Request) {
		writeJoin(w, http.StatusOK, joinForm{Code: clipped(r.URL.Query().Get("code"), 20), Trust: d.trust})
	})
	mux.HandleFunc("POST /join", d.join)
}

func (d *doors) join(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if r.ParseForm() != nil {
		writeJoin(w, http.StatusBadRequest, joinForm{Fault: "that is too long", Trust: d.trust})
		return
	}
	from := addressOf(r)
	if d.tooMany(from) {
		writeJoin(w, http.StatusTooManyRequests, joinForm{Fault: "too many wrong codes; wait a minute", Trust: d.trust})
		return
	}
	name, code := strings.TrimSpace(clipped(r.PostForm.Get("name"), mostNames)), plainCode(r.PostForm)
	if subtle.ConstantTimeCompare([]byte(code), []byte(strings.ReplaceAll(d.code(), "-", ""))) != 1 {
		d.mu.Lock()
		d.wrong = append(d.wrong, wrongCode{time.Now(), from})
		d.mu.Unlock()
		writeJoin(w, http.StatusForbidden, joinForm{Trust: d.trust,
			Fault: "that is not the code; it stands on the laptop's screen"})
		return
	}
	d.begin(w, name, false)
	http.Redirect(w, r, "/crew.html", http.StatusSeeOther)
}

// addressOf is where a request comes from, without its port.
func addressOf(r *http.Request) string {
	from, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return from
}

// tooMany says whether too many codes were wrong in the last minute, of all or
// of one address.
func (d *doors) tooMany(from string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	for len(d.wrong) > 0 && time.Since(d.wrong[0].at) > wrongTime {
		d.wrong = d.wrong[1:]
	}
	one := 0
	for _, x := range d.wrong {
		if x.from == from {
			one++
		}
	}
	return len(d.wrong) >= mostWrong || one >= mostWrongOne
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
