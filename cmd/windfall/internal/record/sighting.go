package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
)

// AddSighting logs a sighting, or puts it in the place of the entry amend (0:
// none).
func AddSighting(path string, f *flightfile.File, s evidence.Sighting, amend int64, st Stamp) (
	entry logbook.Entry, err error) {
	in, err := Inputs(f, st)
	if err != nil {
		return entry, err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return entry, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if amend == 0 {
		return add(b, in, logbook.Kind(s.Kind.Entry()), st, s)
	}
	if _, err := ownSighting(b, f, amend); err != nil {
		return entry, err
	}
	text, err := json.Marshal(s)
	if err != nil {
		return entry, err
	}
	return b.Amend(amend, st.By, st.Now, text)
}

// WithdrawSighting takes a sighting of the flight back.
func WithdrawSighting(path string, f *flightfile.File, id int64, st Stamp) (entry logbook.Entry, err error) {
	b, err := logbook.Open(path)
	if err != nil {
		return entry, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if _, err := ownSighting(b, f, id); err != nil {
		return entry, err
	}
	return b.Withdraw(id, st.By, st.Now)
}

// OldSighting returns a logged sighting of the flight and who logged it.
func OldSighting(path string, f *flightfile.File, id int64) (s evidence.Sighting, by string, err error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return s, "", err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	old, err := ownSighting(b, f, id)
	if err != nil {
		return s, "", err
	}
	s, ok, err := evidence.Decode(id, old.By, string(old.Kind), old.Body)
	if err != nil || !ok {
		return s, "", usage.Errorf("entry %d is a %s, which saw cannot amend", id, old.Kind)
	}
	return s, old.By, nil
}

// Sightings lists what was seen of the flight.
func Sightings(path string, f *flightfile.File) (all []logbook.Entry, err error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	kinds := []logbook.Kind{logbook.Sighting, logbook.Timing, logbook.Height, logbook.NothingIn}
	all, err = b.Entries(logbook.Query{Flight: f.Flight.ID, Kinds: kinds})
	if all == nil {
		all = []logbook.Entry{}
	}
	return all, err
}

// SightingLine says a sighting's entry in one line.
func SightingLine(x logbook.Entry) string {
	s, ok, err := evidence.Decode(x.ID, x.By, string(x.Kind), x.Body)
	if err != nil || !ok {
		return string(x.Kind)
	}
	return s.String()
}

// ownSighting returns the flight's live sighting of a number, or says what
// there is.
func ownSighting(b *logbook.Book, f *flightfile.File, id int64) (logbook.Entry, error) {
	all, err := b.Entries(logbook.Query{Flight: f.Flight.ID, Withdrawn: true})
	if err != nil {
		return logbook.Entry{}, err
	}
	var ids []string
	for _, x := range all {
		switch {
		case x.ID != id:
			if !x.Withdrawn {
				ids = append(ids, fmt.Sprint(x.ID))
			}
		case x.Withdrawn:
			return x, usage.Errorf("entry %d is withdrawn already", id)
		case x.Kind == logbook.Track || x.Kind == logbook.Find:
			return x, usage.Errorf("entry %d is a %s, not a sighting", id, x.Kind)
		default:
			return x, nil
		}
	}
	have := "it has none"
	if len(ids) > 0 {
		have = "it has " + strings.Join(ids, ", ")
	}
	return logbook.Entry{}, usage.Errorf("flight %s has no entry %d; %s", f.Flight.ID, id, have)
}
