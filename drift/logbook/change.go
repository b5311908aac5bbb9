package logbook

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"time"
)

// Changed is what was added to a flight since an earlier change: the entries
// with a new revision, as they stand now, and the notes, each in the order of
// their latest change.
type Changed struct {
	Seq     int64 // of the last change; that asked from where there is none since
	Entries []Entry
	Notes   []Note
	Keys    map[int64]string // of those entries that came with a key
	Order   map[int64]int64  // of those entries, the number of their latest change
	Noted   map[int64]string // keys of those notes that came with one
	At      map[int64]int64  // of those notes, the number of their change
}

// Since returns what was added to a flight after the change with a number; 0:
// everything.
func (b *Book) Since(flight string, seq int64) (Changed, error) {
	switch {
	case b.db == nil:
		return Changed{Seq: seq}, nil
	case b.schema < notesSince:
		out, err := b.sinceOld(flight, seq)
		return out, b.explain(err)
	}
	out, err := since(b.db, flight, seq)
	return out, b.explain(err)
}

// Last returns the number of a flight's last change; 0: none.
func (b *Book) Last(flight string) (seq int64, err error) {
	if b.db == nil {
		return 0, nil
	}
	q := "SELECT coalesce(max(seq), 0) FROM change WHERE flight = ?"
	if b.schema < notesSince {
		q = "SELECT count(*) FROM revision r JOIN entry e ON e.id = r.entry WHERE e.flight = ?"
	}
	err = b.db.QueryRow(q, flight).Scan(&seq)
	return seq, b.explain(err)
}

// sinceOld is Since of a schema that does not know the order of changes: all
// entries, where there has been any.
func (b *Book) sinceOld(flight string, seq int64) (out Changed, err error) {
	out.Seq, out.Order = seq, map[int64]int64{}
	last, err := b.Last(flight)
	if err != nil || last == seq {
		return out, err
	}
	out.Seq = last
	if out.Entries, err = entries(b.db, "WHERE e.flight = ? ORDER BY e.id", flight); err != nil {
		return out, err
	}
	for _, e := range out.Entries {
		out.Order[e.ID] = last
	}
	return out, nil
}

func since(db querier, flight string, seq int64) (Changed, error) {
	out := Changed{Seq: seq, Keys: map[int64]string{}, Order: map[int64]int64{}, Noted: map[int64]string{},
		At: map[int64]int64{}}
	rows, err := db.Query(`SELECT max(seq), coalesce(entry, 0), coalesce(note, 0) FROM change WHERE flight = ? AND seq > ?
GROUP BY entry, note ORDER BY max(seq)`, flight, seq)
	if err != nil {
		return out, err
	}
	defer rows.Close()
	for rows.Next() {
		var n, entry, note int64
		if err := rows.Scan(&n, &entry, &note); err != nil {
			return out, err
		}
		if out.Seq = n; entry != 0 {
			out.Order[entry] = n
		} else {
			out.At[note] = n
		}
	}
	if err := rows.Err(); err != nil || out.Seq == seq {
		return out, err
	}
	if out.Entries, err = entries(db, "WHERE e.id IN (SELECT entry FROM change WHERE flight = ? AND seq > ? AND seq <= ?)",
		flight, seq, out.Seq); err != nil {
		return out, err
	}
	slices.SortFunc(out.Entries, func(a, b Entry) int { return cmp.Compare(out.Order[a.ID], out.Order[b.ID]) })
	if out.Notes, err = notes(db, flight, seq, out.Seq); err != nil {
		return out, err
	}
	return out, out.keys(db, flight, seq)
}

func notes(db querier, flight string, from, to int64) (out []Note, err error) {
	rows, err := db.Query(`SELECT n.id, n.flight, n.at, n.by, n.kind, n.body FROM change c JOIN note n ON n.id = c.note
WHERE c.flight = ? AND c.seq > ? AND c.seq <= ? ORDER BY c.seq`, flight, from, to)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var n Note
		var at, body string
		if err := rows.Scan(&n.ID, &n.Flight, &at, &n.By, &n.Kind, &body); err != nil {
			return nil, err
		}
		if n.When, err = time.Parse(time.RFC3339Nano, at); err != nil {
			return nil, fmt.Errorf("note %d: %w", n.ID, err)
		}
		n.Body = json.RawMessage(body)
		out = append(out, n)
	}
	return out, rows.Err()
}

// keys fills the keys that entries and notes first came with.
func (c *Changed) keys(db querier, flight string, from int64) error {
	for column, into := range map[string]map[int64]string{"entry": c.Keys, "note": c.Noted} {
		rows, err := db.Query("SELECT key, "+column+" FROM said WHERE rowid IN (SELECT min(s.rowid) FROM change c "+
			"JOIN said s ON s."+column+" = c."+column+" WHERE c.flight = ? AND c.seq > ? AND c.seq <= ? GROUP BY s."+column+")",
			flight, from, c.Seq)
		if err != nil {
			return err
		}
		for rows.Next() {
			var key string
			var id int64
			if err := rows.Scan(&key, &id); err != nil {
				rows.Close()
				return err
			}
			into[id] = key
		}
		if err := rows.Err(); err != nil {
			return err
		}
	}
	return nil
}
