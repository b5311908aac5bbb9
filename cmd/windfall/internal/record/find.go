package record

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/paulmach/orb"

	"windfall/cmd/windfall/internal/flightfile"
	"windfall/cmd/windfall/internal/usage"
	"windfall/drift/logbook"
)

// Find is what the logbook keeps of a find. What a map said of it is worked out
// anew from the inputs in force.
type Find struct {
	Lat     float64 `json:"lat"`
	Lon     float64 `json:"lon"`
	Part    string  `json:"part,omitempty"`    // a shed part, not the vehicle
	Outcome string  `json:"outcome,omitempty"` // how the flight went, where it is known

	LooksLike string  `json:"looks_like,omitempty"` // what it looked like, in words
	Accuracy  float64 `json:"accuracy_m,omitempty"` // of the place, as a phone says; 0: not said

	// Unconfirmed is a find in a picture that nobody has stood at yet: nothing is
	// learned from it. Candidate is its number among the flight's.
	Unconfirmed bool `json:"unconfirmed,omitempty"`
	Candidate   int  `json:"candidate,omitempty"`
}

// At is where it lay.
func (f Find) At() orb.Point { return orb.Point{f.Lon, f.Lat} }

// AddFind logs a find, or puts it in the place of the find with a number
// (insteadOf, 0: none). It returns the entry, and cautions about finds of the
// same that are logged already.
func AddFind(path string, f *flightfile.File, find Find, insteadOf int64, st Stamp) (
	entry logbook.Entry, cautions []string, err error) {
	in, err := Inputs(f, st)
	if err != nil {
		return entry, nil, err
	}
	b, err := logbook.Open(path)
	if err != nil {
		return entry, nil, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	before, err := b.Entries(logbook.Query{Flight: in.Flight, Kinds: []logbook.Kind{logbook.Find}})
	if err != nil {
		return entry, nil, err
	}
	if insteadOf != 0 {
		entry, err = amendFind(b, before, insteadOf, find, st)
		if errors.Is(err, errNoFind) {
			err = usage.Errorf("--instead-of %d: %w of %s; 'windfall log %s' lists them", insteadOf, err, in.Flight, in.Flight)
		}
		return entry, nil, err
	}
	if entry, err = add(b, in, logbook.Find, st, find); err != nil {
		return entry, nil, err
	}
	for _, old := range before {
		var was Find
		if json.Unmarshal(old.Body, &was) == nil && was.Part == find.Part && !was.Unconfirmed {
			cautions = append(cautions,
				fmt.Sprintf("entry %d is a find of the same already; the latest counts. "+
					"To take one back: windfall log --withdraw %d", old.ID, old.ID))
		}
	}
	return entry, cautions, nil
}

// ofVehicle says a find of the vehicle itself that was confirmed on foot; "" for
// any other.
func ofVehicle(x logbook.Entry) string {
	var f Find
	if json.Unmarshal(x.Body, &f) != nil || f.Part != "" || f.Unconfirmed {
		return ""
	}
	return fmt.Sprintf("entry %d: %s", x.ID, findSentence(x.By, f))
}

// checkFind says what of a find cannot be read.
func checkFind(x logbook.Entry) error {
	var f Find
	if err := json.Unmarshal(x.Body, &f); err != nil {
		return wrongJSON(err)
	}
	if _, ok := x.Geometry().(orb.Point); !ok {
		return errors.New("a find without a place; write lat and lon")
	}
	if f.Accuracy < 0 {
		return fmt.Errorf("accuracy_m %g is below zero", f.Accuracy)
	}
	return nil
}

// wrongJSON says in words what a body's JSON has wrong.
func wrongJSON(err error) error {
	var t *json.UnmarshalTypeError
	if !errors.As(err, &t) {
		return err
	}
	return fmt.Errorf("%s is a %s; write it as 'windfall log --json' does", t.Field, t.Value)
}

var errNoFind = errors.New("that is not a find")

func amendFind(b *logbook.Book, before []logbook.Entry, id int64, find Find, st Stamp) (logbook.Entry, error) {
	for _, old := range before {
		if old.ID != id {
			continue
		}
		text, err := json.Marshal(find)
		if err != nil {
			return old, err
		}
		return b.Amend(id, st.By, st.Now, text)
	}
	return logbook.Entry{}, errNoFind
}
