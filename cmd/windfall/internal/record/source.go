// Package record joins a flight file with what the logbook holds of the flight:
// it reads both into the situation's input, and writes what people report. The
// bodies of tracks and finds are its own; those of sightings are evidence's.
package record

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/measured"
	"windfall/cmd/windfall/internal/situation"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/evidence"
	"windfall/drift/learn"
	"windfall/drift/logbook"
	"windfall/geo"
)

// Source names what is read of a flight.
type Source struct {
	Flight     string // path of the flight file or of its folder
	Settings   []flightfile.Setting
	Logbook    string // path; read as empty where there is none
	NoLearning bool   // leave out what the logbook has learned
	Withheld   bool   // use what it has learned even where that is withheld
}

// Flight is a flight as read.
type Flight struct {
	File  *flightfile.File
	Input situation.Input

	habits *learn.Result // of observers; nil: none are known
	found  string        // the latest find of the vehicle, in words; "": none is logged
}

// Read reads the flight file, puts in what the logbook has learned, and makes
// the flight ready to fly. Sightings and tracks stay out.
func Read(src Source) (*Flight, error) {
	f, err := flightfile.Read(src.Flight, src.Settings...)
	if err != nil {
		return nil, usage.Mark(err)
	}
	l, err := LastLearned(src)
	if err != nil {
		return nil, err
	}
	l.Apply(f)
	out, err := Prepare(f)
	if err == nil && out.Input.Learned != nil {
		out.habits = &l.result
	}
	return out, err
}

// Load is Read with the sightings and tracks that the logbook holds; it warns
// where the vehicle has been found.
func Load(src Source) (*Flight, error) {
	f, err := Read(src)
	if err != nil {
		return nil, err
	}
	err = f.LoadLogged(src.Logbook)
	if f.found != "" {
		f.Input.Cautions = append(f.Input.Cautions,
			"it has been found ("+f.found+"); the map tells what is known without that")
	}
	return f, err
}

// Prepare makes a flight that has been read ready to fly.
func Prepare(f *flightfile.File) (*Flight, error) {
	m, err := f.Model()
	if err != nil {
		return nil, usage.Mark(err)
	}
	out := &Flight{File: f, Input: situation.Input{
		Flight: f.Flight, Model: m, Field: f.Field, Ground: f.Ground,
		Searchers: f.Searchers, Target: f.Target, Assumed: f.Assumed, Cautions: f.Warnings, Measured: f.Measured,
	}}
	if f.Learned.ID != 0 {
		out.Input.Learned = &situation.Learned{ID: f.Learned.ID, Finds: f.Learned.Finds, Used: f.Learned.Used}
	}
	return out, nil
}

// LoadLogged puts the sightings and tracks of the logbook at path into the
// flight's input.
func (f *Flight) LoadLogged(path string) (err error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	entries, err := b.Entries(logbook.Query{Flight: f.Input.Flight.ID})
	if err != nil {
		return err
	}
	f.takeLogged(entries)
	return nil
}

// takeLogged puts the sightings and tracks among entries into the flight's input.
func (f *Flight) takeLogged(entries []logbook.Entry) {
	f.Input.Sightings, f.Input.Tracks, f.found = nil, nil, ""
	for _, x := range entries {
		if x.Kind == logbook.Find {
			f.found = cmp.Or(ofVehicle(x), f.found)
		}
		s, ok, err := evidence.Decode(x.ID, x.By, string(x.Kind), x.Body)
		if err != nil {
			f.leaveOut(x, err)
			continue
		}
		if ok {
			f.Input.Sightings = append(f.Input.Sightings, s)
		}
		if x.Kind != logbook.Track {
			continue
		}
		t, err := decodeGone(x, f.File.Frame)
		if err != nil {
			f.leaveOut(x, err)
			continue
		}
		f.Input.Tracks = append(f.Input.Tracks, t)
	}
	if f.habits != nil {
		l := *f.Input.Learned
		l.Used = append(slices.Clone(l.Used), f.habits.Correct(f.Input.Sightings)...)
		f.Input.Learned = &l
	}
}

// leaveOut says of an entry that cannot be read that it counts for nothing: one
// bad row must not keep the others from the map.
func (f *Flight) leaveOut(x logbook.Entry, err error) {
	f.Input.Cautions = append(f.Input.Cautions, leftOut(x, err))
}

func leftOut(x logbook.Entry, err error) string {
	return fmt.Sprintf("entry %d of the logbook is left out: %v; amend or withdraw it", x.ID, err)
}

// CheckEntry says what would keep an entry read from elsewhere from being used.
func CheckEntry(x logbook.Entry) error {
	switch x.Kind {
	case logbook.Track:
		_, err := decodeGone(x, geo.Frame{})
		return err
	case logbook.Measured:
		_, err := measured.Decode(x.Body)
		return err
	case logbook.Find:
		if err := checkFind(x); err != nil {
			return err
		}
	}
	_, _, err := evidence.Decode(x.ID, x.By, string(x.Kind), x.Body)
	return err
}
