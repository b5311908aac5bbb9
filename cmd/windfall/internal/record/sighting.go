package record

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
)

// AddSighting logs a sighting, or puts it in the place of the entry amend (0:
// none). A caution, where there is one, names an entry that says the same.
func AddSighting(path string, f *flightfile.File, s evidence.Sighting, amend int64, st Stamp) (
	entry logbook.Entry, caution string, err error) {
	in, err := Inputs(f, st)
	if err != nil {
		return entry, "", err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return entry, "", err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if amend == 0 {
		if entry, err = add(b, in, logbook.Kind(s.Kind.Entry()), st, s); err == nil {
			caution = saidBefore(b, entry)
		}
		return entry, caution, err
	}
	if _, err := ownEntry(b, f, amend, nil); err != nil {
		return entry, "", err
	}
	text, err := json.Marshal(s)
	if err != nil {
		return entry, "", err
	}
	entry, err = b.Amend(amend, st.By, st.Now, text)
	return entry, "", err
}

// saidBefore is a caution where the same person has logged the same of the
// flight before; "": nobody has, or it cannot be told.
func saidBefore(b *logbook.Book, x logbook.Entry) string {
	all, err := b.Entries(logbook.Query{Flight: x.Flight, Kinds: []logbook.Kind{x.Kind}})
	if err != nil {
		return ""
	}
	for _, old := range all {
		if old.ID != x.ID && old.By == x.By && string(old.Body) == string(x.Body) {
			return fmt.Sprintf("entry %d says the same, and both count; if it was typed twice take this one back: "+
				"windfall log --withdraw %d", old.ID, x.ID)
		}
	}
	return ""
}

// OldSighting returns a logged sighting of the flight and who logged it; of one
// that cannot be used, what can be read.
func OldSighting(path string, f *flightfile.File, id int64) (s evidence.Sighting, by string, err error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return s, "", err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	old, err := ownEntry(b, f, id, nil)
	if err != nil {
		return s, "", err
	}
	s, _, err = evidence.Decode(id, old.By, string(old.Kind), old.Body)
	if err != nil {
		s = readable(old)
	}
	return s, old.By, nil
}

// seen are the kinds of entry that saw logs.
var seen = []logbook.Kind{logbook.Sighting, logbook.Timing, logbook.Height, logbook.NothingIn}

// Logged lists what is logged of the flight of some kinds; of none, what was
// seen.
func Logged(path string, f *flightfile.File, kinds ...logbook.Kind) (all []logbook.Entry, err error) {
	b, err := logbook.OpenRead(path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	if kinds == nil {
		kinds = seen
	}
	all, err = b.Entries(logbook.Query{Flight: f.Flight.ID, Kinds: kinds})
	if all == nil {
		all = []logbook.Entry{}
	}
	return all, err
}

// Sentence says an entry in one line.
func Sentence(x logbook.Entry) string {
	switch x.Kind {
	case logbook.Measured, logbook.Track, logbook.Find:
		return sentence(x)
	}
	s, ok, err := evidence.Decode(x.ID, x.By, string(x.Kind), x.Body)
	if err != nil || !ok {
		return string(x.Kind)
	}
	return s.String()
}

// ownEntry returns the flight's live entry of a number and of one of the kinds
// (none: those that were seen), or says what there is.
func ownEntry(b *logbook.Book, f *flightfile.File, id int64, kinds []logbook.Kind) (logbook.Entry, error) {
	if kinds == nil {
		kinds = seen
	}
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
		case !slices.Contains(kinds, x.Kind):
			return x, usage.Errorf("entry %d is a %s, not a %s; to take back any entry write windfall log --withdraw %d",
				id, noun(x.Kind), noun(kinds[0]), id)
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

// noun is what to call one entry of a kind.
func noun(k logbook.Kind) string {
	if k == logbook.Measured {
		return "measurement"
	}
	return string(k)
}
