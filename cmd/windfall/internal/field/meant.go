package field

import (
	"errors"
	"fmt"

	"windfall/drift/logbook"
)

// meaning is what an entry means by its key or number.
type meaning struct {
	entry *logbook.Entry // nil: none counts for it
	note  int64          // 0: none
	timed *timed
}

// meant returns what an entry is of, if it has not been taken back.
func (w *writer) meant(s Said) (m meaning, err error) {
	id := s.ID
	switch {
	case s.Of != "" && s.ID != 0:
		return m, errors.New("of and id are both there; write one")
	case s.Of != "":
		old, ok, err := w.tx.Said(s.Of)
		if err != nil {
			return m, err
		}
		if !ok || old.Flight != w.flight.Input.Flight.ID {
			return m, fmt.Errorf("nothing came under the key %.70q; send that first", s.Of)
		}
		id, m.note, m.timed = old.Entry, old.Note, w.state.timedOf[old.Note]
		if r := w.state.recordedIn[old.Note]; r != nil {
			id, m.note = r.entry, 0
			if id == 0 {
				return m, errors.New("that recording is no search yet; there is nothing to take back")
			}
		}
	case s.ID == 0:
		return m, errors.New("which entry is not said; write of, with its key, or id, with its number")
	}
	if m.timed == nil {
		m.timed = w.state.countedBy[id]
	}
	if m.timed != nil {
		m.note, id = m.timed.note, m.timed.entry
	}
	if m.note != 0 && w.state.isBack(m.note) {
		return m, errors.New("it was taken back already")
	}
	if id == 0 {
		return m, nil
	}
	e, ok := w.state.entries[id]
	switch {
	case !ok:
		return m, fmt.Errorf("flight %s has no entry %d", w.flight.Input.Flight.ID, id)
	case e.Withdrawn && m.note == 0:
		return m, fmt.Errorf("entry %d is withdrawn already", id)
	}
	m.entry = &e
	return m, nil
}
