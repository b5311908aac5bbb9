package logbook

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
)

// Kind is the kind of an entry.
type Kind string

// The kinds of entry.
const (
	Sighting  Kind = "sighting"   // a bearing, perhaps an elevation angle, at a time or event
	Timing    Kind = "timing"     // when an event happened
	Height    Kind = "height"     // how high an event was
	NothingIn Kind = "nothing-in" // an area looked over from afar
	Track     Kind = "track"      // ground walked or flown without a find
	Find      Kind = "find"       // where the vehicle or a part of it lay
	Measured  Kind = "measured"   // something measured on the ground: a device's drag, a mass
)

// Kinds are all of them.
var Kinds = []Kind{Sighting, Timing, Height, NothingIn, Track, Find, Measured}

// Entry is one thing logged about a flight, as its last revision has it.
type Entry struct {
	ID     int64
	Flight string
	Kind   Kind
	By     string    // who said or did it; may be empty
	When   time.Time // when it was first logged

	// Body is a JSON object; its keys are those of the program's JSON and must
	// not be id, flight, kind, by, when, revision or withdrawn. For maps and
	// tables: an entry that has a place holds it under "geometry" (a GeoJSON
	// geometry), or "lat" and "lon", or a place under "from" or "at".
	Body json.RawMessage

	Revision  int   // 1 as first logged; counts corrections
	Withdrawn bool  // taken back; it counts no more but stays on record
	Inputs    int64 // the Inputs in force when it was logged; 0: none

	Judged json.RawMessage // of a find, how well the map had done when it was logged; nil: not known
}

// MarshalJSON writes the entry as one object: its own fields, then its body's.
func (e Entry) MarshalJSON() ([]byte, error) {
	head := struct {
		ID        int64  `json:"id,omitempty"`
		Flight    string `json:"flight"`
		Kind      Kind   `json:"kind"`
		By        string `json:"by"`
		When      string `json:"when"`
		Revision  int    `json:"revision,omitempty"`
		Withdrawn bool   `json:"withdrawn,omitempty"`

		Judged json.RawMessage `json:"judged,omitempty"`
	}{e.ID, e.Flight, e.Kind, e.By, e.When.Format(time.RFC3339Nano), e.Revision, e.Withdrawn, e.Judged}
	if head.Revision == 1 {
		head.Revision = 0 // said only where it says something
	}
	out, err := json.Marshal(head)
	if err != nil {
		return nil, err
	}
	var body bytes.Buffer
	if len(e.Body) > 0 {
		if err := json.Compact(&body, e.Body); err != nil {
			return nil, err
		}
	}
	if body.Len() > 2 {
		out = append(out[:len(out)-1], ',')
		out = append(out, body.Bytes()[1:]...)
	}
	return out, nil
}

// Query chooses entries; the zero value means all that are not withdrawn.
type Query struct {
	Flight    string
	Kinds     []Kind
	By        string
	Since     time.Time // first logged at this time or later
	Until     time.Time // first logged before this time
	Withdrawn bool      // the withdrawn ones too
}

// Add logs entries in one transaction: all or none. Their ID, Revision and
// Withdrawn are set by the logbook; the returned entries have them. in, when
// not nil, is stored as the inputs in force for all of them.
func (b *Book) Add(in *Inputs, entries ...Entry) ([]Entry, error) {
	return b.add(in, entries, nil)
}

// add logs entries, and takes those back that withdrawn marks.
func (b *Book) add(in *Inputs, entries []Entry, withdrawn []bool) ([]Entry, error) {
	out := make([]Entry, len(entries))
	err := b.write(func(tx *sql.Tx) error {
		var id int64
		if in != nil {
			var err error
			if id, err = putInputs(tx, in); err != nil {
				return err
			}
		}
		for i, e := range entries {
			if id != 0 && e.Flight == in.Flight {
				e.Inputs = id
			}
			var err error
			if out[i], err = putEntry(tx, e); err != nil {
				return err
			}
			if withdrawn != nil && withdrawn[i] {
				if out[i], err = b.reviseIn(tx, revision{out[i].ID, e.By, e.When, nil, "withdrawn"}); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func putEntry(tx *sql.Tx, e Entry) (Entry, error) {
	if err := e.valid(); err != nil {
		return e, err
	}
	at := stampTime(e.When)
	if _, err := tx.Exec("INSERT INTO flight VALUES (?, '', ?) ON CONFLICT DO NOTHING", e.Flight, at); err != nil {
		return e, err
	}
	r, err := tx.Exec("INSERT INTO entry (flight, kind, inputs) VALUES (?, ?, ?)", e.Flight, e.Kind,
		sql.NullInt64{Int64: e.Inputs, Valid: e.Inputs != 0})
	if err != nil {
		return e, err
	}
	if e.ID, err = r.LastInsertId(); err != nil {
		return e, err
	}
	e.Revision, e.Withdrawn = 1, false
	_, err = tx.Exec("INSERT INTO revision VALUES (?, 1, ?, ?, 'logged', ?)", e.ID, at, e.By, string(e.Body))
	return e, err
}

func (e Entry) valid() error {
	if !slices.Contains(Kinds, e.Kind) {
		return fmt.Errorf("kind %q; write sighting, timing, height, nothing-in, track, find or measured", e.Kind)
	}
	if e.Flight == "" {
		return errors.New("an entry without a flight; write the flight's id")
	}
	if !flightID.MatchString(e.Flight) {
		return fmt.Errorf("flight %.40q is not an id; write lower-case letters, digits and single dashes, such as "+
			"garza-07", e.Flight)
	}
	if strings.ContainsFunc(e.By, unicode.IsControl) || len(e.By) > maxName {
		return fmt.Errorf("by %.40q is not a name; write at most %d letters, no control characters", e.By, maxName)
	}
	if e.When.IsZero() {
		return errors.New("an entry without a time; write one such as 2026-03-14T10:30:00Z")
	}
	var body map[string]json.RawMessage
	if err := json.Unmarshal(e.Body, &body); err != nil || body == nil {
		return fmt.Errorf("body %.40q is not a JSON object", e.Body)
	}
	for _, k := range own {
		if _, ok := body[k]; ok {
			return fmt.Errorf("body has a key %q; that name is the entry's own", k)
		}
	}
	return e.onGlobe()
}

var flightID = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

const maxName = 100 // bytes

// whole refuses what no command would log: a find without a place, a track
// without a way.
func (e Entry) whole() error {
	if err := e.valid(); err != nil {
		return err
	}
	g := e.Geometry()
	switch {
	case g == nil && e.Kind == Find:
		return errors.New("a find without a place; write lat and lon")
	case e.Kind == Track && (g == nil || g.Bound().IsEmpty()):
		return errors.New("a track without a way; write its geometry, a MultiLineString")
	}
	return nil
}

// onGlobe refuses a place that is none.
func (e Entry) onGlobe() error {
	g := e.Geometry()
	if g == nil || g.Bound().IsEmpty() {
		return nil
	}
	if b := g.Bound(); !(b.Min[0] >= -180 && b.Max[0] <= 180 && b.Min[1] >= -90 && b.Max[1] <= 90) {
		return fmt.Errorf("place %.6g, %.6g is not on the globe; write lat -90 to 90, lon -180 to 180", b.Min[1], b.Min[0])
	}
	return nil
}

// Withdraw takes entry id back: it counts no more, but stays on record.
func (b *Book) Withdraw(id int64, by string, when time.Time) (Entry, error) {
	return b.revise(revision{id, by, when, nil, "withdrawn"})
}

// Amend replaces the body of entry id; what it said before stays on record.
func (b *Book) Amend(id int64, by string, when time.Time, body json.RawMessage) (Entry, error) {
	return b.revise(revision{id, by, when, body, "amended"})
}

// revision is a change of an entry.
type revision struct {
	id    int64
	by    string
	when  time.Time
	body  json.RawMessage // of an amended entry
	state string          // amended or withdrawn
}

func (b *Book) revise(r revision) (e Entry, err error) {
	err = b.write(func(tx *sql.Tx) error {
		e, err = b.reviseIn(tx, r)
		return err
	})
	return e, err
}

func (b *Book) reviseIn(tx *sql.Tx, r revision) (e Entry, err error) {
	all, err := entries(tx, "WHERE e.id = ?", r.id)
	if err != nil {
		return e, err
	}
	if len(all) == 0 {
		return e, fmt.Errorf("%s has no entry %d; 'windfall log' lists them", b.path, r.id)
	}
	e = all[0]
	if e.Withdrawn {
		return e, fmt.Errorf("entry %d is withdrawn already", r.id)
	}
	if e.Withdrawn = r.state == "withdrawn"; !e.Withdrawn {
		e.Body = r.body
		if err := e.valid(); err != nil {
			return e, err
		}
	}
	e.Revision++
	_, err = tx.Exec("INSERT INTO revision VALUES (?, ?, ?, ?, ?, ?)", r.id, e.Revision, stampTime(r.when), r.by,
		r.state, string(e.Body))
	return e, err
}

// Entries returns what q chooses, in the order it was logged.
func (b *Book) Entries(q Query) ([]Entry, error) {
	if b.db == nil {
		return nil, nil
	}
	where, args := "WHERE true", []any{}
	add := func(cond string, v any) { where, args = where+" AND "+cond, append(args, v) }
	if q.Flight != "" {
		add("e.flight = ?", q.Flight)
	}
	if len(q.Kinds) > 0 {
		kinds, _ := json.Marshal(q.Kinds)
		add("e.kind IN (SELECT value FROM json_each(?))", string(kinds))
	}
	if q.By != "" {
		add("f.by = ?", q.By)
	}
	if !q.Since.IsZero() {
		add("f.at >= ?", stampTime(q.Since))
	}
	if !q.Until.IsZero() {
		add("f.at < ?", stampTime(q.Until))
	}
	if !q.Withdrawn {
		where += " AND r.state <> 'withdrawn'"
	}
	out, err := entries(b.db, where+" ORDER BY e.id", args...)
	if err == nil {
		err = b.judge(out)
	}
	return out, b.explain(err)
}

type querier interface {
	Query(string, ...any) (*sql.Rows, error)
}

// entries reads entries with their first (f) and last (r) revisions.
func entries(db querier, where string, args ...any) ([]Entry, error) {
	rows, err := db.Query(`SELECT e.id, e.flight, e.kind, coalesce(e.inputs, 0), f.by, f.at, r.n, r.state, r.body
FROM entry e JOIN revision f ON f.entry = e.id AND f.n = 1
JOIN revision r ON r.entry = e.id AND r.n = (SELECT max(n) FROM revision WHERE entry = e.id) `+where, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []Entry
	for rows.Next() {
		var e Entry
		var at, state, body string
		if err := rows.Scan(&e.ID, &e.Flight, &e.Kind, &e.Inputs, &e.By, &at, &e.Revision, &state, &body); err != nil {
			return nil, err
		}
		if e.When, err = time.Parse(time.RFC3339Nano, at); err != nil {
			return nil, fmt.Errorf("entry %d: %w", e.ID, err)
		}
		e.Withdrawn, e.Body = state == "withdrawn", json.RawMessage(body)
		out = append(out, e)
	}
	return out, rows.Err()
}

// Revision is one state of an entry: as logged, amended or withdrawn.
type Revision struct {
	N     int             `json:"revision"`
	When  time.Time       `json:"when"`
	By    string          `json:"by"`
	State string          `json:"state"` // logged, amended, withdrawn
	Body  json.RawMessage `json:"body"`
}

// History returns every revision of entry id, oldest first.
func (b *Book) History(id int64) ([]Revision, error) {
	if b.db == nil {
		return nil, nil
	}
	rows, err := b.db.Query("SELECT n, at, by, state, body FROM revision WHERE entry = ? ORDER BY n", id)
	if err != nil {
		return nil, b.explain(err)
	}
	defer rows.Close()
	var out []Revision
	for rows.Next() {
		var r Revision
		var at, body string
		if err := rows.Scan(&r.N, &at, &r.By, &r.State, &body); err != nil {
			return nil, b.explain(err)
		}
		if r.When, err = time.Parse(time.RFC3339Nano, at); err != nil {
			return nil, fmt.Errorf("entry %d: %w", id, err)
		}
		r.Body = json.RawMessage(body)
		out = append(out, r)
	}
	return out, b.explain(rows.Err())
}

// stampTime writes t so that text order is time order.
func stampTime(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02T15:04:05.000Z")
}
