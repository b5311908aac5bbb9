// Package flightfile reads a flight.yaml, the one file a person writes, into
// the structs of the stages: drift.Flight, search.Searcher, search.Target, and
// the ground they are on. Units end here: everything it returns is SI. Every
// error is one line with file, line, field, value and what to write instead.
// It does not judge the flight itself: drift.Prepare does.
package flightfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"windfall/drift"
	"windfall/geo"
	"windfall/geo/chance"
	"windfall/geo/ground"
	"windfall/geo/plane"
	"windfall/geo/quantity"
	"windfall/geo/terrain"
	"windfall/search"
)

// File is a flight file read.
type File struct {
	Path      string // as given
	Text      []byte // as read
	Flight    drift.Flight
	Names     struct{ Site, Vehicle string } // what people call them; empty: not given
	Frame     geo.Frame                      // at the pad
	Searchers []search.Searcher
	Target    search.Target
	Field     plane.Polygons // the ground we have leave to use; nil: not given
	Ground    *ground.Ground // m; nil: not given
	Hours     []time.Time    // hours that the wind's forecast covers; empty: no forecast
	Assumed   []string       // what was left out and taken as
	Warnings  []string
	Sides     []string // every side file read or named, ready to open
	Map       string   // base map of the pictures, ready to open, but not looked at; empty: none
	Learned   Learned  // what a logbook put into Flight, for whoever prints; zero: nothing
	Measured  []string // what was measured on the ground and put into Flight, a sentence each

	written time.Time // when, as the file has it, whatever a setting says
	root    *node
	drafts  map[string][]byte // by absolute path: what stands for side files not saved yet
}

// Learned tells what finds have put into a flight.
type Learned struct {
	ID    int64    // number of the learning in the logbook
	Finds int      // it rests on
	Used  []string // a sentence for each input it moves
}

// Setting is one key replaced by another value before the file is read:
// {"motor.delay", "6 s"}.
type Setting struct{ Key, Value string }

const (
	maxSize = 1 << 20   // bytes; a flight file is a page long
	maxSide = 128 << 20 // bytes, of a terrain tile; the readers have limits of their own
)

// Read reads the flight file at path, or flight.yaml in the folder at path,
// with the settings put in place of its own.
func Read(path string, settings ...Setting) (*File, error) {
	if st, err := os.Stat(path); err == nil && st.IsDir() {
		path = filepath.Join(path, "flight.yaml")
	}
	st, err := os.Stat(path)
	if err != nil {
		return nil, errors.New(path + ": " + reason(err) + "; 'windfall new DIR' writes a flight to start from")
	}
	if st.Size() > maxSize || !st.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: is no flight file; name a page of text of at most %d MiB, or the folder that holds "+
			"a flight.yaml", path, maxSize>>20)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, errors.New(path + ": " + reason(err))
	}
	return Parse(path, text, nil, settings...)
}

// Parse reads a flight file's text, which stands or would stand at path.
// Drafts, by absolute path, are read in place of side files: what was drawn and
// not saved yet. With an error that lies beyond the YAML it returns what it
// understood.
func Parse(path string, text []byte, drafts map[string][]byte, settings ...Setting) (*File, error) {
	root, err := parse(path, text)
	if err != nil {
		return nil, err
	}
	f := &File{Path: path, Text: text, root: root, drafts: drafts}
	if n := root.get("when"); n != nil {
		f.written = (&decoder{file: path}).time(n)
	}
	for _, s := range settings {
		if err := root.set(path, s.Key, s.Value); err != nil {
			return nil, err
		}
	}
	return f, f.decode()
}

// draft returns what stands for a side file that is not saved yet.
func (f *File) draft(path string) ([]byte, bool) {
	if len(f.drafts) == 0 {
		return nil, false
	}
	abs, err := filepath.Abs(path)
	b, ok := f.drafts[abs]
	return b, ok && err == nil
}

func reason(err error) string {
	if errors.Is(err, os.ErrNotExist) {
		return "there is no such file; check the name"
	}
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

// Error gives an error from a later stage the file and line of the field it
// names; a field that is not in the file takes the line of its nearest parent.
func (f *File) Error(field, msg string) error {
	line := 0
	if n, _ := f.find(field); n != f.root {
		line = n.line
	}
	return &Error{File: f.Path, Line: line, Field: field, Msg: msg}
}

// find returns the node of a field, or of its nearest parent that is in the
// file, and whether it is the field's own.
func (f *File) find(field string) (n *node, own bool) {
	n = f.root
	for _, p := range strings.FieldsFunc(field, func(r rune) bool { return r == '.' || r == '[' || r == ']' }) {
		c := n.field[p]
		if n.kind == list {
			if i, err := strconv.Atoi(p); err == nil && i >= 0 && i < len(n.items) {
				c = n.items[i]
			}
		}
		if c == nil {
			return n, false
		}
		n = c
	}
	return n, true
}

// beside returns the path of a file named in the flight file.
func (f *File) beside(name string) string {
	if filepath.IsAbs(name) {
		return name
	}
	return filepath.Join(filepath.Dir(f.Path), name)
}

var idPattern = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

func (f *File) decode() error {
	d := &decoder{file: f.Path}
	if d.keys(f.root, "") {
		f.identity(d)
		f.site(d)
		f.rail(d)
		f.vehicle(d)
		f.motor(d)
		f.recovery(d)
		f.spread(d)
		f.outcomes(d)
		f.parts(d)
		f.wind(d)
		f.searchers(d)
		f.target(d)
	}
	f.plausible(d)
	f.Assumed = d.assumed
	f.Warnings = append(f.Warnings, d.asked...)
	return d.err
}

func (f *File) identity(d *decoder) {
	if n := f.root.get("flight"); n != nil {
		f.Flight.ID = d.text(n)
		if !idPattern.MatchString(f.Flight.ID) {
			d.fail(n, "%q is not an id; write lower-case letters, digits and single dashes, such as garza-07", f.Flight.ID)
		}
	} else {
		abs, _ := filepath.Abs(f.Path)
		f.Flight.ID = Slug(filepath.Base(filepath.Dir(abs)))
		d.assume("flight: called %s after its folder", f.Flight.ID)
	}
	if n := f.root.get("when"); n != nil {
		f.Flight.When = d.time(n)
		if y := f.Flight.When.Year(); d.err == nil && (y < firstYear || y > lastYear) {
			d.fail(n, "%q is not in the years %d to %d; check the date", n.text, firstYear, lastYear)
		}
	}
}

// Slug makes a flight id of any name.
func Slug(s string) string {
	s = regexp.MustCompile(`[^a-z0-9]+`).ReplaceAllString(strings.ToLower(s), "-")
	if s = strings.Trim(s, "-"); s == "" {
		return "flight"
	}
	return s
}

func (d *decoder) time(n *node) time.Time {
	s := d.text(n)
	t, err := time.Parse(time.RFC3339, strings.Replace(s, " ", "T", 1))
	if err != nil {
		for _, layout := range []string{"2006-01-02T15:04Z07:00", "2006-01-02T15:04:05.999Z07:00"} {
			if t, e := time.Parse(layout, strings.Replace(s, " ", "T", 1)); e == nil {
				return t
			}
		}
		d.fail(n, "%q is not a time with its zone; write one such as 2026-03-14T10:30:00+01:00", s)
	}
	return t
}

func (f *File) site(d *decoder) {
	n := d.need(f.root, "site", "{pad: 39.0512, -5.5831, elevation: 412 m}")
	if n == nil || !d.keys(n, "site") {
		return
	}
	f.Names.Site = d.text(n.get("name"))
	s := &f.Flight.Site
	s.Pad = d.place(d.need(n, "pad", "39.0512, -5.5831"))
	f.Frame = geo.Frame{Origin: s.Pad}
	s.Elevation = d.value(n.get("elevation"), quantity.Length, finite)
	if n.get("elevation") == nil && n.get("terrain") == nil {
		d.assume("site.elevation: 0 m above sea level")
	}
	if m := n.get("map"); m != nil {
		f.Map = f.beside(d.text(m))
	}
	s.Ceiling = d.pointer(n.get("ceiling"), quantity.Length, positive)
	s.Temperature = d.pointer(n.get("temperature"), quantity.Temperature, positive)
	s.QNH = d.pointer(n.get("pressure"), quantity.Pressure, positive)
	f.sideFile(d, n.get("field"), func(r io.Reader, name string) (err error) {
		f.Field, err = ground.ReadField(r, name, f.Frame)
		if field := chance.Area("field", chance.Field, f.Field); err == nil && !field.Contains(geo.XY{}) {
			f.Warnings = append(f.Warnings, name+": the field does not contain the pad; check that it is drawn around it")
		}
		return err
	})
	f.sideFile(d, n.get("ground"), func(r io.Reader, name string) (err error) {
		f.Ground, err = ground.Read(r, name, f.Frame)
		return err
	})
	f.sideFile(d, n.get("terrain"), func(r io.Reader, name string) error {
		t, err := terrain.Read(r, name, f.Frame)
		if err == nil {
			f.Flight.Terrain = t
			f.padFromTerrain(d, n, t)
		}
		return err
	})
}

// padFromTerrain takes the pad's elevation from the terrain where the file
// gives none.
func (f *File) padFromTerrain(d *decoder, n *node, t *terrain.Tile) {
	if n.get("elevation") != nil {
		return
	}
	h, ok := t.Elevation(geo.XY{})
	if !ok {
		d.fail(n.get("terrain"), "has no height at the pad; write site.elevation, such as elevation: 412 m")
		return
	}
	f.Flight.Site.Elevation = h
	d.assume("site.elevation: %.0f m, from the terrain", h)
}

// sideFile reads a side file through read, whose errors name the file.
func (f *File) sideFile(d *decoder, n *node, read func(r io.Reader, name string) error) {
	path := f.side(d, n)
	if path == "" || d.err != nil {
		return
	}
	var in io.Reader
	if b, ok := f.draft(path); ok {
		in = bytes.NewReader(b)
	} else {
		file, err := os.Open(path)
		if err != nil {
			d.fail(n, "%q: %s", n.text, reason(err))
			return
		}
		defer file.Close()
		in = file
	}
	if err := read(in, path); err != nil && d.err == nil {
		d.err = err
	}
}

// side returns the path of a side file, which must be there.
func (f *File) side(d *decoder, n *node) string {
	if n == nil {
		return ""
	}
	name := d.text(n)
	path := f.beside(name)
	if _, ok := f.draft(path); ok {
		return path
	}
	st, err := os.Stat(path)
	if err != nil {
		d.fail(n, "%q: %s", name, reason(err))
		return ""
	}
	switch {
	case st.IsDir():
		d.fail(n, "%q is a folder; name a file", clip(name))
		return ""
	case !st.Mode().IsRegular():
		d.fail(n, "%q is not a file that can be kept with the flight; write what it gives into one", clip(name))
		return ""
	case st.Size() > maxSide:
		d.fail(n, "%q is larger than %d MiB; cut it to the flight", clip(name), maxSide>>20)
		return ""
	}
	f.Sides = append(f.Sides, path)
	return path
}

func (f *File) rail(d *decoder) {
	n := f.root.get("rail")
	if n == nil {
		f.Flight.Rail.Length = defaultRail
		d.assume("rail: %g m guided, vertical", defaultRail)
		return
	}
	if !d.keys(n, "rail") {
		return
	}
	r := &f.Flight.Rail
	var ok bool
	if r.Length, ok = d.quantity(n.get("length"), quantity.Length, positive); !ok && n.get("length") == nil {
		r.Length = defaultRail
		d.assume("rail.length: %g m guided", defaultRail)
	}
	r.LeanDeg = d.value(n.get("lean"), quantity.Angle, nonNeg)
	if t := n.get("toward"); t != nil {
		r.TowardDeg = f.direction(d, t)
	} else if r.LeanDeg > 0 {
		d.need(n, "toward", "250 deg")
	}
}

// defaultRail is a common rod, 1 m: common practice, no source.
const defaultRail = 1.0 // m
