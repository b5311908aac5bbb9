package page

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"time"

	"windfall/cmd/windfall/internal/flightfile"
)

// Limits of what is taken in.
const (
	mostJSON = 8 << 20  // bytes of a request: a draft with what is drawn
	mostFile = 32 << 20 // bytes of a file loaded into the folder: an elevation tile has 26 MB
)

func (s *Server) routes() {
	s.mux = http.NewServeMux()
	host := func(f handler) http.Handler { return s.hostOnly(answer(f)) }
	for pattern, h := range map[string]http.Handler{
		"GET /api/v1/flight":             answer(s.getFlight),
		"PUT /api/v1/flight":             host(s.putFlight),
		"POST /api/v1/check":             answer(s.check),
		"POST /api/v1/tries":             answer(s.postTry),
		"GET /api/v1/tries/{id}/point":   answer(s.getPoint),
		"POST /api/v1/compare":           answer(s.postCompare),
		"GET /api/v1/keys":               answer(s.getKeys),
		"GET /api/v1/grid":               answer(s.getGrid),
		"GET /api/v1/map":                answer(s.getMap),
		"GET /api/v1/files":              answer(s.getFiles),
		"PUT /api/v1/files/{name}":       host(s.putFile),
		"GET /api/v1/files/{name...}":    http.HandlerFunc(s.getFile),
		"GET /api/v1/commands":           answer(s.getCommands),
		"POST /api/v1/jobs":              host(s.postJob),
		"GET /api/v1/jobs/{id}":          answer(s.getJob),
		"DELETE /api/v1/jobs/{id}":       host(s.deleteJob),
		"GET /api/v1/jobs/{id}/result":   http.HandlerFunc(s.getResult),
		"GET /api/v1/jobs/{id}/events":   http.HandlerFunc(s.followJob),
		"GET /api/v1/events":             http.HandlerFunc(s.follow),
		"GET /api/v1/field":              answer(s.getField),
		"GET /api/v1/chart":              answer(s.getChart),
		"GET /api/v1/entries":            answer(s.getEntries),
		"POST /api/v1/entries":           answer(s.postEntries),
		"POST /api/v1/plan":              answer(s.postPlan),
		"GET /api/v1/left":               answer(s.getLeft),
		"POST /api/v1/sightings/preview": answer(s.preview),
		"GET /api/v1/cards":              answer(s.getCards),
		"GET /api/v1/people":             host(s.getPeople),
		"DELETE /api/v1/people/{id}":     host(s.deletePerson),
		"DELETE /api/v1/positions":       host(s.deletePositions),
		"GET /api/v1/code/picture":       s.hostOnly(http.HandlerFunc(s.getQR)),
		"GET /ca.crt":                    http.HandlerFunc(s.getAuthority),
		"POST /api/v1/code":              host(s.postCode),
		"GET /map/{z}/{x}/{y}":           http.HandlerFunc(s.getTile),
		"GET /map/picture":               http.HandlerFunc(s.getPicture),
		"GET /field":                     http.RedirectHandler("/crew.html", http.StatusSeeOther),
		"/api/":                          answer(noSuch),
		"/":                              http.HandlerFunc(serveStatic),
	} {
		if slices.Contains(packed, pattern) {
			h = smaller(h)
		}
		s.mux.Handle(pattern, h)
	}
	s.doors.routes(s.mux)
}

// packed are the answers that phones wait for at the edge of range, which go
// compressed. What holds the join code does not: the size of a compressed answer
// tells of what is in it.
var packed = []string{"/", "GET /api/v1/field", "GET /api/v1/chart", "GET /api/v1/entries", "GET /api/v1/left",
	"GET /api/v1/cards", "POST /api/v1/sightings/preview"}

// Handler answers every request, guarded.
func (s *Server) Handler() http.Handler {
	safe := http.NewCrossOriginProtection()
	safe.SetDenyHandler(answer(func(*http.Request) (any, error) {
		return nil, refuse(http.StatusForbidden, "this request comes from another site; open the page itself")
	}))
	return timed(s.headers(s.doors.guard(safe.Handler(s.mux))))
}

// timed gives a request's body and its answer their time.
func timed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		c := http.NewResponseController(w)
		c.SetWriteDeadline(time.Now().Add(answerTime)) // what sets no deadlines, such as a recorder, needs none
		if r.Body != nil && r.Body != http.NoBody {
			c.SetReadDeadline(time.Now().Add(bodyTime))
			r.Body = &timedBody{r.Body, c}
		}
		next.ServeHTTP(w, r)
	})
}

// timedBody lifts the time limit once the body has come: the connection is then
// read only to see whether anybody is still there.
type timedBody struct {
	io.ReadCloser
	c *http.ResponseController
}

func (b *timedBody) Read(p []byte) (int, error) {
	n, err := b.ReadCloser.Read(p)
	if err != nil {
		b.c.SetReadDeadline(time.Time{})
	}
	return n, err
}

// handler answers a request with a document or an error.
type handler func(r *http.Request) (any, error)

// refusal is an error with the status it has on the web.
type refusal struct {
	status int
	doc    any
	text   string
}

func (r *refusal) Error() string { return r.text }

func refuse(status int, format string, a ...any) error {
	return &refusal{status: status, text: fmt.Sprintf(format, a...)}
}

// fault is what is wrong with a flight, as the page shows it beside the field.
type fault struct {
	Field   string `json:"field,omitempty"`
	File    string `json:"file,omitempty"`
	Line    int    `json:"line,omitempty"`
	Message string `json:"message"`
}

func faultOf(err error) *fault {
	if err == nil {
		return nil
	}
	var fe *flightfile.Error
	if errors.As(err, &fe) {
		return &fault{Field: fe.Field, File: fe.File, Line: fe.Line, Message: fe.Msg}
	}
	return &fault{Message: err.Error()}
}

// faulty is a flight that cannot be flown: status 422 with the fault.
func faulty(err error) error {
	return &refusal{
		status: http.StatusUnprocessableEntity,
		text:   err.Error(),
		doc:    map[string]any{"message": err.Error(), "fault": faultOf(err)},
	}
}

func noSuch(r *http.Request) (any, error) {
	return nil, refuse(http.StatusNotFound, "%s %s is not of this API; docs/api.yaml lists it", r.Method, r.URL.Path)
}

// answer writes what f returns as JSON.
func answer(f handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		doc, err := f(r)
		status := http.StatusOK
		if c, ok := doc.(created); ok {
			status, doc = http.StatusAccepted, c.doc
		}
		if err != nil {
			status, doc = statusOf(err)
		}
		writeDoc(w, status, doc)
	}
}

// created is a document of something that has begun: status 202.
type created struct{ doc any }

func statusOf(err error) (int, any) {
	var r *refusal
	if errors.As(err, &r) {
		if r.doc != nil {
			return r.status, r.doc
		}
		return r.status, map[string]any{"message": r.text}
	}
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return http.StatusRequestEntityTooLarge, map[string]any{
			"message": fmt.Sprintf("larger than %d MB", big.Limit>>20),
		}
	}
	return http.StatusInternalServerError, map[string]any{"message": err.Error()}
}

func writeDoc(w http.ResponseWriter, status int, doc any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.Encode(doc) // the reader may have gone; there is nobody to tell
}

// readJSON reads a request's document; keys that are not known are refused.
func readJSON(r *http.Request, into any) error {
	d := json.NewDecoder(http.MaxBytesReader(nil, r.Body, mostJSON))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			return err
		}
		return refuse(http.StatusBadRequest, "the request is not JSON of this API: %v", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return refuse(http.StatusBadRequest, "the request holds more than one document")
	}
	return nil
}
