package page

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// session is a browser that has come in.
type session struct {
	ID   string    `json:"id"` // by which others name it; the cookie is a secret of its own
	Name string    `json:"name"`
	Host bool      `json:"host,omitempty"` // may change the flight
	Seen time.Time `json:"seen"`           // its last request, to the minute in the file
	Out  bool      `json:"out,omitempty"`  // it was put out

	streams int // open ones
	from    []heardFrom
}

// heardFrom is an address that a session's requests came from.
type heardFrom struct {
	address string
	at      time.Time // the last
}

// twoPlaces is how close in time requests of one session from two addresses are
// looked at: a phone that changes networks leaves the first behind.
const twoPlaces = 5 * time.Minute

// heard notes where a request came from, and keeps the addresses of late.
func (s *session) heard(from string, now time.Time) {
	s.from = slices.DeleteFunc(s.from, func(h heardFrom) bool { return h.address == from || now.Sub(h.at) > twoPlaces })
	s.from = append(s.from, heardFrom{from, now})
	if len(s.from) > 4 {
		s.from = s.from[1:]
	}
}

// sessionTime is how long a browser stays in after its last request: a day in
// the field and the way home.
const sessionTime = 36 * time.Hour

// mostSessions keeps a phone that comes in again and again from filling memory.
const mostSessions = 500

// sessions are the browsers that have come in, by the digest of their cookies.
// They outlive the program in a file that only its user can read.
type sessions struct {
	path string // of the file; "": none
	now  func() time.Time

	mu      sync.Mutex
	code    string    // what others type; "": nobody comes in
	made    time.Time // when the code was made
	by      map[string]*session
	changed chan struct{} // closed when somebody is put out
}

// kept is the file of sessions.
type kept struct {
	Code     string              `json:"code"`
	Made     time.Time           `json:"made"`
	Sessions map[string]*session `json:"sessions"`
}

// newSessions reads those that the file holds. A file that cannot be read is as
// good as none: everybody types the code again.
func newSessions(path string, now func() time.Time) *sessions {
	s := &sessions{path: path, now: now, by: map[string]*session{}, changed: make(chan struct{})}
	var k kept
	if text, err := os.ReadFile(path); path != "" && err == nil && json.Unmarshal(text, &k) == nil {
		for digest, x := range k.Sessions {
			if x != nil && now().Sub(x.Seen) < sessionTime {
				s.by[digest] = x
			}
		}
		if now().Sub(k.Made) < sessionTime {
			s.code, s.made = k.Code, k.Made
		}
	}
	if s.code == "" {
		s.newCode()
	}
	return s
}

// newCode makes the join code anew. The lock is held, or nobody else is there.
func (s *sessions) newCode() {
	c := secret(5)
	s.code, s.made = c[:4]+"-"+c[4:], s.now()
}

// save writes the file; the lock is held. Nothing is lost but the need to type
// the code once more where it cannot be written.
func (s *sessions) save() error {
	if s.path == "" {
		return nil
	}
	text, err := json.Marshal(kept{s.code, s.made, s.by})
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(s.path), 0o700); err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(s.path), ".sessions-*") // made 0600
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	_, err = tmp.Write(text)
	if err = cmp.Or(err, tmp.Sync(), tmp.Close()); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), s.path)
}

func digestOf(cookie string) string {
	sum := sha256.Sum256([]byte(cookie))
	return hex.EncodeToString(sum[:])
}

// begin makes a session and returns its cookie.
func (s *sessions) begin(name string, host bool) (cookie string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tidy()
	cookie = secret(20)
	s.by[digestOf(cookie)] = &session{ID: secret(5), Name: s.free(name), Host: host, Seen: s.now()}
	s.save()
	return cookie
}

// tidy drops those whose time is over, and the longest unseen beyond the most.
func (s *sessions) tidy() {
	var all []string
	for d, x := range s.by {
		if s.now().Sub(x.Seen) > sessionTime {
			delete(s.by, d)
		} else if !x.Host {
			all = append(all, d)
		}
	}
	slices.SortFunc(all, func(a, b string) int { return s.by[a].Seen.Compare(s.by[b].Seen) })
	for len(all) >= mostSessions {
		delete(s.by, all[0])
		all = all[1:]
	}
}

// free returns the name, with a number where somebody has it already: entries
// are told apart by it.
func (s *sessions) free(name string) string {
	name = strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, name))
	for len(name) > 90 { // bytes: a name of the logbook has at most 100
		r := []rune(name)
		name = string(r[:len(r)-1])
	}
	name = cmp.Or(name, "somebody")
	taken := func(n string) bool {
		for _, x := range s.by {
			if strings.EqualFold(x.Name, n) && !x.Out {
				return true
			}
		}
		return false
	}
	out := name
	for i := 2; taken(out); i++ {
		out = fmt.Sprintf("%s %d", name, i)
	}
	return out
}

// find returns the session of a cookie, seen now from an address; nil: none.
func (s *sessions) find(cookie, from string) *session {
	s.mu.Lock()
	defer s.mu.Unlock()
	x := s.by[digestOf(cookie)]
	if x == nil {
		return nil
	}
	now := s.now()
	if now.Sub(x.Seen) > sessionTime {
		delete(s.by, digestOf(cookie))
		return nil
	}
	if now.Sub(x.Seen) > time.Hour { // the file need not know it to the second
		x.Seen = now
		s.save()
	}
	x.Seen = now
	x.heard(from, now)
	out := *x
	out.from = slices.Clone(x.from)
	return &out
}

// put puts somebody out and makes the code anew; false: there is nobody of that
// id, or it is the laptop.
func (s *sessions) put(id string) (name string, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.by {
		if x.ID == id && !x.Host && !x.Out {
			x.Out = true
			s.newCode()
			s.save()
			close(s.changed)
			s.changed = make(chan struct{})
			return x.Name, true
		}
	}
	return "", false
}

// renew makes the code anew and returns it.
func (s *sessions) renew() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.newCode()
	s.save()
	return s.code
}

// theCode is the join code.
func (s *sessions) theCode() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.code
}

// everybody returns who is in, the host first, then by name.
func (s *sessions) everybody() (out []session) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.by {
		if !x.Out && s.now().Sub(x.Seen) <= sessionTime {
			y := *x
			y.from = slices.Clone(x.from)
			out = append(out, y)
		}
	}
	slices.SortFunc(out, func(a, b session) int {
		if a.Host != b.Host {
			if a.Host {
				return -1
			}
			return 1
		}
		return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.ID, b.ID))
	})
	return out
}

// stream counts an open stream of a session in or out; gone closes when somebody
// has been put out.
func (s *sessions) stream(id string, by int) (gone <-chan struct{}) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.by {
		if x.ID == id {
			x.streams += by
		}
	}
	return s.changed
}

// isOut tells whether somebody has been put out.
func (s *sessions) isOut(id string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.by {
		if x.ID == id {
			return x.Out
		}
	}
	return false
}
