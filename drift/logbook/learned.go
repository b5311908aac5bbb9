package logbook

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
)

// Learned is one result of learning; the newest is in use.
type Learned struct {
	ID      int64
	When    time.Time
	Version string
	Seed    uint64
	Finds   string          // digest of the finds it rests on, see FindsDigest
	Result  json.RawMessage // the learner's own
}

// PutLearned stores a result and returns its id. The same result of the same
// finds, version and seed is stored once.
func (b *Book) PutLearned(l Learned) (int64, error) {
	var id int64
	err := b.write(func(tx *sql.Tx) error {
		err := tx.QueryRow("SELECT id FROM learned WHERE id = (SELECT max(id) FROM learned) AND version = ? AND seed = "+
			"? AND finds = ? AND result = ?",
			l.Version, int64(l.Seed), l.Finds, string(l.Result)).Scan(&id)
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		r, err := tx.Exec("INSERT INTO learned (at, version, seed, finds, result) VALUES (?, ?, ?, ?, ?)",
			stampTime(l.When), l.Version, int64(l.Seed), l.Finds, string(l.Result))
		if err != nil {
			return err
		}
		id, err = r.LastInsertId()
		return err
	})
	return id, err
}

// LatestLearned returns the result in use, or nil when nothing was learned.
func (b *Book) LatestLearned() (*Learned, error) {
	if b.db == nil {
		return nil, nil
	}
	return b.learned("WHERE id = (SELECT max(id) FROM learned)")
}

func (b *Book) learned(where string, args ...any) (*Learned, error) {
	var l Learned
	var at, result string
	var seed int64
	err := b.db.QueryRow("SELECT id, at, version, seed, finds, result FROM learned "+where, args...).Scan(&l.ID, &at,
		&l.Version, &seed, &l.Finds, &result)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, b.explain(err)
	}
	l.Seed, l.Result = uint64(seed), json.RawMessage(result)
	if l.When, err = time.Parse(time.RFC3339Nano, at); err != nil {
		return nil, fmt.Errorf("%s: learning %d: %w", b.path, l.ID, err)
	}
	return &l, nil
}

// FlightRow is one line of the list of flights.
type FlightRow struct {
	ID        string    `json:"flight"`
	Launched  time.Time `json:"launched,omitzero"`
	Sightings int       `json:"sightings"` // with timings, heights and nothing-in
	Tracks    int       `json:"tracks"`
	Finds     int       `json:"finds"`
	Measured  int       `json:"measured,omitempty"`

	Judged json.RawMessage `json:"judged,omitempty"` // how well the map had done for the last find; nil: not known
}

// Flights lists the flights by launch time, then by name, with counts of what
// is logged about them and not withdrawn.
func (b *Book) Flights() ([]FlightRow, error) {
	if b.db == nil {
		return nil, nil
	}
	rows, err := b.db.Query(`SELECT l.id, l.launched,
 coalesce(sum(e.kind NOT IN ('track','find','measured')), 0), coalesce(sum(e.kind = 'track'), 0),
 coalesce(sum(e.kind = 'find'), 0), coalesce(sum(e.kind = 'measured'), 0)
FROM flight l LEFT JOIN entry e ON e.flight = l.id
 AND NOT EXISTS (SELECT 1 FROM revision r WHERE r.entry = e.id AND r.state = 'withdrawn')
GROUP BY l.id ORDER BY l.launched, l.id`)
	if err != nil {
		return nil, b.explain(err)
	}
	defer rows.Close()
	var out []FlightRow
	for rows.Next() {
		var f FlightRow
		var at string
		if err := rows.Scan(&f.ID, &at, &f.Sightings, &f.Tracks, &f.Finds, &f.Measured); err != nil {
			return nil, b.explain(err)
		}
		f.Launched, _ = time.Parse(time.RFC3339Nano, at)
		out = append(out, f)
	}
	if err := rows.Err(); err != nil {
		return nil, b.explain(err)
	}
	return out, b.explain(b.judgeFlights(out))
}
