// Package field is what a crew says to each other while a flight is up and
// while it is searched for: presses of the flight clock, sightings, lanes walked,
// tracks, finds, who comes and goes.
//
// The logbook is the only truth. What is answered for is on the disk; what a
// Field holds in memory is read from the logbook and follows what anybody else
// writes into it. Evidence (sightings, tracks, finds) becomes entries, as the
// commands log it; all else becomes notes. Every entry comes with a key of its
// sender's making, so that a queue may be sent again.
//
// Last positions alone are not logged: Positions holds them in memory.
//
// The package knows no HTTP, session or clock.
package field

import (
	"sync"
	"time"

	"windfall/cmd/windfall/internal/record"
	"windfall/drift/logbook"
)

// Who says something.
type Who struct {
	Name string // as entries have it
}

// Field is what was said of one flight. Its methods may be called from several
// goroutines.
type Field struct {
	Positions Positions

	path    string // of the logbook
	flight  string // id
	version string // of the program

	mu    sync.Mutex // of all below, and held while writing
	book  *logbook.Book
	write bool // book is open for writing
	state *state
	view  *View // of state; nil: to be made

	// The inputs that entries were logged with last, and the flight as read that
	// they are of: a flight read anew has inputs of its own.
	inputs   int64
	inputsOf *record.Flight
}

// Options of New.
type Options struct {
	Logbook string // path
	Flight  string // id
	Version string // of the program
}

// New makes the field of a flight. Neither it nor reading makes a logbook.
func New(o Options) *Field {
	return &Field{path: o.Logbook, flight: o.Flight, version: o.Version, state: newState()}
}

// Close closes the logbook.
func (f *Field) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.book == nil {
		return nil
	}
	err := f.book.Close()
	f.book, f.write = nil, false
	return err
}

// open opens the logbook; where it is only to be read a missing one stays
// missing, and is looked for again next time.
func (f *Field) open(write bool) (*logbook.Book, error) {
	if f.book != nil && (f.write || !write) {
		return f.book, nil
	}
	if f.book != nil {
		f.book.Close() // of a reader: nothing is lost with it
		f.book = nil
	}
	if !write {
		b, err := logbook.OpenRead(f.path)
		if err != nil {
			return nil, err
		}
		if last, err := b.Last(f.flight); err != nil || last == 0 {
			return b, err // perhaps not there yet: not kept open
		}
		f.book = b
		return b, nil
	}
	b, err := logbook.Open(f.path)
	if err != nil {
		return nil, err
	}
	f.book, f.write = b, true
	return b, nil
}

// refresh reads what was added to the logbook.
func (f *Field) refresh() error {
	b, err := f.open(false)
	if err != nil {
		return err
	}
	if b != f.book {
		defer b.Close()
	}
	last, err := b.Last(f.flight)
	if err != nil || last == f.state.seq {
		return err
	}
	ch, err := b.Since(f.flight, f.state.seq)
	if err != nil {
		return err
	}
	f.state.apply(ch)
	f.view = nil
	return nil
}

// Version is that of the newest thing logged of the flight.
func (f *Field) Version() (int64, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.refresh(); err != nil {
		return 0, err
	}
	return f.state.seq, nil
}

// View returns what is known, which must not be changed.
func (f *Field) View() (*View, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.refresh(); err != nil {
		return nil, err
	}
	if f.view == nil {
		f.view = f.state.look()
	}
	return f.view, nil
}

// stamp is how the logbook is told of entries.
func (f *Field) stamp(by string, now time.Time) record.Stamp {
	return record.Stamp{By: by, Now: now, Version: f.version, Seed: 1}
}
