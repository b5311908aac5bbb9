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
	Learned  bool     // something was learned before

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
	last, err := b.LatestLearned()
	if err != nil {
		return nil, err
	}
	out.Learned = last != nil
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
		made = append(made, l)
	}
	out.takeIn(made)
	return out, nil
}

// takeIn makes cases of lessons; of twins the one with most entries counts, of
// those with as many the first.
func (l *Lessons) takeIn(made []*lesson) {
	for i, x := range made {
		twin := slices.IndexFunc(made, func(o *lesson) bool {
			more, as := len(o.says) > len(x.says), len(o.says) == len(x.says)
			return o != x && x.sameAs(o) != "" && (more || as && slices.Index(made, o) < i)
		})
		if twin >= 0 {
			l.LeftOut = append(l.LeftOut, fmt.Sprintf("%s: it is %s under another name: %s; only one of them counts", x.Flight,
				made[twin].Flight, x.sameAs(made[twin])))
			continue
		}
		if x.Lost {
			l.lost[len(l.Cases)] = x
		}
		l.Cases = append(l.Cases, x.Case)
	}
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
	file, err := storedFile(b, source, dir)
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

// How near two finds lie that are one, m: of flights of the same vehicle in the
// same second, and of any of the same vehicle. Choices of ours; places are logged to a
// metre or so.
const (
	sameFind = 2.0
	veryFind = 0.1
)

// sameAs tells by what two lessons are of one flight; "": they are not.
func (l *lesson) sameAs(o *lesson) string {
	if l.Pad != o.Pad || l.Vehicle != o.Vehicle || l.Lost != o.Lost {
		return ""
	}
	apart := l.Find.Sub(o.Find).Norm()
	together := !l.when.IsZero() && l.when.Equal(o.when)
	switch {
	case !l.Lost && together && apart < sameFind:
		return "the same vehicle in the same second, found at the same place"
	case !l.Lost && apart < veryFind:
		return "the same vehicle, found at the very same place"
	case l.Lost && together && (holds(l.says, o.says) || holds(o.says, l.says)):
		return "the same vehicle in the same second, with the same entries"
	}
	return ""
}

// holds tells whether all of the few are among the many.
func holds(many, few []string) bool {
	return !slices.ContainsFunc(few, func(s string) bool { return !slices.Contains(many, s) })
}

// storedFile reads the flight file that is in force for an entry, its inputs
// written to dir to be read again.
func storedFile(b *logbook.Book, x logbook.Entry, dir string) (*flightfile.File, error) {
	in, err := inputsInForce(b, x)
	if err != nil {
		return nil, err
	}
	main, err := WriteInputs(in, dir)
	if err != nil {
		return nil, err
	}
	return flightfile.Read(main)
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
