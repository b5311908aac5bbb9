package page

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// jobs run command lines one at a time, in the order they came.
type jobs struct {
	ctx  context.Context // ends all
	run  func(context.Context, Command) error
	turn chan struct{} // one runs
	done sync.WaitGroup

	mu   sync.Mutex
	next int
	all  []*job // the newest last
}

// job is one command line.
type job struct {
	id     string
	what   *commandKind
	args   []string
	cancel context.CancelFunc

	mu      sync.Mutex
	doc     jobDoc
	out     bytes.Buffer
	changed chan struct{} // closed when doc has changed
}

// jobDoc is how a job stands.
type jobDoc struct {
	ID      string   `json:"id"`
	Command string   `json:"command"`
	Line    string   `json:"line"`
	State   string   `json:"state"` // waiting, running, done, failed or cancelled
	Stage   string   `json:"stage"`
	Done    int      `json:"done"`
	Total   int      `json:"total"`
	Error   string   `json:"error,omitempty"`
	Files   []string `json:"files,omitempty"`
}

const (
	keptJobs    = 20
	mostWaiting = 8
)

func newJobs(ctx context.Context, run func(context.Context, Command) error) *jobs {
	return &jobs{ctx: ctx, run: run, turn: make(chan struct{}, 1)}
}

func (j *jobs) wait() { j.done.Wait() }

// start begins a job, or says that too many wait.
func (j *jobs) start(what *commandKind, args []string) (*job, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	waiting := 0
	for _, x := range j.all {
		if !x.ended() {
			waiting++
		}
	}
	if waiting >= mostWaiting {
		return nil, refuse(http.StatusTooManyRequests, "%d jobs wait already; let one end or cancel it", waiting)
	}
	j.next++
	ctx, cancel := context.WithCancel(j.ctx)
	x := &job{id: strconv.Itoa(j.next), what: what, args: args, cancel: cancel, changed: make(chan struct{})}
	x.doc = jobDoc{ID: x.id, Command: what.Name, Line: lineOf(args), State: "waiting"}
	j.all = append(j.all, x)
	if len(j.all) > keptJobs && j.all[0].ended() {
		j.all = slices.Delete(j.all, 0, 1)
	}
	j.done.Go(func() { j.work(ctx, x) })
	return x, nil
}

func (j *jobs) work(ctx context.Context, x *job) {
	defer x.cancel()
	select {
	case j.turn <- struct{}{}:
		defer func() { <-j.turn }()
	case <-ctx.Done():
		x.end(ctx, ctx.Err())
		return
	}
	if ctx.Err() != nil {
		x.end(ctx, ctx.Err())
		return
	}
	x.change(func(d *jobDoc) { d.State = "running" })
	err := j.run(ctx, Command{Args: x.args, Out: &x.out, Progress: func(stage string, done, total int) {
		x.change(func(d *jobDoc) { d.Stage, d.Done, d.Total = stage, done, total })
	}})
	x.end(ctx, err)
}

func (x *job) change(f func(*jobDoc)) {
	x.mu.Lock()
	defer x.mu.Unlock()
	f(&x.doc)
	close(x.changed)
	x.changed = make(chan struct{})
}

func (x *job) end(ctx context.Context, err error) {
	files := x.files()
	x.change(func(d *jobDoc) {
		switch {
		case err == nil:
			d.State, d.Files = "done", files
		case ctx.Err() != nil:
			d.State = "cancelled"
		default:
			d.State, d.Error = "failed", err.Error()
		}
	})
}

// files are those that the command says it wrote, as the flight's folder has them.
func (x *job) files() []string {
	var doc struct {
		Files []string `json:"files"`
	}
	if json.Unmarshal(x.out.Bytes(), &doc) != nil {
		return nil
	}
	return doc.Files
}

// state returns how the job stands, and a channel that closes when it has changed.
func (x *job) state() (jobDoc, <-chan struct{}) {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.doc, x.changed
}

func (x *job) ended() bool {
	d, _ := x.state()
	return d.State != "waiting" && d.State != "running"
}

func (j *jobs) find(id string) (*job, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	for _, x := range j.all {
		if x.id == id {
			return x, nil
		}
	}
	return nil, refuse(http.StatusNotFound, "job %s is not known here", clipped(id, 20))
}

// lineOf is a command line as a person types it, without --json.
func lineOf(args []string) string {
	out := []string{"windfall"}
	for _, a := range args {
		if a == "--json" {
			continue
		}
		if a == "" || strings.ContainsAny(a, " '\"$&|;<>()*?#~`\\") {
			a = "'" + strings.ReplaceAll(a, "'", `'\''`) + "'"
		}
		out = append(out, a)
	}
	return strings.Join(out, " ")
}

// commandKind is a command that makes files of a flight.
type commandKind struct {
	Name  string
	Title string
	wants string // a file of the flight's folder that it works on; empty: none
	args  func(flight, file string) []string
	files []string // in out, as a command makes them
}

var commandKinds = []*commandKind{
	{
		Name: "predict", Title: "Landing map for phones and printing",
		args:  func(f, _ string) []string { return []string{"predict", f} },
		files: []string{"landing.kml", "landing.kmz", "landing.geojson", "landing.png"},
	},
	{
		Name: "landings", Title: "Every simulated landing",
		args: func(f, _ string) []string {
			return []string{"predict", f, "--landings", filepath.Join(filepath.Dir(f), "out", "landings.csv")}
		},
		files: []string{"landings.csv"},
	},
	{
		Name: "hours", Title: "Hours of the forecast side by side",
		args:  func(f, _ string) []string { return []string{"compare", f, "--hours", "all"} },
		files: []string{"compare-chance.png", "compare-clouds.png"},
	},
	{
		Name: "wind", Title: "Pictures of the wind",
		args: func(f, _ string) []string { return []string{"wind", f} },
	},
	{
		Name: "observers", Title: "Where observers see most, with their cards",
		wants: "Places where they could stand",
		args:  func(f, file string) []string { return []string{"spotters", f, "--candidates", file} },
	},
	{
		Name: "search", Title: "Search plan: maps and the sheet",
		args:  func(f, _ string) []string { return []string{"search", f} },
		files: []string{"search.kml", "search.kmz", "search.gpx", "search.geojson", "search.png", "sheet.html"},
	},
	{
		Name: "forecast", Title: "Forecast for the pad, from the network",
		args: func(f, _ string) []string { return []string{"wind", "--flight", f, "--fetch", "pad"} },
	},
}

// commandsDoc lists what can be made and the command that makes each.
type commandsDoc struct {
	Commands []commandDoc `json:"commands"`
}

type commandDoc struct {
	Name  string   `json:"name"`
	Title string   `json:"title"`
	Wants string   `json:"wants,omitempty"` // what file of the folder it works on
	Line  string   `json:"line"`
	Files []string `json:"files"` // those that are there
}

func (s *Server) getCommands(*http.Request) (any, error) {
	doc := commandsDoc{Commands: []commandDoc{}}
	list, _ := s.getFiles(nil) // it has no errors
	there := list.(filesDoc).Files
	for _, k := range commandKinds {
		c := commandDoc{k.Name, k.Title, k.wants, lineOf(s.argsOf(k, "FILE")), []string{}}
		for _, f := range k.files {
			if slices.Contains(there, "out/"+f) {
				c.Files = append(c.Files, "out/"+f)
			}
		}
		doc.Commands = append(doc.Commands, c)
	}
	return doc, nil
}

// postJob begins a job on the flight as it is saved.
func (s *Server) postJob(r *http.Request) (any, error) {
	var b struct {
		Command string `json:"command"`
		File    string `json:"file"`
	}
	if err := readJSON(r, &b); err != nil {
		return nil, err
	}
	i := slices.IndexFunc(commandKinds, func(k *commandKind) bool { return k.Name == b.Command })
	if i < 0 {
		return nil, refuse(http.StatusBadRequest, "command %q is not known; GET /api/v1/commands lists them",
			clipped(b.Command, 40))
	}
	k := commandKinds[i]
	if (k.wants != "") != (b.File != "") || b.File != "" && !slices.Contains(s.folder.names(), b.File) {
		return nil, refuse(http.StatusBadRequest, "file %q is not one of the flight's folder that %s works on",
			clipped(b.File, 120), k.Name)
	}
	x, err := s.jobs.start(k, append(s.argsOf(k, b.File), "--json"))
	if err != nil {
		return nil, err
	}
	d, _ := x.state()
	return created{d}, nil
}

// argsOf is the command line of a command on a file of the folder, with the
// flags that the page was served with.
func (s *Server) argsOf(k *commandKind, file string) []string {
	args := k.args(s.opt.Flight, filepath.Join(filepath.Dir(s.opt.Flight), file))
	if args[0] == "wind" {
		return args // reads no logbook
	}
	return append(args, s.opt.Flags...)
}

func (s *Server) getJob(r *http.Request) (any, error) {
	x, err := s.jobs.find(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	d, _ := x.state()
	return s.local(d), nil
}

func (s *Server) deleteJob(r *http.Request) (any, error) {
	x, err := s.jobs.find(r.PathValue("id"))
	if err != nil {
		return nil, err
	}
	x.cancel()
	d, _ := x.state()
	return s.local(d), nil
}

// local names a job's files as the flight's folder has them.
func (s *Server) local(d jobDoc) jobDoc {
	var out []string
	for _, f := range d.Files {
		if rel, err := filepath.Rel(filepath.Dir(s.opt.Flight), f); err == nil && filepath.IsLocal(rel) {
			out = append(out, filepath.ToSlash(rel))
		}
	}
	d.Files = out
	return d
}

// getResult hands out the document of a job that is done, byte for byte what
// the command prints with --json.
func (s *Server) getResult(w http.ResponseWriter, r *http.Request) {
	x, err := s.jobs.find(r.PathValue("id"))
	if err == nil && !x.ended() {
		err = refuse(http.StatusConflict, "job %s is not done", x.id)
	}
	if err == nil {
		if d, _ := x.state(); d.State != "done" {
			err = refuse(http.StatusConflict, "job %s has %s", x.id, d.State)
		}
	}
	if err != nil {
		status, doc := statusOf(err)
		writeDoc(w, status, doc)
		return
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.Write(x.out.Bytes())
}
