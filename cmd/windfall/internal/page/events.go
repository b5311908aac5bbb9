package page

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"time"

	"windfall/cmd/windfall/internal/flightfile"
)

// stream writes server-sent events (WHATWG HTML, 9.2).
type stream struct {
	w http.ResponseWriter
	c *http.ResponseController
}

func newStream(w http.ResponseWriter) stream {
	w.Header().Set("Content-Type", "text/event-stream")
	w.WriteHeader(http.StatusOK)
	s := stream{w, http.NewResponseController(w)}
	s.c.SetWriteDeadline(time.Time{}) // a stream has no end; a reader that is gone shows at the next write
	return s
}

// send writes an event; false: the reader has gone.
func (s stream) send(name string, doc any) bool {
	b, err := json.Marshal(doc)
	if err != nil {
		return false
	}
	fmt.Fprintf(s.w, "event: %s\ndata: %s\n\n", name, b)
	return s.c.Flush() == nil
}

// sendAs writes an event with an id, by which a stream that is opened again
// says how far it had come.
func (s stream) sendAs(id int64, name string, doc any) bool {
	fmt.Fprintf(s.w, "id: %d\n", id)
	return s.send(name, doc)
}

const (
	lookTime     = time.Second            // between looks at the folder
	progressTime = 150 * time.Millisecond // least between two words of progress
	pulseTime    = 20 * time.Second       // a line that keeps proxies from closing a quiet stream
)

// followJob tells how a job gets on until it has ended.
func (s *Server) followJob(w http.ResponseWriter, r *http.Request) {
	x, err := s.jobs.find(r.PathValue("id"))
	if err != nil {
		status, doc := statusOf(err)
		writeDoc(w, status, doc)
		return
	}
	out := newStream(w)
	for {
		d, changed := x.state()
		if x.ended() {
			d, _ = x.state()
			out.send("end", s.local(d))
			return
		}
		if !out.send("progress", s.local(d)) {
			return
		}
		select {
		case <-changed:
		case <-r.Context().Done():
			return
		}
		select {
		case <-time.After(progressTime):
		case <-r.Context().Done():
			return
		}
	}
}

// folderDoc tells a page which files it would see.
type folderDoc struct {
	Hash   string `json:"hash"`
	Field  string `json:"field"`
	Ground string `json:"ground"`
}

// glance hashes the flight file and its drawings; empty for what is not there.
func (s *Server) glance() folderDoc {
	text, err := os.ReadFile(s.opt.Flight)
	if err != nil {
		return folderDoc{}
	}
	values, _ := flightfile.Values(s.opt.Flight, text) // what cannot be read names no drawings
	return folderDoc{
		hashOf(text),
		hashOf(s.folder.drawing("field", values).bytes),
		hashOf(s.folder.drawing("ground", values).bytes),
	}
}
