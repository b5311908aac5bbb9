package page

import (
	"fmt"
	"net/http"
	"strconv"
	"sync"
	"time"

	"windfall/cmd/windfall/internal/field"
)

// news wakes the streams when something was logged or somebody has moved.
type news struct {
	mu      *sync.Mutex
	changed *chan struct{} // closed when there is some
}

func newNews() news {
	c := make(chan struct{})
	return news{&sync.Mutex{}, &c}
}

// tell wakes the streams.
func (n news) tell() {
	n.mu.Lock()
	defer n.mu.Unlock()
	close(*n.changed)
	*n.changed = make(chan struct{})
}

// wait returns a channel that closes with the next news.
func (n news) wait() <-chan struct{} {
	n.mu.Lock()
	defer n.mu.Unlock()
	return *n.changed
}

// moveTime is the least time between two events of positions, so that thirty
// who walk do not wake each phone thirty times a second.
const moveTime = time.Second

// follower is what one stream has been told.
type follower struct {
	s       *Server
	out     stream
	who     *session
	folder  folderDoc
	version int64 // of the field
	moved   int   // of the positions
	movedAt time.Time
}

// follow tells when the flight or its drawings have changed, when something was
// logged, when somebody has moved, and when the program stops.
func (s *Server) follow(w http.ResponseWriter, r *http.Request) {
	f := &follower{s: s, out: newStream(w), who: s.doors.who(r), version: -1}
	if last, err := strconv.ParseInt(r.Header.Get("Last-Event-ID"), 10, 64); err == nil {
		f.version = last
	}
	s.stream(f.who, 1)
	defer s.stream(f.who, -1)
	if !f.out.sendAs(max(0, f.version), "hello", map[string]any{}) {
		return
	}
	look := time.NewTicker(lookTime)
	defer look.Stop()
	pulse := time.NewTicker(pulseTime)
	defer pulse.Stop()
	for looking := true; ; {
		told, out := s.news.wait(), s.stream(f.who, 0)
		if s.doors.shared && s.doors.in.isOut(f.who.ID) {
			f.out.sendAs(max(0, f.version), "out", map[string]any{"message": putOutWords})
			return
		}
		if !f.tell(looking) {
			return
		}
		looking = false
		select {
		case <-told:
		case <-out:
		case <-look.C:
			looking = true
		case <-pulse.C:
			fmt.Fprint(w, ": here\n\n")
			if f.out.c.Flush() != nil {
				return
			}
		case <-s.stopping.Done():
			f.out.sendAs(max(0, f.version), "stopping", map[string]any{})
			return
		case <-r.Context().Done():
			return
		}
	}
}

// stream counts a stream of somebody in or out; gone closes when somebody is put
// out.
func (s *Server) stream(who *session, by int) (gone <-chan struct{}) {
	if !s.doors.shared {
		return nil
	}
	return s.doors.in.stream(who.ID, by)
}

// tell sends what has changed since the last time, and looks at the folder where
// it is time to; false: the reader has gone.
func (f *follower) tell(looking bool) bool {
	flight, fl, err := f.s.fieldNow()
	if err == nil && looking {
		err = f.s.adopt(flight, fl)
	}
	version := f.version
	if err == nil {
		if v, err := fl.Version(); err == nil {
			version = v
		}
	}
	if looking {
		if d := f.s.glance(); d != f.folder {
			f.folder = d
			if !f.out.sendAs(max(0, f.version), "flight", d) {
				return false
			}
		}
	}
	if version != f.version {
		f.version = version
		if !f.out.sendAs(version, "field", map[string]any{"version": version}) {
			return false
		}
	}
	return err != nil || f.tellMoves(fl)
}

// tellMoves sends everybody's last position when somebody has moved.
func (f *follower) tellMoves(fl *field.Field) bool {
	_, n := fl.Positions.All()
	now := f.s.opt.Now()
	if n == f.moved || now.Sub(f.movedAt) < moveTime {
		return true
	}
	v, err := fl.View()
	if err != nil {
		return true // told with the next look
	}
	f.moved, f.movedAt = n, now
	all := f.s.people(f.s.doors.everybody(), fl, v, now)
	return f.out.sendAs(max(0, f.version), "positions", map[string]any{"people": all})
}
