// Package page serves one flight as a page in the browser: a map that can be
// changed by hand, a form with every key of the flight file, what-if, and every
// file that the commands make. Under it lies a JSON API, docs/api.yaml, whose
// documents are those of the commands' --json.
//
// It computes nothing of its own: flights go through situation and compare as
// the commands' do, and jobs run the program's own command lines. It writes to
// the flight's folder alone, whole files or none, and never over a change that
// was made elsewhere meanwhile.
//
//	folder   the files of the flight, with a hash of each as it was read
//	draft    the flight as it would be with a page's changes
//	try      the landing map of a draft
//	job      a command line, run with progress, to be cancelled
//
// The page itself, static, is made from web by web/build.sh.
package page

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"sync"
	"time"

	"windfall/cmd/windfall/internal/flightfile"
)

// Options are what a page is served with.
type Options struct {
	Flight     string   // path of the flight file, as it was named
	Logbook    string   // path of the logbook
	NoLearning bool     // leave out what the logbook has learned
	Flags      []string // of the two before, as they were given: for the command lines of jobs
	Base       string   // base map, a file or an address as openBase has it; empty: none
	Credit     string   // attribution of the base map; empty: what the file says
	Shared     bool     // others on the network may come in with the join code
	Sessions   string   // path of the file that keeps who has come in; empty: none
	TLS        bool     // served by TLS
	Authority  []byte   // certificate that phones must be told to trust, DER; nil: none
	Names      []string // by which the page is reached beside its addresses, such as a certificate's
	Version    string   // of the program, for the logbook
	Now        func() time.Time

	// Run runs one command line of the program, such as predict FLIGHT --json.
	Run func(ctx context.Context, c Command) error
}

// Command is a command line and where its output goes.
type Command struct {
	Args     []string
	Out      io.Writer
	Progress func(stage string, done, total int)
}

// Server serves one flight.
type Server struct {
	opt    Options
	folder *folder
	tries  tries
	jobs   *jobs
	base   baseMap
	doors  *doors
	crew   crew
	news   news
	mux    *http.ServeMux

	stop     context.CancelFunc // ends streams and jobs
	stopping context.Context
	heavy    chan struct{} // as many tokens as try at once
}

// New makes a server of a flight that is there. An error is of the base map.
func New(o Options) (*Server, error) {
	if f, err := flightfile.Read(o.Flight); o.Base == "" && err == nil {
		o.Base = f.Map
	}
	base, err := openBase(o.Base, o.Credit)
	if err != nil {
		return nil, err
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	s := &Server{
		opt:    o,
		folder: &folder{path: o.Flight},
		base:   base,
		doors:  newDoors(o),
		news:   newNews(),
		heavy:  make(chan struct{}, 2),
	}
	s.stopping, s.stop = context.WithCancel(context.Background())
	s.jobs = newJobs(s.stopping, o.Run)
	s.routes()
	return s, nil
}

// Close ends streams and jobs and closes the base map.
func (s *Server) Close() {
	s.stop()
	s.jobs.wait()
	s.crew.close()
	s.base.close()
}

// JoinCode is what others on the network type to come in; empty: nobody can.
func (s *Server) JoinCode() string { return s.doors.code() }

// HostPath is the path that makes a browser the laptop's own, which may change
// the flight: "/" where no one else comes in.
func (s *Server) HostPath() string { return s.doors.hostPath() }

// How long a request's head and body may take to arrive, an answer to be made
// and go out, an idle connection to stay, and the last answers to go out when
// the program stops.
const (
	headTime   = 5 * time.Second
	bodyTime   = 60 * time.Second
	answerTime = 5 * time.Minute
	idleTime   = 2 * time.Minute
	stopTime   = 5 * time.Second
)

// Serve answers on l until ctx ends; then it lets what is being saved be saved.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	s.doors.admit(l.Addr(), s.opt.Names...)
	s.doors.setAddress(URL(l.Addr(), s.opt.TLS))
	srv := &http.Server{ // Handler sets the times of bodies and answers: a stream has none
		Handler:           s.Handler(),
		ReadHeaderTimeout: headTime,
		IdleTimeout:       idleTime,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          log.New(untrusting{log.Default().Writer()}, "", log.LstdFlags),
	}
	var once sync.WaitGroup
	once.Go(func() {
		<-ctx.Done()
		s.stop()
		end, cancel := context.WithTimeout(context.Background(), stopTime)
		defer cancel()
		if srv.Shutdown(end) != nil {
			srv.Close()
		}
	})
	err := srv.Serve(l)
	if !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	once.Wait()
	return nil
}

// untrusting leaves out of a log what every phone causes that has not been told
// yet to trust the certificate.
type untrusting struct{ to io.Writer }

func (u untrusting) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte("TLS handshake error")) {
		return len(p), nil
	}
	return u.to.Write(p)
}

// URL is how people open a page that is served at an address.
func URL(a net.Addr, tls bool) string {
	if tls {
		return "https://" + Reached(a)
	}
	return "http://" + Reached(a)
}

// address is where others open the page; empty: nowhere, or not known yet.
func (s *Server) address() string {
	s.doors.mu.Lock()
	defer s.doors.mu.Unlock()
	return s.doors.address
}
