package field

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"windfall/cmd/windfall/internal/record"
	"windfall/drift/evidence"
	"windfall/drift/logbook"
)

// writer writes some entries in one transaction. What it adds it also adds to
// the state, so that later entries know of it; a transaction that fails leaves a
// state that must be read anew.
type writer struct {
	tx     *logbook.Tx
	state  *state
	flight *record.Flight
	who    Who
	now    time.Time
	shift  time.Duration // of the phone's clock
	stamp  record.Stamp  // of the inputs that entries are logged with
	inputs int64         // those inputs; 0: not stored yet
	pieces []piece       // of recordings
	n      int           // of what is being written in its batch
	sent   string        // digest of what is being written, as it was sent
}

// chunk is how many entries are written in one transaction.
const chunk = 250

// Batch is what a phone sends.
type Batch struct {
	Now     time.Time         // of the phone, as it sends
	Entries []json.RawMessage // Said, one by one
}

// Log logs a batch of somebody's entries and says what became of each. What it
// has answered for is on the disk. off is how far the phone's clock is ahead.
func (f *Field) Log(fl *record.Flight, who Who, b Batch, now time.Time) (out []Result, off time.Duration, err error) {
	off = b.Now.Sub(now)
	shift := -off
	if shift.Abs() <= clockSlack {
		shift = 0
	}
	out = make([]Result, len(b.Entries))
	var rest []sent
	for i, raw := range b.Entries {
		s, err := read(raw)
		switch {
		case err != nil:
			out[i] = refused(s.Key, err)
		case s.Kind == kindPosition:
			s.At = shifted(s.At, shift, now)
			out[i] = f.Positions.Put(who.Name, s)
		default:
			rest = append(rest, sent{s, i})
		}
	}
	for len(rest) > 0 {
		n := min(chunk, len(rest))
		w := writer{who: who, now: now, shift: shift}
		f.mu.Lock() // others come in between
		err := f.write1(fl, &w, func() error { return w.some(rest[:n], out) })
		f.mu.Unlock()
		if err != nil {
			return nil, off, err // what went before is on the disk, and known when it comes again
		}
		rest = rest[n:]
	}
	return out, off, nil
}

// sent is an entry of a batch, with its place in it.
type sent struct {
	Said
	n int
}

// some logs a few entries.
func (w *writer) some(some []sent, out []Result) (err error) {
	for _, s := range some {
		w.n = s.n
		if out[s.n], err = w.one(s.Said); err != nil {
			return err
		}
	}
	return w.tracks(out)
}

// write1 runs do with w in one transaction of the logbook, and brings the state
// up to it.
func (f *Field) write1(fl *record.Flight, w *writer, do func() error) error {
	b, err := f.open(true)
	if err != nil {
		return err
	}
	if err := f.refresh(); err != nil {
		return err
	}
	err = b.Write(func(tx *logbook.Tx) error {
		ch, err := tx.Since(f.flight, f.state.seq) // written elsewhere since refresh
		if err != nil {
			return err
		}
		f.state.apply(ch)
		w.tx, w.state, w.flight, w.stamp = tx, f.state, fl, f.stamp(w.who.Name, w.now)
		if f.inputsOf == fl {
			w.inputs = f.inputs
		}
		return do()
	})
	f.view = nil
	if err == nil {
		f.inputs, f.inputsOf = w.inputs, fl
		ch, err := b.Since(f.flight, f.state.seq) // the numbers of what was added
		if err == nil {
			f.state.apply(ch)
			return nil
		}
	}
	f.state = newState() // to be read anew
	return err
}

func refused(key string, err error) Result {
	return Result{Key: key, State: Refused, Message: err.Error()}
}

// no refuses what was said, with words.
func (s Said) no(format string, a ...any) (Result, error) {
	return refused(s.Key, fmt.Errorf(format, a...)), nil
}

// one logs an entry. An error is of the logbook; what is wrong with the entry is
// in its result.
func (w *writer) one(s Said) (Result, error) {
	old, ok, err := w.tx.Said(s.Key)
	if err != nil {
		return Result{}, err
	}
	if ok {
		return w.again(s, old), nil
	}
	w.sent = s.digest()
	by := w.shift
	if s.Loaded { // another receiver's clock is right, whatever the phone's is
		by = 0
	}
	s.At = shifted(s.At, by, w.now)
	s.Fixes = slices.Clone(s.Fixes)
	for i := range s.Fixes {
		s.Fixes[i].At = shifted(s.Fixes[i].At, by, w.now)
	}
	return w.kind(s)
}

// again answers for a key that has come before.
func (w *writer) again(s Said, old logbook.Said) Result {
	id := old.Entry
	if id == 0 {
		id = w.state.entryOf(old.Note)
	}
	if old.SHA256 != s.digest() || old.Flight != w.flight.Input.Flight.ID {
		return Result{Key: s.Key, ID: id, State: Conflict, Message: "this key was used before for something else; " +
			"what came first stays, this was not kept: say it again under a new key"}
	}
	return Result{Key: s.Key, ID: id, State: Known}
}

func (w *writer) kind(s Said) (Result, error) {
	switch s.Kind {
	case kindIgnition:
		return w.ignite(s)
	case kindTiming, kindBearing, kindHeight, kindNothing, kindLooked:
		return w.logSighting(s)
	case kindLane:
		return w.lane(s)
	case kindTrack:
		return w.track(s)
	case kindFind:
		return w.find(s)
	case kindWithdraw:
		return w.withdraw(s)
	case kindAmend:
		return w.amend(s)
	case kindArrive, kindLeave, kindLate:
		return w.crew(s)
	}
	return s.no("a %s is not logged", s.Kind)
}

// Draft is what an entry would be as a sighting if it were logged now: of
// somebody, whose phone's clock is ahead by off.
func (f *Field) Draft(fl *record.Flight, who Who, raw json.RawMessage, off time.Duration, now time.Time) (
	*evidence.Sighting, error) {
	s, err := read(raw)
	if err != nil {
		return nil, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if err := f.refresh(); err != nil {
		return nil, err
	}
	if off.Abs() <= clockSlack {
		off = 0
	}
	s.At = shifted(s.At, -off, now)
	w := writer{state: f.state, flight: fl, who: who, now: now}
	if s.hangs() {
		out, why, err := w.counted(&timed{by: who.Name, said: s})
		if err == nil && out == nil {
			err = errors.New(why)
		}
		return out, err
	}
	out := &evidence.Sighting{By: who.Name}
	return out, w.sighting(s, out, s.moment(evidence.Moment{}))
}

// say keeps the key of what was said.
func (w *writer) say(s Said, entry, note int64) error {
	if entry != 0 && w.state.keys[entry] == "" {
		w.state.keys[entry] = s.Key
	}
	if note != 0 {
		w.state.noted[note] = s.Key
	}
	return w.tx.Say(logbook.Said{Key: s.Key, Flight: w.flight.Input.Flight.ID, SHA256: w.sent, Entry: entry, Note: note})
}

func (w *writer) addEntry(kind string, by string, at time.Time, body json.RawMessage) (logbook.Entry, error) {
	if w.inputs == 0 {
		in, err := record.Inputs(w.flight.File, w.stamp)
		if err != nil {
			return logbook.Entry{}, err
		}
		if w.inputs, err = w.tx.Inputs(in); err != nil {
			return logbook.Entry{}, err
		}
	}
	e, err := w.tx.Add(logbook.Entry{Flight: w.flight.Input.Flight.ID, Kind: logbook.Kind(kind), By: by, When: at,
		Body: body, Inputs: w.inputs})
	if err == nil {
		w.state.entries[e.ID] = e
	}
	return e, err
}

func (w *writer) amendEntry(id int64, by string, body json.RawMessage) error {
	e, err := w.tx.Amend(id, by, w.now, body)
	if err == nil {
		w.state.entries[id] = e
	}
	return err
}

func (w *writer) withdrawEntry(id int64, by string) error {
	e, err := w.tx.Withdraw(id, by, w.now)
	if err == nil {
		w.state.entries[id] = e
	}
	return err
}

// addNote logs a note and adds it to the state.
func (w *writer) addNote(kind, by string, at time.Time, body any) (logbook.Note, error) {
	text, err := json.Marshal(body)
	if err != nil {
		return logbook.Note{}, err
	}
	n, err := w.tx.AddNote(logbook.Note{Flight: w.flight.Input.Flight.ID, Kind: kind, By: by, When: at, Body: text})
	if err == nil {
		w.state.note(n, "")
	}
	return n, err
}
