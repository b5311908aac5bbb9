package logbook

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Tx is a set of additions that are on the disk together, or not at all.
type Tx struct {
	book *Book
	tx   *sql.Tx
}

// Write adds what do adds, in one transaction: nothing where do returns an
// error. Nobody else writes meanwhile.
func (b *Book) Write(do func(*Tx) error) error {
	return b.write(func(tx *sql.Tx) error { return do(&Tx{b, tx}) })
}

// Inputs stores what is in force for entries that are added after it, and
// returns its number.
func (t *Tx) Inputs(in *Inputs) (int64, error) { return putInputs(t.tx, in) }

// Add logs an entry, with e.Inputs as its inputs.
func (t *Tx) Add(e Entry) (Entry, error) { return putEntry(t.tx, e) }

// Amend is Book.Amend.
func (t *Tx) Amend(id int64, by string, when time.Time, body json.RawMessage) (Entry, error) {
	return t.book.reviseIn(t.tx, revision{id, by, when, body, "amended"})
}

// Withdraw is Book.Withdraw.
func (t *Tx) Withdraw(id int64, by string, when time.Time) (Entry, error) {
	return t.book.reviseIn(t.tx, revision{id, by, when, nil, "withdrawn"})
}

// Note is something said in the field that is no evidence of where a flight
// came down: who came and went, a lane that was walked, a plan that was made.
// It is never amended: a later note says otherwise.
type Note struct {
	ID     int64
	Flight string
	Kind   string
	By     string
	When   time.Time
	Body   json.RawMessage // a JSON object
}

// AddNote logs a note and returns it with its number.
func (t *Tx) AddNote(n Note) (Note, error) {
	if err := n.valid(); err != nil {
		return n, err
	}
	at := stampTime(n.When)
	if _, err := t.tx.Exec("INSERT INTO flight VALUES (?, '', ?) ON CONFLICT DO NOTHING", n.Flight, at); err != nil {
		return n, err
	}
	r, err := t.tx.Exec("INSERT INTO note (flight, at, by, kind, body) VALUES (?, ?, ?, ?, ?)", n.Flight, at, n.By, n.Kind,
		string(n.Body))
	if err != nil {
		return n, err
	}
	n.ID, err = r.LastInsertId()
	return n, err
}

func (n Note) valid() error {
	e := Entry{Flight: n.Flight, Kind: Timing, By: n.By, When: n.When, Body: n.Body}
	if n.Kind == "" {
		return errors.New("a note without a kind")
	}
	if err := e.valid(); err != nil {
		return fmt.Errorf("note: %w", err)
	}
	return nil
}

// Said is what came with a key of its sender's making, by which it is known
// when it comes again. Entry and Note are where it was logged; 0: not there.
type Said struct {
	Key    string
	Flight string
	SHA256 string // of what was sent
	Entry  int64
	Note   int64
}

// Said returns what came with a key; ok is false where nothing did.
func (t *Tx) Said(key string) (s Said, ok bool, err error) {
	var entry, note sql.NullInt64
	err = t.tx.QueryRow("SELECT key, flight, sha256, entry, note FROM said WHERE key = ?", key).Scan(&s.Key, &s.Flight,
		&s.SHA256, &entry, &note)
	if errors.Is(err, sql.ErrNoRows) {
		return s, false, nil
	}
	s.Entry, s.Note = entry.Int64, note.Int64
	return s, err == nil, err
}

// Say keeps a key. Its flight must be known.
func (t *Tx) Say(s Said) error {
	orNull := func(n int64) sql.NullInt64 { return sql.NullInt64{Int64: n, Valid: n != 0} }
	_, err := t.tx.Exec("INSERT INTO said VALUES (?, ?, ?, ?, ?)", s.Key, s.Flight, s.SHA256, orNull(s.Entry),
		orNull(s.Note))
	return err
}

// Since returns what was added to a flight after a change's number, as Changed
// has it.
func (t *Tx) Since(flight string, seq int64) (Changed, error) { return since(t.tx, flight, seq) }
