package record

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/measured"
	"windfall/cmd/windfall/internal/situation"
	"windfall/drift"
	"windfall/drift/evidence"
	"windfall/drift/learn"
	"windfall/drift/logbook"
	"windfall/geo"
)

// Lessons is what a logbook offers to learn from.
type Lessons struct {
	Cases    []learn.Case
	Measured []learn.Measured
	LeftOut  []string // why something could not be used, a sentence each
	Digest   string   // of all that teaches

	lost map[int]*lesson // by case: flights never found
}

// Nothing tells whether there is nothing to learn from.
func (l *Lessons) Nothing() bool { return len(l.Cases)+len(l.Measured) == 0 }

// LearnFrom turns what a logbook holds into cases, one for each flight that was
// found or of which anything was seen or searched, with the inputs stored with
// its last find, or its latest; and into measurements.
func LearnFrom(ctx context.Context, path string) (*Lessons, error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return nil, err
	}
	defer b.Close()
	out := &Lessons{lost: map[int]*lesson{}}
	if out.Digest, err = digest(b); err != nil {
		return nil, err
	}
	all, cautions, err := measurements(b)
	if err != nil {
		return nil, err
	}
	out.Measured, out.LeftOut = all.ForLearning(), cautions
	flights, err := byFlight(b)
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "windfall-learn-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	var made []*lesson
	for i, x := range flights {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		at := filepath.Join(dir, fmt.Sprint(i))
		l, err := lessonOf(b, x, all, at)
		switch {
		case err != nil:
			out.LeftOut = append(out.LeftOut, fmt.Sprintf("%s (entry %d): %s", x[0].Flight, x[len(x)-1].ID,
				strings.ReplaceAll(err.Error(), at+"/", "stored ")))
			continue
		case l == nil:
			continue
		}
		out.LeftOut = append(out.LeftOut, l.cautions...)
		if twin := l.twinOf(made); twin != nil {
			out.LeftOut = append(out.LeftOut, fmt.Sprintf("%s: it is %s under another name, the same vehicle at the same "+
				"time and place with the same entries; only one of them counts", l.Flight, twin.Flight))
			continue
		}
		if l.Lost {
			out.lost[len(out.Cases)] = l
		}
		made = append(made, l)
		out.Cases = append(out.Cases, l.Case)
	}
	return out, nil
}

// byFlight returns the entries of every flight that has any of those that teach, in
// the order of their first.
func byFlight(b *logbook.Book) (flights [][]logbook.Entry, err error) {
	entries, err := b.Entries(logbook.Query{})
	at := map[string]int{}
	for _, e := range entries {
		if !teaches(e) {
			continue
		}
		i, ok := at[e.Flight]
		if !ok {
			i = len(flights)
			at[e.Flight] = i
			flights = append(flights, nil)
		}
		flights[i] = append(flights[i], e)
	}
	return flights, err
}

// teaches tells whether an entry is of a kind that is learned from with its flight.
func teaches(e logbook.Entry) bool {
	switch e.Kind {
	case logbook.Find:
		var f Find
		return json.Unmarshal(e.Body, &f) == nil && !f.Unconfirmed
	case logbook.Sighting, logbook.Timing, logbook.Height, logbook.NothingIn, logbook.Track:
		return true
	}
	return false
}

// lesson is a case, and what tells it from another.
type lesson struct {
	learn.Case
	when     time.Time
	says     []string // its entries in words
	cautions []string
	model    *drift.Model
	logged   learn.Logged
}

// lessonOf makes a case of a flight's entries, its inputs written to dir to be
// read again, as measured on the ground; nil where nothing of them teaches.
func lessonOf(b *logbook.Book, entries []logbook.Entry, on measured.All, dir string) (*lesson, error) {
	var find *logbook.Entry
	for i := range entries {
		var body Find
		if entries[i].Kind == logbook.Find && json.Unmarshal(entries[i].Body, &body) == nil && body.Part == "" {
			find = &entries[i]
		}
	}
	source := logbook.Entry{Flight: entries[0].Flight}
	if find != nil {
		source = *find
	}
	in, err := inputsInForce(b, source)
	if err != nil {
		return nil, err
	}
	main, err := WriteInputs(in, dir)
	if err != nil {
		return nil, err
	}
	file, err := flightfile.Read(main)
	if err != nil {
		return nil, err
	}
	on.UseInputs(file)
	f, err := Prepare(file)
	if err != nil {
		return nil, err
	}
	f.Input.Cautions = nil
	f.takeLogged(entries)
	l := &lesson{when: file.Flight.When, cautions: f.Input.Cautions, model: f.Input.Model}
	all := &l.logged
	for _, s := range f.Input.Sightings {
		if _, err := evidence.NewWeigher(f.Input.Model, []evidence.Sighting{s}); err != nil {
			l.cautions = append(l.cautions, fmt.Sprintf("%s (entry %d): %v", source.Flight, s.ID, err))
			continue
		}
		all.Seen = append(all.Seen, s)
	}
	if len(f.Input.Tracks) > 0 {
		all.Missed = situation.Missed(f.Input)
	}
	if find != nil {
		if err := readFind(*find, file.Frame, all); err != nil {
			return nil, err
		}
	}
	if find == nil && len(all.Seen) == 0 && all.Missed == nil {
		return nil, nil
	}
	if l.Case, err = learn.NewCase(l.model, *all); err != nil {
		return nil, err
	}
	l.Flight, l.PlaceTitle, l.VehicleTitle = source.Flight, file.Names.Site, file.Names.Vehicle
	for _, e := range l.Entries {
		l.says = append(l.says, e.Says)
	}
	return l, nil
}

// readFind puts a find into what was logged.
func readFind(e logbook.Entry, frame geo.Frame, all *learn.Logged) error {
	p, ok := e.Geometry().(orb.Point)
	if !ok {
		return errors.New("the entry has no place")
	}
	var body Find
	if err := json.Unmarshal(e.Body, &body); err != nil {
		return err
	}
	at := frame.ToXY(p)
	all.Find, all.Outcome = &at, body.Outcome
	return nil
}

// sameFind is how near two finds lie that are one, m.
const sameFind = 2.0

// twinOf returns the lesson of the same flight under another name.
func (l *lesson) twinOf(others []*lesson) *lesson {
	for _, o := range others {
		if !l.when.IsZero() && l.when.Equal(o.when) && l.Pad == o.Pad && l.Vehicle == o.Vehicle && l.Lost == o.Lost &&
			l.Find.Sub(o.Find).Norm() < sameFind && slices.Equal(l.says, o.says) {
			return o
		}
	}
	return nil
}

// inputsInForce returns the inputs stored with an entry, or the flight's latest.
func inputsInForce(b *logbook.Book, f logbook.Entry) (*logbook.Inputs, error) {
	id := f.Inputs
	if id == 0 {
		all, err := b.FlightInputs(f.Flight)
		if err != nil {
			return nil, err
		}
		if len(all) == 0 {
			return nil, errors.New("its flight file is not in the logbook; log the find with 'windfall found FLIGHT LAT,LON'")
		}
		id = all[len(all)-1].ID
	}
	return b.Inputs(id)
}
