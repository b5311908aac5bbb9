package page

import (
	"cmp"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"windfall/cmd/windfall/internal/field"
	"windfall/cmd/windfall/internal/record"
	"windfall/geo/magnetic"
	"windfall/search"
)

// crew is the field of the flight that is served.
type crew struct {
	mu     sync.Mutex
	flight *record.Flight // as it was read last
	stamps string         // of the files that it was read from
	field  *field.Field
	id     string // of the flight that field is of

	adopted string // the kept plan that was looked at last, as stampOf has it

	left leftKept
	seen seenKept
}

// fieldNow returns the flight as it is saved, read anew where a file of it has
// changed, and its field.
func (s *Server) fieldNow() (*record.Flight, *field.Field, error) {
	c := &s.crew
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.flight == nil || c.stamps != stampsOf(c.flight) {
		f, err := record.Read(record.Source{Flight: s.opt.Flight, Logbook: s.opt.Logbook, NoLearning: s.opt.NoLearning})
		if err != nil {
			return nil, nil, faulty(err)
		}
		c.flight, c.stamps = f, stampsOf(f)
	}
	if id := c.flight.Input.Flight.ID; c.field == nil || c.id != id {
		if c.field != nil {
			c.field.Close() // it was of another flight
		}
		c.field = field.New(field.Options{Logbook: s.opt.Logbook, Flight: id, Version: s.opt.Version})
		c.id = id
	}
	return c.flight, c.field, nil
}

// stampsOf says when the files of a flight were changed, and how long they are.
func stampsOf(f *record.Flight) string {
	var b strings.Builder
	for _, name := range append([]string{f.File.Path}, f.File.Sides...) {
		fmt.Fprintf(&b, "%s %s\n", name, stampOf(name))
	}
	return b.String()
}

// stampOf is that of one file; "none" where it is not there.
func stampOf(name string) string {
	st, err := os.Stat(name)
	if err != nil {
		return "none"
	}
	return fmt.Sprint(st.ModTime().UnixNano(), " ", st.Size())
}

func (c *crew) close() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.field != nil {
		c.field.Close()
	}
}

// fieldDoc is all that a phone needs.
type fieldDoc struct {
	Version   int64             `json:"version"`
	Now       time.Time         `json:"now"`
	Flight    fieldFlight       `json:"flight"`
	Ignition  *field.Press      `json:"ignition"`
	Buttons   []field.Button    `json:"buttons"`
	Me        person            `json:"me"`
	People    []person          `json:"people"`
	Searchers []fieldSearcher   `json:"searchers"`
	Plan      *field.Plan       `json:"plan"`
	Progress  []field.LaneState `json:"progress"`
	Entries   []field.Entry     `json:"entries"`
	Finds     []field.Entry     `json:"finds"`
	Conflicts []field.Clash     `json:"conflicts"`
	Left      *leftBrief        `json:"left"`
}

type fieldFlight struct {
	ID          string     `json:"id"`
	When        *time.Time `json:"when,omitempty"`
	Pad         latLon     `json:"pad"`
	Elevation   float64    `json:"elevation_m"`
	Declination *float64   `json:"declination_deg"`
	Parts       []string   `json:"parts"`
	Outcomes    []string   `json:"outcomes"`
}

type fieldSearcher struct {
	field.CrewState
	Kind      search.Kind `json:"kind"`
	Speed     float64     `json:"speed_mps"`
	Available float64     `json:"available_min"`
}

// person is somebody who has come in, as others see them.
type person struct {
	ID       string     `json:"id"`
	Name     string     `json:"name"`
	Host     bool       `json:"host"`
	Here     bool       `json:"here"`
	Searcher string     `json:"searcher,omitempty"`
	Seen     *time.Time `json:"seen,omitempty"`
	Position *position  `json:"position,omitempty"`
}

type position struct {
	Lat      float64   `json:"lat"`
	Lon      float64   `json:"lon"`
	Accuracy float64   `json:"accuracy_m,omitempty"`
	At       time.Time `json:"at"`
	Age      float64   `json:"age_s"`
}

// since reads the version that a request asks from.
func since(r *http.Request) (int64, error) {
	text := cmp.Or(r.URL.Query().Get("since"), "0")
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 {
		return 0, refuse(http.StatusBadRequest, "since %q is no version; write one that was answered before, or 0",
			clipped(text, 20))
	}
	return n, nil
}

func (s *Server) getField(r *http.Request) (any, error) {
	from, err := since(r)
	if err != nil {
		return nil, err
	}
	f, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	if err := s.adopt(f, fl); err != nil {
		return nil, err
	}
	v, err := fl.View()
	if err != nil {
		return nil, err
	}
	if from > v.Version {
		from = 0 // of another logbook
	}
	now := s.opt.Now()
	d := &fieldDoc{
		Version: v.Version, Now: now, Flight: flightOf(f), Ignition: v.Ignition, Buttons: field.Buttons(),
		People: s.people(s.doors.everybody(), fl, v, now), Searchers: searchersOf(f, v), Plan: v.Plan, Progress: v.Progress,
		Entries: entriesSince(v, from), Finds: v.Finds, Conflicts: v.Conflicts, Left: s.crew.left.brief(v),
	}
	me := s.doors.who(r)
	for _, p := range d.People {
		if p.ID == me.ID {
			d.Me = p
		}
	}
	if v.Plan != nil && v.PlanSince <= from {
		brief := *v.Plan
		brief.Plan = nil
		d.Plan = &brief
	}
	return d, nil
}

func entriesSince(v *field.View, from int64) []field.Entry {
	i, _ := slices.BinarySearchFunc(v.Entries, from+1, func(e field.Entry, n int64) int { return cmp.Compare(e.Seq, n) })
	return v.Entries[i:]
}

func flightOf(f *record.Flight) fieldFlight {
	in := f.Input
	out := fieldFlight{ID: in.Flight.ID, Pad: latLon{in.Flight.Site.Pad.Lat(), in.Flight.Site.Pad.Lon()},
		Elevation: in.Flight.Site.Elevation, Parts: []string{}, Outcomes: []string{}}
	if when := in.Flight.When; !when.IsZero() {
		out.When = &when
		if d, err := magnetic.Declination(in.Flight.Site.Pad, in.Flight.Site.Elevation, when); err == nil {
			out.Declination = &d
		}
	}
	for _, p := range in.Flight.Parts {
		out.Parts = append(out.Parts, p.Name)
	}
	for _, o := range in.Model.Outcomes() {
		out.Outcomes = append(out.Outcomes, o.Name)
	}
	return out
}

func searchersOf(f *record.Flight, v *field.View) (out []fieldSearcher) {
	for _, w := range f.Input.Who() {
		c, ok := v.Crew[w.Name]
		if !ok {
			c = field.CrewState{Name: w.Name, State: "expected"}
		}
		out = append(out, fieldSearcher{c, w.Kind, w.Speed, w.Available / 60})
	}
	return out
}

// people are those who have come in, as others see them.
func (s *Server) people(all []session, fl *field.Field, v *field.View, now time.Time) []person {
	places, _ := fl.Positions.All()
	out := []person{}
	for _, x := range all {
		p := person{ID: x.ID, Name: x.Name, Host: x.Host, Here: x.streams > 0, Searcher: v.SearcherOf(x.Name)}
		if !x.Seen.IsZero() {
			p.Seen = &x.Seen
		}
		if at, ok := places[x.Name]; ok {
			p.Position = &position{at.Lat, at.Lon, at.Accuracy, at.At, max(0, now.Sub(at.At).Seconds())}
		}
		out = append(out, p)
	}
	return out
}

// entriesDoc is what was logged since a version.
type entriesDoc struct {
	Version int64         `json:"version"`
	Now     time.Time     `json:"now"`
	Entries []field.Entry `json:"entries"`
}

func (s *Server) getEntries(r *http.Request) (any, error) {
	from, err := since(r)
	if err != nil {
		return nil, err
	}
	_, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	v, err := fl.View()
	if err != nil {
		return nil, err
	}
	return entriesDoc{v.Version, s.opt.Now(), entriesSince(v, from)}, nil
}

// saidDoc says what became of a batch.
type saidDoc struct {
	Version int64          `json:"version"`
	Now     time.Time      `json:"now"`
	Off     float64        `json:"clock_off_s"`
	Message string         `json:"message,omitempty"`
	Results []field.Result `json:"results"`
}

const mostEntries = 20_000 // of one request

func (s *Server) postEntries(r *http.Request) (any, error) {
	var b struct {
		Now     time.Time         `json:"now"`
		Entries []json.RawMessage `json:"entries"`
	}
	now := s.opt.Now() // before a long queue has come in
	if err := readJSON(r, &b); err != nil {
		return nil, err
	}
	switch {
	case b.Now.IsZero():
		return nil, refuse(http.StatusBadRequest, "the phone's time is missing; write now, such as 2026-03-14T10:30:00Z")
	case len(b.Entries) > mostEntries:
		return nil, refuse(http.StatusRequestEntityTooLarge, "%d entries at once; send at most %d, and the rest after them",
			len(b.Entries), mostEntries)
	}
	f, fl, err := s.fieldNow()
	if err != nil {
		return nil, err
	}
	if err := s.adopt(f, fl); err != nil {
		return nil, err
	}
	who := field.Who{Name: s.doors.who(r).Name}
	out, off, err := fl.Log(f, who, field.Batch{Now: b.Now, Entries: b.Entries}, now)
	if err != nil {
		return nil, err
	}
	s.news.tell()
	if fl.Doubt(r.Context(), f, out) != nil {
		return nil, refuse(499, "cancelled") // nobody waits for it; all is logged
	}
	version, err := fl.Version()
	if err != nil {
		return nil, err
	}
	return saidDoc{version, s.opt.Now(), off.Seconds(), field.ClockWords(off), out}, nil
}
